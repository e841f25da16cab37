package testkit

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/internal/store"
	"ruledout/kb"
)

// anySequence makes random changes to a store and to a plain map beside it: after each, both must hold the same.
func anySequence(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	model := map[kb.CaseID]store.Record{}
	step := 0
	rapid.Check(t, func(rt *rapid.T) {
		step++
		id := rapid.SampledFrom([]kb.CaseID{"c1", "c2", "c3", "c4"}).Draw(rt, "id")
		e := randomEntry(rt, id)
		e.At = When(step)
		before := position(t, s)
		err := s.Update(t.Context(), func(tx *store.Tx) error { _, err := tx.Append(e); return err })
		if want := refusal(model, e); want != "" {
			require.Equal(rt, want, kb.KindOf(err))
			require.Equal(rt, before, position(t, s))
			return
		}
		require.NoError(rt, err)
		model[id] = after(model[id], e, before+1)
		for id, want := range model {
			got, err := s.Record(t.Context(), id)
			require.NoError(rt, err)
			require.Equal(rt, want, got)
		}
	})
	Sound(t, s)
}

func randomEntry(rt *rapid.T, id kb.CaseID) store.Entry {
	c := Case(id)
	c.Title = rapid.SampledFrom([]string{"a", "b"}).Draw(rt, "title")
	c.State = rapid.SampledFrom([]kb.State{kb.Draft, kb.Published, kb.Withdrawn}).Draw(rt, "state")
	e := Entry(c, "change")
	e.Kind = rapid.SampledFrom([]store.EntryKind{store.EntryCase, store.EntryCase, store.EntryProposal}).Draw(rt, "kind")
	if e.Kind == store.EntryProposal && rapid.Bool().Draw(rt, "settle") {
		e.ID, e.Case = string(id), nil
	}
	return e
}

func refusal(model map[kb.CaseID]store.Record, e store.Entry) kb.Kind {
	id := kb.CaseID(e.ID)
	if e.Case != nil {
		id = e.Case.ID
	}
	if _, known := model[id]; e.Kind == store.EntryProposal && !known {
		return kb.NotFound
	}
	return ""
}

func after(r store.Record, e store.Entry, pos int64) store.Record {
	switch {
	case e.Kind == store.EntryProposal && e.Case == nil:
		r.Proposal, r.ProposalPos = nil, 0
	case e.Kind == store.EntryProposal:
		r.Proposal, r.ProposalPos = e.Case, pos
	default:
		if r.Pos == 0 {
			r.Created = e.At
		}
		r.Case, r.Pos, r.Changed = *e.Case, pos, e.At
	}
	return r
}
