package rank

import (
	"math"

	"ruledout/kb"
)

// beta is a rate as pseudo-counts: a of what was observed, b of the other outcome.
type beta struct{ a, b float64 }

func (r beta) mean() float64 { return r.a / (r.a + r.b) }

// not turns a rate into that of the other outcome.
func (r beta) not() beta { return beta{r.b, r.a} }

// shrunk gives the posterior of a rate with a prior mean and weight after counts, which may be slightly negative by subtraction.
func shrunk(mean, weight, yes, no float64) beta {
	return beta{mean*weight + math.Max(0, yes), (1-mean)*weight + math.Max(0, no)}
}

// evidence gives likelihoods from the model's counts less those of an exclusion.
type evidence struct {
	m      *Model
	minus  *counts // nil: nothing is taken away
	scopes []scope // the question's codes
	near   bool    // near enough will do: for crediting many cases
}

func (e evidence) methods(k methodKey) tally {
	t := e.m.stats.methods[k]
	if e.minus != nil {
		t = t.plus(e.minus.methods[k])
	}
	return t
}

func (e evidence) tests(k testKey) tally {
	t := e.m.stats.tests[k]
	if e.minus != nil {
		t = t.plus(e.minus.tests[k])
	}
	return t
}

func (e evidence) parts(k pair) float64 {
	x := e.m.stats.parts[k]
	if e.minus != nil {
		x += e.minus.parts[k]
	}
	return math.Max(0, x)
}

// n gives the cases of a culprit. One that only the structure suspects has none.
func (e evidence) n(f int) float64 {
	if f >= len(e.m.names) {
		return 0
	}
	n := e.m.stats.n[f]
	if e.minus != nil {
		n += e.minus.n[f]
	}
	return math.Max(0, n)
}

// failRates are the rates at which a test fails, by what its component is to the culprit.
type failRates [roleElse + 1]beta

// failRates gives the rates of one test: each a Beta posterior around the method's rate, that one around the pooled rate. They keep
// the order s >= u >= phi.
func (e evidence) failRates(o observed) failRates {
	kind := ""
	if m, ok := e.m.terms.Method(o.Method); ok {
		kind = m.Kind
	}
	p := e.m.p
	pooled := [roleElse + 1]float64{p.found(kind), p.Upstream, p.FalseAlarm}
	var out failRates
	for r := roleFound; r <= roleElse; r++ {
		byMethod := e.methods(methodKey{o.Method, r})
		byTest := e.tests(testKey{o.Component, o.Method, r})
		other := tally{byMethod.fail - byTest.fail, byMethod.pass - byTest.pass}
		method := shrunk(pooled[r], p.FoundW, other.fail, other.pass).mean()
		out[r] = shrunk(method, p.FoundW, byTest.fail, byTest.pass)
	}
	out[roleUp] = atMost(out[roleUp], out[roleFound])
	out[roleElse] = atMost(out[roleElse], out[roleUp])
	return out
}

// atMost lowers a rate to another one, keeping its weight.
func atMost(r, limit beta) beta {
	if r.mean() <= limit.mean() {
		return r
	}
	n := r.a + r.b
	return beta{limit.mean() * n, (1 - limit.mean()) * n}
}

// testRate gives the rate at which a test fails when f is the culprit.
func (e evidence) testRate(o observed, rates failRates, rel kb.Relation, f int) beta {
	if rel != kb.TestedInCulprit {
		return rates[roleOf(rel, o.Bench)]
	}
	pi := e.partShare(o.Component, f)
	s, phi := rates[roleFound], rates[roleElse]
	mean, n := pi*s.mean()+(1-pi)*phi.mean(), s.a+s.b
	return beta{mean * n, (1 - mean) * n}
}

// partShare is pi: the share of f's cases whose failing test or fix names a part, shrunk by Beta(1, 1).
func (e evidence) partShare(x string, f int) float64 {
	n := e.n(f)
	return (e.parts(pair{x, int32(f)}) + 1) / (math.Max(n, e.parts(pair{x, int32(f)})) + 2)
}

// observedRate gives the rate of what was observed, and false for a result that says nothing. Of a reading that only probably conforms it
// is the mixture of both results by that probability: virtual evidence, which at one half moves nothing.
func observedRate(fail beta, o observed) (beta, bool) {
	switch {
	case o.Sure > 0:
		mean, n := o.Sure*(1-fail.mean())+(1-o.Sure)*fail.mean(), fail.a+fail.b
		return beta{mean * n, (1 - mean) * n}, true
	case o.Result == kb.Fail:
		return fail, true
	case o.Result == kb.Pass:
		return fail.not(), true
	}
	return beta{}, false
}

// triedRate gives the rate of an outcome short of a cure when f is the culprit.
func (e evidence) triedRate(a attempt, rel kb.Relation, f int) beta {
	if rel == kb.TestedInCulprit {
		pi := e.partShare(a.Component, f)
		own, other := e.outcomeRate(a, true), e.outcomeRate(a, false)
		mean, n := pi*own.mean()+(1-pi)*other.mean(), own.a+own.b
		return beta{mean * n, (1 - mean) * n}
	}
	return e.outcomeRate(a, roleOf(rel, true) == roleFound)
}

func (e evidence) outcomeRate(a attempt, own bool) beta {
	p := e.m.p
	i := 1
	if own {
		i = 0
	}
	mean := p.TriedElse
	switch {
	case a.Outcome == kb.Partial:
		mean = p.Partial[i]
	case a.Outcome == kb.Returned:
		mean = p.Returned[i]
	case own:
		if mean = p.Tried[a.Action]; mean == 0 {
			mean = p.Tried[kb.Other]
		}
	}
	var yes, no float64
	for _, o := range []kb.Outcome{kb.NoChange, kb.Partial, kb.Returned, kb.Fixed} {
		n := e.tried(triedKey{a.Action, own, o})
		if o == a.Outcome {
			yes += n
		} else {
			no += n
		}
	}
	return shrunk(mean, p.TriedW, yes, no)
}

func (e evidence) tried(k triedKey) float64 {
	x := e.m.stats.tried[k]
	if e.minus != nil {
		x += e.minus.tried[k]
	}
	return math.Max(0, x)
}
