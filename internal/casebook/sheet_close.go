package casebook

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"ruledout/ingest"
	"ruledout/internal/store"
	"ruledout/kb"
	"ruledout/kb/limit"
)

// kindJobSheet is the kind of source of a case that was submitted from a job sheet.
const kindJobSheet = "job sheet"

// kmPerMile is the international mile in kilometres, exactly.
const kmPerMile = 1.609344

// SheetClosing says how a job ended and what becomes of it.
type SheetClosing struct {
	As           kb.ClosedAs     // Repaired if empty
	Done         []SheetCure     // repairs that stand on the sheet and cured it
	Fixed        []kb.Fix        // what cured it beside them, with the part: number, origin, coding; one of either is wanted with Repaired
	Proof        []kb.Test       // how it was verified: tests after the cure
	Confirmation kb.Confirmation // empty: Verified where a proof passed, else Reported
	Share        *SheetSharing   // nil: it stays private
	Days         int             // remind after so many days whether it held; 0: not by date
	Kilometres   float64         // remind after so many kilometres; 0: not by distance
}

// SheetCure names a repair on a job sheet that cured it, and the part that was fitted if that is told now.
type SheetCure struct {
	Index     int // into the case's fixes
	Part      *kb.Part
	PartsCost *kb.Money
}

// SheetSharing says how a closed job becomes a case for others.
type SheetSharing struct {
	Prices  bool // what the parts cost goes with it
	Publish bool // at once: for moderators; else it is a draft that waits for one
}

// SheetClosed notes that a job was closed.
type SheetClosed struct {
	At time.Time `json:"at"`
	By string    `json:"by"`
}

// CloseSheet closes the job at the revision that the actor has seen, like SaveSheet, and submits its case if it is to be shared.
func (b *Book) CloseSheet(ctx context.Context, by Actor, id string, revision int64, how SheetClosing) (Sheet, error) {
	if err := how.Share.allowed(by); err != nil {
		return Sheet{}, err
	}
	err := b.changeSheet(ctx, by, id, func(tx *store.Tx, now *Sheet) error {
		if now.Closed != nil {
			return kb.Errorf(kb.Conflict, "this job is closed already")
		}
		err := seen(tx, now, revision)
		if err != nil {
			return err
		}
		if now.Case, err = how.closed(now.Case); err != nil {
			return err
		}
		if err := inside("case", now.Case.CheckRecord()); err != nil {
			return err
		}
		now.Closed = &SheetClosed{At: b.now().UTC(), By: by.Name}
		if now.Reminder, err = how.reminder(now.Case, b.now()); err != nil {
			return err
		}
		return b.submit(tx, by, *now, how.Share)
	})
	if err != nil {
		return Sheet{}, err
	}
	return b.Sheet(ctx, by, id)
}

// seen tells whether a revision is the present one, and if not what has changed since.
func seen(tx *store.Tx, now *Sheet, revision int64) error {
	if now.Revision == revision {
		return nil
	}
	old, err := tx.SheetRevision(now.ID, revision)
	if err != nil {
		return err
	}
	was, err := sheetOf(old)
	if err != nil {
		return err
	}
	differs, err := was.SheetFacts.differs(now.SheetFacts)
	if err != nil {
		return err
	}
	return kb.Errorf(kb.Conflict, "%w", &StaleSheet{Newer: *now, Differs: differs})
}

// ShareSheet submits the case of a job that was closed without sharing it.
func (b *Book) ShareSheet(ctx context.Context, by Actor, id string, how SheetSharing) (Sheet, error) {
	if err := how.allowed(by); err != nil {
		return Sheet{}, err
	}
	err := b.changeSheet(ctx, by, id, func(tx *store.Tx, now *Sheet) error {
		switch {
		case now.Closed == nil:
			return kb.Errorf(kb.Conflict, "close the job first: say what fixed it")
		case now.CaseID != "":
			return kb.Errorf(kb.Conflict, "this job is case %s already", now.CaseID)
		}
		return b.submit(tx, by, *now, &how)
	})
	if err != nil {
		return Sheet{}, err
	}
	return b.Sheet(ctx, by, id)
}

// SharedCase gives the case as it would be submitted, for the person to look at first.
func (b *Book) SharedCase(s Sheet, by Actor, how SheetSharing) (kb.Case, error) {
	return sharedCase(s, by, how, b.now())
}

// ClosedCase gives the case of an open sheet as it would be submitted once it was closed like this, for the person to look at first.
func (b *Book) ClosedCase(s Sheet, by Actor, how SheetClosing, share SheetSharing) (kb.Case, error) {
	var err error
	if s.Case, err = how.closed(s.Case); err != nil {
		return kb.Case{}, err
	}
	return sharedCase(s, by, share, b.now())
}

func (s *SheetSharing) allowed(by Actor) error {
	if s != nil && s.Publish {
		return by.may(Moderator, "publish at once")
	}
	return nil
}

// closed closes the case of a sheet with its cure and its proof.
func (how SheetClosing) closed(c kb.Case) (kb.Case, error) {
	passed, err := how.proved()
	if err != nil {
		return c, err
	}
	as := Closing{As: how.As, Fixed: how.Fixed, Confirmation: how.Confirmation}
	if as.Confirmation == "" && passed {
		as.Confirmation = kb.Verified
	}
	if as.Confirmation == kb.Verified && !passed {
		return c, &kb.Error{Kind: kb.Invalid, Field: "confirmation",
			Msg: "a repair counts as verified when a test after it passed, or once it has held: say which test, or ask to be reminded"}
	}
	c.Fixes = slices.Clone(c.Fixes)
	for _, d := range how.Done {
		if d.Index < 0 || d.Index >= len(c.Fixes) {
			return c, &kb.Error{Kind: kb.Invalid, Field: "done", Msg: "names a repair that is not on the sheet"}
		}
		f := &c.Fixes[d.Index]
		f.Outcome, f.Part, f.PartsCost = kb.Fixed, cmp.Or(d.Part, f.Part), cmp.Or(d.PartsCost, f.PartsCost)
		if f.Step == 0 {
			f.Step = c.LastStep() + 1
		}
	}
	if c, err = closed(c, as); err != nil {
		return c, err
	}
	step := c.LastStep() + 1
	for _, t := range how.Proof {
		t.Step = step
		c.Tests = append(c.Tests[:len(c.Tests):len(c.Tests)], t)
	}
	return c, nil
}

// proved tells whether the tests after the cure passed. One that failed speaks against the cure.
func (how SheetClosing) proved() (bool, error) {
	passed := false
	repaired := how.As == "" || how.As == kb.Repaired
	for i, t := range how.Proof {
		result := t.Result
		if result == "" && t.Reading != nil {
			result = judged(t)
		}
		if result == kb.Fail && repaired {
			return false, &kb.Error{Kind: kb.Invalid, Field: fmt.Sprintf("proof[%d]", i), Msg: "a test after the repair failed, so it is not repaired yet"}
		}
		passed = passed || result == kb.Pass
	}
	return passed && repaired, nil
}

// judged gives the result that the reading of a test amounts to.
func judged(t kb.Test) kb.Result {
	v, ok := withPublishedLimit(t).Reading.Judge()
	switch {
	case ok && v.Decision == limit.Conforms:
		return kb.Pass
	case ok && v.Decision == limit.Exceeds:
		return kb.Fail
	}
	return kb.Inconclusive
}

// submit makes the case of a closed job sheet a case of the book. Nil: it stays private.
func (b *Book) submit(tx *store.Tx, by Actor, s Sheet, how *SheetSharing) error {
	if how == nil {
		return nil
	}
	c, err := sharedCase(s, by, *how, b.now())
	if err != nil {
		return err
	}
	if _, err := tx.Append(store.Entry{Kind: store.EntryCase, ID: string(c.ID), Verb: "submit", Actor: by.Name, At: b.now(), Case: &c}); err != nil {
		return err
	}
	return tx.SubmitSheet(s.ID, c.ID)
}

// sharedCase gives the part of a job sheet that others may see: the case, without prices unless they are to go with it, its words masked.
// Name, customer, notes, photos, labour and the sheet's own list of parts stay behind.
func sharedCase(s Sheet, by Actor, how SheetSharing, now time.Time) (kb.Case, error) {
	c := withoutSpans(s.Case)
	c.ID = kb.ReadCaseID(kb.WriteupKey(kindJobSheet+" "+s.ID), "", 1)
	c.Reporter, c.Contributor, c.Doubts, c.Ext = "", by.Name, nil, nil
	c.Sources = []kb.Source{{Kind: kindJobSheet, Posted: now.UTC().Format(time.DateOnly)}}
	if c.State = kb.Draft; how.Publish {
		c.State = kb.Published
	}
	c.FollowUps = mapped(c.FollowUps, func(f kb.FollowUp) kb.FollowUp { f.Note = ""; return f })
	if !how.Prices {
		c.Fixes = mapped(c.Fixes, func(f kb.Fix) kb.Fix { f.PartsCost = nil; return f })
	}
	c, err := masked(c)
	if err != nil {
		return c, err
	}
	c = taken(c, false)
	return c, c.CheckRecord()
}

// masked masks every text of a case as that of a write-up is masked. It goes over the record's JSON, so that no field is left out; words
// of closed lists hold nothing that could be masked; a part's number and price, which may look like anything, are kept.
func masked(c kb.Case) (kb.Case, error) {
	before := c.Fixes
	body, err := kb.EncodeCase(c)
	if err != nil {
		return c, err
	}
	var tree map[string]any
	if err := json.Unmarshal(body, &tree); err != nil {
		return c, err
	}
	for name, x := range tree {
		if slices.Contains([]string{"title", "symptoms", "tests", "fixes", "machine"}, name) {
			tree[name] = maskedTree(x)
		}
	}
	if body, err = json.Marshal(tree); err != nil {
		return c, err
	}
	out, err := kb.DecodeCase(body)
	for i := range out.Fixes {
		out.Fixes[i].Part, out.Fixes[i].PartsCost = before[i].Part, before[i].PartsCost
	}
	return out, err
}

func maskedTree(x any) any {
	switch x := x.(type) {
	case string:
		text, _ := ingest.Mask(x)
		return text
	case []any:
		for i := range x {
			x[i] = maskedTree(x[i])
		}
	case map[string]any:
		for name := range x {
			x[name] = maskedTree(x[name])
		}
	}
	return x
}
