package casebook

import (
	"context"
	"fmt"

	"ruledout/ingest"
	"ruledout/internal/store"
	"ruledout/kb"
)

// verbAccept is the verb of the revision by which a moderator publishes.
const verbAccept = "accept"

// Accept publishes a draft, or takes over what a later reading of its write-up proposes for a published case.
func (b *Book) Accept(ctx context.Context, by Actor, id kb.CaseID, reason string) (kb.Case, error) {
	if err := by.may(Moderator, "accept cases"); err != nil {
		return kb.Case{}, err
	}
	return b.change(ctx, by, id, verbAccept, reason, accepted)
}

func accepted(r store.Record) (kb.Case, error) {
	c := r.Case
	switch {
	case r.Proposal != nil:
		c = carryOver(*r.Proposal, r.Case)
	case c.State == kb.Published:
		return c, kb.Errorf(kb.Conflict, "case %s is published already", c.ID)
	case c.State == kb.Merged:
		return c, kb.Errorf(kb.Conflict, "case %s was merged into another", c.ID)
	}
	c.State = kb.Published
	return c, nil
}

// carryOver gives a new reading of a case what people added to the old one.
func carryOver(read, old kb.Case) kb.Case {
	read.State, read.FollowUps, read.Contributor, read.Ext = old.State, old.FollowUps, old.Contributor, old.Ext
	return read
}

// SendBack returns a draft to its contributor with a reason; a published case becomes a draft again and stops counting.
func (b *Book) SendBack(ctx context.Context, by Actor, id kb.CaseID, reason string) (kb.Case, error) {
	if err := by.may(Moderator, "send cases back"); err != nil {
		return kb.Case{}, err
	}
	if reason == "" {
		return kb.Case{}, &kb.Error{Kind: kb.Invalid, Field: "reason", Msg: "a case is sent back with a reason"}
	}
	return b.change(ctx, by, id, "send back", reason, sentBack(reason))
}

func sentBack(reason string) func(store.Record) (kb.Case, error) {
	return func(r store.Record) (kb.Case, error) {
		c := r.Case
		if c.State != kb.Draft && c.State != kb.Published {
			return c, kb.Errorf(kb.Conflict, "case %s is %s", c.ID, c.State)
		}
		c.State = kb.Draft
		c.Doubts = append(c.Doubts[:len(c.Doubts):len(c.Doubts)], kb.Doubt{About: "case", Question: reason})
		return c, nil
	}
}

// Withdraw takes a case out of the book; its history stays.
func (b *Book) Withdraw(ctx context.Context, by Actor, id kb.CaseID, reason string) (kb.Case, error) {
	if err := by.may(Moderator, "withdraw cases"); err != nil {
		return kb.Case{}, err
	}
	return b.change(ctx, by, id, "withdraw", reason, withdrawn)
}

func withdrawn(r store.Record) (kb.Case, error) {
	c := r.Case
	if c.State == kb.Withdrawn || c.State == kb.Merged {
		return c, kb.Errorf(kb.Conflict, "case %s is %s already", c.ID, c.State)
	}
	c.State = kb.Withdrawn
	return c, nil
}

// Closing says how an open case ended.
type Closing struct {
	As           kb.ClosedAs     // Repaired if empty
	Fixed        []kb.Fix        // what cured it; wanted with Repaired
	Confirmation kb.Confirmation // Reported if empty
	Reason       string
}

// CloseCase closes an open case; a published one becomes evidence by it.
func (b *Book) CloseCase(ctx context.Context, by Actor, id kb.CaseID, how Closing) (kb.Case, error) {
	if err := by.may(Contributor, "close cases"); err != nil {
		return kb.Case{}, err
	}
	return b.change(ctx, by, id, "close", how.Reason, func(r store.Record) (kb.Case, error) { return closed(r.Case, how) })
}

func closed(c kb.Case, how Closing) (kb.Case, error) {
	if c.Status == kb.Closed {
		return c, kb.Errorf(kb.Conflict, "case %s is closed already", c.ID)
	}
	c.Status, c.ClosedAs, c.Confirmation = kb.Closed, how.As, how.Confirmation
	if c.ClosedAs == "" {
		c.ClosedAs = kb.Repaired
	}
	if c.Confirmation == "" {
		c.Confirmation = kb.Reported
	}
	step := c.LastStep() + 1
	c.Fixes = c.Fixes[:len(c.Fixes):len(c.Fixes)]
	for _, f := range how.Fixed {
		f.Outcome = kb.Fixed
		if f.Step == 0 {
			f.Step = step
		}
		c.Fixes = append(c.Fixes, f)
	}
	if c.ClosedAs == kb.Repaired && len(c.Cures()) == 0 {
		return c, &kb.Error{Kind: kb.Invalid, Field: "fixed", Msg: "say what fixed it, or close it as something other than repaired"}
	}
	return c, nil
}

// FollowUp adds to a closed case whether the repair held: held makes it verified, a return takes its credit back.
func (b *Book) FollowUp(ctx context.Context, by Actor, id kb.CaseID, f kb.FollowUp) (kb.Case, error) {
	if err := by.may(Contributor, "add follow-ups"); err != nil {
		return kb.Case{}, err
	}
	f.Note, _ = ingest.Mask(tidy(f.Note)) // others see it
	if err := short("note", f.Note, maxShortText); err != nil {
		return kb.Case{}, err
	}
	if f.Date == "" {
		f.Date = b.now().UTC().Format("2006-01-02")
	}
	return b.change(ctx, by, id, "follow up", f.Note, func(r store.Record) (kb.Case, error) {
		c := r.Case
		if c.Status != kb.Closed {
			return c, kb.Errorf(kb.Conflict, "case %s is not closed; a follow-up tells whether a repair held", id)
		}
		c.FollowUps = append(c.FollowUps[:len(c.FollowUps):len(c.FollowUps)], f)
		return c, nil
	})
}

// change makes one revision of one case in one transaction.
func (b *Book) change(ctx context.Context, by Actor, id kb.CaseID, verb, reason string, edit func(store.Record) (kb.Case, error)) (kb.Case, error) {
	var after kb.Case
	err := b.store.Update(ctx, func(tx *store.Tx) error {
		r, err := tx.Record(id)
		if err != nil {
			return err
		}
		if after, err = edit(r); err != nil {
			return err
		}
		if err := after.CheckRecord(); err != nil {
			return err
		}
		e := store.Entry{Kind: store.EntryCase, ID: string(after.ID), Verb: verb, Actor: by.Name, Reason: reason, At: b.now(), Case: &after}
		if _, err = tx.Append(e); err != nil || r.Proposal == nil || verb != verbAccept && verb != verbCorrect {
			return err
		}
		e.Kind, e.Case = store.EntryProposal, nil // it no longer waits
		_, err = tx.Append(e)
		return err
	})
	if err != nil {
		return kb.Case{}, fmt.Errorf("%s %s: %w", verb, id, err)
	}
	return after, nil
}
