package plan_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/kb/rank/plan"
)

// computer is the computer-fault exercise of F. V. Jensen and T. D. Nielsen, Bayesian Networks and Decision Graphs, 2nd ed. 2007, chapter 9:
// program, virus or hardware; reboot, virus tool, reformat, new computer. Inputs published; expected values computed by brute force over all
// sequences. Buying a new computer cures everything; the hand-over is set out of reach.
func computer() plan.Problem {
	return plan.Problem{P: []float64{0.80, 0.15, 0.05}, HandOver: 1e6, Actions: []plan.Action{
		{Cost: 1, Solves: []float64{1, 0, 0}},
		{Cost: 2, Solves: []float64{0, 0.95, 0}},
		{Cost: 25, Solves: []float64{0.99, 0.99, 0}},
		{Cost: 500, Solves: []float64{1, 1, 1}},
	}}
}

func TestComputerSequences(t *testing.T) {
	for _, x := range []struct {
		sequence []int
		cost     float64
	}{
		{[]int{0, 1, 2, 3}, 27.875}, {[]int{1, 0, 2, 3}, 29.3325}, {[]int{0, 1, 3}, 30.15}, {[]int{0, 2, 1, 3}, 31.1405}, {[]int{1, 0, 3}, 31.6075},
		{[]int{0, 2, 3}, 31.75}, {[]int{0, 3}, 101}, {[]int{3}, 500},
	} {
		cost, err := computer().ECR(x.sequence)
		require.NoError(t, err)
		assert.InDelta(t, x.cost, cost, 1e-9, "%v", x.sequence)
	}
	_, err := computer().ECR([]int{0, 0})
	require.Error(t, err)
	_, err = computer().ECR([]int{4})
	require.Error(t, err)
}

// The new computer may as well be the hand-over.
func TestComputerPlan(t *testing.T) {
	asHandOver := computer()
	asHandOver.HandOver, asHandOver.Actions = 500, asHandOver.Actions[:3]
	for name, p := range map[string]plan.Problem{"as an action": computer(), "as the hand-over": asHandOver} {
		order, cost, err := p.Order()
		require.NoError(t, err, name)
		assert.Equal(t, []int{0, 1, 2, 3}[:len(p.Actions)], order, name)
		assert.InDelta(t, 27.875, cost, 1e-9, name)
		for _, opt := range []plan.Options{{}, {NoExact: true}} {
			got, err := plan.Solve(p, opt)
			require.NoError(t, err)
			assert.InDelta(t, 27.875, got.Cost, 1e-9, name)
			assert.InDelta(t, 27.875, got.Ratio, 1e-9, name)
		}
	}
	got, err := plan.Solve(asHandOver, plan.Options{})
	require.NoError(t, err)
	assert.Equal(t, plan.Exact, got.Method)
	assert.InDelta(t, 500, got.HandOver, 1e-9)
	// Probability that it is still broken, and the beliefs, after 1, after 1 and 2, after all three.
	step, left := got.First, 1.0
	for i, want := range []struct {
		left   float64
		belief []float64
	}{
		{1, []float64{0.8, 0.15, 0.05}}, {0.2, []float64{0, 0.75, 0.25}}, {0.0575, []float64{0, 3.0 / 23, 20.0 / 23}},
		{0.050075, []float64{0, 0.001497753, 0.998502247}},
	} {
		assert.InDelta(t, want.left, left, 1e-12)
		assert.InDeltaSlice(t, want.belief, step.P, 1e-9)
		if i == 3 {
			assert.Equal(t, plan.Hand, step.Kind)
			assert.Empty(t, step.Branches)
			break
		}
		assert.Equal(t, plan.Act, step.Kind)
		assert.Equal(t, i, step.Index)
		require.Len(t, step.Branches, 2)
		assert.Nil(t, step.Branches[plan.Cured].Next)
		left *= step.Branches[plan.Failed].P
		step = step.Branches[plan.Failed].Next
	}
}

// Probability over cost, at the start and recomputed after each failure: the values of the same exercise.
func TestComputerRatios(t *testing.T) {
	p := computer()
	for _, x := range []struct {
		done   uint64
		belief []float64
		ratios map[int]float64
		first  int
	}{
		{0, p.P, map[int]float64{0: 0.8, 1: 0.07125, 2: 0.03762, 3: 0.002}, 0},
		{0b1, []float64{0, 0.75, 0.25}, map[int]float64{1: 0.35625, 2: 0.0297}, 1},
		{0b11, []float64{0, 3.0 / 23, 20.0 / 23}, map[int]float64{2: 0.00516522, 3: 0.002}, 2},
	} {
		ratios, first := plan.Ratios(p, x.done, x.belief)
		for a, want := range x.ratios {
			assert.InDelta(t, want, ratios[a], 1e-8)
		}
		assert.Equal(t, x.first, first)
	}
}

// observe is the observe-then-repair example (own derivation): with a single fault, each step looks at one cause and repairs it if found.
// ECR = sum of [(1 - sum of p_j before i) Co_i + p_i Cr_i]; the best order is by p_i/Co_i. It is modelled as an action whose further
// cost arises only under its cause.
func observe() plan.Problem {
	return plan.Problem{P: []float64{0.5, 0.3, 0.2}, HandOver: 1e4, Actions: []plan.Action{
		{Cost: 10, Solves: []float64{1, 0, 0}, Extra: []float64{40, 0, 0}},
		{Cost: 2, Solves: []float64{0, 1, 0}, Extra: []float64{0, 60, 0}},
		{Cost: 8, Solves: []float64{0, 0, 1}, Extra: []float64{0, 0, 5}},
	}}
}

func TestObserveThenRepair(t *testing.T) {
	const a, b, c = 0, 1, 2
	for _, x := range []struct {
		sequence []int
		cost     float64
	}{
		{[]int{b, a, c}, 49.6}, {[]int{a, b, c}, 51.6}, {[]int{b, c, a}, 51.6}, {[]int{a, c, b}, 53.6}, {[]int{c, b, a}, 53.6}, {[]int{c, a, b}, 55.6},
	} {
		cost, err := observe().ECR(x.sequence)
		require.NoError(t, err)
		assert.InDelta(t, x.cost, cost, 1e-9, "%v", x.sequence)
	}
	order, cost, err := observe().Order()
	require.NoError(t, err)
	assert.Equal(t, []int{b, a, c}, order)
	assert.InDelta(t, 49.6, cost, 1e-9)
	for _, opt := range []plan.Options{{}, {NoExact: true}} {
		got, err := plan.Solve(observe(), opt)
		require.NoError(t, err)
		assert.InDelta(t, 49.6, got.Cost, 1e-9)
		assert.InDelta(t, 49.6, got.Ratio, 1e-9)
	}
}

// Looking and repairing apart, as tests and actions, one need not look before a repair that is cheap or the last one left: look at b (2)
// and repair it if found (0.3 x 60), else repair c blindly (0.7 x 5), then a (0.5 x 40) = 43.5 (own derivation).
func TestLookingApartFromRepairing(t *testing.T) {
	p := plan.Problem{P: []float64{0.5, 0.3, 0.2}, HandOver: 1e4}
	for i, costs := range [][2]float64{{10, 40}, {2, 60}, {8, 5}} {
		found, not := []float64{0, 0, 0}, []float64{1, 1, 1}
		found[i], not[i] = 1, 0
		p.Tests = append(p.Tests, plan.Test{Cost: costs[0], Outcomes: [][]float64{not, found}})
		p.Actions = append(p.Actions, plan.Action{Cost: costs[1], Solves: found})
	}
	for _, opt := range []plan.Options{{}, {NoExact: true}} {
		got, err := plan.Solve(p, opt)
		require.NoError(t, err)
		assert.InDelta(t, 43.5, got.Cost, 1e-9)
		assert.Equal(t, plan.Look, got.First.Kind)
		assert.Equal(t, 1, got.First.Index)
	}
}

// Where actions overlap, probability over cost is not best (own derivation): faults .26 .26 .24 .24, all actions cost 1; the first cures
// 1 and 2, the second 1 and 3, the third 2 and 4.
func TestOverlappingActions(t *testing.T) {
	p := plan.Problem{P: []float64{0.26, 0.26, 0.24, 0.24}, HandOver: 1e4, Actions: []plan.Action{
		{Cost: 1, Solves: []float64{1, 1, 0, 0}}, {Cost: 1, Solves: []float64{1, 0, 1, 0}}, {Cost: 1, Solves: []float64{0, 1, 0, 1}},
	}}
	order, cost, err := p.Order()
	require.NoError(t, err)
	assert.Equal(t, []int{1, 2}, order)
	assert.InDelta(t, 1.5, cost, 1e-9)
	greedy, err := p.ECR([]int{0, 1, 2})
	require.NoError(t, err)
	assert.InDelta(t, 1.72, greedy, 1e-9)
	for _, opt := range []plan.Options{{}, {NoExact: true}} {
		got, err := plan.Solve(p, opt)
		require.NoError(t, err)
		assert.InDelta(t, 1.5, got.Cost, 1e-9)
		assert.InDelta(t, 1.72, got.Ratio, 1e-9)
	}
}

func TestOrderRefusesTooMany(t *testing.T) {
	p := plan.Problem{P: []float64{1}, HandOver: 1}
	for range 17 {
		p.Actions = append(p.Actions, plan.Action{Cost: 1, Solves: []float64{1}})
	}
	_, _, err := p.Order()
	require.Error(t, err)
}
