package kb_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb"
)

// Decisions add names and terms, change the version, and leave the vocabulary that they were added to as it was.
func TestDecisionsOnTerms(t *testing.T) {
	v, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	decisions := []kb.TermDecision{
		{Kind: kb.TermComponent, Term: "clicky box", Choice: kb.TermSynonym, Of: "heater relay"},
		{Kind: kb.TermComponent, Term: "frost grommet", Choice: kb.TermNew, System: "cabin"},
		{Kind: kb.TermSymptom, Term: "sulking", Choice: kb.TermNew},
		{Kind: kb.TermMethod, Term: "ohming out", Choice: kb.TermSynonym, Of: "continuity test"},
		{Kind: kb.TermComponent, Term: "thing", Choice: kb.TermIgnore},
	}
	w, problems := v.With(decisions)
	require.Empty(t, problems)
	c, ok := w.Component("clicky boxes")
	require.True(t, ok)
	assert.Equal(t, "heater relay", c.Name)
	assert.Contains(t, c.Synonyms, "clicky box")
	c, ok = w.Component("frost grommet")
	require.True(t, ok)
	assert.Equal(t, "cabin", c.System)
	s, ok := w.Symptom("sulking")
	require.True(t, ok)
	assert.Equal(t, "sulking", s.Name)
	assert.Equal(t, "continuity test", w.CanonicalMethod("ohming out"))
	_, ok = w.Component("thing")
	assert.False(t, ok)
	assert.NotEqual(t, v.Version(), w.Version())
	again, _ := v.With(decisions)
	assert.Equal(t, w.Version(), again.Version())
	_, ok = v.Component("clicky box")
	assert.False(t, ok, "the one before is as it was")
	plain, problems := w.With(nil)
	require.Empty(t, problems)
	assert.Equal(t, v.Version(), plain.Version(), "undone")
}

// A decision that does not fit is told, and the rest holds.
func TestDecisionsThatDoNotFit(t *testing.T) {
	v, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	for _, d := range []kb.TermDecision{
		{Kind: kb.TermComponent, Term: "heater relay", Choice: kb.TermNew, System: "cabin"},
		{Kind: kb.TermComponent, Term: "heater relay", Choice: kb.TermSynonym, Of: "lift pump"},
		{Kind: kb.TermComponent, Term: "clicky box", Choice: kb.TermSynonym, Of: "no such thing"},
		{Kind: kb.TermComponent, Term: "clicky box", Choice: kb.TermNew},
		{Kind: kb.TermComponent, Term: "Clicky  Box", Choice: kb.TermNew, System: "cabin"},
		{Kind: kb.TermComponent, Term: "clicky box", Choice: "burn", Of: "heater relay"},
		{Kind: kb.TermMethod, Term: "ohming out", Choice: kb.TermNew},
		{Kind: kb.TermAction, Term: "zap", Choice: kb.TermSynonym, Of: "replace"},
		{Kind: kb.TermComponent, Term: "--", Choice: kb.TermNew, System: "cabin"},
	} {
		w, problems := v.With([]kb.TermDecision{d, {Kind: kb.TermSymptom, Term: "sulking", Choice: kb.TermNew}})
		require.Len(t, problems, 1, "%+v", d)
		assert.Equal(t, kb.Invalid, kb.KindOf(problems[0]))
		_, ok := w.Symptom("sulking")
		assert.True(t, ok)
	}
}

// Whatever is decided, a vocabulary comes of it that still finds what it found before.
func TestDecisionsKeepWhatIsKnown(t *testing.T) {
	v, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	names := []string{}
	for _, c := range v.Components() {
		names = append(names, c.Name)
	}
	rapid.Check(t, func(t *rapid.T) {
		var list []kb.TermDecision
		for range rapid.IntRange(1, 4).Draw(t, "n") {
			list = append(list, kb.TermDecision{Kind: rapid.SampledFrom([]kb.TermKind{kb.TermComponent, kb.TermSymptom, kb.TermMethod}).Draw(t, "kind"), Term: rapid.StringMatching(`[a-z]{1,6}( [a-z]{1,6})?`).Draw(t, "term"),
				Choice: rapid.SampledFrom([]kb.TermChoice{kb.TermSynonym, kb.TermNew, kb.TermIgnore}).Draw(t, "choice"), Of: rapid.SampledFrom(names).Draw(t, "of"), System: "cabin"})
		}
		w, _ := v.With(list)
		name := rapid.SampledFrom(names).Draw(t, "known")
		c, ok := w.Component(name)
		require.True(t, ok)
		require.Equal(t, name, c.Name)
	})
}
