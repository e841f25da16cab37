package rank

import (
	"math"
	"slices"

	"ruledout/kb"
)

// factorsOf gives, for each of some culprits, its factor for every observation in order: L_j(f) over the mean of L_j(g) over all other g,
// weighted by what is known of them before j. With the prior odds of p(f | m) the product is exactly the posterior odds.
func (r *reply) factorsOf(culprits []int) [][]float64 {
	out := make([][]float64, len(culprits))
	before := logs(r.base.p)
	for _, x := range r.factors {
		after := slices.Clone(before)
		for g := range after {
			after[g] += x.logL[g]
		}
		old, now := newRest(before), newRest(after)
		for i, f := range culprits {
			out[i] = append(out[i], math.Exp(x.logL[f]+old.without(f)-now.without(f)))
		}
		before = after
	}
	return out
}

// rest sums weights given as logarithms, but for one.
type rest struct {
	logW   []float64
	top    float64
	linear []float64 // exp(logW - top)
	sum    float64
}

func newRest(logW []float64) *rest {
	r := &rest{logW: logW, top: slices.Max(logW), linear: make([]float64, len(logW))}
	for g, w := range logW {
		r.linear[g] = math.Exp(w - r.top)
		r.sum += r.linear[g]
	}
	return r
}

// without gives the logarithm of the sum of all weights but that of f. The short way would lose digits where f holds most of the sum.
func (r *rest) without(f int) float64 {
	if r.linear[f] < r.sum/2 {
		return r.top + math.Log(r.sum-r.linear[f])
	}
	return logSum(slices.Concat(r.logW[:f], r.logW[f+1:]))
}

// because names the factors of one culprit, each with the cases that speak of the same thing. Where none does, a factor comes from the
// structure and the pooled rates.
func (r *reply) because(rec *record, factors []float64) []kb.Because {
	out := []kb.Because{}
	for j, x := range r.factors {
		out = append(out, kb.Because{Evidence: x.label, Factor: factors[j], Cases: r.ids(rec.speak[j])})
	}
	return out
}

// topic says what an observation is about, whatever its result: cases are cited by it.
func (o observation) topic() string {
	switch {
	case o.code != nil:
		return "code " + o.code.Key.String()
	case o.symptom != nil:
		return "symptom " + o.symptom.Term
	case o.test != nil:
		return "test " + o.test.Method + " of " + o.test.Component
	case o.tried != nil:
		return "fix " + string(o.tried.Action) + " " + o.tried.Component
	}
	return ""
}
