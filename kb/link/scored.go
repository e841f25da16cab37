package link

import (
	"cmp"
	"slices"

	"ruledout/kb"
)

// Scored is a pair of cases with what speaks for and against their being one repair.
type Scored struct {
	A, B        kb.CaseID // A before B
	Probability float64   // 0 to 1
	Bits        float64   // sum of the weights, without the prior
	Verdict     Verdict
	Weights     []Weighed // told fields, the strongest first
}

// Linker scores pairs by one model and its thresholds.
type Linker struct {
	Model      *Model
	Thresholds Thresholds
}

// NewLinker makes a linker with the thresholds that keep the allowed errors.
func NewLinker(m *Model, allowed ErrorRates) *Linker {
	return &Linker{Model: m, Thresholds: m.Thresholds(allowed)}
}

// mostTwins is the greatest number of pairs that are one, for each record: half a book told twice. Where short records of much-repeated work
// look all alike, the fit would else take being alike for being one.
const mostTwins = 0.25

// FitLinker weighs the words of a book's records and fits a model to its candidate pairs: to those of them that do not differ in code or
// machine. Others are easily told apart, and would let whatever goes with one code on one model look like a sign of one repair. It also gives the vector of each pair, in order.
func FitLinker(records []Record, pairs []Pair) (*Linker, []Vector) {
	Weigh(records)
	vectors := make([]Vector, len(pairs))
	all := make(Vector, len(pairs)*fieldCount) // one piece of memory: there are millions
	for i, p := range pairs {
		vectors[i] = all[i*fieldCount : (i+1)*fieldCount : (i+1)*fieldCount]
		compareInto(vectors[i], &records[p.A], &records[p.B])
	}
	confusable := slices.DeleteFunc(slices.Clone(vectors), func(v Vector) bool {
		return v[fieldCode] > someCodes || v[fieldMachine] == otherMachine
	})
	opt := DefaultFit()
	if len(confusable) > 0 {
		opt.Most = mostTwins * float64(len(records)) / float64(len(confusable))
	}
	f := Fit(Start(), Patterns(confusable), opt)
	return NewLinker(f.Model, DefaultErrors()), vectors
}

// Score gives what a pair is worth, whichever of the two is named first.
func (l *Linker) Score(a, b *Record, v Vector) Scored {
	if b.ID < a.ID {
		a, b = b, a
	}
	bits := l.Model.Bits(v)
	return Scored{A: a.ID, B: b.ID, Probability: l.Model.posterior(bits), Bits: bits, Verdict: l.Thresholds.Of(bits), Weights: l.Model.Explain(v)}
}

// Verdict gives the verdict on a pair.
func (l *Linker) Verdict(v Vector) Verdict { return l.Thresholds.Of(l.Model.Bits(v)) }

// InOrder compares pairs for a list: the weightiest first, then by ids.
func InOrder(a, b Scored) int {
	return cmp.Or(cmp.Compare(b.Bits, a.Bits), cmp.Compare(a.A, b.A), cmp.Compare(a.B, b.B))
}
