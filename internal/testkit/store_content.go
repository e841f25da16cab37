package testkit

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/store"
	"ruledout/kb"
	"ruledout/kb/code"
)

func filters(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	draft, open, other := Case("c2"), Case("c3"), Case("c4")
	draft.State = kb.Draft
	open.Status, open.ClosedAs, open.Fixes = kb.Open, "", nil
	other.Machine = kb.Machine{Kind: "Truck", Make: "Ostrand", Model: "T 40"}
	other.Codes = []kb.CodeEntry{{Code: "SPN 3226 FMI 4"}, {Code: "P1B77"}}
	other.Sources = []kb.Source{{Writeup: "w1"}}
	open.StatusEvidence = []kb.Evidence{{Writeup: "w2", Post: 1}}
	for _, c := range []kb.Case{other, Case("c1"), open, draft} {
		Append(t, s, Entry(c, "add"))
	}
	halden := code.Key{Scheme: code.OBD, Issuer: "halden", Code: "P1B77"}
	spn := code.Key{Scheme: code.J1939, Issuer: code.IssuerStandard, Code: "3226/4"}
	for name, test := range map[string]struct {
		filter store.Filter
		want   []kb.CaseID
	}{
		"all, in order of id":     {store.Filter{}, []kb.CaseID{"c1", "c2", "c3", "c4"}},
		"state":                   {store.Filter{States: []kb.State{kb.Published}}, []kb.CaseID{"c1", "c3", "c4"}},
		"two states":              {store.Filter{States: []kb.State{kb.Published, kb.Draft}}, []kb.CaseID{"c1", "c2", "c3", "c4"}},
		"status":                  {store.Filter{Status: kb.Open}, []kb.CaseID{"c3"}},
		"code with its issuer":    {store.Filter{Keys: []code.Key{halden}}, []kb.CaseID{"c1", "c2", "c3"}},
		"either code":             {store.Filter{Keys: []code.Key{halden, spn}, After: "c2"}, []kb.CaseID{"c3", "c4"}},
		"make, folded":            {store.Filter{Make: "HALDEN", Limit: 2}, []kb.CaseID{"c1", "c2"}},
		"kind and model":          {store.Filter{Kind: "truck", Model: "t 40"}, []kb.CaseID{"c4"}},
		"write-up of a source":    {store.Filter{Writeup: "w1"}, []kb.CaseID{"c4"}},
		"write-up of evidence":    {store.Filter{Writeup: "w2"}, []kb.CaseID{"c3"}},
		"changed since":           {store.Filter{ChangedPos: 2}, []kb.CaseID{"c2", "c3"}},
		"nothing has both":        {store.Filter{Make: "Ostrand", Status: kb.Open}, nil},
		"no quote breaks a query": {store.Filter{Make: `' OR 1=1 --`}, nil},
	} {
		t.Run(name, func(t *testing.T) { assert.Equal(t, test.want, ids(t, s, test.filter)) })
	}
	other.Codes = nil
	Append(t, s, Entry(other, "correct"))
	assert.Empty(t, ids(t, s, store.Filter{Keys: []code.Key{spn}}), "old codes find nothing")
	Sound(t, s)
}

func writeups(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	put := func(w store.Writeup, changes bool) (pos int64) {
		t.Helper()
		var changed bool
		require.NoError(t, s.Update(t.Context(), func(tx *store.Tx) (err error) {
			changed, pos, err = tx.PutWriteup(w, When(0), "mira")
			return err
		}))
		assert.Equal(t, changes, changed)
		return pos
	}
	texts := func() (all []string) {
		w, err := s.Writeup(t.Context(), "w1")
		require.NoError(t, err)
		for _, p := range w.Posts {
			all = append(all, p.Text)
		}
		return all
	}
	w := Thread("w1", "the relay clicks", "it was the fuse")
	w.Posts[0].Regions = []byte(`[{"Start":0,"End":3}]`)
	w.Posts[1].Time = time.Time{}
	assert.Equal(t, int64(1), put(w, true))
	got, err := s.Writeup(t.Context(), "w1")
	require.NoError(t, err)
	want := w
	want.Posts = slices.Clone(w.Posts)
	want.Pos, want.Posts[0].Pos, want.Posts[1].Pos = 1, 1, 1
	assert.Equal(t, want, got)

	w.File = "b.md"
	assert.Equal(t, int64(1), put(w, false), "the same from another file")
	w.Posts = slices.Clone(w.Posts)
	w.Posts[1].Text = "it was the relay"
	assert.Equal(t, int64(2), put(w, true))
	assert.Equal(t, []string{"the relay clicks", "it was the relay"}, texts())
	w.Posts = w.Posts[:1]
	assert.Equal(t, int64(3), put(w, true))
	assert.Equal(t, []string{"the relay clicks"}, texts())

	for pos, text := range map[int64]string{1: "it was the fuse", 2: "it was the relay", 3: "it was the relay"} {
		p, err := s.PostAt(t.Context(), "w1", 2, pos)
		require.NoError(t, err)
		assert.Equal(t, text, p.Text)
	}
	n, err := s.Count(t.Context())
	require.NoError(t, err)
	assert.Equal(t, 3, n.Posts, "a post that did not change is not written again")

	p, err := s.EvidencePost(t.Context(), kb.Evidence{Writeup: "w1", Post: 2, Start: 11, End: 15, Quote: "fuse"})
	require.NoError(t, err, "old words stay")
	assert.Equal(t, int64(1), p.Pos)
	for _, ev := range []kb.Evidence{{Writeup: "w1", Post: 2, Start: 11, End: 15, Quote: "pump"}, {Writeup: "w1", Post: 2, Start: 11, End: 99, Quote: "fuse"},
		{Writeup: "w1", Post: 2, Start: -1, End: 3, Quote: "fuse"}, {Writeup: "w1", Post: 5, Quote: "fuse"}, {Writeup: "w7", Post: 1}} {
		_, err = s.EvidencePost(t.Context(), ev)
		assert.Equal(t, kb.NotFound, kb.KindOf(err))
	}
	w.Posts = slices.Clone(w.Posts)
	w.Posts[0].Page = 2
	put(w, true)
	got, err = s.Writeup(t.Context(), "w1")
	require.NoError(t, err)
	assert.Equal(t, 2, got.Posts[0].Page)
	assert.Equal(t, int64(1), got.Posts[0].Pos, "its words are the same")
	require.NoError(t, s.Update(t.Context(), func(tx *store.Tx) error {
		keys, err := tx.Titled(w.Title, 5)
		assert.Equal(t, []kb.WriteupKey{"w1"}, keys)
		return err
	}))
	put(Thread("w0"), true)
	var keys []kb.WriteupKey
	for w, err := range s.Writeups(t.Context()) {
		require.NoError(t, err)
		keys = append(keys, w.Key)
	}
	assert.Equal(t, []kb.WriteupKey{"w0", "w1"}, keys)
	Sound(t, s)
}

func refusedEntries(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	change := func(edit func(*store.Entry)) store.Entry {
		e := Entry(Case("c1"), "add")
		edit(&e)
		return e
	}
	tests := map[string]struct {
		entry store.Entry
		want  kb.Kind
	}{
		"no actor":          {change(func(e *store.Entry) { e.Actor = "" }), kb.Internal},
		"no verb":           {change(func(e *store.Entry) { e.Verb = "" }), kb.Internal},
		"no time":           {change(func(e *store.Entry) { e.At = time.Time{} }), kb.Internal},
		"no case":           {change(func(e *store.Entry) { e.Case = nil }), kb.Internal},
		"no id":             {change(func(e *store.Entry) { e.Case.ID = "" }), kb.Internal},
		"another id":        {change(func(e *store.Entry) { e.ID = "c2" }), kb.Internal},
		"no state":          {change(func(e *store.Entry) { e.Case.State = "" }), kb.Invalid},
		"merged, not into":  {change(func(e *store.Entry) { e.Case.State = kb.Merged }), kb.Invalid},
		"merged into none":  {merge("c1", "c9"), kb.NotFound},
		"a target":          {change(func(e *store.Entry) { e.Target = "c2" }), kb.Internal},
		"proposal for none": {change(func(e *store.Entry) { e.Kind = store.EntryProposal }), kb.NotFound},
		"body no JSON":      {store.Entry{Kind: store.EntryMark, Verb: "mark", Actor: "mira", At: When(0), Body: []byte("{")}, kb.Internal},
		"write-up":          {change(func(e *store.Entry) { e.Kind = store.EntryWriteup }), kb.Internal},
	}
	require.NoError(t, s.Update(t.Context(), func(tx *store.Tx) error {
		for name, test := range tests {
			_, err := tx.Append(test.entry)
			assert.Equal(t, test.want, kb.KindOf(err), name)
			_, _, err = tx.Put(test.entry)
			assert.Equal(t, test.want, kb.KindOf(err), name)
		}
		_, err := tx.Append(Entry(Case("c1"), "add"))
		return err
	}), "a refused entry spoils nothing")
	assert.Equal(t, int64(1), position(t, s))
	Sound(t, s)
}
