package score

import (
	"cmp"
	"math"
	"slices"
)

// TopK counts the questions whose first right answer stands among the first k. Places count from 1; 0 is "not among those listed".
func TopK(places []int, k int) int {
	n := 0
	for _, at := range places {
		if at >= 1 && at <= k {
			n++
		}
	}
	return n
}

// ReciprocalRank gives the mean of 1/place of the first right answer, in [0, 1]; a question without one counts 0. NaN without questions.
func ReciprocalRank(places []int) float64 {
	terms := make([]float64, len(places))
	for i, at := range places {
		if at >= 1 {
			terms[i] = 1 / float64(at)
		}
	}
	return mean(terms)
}

// LogLoss gives the mean of -ln p in nats, p the probability stated for what was so, in [0, 1]; infinite where that was 0. NaN without
// questions.
func LogLoss(right []float64) float64 {
	terms := make([]float64, len(right))
	for i, p := range right {
		terms[i] = -math.Log(p)
	}
	return mean(terms)
}

// mean adds from the smallest term on, so that the last digits do not depend on the order of the questions either.
func mean(list []float64) float64 {
	list = slices.Clone(list)
	slices.SortFunc(list, cmp.Compare[float64])
	sum := 0.0
	for _, x := range list {
		sum += x
	}
	return sum / float64(len(list))
}
