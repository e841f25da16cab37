package rank

import (
	"math"
)

// Empirical Bayes: how far the culprits differ in a symptom is told by the cases themselves. A rate of culprit f is Beta with mean m_f and
// weight k; k is where the marginal likelihood of all culprits' counts (Beta-binomial; Gelman et al., Bayesian Data Analysis, ch. 5) times
// a log-normal prior around the fitted weight is highest, on a grid of powers of two.
const (
	leastWeight = -3 // of the grid, as a power of two
	mostWeight  = 10
)

// cellCount is what one culprit's cases say: yes of yes+no, around a mean.
type cellCount struct{ yes, no, mean float64 }

// usualWeight gives k for the counts, around a usual weight with a standard deviation of sd powers of two; with fewer than two
// culprits, or sd 0, it is the usual weight.
func usualWeight(cells []cellCount, usual, sd float64) float64 {
	if sd == 0 || len(cells) < 2 {
		return usual
	}
	best, at := math.Inf(-1), usual
	for e := leastWeight; e <= mostWeight; e++ {
		k := math.Exp2(float64(e))
		z := (float64(e) - math.Log2(usual)) / sd
		l := -z * z / 2
		for _, c := range cells {
			l += logBeta(c.yes+k*c.mean, c.no+k*(1-c.mean)) - logBeta(k*c.mean, k*(1-c.mean))
		}
		if l > best {
			best, at = l, k
		}
	}
	return at
}

func logBeta(a, b float64) float64 {
	x, _ := math.Lgamma(a)
	y, _ := math.Lgamma(b)
	z, _ := math.Lgamma(a + b)
	return x + y - z
}
