package casebook

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"ruledout/internal/store"
	"ruledout/kb"
)

// Verbs of revisions that make one case of several, or several of one, and the other way round.
const (
	verbMerge    = "merge"
	verbMerged   = "merged away"
	verbUnmerge  = "take merge back"
	verbRestored = "restored from merge"
	verbSplit    = "split"
	verbSplitOff = "split off"
	verbUnsplit  = "take split back"
)

// Seen holds the positions (View.Pos, ComparedCase.Pos) of cases as a moderator has looked at them.
type Seen map[kb.CaseID]int64

// Comparison is two or more cases side by side.
type Comparison struct {
	Cases  []ComparedCase  `json:"cases"`
	Fields []kb.MergeField `json:"fields"`
}

// ComparedCase is one of the cases that are compared, with the position to guard a merge by.
type ComparedCase struct {
	Case kb.Case `json:"case"`
	Pos  int64   `json:"pos"`
}

// Compare sets cases side by side: what each says in every field, and what merging them would keep. An id that was merged stands for the
// case it leads to; two ids that lead to one case are Invalid.
func (b *Book) Compare(ctx context.Context, ids ...kb.CaseID) (Comparison, error) {
	var out Comparison
	var cases []kb.Case
	for _, id := range ids {
		r, err := b.store.Case(ctx, id)
		if err != nil {
			return out, fmt.Errorf("compare: %w", err)
		}
		if slices.ContainsFunc(cases, func(c kb.Case) bool { return c.ID == r.Case.ID }) {
			return out, kb.Errorf(kb.Invalid, "compare: %s is case %s, which is named already", id, r.Case.ID)
		}
		cases = append(cases, r.Case)
		out.Cases = append(out.Cases, ComparedCase{r.Case, r.Pos})
	}
	var err error
	out.Fields, err = kb.CompareCases(cases, kb.MergeOptions{Vocabulary: b.Vocabulary()})
	return out, err
}

// MergeRequest says which cases become one.
type MergeRequest struct {
	Into   kb.CaseID
	Others []kb.CaseID
	Take   map[string]kb.CaseID // fields that are taken from one case (kb.MergeFields); all others are joined
	Seen   Seen                 // as the moderator has seen the cases; what is not named is not guarded
	Reason string
}

// Merge makes one case of several: the surviving one holds the facts, spans and sources of all, and every other id leads to it from then on. A
// case that changed since the moderator saw it is a Conflict with a *StaleCase; so is one that was merged or withdrawn before.
func (b *Book) Merge(ctx context.Context, by Actor, into kb.CaseID, others []kb.CaseID, take map[string]kb.CaseID, seen Seen, reason string) (kb.Case, error) {
	return b.act(ctx, by, Merging(MergeRequest{into, others, take, seen, reason}))
}

// StaleCase says that a case was changed after a moderator had looked at it.
type StaleCase struct {
	ID      kb.CaseID
	Seen    int64  // the position that the moderator saw
	Now     int64  // the present one
	By      string // who changed it last
	Verb    string // what was done
	At      time.Time
	Differs []string // fields
}

// Error says who changed what meanwhile.
func (e *StaleCase) Error() string {
	return fmt.Sprintf("case %s was changed meanwhile: %s by %s at %s (revision %d; you saw %d) changed %s; look at it again", e.ID, e.Verb, e.By,
		e.At.Format(time.RFC3339), e.Now, e.Seen, strings.Join(e.Differs, ", "))
}

// unchanged holds a case against the position at which it was seen.
func unchanged(tx *store.Tx, r store.Record, seen Seen) error {
	pos, guarded := seen[r.Case.ID]
	if !guarded || pos == r.Pos {
		return nil
	}
	history, err := tx.History(r.Case.ID)
	if err != nil {
		return err
	}
	now, was := revisionAt(history, r.Pos), revisionAt(history, pos)
	e := &StaleCase{ID: r.Case.ID, Seen: pos, Now: now.Pos, By: now.Actor, Verb: now.Verb, At: now.At, Differs: []string{"it"}}
	if was.Pos > 0 {
		if e.Differs, err = caseDiffers(was.Body, now.Body); err != nil {
			return err
		}
	}
	return kb.Errorf(kb.Conflict, "%w", e)
}

func revisionAt(list []store.Revision, pos int64) store.Revision {
	for _, r := range list {
		if r.Pos == pos {
			return r
		}
	}
	return store.Revision{}
}

// caseDiffers names the fields in which two records differ.
func caseDiffers(a, b []byte) ([]string, error) {
	x, err := fieldsIn(a)
	if err != nil {
		return nil, err
	}
	y, err := fieldsIn(b)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, name := range fieldNames(x, y) {
		if string(x[name]) != string(y[name]) {
			out = append(out, name)
		}
	}
	return out, nil
}

// mergeMark is the body of the mark under the id of every case that was merged away: what the merge was made of.
type mergeMark struct {
	V      int                  `json:"v"`
	Into   kb.CaseID            `json:"into"`
	Before int64                `json:"before"` // position of the surviving case before
	After  int64                `json:"after"`  // and after
	Others []mergedOther        `json:"others"`
	Take   map[string]kb.CaseID `json:"take,omitempty"`
}

type mergedOther struct {
	ID     kb.CaseID `json:"id"`
	Before int64     `json:"before"`
	After  int64     `json:"after"`
}

func mergeMarkID(id kb.CaseID) string { return "merge " + string(id) }

// markOf gives the merge by which a case was merged away last.
func markOf(tx *store.Tx, id kb.CaseID) (mergeMark, error) {
	var m mergeMark
	r, err := tx.Latest(store.EntryMark, mergeMarkID(id))
	if err != nil {
		return m, err
	}
	return m, json.Unmarshal(r.Body, &m)
}

// Merging is the change that Merge makes.
func Merging(q MergeRequest) Change {
	return Change{"merge cases", func(b *Book, tx *store.Tx, by Actor) ([]Changed, error) {
		into, others, err := q.records(tx)
		if err != nil {
			return nil, err
		}
		var contents []kb.Case
		for _, r := range others {
			contents = append(contents, r.Case)
		}
		after, err := kb.Merge(into.Case, contents, kb.MergeOptions{Vocabulary: b.Vocabulary(), Take: q.Take})
		if err != nil {
			return nil, err
		}
		return b.putMerge(tx, by, q, into, others, after)
	}}
}

// records reads the cases that are to become one, the surviving one first, and sees that they can.
func (q MergeRequest) records(tx *store.Tx) (into store.Record, others []store.Record, err error) {
	if len(q.Others) == 0 {
		return into, nil, kb.Errorf(kb.Invalid, "name the cases to be merged into %s", q.Into)
	}
	if into, err = tx.Case(q.Into); err != nil {
		return into, nil, err
	}
	for _, id := range q.Others {
		r, err := tx.Record(id)
		if err != nil {
			return into, nil, err
		}
		if r.Case.State == kb.Merged {
			return into, nil, kb.Errorf(kb.Conflict, "case %s was merged into %s already", id, r.Case.MergedInto)
		}
		if id == into.Case.ID || slices.ContainsFunc(others, func(o store.Record) bool { return o.Case.ID == id }) {
			return into, nil, kb.Errorf(kb.Invalid, "case %s is named twice", id)
		}
		others = append(others, r)
	}
	for _, r := range append([]store.Record{into}, others...) {
		if r.Case.State == kb.Withdrawn {
			return into, nil, kb.Errorf(kb.Conflict, "case %s was withdrawn: what it says may not come back by a merge", r.Case.ID)
		}
		if err := unchanged(tx, r, q.Seen); err != nil {
			return into, nil, err
		}
	}
	return into, others, nil
}

func (b *Book) putMerge(tx *store.Tx, by Actor, q MergeRequest, into store.Record, others []store.Record, after kb.Case) ([]Changed, error) {
	put := b.putter(tx, by, q.Reason)
	mark := mergeMark{V: 1, Into: after.ID, Before: into.Pos, Take: q.Take}
	var err error
	if mark.After, err = put(verbMerge, after); err != nil {
		return nil, err
	}
	out := []Changed{{into.Case, after}}
	for _, r := range others {
		c := r.Case
		c.State, c.MergedInto = kb.Merged, after.ID
		pos, err := put(verbMerged, c)
		if err != nil {
			return nil, err
		}
		mark.Others = append(mark.Others, mergedOther{c.ID, r.Pos, pos})
		out = append(out, Changed{r.Case, c})
	}
	body, err := json.Marshal(mark)
	if err != nil {
		return nil, err
	}
	for _, r := range others {
		e := store.Entry{Kind: store.EntryMark, ID: mergeMarkID(r.Case.ID), Verb: verbMerge, Actor: by.Name, Reason: q.Reason, At: b.now(), Body: body}
		if _, err := tx.Append(e); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// putter gives what appends contents of cases, all at one time by one actor for one reason.
func (b *Book) putter(tx *store.Tx, by Actor, reason string) func(verb string, c kb.Case) (int64, error) {
	at := b.now()
	return func(verb string, c kb.Case) (int64, error) {
		if err := c.CheckRecord(); err != nil {
			return 0, err
		}
		return tx.Append(store.Entry{Kind: store.EntryCase, ID: string(c.ID), Verb: verb, Actor: by.Name, Reason: reason, At: at, Case: &c, Target: c.MergedInto})
	}
}

// Change is a decision of a moderator that can be looked at before it is taken: EffectOf says what it does to the answers.
type Change struct {
	what string
	do   func(b *Book, tx *store.Tx, by Actor) ([]Changed, error)
}

// Changed is a case before and after a change; before is empty where the change makes it.
type Changed struct{ Before, After kb.Case }

// act takes a decision; it gives the first case that it changed.
func (b *Book) act(ctx context.Context, by Actor, change Change) (kb.Case, error) {
	list, err := b.take(ctx, by, change)
	if err != nil {
		return kb.Case{}, err
	}
	return list[0].After, nil
}

func (b *Book) take(ctx context.Context, by Actor, change Change) (list []Changed, err error) {
	if err := by.may(Moderator, change.what); err != nil {
		return nil, err
	}
	err = b.store.Update(ctx, func(tx *store.Tx) error {
		list, err = change.do(b, tx, by)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", change.what, err)
	}
	return list, nil
}

// errOnlyLooked ends a change that was only looked at.
var errOnlyLooked = errors.New("only looked at")

// tried gives what a change would do, and keeps nothing of it.
func (b *Book) tried(ctx context.Context, by Actor, change Change) (list []Changed, err error) {
	if err := by.may(Moderator, change.what); err != nil {
		return nil, err
	}
	err = b.store.Update(ctx, func(tx *store.Tx) error {
		if list, err = change.do(b, tx, by); err != nil {
			return err
		}
		return errOnlyLooked
	})
	if !errors.Is(err, errOnlyLooked) {
		return nil, fmt.Errorf("%s: %w", change.what, err)
	}
	return list, nil
}
