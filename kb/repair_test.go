package kb_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"ruledout/kb"
)

func names(tests []kb.Test) (out []string) {
	for _, t := range tests {
		out = append(out, t.Test)
	}
	return out
}

func TestProofIsNoEvidence(t *testing.T) {
	c := kb.Case{Status: kb.Closed, ClosedAs: kb.Repaired,
		Tests: []kb.Test{
			{Step: 1, Test: "relay before", Component: "relay", Result: kb.Pass},
			{Step: 3, Test: "relay after change", Component: "relay", Result: kb.Pass},
			{Step: 3, Test: "pump before cure", Component: "pump", Result: kb.Fail},
			{Step: 4, Test: "pump with the cure", Component: "valve", Result: kb.Pass},
			{Step: 5, Test: "pump after cure", Component: "pump", Result: kb.Pass},
			{Step: 0, Test: "order unknown", Component: "relay", Result: kb.Pass},
		},
		Fixes: []kb.Fix{
			{Step: 2, Action: kb.Replace, Component: "relay", Outcome: kb.NoChange},
			{Step: 4, Action: kb.Replace, Component: "pump", Outcome: kb.Fixed},
		},
	}
	assert.Equal(t, []string{"relay before", "pump before cure", "pump with the cure", "order unknown"}, names(c.EvidenceTests()))
	assert.Equal(t, []string{"relay after change", "pump after cure"}, names(c.Proofs()))
	assert.Equal(t, []string{"pump"}, c.Culprits())
}

func TestCulprits(t *testing.T) {
	fix := func(step int, component string, o kb.Outcome) kb.Fix {
		return kb.Fix{Step: step, Action: kb.Replace, Component: component, Outcome: o}
	}
	closed := func(fixes ...kb.Fix) kb.Case { return kb.Case{Status: kb.Closed, ClosedAs: kb.Repaired, Fixes: fixes} }
	tests := map[string]struct {
		c    kb.Case
		want []string
	}{
		"named":                      {closed(fix(1, "a", kb.NoChange), fix(2, "b", kb.Fixed)), []string{"b"}},
		"a set":                      {closed(fix(1, "a", kb.Fixed), fix(1, "b", kb.Fixed), fix(2, "a", kb.Fixed)), []string{"a", "b"}},
		"unknown, last step":         {closed(fix(1, "a", kb.UnknownOutcome), fix(2, "b", ""), fix(2, "c", kb.UnknownOutcome)), []string{"b", "c"}},
		"unknown, no steps":          {closed(fix(0, "a", kb.UnknownOutcome), fix(0, "b", kb.UnknownOutcome)), []string{"a", "b"}},
		"open":                       {kb.Case{Status: kb.Open, Fixes: []kb.Fix{fix(1, "a", kb.Fixed)}}, nil},
		"went away":                  {kb.Case{Status: kb.Closed, ClosedAs: kb.WentAway, Fixes: []kb.Fix{fix(1, "a", kb.UnknownOutcome)}}, nil},
		"returned":                   {closed(fix(1, "a", kb.Returned)), nil},
		"a bypass is never a cure":   {closed(kb.Fix{Step: 1, Action: kb.Bypass, Component: "flow switch", Outcome: kb.UnknownOutcome}), nil},
		"a bypass beside a real fix": {closed(kb.Fix{Step: 1, Action: kb.Bypass, Component: "flow switch"}, fix(1, "pump", "")), []string{"pump"}},
	}
	for name, tc := range tests {
		t.Run(name, func(t *testing.T) { assert.Equal(t, tc.want, tc.c.Culprits()) })
	}
}

func TestBypassCountsAsBridgingTest(t *testing.T) {
	for outcome, want := range map[kb.Outcome]kb.Result{
		kb.NoChange: kb.Pass, kb.Partial: kb.Fail, kb.Returned: kb.Fail, kb.UnknownOutcome: kb.Inconclusive,
	} {
		c := kb.Case{Fixes: []kb.Fix{{Step: 1, Action: kb.Bypass, Component: "pressure switch", Outcome: outcome}}}
		tests := c.EvidenceTests()
		assert.Len(t, tests, 1)
		assert.Equal(t, want, tests[0].Result, outcome)
		assert.Equal(t, kb.MethodBridging, tests[0].Method)
		assert.Empty(t, c.TriedFixes())
	}
}

func TestFollowUpsSettleTheConfirmation(t *testing.T) {
	c := kb.Case{Confirmation: kb.Reported}
	assert.Equal(t, kb.Reported, c.Held())
	c.FollowUps = []kb.FollowUp{{Date: "2024-09-01", Held: true}}
	assert.Equal(t, kb.Verified, c.Held())
	c.FollowUps = append(c.FollowUps, kb.FollowUp{Date: "2025-01-01", Held: false}, kb.FollowUp{Date: "2024-03-01", Held: true})
	assert.Equal(t, kb.Unconfirmed, c.Held())
	c.FollowUps = append(c.FollowUps, kb.FollowUp{Date: "2025-01-01", Held: true})
	assert.Equal(t, kb.Verified, c.Held(), "of one day the one told last")
}

func TestErrorNamesPlace(t *testing.T) {
	e := &kb.Error{Kind: kb.Invalid, File: "a.jsonl", Line: 3, Field: "codes[0].code", Msg: "is empty"}
	assert.Equal(t, "a.jsonl:3: codes[0].code: is empty", e.Error())
	cause := assert.AnError
	wrapped := kb.Errorf(kb.Unavailable, "open the book: %w", cause)
	assert.ErrorIs(t, wrapped, cause)
	assert.Equal(t, "open the book: "+cause.Error(), wrapped.Error())
	assert.Equal(t, kb.Unavailable, kb.KindOf(wrapped))
	assert.Equal(t, kb.Internal, kb.KindOf(cause))
	assert.Equal(t, kb.Kind(""), kb.KindOf(nil))
	assert.Equal(t, "f:2: x", kb.At(&kb.Error{Msg: "x"}, "f", 2).Error())
}
