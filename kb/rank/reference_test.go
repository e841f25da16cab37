package rank_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"

	"ruledout/kb/rank"
)

// Choosing a test: the used car of Jensen and Nielsen, Bayesian Networks and Decision Graphs (2nd ed. 2007), exercise; inputs published,
// mutual information and posteriors computed. Test 1 says none, defect or inconclusive, test 2 none or defect; test 1 tells more.
func TestInformationOfATest(t *testing.T) {
	car := []float64{0.7, 0.3} // good, bad
	assert.InDelta(t, 0.881290899, rank.Entropy(0.3), 1e-9)
	one, each := rank.Information(car, []float64{0.8, 0.05}, []float64{0.05, 0.75})
	assert.InDelta(t, 0.476803406, one, 1e-9)
	assert.InDeltaSlice(t, []float64{0.575, 0.26}, each, 1e-12, "the rest, 0.165, is inconclusive")
	two, each := rank.Information(car, []float64{0.2, 0.75})
	assert.InDelta(t, 0.198022346, two, 1e-9)
	assert.InDelta(t, 0.365, each[0], 1e-12)
	for _, o := range []struct{ good, bad, want float64 }{{0.8, 0.05, 0.026086957}, {0.05, 0.75, 0.865384615}, {0.15, 0.2, 0.363636364}, {0.8, 0.25, 0.118110236}, {0.2, 0.75, 0.616438356}} {
		assert.InDelta(t, o.want, posterior(car, []rank.Rate{share(o.good), share(o.bad)})[1], 5e-10)
	}
}

// Play-tennis data (Quinlan 1986; Mitchell, Machine Learning, 1997, ch. 3, which prints gains of 0.246, 0.151, 0.048 and 0.029 bits, and
// 0.970, 0.570 and 0.019 inside the sunny days): each attribute's days by value, with tennis and without.
func TestInformationOfPlayTennis(t *testing.T) {
	assert.InDelta(t, 0.940285959, rank.Entropy(9.0/14), 1e-9)
	for _, a := range []struct {
		name    string
		yes, no []float64
		want    float64
	}{
		{"outlook: sunny, overcast, rain", []float64{2, 4, 3}, []float64{3, 0, 2}, 0.246749820},
		{"humidity: high, normal", []float64{3, 6}, []float64{4, 1}, 0.151835501},
		{"wind: strong, weak", []float64{3, 6}, []float64{3, 2}, 0.048127030},
		{"temperature: hot, mild, cool", []float64{2, 4, 3}, []float64{2, 2, 1}, 0.029222566},
		{"sunny, humidity: high, normal", []float64{0, 2}, []float64{3, 0}, 0.970950594},
		{"sunny, temperature: hot, mild, cool", []float64{0, 1, 1}, []float64{2, 1, 0}, 0.570950594},
		{"sunny, wind: strong, weak", []float64{1, 1}, []float64{1, 2}, 0.019973094},
	} {
		yes, no := floats(a.yes), floats(a.no)
		var outcomes [][]float64
		for v := range a.yes[1:] {
			outcomes = append(outcomes, []float64{a.yes[v] / yes, a.no[v] / no})
		}
		bits, _ := rank.Information([]float64{yes / (yes + no), no / (yes + no)}, outcomes...)
		assert.InDelta(t, a.want, bits, 1e-9, a.name)
	}
}

// A test whose result is the same under every culprit tells nothing, however many results it has.
func TestInformationOfAnIdleTest(t *testing.T) {
	bits, _ := rank.Information([]float64{0.2, 0.5, 0.3}, []float64{0.4, 0.4, 0.4})
	assert.InDelta(t, 0, bits, 1e-12)
	bits, _ = rank.Information([]float64{0.2, 0.5, 0.3}, []float64{0.4, 0.4, 0.4}, []float64{0.1, 0.1, 0.1})
	assert.InDelta(t, 0, bits, 1e-12)
}

// trigamma(1) = pi^2/6 and trigamma(1/2) = pi^2/2 (Abramowitz and Stegun, 6.4.2 and 6.4.4).
func TestTrigamma(t *testing.T) {
	assert.InDelta(t, math.Pi*math.Pi/6, rank.Trigamma(1), 1e-12)
	assert.InDelta(t, math.Pi*math.Pi/2, rank.Trigamma(0.5), 1e-12)
}

// Beta posteriors of the library that the intervals are compared with: Gelman et al., Bayesian Data Analysis (3rd ed.), p. 37, placenta
// previa, 437 of 980 under a uniform prior: 95 % interval 0.415 to 0.477.
func TestBetaQuantilesOfTheLibrary(t *testing.T) {
	b := distuv.Beta{Alpha: 438, Beta: 544}
	assert.InDelta(t, 0.41506549, b.Quantile(0.025), 1e-7)
	assert.InDelta(t, 0.47719977, b.Quantile(0.975), 1e-7)
	assert.InDelta(t, 0.44602851, b.Mean(), 1e-8)
}
