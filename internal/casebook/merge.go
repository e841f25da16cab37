package casebook

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"ruledout/internal/store"
	"ruledout/kb"
)

// Verbs of merging.
const (
	verbMerge      = "merge"       // of the case that takes in, and of the mark about it
	verbMergedAway = "merged away" // of the case that is taken in
	verbUnmerge    = "unmerge"
	verbRestore    = "restore"
)

// mergeMark is what ids of marks about merged cases begin with.
const mergeMark = "merge "

// merged is what a mark keeps of a case that others were merged into: from it the case can be made again, with any of them taken out.
type merged struct {
	Base  kb.Case      `json:"base"` // the case before anything was merged into it
	Parts []mergedPart `json:"parts"`
}

// mergedPart is a case that was merged into another, as it was.
type mergedPart struct {
	ID    kb.CaseID            `json:"id"`
	State kb.State             `json:"state"`
	Take  map[string]kb.CaseID `json:"take,omitempty"` // fields for which a moderator chose a case
	Case  kb.Case              `json:"case"`
}

// MergeWish says which cases are merged into which.
type MergeWish struct {
	Into   kb.CaseID
	Others []kb.CaseID
	Take   map[string]kb.CaseID // field of the record ("machine", "title") to the case whose value is taken; else as kb.Merge has it
	Seen   map[kb.CaseID]int64  // positions that the moderator looked at; of a case that is not in it any
	Reason string
}

// mergeFields are the fields for which a case can be chosen.
func mergeFields() []string {
	return []string{"title", "reporter", "machine", "codes", "symptoms", "tests", "fixes", "status", "confirmation", "follow_ups"}
}

// Merge makes one case of several that tell of one repair: the first takes in the others, whose ids lead to it for ever. Every source and every
// span is kept, and the repair counts once. A case that was changed since it was looked at is a Conflict with *StaleCase as its cause.
func (b *Book) Merge(ctx context.Context, by Actor, w MergeWish) (kb.Case, error) {
	if err := by.may(Moderator, "merge cases"); err != nil {
		return kb.Case{}, err
	}
	if err := w.check(); err != nil {
		return kb.Case{}, err
	}
	var after kb.Case
	err := b.store.Update(ctx, func(tx *store.Tx) error {
		into, err := w.record(tx, w.Into)
		if err != nil {
			return err
		}
		m, err := mergedInto(tx, into.Case)
		if err != nil {
			return err
		}
		before := m.content()
		for _, id := range w.Others {
			r, err := w.record(tx, id)
			if err != nil {
				return err
			}
			m.Parts = append(m.Parts, mergedPart{ID: id, State: r.Case.State, Take: w.Take, Case: r.Case})
		}
		if after, err = withEdits(before, into.Case, m.content(), true); err != nil {
			return err
		}
		after.State = into.Case.State
		if err := after.CheckRecord(); err != nil {
			return err
		}
		return b.keepMerge(tx, by, m, &after, w)
	})
	if err != nil {
		return kb.Case{}, fmt.Errorf("merge into %s: %w", w.Into, err)
	}
	return after, b.catchUp(ctx)
}

func (w MergeWish) check() error {
	if len(w.Others) == 0 {
		return kb.Errorf(kb.Invalid, "name at least two cases")
	}
	for i, id := range w.Others {
		if id == w.Into || slices.Contains(w.Others[:i], id) {
			return kb.Errorf(kb.Invalid, "case %s is named twice", id)
		}
	}
	for field, id := range w.Take {
		if !slices.Contains(mergeFields(), field) {
			return &kb.Error{Kind: kb.Invalid, Field: field, Msg: "is no field to choose for; want one of: " + strings.Join(mergeFields(), ", ")}
		}
		if id != w.Into && !slices.Contains(w.Others, id) {
			return &kb.Error{Kind: kb.Invalid, Field: field, Msg: fmt.Sprintf("case %s is none of those that are merged", id)}
		}
	}
	return nil
}

// record gives a case that may be merged, if it is as it was looked at.
func (w MergeWish) record(tx *store.Tx, id kb.CaseID) (store.Record, error) {
	r, err := tx.Record(id)
	if err != nil {
		return r, err
	}
	if seen, ok := w.Seen[id]; ok && seen != max(r.Pos, r.ProposalPos) {
		return r, kb.Errorf(kb.Conflict, "case %s: %w", id, &StaleCase{r.Changed})
	}
	switch {
	case r.Case.State == kb.Withdrawn || r.Case.State == kb.Merged:
		return r, kb.Errorf(kb.Conflict, "case %s is %s", id, r.Case.State)
	case r.Proposal != nil:
		return r, kb.Errorf(kb.Conflict, "a later reading of case %s waits: decide on it first", id)
	}
	return r, nil
}

// mergedInto gives what was merged into a case until now.
func mergedInto(tx *store.Tx, c kb.Case) (merged, error) {
	r, err := tx.Latest(store.EntryMark, mergeMark+string(c.ID))
	if kb.KindOf(err) == kb.NotFound {
		return merged{Base: c}, nil
	}
	if err != nil {
		return merged{}, err
	}
	var m merged
	if err := json.Unmarshal(r.Body, &m); err != nil {
		return m, kb.Errorf(kb.Internal, "what was merged into case %s cannot be read: %w", c.ID, err)
	}
	if len(m.Parts) == 0 { // all of it was taken out again
		return merged{Base: c}, nil
	}
	return m, nil
}

// content gives the case that the parts make, before what was edited on it since.
func (m merged) content() kb.Case {
	var others []kb.Case
	for _, p := range m.Parts {
		others = append(others, p.Case)
	}
	c := kb.Merge(m.Base, others)
	for _, p := range m.Parts {
		for field, id := range p.Take {
			if from, ok := m.of(id); ok {
				c = withField(c, field, from)
			}
		}
	}
	c.ID, c.State = m.Base.ID, m.Base.State
	return c
}

// of gives one of the merged cases.
func (m merged) of(id kb.CaseID) (kb.Case, bool) {
	if id == m.Base.ID {
		return m.Base, true
	}
	i := slices.IndexFunc(m.Parts, func(p mergedPart) bool { return p.ID == id })
	if i < 0 {
		return kb.Case{}, false
	}
	return m.Parts[i].Case, true
}

// withField takes one field of a case from another.
func withField(c kb.Case, field string, from kb.Case) kb.Case {
	switch field {
	case "title":
		c.Title = from.Title
	case "reporter":
		c.Reporter = from.Reporter
	case "machine":
		c.Machine = from.Machine
	case "codes":
		c.Codes = from.Codes
	case "symptoms":
		c.Symptoms = from.Symptoms
	case "tests":
		c.Tests = from.Tests
	case "fixes":
		c.Fixes = from.Fixes
	case "status":
		c.Status, c.ClosedAs, c.StatusEvidence = from.Status, from.ClosedAs, from.StatusEvidence
	case "confirmation":
		c.Confirmation = from.Confirmation
	case "follow_ups":
		c.FollowUps = from.FollowUps
	}
	return c
}

// withEdits carries over what was edited on a case since it was made of its parts: was is what the parts gave then, now what it is, next what the
// parts give from now on. A field that was edited and becomes another one stands in the way, unless edits go first.
func withEdits(was, now, next kb.Case, editsFirst bool) (kb.Case, error) {
	now.State = next.State
	was.State = next.State
	mine, base, theirs := SheetFacts{Case: now}, SheetFacts{Case: was}, SheetFacts{Case: next}
	list, err := mine.Differences(base, theirs)
	if err != nil {
		return kb.Case{}, err
	}
	take := map[string]SheetChoice{}
	for _, d := range list {
		switch {
		case d.Usual == TakeMine || d.Usual == TakeTheirs || editsFirst && d.List:
		case editsFirst:
			take[d.Field] = TakeMine
		default:
			return kb.Case{}, &kb.Error{Kind: kb.Conflict, Field: strings.TrimPrefix(d.Field, "case."), Msg: "was edited after cases were merged, and would become another one now"}
		}
	}
	out, err := mine.Settle(base, theirs, take)
	return out.Case, err
}

// keepMerge writes a merge: the mark from which it can be undone, the case that takes in, and those that are taken in.
func (b *Book) keepMerge(tx *store.Tx, by Actor, m merged, after *kb.Case, w MergeWish) error {
	body, err := json.Marshal(m)
	if err != nil {
		return err
	}
	entry := store.Entry{Kind: store.EntryMark, ID: mergeMark + string(w.Into), Verb: verbMerge, Actor: by.Name, Reason: tidy(w.Reason), At: b.now(), Body: body}
	if _, err := tx.Append(entry); err != nil {
		return err
	}
	for _, p := range m.Parts {
		if p.State == kb.Published { // a repair that was published stays published
			after.State = kb.Published
		}
	}
	entry.Kind, entry.ID, entry.Body, entry.Case = store.EntryCase, string(w.Into), nil, after
	if _, err := tx.Append(entry); err != nil {
		return err
	}
	for _, id := range w.Others {
		c, _ := m.of(id)
		c.State = kb.Merged
		e := store.Entry{Kind: store.EntryCase, ID: string(id), Verb: verbMergedAway, Actor: by.Name, Reason: tidy(w.Reason), At: b.now(), Case: &c, Target: w.Into}
		if _, err := tx.Append(e); err != nil {
			return err
		}
	}
	return nil
}

// Unmerge takes a case out of the one that it was merged into, and restores it as it was. What was edited on the other one since stays, unless it
// touches a field that becomes another one without the case: that is a Conflict that names the field and who edited it.
func (b *Book) Unmerge(ctx context.Context, by Actor, id kb.CaseID, reason string) (kb.Case, error) {
	if err := by.may(Moderator, "undo a merge"); err != nil {
		return kb.Case{}, err
	}
	var restored kb.Case
	err := b.store.Update(ctx, func(tx *store.Tx) error {
		r, err := tx.Record(id)
		if err != nil {
			return err
		}
		if r.Case.State != kb.Merged {
			return kb.Errorf(kb.Conflict, "case %s was not merged into another", id)
		}
		into, err := mergedAt(tx, id)
		if err != nil {
			return err
		}
		restored, err = b.takeOut(tx, by, into, id, tidy(reason))
		return err
	})
	if err != nil {
		return kb.Case{}, fmt.Errorf("unmerge %s: %w", id, err)
	}
	return restored, b.catchUp(ctx)
}

// mergedAt gives the case that an id was merged into itself: the target of its last revision, whatever became of that one.
func mergedAt(tx *store.Tx, id kb.CaseID) (kb.CaseID, error) {
	history, err := tx.History(id)
	if err != nil {
		return "", err
	}
	for _, r := range slices.Backward(history) {
		if r.Target != "" {
			return r.Target, nil
		}
	}
	return "", kb.Errorf(kb.Internal, "case %s leads nowhere", id)
}

func (b *Book) takeOut(tx *store.Tx, by Actor, into, id kb.CaseID, reason string) (kb.Case, error) {
	now, err := tx.Record(into)
	if err != nil {
		return kb.Case{}, err
	}
	if now.Case.State == kb.Merged {
		return kb.Case{}, kb.Errorf(kb.Conflict, "case %s was itself merged into another since: undo that first", into)
	}
	m, err := mergedInto(tx, now.Case)
	if err != nil {
		return kb.Case{}, err
	}
	i := slices.IndexFunc(m.Parts, func(p mergedPart) bool { return p.ID == id })
	if i < 0 {
		return kb.Case{}, kb.Errorf(kb.Internal, "nothing tells what case %s was before it was merged", id)
	}
	was, part := m.content(), m.Parts[i]
	m.Parts = slices.Delete(slices.Clone(m.Parts), i, i+1)
	after, err := withEdits(was, now.Case, m.content(), false)
	if err != nil {
		return kb.Case{}, b.whoEdited(tx, into, err)
	}
	if after.State, err = stateWithout(tx, m, now.Case); err != nil {
		return kb.Case{}, err
	}
	body, err := json.Marshal(m)
	if err != nil {
		return kb.Case{}, err
	}
	restored := part.Case
	for _, e := range []store.Entry{
		{Kind: store.EntryMark, ID: mergeMark + string(into), Verb: verbUnmerge, Body: body},
		{Kind: store.EntryCase, ID: string(into), Verb: verbUnmerge, Case: &after},
		{Kind: store.EntryCase, ID: string(id), Verb: verbRestore, Case: &restored},
	} {
		e.Actor, e.Reason, e.At = by.Name, reason, b.now()
		if _, err := tx.Append(e); err != nil {
			return kb.Case{}, err
		}
	}
	return restored, nil
}

// stateWithout gives the state of a case from which a part was taken: what it is, unless it was published by that part alone.
func stateWithout(tx *store.Tx, m merged, now kb.Case) (kb.State, error) {
	if now.State != kb.Published || m.Base.State == kb.Published || slices.ContainsFunc(m.Parts, func(p mergedPart) bool { return p.State == kb.Published }) {
		return now.State, nil
	}
	history, err := tx.History(now.ID)
	if err != nil {
		return "", err
	}
	for _, r := range slices.Backward(history) {
		switch r.Verb {
		case verbAccept:
			return now.State, nil
		case verbMerge:
			return m.Base.State, nil
		}
	}
	return now.State, nil
}

// whoEdited adds to a conflict about a field who edited the case last since the merge.
func (b *Book) whoEdited(tx *store.Tx, id kb.CaseID, err error) error {
	history, err2 := tx.History(id)
	if kb.KindOf(err) != kb.Conflict || err2 != nil {
		return err
	}
	for _, r := range slices.Backward(history) {
		if r.Verb == verbMerge || r.Verb == verbUnmerge {
			break
		}
		return kb.Errorf(kb.Conflict, "%w (%s by %s on %s)", err, r.Verb, r.Actor, r.At.UTC().Format("2006-01-02 15:04 UTC"))
	}
	return err
}
