package rank_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb"
	"ruledout/kb/rank"
)

func ohms(v float64) *kb.Reading { return &kb.Reading{Value: &v, Unit: "ohm"} }

// within gives the reading a limit of 75 to 95 ohm, measured to ±2 ohm.
func within(v float64) *kb.Reading {
	r := ohms(v)
	r.Accuracy = "2 ohm"
	r.Limit = &kb.Limit{Low: new(75.0), High: new(95.0), Unit: "ohm", Source: "maker"}
	return r
}

func asks(tests ...kb.Test) kb.Case {
	q := question()
	q.Tests = tests
	return q
}

func evenBook() *rank.Model {
	var cases []kb.Case
	for i := range 6 {
		cases = append(cases, closedCase(fmt.Sprintf("a%d", i), "relay"), closedCase(fmt.Sprintf("b%d", i), "pump"))
	}
	return modelOf(rank.DefaultParams(), cases...)
}

// Virtual evidence (Pearl 1988, 2.2.2): a reading far inside its limits is worth as much as the passed test, far outside as the failed one,
// one that conforms with probability one half is worth nothing, and in between the odds follow the probability.
func TestAReadingIsVirtualEvidence(t *testing.T) {
	m := evenBook()
	of := func(tests ...kb.Test) float64 { return probability(m.Ask(asks(tests...), rank.Options{}), "relay") }
	test := func(result kb.Result, r *kb.Reading) kb.Test {
		return kb.Test{Test: "resistance", Component: "relay", Result: result, Reading: r}
	}
	nothing, passed, failed := of(), of(test(kb.Pass, nil)), of(test(kb.Fail, nil))
	assert.InDelta(t, passed, of(test("", within(85))), 1e-6)
	assert.InDelta(t, failed, of(test("", within(300))), 1e-6)
	assert.InDelta(t, nothing, of(test("", within(95))), 1e-6, "at the limit")
	assert.Equal(t, passed, of(test(kb.Pass, within(300))), "a stated result stands")
	assert.Equal(t, nothing, of(test("", ohms(85))), "nothing to judge it by")
	rapid.Check(t, func(t *rapid.T) {
		above := rapid.IntRange(0, 34).Draw(t, "reading") // as many decimals in both: they are part of what an instrument is trusted with
		x := 85.5 + float64(above)
		y := x + float64(rapid.IntRange(0, 30).Draw(t, "more"))
		require.LessOrEqual(t, of(test("", within(x))), of(test("", within(y)))+1e-12, "the further out, the likelier the part")
		require.LessOrEqual(t, of(test("", within(y))), failed+1e-12)
	})
}

// measuredBook has eight bad relays of 10 to 31 ohm, eight cases with a good relay of 82 to 89 ohm, one open coil and one reading after the
// repair.
func measuredBook() *rank.Model {
	var cases []kb.Case
	add := func(id, culprit string, r *kb.Reading, step int) {
		c := closedCase(id, culprit)
		c.Machine = kb.Machine{Kind: "van", Make: "halden", Model: "brisk 3"}
		c.Tests = []kb.Test{{Step: step, Test: "resistance", Component: "relay", Result: kb.Pass, Reading: r}}
		if culprit == "relay" && step < 9 {
			c.Tests[0].Result = kb.Fail
		}
		c.Fixes[0].Step = 5
		cases = append(cases, c)
	}
	for i := range 8 {
		add(fmt.Sprintf("bad%d", i), "relay", ohms(10+3*float64(i)), 1)
		add(fmt.Sprintf("good%d", i), "pump", ohms(82+float64(i)), 1)
	}
	add("open", "relay", &kb.Reading{Bound: kb.BoundOpen}, 1)
	add("after", "relay", ohms(84), 9)
	return modelOf(rank.DefaultParams(), cases...)
}

func TestMeasuredByOthers(t *testing.T) {
	m := measuredBook()
	asked := kb.Test{Test: "resistance", Component: "relay", Reading: ohms(84)}
	got, ok := m.Measured(asked, kb.Machine{Make: "halden", Model: "brisk 3"}, nil)
	require.True(t, ok)
	require.Len(t, got.Groups, 3)
	bad, good, after := got.Groups[0], got.Groups[1], got.Groups[2]
	assert.Equal(t, kb.MeasuredFaulty, bad.Group)
	assert.Equal(t, 8, bad.Count)
	assert.Equal(t, 1, bad.Open)
	// Quartiles of 10, 13, ... 31 by hand: positions 1.75, 3.5 and 5.25 from zero.
	assert.InDelta(t, 15.25, *bad.Q1, 1e-9)
	assert.InDelta(t, 20.5, *bad.Median, 1e-9)
	assert.InDelta(t, 25.75, *bad.Q3, 1e-9)
	assert.Equal(t, kb.MeasuredGood, good.Group)
	assert.Equal(t, kb.MeasuredRepaired, after.Group)
	assert.Equal(t, kb.CaseID("after"), after.Points[0].Case)
	assert.Equal(t, "model", good.Points[0].Near)
	require.NotNil(t, got.Good)
	assert.Greater(t, *got.Good, 0.9)
	for v, faulty := range map[float64]bool{12: true, 20: true, 0.5: true, 86: false} {
		asked.Reading = ohms(v)
		got, _ := m.Measured(asked, kb.Machine{}, nil)
		assert.Equal(t, faulty, *got.Good < 0.5, "%g ohm", v)
		assert.GreaterOrEqual(t, *got.Good, 0.05)
		assert.LessOrEqual(t, *got.Good, 0.95)
	}
	asked.Reading = &kb.Reading{Bound: kb.BoundOpen}
	got, ok = m.Measured(asked, kb.Machine{}, nil)
	require.True(t, ok)
	assert.False(t, math.IsNaN(*got.Good))
	asked.Component = "fuse"
	_, ok = m.Measured(asked, kb.Machine{}, nil)
	assert.False(t, ok)
}

// What others measured counts as evidence where no limit is known, and leaves out the cases that are excluded.
func TestMeasuredReadingsAreEvidence(t *testing.T) {
	m := measuredBook()
	of := func(v float64) float64 {
		a := m.Ask(asks(kb.Test{Test: "resistance", Component: "relay", Reading: ohms(v)}), rank.Options{})
		assert.Empty(t, a.Warnings)
		return probability(a, "relay")
	}
	assert.Greater(t, of(15), of(84)+0.1)
	none := m.Ask(asks(kb.Test{Test: "resistance", Component: "relay", Reading: ohms(15)}), rank.Options{Exclude: func(id kb.CaseID) bool { return id[:3] == "bad" }})
	assert.Contains(t, none.Warnings[0], "not judged", "too few are left to compare with")
}

// The comparison does not depend on the unit.
func TestMeasuredDoesNotDependOnTheUnit(t *testing.T) {
	m := measuredBook()
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(1, 500).Draw(t, "ohm")
		k := v / 1000
		a, _ := m.Measured(kb.Test{Test: "resistance", Component: "relay", Reading: ohms(v)}, kb.Machine{}, nil)
		b, _ := m.Measured(kb.Test{Test: "resistance", Component: "relay", Reading: &kb.Reading{Value: &k, Unit: "kohm"}}, kb.Machine{}, nil)
		require.InDelta(t, *a.Good, *b.Good, 1e-9)
		require.InEpsilon(t, *a.Groups[0].Median, *b.Groups[0].Median*1000, 1e-9)
	})
}
