package rank

// Information gives the tests the mutual information that orders tests.
var Information = information

// Entropy gives the tests the entropy of a variable, the last value left out.
var Entropy = entropy

// Trigamma gives the tests the function behind the spread of a rate.
var Trigamma = trigamma

// Rate gives the tests a rate as its pseudo-counts: a of what was observed, b of any other outcome.
type Rate = beta

// NewRate makes a rate of pseudo-counts; a share s of cases is NewRate(s, 1-s).
func NewRate(a, b float64) Rate { return Rate{a, b} }

// Shrunk gives the tests the posterior of a rate under a prior mean and weight.
var Shrunk = shrunk

// Mean gives the tests a rate's mean.
func (r beta) Mean() float64 { return r.mean() }

// Not gives the tests the rate of the other outcome.
func (r beta) Not() Rate { return r.not() }

// LogPosterior takes plain numbers through the very steps of a question: the prior times the rate of each observation under each culprit
// (observed[j][f], tempered by lambda, exponent 1), normalised, in the log domain.
func LogPosterior(prior []float64, observed [][]Rate, lambda float64) []float64 {
	e := &posterior{v: make([]float64, len(prior))}
	e.base.p = prior
	for _, rates := range observed {
		x := factor{logL: make([]float64, len(prior)), rates: func(f int, to []powered) []powered { return append(to, powered{rate: rates[f], power: lambda}) }}
		x.fill()
		e.factors = append(e.factors, x)
	}
	e.normalise()
	return e.logPost
}
