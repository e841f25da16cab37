package rank_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb"
	"ruledout/kb/rank"
)

// known gives a culprit's probability, listed or among the nearest unlisted ones.
func known(a kb.Answer, component string) float64 {
	for _, n := range a.Unlisted.Nearest {
		if n.Component == component {
			return n.Probability
		}
	}
	return probability(a, component)
}

// A passed test takes its target's odds down by (1-s)/(1-phi), to the power lambda: as the test becomes perfect, to zero. The rates are
// held, so that the limit is the test's and not the book's.
func TestAPerfectPassedTestTakesItsTargetToZero(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cases, q := book(t), asked(t)
		target := rapid.SampledFrom([]string{"relay", "fuse", "harness", "pump", "valve"}).Draw(t, "target")
		tested := q
		tested.Tests = append(slices.Clone(q.Tests), kb.Test{Test: "perfect", Component: target, Result: kb.Pass})
		for _, miss := range []float64{1e-2, 1e-4, 1e-6, 1e-9, 1e-12} {
			p := rank.DefaultParams()
			p.Found, p.FoundW = map[string]float64{"": 1 - miss}, 1e15
			m := modelOf(p, cases...)
			before, after := known(m.Ask(q, rank.Options{}), target), known(m.Ask(tested, rank.Options{}), target)
			limit := odds(before) * math.Pow(miss/(1-p.FalseAlarm), p.Lambda)
			require.LessOrEqual(t, odds(after), limit*(1+1e-3), "s = 1 - %g", miss)
			if miss == 1e-12 {
				require.Less(t, after, 1e-6, "zero but for %g", before)
			}
		}
	})
}

// believed are the constants as they come, but that a verified case's naming is believed.
func believed() rank.Params {
	p := rank.DefaultParams()
	p.Named = map[kb.Confirmation]float64{kb.Verified: 1, kb.Reported: p.Named[kb.Reported]}
	p.Floor = map[kb.Confirmation]float64{kb.Verified: 1, kb.Reported: p.Floor[kb.Reported]}
	return p
}

// One more verified case with exactly the question's machine, code and evidence never lowers its culprit, constants held. The pooled
// rates are among the constants, so they are held as well: where they learn from the added case, they may lift the likelihood under a
// rival, or under what nobody has seen yet, by more than the case lifts its own culprit's.
func TestOneMoreCaseNeverLowersItsCulprit(t *testing.T) {
	p := believed()
	p.FoundW, p.TriedW, p.MentionK, p.ValueK, p.Adapt, p.Overlap = 1e15, 1e15, evenly(1e15), evenly(1e15), 0, 0
	rapid.Check(t, func(t *rapid.T) { oneMoreNeverLowers(t, p, book(t), asked(t)) })
}

// Without evidence beside the codes there are no rates to hold.
func TestOneMoreCaseNeverLowersItsCulpritWithoutEvidence(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cases, q := book(t), asked(t)
		q.Symptoms, q.Tests, q.Fixes = nil, nil, nil
		oneMoreNeverLowers(t, believed(), cases, q)
	})
}

func oneMoreNeverLowers(t *rapid.T, p rank.Params, cases []kb.Case, q kb.Case) {
	culprit := rapid.SampledFrom([]string{"relay", "fuse", "harness", "pump", "valve", "new part"}).Draw(t, "culprit of one more")
	before := modelOf(p, cases...).Ask(q, rank.Options{})
	after := modelOf(p, append(cases, closing(q, culprit))...).Ask(q, rank.Options{})
	require.Greater(t, probability(after, culprit), 0.0)
	require.GreaterOrEqual(t, probability(after, culprit), known(before, culprit)-1e-12)
}

// closing makes a question the case that it becomes when a culprit is found and the repair holds.
func closing(q kb.Case, culprit string) kb.Case {
	c := q
	c.ID, c.State, c.Status, c.ClosedAs, c.Confirmation = "one more", kb.Published, kb.Closed, kb.Repaired, kb.Verified
	c.Fixes = append(slices.Clone(q.Fixes), kb.Fix{Step: 9, Action: kb.Replace, Component: culprit, Outcome: kb.Fixed})
	return c
}

// Merging a duplicate changes nothing but the double count: the book is then the one that never had it.
func TestMergingADuplicateTakesTheDoubleCountAway(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cases, q := book(t), asked(t)
		want := modelOf(rank.DefaultParams(), cases...).Ask(q, rank.Options{})
		table := rank.NewTable(noTerms{})
		double := rapid.SampledFrom(cases).Draw(t, "written up twice")
		double.ID = "b" + double.ID // among the others in order
		for _, c := range append(slices.Clone(cases), double) {
			table.Put(c)
		}
		require.Equal(t, len(cases)+1, table.Len())
		double.State = kb.Merged
		table.Put(double)
		require.Equal(t, want, table.Model(rank.DefaultParams()).Ask(q, rank.Options{}))
	})
}

// A bypass left in place is shown as what it tells (a test by bridging) and nowhere as a repair: no fix, no action of a fix, no step.
func TestABypassIsNeverARepair(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cases := book(t)
		outcome := rapid.SampledFrom([]kb.Outcome{kb.Partial, kb.NoChange, kb.Returned, kb.UnknownOutcome, kb.Fixed}) // fixed: not valid, never a cure all the same
		part := rapid.SampledFrom([]string{"flow switch", "relay", "valve"})
		for i := range cases {
			if rapid.Bool().Draw(t, "cure by its place") { // the last of the fixes of unknown outcome, but for a bypass
				cases[i].Fixes[0].Outcome = kb.UnknownOutcome
			}
			if rapid.Bool().Draw(t, "bypassed") {
				cases[i].Fixes = append(cases[i].Fixes, kb.Fix{Step: rapid.IntRange(1, 12).Draw(t, "step"), Action: kb.Bypass, Component: part.Draw(t, "what"), Outcome: outcome.Draw(t, "outcome")})
			}
		}
		q := asked(t)
		if rapid.Bool().Draw(t, "asked with a bypass") {
			q.Fixes = append(q.Fixes, kb.Fix{Step: 4, Action: kb.Bypass, Component: part.Draw(t, "what"), Outcome: outcome.Draw(t, "outcome")})
		}
		a := modelOf(rank.DefaultParams(), cases...).Ask(q, rank.Options{})
		for _, f := range a.Fixes {
			require.NotEqual(t, "flow switch", f.Component, "nobody ever repaired it")
			for _, s := range f.Actions {
				require.NotEqual(t, kb.Bypass, s.Action)
			}
		}
		for _, n := range a.Next {
			require.NotEqual(t, kb.Bypass, n.Action)
			require.False(t, n.Kind == "fix" && n.Component == "flow switch")
			require.NotEqual(t, kb.MethodBridging, n.Test, "no case bridged anything to test")
		}
	})
}

// Bridging that a case did as a test is a test like any other; the bypass that a case left in place counts as that test and is not proposed.
func TestBridgingIsProposedOnlyAsATest(t *testing.T) {
	for _, tested := range []bool{false, true} {
		var cases []kb.Case
		for i := range 5 {
			c := closedCase(fmt.Sprintf("a%d", i), "flow switch")
			if tested {
				c.Tests = []kb.Test{{Step: 1, Test: "bridged it", Method: kb.MethodBridging, Component: "flow switch", Result: kb.Fail}}
			} else {
				c.Fixes = append(c.Fixes, kb.Fix{Step: 1, Action: kb.Bypass, Component: "flow switch", Outcome: kb.Partial})
			}
			cases = append(cases, c, closedCase(fmt.Sprintf("b%d", i), "pump"))
		}
		a := modelOf(rank.DefaultParams(), cases...).Ask(question(), rank.Options{})
		proposed := slices.ContainsFunc(a.Next, func(n kb.NextStep) bool { return n.Test == kb.MethodBridging })
		assert.Equal(t, tested, proposed)
	}
}

// What proves a repair is no evidence on the culprit: with proofs or without, in the book or in the question, all odds are the same.
func TestAProofNeverMovesTheOdds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cases, q := book(t), asked(t)
		without := modelOf(rank.DefaultParams(), cases...).Ask(q, rank.Options{})
		part := rapid.SampledFrom([]string{"relay", "fuse", "harness", "pump", "valve"})
		proof := func(step int, component string) kb.Test {
			return kb.Test{Step: step, Test: "look", Component: component, Result: rapid.SampledFrom(kb.Results()).Draw(t, "proof")}
		}
		for i := range cases {
			if rapid.Bool().Draw(t, "proved") {
				cases[i].Tests = append(cases[i].Tests, proof(10, part.Draw(t, "proof of")))
			}
		}
		for _, f := range q.Fixes {
			q.Tests = append(q.Tests, proof(6, f.Component))
		}
		with := modelOf(rank.DefaultParams(), cases...).Ask(q, rank.Options{})
		require.Equal(t, withoutSteps(without), withoutSteps(with))
	})
}

// withoutSteps leaves out what a proof may change: the question as shown, and the steps, which end with how others proved the repair.
func withoutSteps(a kb.Answer) kb.Answer {
	a.Understood, a.Next = kb.Case{}, nil
	return a
}
