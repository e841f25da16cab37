package testkit

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/store"
	"ruledout/kb"
)

// When gives a fixed moment, n seconds after a start.
func When(n int) time.Time {
	return time.Date(2024, 3, 1, 8, 0, 0, 250_000_000, time.UTC).Add(time.Duration(n) * time.Second)
}

// Case gives a small valid case, published and closed.
func Case(id kb.CaseID) kb.Case {
	return kb.Case{
		V: kb.Version, ID: id, Title: "Heater blows cold", State: kb.Published,
		Machine: kb.Machine{Kind: "van", Make: "Halden", Model: "Brisk 3", Year: 2019},
		Codes:   []kb.CodeEntry{{Code: "P1B77-13"}, {Code: "P0420"}},
		Fixes:   []kb.Fix{{Action: kb.Replace, Component: "heater relay", Outcome: kb.Fixed}},
		Status:  kb.Closed, ClosedAs: kb.Repaired, Confirmation: kb.Reported,
	}
}

// Entry gives an entry for a case.
func Entry(c kb.Case, verb string) store.Entry {
	return store.Entry{Kind: store.EntryCase, Verb: verb, Actor: "mira", At: When(0), Case: &c}
}

// Append makes one change of one entry.
func Append(t *testing.T, s *store.Store, e store.Entry) int64 {
	t.Helper()
	var pos int64
	require.NoError(t, s.Update(t.Context(), func(tx *store.Tx) (err error) {
		pos, err = tx.Append(e)
		return err
	}))
	return pos
}

// Sound checks that Verify finds nothing.
func Sound(t *testing.T, s *store.Store) {
	t.Helper()
	problems, err := s.Verify(context.Background())
	require.NoError(t, err)
	assert.Empty(t, problems)
}

func position(t *testing.T, s *store.Store) int64 {
	t.Helper()
	pos, err := s.Position(t.Context())
	require.NoError(t, err)
	return pos
}

func ids(t *testing.T, s *store.Store, f store.Filter) []kb.CaseID {
	t.Helper()
	var all []kb.CaseID
	for r, err := range s.Cases(t.Context(), f) {
		require.NoError(t, err)
		all = append(all, r.Case.ID)
	}
	return all
}

func merge(id, into kb.CaseID) store.Entry {
	c := Case(id)
	c.State = kb.Merged
	e := Entry(c, "merge")
	e.Target = into
	return e
}

// Thread gives a write-up with a post for every text.
func Thread(key kb.WriteupKey, texts ...string) store.Writeup {
	w := store.Writeup{Key: key, Kind: "thread", Title: "Heater", Site: "Valley repair list", File: "a.md", Posted: When(0)}
	for i, text := range texts {
		w.Posts = append(w.Posts, store.Post{N: i + 1, Author: "quillfeather", Time: When(i), Text: text})
	}
	return w
}
