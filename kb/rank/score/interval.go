package score

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Interval bounds a share, in [0, 1].
type Interval struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// Wilson gives the score interval of Wilson (1927) for a share of which x of n were seen, two-sided at the given level (0.95), 0 <= x <= n. It
// is the one to use where many questions were asked: on average it covers what it says. Without questions it is all of [0, 1].
func Wilson(x, n int, level float64) Interval {
	if n == 0 {
		return Interval{0, 1}
	}
	z := distuv.UnitNormal.Quantile((1 + level) / 2)
	size, share := float64(n), float64(x)/float64(n)
	centre := share + z*z/(2*size)
	half := z * math.Sqrt(share*(1-share)/size+z*z/(4*size*size))
	low, high := (centre-half)/(1+z*z/size), (centre+half)/(1+z*z/size)
	if x == 0 {
		low = 0 // but for rounding
	}
	if x == n {
		high = 1
	}
	return Interval{low, high}
}

// Exact gives the interval of Clopper and Pearson (1934) for a share of which x of n were seen, two-sided at the given level, 0 <= x <= n: it
// covers at least what it says, also where there are few. Without questions it is all of [0, 1].
func Exact(x, n int, level float64) Interval {
	tail := (1 - level) / 2
	out := Interval{0, 1}
	if x > 0 {
		out.Low = distuv.Beta{Alpha: float64(x), Beta: float64(n - x + 1)}.Quantile(tail)
	}
	if x < n {
		out.High = distuv.Beta{Alpha: float64(x + 1), Beta: float64(n - x)}.Quantile(1 - tail)
	}
	return out
}
