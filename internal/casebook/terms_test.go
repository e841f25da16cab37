package casebook_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

const odd = `{"v":1,"id":"o1","machine":{"kind":"van","make":"Halden","model":"Brisk 3"},"codes":["P1B77"],"symptoms":["sulking"],"fixes":[{"step":1,"action":"replace","component":"clicky box","outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"verified"}
{"v":1,"id":"o2","machine":{"kind":"van","make":"Halden","model":"Brisk 3"},"codes":["P1B77"],"fixes":[{"step":1,"action":"replace","component":"clicky box","outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"verified"}
{"v":1,"id":"o3","machine":{"kind":"van","make":"Halden","model":"Brisk 3"},"codes":["P1B77"],"fixes":[{"step":1,"action":"replace","component":"heater relay","outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"verified"}
`

func culprits(t *testing.T, b *casebook.Book) map[string]int {
	t.Helper()
	a, err := b.Ask(t.Context(), kb.Case{V: kb.Version, Status: kb.Open, Machine: kb.Machine{Make: "Halden", Model: "Brisk 3"}, Codes: []kb.CodeEntry{{Code: "P1B77"}}})
	require.NoError(t, err)
	out := map[string]int{}
	for _, f := range a.Fixes {
		out[f.Component] = f.CaseCount
	}
	return out
}

// A term that nobody knows is listed with its cases; made another name of a known one it counts with that one in every case, in every process,
// and undone it is as before.
func TestATermBecomesASynonym(t *testing.T) {
	dir := t.TempDir()
	b := open(t, dir)
	_, err := b.Import(t.Context(), fern, strings.NewReader(odd), casebook.ImportOptions{})
	require.NoError(t, err)
	before := culprits(t, b)
	assert.Equal(t, 2, before["clicky box"])
	terms, err := b.NewTerms(t.Context(), fern, 0)
	require.NoError(t, err)
	require.Len(t, terms, 2)
	assert.Equal(t, "clicky box", terms[0].Term)
	assert.Equal(t, 2, terms[0].Cases)
	assert.Equal(t, []kb.CaseID{"o1", "o2"}, terms[0].Examples)
	assert.Equal(t, kb.TermSymptom, terms[1].Kind)
	_, err = b.NewTerms(t.Context(), quill, 0)
	assert.Equal(t, kb.Forbidden, kb.KindOf(err))

	other, err := casebook.Open(t.Context(), casebook.Options{Dir: dir, ReadOnly: true})
	require.NoError(t, err)
	defer other.Close()
	assert.Equal(t, before, culprits(t, other))
	synonym := kb.TermDecision{Kind: kb.TermComponent, Term: "clicky box", Choice: kb.TermSynonym, Of: "heater relay"}
	assert.Equal(t, kb.Forbidden, kb.KindOf(b.DecideTerm(t.Context(), quill, synonym, "")))
	require.NoError(t, b.DecideTerm(t.Context(), fern, synonym, "the same part"))
	for _, book := range []*casebook.Book{b, other, open(t, dir)} {
		after := culprits(t, book)
		assert.Equal(t, 3, after["heater relay"])
		assert.NotContains(t, after, "clicky box")
	}
	found, err := b.Find(t.Context(), `component:"heater relay"`, casebook.FindOptions{})
	require.NoError(t, err)
	assert.Equal(t, 3, found.Total, "the index follows")
	c, err := b.Show(t.Context(), "o1")
	require.NoError(t, err)
	assert.Equal(t, "clicky box", c.Case.Fixes[0].Component, "a case keeps its words")
	terms, err = b.NewTerms(t.Context(), fern, 0)
	require.NoError(t, err)
	assert.Len(t, terms, 1)
	whole(t, b)

	list, err := b.TermDecisions(t.Context())
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.Equal(t, "fern", list[0].By)
	require.NoError(t, b.UndoTerm(t.Context(), fern, kb.TermComponent, "clicky box", ""))
	assert.Equal(t, before, culprits(t, b))
	assert.Equal(t, before, culprits(t, other))
	found, err = b.Find(t.Context(), `component:"heater relay"`, casebook.FindOptions{})
	require.NoError(t, err)
	assert.Equal(t, 1, found.Total)
	assert.Equal(t, kb.NotFound, kb.KindOf(b.UndoTerm(t.Context(), fern, kb.TermComponent, "clicky box", "")))
	whole(t, b)
}

// A decision can be made anew, a term can be ignored, and what does not fit is refused and changes nothing.
func TestDecidingAgain(t *testing.T) {
	b := open(t, t.TempDir())
	_, err := b.Import(t.Context(), fern, strings.NewReader(odd), casebook.ImportOptions{})
	require.NoError(t, err)
	box := kb.TermDecision{Kind: kb.TermComponent, Term: "clicky box", Choice: kb.TermNew, System: "cabin"}
	require.NoError(t, b.DecideTerm(t.Context(), fern, box, ""))
	_, known := b.Vocabulary().Component("clicky box")
	assert.True(t, known)
	box.Choice, box.Of = kb.TermSynonym, "heater relay"
	require.NoError(t, b.DecideTerm(t.Context(), fern, box, "on second thoughts"))
	assert.Equal(t, 3, culprits(t, b)["heater relay"])
	require.NoError(t, b.DecideTerm(t.Context(), fern, kb.TermDecision{Kind: kb.TermSymptom, Term: "sulking", Choice: kb.TermIgnore}, ""))
	terms, err := b.NewTerms(t.Context(), fern, 0)
	require.NoError(t, err)
	assert.Empty(t, terms)
	for _, bad := range []kb.TermDecision{{Kind: kb.TermComponent, Term: "frost grommet", Choice: kb.TermSynonym, Of: "nothing of the kind"}, {Kind: kb.TermComponent, Term: "lift pump", Choice: kb.TermNew, System: "fuel"},
		{Kind: "colour", Term: "x", Choice: kb.TermNew}} {
		assert.Equal(t, kb.Invalid, kb.KindOf(b.DecideTerm(t.Context(), fern, bad, "")), "%+v", bad)
	}
	list, err := b.TermDecisions(t.Context())
	require.NoError(t, err)
	assert.Len(t, list, 2)
	whole(t, b)
}
