package rank

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mathext"

	"ruledout/kb"
)

// factor is one observation with its likelihood under every culprit.
type factor struct {
	label string
	tests bool                                // a passed test or a tried fix: what can rule out
	logL  []float64                           // exponents included
	rates func(f int, to []powered) []powered // adds the rates whose powers make up the likelihood; nil for a code
	about observation
}

// powered is a rate raised to a power, lambda included.
type powered struct {
	name  string // what it is the rate of
	rate  beta
	power float64
}

// observation tells what a factor is about, so that the cases behind it can be named.
type observation struct {
	code    *keyed
	symptom *noticed
	test    *observed
	tried   *attempt
}

// posterior is everything computed for one question.
type posterior struct {
	m         *Model
	q         *row
	ex        exclusion
	extra     []string // components that only the structure suspects
	structure *context // what it suspects, nil if nothing
	ev        evidence
	base      prior       // p(f | m)
	chains    [][]context // one for each code; the chain without a code where there is none
	plain     []context   // the chain without a code
	factors   []factor
	logPost   []float64          // normalised
	v         []float64          // variance of each culprit's log weight by the codes and the machine alone
	spreads   map[int]float64    // see variance
	chances   map[gauged]float64 // see chanceOf
}

// evaluate computes the posterior of a question.
func (m *Model) evaluate(q *row, ex exclusion) *posterior {
	e := m.begin(q, ex)
	e.addPrior()
	e.addCodes()
	e.addSymptoms()
	e.addTests()
	e.addTried()
	e.normalise()
	return e
}

// begin makes a posterior to which nothing has been added yet.
func (m *Model) begin(q *row, ex exclusion) *posterior {
	e := &posterior{m: m, q: q, ex: ex, ev: evidence{m: m, minus: m.minus(ex)}}
	for _, k := range q.Codes {
		if !slices.Contains(e.ev.scopes, scope{key: k.Key}) {
			e.ev.scopes = append(e.ev.scopes, scope{key: k.Key})
		}
	}
	e.structure = e.suspect()
	return e
}

// addPrior computes p(f | m).
func (e *posterior) addPrior() {
	e.plain = e.m.chain(e.q, -1, e.ex, e.structure)
	e.base = e.m.priorOf(e.plain, e.size())
}

// size is the number of culprits, omega included.
func (e *posterior) size() int { return len(e.m.names) + 1 + len(e.extra) }

// omega is the place of what no case names anywhere; behind it come those that only the structure suspects.
func (e *posterior) omega() int { return len(e.m.names) }

// name gives the component at a place.
func (e *posterior) name(f int) string {
	if f > e.omega() {
		return e.extra[f-e.omega()-1]
	}
	return e.m.names[f]
}

// place is the inverse of name, -1 for a component that is no culprit here.
func (e *posterior) place(component string) int {
	if f, ok := e.m.index[component]; ok {
		return int(f)
	}
	if i := slices.Index(e.extra, component); i >= 0 {
		return e.omega() + 1 + i
	}
	return -1
}

func (e *posterior) newFactor(label string, about observation) factor {
	return factor{label: label, logL: make([]float64, e.size()), about: about}
}

// addCodes adds a factor for each code: [p(f | c, m) / p(f | m)]^(n^-gamma).
func (e *posterior) addCodes() {
	e.v = make([]float64, e.size())
	n := float64(len(e.q.Codes))
	if n == 0 {
		e.chains = [][]context{e.plain}
		for f, p := range e.base.p {
			e.v[f] = ratio(e.base.v[f], p)
		}
		return
	}
	power := e.power()
	keep := 1 - n*power
	for f, p := range e.base.p {
		e.v[f] = keep * keep * ratio(e.base.v[f], p)
	}
	order := make([]int, len(e.q.Codes))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(e.q.Codes[a].Key.String(), e.q.Codes[b].Key.String()) })
	for _, i := range order {
		k := e.q.Codes[i]
		chain := e.m.chain(e.q, i, e.ex, e.structure)
		e.chains = append(e.chains, chain)
		d := e.m.priorOf(chain, e.size())
		x := e.newFactor("code "+codeName(k), observation{code: &e.q.Codes[i]})
		for f := range x.logL {
			if e.base.p[f] > 0 {
				x.logL[f] = power * (math.Log(d.p[f]) - math.Log(e.base.p[f]))
			}
			e.v[f] += power * power * ratio(d.v[f], d.p[f])
		}
		e.factors = append(e.factors, x)
	}
}

// power is the exponent of each of several codes: n^-gamma.
func (e *posterior) power() float64 { return math.Pow(float64(len(e.q.Codes)), -e.m.p.Gamma) }

func codeName(k keyed) string {
	if k.Subtype != "" {
		return k.Key.Code + "-" + k.Subtype
	}
	return k.Key.Code
}

// ratio gives the squared coefficient of variation v/p^2, 0 where there is nothing.
func ratio(v, p float64) float64 {
	if p <= 0 {
		return 0
	}
	return v / (p * p)
}

// leastCount is the least pseudo-count at which a rate's spread is taken: that of a uniform prior. Below it nearly all of the spread is
// that of a pooled rate which every culprit shares, and which cancels between them.
const leastCount = 1

// spread gives the variance of the logarithm of a Beta rate: trigamma(a) - trigamma(a+b).
func spread(r beta) float64 {
	a := math.Max(r.a, leastCount)
	return trigamma(a) - trigamma(a+r.b)
}

// trigamma is the Hurwitz zeta function at 2 (Abramowitz and Stegun 6.4.10).
func trigamma(x float64) float64 { return mathext.Zeta(2, x) }

// fill computes a factor from its rates.
func (x *factor) fill() {
	var room [2]powered
	for f := range x.logL {
		for _, r := range x.rates(f, room[:0]) {
			x.logL[f] += r.power * math.Log(r.rate.mean())
		}
	}
}

// spread gives the variance of a factor's logarithm under a culprit from the counts behind it. An exponent x below 1 takes several
// observations for one told several times: what they have in common does not average out, so that the variance falls by x and not by its
// square (own derivation: n copies with exponent 1/n have together the variance of one).
func (x *factor) spread(f int) float64 {
	if x.rates == nil {
		return 0 // of a code: counted with the prior
	}
	v := 0.0
	for _, r := range x.rates(f, nil) {
		v += math.Max(r.power, r.power*r.power) * spread(r.rate)
	}
	return v
}

func (e *posterior) addSymptoms() {
	asked := slices.SortedFunc(slices.Values(e.q.Symptoms), func(a, b noticed) int { return cmp.Compare(a.Term, b.Term) })
	p := e.m.p
	weights := e.m.overlaps.weights(asked, p.Overlap, e.ex.rows)
	for i, s := range asked {
		if weights[i] == 0 {
			continue
		}
		x := e.newFactor(symptomLabel(s), observation{symptom: &asked[i]})
		counted := e.ev.spoken(s.Term, e.q.FullForm)
		x.rates = func(f int, to []powered) []powered {
			mention, present := counted.rates(f)
			if s.Absent {
				present = present.not()
			}
			value := powered{"there or not, as said", present, p.Lambda * p.Value * weights[i]}
			if e.q.FullForm {
				return append(to, value)
			}
			return append(to, powered{"mentioned", mention, p.Lambda * p.mentionOf(s.Term) * weights[i]}, value)
		}
		x.fill()
		e.factors = append(e.factors, x)
	}
	e.addUnsaid(asked)
}

func symptomLabel(s noticed) string {
	word, isWord := strings.CutPrefix(s.Term, ownWord)
	switch {
	case s.Absent:
		return "not noticed: " + s.Term
	case isWord:
		return "said in the complaint: " + word
	}
	return "symptom " + s.Term
}

// addUnsaid adds one factor for all symptoms that a case of the codes mentions and the question does not.
func (e *posterior) addUnsaid(asked []noticed) {
	power := e.m.p.Lambda * e.m.p.Unsaid
	if power == 0 || e.q.FullForm {
		return
	}
	all := e.ev.silence()
	said := func(term string) bool {
		return slices.ContainsFunc(asked, func(s noticed) bool { return s.Term == term })
	}
	var taken []*spoken
	for i, term := range all.terms {
		if said(term) {
			taken = append(taken, all.spoken[i])
		}
	}
	n := len(all.terms) - len(taken)
	if n == 0 {
		return
	}
	x := e.newFactor(fmt.Sprintf("%d symptoms that others mention are not mentioned", n), observation{})
	for f := range x.logL {
		l := all.logL[min(f, e.omega())] // those that only the structure suspects have no counts, as omega
		for _, s := range taken {
			mention, _ := s.rates(f)
			l -= math.Log(mention.not().mean())
		}
		x.logL[f] = power * l
	}
	x.rates = func(f int, to []powered) []powered {
		for i, term := range all.terms {
			if !said(term) {
				mention, _ := all.spoken[i].rates(f)
				to = append(to, powered{"not mentioned: " + term, mention.not(), power})
			}
		}
		return to
	}
	e.factors = append(e.factors, x)
}

func (e *posterior) addTests() {
	list := slices.SortedFunc(slices.Values(e.q.Tests), func(a, b observed) int {
		return cmp.Or(cmp.Compare(a.Component, b.Component), cmp.Compare(a.Method, b.Method), cmp.Compare(a.Result, b.Result), cmp.Compare(a.Sure, b.Sure))
	})
	for i, o := range list {
		if o.Base != "" { // no limit is known: what others measured may tell
			o.Sure = e.chanceOf(gauged{Component: o.Component, Method: o.Method, Base: o.Base, SI: o.SI})
			list[i].Sure = o.Sure
		}
		if _, says := observedRate(beta{1, 1}, o); !says {
			continue
		}
		x := e.newFactor(testLabel(o), observation{test: &list[i]})
		x.tests = o.Result == kb.Pass
		rel, rates := e.related(o.Component), e.ev.failRates(o)
		x.rates = func(f int, to []powered) []powered {
			r, _ := observedRate(e.ev.testRate(o, rates, rel[f], f), o)
			return append(to, powered{cmp.Or(string(o.Result), "reading"), r, e.m.p.Lambda})
		}
		x.fill()
		e.factors = append(e.factors, x)
	}
}

// chanceOf gives chance for a reading of the question, and 0 where too few others took it. The readings are gathered once.
func (e *posterior) chanceOf(g gauged) float64 {
	p, known := e.chances[g]
	if !known {
		p, _ = chance(g, e.m.gauges(g, e.ex))
		if e.chances == nil {
			e.chances = map[gauged]float64{}
		}
		e.chances[g] = p
	}
	return p
}

func testLabel(o observed) string {
	word := map[kb.Result]string{kb.Pass: "passed", kb.Fail: "failed", kb.Inconclusive: "inconclusive"}[o.Result]
	if word == "" {
		return fmt.Sprintf("%s of %s: within limits with probability %.2f", o.Method, o.Component, o.Sure)
	}
	return fmt.Sprintf("%s %s of %s", word, o.Method, o.Component)
}

func (e *posterior) addTried() {
	list := slices.SortedFunc(slices.Values(e.q.Tried), func(a, b attempt) int {
		return cmp.Or(cmp.Compare(a.Component, b.Component), cmp.Compare(a.Action, b.Action), cmp.Compare(a.Outcome, b.Outcome))
	})
	for i, a := range list {
		x := e.newFactor(fmt.Sprintf("%s %s: %s", a.Action, a.Component, a.Outcome), observation{tried: &list[i]})
		x.tests = true
		rel := e.related(a.Component)
		x.rates = func(f int, to []powered) []powered {
			return append(to, powered{string(a.Outcome), e.ev.triedRate(a, rel[f], f), e.m.p.Lambda})
		}
		x.fill()
		e.factors = append(e.factors, x)
	}
}

// normalise multiplies the prior by all factors, in the log domain.
func (e *posterior) normalise() {
	e.logPost = logs(e.base.p)
	for _, x := range e.factors {
		for f := range e.logPost {
			e.logPost[f] += x.logL[f]
		}
	}
	total := logSum(e.logPost)
	for f := range e.logPost {
		e.logPost[f] -= total
	}
}

// variance gives the variance of a culprit's log weight.
func (e *posterior) variance(f int) float64 {
	if e.spreads == nil {
		e.spreads = map[int]float64{}
	}
	v, ok := e.spreads[f]
	if !ok {
		v = e.v[f]
		for i := range e.factors {
			v += e.factors[i].spread(f)
		}
		e.spreads[f] = v
	}
	return v
}

func logs(p []float64) []float64 {
	out := make([]float64, len(p))
	for i, x := range p {
		out[i] = math.Log(x) // -Inf where nothing is known of a culprit any more
	}
	return out
}

// logSum gives log(sum(exp(x))).
func logSum(x []float64) float64 {
	top := slices.Max(x)
	if math.IsInf(top, -1) {
		return top
	}
	sum := 0.0
	for _, v := range x {
		sum += math.Exp(v - top)
	}
	return top + math.Log(sum)
}

// related gives how every culprit of the question stands to a tested component; omega is unrelated.
func (e *posterior) related(tested string) []kb.Relation {
	out := slices.Clip(e.m.related(tested)) // shared by all questions: the first addition copies it
	for _, name := range e.extra {
		out = append(out, e.m.relate(tested, name))
	}
	return out
}

// p gives the posterior probability of a culprit.
func (e *posterior) p(f int) float64 { return math.Exp(e.logPost[f]) }
