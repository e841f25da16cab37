// Package testkit holds what tests of several packages share: checks that any implementation must pass, and builders of
// records. Only tests import it.
package testkit

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/store"
	"ruledout/kb"
)

// Fresh makes new, empty data and gives a function that opens a store on it, as often as it is called. Stores are closed
// when the test ends.
type Fresh func(t *testing.T) (open func() *store.Store)

// StoreSuite checks what every store must do, whatever database it stands on.
func StoreSuite(t *testing.T, fresh Fresh) {
	tests := map[string]func(*testing.T, Fresh){
		"followers see every position once": followersSeeAll,
		"a failed change leaves nothing":    failedChangeLeavesNothing,
		"history":                           history,
		"who did what":                      deeds,
		"the same content is no change":     sameContent,
		"proposals":                         proposals,
		"redirects":                         redirects,
		"filters":                           filters,
		"reading meanwhile":                 readingMeanwhile,
		"write-ups":                         writeups,
		"refused entries":                   refusedEntries,
		"marks and parameters":              marksAndParams,
		"a change inside a change":          nestedChange,
		"an ended context":                  endedContext,
		"any sequence of changes":           anySequence,
		"accounts":                          accountsKept,
		"links are used once":               linksAreUsedOnce,
		"sessions expire":                   sessionsExpire,
		"job sheets":                        sheetsKept,
		"members of job sheets":             sheetMembers,
		"notes and photos":                  sheetNotesAndPhotos,
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) { test(t, fresh) })
	}
}

// followersSeeAll lets two stores on the same data write in turn, some changes failing, while a third reads the log.
func followersSeeAll(t *testing.T, fresh Fresh) {
	open := fresh(t)
	const changes = 40
	var writers sync.WaitGroup
	for w := range 2 {
		s := open()
		writers.Go(func() {
			for n := range changes {
				err := s.Update(t.Context(), func(tx *store.Tx) error { return someEntries(tx, w, n) })
				if n%5 != 4 {
					assert.NoError(t, err)
				}
			}
		})
	}
	done := make(chan struct{})
	go func() { writers.Wait(); close(done) }()

	follower := open()
	var seen []int64
	for ended := false; ; {
		select {
		case <-done:
			ended = true
		default:
		}
		batch, err := follower.Revisions(t.Context(), int64(len(seen)), 7)
		require.NoError(t, err)
		for _, r := range batch {
			seen = append(seen, r.Pos)
			require.Equal(t, int64(len(seen)), r.Pos, "gapless, in order, none twice")
		}
		if ended && len(batch) == 0 {
			break
		}
	}
	kept := 2 * (changes - changes/5) // every fifth change fails
	assert.GreaterOrEqual(t, len(seen), kept)
	assert.Equal(t, position(t, follower), int64(len(seen)))
	Sound(t, follower)
}

var errChangedMind = errors.New("changed my mind")

// someEntries appends one to three entries, and fails after that in every fifth change.
func someEntries(tx *store.Tx, writer, n int) error {
	for i := range n%3 + 1 {
		if _, err := tx.Append(Entry(Case(kb.CaseID(fmt.Sprintf("c%d-%d-%d", writer, n, i))), "add")); err != nil {
			return err
		}
	}
	if n%5 == 4 {
		return errChangedMind
	}
	return nil
}

func failedChangeLeavesNothing(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	Append(t, s, Entry(Case("c1"), "add"))
	add := func(tx *store.Tx) {
		_, err := tx.Append(Entry(Case("c2"), "add"))
		require.NoError(t, err)
		_, _, err = tx.PutWriteup(Thread("w1", "text"), When(0), "mira")
		require.NoError(t, err)
		_, err = tx.Case("c2")
		require.NoError(t, err, "visible inside the change")
		all, err := tx.History("c2")
		require.NoError(t, err)
		assert.Len(t, all, 1)
		_, err = tx.Writeup("w1")
		require.NoError(t, err)
		assert.Equal(t, int64(3), tx.Position())
	}
	err := s.Update(t.Context(), func(tx *store.Tx) error { add(tx); return errChangedMind })
	assert.ErrorIs(t, err, errChangedMind)
	assert.Panics(t, func() {
		_ = s.Update(t.Context(), func(tx *store.Tx) error { add(tx); panic("fault") })
	})

	assert.Equal(t, int64(1), position(t, s))
	_, err = s.Case(t.Context(), "c2")
	assert.Equal(t, kb.NotFound, kb.KindOf(err))
	_, err = s.Writeup(t.Context(), "w1")
	assert.Equal(t, kb.NotFound, kb.KindOf(err))
	assert.Equal(t, int64(2), Append(t, s, Entry(Case("c3"), "add")), "the position is given again")
	Sound(t, s)
}

func history(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	c := Case("c1")
	c.State = kb.Draft
	e := Entry(c, "add")
	e.Reason = "read from a write-up"
	Append(t, s, e)
	Append(t, s, Entry(Case("c2"), "add"))
	e = Entry(Case("c1"), "accept")
	e.At, e.Actor = When(9), "tove"
	Append(t, s, e)

	all, err := s.History(t.Context(), "c1")
	require.NoError(t, err)
	require.Len(t, all, 2)
	assert.Equal(t, []int64{1, 3}, []int64{all[0].Pos, all[1].Pos})
	assert.Equal(t, "add", all[0].Verb)
	assert.Equal(t, "read from a write-up", all[0].Reason)
	assert.Equal(t, "tove", all[1].Actor)
	assert.Equal(t, When(9), all[1].At)
	first, err := all[0].Case()
	require.NoError(t, err)
	assert.Equal(t, c, first)

	r, err := s.Case(t.Context(), "c1")
	require.NoError(t, err)
	assert.Equal(t, store.Record{Case: Case("c1"), Pos: 3, Created: When(0), Changed: When(9)}, r)
	n, err := s.Count(t.Context())
	require.NoError(t, err)
	assert.Equal(t, store.Counts{Cases: map[kb.State]int{kb.Published: 2}, Closed: 2, Revisions: 3}, n)
	_, err = s.History(t.Context(), "c9")
	assert.Equal(t, kb.NotFound, kb.KindOf(err))
	Sound(t, s)
}

// deeds asks who did what, without contents.
func deeds(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	for i, d := range []store.CaseDeed{{ID: "c1", Verb: "add", Actor: "tove"}, {ID: "c2", Verb: "add", Actor: "tove"}, {ID: "c1", Verb: "correct", Actor: "odd"}, {ID: "c1", Verb: "accept", Actor: "tove"}} {
		e := Entry(Case(d.ID), d.Verb)
		e.Actor, e.At = d.Actor, When(i)
		Append(t, s, e)
	}
	ids, err := s.TouchedBy(t.Context(), "tove")
	require.NoError(t, err)
	assert.Equal(t, []kb.CaseID{"c1", "c2"}, ids, "the last touched first")
	ids, err = s.TouchedBy(t.Context(), "nobody")
	require.NoError(t, err)
	assert.Empty(t, ids)
	list, err := s.Deeds(t.Context(), "correct", "add")
	require.NoError(t, err)
	assert.Equal(t, []store.CaseDeed{{ID: "c1", Verb: "correct", Actor: "odd"}, {ID: "c1", Verb: "add", Actor: "tove"}, {ID: "c2", Verb: "add", Actor: "tove"}}, list)
}

func sameContent(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	put := func(c kb.Case) (changed bool, pos int64) {
		require.NoError(t, s.Update(t.Context(), func(tx *store.Tx) (err error) {
			changed, pos, err = tx.Put(Entry(c, "import"))
			return err
		}))
		return changed, pos
	}
	c := Case("c1")
	for _, step := range []struct {
		title   string
		changed bool
		pos     int64
	}{{"a", true, 1}, {"a", false, 1}, {"b", true, 2}, {"b", false, 2}, {"a", true, 3}} {
		c.Title = step.title
		changed, pos := put(c)
		assert.Equal(t, step.changed, changed)
		assert.Equal(t, step.pos, pos)
	}
	assert.Equal(t, int64(3), position(t, s))
}

func proposals(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	Append(t, s, Entry(Case("c1"), "add"))
	proposed := Case("c1")
	proposed.Title = "Heater relay sticks"
	propose := Entry(proposed, "propose")
	propose.Kind = store.EntryProposal
	Append(t, s, propose)

	r, err := s.Case(t.Context(), "c1")
	require.NoError(t, err)
	assert.Equal(t, "Heater blows cold", r.Case.Title)
	assert.Equal(t, int64(1), r.Pos)
	assert.Equal(t, int64(2), r.ProposalPos)
	require.NotNil(t, r.Proposal)
	assert.Equal(t, proposed, *r.Proposal)
	assert.Equal(t, []kb.CaseID{"c1"}, ids(t, s, store.Filter{Proposals: true}))
	Sound(t, s)

	Append(t, s, store.Entry{Kind: store.EntryProposal, ID: "c1", Verb: "refuse", Actor: "tove", At: When(1)})
	r, err = s.Case(t.Context(), "c1")
	require.NoError(t, err)
	assert.Nil(t, r.Proposal)
	assert.Zero(t, r.ProposalPos)
	assert.Empty(t, ids(t, s, store.Filter{Proposals: true}))
	Sound(t, s)
}

func redirects(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	for _, id := range []kb.CaseID{"c1", "c2", "c3"} {
		Append(t, s, Entry(Case(id), "add"))
	}
	Append(t, s, merge("c1", "c2"))
	Append(t, s, merge("c2", "c3"))
	found := func(id kb.CaseID) kb.CaseID {
		r, err := s.Case(t.Context(), id)
		require.NoError(t, err)
		return r.Case.ID
	}
	assert.Equal(t, kb.CaseID("c3"), found("c1"))
	r, err := s.Record(t.Context(), "c1")
	require.NoError(t, err)
	assert.Equal(t, kb.Merged, r.Case.State)
	old, err := s.Redirects(t.Context(), "c3")
	require.NoError(t, err)
	assert.Equal(t, []kb.CaseID{"c2"}, old)

	for _, circle := range []store.Entry{merge("c3", "c1"), merge("c3", "c3")} {
		err = s.Update(t.Context(), func(tx *store.Tx) error { _, err := tx.Append(circle); return err })
		assert.Equal(t, kb.Conflict, kb.KindOf(err), "%v", err)
	}
	Sound(t, s)

	Append(t, s, Entry(Case("c2"), "undo merge"))
	assert.Equal(t, kb.CaseID("c2"), found("c1"))
	assert.Equal(t, kb.CaseID("c2"), found("c2"))
	Sound(t, s)
}

// readingMeanwhile changes cases while they are read: what is read is of one moment.
func readingMeanwhile(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	require.NoError(t, s.Update(t.Context(), func(tx *store.Tx) error {
		for n := range 300 {
			if _, err := tx.Append(Entry(Case(kb.CaseID(fmt.Sprintf("c%03d", n))), "add")); err != nil {
				return err
			}
		}
		return nil
	}))
	count := 0
	for r, err := range s.Cases(t.Context(), store.Filter{}) {
		require.NoError(t, err)
		assert.Equal(t, "Heater blows cold", r.Case.Title)
		if count++; count == 1 {
			last := Case("c299")
			last.Title = "changed"
			Append(t, s, Entry(last, "correct"))
			Append(t, s, Entry(Case("c999"), "add"))
		}
	}
	assert.Equal(t, 300, count)
	assert.Len(t, ids(t, s, store.Filter{}), 301)
}

func marksAndParams(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	note := func(kind store.EntryKind, id, body string) {
		Append(t, s, store.Entry{Kind: kind, ID: id, Verb: "set", Actor: "mira", At: When(0), Body: []byte(body)})
	}
	note(store.EntryParams, "", `{"k":1}`)
	note(store.EntryMark, "c1 c2", `{"duplicate":false}`)
	note(store.EntryParams, "", `{"k":2}`)
	r, err := s.Latest(t.Context(), store.EntryParams, "")
	require.NoError(t, err)
	assert.JSONEq(t, `{"k":2}`, string(r.Body))
	var bodies []string
	for r, err := range s.Entries(t.Context(), store.EntryParams) {
		require.NoError(t, err)
		bodies = append(bodies, string(r.Body))
	}
	assert.Equal(t, []string{`{"k":1}`, `{"k":2}`}, bodies)
	_, err = s.Latest(t.Context(), store.EntryMark, "c1")
	assert.Equal(t, kb.NotFound, kb.KindOf(err))
	Sound(t, s)
}

// nestedChange must end with an error: the inner change waits for the outer one.
func nestedChange(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	err := s.Update(t.Context(), func(*store.Tx) error {
		return s.Update(t.Context(), func(*store.Tx) error { return nil })
	})
	assert.Equal(t, kb.Unavailable, kb.KindOf(err), "%v", err)
	Append(t, s, Entry(Case("c1"), "add"))
}

func endedContext(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	ctx, cancel := context.WithCancel(t.Context())
	err := s.Update(ctx, func(tx *store.Tx) error {
		_, err := tx.Append(Entry(Case("c1"), "add"))
		require.NoError(t, err)
		cancel()
		_, err = tx.Append(Entry(Case("c2"), "add"))
		return err
	})
	require.ErrorIs(t, err, context.Canceled)
	_, err = s.Position(ctx)
	require.ErrorIs(t, err, context.Canceled)
	assert.Zero(t, position(t, s))
	Append(t, s, Entry(Case("c1"), "add"))
}
