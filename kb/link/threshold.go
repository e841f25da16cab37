package link

import "math"

// Verdict is what becomes of a pair.
type Verdict string

// The verdicts.
const (
	Duplicate Verdict = "duplicate"
	LookAtIt  Verdict = "look at it"
	Apart     Verdict = "apart"
)

// ErrorRates are the errors that thresholds may make by the model's own estimate, each a share from 0 to 1.
type ErrorRates struct {
	False  float64 // of the pairs proposed as duplicates, those that are two
	Missed float64 // of the pairs that are one, those below both thresholds
}

// DefaultErrors are the errors that are allowed.
func DefaultErrors() ErrorRates { return ErrorRates{False: 0.01, Missed: 0.05} }

// Thresholds part the pairs by their weight, in bits without the prior.
type Thresholds struct {
	Duplicate float64    // from here on a duplicate
	Look      float64    // from here on worth a look
	Estimated ErrorRates // what the model expects of them
}

// Of gives the verdict on a weight.
func (t Thresholds) Of(bits float64) Verdict {
	switch {
	case bits >= t.Duplicate:
		return Duplicate
	case bits >= t.Look:
		return LookAtIt
	}
	return Apart
}

// The posterior probabilities below which a single pair is not proposed, or not shown, whatever the average error allows: the fields
// hang together, so the rates are estimated somewhat too good.
const (
	leastDuplicate = 0.95
	leastLook      = 0.2
)

// Weights are put on a grid to add their distributions: of this step, in bits, and this far to both sides.
const (
	gridStep = 1.0 / 16
	gridHalf = 80 * 16
)

// Thresholds chooses them so that the errors stay within what is allowed, by the distributions of the weight that the model gives to pairs that
// are one and pairs that are two (Fellegi and Sunter's error rates lambda and mu; here the false share is counted among
// the proposed ones, which is what a moderator meets).
func (m *Model) Thresholds(allowed ErrorRates) Thresholds {
	one, two := m.distributions()
	t := Thresholds{Duplicate: m.bitsFor(leastDuplicate), Look: m.bitsFor(leastLook)}
	proposed, wrong := 0.0, 0.0
	best := float64(gridHalf) * gridStep
	for i := len(one) - 1; i >= 0; i-- {
		proposed += m.Prior * one[i]
		wrong += (1 - m.Prior) * two[i]
		if wrong <= allowed.False*(proposed+wrong) && proposed+wrong > 0 {
			best = bitsAt(i)
		}
	}
	t.Duplicate = max(t.Duplicate, best-gridStep/2)
	t.Look = min(max(t.Look, lookFrom(one, allowed.Missed)), t.Duplicate)
	t.Estimated = m.rates(one, two, t)
	return t
}

// lookFrom gives the highest weight below which no more than the allowed share of those that are one lies.
func lookFrom(one []float64, missed float64) float64 {
	below := 0.0
	for i, p := range one {
		if below += p; below > missed {
			return bitsAt(i) - gridStep/2
		}
	}
	return bitsAt(len(one) - 1)
}

func (m *Model) rates(one, two []float64, t Thresholds) ErrorRates {
	var r ErrorRates
	proposed, wrong := 0.0, 0.0
	for i := range one {
		if bitsAt(i) >= t.Duplicate {
			proposed += m.Prior * one[i]
			wrong += (1 - m.Prior) * two[i]
		}
		if bitsAt(i) < t.Look {
			r.Missed += one[i]
		}
	}
	if proposed+wrong > 0 {
		r.False = wrong / (proposed + wrong)
	}
	return r
}

func bitsAt(i int) float64 { return float64(i-gridHalf) * gridStep }

// distributions gives how the weight of pairs that are one, and of those that are two, is distributed over the grid.
func (m *Model) distributions() (one, two []float64) {
	one, two = make([]float64, 2*gridHalf+1), make([]float64, 2*gridHalf+1)
	one[gridHalf], two[gridHalf] = 1, 1
	for f, field := range m.Fields {
		one = m.spread(one, f, func(l Level) float64 { return (1 - field.Missing) * l.M })
		two = m.spread(two, f, func(l Level) float64 { return (1 - field.Missing) * l.U })
	}
	return one, two
}

// spread adds the weight of one more field to a distribution.
func (m *Model) spread(before []float64, f int, share func(Level) float64) []float64 {
	after := make([]float64, len(before))
	for i, p := range before {
		after[i] = p * m.Fields[f].Missing
	}
	for n, l := range m.Fields[f].Levels {
		by := int(math.Round(m.Weight(f, uint8(n+1)) / gridStep))
		for i, p := range before {
			if p > 0 {
				after[min(max(i+by, 0), len(after)-1)] += p * share(l)
			}
		}
	}
	return after
}
