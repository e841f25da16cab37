package kb_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb"
)

// tellings draws a case that may tell of the same repair as the next one drawn.
func tellings(id string) *rapid.Generator[kb.Case] {
	return rapid.Custom(func(t *rapid.T) kb.Case {
		word := func(label string, list ...string) string { return rapid.SampledFrom(list).Draw(t, label) }
		c := kb.Case{V: 1, ID: kb.CaseID(id), Title: word("title", "", "cold van", "cold cab"), State: kb.State(word("state", "draft", "published")),
			Machine: kb.Machine{Make: word("make", "", "Halden"), Model: word("model", "", "Brisk", "Brisk 3"), Year: rapid.SampledFrom([]int{0, 2018, 2019}).Draw(t, "year")}}
		c.Sources = []kb.Source{{Writeup: kb.WriteupKey(word("writeup", "w1", "w2", "w3"))}}
		ev := func() []kb.Evidence {
			return []kb.Evidence{{Writeup: c.Sources[0].Writeup, Post: 1, Start: rapid.IntRange(0, 3).Draw(t, "start"), End: 3, Quote: "abc"[:rapid.IntRange(0, 3).Draw(t, "n")]}}
		}
		step := func() int { return rapid.IntRange(0, 4).Draw(t, "step") }
		for range rapid.IntRange(0, 2).Draw(t, "codes") {
			c.Codes = append(c.Codes, kb.CodeEntry{Code: word("code", "P1B77", "p1b77", "P0420"), Status: kb.CodeStatus(word("cs", "", "stored", "active")), Evidence: ev()})
		}
		for range rapid.IntRange(0, 3).Draw(t, "tests") {
			c.Tests = append(c.Tests, kb.Test{Step: step(), Test: word("test", "resistance", "voltage"), Component: word("comp", "relay", "Relay", "fuse"), Result: kb.Result(word("res", "pass", "fail")), Evidence: ev()})
		}
		for range rapid.IntRange(0, 3).Draw(t, "fixes") {
			c.Fixes = append(c.Fixes, kb.Fix{Step: step(), Action: kb.Replace, Component: word("fix", "relay", "fuse"), Outcome: kb.Outcome(word("out", "", "fixed", "no change")), Evidence: ev()})
		}
		c.Status = kb.Status(word("status", "open", "closed"))
		if c.Status == kb.Closed {
			c.ClosedAs, c.Confirmation = kb.ClosedAs(word("as", "repaired", "went away")), kb.Confirmation(word("conf", "", "reported", "verified"))
		}
		if len(c.Tests) > 0 && rapid.Bool().Draw(t, "doubt") {
			c.Doubts = []kb.Doubt{{About: fmt.Sprintf("tests[%d].result", len(c.Tests)-1), Question: "sure?"}}
		}
		return c
	})
}

func merge(t require.TestingT, into kb.Case, others ...kb.Case) kb.Case {
	out, err := kb.Merge(into, others, kb.MergeOptions{})
	require.NoError(t, err)
	return out
}

func encoded(t require.TestingT, c kb.Case) string {
	c.ID = ""
	body, err := kb.EncodeCase(c)
	require.NoError(t, err)
	return string(body)
}

func TestMergeOrderAndStepsDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := tellings("a").Draw(t, "a"), tellings("b").Draw(t, "b"), tellings("c").Draw(t, "c")
		want := encoded(t, merge(t, a, b, c))
		for name, got := range map[string]kb.Case{"others turned": merge(t, a, c, b), "another survivor": merge(t, c, a, b), "in steps": merge(t, merge(t, a, b), c),
			"others first": merge(t, a, merge(t, b, c)), "twice": merge(t, merge(t, a, b, c), b)} {
			assert.Equal(t, want, encoded(t, got), name)
		}
	})
}

func TestMergeLosesNoSpanAndNoSource(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := tellings("a").Draw(t, "a"), tellings("b").Draw(t, "b")
		out := merge(t, a, b)
		var have []kb.Evidence
		for _, x := range out.Tests {
			have = append(have, x.Evidence...)
		}
		for _, x := range append(a.Tests, b.Tests...) {
			assert.Subset(t, have, x.Evidence)
		}
		for _, s := range append(a.Sources, b.Sources...) {
			assert.Contains(t, out.Sources, s)
		}
	})
}

func TestMergeKeepsAProofAProof(t *testing.T) {
	a := kb.Case{ID: "a", Status: kb.Closed, ClosedAs: kb.Repaired, Fixes: []kb.Fix{{Step: 1, Action: kb.Replace, Component: "relay", Outcome: kb.Fixed}},
		Tests: []kb.Test{{Step: 2, Test: "voltage", Component: "heater", Result: kb.Pass}}}
	b := kb.Case{ID: "b", Status: kb.Closed, ClosedAs: kb.Repaired, Fixes: []kb.Fix{{Step: 4, Action: kb.Replace, Component: "relay", Outcome: kb.Fixed}},
		Tests: []kb.Test{{Step: 3, Test: "voltage", Component: "heater", Result: kb.Fail}}}
	out := merge(t, a, b)
	require.Len(t, out.Proofs(), 1)
	assert.Equal(t, kb.Pass, out.Proofs()[0].Result)
	require.Len(t, out.EvidenceTests(), 1)
	assert.Equal(t, kb.Fail, out.EvidenceTests()[0].Result)
}

func TestMergeTakesWhatIsChosen(t *testing.T) {
	a := kb.Case{ID: "a", Title: "cold", Codes: []kb.CodeEntry{{Code: "P0420"}}}
	b := kb.Case{ID: "b", Title: "cold van in winter", Codes: []kb.CodeEntry{{Code: "P1B77"}}}
	out, err := kb.Merge(a, []kb.Case{b}, kb.MergeOptions{Take: map[string]kb.CaseID{"title": "a", "codes": "b"}})
	require.NoError(t, err)
	assert.Equal(t, "cold", out.Title)
	assert.Equal(t, b.Codes, out.Codes)
	for _, take := range []map[string]kb.CaseID{{"titel": "a"}, {"title": "z"}} {
		_, err := kb.Merge(a, []kb.Case{b}, kb.MergeOptions{Take: take})
		assert.Equal(t, kb.Invalid, kb.KindOf(err))
	}
}

func TestComparedCasesStandSideBySide(t *testing.T) {
	fields, err := kb.CompareCases([]kb.Case{{ID: "a", Title: "cold"}, {ID: "b", Title: "cold van", Machine: kb.Machine{Year: 2019}}}, kb.MergeOptions{})
	require.NoError(t, err)
	byName := map[string]kb.MergeField{}
	for _, f := range fields {
		byName[f.Name] = f
	}
	assert.True(t, byName["title"].Differs)
	assert.Equal(t, kb.CaseID("b"), byName["title"].Default)
	assert.False(t, byName["year"].Differs, "only one says it")
	assert.Equal(t, []string{"2019"}, byName["year"].Joined)
}
