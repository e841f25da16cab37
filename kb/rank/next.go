package rank

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"ruledout/kb"
)

// Bounds of what is proposed to do next.
const (
	mostTests     = 5
	worthTesting  = 0.02 // bits from which a test is proposed
	worthFirst    = 0.05 // bits below which the likeliest repair comes before the tests
	leading       = 0.02 // probability from which a culprit's own test is considered
	mostProposals = 60
)

// proposal is a test that could be done.
type proposal struct {
	observed
	test  int32 // its number, -1 if no case did it
	cases int   // near cases of the leading culprits that did it
	gain  float64
	fail  []float64 // probability of failing under each culprit
	pFail float64
}

// next orders what to do: tests by what they tell, the likeliest repair, and how others proved it.
func (r *reply) next(fixes []kb.RankedFix) []kb.NextStep {
	out := []kb.NextStep{}
	if len(fixes) == 0 {
		return out
	}
	tests := r.best(r.proposals(fixes))
	tests, r.further = tests[:min(len(tests), mostTests)], tests[min(len(tests), mostTests):]
	repair, hasRepair := r.repair(fixes)
	if hasRepair && (len(tests) == 0 || tests[0].gain < worthFirst) {
		out = append(out, repair)
		hasRepair = false
	}
	done := r.didThem(tests)
	for _, p := range tests {
		out = append(out, r.testStep(p, done[p.test]))
	}
	if hasRepair {
		out = append(out, repair)
	}
	if proof, ok := r.proof(fixes); ok {
		out = append(out, proof)
	}
	link(out)
	return out
}

// proposals collects the tests that near cases of the leading culprits did, and for each leading culprit the usual test of itself.
func (r *reply) proposals(fixes []kb.RankedFix) []proposal {
	var out []proposal
	for t, n := range r.used {
		k := r.m.numbers.list[t]
		if n > 0 {
			out = r.propose(out, proposal{observed: observed{Component: k.component, Method: k.method, Bench: k.bench}, test: int32(t), cases: int(n)})
		}
	}
	slices.SortStableFunc(out, func(a, b proposal) int { return cmp.Compare(b.cases, a.cases) })
	out = out[:min(len(out), mostProposals)]
	for i, fix := range fixes {
		if fix.Probability < leading && i > 0 {
			break
		}
		own := slices.ContainsFunc(out, func(p proposal) bool { return p.Component == fix.Component })
		if method := r.usualMethod(fix.Component); !own && method != "" {
			out = r.propose(out, proposal{observed: observed{Component: fix.Component, Method: method}, test: -1})
		}
	}
	return out
}

// propose adds a test unless it is there or done already.
func (r *reply) propose(list []proposal, p proposal) []proposal {
	if r.answered(p.observed) || slices.ContainsFunc(list, func(o proposal) bool { return o.Component == p.Component && o.Method == p.Method }) {
		return list
	}
	return append(list, p)
}

func isCode(method string) bool { return len(method) > 5 && method[:5] == "code " }

// answered tells whether the question has a result of this test already, or has the component itself tried.
func (r *reply) answered(o observed) bool {
	return slices.ContainsFunc(r.q.Tests, func(x observed) bool { return x.Component == o.Component && x.Method == o.Method })
}

// usualMethod gives the method by which cases test a component most, else by which they test most things that can be looked at. Bridging
// is none: counts do not tell a test from a bypass left in place.
func (r *reply) usualMethod(component string) string {
	best, most := "", 0
	n := map[string]int{}
	for k, t := range r.m.stats.tests {
		if k.component == component && k.method != kb.MethodBridging {
			n[k.method] += int(math.Ceil(t.n()))
		}
	}
	for method, c := range n {
		if c > most || c == most && method < best {
			best, most = method, c
		}
	}
	if best != "" {
		return best
	}
	for _, fallback := range []string{"visual inspection", "inspection"} {
		if m, ok := r.m.terms.Method(fallback); ok {
			return m.Name
		}
	}
	return ""
}

// best computes what each test tells and keeps those worth doing, the best first.
func (r *reply) best(list []proposal) []proposal {
	p := make([]float64, len(r.logPost))
	for f := range p {
		p[f] = r.p(f)
	}
	for i := range list {
		x := &list[i]
		rel, rates := r.related(x.Component), r.ev.failRates(x.observed)
		x.fail = make([]float64, len(p))
		for f := range p {
			x.fail[f] = r.ev.testRate(x.observed, rates, rel[f], f).mean()
		}
		gain, each := information(p, x.fail)
		x.gain, x.pFail = gain, each[0]
	}
	list = slices.DeleteFunc(list, func(x proposal) bool { return x.gain < worthTesting })
	slices.SortFunc(list, func(a, b proposal) int {
		return cmp.Or(cmp.Compare(b.gain, a.gain), cmp.Compare(a.Component, b.Component), cmp.Compare(a.Method, b.Method))
	})
	return list
}

// information gives the mutual information, in bits, between a result and the culprit, and the probability of each outcome but the last.
// p are the culprits' probabilities; outcomes has the probability of each outcome under each culprit, the last outcome left out, which
// takes what remains: a pass beside a fail needs one list, a reading of three bands two.
func information(p []float64, outcomes ...[]float64) (bits float64, each []float64) {
	each = make([]float64, len(outcomes))
	under := make([]float64, len(outcomes))
	conditional := 0.0
	for f, x := range p {
		for o, q := range outcomes {
			under[o] = q[f]
			each[o] += x * q[f]
		}
		conditional += x * entropy(under...)
	}
	return math.Max(0, entropy(each...)-conditional), each
}

// entropy is the entropy, in bits, of a variable with the given probabilities of its values, the last value left out.
func entropy(p ...float64) float64 {
	bits, rest := 0.0, 1.0
	for _, x := range p {
		bits += surprise(x)
		rest -= x
	}
	return bits + surprise(rest)
}

// surprise is -p log2 p, 0 at the ends of the range.
func surprise(p float64) float64 {
	if p <= 0 || p >= 1 {
		return 0
	}
	return -p * math.Log2(p)
}

func (r *reply) testStep(x proposal, cases shortlist) kb.NextStep {
	return kb.NextStep{Kind: "test", Test: x.Method, Component: x.Component, GainBits: x.gain, Minutes: r.m.minutes(x.observed), Cases: r.ids(cases),
		Branches: []kb.Branch{r.branch("pass", 1-x.pFail, x, true), r.branch("fail", x.pFail, x, false)}}
}

// didThem lists the cases of the leading culprits that did each of some tests.
func (r *reply) didThem(tests []proposal) map[int32]shortlist {
	lists, _ := r.whoDid(func(f int32) bool { return r.p(int(f)) >= leading }, func(x *lean) []int32 { return x.tests },
		func(t int32) bool { return slices.ContainsFunc(tests, func(p proposal) bool { return p.test == t }) })
	return lists
}

// branch says who leads after a result, by the same tempered likelihood that an answer to it would use.
func (r *reply) branch(result string, p float64, x proposal, passed bool) kb.Branch {
	after := slices.Clone(r.logPost)
	for f := range after {
		l := x.fail[f]
		if passed {
			l = 1 - l
		}
		after[f] += r.m.p.Lambda * math.Log(l)
	}
	total, lead := logSum(after), 0
	for f := range after {
		if f != r.omega() && (after[f] > after[lead] || lead == r.omega()) {
			lead = f
		}
	}
	return kb.Branch{Result: result, Probability: p, Leader: r.name(lead), LeaderP: math.Exp(after[lead] - total)}
}

// minutes gives the median time that cases name for a test, else the method's usual time.
func (m *Model) minutes(o observed) float64 {
	if x, ok := m.times[kindOfTest{o.Component, o.Method, false}]; ok {
		return x
	}
	if x, ok := m.terms.Method(o.Method); ok {
		return x.Minutes
	}
	return 0
}

// timeTests takes the median time of each test that cases name one for.
func (m *Model) timeTests() {
	all := map[kindOfTest][]float64{}
	for _, r := range m.rows {
		for _, o := range r.Tests {
			if k := (kindOfTest{o.Component, o.Method, false}); o.Minutes > 0 {
				all[k] = append(all[k], o.Minutes)
			}
		}
	}
	m.times = map[kindOfTest]float64{}
	for k, list := range all {
		slices.Sort(list)
		m.times[k] = (list[(len(list)-1)/2] + list[len(list)/2]) / 2
	}
}

// repair proposes the likeliest repair by the action that cured it most.
func (r *reply) repair(fixes []kb.RankedFix) (kb.NextStep, bool) {
	top := fixes[0]
	if len(top.Actions) == 0 {
		return kb.NextStep{}, false
	}
	return kb.NextStep{Kind: "fix", Component: top.Component, Action: top.Actions[0].Action, Cases: top.Cases,
		Branches: []kb.Branch{{Result: "fixed", Probability: top.Probability}, {Result: "no change", Probability: 1 - top.Probability}}}, true
}

// proof tells how others proved the leading repair.
func (r *reply) proof(fixes []kb.RankedFix) (kb.NextStep, bool) {
	f := int32(r.place(fixes[0].Component))
	lists, n := r.whoDid(func(g int32) bool { return g == f }, func(x *lean) []int32 { return x.proofs }, func(int32) bool { return true })
	if len(n) == 0 {
		return kb.NextStep{}, false
	}
	own := func(t int32) int { // a proof on the repaired component itself comes first among equals
		if r.m.numbers.list[t].component == fixes[0].Component {
			return 1
		}
		return 0
	}
	best := slices.MinFunc(slices.Sorted(maps.Keys(n)), func(a, b int32) int {
		x, y := r.m.numbers.list[a], r.m.numbers.list[b]
		return cmp.Or(cmp.Compare(n[b], n[a]), cmp.Compare(own(b), own(a)), cmp.Compare(x.component, y.component), cmp.Compare(x.method, y.method))
	})
	k := r.m.numbers.list[best]
	return kb.NextStep{Kind: "proof", Test: k.method, Component: k.component, Cases: r.ids(lists[best])}, true
}

// link leads each branch to the step that follows: after a failed test to the repair of what then leads, else to the next step.
func link(steps []kb.NextStep) {
	for i := range steps {
		for j := range steps[i].Branches {
			b := &steps[i].Branches[j]
			to := i + 1
			for k := range steps {
				switch {
				case b.Result == "fixed" && steps[k].Kind == "proof":
					to = k
				case b.Result == "fail" && k > i && steps[k].Kind == "fix" && steps[k].Component == b.Leader:
					to = k
				}
			}
			if to < len(steps) && !(steps[to].Kind == "proof" && b.Result != "fixed") {
				b.Next = &to
			}
		}
	}
}
