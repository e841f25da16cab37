package link_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb/link"
)

// twoLevels makes a field that agrees or does not.
func twoLevels(name string, m, u float64) link.Field {
	return link.Field{Name: name, Levels: []link.Level{{Name: "agree", M: m, U: u}, {Name: "disagree", M: 1 - m, U: 1 - u}}}
}

// Weights as printed in "Understanding the Master Index Match Engine", table 17 (docs.oracle.com/cd/E19509-01/820-4000); they are cut or
// rounded to two decimals there. The last row is the street name of Esri's FAQ 000006275.
func TestPublishedWeights(t *testing.T) {
	var m link.Model
	most, least := 0.0, 0.0
	for i, row := range []struct {
		name                        string
		m, u, agree, disagree, with float64
	}{
		{"first name", 0.996, 0.004, 7.96, -7.96, 0.01},
		{"last name", 0.996, 0.004, 7.96, -7.96, 0.01},
		{"date of birth", 0.97, 0.007, 7.11, -5.04, 0.01},
		{"gender", 0.97, 0.03, 5.01, -5.01, 0.01},
		{"social security number", 0.999, 0.001, 9.96, -9.96, 0.01},
		{"street name", 0.9, 0.01, 6.49, math.Log2(0.1 / 0.99), 0.005},
	} {
		m.Fields = append(m.Fields, twoLevels(row.name, row.m, row.u))
		assert.InDelta(t, row.agree, m.Weight(i, 1), row.with, row.name)
		assert.InDelta(t, row.disagree, m.Weight(i, 2), row.with, row.name)
		assert.Zero(t, m.Weight(i, 0), row.name)
		if i < 5 {
			most, least = most+m.Weight(i, 1), least+m.Weight(i, 2)
		}
	}
	assert.InDelta(t, 38, most, 0.05, "printed as 38")
	assert.InDelta(t, -35.93, least, 0.05)
}

// The posterior is Bayes' rule: with a prior of 1 in 1,000 and 10 bits, odds of 1024 to 999.
func TestPosterior(t *testing.T) {
	m := link.Model{Prior: 0.001, Fields: []link.Field{twoLevels("x", 0.512, 0.0005)}}
	assert.InDelta(t, 10, m.Bits(link.Vector{1}), 1e-12)
	assert.InDelta(t, 1024.0/(1024+999), m.Probability(link.Vector{1}), 1e-12)
	assert.InDelta(t, 0.001, m.Probability(link.Vector{0}), 1e-12)
}

func TestStartIsAModel(t *testing.T) {
	m := link.Start()
	for _, f := range m.Fields {
		one, two := 0.0, 0.0
		last := math.Inf(1)
		for i, l := range f.Levels {
			one, two = one+l.M, two+l.U
			ratio := l.M / l.U
			assert.LessOrEqual(t, ratio, last, "%s: %s", f.Name, l.Name)
			assert.True(t, !l.Held || i == len(f.Levels)-1, "%s: a held level stands last", f.Name)
			last = ratio
		}
		assert.InDelta(t, 1, one, 1e-9, f.Name)
		assert.InDelta(t, 1, two, 1e-9, f.Name)
	}
}

// draw gives n pairs of a model.
func draw(m *link.Model, n int, seed uint64) []link.Vector {
	rnd := rand.New(rand.NewPCG(seed, 1))
	out := make([]link.Vector, n)
	for i := range out {
		one := rnd.Float64() < m.Prior
		out[i] = make(link.Vector, len(m.Fields))
		for f, field := range m.Fields {
			if rnd.Float64() < field.Missing {
				continue
			}
			x := rnd.Float64()
			for l, level := range field.Levels {
				p := level.U
				if one {
					p = level.M
				}
				out[i][f] = uint8(l + 1)
				if x -= p; x < 0 {
					break
				}
			}
		}
	}
	return out
}

func planted() *link.Model {
	m := &link.Model{Prior: 0.1}
	for _, p := range [][2]float64{{0.9, 0.2}, {0.85, 0.1}, {0.95, 0.4}, {0.7, 0.05}, {0.8, 0.15}} {
		m.Fields = append(m.Fields, link.Field{Name: "f", Missing: 0.2, Levels: []link.Level{
			{Name: "agree", M: p[0], U: p[1]}, {Name: "partly", M: (1 - p[0]) * 0.6, U: (1 - p[1]) * 0.3}, {Name: "disagree", M: (1 - p[0]) * 0.4, U: (1 - p[1]) * 0.7}}})
	}
	return m
}

// From a starting point that is off and counts for next to nothing, the planted parameters come out within what sampling allows: five
// standard errors of a share of as many pairs, trebled since the class of a pair is not seen.
func TestEMRecoversPlantedParameters(t *testing.T) {
	truth := planted()
	const n = 60_000
	start := truth.Clone()
	start.Prior = 0.3
	for f := range start.Fields {
		l := start.Fields[f].Levels
		l[0].M, l[1].M, l[2].M = 0.6, 0.25, 0.15
		l[0].U, l[1].U, l[2].U = 0.3, 0.3, 0.4
	}
	got := link.Fit(start, link.Patterns(draw(truth, n, 7)), link.FitOptions{Rounds: 500, OfOne: 1, OfTwo: 1, OfPrior: 1})
	require.True(t, got.Converged, "after %d rounds", got.Rounds)
	require.False(t, got.Switched)
	within := func(p, pairs float64) float64 { return 3 * 5 * math.Sqrt(p*(1-p)/pairs) }
	assert.InDelta(t, truth.Prior, got.Model.Prior, within(truth.Prior, n))
	for f, field := range truth.Fields {
		assert.InDelta(t, field.Missing, got.Model.Fields[f].Missing, within(field.Missing, n))
		for i, l := range field.Levels {
			assert.InDelta(t, l.M, got.Model.Fields[f].Levels[i].M, within(l.M, n*truth.Prior*0.8), "M of field %d, level %d", f, i)
			assert.InDelta(t, l.U, got.Model.Fields[f].Levels[i].U, within(l.U, n*(1-truth.Prior)*0.8), "U of field %d, level %d", f, i)
		}
	}
}

// Without pairs, and with few, the starting point stands.
func TestFewPairsHardlyMoveTheStart(t *testing.T) {
	start := link.Start()
	assert.Equal(t, start, link.Fit(start, nil, link.DefaultFit()).Model)
	v := make(link.Vector, len(start.Fields))
	v[0], v[1] = 1, 1
	got := link.Fit(start, link.Patterns([]link.Vector{v, v}), link.DefaultFit()).Model
	assert.InDelta(t, start.Prior, got.Prior, 0.01)
	assert.InDelta(t, start.Weight(0, 1), got.Weight(0, 1), 0.2)
}

// anyPairs draws pairs without any structure.
func anyPairs(rt *rapid.T, m *link.Model) []link.Vector {
	return rapid.SliceOfN(rapid.Custom(func(rt *rapid.T) link.Vector {
		v := make(link.Vector, len(m.Fields))
		for f := range v {
			v[f] = uint8(rapid.IntRange(0, len(m.Fields[f].Levels)).Draw(rt, "level"))
		}
		return v
	}), 0, 80).Draw(rt, "pairs")
}

// Whatever the pairs: shares add to one, held levels stay, more agreement never weighs less, and the order of the pairs does not matter.
func TestAFitKeepsTheLaws(t *testing.T) {
	start := link.Start()
	rapid.Check(t, func(rt *rapid.T) {
		pairs := anyPairs(rt, start)
		opt := link.FitOptions{Rounds: 30, OfOne: 2, OfTwo: 2, OfPrior: 2}
		got := link.Fit(start, link.Patterns(pairs), opt).Model
		for f, field := range got.Fields {
			one, two := 0.0, 0.0
			for i, l := range field.Levels {
				one, two = one+l.M, two+l.U
				if l.Held {
					assert.Equal(rt, start.Fields[f].Levels[i].M, l.M)
				}
				if i > 0 && !l.Held {
					assert.LessOrEqual(rt, got.Weight(f, uint8(i+1)), got.Weight(f, uint8(i))+1e-9, field.Name)
				}
			}
			assert.InDelta(rt, 1, one, 1e-6)
			assert.InDelta(rt, 1, two, 1e-6)
		}
		shuffled := rapid.Permutation(pairs).Draw(rt, "shuffled")
		assert.Equal(rt, got, link.Fit(start, link.Patterns(shuffled), opt).Model)
	})
}

// More agreement in one field never makes a pair less probable.
func TestTheScoreFollowsAgreement(t *testing.T) {
	start := link.Start()
	rapid.Check(t, func(rt *rapid.T) {
		pairs := append(anyPairs(rt, start), make(link.Vector, len(start.Fields)))
		m := link.Fit(start, link.Patterns(pairs), link.FitOptions{Rounds: 10, OfOne: 5, OfTwo: 5, OfPrior: 5}).Model
		v := pairs[0]
		for f := range v {
			for level := uint8(1); int(level) < len(m.Fields[f].Levels); level++ {
				more, less := append(link.Vector{}, v...), append(link.Vector{}, v...)
				more[f], less[f] = level, level+1
				if !m.Fields[f].Levels[level].Held {
					assert.GreaterOrEqual(rt, m.Probability(more)+1e-12, m.Probability(less))
				}
			}
		}
	})
}

// The distribution on the grid gives the error rates that drawing pairs of the model gives.
func TestThresholdsKeepTheirErrors(t *testing.T) {
	m := planted()
	for _, allowed := range []link.ErrorRates{{False: 0.01, Missed: 0.05}, {False: 0.1, Missed: 0.2}} {
		th := m.Thresholds(allowed)
		assert.LessOrEqual(t, th.Look, th.Duplicate)
		assert.LessOrEqual(t, th.Estimated.False, allowed.False+1e-3)
		const n = 400_000
		proposed, expectedWrong := 0.0, 0.0
		for _, v := range draw(m, n, 3) {
			if th.Of(m.Bits(v)) == link.Duplicate {
				proposed++
				expectedWrong += 1 - m.Probability(v)
			}
		}
		assert.InDelta(t, th.Estimated.False, expectedWrong/proposed, 0.003)
	}
}

func TestVerdicts(t *testing.T) {
	th := link.Thresholds{Duplicate: 8, Look: 3}
	assert.Equal(t, link.Duplicate, th.Of(8))
	assert.Equal(t, link.LookAtIt, th.Of(7.9))
	assert.Equal(t, link.Apart, th.Of(2.9))
}

func TestExplainIsTheSum(t *testing.T) {
	m := link.Start()
	v := draw(m, 1, 5)[0]
	sum := 0.0
	for _, w := range m.Explain(v) {
		sum += w.Bits
	}
	assert.InDelta(t, m.Bits(v), sum, 1e-9)
}
