package score

import (
	"maps"
	"slices"
)

// Brier gives the score of one question over all its answers (Brier 1950, in its form for several classes): the sum of (p - o)^2, o being 1
// for what was so and 0 for the rest, in [0, 2]. right is the place of what was so in stated, which sums to 1.
func Brier(stated []float64, right int) float64 {
	sum := 0.0
	for i, p := range stated {
		if i == right {
			p = 1 - p
		}
		sum += p * p
	}
	return sum
}

// Event is a two-valued event with the probability that was stated for it, in [0, 1].
type Event struct {
	P  float64
	So bool
}

// share is 1 for an event that came true.
func (e Event) share() float64 {
	if e.So {
		return 1
	}
	return 0
}

// BrierBinary gives the mean of (p - o)^2 over two-valued events, in [0, 1]: half of what the form over both values gives. NaN without events.
func BrierBinary(events []Event) float64 {
	terms := make([]float64, len(events))
	for i, e := range events {
		d := e.P - e.share()
		terms[i] = d * d
	}
	return mean(terms)
}

// Decomposition splits a Brier score of two-valued events: score = reliability - resolution + uncertainty. Each is in [0, 1].
type Decomposition struct {
	Reliability float64 `json:"reliability"` // how far what was stated is from what was so; 0 is perfect
	Resolution  float64 `json:"resolution"`  // how far the questions are told apart; more is better
	Uncertainty float64 `json:"uncertainty"` // of the event itself, whatever is stated
}

// Decompose splits the Brier score after Murphy 1973, with one group for each stated value. Over bins of several values the three terms would
// not add up to the score (Stephenson, Coelho and Jolliffe 2008, Wea. Forecasting 23, 752-757), which is why there are none here.
func Decompose(events []Event) Decomposition {
	groups := map[float64][]float64{}
	all := make([]float64, len(events))
	for i, e := range events {
		all[i] = e.share()
		groups[e.P] = append(groups[e.P], all[i])
	}
	base := mean(all)
	d := Decomposition{Uncertainty: base * (1 - base)}
	for _, p := range slices.Sorted(maps.Keys(groups)) {
		weight, share := float64(len(groups[p]))/float64(len(events)), mean(groups[p])
		d.Reliability += weight * (p - share) * (p - share)
		d.Resolution += weight * (share - base) * (share - base)
	}
	return d
}
