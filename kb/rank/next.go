package rank

import (
	"cmp"
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
	rows  []int32 // cases that did it
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
	repair, hasRepair := r.repair(fixes)
	if hasRepair && (len(tests) == 0 || tests[0].gain < worthFirst) {
		out = append(out, repair)
		hasRepair = false
	}
	for _, p := range tests {
		out = append(out, r.testStep(p))
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

// proposals collects the tests that cases of the leading culprits did, and for each leading culprit the usual test of itself.
func (r *reply) proposals(fixes []kb.RankedFix) []proposal {
	var out []proposal
	for _, fix := range fixes {
		if fix.Probability < leading && len(out) > 0 {
			break
		}
		f := int(r.m.index[fix.Component])
		own := false
		for _, i := range r.rowsOf(f) {
			for _, o := range r.m.rows[i].Tests {
				out = r.propose(out, o, i)
				own = own || o.Component == fix.Component
			}
		}
		if method := r.usualMethod(fix.Component); !own && method != "" {
			out = r.propose(out, observed{Component: fix.Component, Method: method}, -1)
		}
		if len(out) >= mostProposals {
			break
		}
	}
	return out
}

// propose adds a test unless it is done already, or notes that one more case did it. A failed code is no test to do, and a bypass that
// was left in place none to recommend.
func (r *reply) propose(list []proposal, o observed, row int32) []proposal {
	if o.Result == kb.Inconclusive || isCode(o.Method) || o.Left || r.answered(o) {
		return list
	}
	i := slices.IndexFunc(list, func(p proposal) bool { return p.Component == o.Component && p.Method == o.Method })
	if i < 0 {
		list = append(list, proposal{observed: observed{Component: o.Component, Method: o.Method, Bench: o.Bench}})
		i = len(list) - 1
	}
	if row >= 0 && !slices.Contains(list[i].rows, row) {
		list[i].rows = append(list[i].rows, row)
	}
	return list
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

// best computes what each test tells and keeps the best.
func (r *reply) best(list []proposal) []proposal {
	p := make([]float64, len(r.logPost))
	for f := range p {
		p[f] = r.p(f)
	}
	for i := range list {
		x := &list[i]
		rel, rates := r.m.related(x.Component), r.ev.failRates(x.observed)
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
	return list[:min(len(list), mostTests)]
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

func (r *reply) testStep(x proposal) kb.NextStep {
	slices.SortFunc(x.rows, r.closer)
	return kb.NextStep{Kind: "test", Test: x.Method, Component: x.Component, GainBits: x.gain, Minutes: r.minutes(x), Cases: r.ids(x.rows),
		Branches: []kb.Branch{r.branch("pass", 1-x.pFail, x, true), r.branch("fail", x.pFail, x, false)}}
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
	for f := range r.m.names {
		if after[f] > after[lead] {
			lead = f
		}
	}
	return kb.Branch{Result: result, Probability: p, Leader: r.m.names[lead], LeaderP: math.Exp(after[lead] - total)}
}

// minutes gives the median time that cases name for a test, else the method's usual time.
func (r *reply) minutes(x proposal) float64 {
	var all []float64
	for _, i := range x.rows {
		for _, o := range r.m.rows[i].Tests {
			if o.Component == x.Component && o.Method == x.Method && o.Minutes > 0 {
				all = append(all, o.Minutes)
			}
		}
	}
	if len(all) == 0 {
		if m, ok := r.m.terms.Method(x.Method); ok {
			return m.Minutes
		}
		return 0
	}
	slices.Sort(all)
	return (all[(len(all)-1)/2] + all[len(all)/2]) / 2
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
	type key struct{ component, method string }
	n := map[key][]int32{}
	for _, i := range r.rowsOf(int(r.m.index[fixes[0].Component])) {
		for _, o := range r.m.rows[i].Proofs {
			k := key{o.Component, o.Method}
			if o.Result == kb.Pass && !slices.Contains(n[k], i) {
				n[k] = append(n[k], i)
			}
		}
	}
	best := key{}
	own := func(k key) int { // a proof on the repaired component itself comes first among equals
		if k.component == fixes[0].Component {
			return 1
		}
		return 0
	}
	for k, rows := range n {
		if cmp.Or(cmp.Compare(len(rows), len(n[best])), cmp.Compare(own(k), own(best)), cmp.Compare(best.component, k.component), cmp.Compare(best.method, k.method)) > 0 {
			best = k
		}
	}
	if best.component == "" {
		return kb.NextStep{}, false
	}
	return kb.NextStep{Kind: "proof", Test: best.method, Component: best.component, Cases: r.ids(n[best])}, true
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
