package score_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"ruledout/kb/rank/score"
)

// drawEvents draws events of which some share a stated value.
func drawEvents(t *rapid.T) []score.Event {
	one := rapid.Custom(func(t *rapid.T) score.Event {
		p := rapid.Float64Range(0, 1).Draw(t, "p")
		if rapid.Bool().Draw(t, "round") {
			p = math.Round(p*8) / 8
		}
		return score.Event{P: p, So: rapid.Bool().Draw(t, "so")}
	})
	return rapid.SliceOfN(one, 1, 40).Draw(t, "events")
}

// Murphy 1973: score = reliability - resolution + uncertainty, and every term is in [0, 1].
func TestDecompositionAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := drawEvents(t)
		d := score.Decompose(list)
		assert.InDelta(t, score.BrierBinary(list), d.Reliability-d.Resolution+d.Uncertainty, 1e-12)
		for _, x := range []float64{d.Reliability, d.Resolution, d.Uncertainty} {
			assert.True(t, x >= 0 && x <= 1, x)
		}
	})
}

// The three ways of putting the table into a number are in order, and never above the widest a gap can be.
func TestCalibrationErrorsAreInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := drawEvents(t)
		c := score.Calibrate(list, rapid.IntRange(1, 20).Draw(t, "bins"))
		assert.True(t, 0 <= c.ECE && c.ECE <= c.RMS+1e-12 && c.RMS <= c.Max+1e-12 && c.Max <= 1, c)
		n := 0
		for _, b := range c.Bins {
			n += b.N
			assert.True(t, b.N == 0 || b.From-1e-12 <= b.Stated && b.Stated <= b.To+1e-12, b)
		}
		assert.Equal(t, len(list), n)
	})
}

// Who only says 0 and 1, and is right, has no error, no loss and nothing to chance.
func TestTheAllKnowing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []score.Outcome
		for range rapid.IntRange(1, 30).Draw(t, "questions") {
			list = append(list, score.Outcome{Place: 1, Listed: 2, Top: 1, Right: 1, Brier: score.Brier([]float64{1, 0, 0}, 0)})
		}
		s := score.Summarize(list)
		assert.Zero(t, s.First.ECE+s.First.Max+s.First.Brier+s.First.ByChance.High+s.LogLoss+s.Brier)
		assert.Equal(t, []float64{1, 1, 1, 1}, []float64{s.Top1.Share, s.Top3.Share, s.Listed.Share, s.MRR})
		assert.True(t, s.First.Calibrated())
	})
}

// The order of the questions never matters, to the last digit.
func TestOrderOfQuestionsNeverMatters(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []score.Outcome
		for range rapid.IntRange(0, 25).Draw(t, "questions") {
			p := rapid.Float64Range(0.01, 0.99).Draw(t, "top")
			place := rapid.IntRange(0, 4).Draw(t, "place")
			right := 1 - p
			if place == 1 {
				right = p
			}
			list = append(list, score.Outcome{Place: place, Listed: rapid.IntRange(0, 4).Draw(t, "listed"), Top: p, Right: right, Brier: score.Brier([]float64{p, 1 - p}, min(place, 1))})
		}
		assert.Equal(t, score.Summarize(list), score.Summarize(rapid.Permutation(list).Draw(t, "order")))
	})
}

// A share lies inside its intervals, the exact one reaches further than Wilson's only where it must, and both are mirrored with the share.
func TestIntervalsHoldTheShare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 500).Draw(t, "n")
		x := rapid.IntRange(0, n).Draw(t, "x")
		level := rapid.SampledFrom([]float64{0.8, 0.9, 0.95, 0.99}).Draw(t, "level")
		share := float64(x) / float64(n)
		for _, of := range []func(int, int, float64) score.Interval{score.Wilson, score.Exact} {
			i, mirror := of(x, n, level), of(n-x, n, level)
			assert.True(t, 0 <= i.Low && i.Low <= share && share <= i.High && i.High <= 1, i)
			assert.InDelta(t, i.Low, 1-mirror.High, 1e-9)
		}
	})
}

// Outcomes drawn from what was stated are within the chance that PerfectECE states, about nine times out of ten: a forecaster who is
// calibrated passes, one who doubles the odds does not.
func TestChanceTellsCalibratedFromSure(t *testing.T) {
	passed, caught := 0, 0
	for trial := range 200 {
		list := drawn(uint64(trial))
		if score.Summarize(list).First.Calibrated() {
			passed++
		}
		for i := range list {
			list[i].Top = list[i].Top * list[i].Top / (list[i].Top*list[i].Top + (1-list[i].Top)*(1-list[i].Top))
		}
		if !score.Summarize(list).First.Calibrated() {
			caught++
		}
	}
	assert.InDelta(t, 190, passed, 10) // 95 % of 200, two standard deviations of 3.1 and a half
	assert.Greater(t, caught, 190)
}
