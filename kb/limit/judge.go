package limit

import (
	"errors"
	"fmt"
	"math"

	"ruledout/kb/quantity"
)

// Decision is what a reading says about a limit (ISO 14253-1: conformity, nonconformity, or neither proven).
type Decision string

// The decisions.
const (
	Conforms  Decision = "conforms"
	Exceeds   Decision = "does not conform"
	Undecided Decision = "cannot tell"
)

// Sure is the probability from which a decision is taken: the default of ISO 14253-1:2017.
const Sure = 0.95

// Verdict is a reading judged against one limit.
type Verdict struct {
	Decision    Decision
	Low, High   float64 // bounds of the probability of conformity; equal unless the reading is itself a range or a bound
	Best        float64 // the greatest probability that any reading of this instrument could reach: below Sure it is too coarse for the limit
	Uncertainty float64 // standard uncertainty of the reading, in its unit; 0 where the reading gives no value
	Accuracy    Accuracy
	Limit       Limit
}

// Probability gives one probability of conformity for use as evidence: where the reading leaves a range, the value in it that says least.
// An instrument too coarse for the limit would make even a perfect reading speak against the part; the odds are therefore taken relative
// to those of the best reading there could be, which then says nothing (own derivation).
func (v Verdict) Probability() float64 {
	p := math.Min(math.Max(0.5, v.Low), v.High)
	if v.Best <= 0 {
		return 0.5
	}
	return p / (p + (1-p)*v.Best)
}

// Reading is what is judged: the quantity, the text it was written in (for its last place) and the instrument's accuracy.
type Reading struct {
	quantity.Quantity
	Text     string    // as written; may be empty
	Accuracy *Accuracy // nil: the usual one is taken and said to be assumed
}

// Judge compares a reading with a limit. The reading and the limit must measure the same thing; an open circuit is judged as a resistance
// without end. A reading without a unit takes the limit's.
func Judge(r Reading, l Limit) (Verdict, error) {
	low, high, base, err := l.interval()
	if err != nil {
		return Verdict{}, err
	}
	q := r.Quantity
	if q.Unit == "" && q.Bound != quantity.Open {
		q.Unit = l.Unit
	}
	v := Verdict{Limit: l, Accuracy: accuracyOf(r, q)}
	from, to, err := values(q, base)
	if err != nil {
		return Verdict{}, err
	}
	last := resolution(q, r.Text)
	perUnit := quantity.Span(1, q.Unit)
	if q.Unit == "" {
		perUnit = 1
	}
	at := func(si float64) float64 {
		return conformity(si, v.Accuracy.uncertainty(si, last*perUnit, perUnit), low, high)
	}
	v.Low, v.High = spread(at, from, to, low, high)
	if q.Bound == quantity.Equal && q.Upper == nil {
		v.Uncertainty = v.Accuracy.uncertainty(from, last*perUnit, perUnit) / perUnit
	}
	v.Best = best(v.Accuracy, last*perUnit, perUnit, low, high)
	below := func(si float64) float64 {
		return conformity(si, v.Accuracy.uncertainty(si, last*perUnit, perUnit), math.Inf(-1), low)
	}
	above := func(si float64) float64 {
		return conformity(si, v.Accuracy.uncertainty(si, last*perUnit, perUnit), high, math.Inf(1))
	}
	out := math.Max(math.Min(below(from), below(to)), math.Min(above(from), above(to)))
	v.Decision = decide(v.Low, out)
	return v, nil
}

// best gives the probability of conformity of the best reading there could be: one in the middle of the limits.
func best(a Accuracy, resolution, perUnit, low, high float64) float64 {
	if math.IsInf(low, 0) || math.IsInf(high, 0) {
		return 1
	}
	middle := (low + high) / 2
	return conformity(middle, a.uncertainty(middle, resolution, perUnit), low, high)
}

func accuracyOf(r Reading, q quantity.Quantity) Accuracy {
	if r.Accuracy != nil {
		return *r.Accuracy
	}
	return UsualAccuracy(q)
}

// decide is the rule of ISO 14253-1: conformity is proven where it is sure, nonconformity where it is sure that the value lies beyond one
// limit. inside is the least probability of conformity, outside that of lying beyond the same limit.
func decide(inside, outside float64) Decision {
	switch {
	case inside >= Sure:
		return Conforms
	case outside >= Sure:
		return Exceeds
	}
	return Undecided
}

// values gives the interval in which the measured value was seen, in SI.
func values(q quantity.Quantity, base string) (from, to float64, err error) {
	if q.Bound == quantity.Open {
		if base != "ohm" {
			return 0, 0, errors.New("an open circuit can be judged only against a resistance")
		}
		return math.Inf(1), math.Inf(1), nil
	}
	from, own, ok := q.SI()
	if q.Unit == "" {
		from, own, ok = q.Value, "", true
	}
	if !ok || own != base {
		return 0, 0, fmt.Errorf("reading %s: the limit is one of %s, not of %s", q, Dimension(base), Dimension(own))
	}
	to = from
	switch {
	case q.Upper != nil:
		if q.Unit == "" {
			return from, *q.Upper, nil
		}
		to, _, _ = q.UpperSI()
	case q.Bound == quantity.Greater:
		to = math.Inf(1)
	case q.Bound == quantity.Less:
		from = lowestOf(base)
	}
	return from, to, nil
}

// lowestOf is the least value a quantity can have.
func lowestOf(base string) float64 {
	switch base {
	case "V", "A", "Pa", "rad", "W", "":
		return math.Inf(-1)
	}
	return 0
}

// spread gives the least and the greatest probability of conformity over an interval of values. It rises towards the middle of the
// limits and falls away from it, so that the least stands at an end and the greatest as near to the middle as the interval goes.
func spread(at func(float64) float64, from, to, low, high float64) (least, most float64) {
	a, b := at(from), at(to)
	middle := from
	switch {
	case math.IsInf(low, -1):
		middle = from
	case math.IsInf(high, 1):
		middle = to
	default:
		middle = math.Min(math.Max((low+high)/2, from), to)
	}
	return math.Min(a, b), math.Max(math.Max(a, b), at(middle))
}

// conformity is the probability that the true value lies between the limits when y was measured with standard uncertainty u: a normal
// distribution about y (JCGM 106:2012, 7.1 to 7.3, equation 5 and its one-sided forms).
func conformity(y, u, low, high float64) float64 {
	if math.IsInf(low, 1) || math.IsInf(high, -1) {
		return 0
	}
	if math.IsInf(y, 0) || u <= 0 {
		if y >= low && y <= high {
			return 1
		}
		return 0
	}
	return math.Max(0, normal((high-y)/u)-normal((low-y)/u))
}

func normal(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
