package casebook

import (
	"context"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"time"

	"ruledout/internal/store"
	"ruledout/kb"
)

// verbCorrect is the verb of the revision by which a person puts facts right.
const verbCorrect = "correct"

// Draft is a case as those see it who may work on it: its contributor while it is a draft, and moderators.
type Draft struct {
	Case     kb.Case // what would be published: a later reading of a published case, where one waits
	Seen     int64   // the position that a decision or a correction has to name
	Pos      int64   // of the case's own content, for a merge
	Later    bool    // a later reading of a case that is published already
	Present  kb.Case // the case as it stands
	Texts    []SourceText
	History  []Revised
	Sources  []kb.Source
	Merged   []kb.CaseID // what was merged into it
	Decides  bool        // the person may decide on it
	Corrects bool        // the person may put its facts right
}

// Revised is one revision of a case with what it changed.
type Revised struct {
	Event
	Changes []CaseChange
}

// CaseChange is a field in which a revision differs from the one before it.
type CaseChange struct {
	Field       string // of the record: "machine", "tests"
	Before, Now kb.Case
}

// revised gives the revisions of a case, oldest first, each with the fields that it changed. A proposal is compared with the case that it is
// proposed for.
func (b *Book) revised(ctx context.Context, id kb.CaseID) ([]Revised, error) {
	all, err := b.store.History(ctx, id)
	if err != nil {
		return nil, err
	}
	var out []Revised
	var was SheetFacts
	for i, r := range all {
		x := Revised{Event: Event{Pos: r.Pos, At: r.At, Actor: r.Actor, Verb: r.Verb, Reason: r.Reason, State: r.State}}
		if len(r.Body) == 0 { // a proposal that no longer waits
			continue
		}
		c, err := r.Case()
		if err != nil {
			return nil, err
		}
		now := SheetFacts{Case: c}
		if i > 0 {
			fields, err := now.differs(was)
			if err != nil {
				return nil, err
			}
			for _, f := range fields {
				x.Changes = append(x.Changes, CaseChange{strings.TrimPrefix(f, "case."), was.Case, c})
			}
		}
		if r.Kind == store.EntryCase {
			was = now
		}
		out = append(out, x)
	}
	return out, nil
}

// Draft gives a case to work on. For everybody else it is as if it were not there.
func (b *Book) Draft(ctx context.Context, by Actor, id kb.CaseID) (Draft, error) {
	rec, err := b.store.Case(ctx, id)
	if err != nil {
		return Draft{}, err
	}
	if err := worksOn(by, rec.Case); err != nil {
		return Draft{}, err
	}
	d := Draft{Case: rec.Case, Present: rec.Case, Seen: max(rec.Pos, rec.ProposalPos), Pos: rec.Pos, Later: rec.Proposal != nil && rec.Case.State == kb.Published, Sources: rec.Case.Sources,
		Decides: by.Role >= Moderator, Corrects: mayCorrect(by, rec.Case) == nil}
	if rec.Proposal != nil {
		d.Case = carryOver(*rec.Proposal, rec.Case)
	}
	if d.History, err = b.revised(ctx, rec.Case.ID); err != nil {
		return Draft{}, err
	}
	if d.Merged, err = b.store.Redirects(ctx, rec.Case.ID); err != nil {
		return Draft{}, err
	}
	d.Texts, err = b.texts(ctx, d.Case, true) // who handed it in knows the text
	return d, err
}

// worksOn lets moderators and the contributor of a case pass.
func worksOn(by Actor, c kb.Case) error {
	if by.Role >= Moderator || by.Role >= Contributor && by.Name != "" && c.Contributor == by.Name {
		return nil
	}
	return kb.Errorf(kb.NotFound, "there is no case %q that you work on", c.ID)
}

// mayCorrect lets moderators pass, and the contributor of a draft.
func mayCorrect(by Actor, c kb.Case) error {
	if err := worksOn(by, c); err != nil {
		return err
	}
	switch {
	case c.State == kb.Withdrawn || c.State == kb.Merged:
		return kb.Errorf(kb.Conflict, "case %s is %s: nothing of it is put right any more", c.ID, c.State)
	case c.State != kb.Draft && by.Role < Moderator:
		return kb.Errorf(kb.Forbidden, "case %s is published; a moderator puts it right", c.ID)
	}
	return nil
}

// Correct puts the facts of a case right, as looked at at a position. What a case is made of beside its facts - id, state, sources,
// contributor - stays. A fact that was changed loses its confidence: a person said it, no reading; the words it was read from stay beside it.
func (b *Book) Correct(ctx context.Context, by Actor, id kb.CaseID, seen int64, facts kb.Case, reason string) (kb.Case, error) {
	if err := by.may(Contributor, "correct cases"); err != nil {
		return kb.Case{}, err
	}
	var after kb.Case
	err := b.store.Update(ctx, func(tx *store.Tx) error {
		r, err := tx.Record(id)
		if err == nil {
			err = asSeen(tx, r, seen)
		}
		if err != nil {
			return err
		}
		list, err := b.changeIn(tx, by, id, verbCorrect, reason, func(r store.Record) (kb.Case, error) { return corrected(by, r, facts) })
		if err == nil {
			after = list[0].After
		}
		return err
	})
	if err != nil {
		return kb.Case{}, fmt.Errorf("%s %s: %w", verbCorrect, id, err)
	}
	return after, nil
}

// corrected gives a case with the facts as a person put them right.
func corrected(by Actor, r store.Record, facts kb.Case) (kb.Case, error) {
	if err := mayCorrect(by, r.Case); err != nil {
		return kb.Case{}, err
	}
	was := r.Case
	if r.Proposal != nil {
		was = carryOver(*r.Proposal, r.Case)
	}
	c := facts
	c.V, c.ID, c.State, c.Sources, c.Contributor, c.Ext = kb.Version, was.ID, r.Case.State, was.Sources, was.Contributor, was.Ext
	c.FollowUps, c.FullForm, c.MergedInto = was.FollowUps, was.FullForm, was.MergedInto
	said(&c, was)
	same, err := equal(c, was)
	if err == nil && same && r.Proposal == nil {
		err = kb.Errorf(kb.Conflict, "nothing was changed")
	}
	return c, err
}

// asSeen holds a case, and a later reading of it that waits, against the position that was looked at.
func asSeen(tx *store.Tx, r store.Record, seen int64) error {
	if max(r.Pos, r.ProposalPos) == seen {
		return nil
	}
	if err := unchanged(tx, r, Seen{r.Case.ID: seen}); err != nil {
		return err
	}
	return kb.Errorf(kb.Conflict, "%w", &StaleCase{ID: r.Case.ID, Seen: seen, Now: r.ProposalPos, By: "another reading", Verb: verbReread, At: r.Changed})
}

// said takes the confidence from what a person changed.
func said(c *kb.Case, was kb.Case) {
	if !sameMachine(c.Machine, was.Machine) {
		c.Machine.Confidence = 0
	}
	for i, x := range c.Codes {
		if !slices.ContainsFunc(was.Codes, func(y kb.CodeEntry) bool { return y.Code == x.Code && y.Status == x.Status }) {
			c.Codes[i].Confidence = 0
		}
	}
	for i, x := range c.Symptoms {
		if !slices.ContainsFunc(was.Symptoms, func(y kb.Symptom) bool { return y.Symptom == x.Symptom && y.Absent == x.Absent }) {
			c.Symptoms[i].Confidence = 0
		}
	}
	for i, x := range c.Tests {
		if !slices.ContainsFunc(was.Tests, func(y kb.Test) bool { return reflect.DeepEqual(x, y) }) {
			c.Tests[i].Confidence = 0
		}
	}
	for i, x := range c.Fixes {
		if !slices.ContainsFunc(was.Fixes, func(y kb.Fix) bool { return reflect.DeepEqual(x, y) }) {
			c.Fixes[i].Confidence = 0
		}
	}
}

func sameMachine(a, b kb.Machine) bool {
	a.Confidence, b.Confidence = 0, 0
	return reflect.DeepEqual(a, b)
}

// Ruling is what a moderator decides on a case.
type Ruling string

// The decisions.
const (
	DecideAccept   Ruling = "accept"
	DecideSendBack Ruling = "send back"
	DecideWithdraw Ruling = "withdraw"
)

// Decide carries out a moderator's decision on a case as looked at at a position: a case that was changed since is a Conflict with *StaleCase as
// its cause, and stays as it is.
func (b *Book) Decide(ctx context.Context, by Actor, id kb.CaseID, seen int64, d Ruling, reason string) (kb.Case, error) {
	if err := by.may(Moderator, "decide on cases"); err != nil {
		return kb.Case{}, err
	}
	change, ok := rulings(id, reason)[d]
	switch {
	case !ok:
		return kb.Case{}, &kb.Error{Kind: kb.Invalid, Field: "decision", Msg: fmt.Sprintf("%q is not one of: accept, send back, withdraw", d)}
	case d != DecideAccept && tidy(reason) == "":
		return kb.Case{}, &kb.Error{Kind: kb.Invalid, Field: "reason", Msg: "say why: the contributor reads it"}
	}
	do := change.do
	change.do = func(b *Book, tx *store.Tx, by Actor) ([]Changed, error) {
		r, err := tx.Record(id)
		if err == nil {
			err = asSeen(tx, r, seen)
		}
		if err != nil {
			return nil, err
		}
		return do(b, tx, by)
	}
	return b.act(ctx, by, change)
}

func rulings(id kb.CaseID, reason string) map[Ruling]Change {
	return map[Ruling]Change{DecideAccept: Accepting(id, reason), DecideSendBack: SendingBack(id, reason), DecideWithdraw: Withdrawing(id, reason)}
}

// EffectOfRuling shows what a moderator's decision would change in the answers.
func (b *Book) EffectOfRuling(ctx context.Context, by Actor, id kb.CaseID, d Ruling) ([]AnswerEffect, error) {
	change, ok := rulings(id, "as a trial")[d]
	if !ok {
		return nil, &kb.Error{Kind: kb.Invalid, Field: "decision", Msg: fmt.Sprintf("%q is not one of: accept, send back, withdraw", d)}
	}
	return b.EffectOf(ctx, by, change)
}

// Mine lists the cases that a person handed in, the last touched first.
func (b *Book) Mine(ctx context.Context, by Actor) ([]Submission, error) {
	if err := by.may(Contributor, "hand in write-ups"); err != nil {
		return nil, err
	}
	ids, err := b.store.TouchedBy(ctx, by.Name)
	if err != nil {
		return nil, err
	}
	out := []Submission{}
	for _, id := range ids {
		r, err := b.store.Case(ctx, id)
		if err != nil {
			return nil, err
		}
		if r.Case.Contributor == by.Name {
			out = append(out, submission(r))
		}
	}
	return out, nil
}

// Submission is a case that somebody handed in, and what has become of it.
type Submission struct {
	ID      kb.CaseID `json:"id"`
	Title   string    `json:"title"`
	Machine string    `json:"machine"`
	Codes   []string  `json:"codes"`
	State   kb.State  `json:"state"`
	Doubts  []string  `json:"doubts"` // questions that are open, and why it was sent back
	Changed time.Time `json:"changed"`
}

func submission(r store.Record) Submission {
	s := Submission{ID: r.Case.ID, Title: r.Case.Title, Machine: MachineName(r.Case.Machine), Codes: []string{}, State: r.Case.State, Doubts: []string{}, Changed: r.Changed}
	for _, e := range r.Case.Codes {
		s.Codes = append(s.Codes, e.Code)
	}
	for _, d := range r.Case.Doubts {
		s.Doubts = append(s.Doubts, d.Question)
	}
	return s
}
