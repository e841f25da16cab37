package score_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/kb/rank/score"
)

// events pairs probabilities with 0 and 1.
func events(p []float64, so []int) []score.Event {
	out := make([]score.Event, len(p))
	for i := range p {
		out[i] = score.Event{P: p[i], So: so[i] == 1}
	}
	return out
}

// First right answer at place 3, 2 and 1: 11/18 (the worked example of the encyclopedia article on mean reciprocal rank, from memory; the
// arithmetic is plain). A question without a right answer counts 0: own derivation.
func TestReciprocalRank(t *testing.T) {
	assert.InDelta(t, 11.0/18, score.ReciprocalRank([]int{3, 2, 1}), 1e-15)
	assert.InDelta(t, 11.0/24, score.ReciprocalRank([]int{3, 0, 2, 1}), 1e-15)
	assert.True(t, math.IsNaN(score.ReciprocalRank(nil)))
}

func TestTopK(t *testing.T) {
	places := []int{3, 2, 1, 0, 1, 4}
	assert.Equal(t, 2, score.TopK(places, 1))
	assert.Equal(t, 4, score.TopK(places, 3))
	assert.Zero(t, score.TopK(nil, 1))
}

// Own derivation: ln 2 and ln 4.
func TestLogLoss(t *testing.T) {
	assert.InDelta(t, math.Ln2*1.5, score.LogLoss([]float64{0.5, 0.25}), 1e-15)
	assert.True(t, math.IsInf(score.LogLoss([]float64{0.5, 0}), 1))
}

// scikit-learn, docstring and test of brier_score_loss: 0.0375; a single 0.4 gives 0.16 or 0.36.
func TestBrierBinary(t *testing.T) {
	assert.InDelta(t, 0.0375, score.BrierBinary(events([]float64{0.1, 0.9, 0.8, 0.3}, []int{0, 1, 1, 0})), 1e-15)
	assert.InDelta(t, 0.16, score.BrierBinary(events([]float64{0.4}, []int{0})), 1e-15)
	assert.InDelta(t, 0.36, score.BrierBinary(events([]float64{0.4}, []int{1})), 1e-15)
}

// Over both values of a two-valued event the form for several classes is twice the two-valued one (Brier 1950): 0.32 and 0.72. Three classes:
// own derivation, 0.5^2 + 0.3^2 + 0.2^2 with the first, second or third so.
func TestBrierOverAllAnswers(t *testing.T) {
	assert.InDelta(t, 0.32, score.Brier([]float64{0.6, 0.4}, 0), 1e-15)
	assert.InDelta(t, 0.72, score.Brier([]float64{0.6, 0.4}, 1), 1e-15)
	for right, want := range []float64{0.38, 0.78, 0.98} {
		assert.InDelta(t, want, score.Brier([]float64{0.5, 0.3, 0.2}, right), 1e-15)
	}
}

// Formula of Murphy 1973, one group for each stated value; the figures are computed from it by hand.
func TestDecomposeOneGroupForEachStatedValue(t *testing.T) {
	list := events([]float64{0.25, 0.25, 0.55, 0.75, 0.75}, []int{0, 0, 1, 1, 1})
	d := score.Decompose(list)
	assert.InDelta(t, 0.0905, score.BrierBinary(list), 1e-15)
	assert.InDelta(t, 0.0905, d.Reliability, 1e-15)
	assert.InDelta(t, 0.24, d.Resolution, 1e-15)
	assert.InDelta(t, 0.24, d.Uncertainty, 1e-15)
}

// Stephenson and others 2008: over bins that hold different values the three terms do not add up to the score. So the decomposition must not
// be taken from the table of calibration.
func TestDecompositionDoesNotHoldOverBins(t *testing.T) {
	list := events([]float64{0.1, 0.4, 0.6, 0.9}, []int{0, 1, 0, 1})
	base, binned := 0.5, 0.25
	for _, b := range score.Calibrate(list, 2).Bins {
		weight := float64(b.N) / 4
		binned += weight * (math.Pow(b.Stated-b.Share(), 2) - math.Pow(b.Share()-base, 2))
	}
	d := score.Decompose(list)
	assert.InDelta(t, score.BrierBinary(list), d.Reliability-d.Resolution+d.Uncertainty, 1e-15)
	assert.Greater(t, math.Abs(binned-score.BrierBinary(list)), 0.02)
}

// torchmetrics, docstring of binary_calibration_error: 0.2900, 0.2918 and 0.3167 with norm l1, l2 and max in two bins; exact 0.29,
// 0.291833286 and 19/60. The three are variants of one measure: never compare one with another.
func TestCalibrationErrorMeanRootMeanSquareAndWidest(t *testing.T) {
	c := score.Calibrate(events([]float64{0.25, 0.25, 0.55, 0.75, 0.75}, []int{0, 0, 1, 1, 1}), 2)
	assert.InDelta(t, 0.29, c.ECE, 1e-15)
	assert.InDelta(t, 0.291833286, c.RMS, 1e-9)
	assert.InDelta(t, 19.0/60, c.Max, 1e-15)
	require.Len(t, c.Bins, 2)
	assert.Equal(t, []int{2, 3}, []int{c.Bins[0].N, c.Bins[1].N})
	assert.InDelta(t, 2.05/3, c.Bins[1].Stated, 1e-15)
	assert.InDelta(t, 1, c.Bins[1].Share(), 1e-15)
}

// A bound belongs to the bin above it, 1 to the last, also where the product of probability and number of bins is a hair below: own derivation.
func TestBoundsOfBins(t *testing.T) {
	in := func(p float64, n int) int {
		for i, b := range score.Calibrate([]score.Event{{P: p}}, n).Bins {
			if b.N > 0 {
				return i
			}
		}
		return -1
	}
	for i := range 100 {
		assert.Equal(t, i, in(float64(i)/100, 100), "%d/100", i)
		assert.Equal(t, max(i-1, 0), in(math.Nextafter(float64(i)/100, -1), 100), "below %d/100", i)
	}
	assert.Equal(t, 99, in(1, 100))
	assert.Equal(t, 0, in(0, 1))
}

// The error by chance of n events that are all stated at 0.5: |x - n/2| / n with x binomial. With n = 2 it is 0 or 0.5, each half of the
// time; with n = 100 its 95th percentile is 0.10, since x is 40 to 60 with probability 0.9648 and 41 to 59 with 0.9431. Own derivation.
func TestPerfectECE(t *testing.T) {
	half := func(n int) []float64 {
		out := make([]float64, n)
		for i := range out {
			out[i] = 0.5
		}
		return out
	}
	r := score.Redraw{Times: 4000, Seed: 7}
	two := score.PerfectECE(half(2), 10, r)
	assert.Equal(t, []float64{0, 0.5}, []float64{two.Low, two.High})
	hundred := score.PerfectECE(half(100), 10, r)
	assert.InDelta(t, 0.10, hundred.High, 1e-12)
	assert.InDelta(t, 0.03, hundred.Median, 0.0101)
	assert.Equal(t, hundred, score.PerfectECE(half(100), 10, r))
	assert.Equal(t, score.Spread{}, score.PerfectECE([]float64{0, 1, 1}, 10, r), "what is certain leaves nothing to chance")
	assert.Equal(t, score.Spread{}, score.PerfectECE(nil, 10, r))
}

// Intervals at 95 %: R package binom, as recorded in statsmodels, stats/tests/results/results_proportion.py.
func TestIntervalsOfShares(t *testing.T) {
	for _, c := range []struct {
		x, n          int
		wilson, exact score.Interval
		within        float64
	}{
		{18, 20, score.Interval{Low: 0.6989663547715128, High: 0.972133518786232}, score.Interval{Low: 0.6830172859809176, High: 0.9876514728297052}, 1e-12},
		{4, 20, score.Interval{Low: 0.0806576625797981, High: 0.4160174322518935}, score.Interval{Low: 0.05733399705003284, High: 0.436614002996668}, 1e-12},
		{4, 200, score.Interval{Low: 0.00780442641634947, High: 0.05028708690582643}, score.Interval{Low: 0.005475565879556443, High: 0.05041360908989634}, 1e-12},
		{190, 200, score.Interval{Low: 0.910421851861224, High: 0.972617354399236}, score.Interval{Low: 0.9099724622986486, High: 0.975765834527891}, 1e-12},
		{1, 30, score.Interval{Low: 0.00590859, High: 0.16670391}, score.Interval{Low: 0.0008435709, High: 0.17216946}, 1e-8},
		{0, 30, score.Interval{Low: 0, High: 0.11351339}, score.Interval{Low: 0, High: 0.11570331}, 1e-8},
		{30, 30, score.Interval{Low: 0.8864866, High: 1}, score.Interval{Low: 0.8842967, High: 1}, 1e-7},
	} {
		w, e := score.Wilson(c.x, c.n, 0.95), score.Exact(c.x, c.n, 0.95)
		assert.InDeltaSlice(t, []float64{c.wilson.Low, c.wilson.High}, []float64{w.Low, w.High}, c.within, "Wilson %d/%d", c.x, c.n)
		assert.InDeltaSlice(t, []float64{c.exact.Low, c.exact.High}, []float64{e.Low, e.High}, c.within, "exact %d/%d", c.x, c.n)
	}
	assert.Equal(t, score.Interval{Low: 0, High: 1}, score.Wilson(0, 0, 0.95))
	assert.Equal(t, score.Interval{Low: 0, High: 1}, score.Exact(0, 0, 0.95))
}

// Two-sided 90 % for 4 of 20: exact as in the NIST/SEMATECH e-Handbook, 7.2.4.1 (0.071354, 0.401029; from memory, the last digit of the upper
// bound is off by its rounding: 0.4010281), Wilson by formula.
func TestIntervalsAtNinetyPercent(t *testing.T) {
	e, w := score.Exact(4, 20, 0.90), score.Wilson(4, 20, 0.90)
	assert.InDeltaSlice(t, []float64{0.0713538843, 0.4010281173}, []float64{e.Low, e.High}, 1e-9)
	assert.InDeltaSlice(t, []float64{0.09311802, 0.37837669}, []float64{w.Low, w.High}, 1e-8)
}
