package kb_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb"
)

func drawTelling(t *rapid.T, id string) kb.Case {
	pick := func(name string, list ...string) string { return rapid.SampledFrom(list).Draw(t, id+" "+name) }
	span := func(at int) []kb.Evidence {
		return []kb.Evidence{{Writeup: kb.WriteupKey(id), Post: 1, Start: at, End: at + 1, Quote: "x"}}
	}
	c := kb.Case{V: kb.Version, ID: kb.CaseID(id), Title: pick("title", "", "Cold heater", "No heat"), Status: kb.Open, Sources: []kb.Source{{Writeup: kb.WriteupKey(id)}}}
	c.Machine = kb.Machine{Make: "Halden", Model: pick("model", "", "Brisk 3"), Year: rapid.SampledFrom([]int{0, 2018, 2019}).Draw(t, id+" year"), Evidence: span(0)}
	c.Codes = []kb.CodeEntry{{Code: pick("code", "P1B77", "P1B78"), Evidence: span(1)}}
	for i := range rapid.IntRange(0, 3).Draw(t, id+" tests") {
		c.Tests = append(c.Tests, kb.Test{Step: rapid.IntRange(0, 6).Draw(t, fmt.Sprint(id, " step ", i)), Test: "check", Component: pick(fmt.Sprint("part ", i), "heater relay", "heater fuse"),
			Result: rapid.SampledFrom(kb.Results()).Draw(t, fmt.Sprint(id, " result ", i)), Evidence: span(2 + i)})
	}
	if rapid.Bool().Draw(t, id+" cured") {
		c.Fixes = append(c.Fixes, kb.Fix{Step: rapid.IntRange(1, 6).Draw(t, id+" cure"), Action: kb.Replace, Component: "heater relay", Outcome: kb.Fixed, Evidence: span(9)})
		c.Status, c.ClosedAs, c.Confirmation = kb.Closed, kb.Repaired, rapid.SampledFrom([]kb.Confirmation{kb.Reported, kb.Verified}).Draw(t, id+" sure")
	}
	return c
}

// Merging does not depend on the order of the others, changes none of them, keeps every source and every span, and makes a sound case of sound
// ones; before the cure stays before it.
func TestMergeLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		into, others := drawTelling(t, "a"), []kb.Case{drawTelling(t, "b"), drawTelling(t, "c"), drawTelling(t, "d")}
		before := fmt.Sprintf("%+v %+v", into, others)
		out := kb.Merge(into, others)
		shuffled := rapid.Permutation(others).Draw(t, "order")
		require.Equal(t, out, kb.Merge(into, shuffled))
		require.Equal(t, before, fmt.Sprintf("%+v %+v", into, others))
		require.Empty(t, out.Validate())
		require.Equal(t, into, kb.Merge(into, nil))
		require.Len(t, out.Sources, 4)
		spans := map[kb.Evidence]bool{}
		for _, list := range evidence(out) {
			for _, e := range list {
				spans[e] = true
			}
		}
		for _, c := range append(others, into) {
			for _, list := range evidence(c) {
				for _, e := range list {
					require.True(t, spans[e], "%+v", e)
				}
			}
		}
		proofs := 0
		for _, c := range append(others, into) {
			if len(c.Fixes) == 0 {
				continue
			}
			for _, x := range c.Tests {
				if x.Step > c.Fixes[0].Step {
					proofs++
				}
			}
		}
		if proofs == 0 && len(out.Fixes) > 0 {
			assert.Empty(t, out.Proofs(), "nothing was proved after a cure, and nothing is now")
		}
	})
}

func evidence(c kb.Case) [][]kb.Evidence {
	out := [][]kb.Evidence{c.Machine.Evidence}
	for _, x := range c.Codes {
		out = append(out, x.Evidence)
	}
	for _, x := range c.Tests {
		out = append(out, x.Evidence)
	}
	for _, x := range c.Fixes {
		out = append(out, x.Evidence)
	}
	return out
}
