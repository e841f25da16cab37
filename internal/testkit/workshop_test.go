package testkit_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/testkit"
	"ruledout/kb"
)

func shop(mentioned float64) *testkit.Workshop {
	return testkit.NewWorkshop(testkit.WorkshopConfig{Seed: 5, Codes: 8, Sizes: [][2]int{{20, 40}, {2, 3}},
		Mentioned: mentioned, MakeTilt: 0.4, ModelTilt: 0.3, Present: 1, MentionLevel: -0.5, SharedRates: 0.5, WrongCredit: 0.03})
}

func TestWorkshopIsDrawnBySeed(t *testing.T) {
	assert.Equal(t, shop(1).Cases(), shop(1).Cases())
	assert.Equal(t, shop(1).Questions(20, testkit.Everything(), 1), shop(1).Questions(20, testkit.Everything(), 1))
	assert.NotEqual(t, shop(1).Questions(20, testkit.Everything(), 1), shop(1).Questions(20, testkit.Everything(), 2))
}

func TestWorkshopCasesAreEvidence(t *testing.T) {
	for _, c := range shop(0).Cases() {
		require.Empty(t, c.Validate(), "%+v", c)
		require.True(t, c.IsEvidence())
		require.Empty(t, c.Proofs())
	}
	for _, q := range shop(0).Questions(50, testkit.Everything(), 0) {
		require.Empty(t, q.Case.Validate())
		require.False(t, q.Case.IsEvidence())
	}
}

// The stated truth is exact only if the posterior is calibrated: its mean surprise is its mean entropy, whatever a question tells
// (Gibbs: no other distribution is less surprised on average).
func TestWorkshopPosteriorIsCalibrated(t *testing.T) {
	for _, mentioned := range []float64{1, 0} {
		for _, tell := range []testkit.Evidence{{}, {Symptoms: true}, {Tests: true}, {Fixes: true}, testkit.Everything()} {
			var sum, square, n float64
			for _, q := range shop(mentioned).Questions(4000, tell, 0) {
				entropy := 0.0
				for _, p := range q.Posterior {
					if p > 0 {
						entropy -= p * math.Log(p)
					}
				}
				x := -math.Log(q.Posterior[q.Culprit]) - entropy
				sum, square, n = sum+x, square+x*x, n+1
			}
			assert.Less(t, math.Abs(sum), 4*math.Sqrt(square), "%+v, spread of mention %v", tell, mentioned)
		}
	}
}

// A ranker that knows the truth leaves nothing to be measured.
func TestEvaluateTheTruth(t *testing.T) {
	list := shop(1).Questions(500, testkit.Everything(), 0)
	at := 0
	m := testkit.Evaluate(func(kb.Case) kb.Answer {
		a := kb.Answer{Fixes: ranked(list[at].Posterior)}
		at++
		return a
	}, list)
	assert.InDelta(t, m.BayesLogLoss, m.LogLoss, 1e-9)
	assert.InDelta(t, m.BayesTop1, m.Top1, 1e-9)
	assert.InDelta(t, 1, m.Coverage, 1e-9)
	assert.Less(t, m.ECE, m.ECE95)
	for _, s := range m.Unlisted {
		assert.Zero(t, s.Actual)
	}
}

func ranked(p map[string]float64) []kb.RankedFix {
	var out []kb.RankedFix
	for len(out) < len(p) {
		best := kb.RankedFix{Probability: -1}
		for f, x := range p {
			if x > best.Probability && (len(out) == 0 || x < out[len(out)-1].Probability) {
				best = kb.RankedFix{Component: f, Probability: x, Low: x - 1e-12, High: x + 1e-12}
			}
		}
		if best.Probability < 0 {
			break
		}
		out = append(out, best)
	}
	return out
}

// Expected calibration error by hand: bins 0.1 (one of two true), 0.9 (both true), own derivation.
func TestCalibrationError(t *testing.T) {
	got := testkit.CalibrationError([]float64{0.1, 0.1, 0.9, 1}, []bool{true, false, true, true})
	assert.InDelta(t, (0.8+0.1)/4, got, 1e-12)
}
