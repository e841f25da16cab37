package casebook

import (
	"context"
	"encoding/json"
	"maps"
	"slices"
	"time"

	"ruledout/internal/store"
	"ruledout/kb"
)

// Unmerge takes a merge back for one case that was merged away: it stands again as it stood before, and its part is taken out of the case
// that stood for it. What was edited there since stays where it touches other facts; where it touches what the merge brought, this is a
// Conflict that names the field and the revision. A part of a split is put back the same way: all parts become the case they were.
func (b *Book) Unmerge(ctx context.Context, by Actor, id kb.CaseID, reason string) (kb.Case, error) {
	return b.act(ctx, by, Unmerging(id, reason))
}

// Unmerging is the change that Unmerge makes.
func Unmerging(id kb.CaseID, reason string) Change {
	return Change{"take a merge back", func(b *Book, tx *store.Tx, by Actor) ([]Changed, error) {
		r, err := tx.Record(id)
		if err != nil {
			return nil, err
		}
		if r.Case.State != kb.Merged {
			return b.unsplit(tx, by, r, reason)
		}
		return b.unmerge(tx, by, r, reason)
	}}
}

func (b *Book) unmerge(tx *store.Tx, by Actor, gone store.Record, reason string) ([]Changed, error) {
	id := gone.Case.ID
	mark, err := markOf(tx, id)
	if err != nil || !mark.holds(id, gone.Pos) {
		return nil, kb.Errorf(kb.Conflict, "case %s was merged in another book, or its parts were put back here: this book does not know what it was made of", id)
	}
	into, err := tx.Record(mark.Into)
	if err != nil {
		return nil, err
	}
	history, err := tx.History(mark.Into)
	if err != nil {
		return nil, err
	}
	if into.Case.State == kb.Merged {
		last := revisionAt(history, into.Pos)
		return nil, kb.Errorf(kb.Conflict, "case %s is part of %s, which was itself merged into %s (revision %d, by %s at %s): take that back first", id, mark.Into,
			into.Case.MergedInto, last.Pos, last.Actor, last.At.Format(time.RFC3339))
	}
	before, err := contentAt(tx, id, mark.other(id).Before)
	if err != nil {
		return nil, err
	}
	after, err := replay{b, tx, id}.run(history, mark)
	if err != nil {
		return nil, err
	}
	put := b.putter(tx, by, reason)
	if _, err := put(verbRestored, before); err != nil {
		return nil, err
	}
	if _, err := put(verbUnmerge, after); err != nil {
		return nil, err
	}
	if err := b.dropJoined(tx, by, into, mark.After); err != nil {
		return nil, err
	}
	return []Changed{{gone.Case, before}, {into.Case, after}}, nil
}

// dropJoined takes away a waiting reading that was joined with what is no part of the case any more; it comes again with the next reading.
func (b *Book) dropJoined(tx *store.Tx, by Actor, r store.Record, since int64) error {
	if r.Proposal == nil || r.ProposalPos < since {
		return nil
	}
	_, err := tx.Append(store.Entry{Kind: store.EntryProposal, ID: string(r.Case.ID), Verb: verbUnmerge, Actor: by.Name, At: b.now()})
	return err
}

func (m mergeMark) other(id kb.CaseID) mergedOther {
	for _, o := range m.Others {
		if o.ID == id {
			return o
		}
	}
	return mergedOther{}
}

// holds tells whether this is the merge by which a case stands where it does.
func (m mergeMark) holds(id kb.CaseID, pos int64) bool { return m.other(id).After == pos && pos > 0 }

func contentAt(tx *store.Tx, id kb.CaseID, pos int64) (kb.Case, error) {
	history, err := tx.History(id)
	if err != nil {
		return kb.Case{}, err
	}
	return revisionAt(history, pos).Case()
}

// replay makes a surviving case again without one of those that were merged into it: from its first content, with every merge that still
// stands and every edit.
type replay struct {
	b       *Book
	tx      *store.Tx
	without kb.CaseID
}

func (p replay) run(history []store.Revision, mark mergeMark) (kb.Case, error) {
	history = slices.DeleteFunc(slices.Clone(history), func(r store.Revision) bool { return r.Kind != store.EntryCase })
	content, err := history[0].Case()
	if err != nil {
		return content, err
	}
	for i, r := range history[1:] {
		switch {
		case r.Verb == verbMerge:
			content, err = p.mergedAt(content, r)
		case r.Verb == verbUnmerge: // what it took out is left out from its merge on
		case r.Verb == verbUnsplit, r.Verb == verbSplit && i+2 < len(history) && history[i+2].Verb == verbUnsplit: // nothing came between
		case r.Verb == verbSplit && r.Pos > mark.After:
			err = p.inTheWay("facts", r)
		default:
			content, err = p.edited(content, history[i], r)
		}
		if err != nil {
			return content, err
		}
	}
	return content, nil
}

// mergedAt does the merge of a revision again with those of its cases that are still merged by it.
func (p replay) mergedAt(content kb.Case, r store.Revision) (kb.Case, error) {
	mark, err := p.markAt(r)
	if err != nil {
		return content, err
	}
	var others []kb.Case
	take := maps.Clone(mark.Take)
	for _, o := range mark.Others {
		now, err := p.tx.Record(o.ID)
		if err != nil {
			return content, err
		}
		if o.ID == p.without || now.Pos != o.After {
			maps.DeleteFunc(take, func(_ string, from kb.CaseID) bool { return from == o.ID })
			continue
		}
		c, err := contentAt(p.tx, o.ID, o.Before)
		if err != nil {
			return content, err
		}
		others = append(others, c)
	}
	if len(others) == 0 {
		return content, nil
	}
	return kb.Merge(content, others, kb.MergeOptions{Vocabulary: p.b.Vocabulary(), Take: take})
}

// markAt finds the mark of a merge by the revision of the surviving case.
func (p replay) markAt(r store.Revision) (mergeMark, error) {
	marks, err := p.tx.Marks(r.Pos, mergeMarkID(""))
	if err != nil {
		return mergeMark{}, err
	}
	for _, x := range marks {
		var m mergeMark
		if err := json.Unmarshal(x.Body, &m); err != nil {
			return m, err
		}
		if m.After == r.Pos {
			return m, nil
		}
	}
	return mergeMark{}, kb.Errorf(kb.Internal, "the merge of revision %d left no mark", r.Pos)
}

// edited makes the edit between two revisions again on another content.
func (p replay) edited(content kb.Case, from, to store.Revision) (kb.Case, error) {
	body, err := kb.EncodeCase(content)
	if err != nil {
		return content, err
	}
	list := [3]map[string]json.RawMessage{}
	for i, x := range [][]byte{from.Body, to.Body, body} {
		if list[i], err = fieldsIn(x); err != nil {
			return content, err
		}
	}
	was, now, own := list[0], list[1], list[2]
	for _, name := range fieldNames(was, now) {
		if string(was[name]) == string(now[name]) {
			continue
		}
		x, fits := patched(was[name], now[name], own[name])
		if !fits {
			return content, p.inTheWay(name, to)
		}
		own[name] = x
	}
	return caseIn(own)
}

// inTheWay names the edit because of which a merge cannot be taken back.
func (p replay) inTheWay(field string, r store.Revision) error {
	return &kb.Error{Kind: kb.Conflict, Field: field, Msg: "the edit of revision " + revisionWords(r) + " touches what came from " + string(p.without) +
		"; undo that edit first, or correct both cases by hand"}
}

// patched makes a change of a field on another value of it: that of a list entry by entry, any other only on the same value.
func patched(was, now, own json.RawMessage) (json.RawMessage, bool) {
	if string(own) == string(was) || string(own) == string(now) {
		return now, true
	}
	if !isList(was) || !isList(now) || !isList(own) {
		return nil, false
	}
	var lists [3][]json.RawMessage
	for i, x := range []json.RawMessage{was, now, own} {
		if x != nil && json.Unmarshal(x, &lists[i]) != nil {
			return nil, false
		}
	}
	out := slices.Clone(lists[2])
	for _, x := range lists[0] {
		if holds(lists[1], x) {
			continue
		}
		i := slices.IndexFunc(out, func(y json.RawMessage) bool { return string(x) == string(y) })
		if i < 0 {
			return nil, false
		}
		out = slices.Delete(out, i, i+1)
	}
	for _, x := range lists[1] {
		if !holds(lists[0], x) && !holds(out, x) {
			out = append(out, x)
		}
	}
	if len(out) == 0 {
		return nil, true
	}
	body, err := json.Marshal(out)
	return body, err == nil
}
