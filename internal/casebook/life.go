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

// Accept publishes a draft, or takes over what a later reading of its write-up proposes for a published case. Where the case stands for merged
// ones too, the reading is joined to it and takes nothing of theirs away.
func (b *Book) Accept(ctx context.Context, by Actor, id kb.CaseID, reason string) (kb.Case, error) {
	return b.act(ctx, by, Accepting(id, reason))
}

// Accepting is the change that Accept makes.
func Accepting(id kb.CaseID, reason string) Change {
	return Change{"accept cases", func(b *Book, tx *store.Tx, by Actor) ([]Changed, error) {
		return b.changeIn(tx, by, id, verbAccept, reason, func(r store.Record) (kb.Case, error) {
			c := r.Case
			switch {
			case c.State == kb.Merged:
				return c, kb.Errorf(kb.Conflict, "case %s was merged into another", id)
			case r.Proposal != nil:
				var err error
				if c, err = b.readAgain(tx, *r.Proposal, r.Case); err != nil {
					return c, err
				}
			case c.State == kb.Published:
				return c, kb.Errorf(kb.Conflict, "case %s is published already", id)
			}
			c.State = kb.Published
			return c, nil
		})
	}}
}

// carryOver gives a new reading of a case what people added to the old one.
func carryOver(read, old kb.Case) kb.Case {
	read.State, read.FollowUps, read.Contributor, read.Ext = old.State, old.FollowUps, old.Contributor, old.Ext
	return read
}

// SendBack returns a draft to its contributor with a reason; a published case becomes a draft again and stops counting.
func (b *Book) SendBack(ctx context.Context, by Actor, id kb.CaseID, reason string) (kb.Case, error) {
	return b.act(ctx, by, SendingBack(id, reason))
}

// SendingBack is the change that SendBack makes.
func SendingBack(id kb.CaseID, reason string) Change {
	return Change{"send cases back", func(b *Book, tx *store.Tx, by Actor) ([]Changed, error) {
		if reason == "" {
			return nil, &kb.Error{Kind: kb.Invalid, Field: "reason", Msg: "a case is sent back with a reason"}
		}
		return b.changeIn(tx, by, id, "send back", reason, func(r store.Record) (kb.Case, error) {
			c := r.Case
			if c.State != kb.Draft && c.State != kb.Published {
				return c, kb.Errorf(kb.Conflict, "case %s is %s", id, c.State)
			}
			c.State = kb.Draft
			c.Doubts = append(c.Doubts[:len(c.Doubts):len(c.Doubts)], kb.Doubt{About: "case", Question: reason})
			return c, nil
		})
	}}
}

// Withdraw takes a case out of the book; its history stays.
func (b *Book) Withdraw(ctx context.Context, by Actor, id kb.CaseID, reason string) (kb.Case, error) {
	return b.act(ctx, by, Withdrawing(id, reason))
}

// Withdrawing is the change that Withdraw makes.
func Withdrawing(id kb.CaseID, reason string) Change {
	return Change{"withdraw cases", func(b *Book, tx *store.Tx, by Actor) ([]Changed, error) {
		return b.changeIn(tx, by, id, "withdraw", reason, func(r store.Record) (kb.Case, error) {
			c := r.Case
			if c.State == kb.Withdrawn || c.State == kb.Merged {
				return c, kb.Errorf(kb.Conflict, "case %s is %s already", id, c.State)
			}
			c.State = kb.Withdrawn
			return c, nil
		})
	}}
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

// change makes one revision of one case in one transaction. An id that was merged stands for the case that it leads to.
func (b *Book) change(ctx context.Context, by Actor, id kb.CaseID, verb, reason string, edit func(store.Record) (kb.Case, error)) (kb.Case, error) {
	var after kb.Case
	err := b.store.Update(ctx, func(tx *store.Tx) error {
		r, err := tx.Case(id)
		if err != nil {
			return err
		}
		list, err := b.changeIn(tx, by, r.Case.ID, verb, reason, edit)
		if err == nil {
			after = list[0].After
		}
		return err
	})
	if err != nil {
		return kb.Case{}, fmt.Errorf("%s %s: %w", verb, id, err)
	}
	return after, nil
}

// changeIn makes one revision of the case with exactly this id.
func (b *Book) changeIn(tx *store.Tx, by Actor, id kb.CaseID, verb, reason string, edit func(store.Record) (kb.Case, error)) ([]Changed, error) {
	r, err := tx.Record(id)
	if err != nil {
		return nil, err
	}
	after, err := edit(r)
	if err != nil {
		return nil, err
	}
	if err := after.CheckRecord(); err != nil {
		return nil, err
	}
	out := []Changed{{r.Case, after}}
	e := store.Entry{Kind: store.EntryCase, ID: string(after.ID), Verb: verb, Actor: by.Name, Reason: reason, At: b.now(), Case: &after}
	if _, err = tx.Append(e); err != nil || r.Proposal == nil || verb != verbAccept && verb != verbCorrect {
		return out, err
	}
	e.Kind, e.Case = store.EntryProposal, nil // it no longer waits
	_, err = tx.Append(e)
	return out, err
}
