package score

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// Bin is a row of the table of stated against observed: the events whose stated probability is from From up to, but not including, To; the
// last bin includes 1.
type Bin struct {
	From   float64 `json:"from"`
	To     float64 `json:"to"`
	N      int     `json:"n"`
	Stated float64 `json:"stated"` // mean probability stated; 0 without events
	So     int     `json:"so"`     // events that came true
}

// Share gives the share of events that came true, 0 without events.
func (b Bin) Share() float64 { return float64(b.So) / float64(max(b.N, 1)) }

// gap is how far what was stated is from what was so.
func (b Bin) gap() float64 { return math.Abs(b.Stated - b.Share()) }

// Calibration is the table of stated against observed, and three ways of putting it into one number. Bins weigh by their events.
type Calibration struct {
	Bins []Bin   `json:"bins"`
	ECE  float64 `json:"ece"` // expected calibration error: mean gap between stated and observed, in [0, 1]
	RMS  float64 `json:"rms"` // root of the mean squared gap, in [0, 1]
	Max  float64 `json:"max"` // the widest gap, in [0, 1]
}

// Calibrate makes the table with n bins of equal width.
func Calibrate(events []Event, n int) Calibration {
	events = slices.Clone(events)
	slices.SortFunc(events, func(a, b Event) int { return cmp.Compare(a.P, b.P) })
	c := Calibration{Bins: make([]Bin, n)}
	for i := range c.Bins {
		c.Bins[i].From, c.Bins[i].To = float64(i)/float64(n), float64(i+1)/float64(n)
	}
	for _, e := range events {
		b := &c.Bins[binOf(e.P, n)]
		b.N++
		b.Stated += e.P
		if e.So {
			b.So++
		}
	}
	for i := range c.Bins {
		b := &c.Bins[i]
		if b.N == 0 {
			continue
		}
		b.Stated /= float64(b.N)
		weight := float64(b.N) / float64(len(events))
		c.ECE += weight * b.gap()
		c.RMS += weight * b.gap() * b.gap()
		c.Max = max(c.Max, b.gap())
	}
	c.RMS = math.Sqrt(c.RMS)
	return c
}

// binOf gives the bin of a probability. The product alone would put 0.29 of 100 bins into the 28th: the bounds decide.
func binOf(p float64, n int) int {
	i := min(max(int(p*float64(n)), 0), n-1)
	if i+1 < n && p >= float64(i+1)/float64(n) {
		return i + 1
	}
	if i > 0 && p < float64(i)/float64(n) {
		return i - 1
	}
	return i
}

// Spread is what a figure comes to by chance.
type Spread struct {
	Low    float64 `json:"low"` // 5 % of the draws are below
	Median float64 `json:"median"`
	High   float64 `json:"high"` // 5 % are above
}

// Redraw says how often and from where PerfectECE draws.
type Redraw struct {
	Times int    // draws, > 0
	Seed  uint64 // same seed, same draws
}

// PerfectECE gives the expected calibration error, in n bins, that a forecaster would show whose every word is true: outcomes are drawn anew
// from the stated probabilities, many times (the consistency resampling of Broecker and Smith 2007, Wea. Forecasting 22, 651-661). A measured
// error above High is more than chance. The spread is zero without probabilities.
func PerfectECE(stated []float64, n int, r Redraw) Spread {
	if len(stated) == 0 {
		return Spread{}
	}
	stated = slices.Sorted(slices.Values(stated))
	bin, sum := make([]int, len(stated)), make([]float64, n)
	for i, p := range stated {
		bin[i] = binOf(p, n)
		sum[bin[i]] += p
	}
	random := rand.New(rand.NewPCG(r.Seed, 0))
	drawn := make([]float64, r.Times)
	for t := range drawn {
		so := make([]float64, n)
		for i, p := range stated {
			if random.Float64() < p {
				so[bin[i]]++
			}
		}
		for b := range so {
			drawn[t] += math.Abs(sum[b]-so[b]) / float64(len(stated))
		}
	}
	slices.Sort(drawn)
	return Spread{Low: quantile(drawn, 0.05), Median: quantile(drawn, 0.5), High: quantile(drawn, 0.95)}
}

// quantile gives a quantile of an ordered list, straight between neighbours (definition 7 of Hyndman and Fan 1996).
func quantile(ordered []float64, q float64) float64 {
	at := q * float64(len(ordered)-1)
	i := int(at)
	if i+1 >= len(ordered) {
		return ordered[len(ordered)-1]
	}
	return ordered[i] + (at-float64(i))*(ordered[i+1]-ordered[i])
}
