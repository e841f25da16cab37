package plan_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb/rank/plan"
)

// drawn draws a small problem, solved exactly within the usual limit.
func drawn(t *rapid.T) plan.Problem {
	n := rapid.IntRange(1, 5).Draw(t, "causes")
	unit, cost := rapid.Float64Range(0, 1), rapid.Float64Range(0, 100)
	p := plan.Problem{HandOver: rapid.Float64Range(1, 300).Draw(t, "hand-over")}
	sum := 0.0
	for range n {
		p.P = append(p.P, 0.01+unit.Draw(t, "weight"))
		sum += p.P[len(p.P)-1]
	}
	for c := range p.P {
		p.P[c] /= sum
	}
	for range rapid.IntRange(0, 4).Draw(t, "actions") {
		a := plan.Action{Cost: cost.Draw(t, "cost"), Solves: make([]float64, n)}
		for c := range a.Solves {
			a.Solves[c] = rapid.SampledFrom([]float64{0, 0, 0.5, 0.9, 1}).Draw(t, "solves")
		}
		p.Actions = append(p.Actions, a)
	}
	for range rapid.IntRange(0, 3).Draw(t, "tests") {
		p.Tests = append(p.Tests, drawnTest(t, n))
	}
	return p
}

func drawnTest(t *rapid.T, n int) plan.Test {
	x := plan.Test{Cost: rapid.Float64Range(0, 20).Draw(t, "test cost"), Outcomes: [][]float64{make([]float64, n), make([]float64, n)}}
	for c := range n {
		fails := rapid.SampledFrom([]float64{0, 0.1, 0.5, 0.9, 1}).Draw(t, "fails")
		x.Outcomes[0][c], x.Outcomes[1][c] = 1-fails, fails
	}
	return x
}

func solved(t require.TestingT, p plan.Problem, opt plan.Options) plan.Plan {
	got, err := plan.Solve(p, opt)
	require.NoError(t, err)
	return got
}

// bruteForce gives the least expected cost of a state by trying everything, without memory or bounds.
func bruteForce(p plan.Problem, actions, tests int, w []float64) float64 {
	m := 0.0
	for _, x := range w {
		m += x
	}
	best := p.HandOver * m
	next := make([]float64, len(w))
	for i, a := range p.Actions {
		if actions>>i&1 == 0 {
			for c, x := range w {
				next[c] = x * (1 - a.Solves[c])
			}
			best = min(best, a.Cost*m+bruteForce(p, actions|1<<i, tests, next))
		}
	}
	for i, x := range p.Tests {
		if tests>>i&1 == 0 {
			cost := x.Cost * m
			for _, o := range x.Outcomes {
				for c := range w {
					next[c] = w[c] * o[c]
				}
				cost += bruteForce(p, actions, tests|1<<i, next)
			}
			best = min(best, cost)
		}
	}
	return best
}

func TestExactIsBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawn(t)
		p.Actions, p.Tests = p.Actions[:min(3, len(p.Actions))], p.Tests[:min(2, len(p.Tests))]
		got := solved(t, p, plan.Options{})
		require.Equal(t, plan.Exact, got.Method)
		require.InDelta(t, bruteForce(p, 0, 0, p.P), got.Cost, 1e-9)
	})
}

func TestNeverDearerThanTheAlternatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawn(t)
		exact, ahead := solved(t, p, plan.Options{}), solved(t, p, plan.Options{NoExact: true})
		require.LessOrEqual(t, exact.Cost, ahead.Cost+1e-9)
		for _, other := range []float64{ahead.Ratio, ahead.Likeliest, ahead.HandOver} {
			require.LessOrEqual(t, ahead.Cost, other+1e-9)
		}
		_, cost, err := p.Order()
		require.NoError(t, err)
		require.LessOrEqual(t, exact.Cost, cost+1e-9)
		require.LessOrEqual(t, cost, exact.Ratio+1e-9)
	})
}

// Scaling every cost scales the plan's cost and changes nothing else.
func TestScaleOfCosts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawn(t)
		by := rapid.SampledFrom([]float64{0.01, 0.5, 8, 1024}).Draw(t, "scale")
		q := p
		q.HandOver *= by
		q.Actions, q.Tests = append([]plan.Action(nil), p.Actions...), append([]plan.Test(nil), p.Tests...)
		for i := range q.Actions {
			q.Actions[i].Cost *= by
		}
		for i := range q.Tests {
			q.Tests[i].Cost *= by
		}
		for _, opt := range []plan.Options{{}, {NoExact: true}} {
			a, b := solved(t, p, opt), solved(t, q, opt)
			require.InEpsilon(t, 1+a.Cost*by, 1+b.Cost, 1e-9)
			if by == 0.5 || by == 8 || by == 1024 { // powers of two scale without rounding, so that ties stay ties
				sameSteps(t, a.First, b.First)
			}
		}
	})
}

func sameSteps(t require.TestingT, a, b *plan.Step) {
	require.Equal(t, a.Kind, b.Kind)
	require.Equal(t, a.Index, b.Index)
	require.Len(t, b.Branches, len(a.Branches))
	for i := range a.Branches {
		if a.Branches[i].Next != nil {
			sameSteps(t, a.Branches[i].Next, b.Branches[i].Next)
		}
	}
}

// A test that shows the same whatever the cause is worth nothing, and is not in the plan if it costs anything.
func TestUselessTest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawn(t)
		fails := rapid.Float64Range(0, 1).Draw(t, "fails")
		useless := plan.Test{Cost: rapid.Float64Range(0.001, 5).Draw(t, "cost"), Outcomes: [][]float64{make([]float64, len(p.P)), make([]float64, len(p.P))}}
		for c := range p.P {
			useless.Outcomes[0][c], useless.Outcomes[1][c] = 1-fails, fails
		}
		q := p
		q.Tests = append(append([]plan.Test(nil), p.Tests...), useless)
		for _, opt := range []plan.Options{{}, {NoExact: true}} {
			got := solved(t, q, opt)
			require.InDelta(t, solved(t, p, opt).Cost, got.Cost, 1e-9)
			without(t, got.First, len(q.Tests)-1)
		}
	})
}

func without(t require.TestingT, s *plan.Step, test int) {
	require.False(t, s.Kind == plan.Look && s.Index == test)
	for _, b := range s.Branches {
		if b.Next != nil {
			without(t, b.Next, test)
		}
	}
}

// A free perfect test never raises the expected cost; neither does any other test or action more.
func TestMoreChoiceNeverCostsMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawn(t)
		before := solved(t, p, plan.Options{}).Cost
		perfect := p
		perfect.Tests = append(append([]plan.Test(nil), p.Tests...), perfectTest(len(p.P)))
		require.LessOrEqual(t, solved(t, perfect, plan.Options{}).Cost, before+1e-9)
		test := p
		test.Tests = append(append([]plan.Test(nil), p.Tests...), drawnTest(t, len(p.P)))
		require.LessOrEqual(t, solved(t, test, plan.Options{}).Cost, before+1e-9)
		action := p
		more := plan.Action{Cost: rapid.Float64Range(0, 100).Draw(t, "more cost"), Solves: make([]float64, len(p.P))}
		for c := range p.P {
			more.Solves[c] = rapid.SampledFrom([]float64{0, 0.3, 1}).Draw(t, "more solves")
		}
		action.Actions = append(append([]plan.Action(nil), p.Actions...), more)
		require.LessOrEqual(t, solved(t, action, plan.Options{}).Cost, before+1e-9)
	})
}

// perfectTest is free and names the cause.
func perfectTest(n int) plan.Test {
	var x plan.Test
	for c := range n {
		x.Outcomes = append(x.Outcomes, make([]float64, n))
		x.Outcomes[c][c] = 1
	}
	if n == 1 { // a test has two outcomes, here one that never shows
		x.Outcomes = append(x.Outcomes, []float64{0})
	}
	return x
}

// decide turns a table of profits into a problem: each decision is a free action that ends, its further cost what it falls short of a
// large sum under each state of affairs. What a free perfect test saves is then the expected value of perfect information.
func decide(p []float64, profits [][]float64) (problem plan.Problem, most float64) {
	most = 1e6
	problem = plan.Problem{P: p, HandOver: 10 * most}
	for _, row := range profits {
		a := plan.Action{Solves: make([]float64, len(p)), Extra: make([]float64, len(p))}
		for c, x := range row {
			a.Solves[c], a.Extra[c] = 1, most-x
		}
		problem.Actions = append(problem.Actions, a)
	}
	return problem, most
}

func TestValueOfPerfectInformation(t *testing.T) {
	for _, x := range []struct {
		source            string
		p                 []float64
		profits           [][]float64
		best, known, evpi float64
	}{
		{"liquisearch.com, expected value of perfect information, example", []float64{0.5, 0.3, 0.2},
			[][]float64{{1500, 300, -800}, {900, 600, -200}, {500, 500, 500}}, 680, 1030, 350},
		{"homeworksource.com/p/1012421", []float64{0.4, 0.6}, [][]float64{{100000, -15000}, {420000, -300000}, {0, 0}}, 31000, 168000, 137000},
		{"wizedu.com/questions/1331631", []float64{0.3, 0.2, 0.5},
			[][]float64{{100000, 70000, 20000}, {70000, 30000, -20000}, {40000, 25000, -10000}, {30000, 30000, 30000}}, 54000, 59000, 5000},
		{"own: one decision is best whatever the state, so knowing it is worth nothing", []float64{0.3, 0.7}, [][]float64{{5, 3}, {4, 1}}, 3.6, 3.6, 0},
	} {
		p, most := decide(x.p, x.profits)
		before := solved(t, p, plan.Options{})
		assert.InDelta(t, x.best, most-before.Cost, 1e-6, x.source)
		p.Tests = []plan.Test{perfectTest(len(x.p))}
		after := solved(t, p, plan.Options{})
		assert.InDelta(t, x.known, most-after.Cost, 1e-6, x.source)
		assert.InDelta(t, x.evpi, before.Cost-after.Cost, 1e-6, x.source)
		assert.Equal(t, x.evpi > 0, after.First.Kind == plan.Look, x.source)
	}
}

// A perfect test that costs exactly what it is worth leaves the cost as it is; one that costs more is not done.
func TestTestAtItsPrice(t *testing.T) {
	p, _ := decide([]float64{0.5, 0.3, 0.2}, [][]float64{{1500, 300, -800}, {900, 600, -200}, {500, 500, 500}})
	for cost, done := range map[float64]bool{349: true, 351: false} {
		x := perfectTest(3)
		x.Cost = cost
		p.Tests = []plan.Test{x}
		got := solved(t, p, plan.Options{})
		assert.Equal(t, done, got.First.Kind == plan.Look)
		assert.InDelta(t, math.Min(cost-350, 0), got.Cost-(1e6-680), 1e-6)
	}
}
