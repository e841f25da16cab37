package casebook

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"ruledout/internal/store"
	"ruledout/kb"
)

// SplitPart says what goes to one of the repairs that a case really was: places in its lists, from 0. Machine, sources and how it ended go to every part.
type SplitPart struct {
	Title                                    string // that of the case if empty
	Codes, Symptoms, Tests, Fixes, FollowUps []int
}

// Split makes several cases of one that was several repairs: the first part keeps the id, the others become new cases with the same sources. A
// fact may go to several parts; one that goes to none is Invalid, as is a part without a test or fix. Unmerge of any new case puts them back together.
func (b *Book) Split(ctx context.Context, by Actor, id kb.CaseID, parts []SplitPart, seen Seen, reason string) ([]kb.Case, error) {
	list, err := b.take(ctx, by, Splitting(id, parts, seen, reason))
	var out []kb.Case
	for _, x := range list {
		out = append(out, x.After)
	}
	return out, err
}

// splitMark is the body of the mark under the id of every case that was split off.
type splitMark struct {
	V      int           `json:"v"`
	Of     kb.CaseID     `json:"of"`
	Before int64         `json:"before"`
	After  int64         `json:"after"`
	Parts  []mergedOther `json:"parts"` // the new cases
}

func splitMarkID(id kb.CaseID) string { return "split " + string(id) }

// Splitting is the change that Split makes.
func Splitting(id kb.CaseID, parts []SplitPart, seen Seen, reason string) Change {
	return Change{"split cases", func(b *Book, tx *store.Tx, by Actor) ([]Changed, error) {
		r, err := tx.Record(id)
		if err != nil {
			return nil, err
		}
		if r.Case.State != kb.Draft && r.Case.State != kb.Published {
			return nil, kb.Errorf(kb.Conflict, "case %s is %s", id, r.Case.State)
		}
		if err := unchanged(tx, r, seen); err != nil {
			return nil, err
		}
		if err := everyFactGoes(&r.Case, parts); err != nil {
			return nil, err
		}
		return b.putSplit(tx, by, r, parts, reason)
	}}
}

func (b *Book) putSplit(tx *store.Tx, by Actor, r store.Record, parts []SplitPart, reason string) ([]Changed, error) {
	put := b.putter(tx, by, reason)
	mark := splitMark{V: 1, Of: r.Case.ID, Before: r.Pos}
	var out []Changed
	for i, p := range parts {
		c, verb, was := p.of(r.Case), verbSplit, r.Case
		if i > 0 {
			var err error
			if c.ID, err = newPartID(tx, r.Case.ID); err != nil {
				return nil, err
			}
			verb, was = verbSplitOff, kb.Case{}
		}
		pos, err := put(verb, c)
		if err != nil {
			return nil, err
		}
		if i == 0 {
			mark.After = pos
		} else {
			mark.Parts = append(mark.Parts, mergedOther{ID: c.ID, After: pos})
		}
		out = append(out, Changed{was, c})
	}
	body, err := json.Marshal(mark)
	if err != nil {
		return nil, err
	}
	for _, x := range append([]mergedOther{{ID: r.Case.ID}}, mark.Parts...) {
		if _, err := tx.Append(store.Entry{Kind: store.EntryMark, ID: splitMarkID(x.ID), Verb: verbSplit, Actor: by.Name, Reason: reason, At: b.now(), Body: body}); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// newPartID gives an id that no case has had.
func newPartID(tx *store.Tx, id kb.CaseID) (kb.CaseID, error) {
	for n := 2; ; n++ {
		next := kb.ReadCaseID(kb.WriteupKey("split "+string(id)), "", n)
		_, err := tx.Record(next)
		if kb.KindOf(err) == kb.NotFound {
			return next, nil
		}
		if err != nil {
			return "", err
		}
	}
}

// of gives the part of a case. Doubts about single facts are settled by looking at them so closely; those about the case stay.
func (p SplitPart) of(c kb.Case) kb.Case {
	if p.Title != "" {
		c.Title = p.Title
	}
	c.Codes, c.Symptoms, c.Tests = picked(c.Codes, p.Codes), picked(c.Symptoms, p.Symptoms), picked(c.Tests, p.Tests)
	c.Fixes, c.FollowUps = picked(c.Fixes, p.Fixes), picked(c.FollowUps, p.FollowUps)
	c.Doubts = slices.DeleteFunc(slices.Clone(c.Doubts), func(d kb.Doubt) bool { return strings.Contains(d.About, "[") })
	return c
}

func picked[T any](list []T, at []int) []T {
	var out []T
	for i, x := range list {
		if slices.Contains(at, i) {
			out = append(out, x)
		}
	}
	return out
}

func everyFactGoes(c *kb.Case, parts []SplitPart) error {
	if len(parts) < 2 {
		return &kb.Error{Kind: kb.Invalid, Field: "parts", Msg: "a case is split into two or more"}
	}
	lists := []struct {
		name string
		size int
		of   func(SplitPart) []int
	}{
		{"codes", len(c.Codes), func(p SplitPart) []int { return p.Codes }}, {"symptoms", len(c.Symptoms), func(p SplitPart) []int { return p.Symptoms }},
		{"tests", len(c.Tests), func(p SplitPart) []int { return p.Tests }}, {"fixes", len(c.Fixes), func(p SplitPart) []int { return p.Fixes }},
		{"follow_ups", len(c.FollowUps), func(p SplitPart) []int { return p.FollowUps }},
	}
	for i, p := range parts {
		if len(p.Tests)+len(p.Fixes) == 0 {
			return &kb.Error{Kind: kb.Invalid, Field: fmt.Sprintf("parts[%d]", i), Msg: "a repair has a test or a fix"}
		}
	}
	for _, l := range lists {
		gone := make([]bool, l.size)
		for _, p := range parts {
			for _, at := range l.of(p) {
				if at < 0 || at >= l.size {
					return &kb.Error{Kind: kb.Invalid, Field: fmt.Sprintf("%s[%d]", l.name, at), Msg: fmt.Sprintf("the case has %d of them", l.size)}
				}
				gone[at] = true
			}
		}
		if i := slices.Index(gone, false); i >= 0 {
			return &kb.Error{Kind: kb.Invalid, Field: fmt.Sprintf("%s[%d]", l.name, i), Msg: "goes to no part"}
		}
	}
	return nil
}

// unsplit puts the parts of a split back together, where none of them was edited since. The new cases lead to the old one from then on.
func (b *Book) unsplit(tx *store.Tx, by Actor, r store.Record, reason string) ([]Changed, error) {
	var mark splitMark
	x, err := tx.Latest(store.EntryMark, splitMarkID(r.Case.ID))
	if err == nil {
		err = json.Unmarshal(x.Body, &mark)
	}
	if err != nil || r.Case.State == kb.Withdrawn {
		return nil, kb.Errorf(kb.Conflict, "case %s was not merged into another, nor split", r.Case.ID)
	}
	before, err := contentAt(tx, mark.Of, mark.Before)
	if err != nil {
		return nil, err
	}
	put := b.putter(tx, by, reason)
	var out []Changed
	for _, part := range append([]mergedOther{{ID: mark.Of, After: mark.After}}, mark.Parts...) {
		now, err := unedited(tx, part)
		if err != nil {
			return nil, err
		}
		c, verb := before, verbUnsplit
		if part.ID != mark.Of {
			c, verb = now.Case, verbMerged
			c.State, c.MergedInto = kb.Merged, mark.Of
		}
		if _, err := put(verb, c); err != nil {
			return nil, err
		}
		out = append(out, Changed{now.Case, c})
	}
	return out, nil
}

// unedited gives a part of a split that stands as it was split off.
func unedited(tx *store.Tx, part mergedOther) (store.Record, error) {
	now, err := tx.Record(part.ID)
	if err != nil || now.Pos == part.After {
		return now, err
	}
	history, err := tx.History(part.ID)
	if err != nil {
		return now, err
	}
	was, is := revisionAt(history, part.After), revisionAt(history, now.Pos)
	differs, err := caseDiffers(was.Body, is.Body)
	if err != nil {
		return now, err
	}
	return now, kb.Errorf(kb.Conflict, "case %s was edited since the split: revision %d (%s by %s at %s) changed %v; undo that first", part.ID, is.Pos, is.Verb, is.Actor,
		is.At.Format(time.RFC3339), differs)
}
