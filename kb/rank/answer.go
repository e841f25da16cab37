package rank

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"ruledout/kb"
)

// Bounds of what an answer shows (design of the answer).
const (
	worthListing = 0.01 // a culprit seen elsewhere is listed from this probability on
	ruledFactor  = 0.1  // passed tests and tried fixes multiply its odds by at most this
	ruledBelow   = 0.05 // and it ends below this
	mostNearest  = 5
	leastShare   = 1e-3               // of its side of an interval, below which the uncertainty of a culprit is not felt
	z90          = 1.6448536269514722 // 95 % quantile of the normal distribution: two-sided 90 %
)

// Options of one question.
type Options struct {
	Exclude  func(kb.CaseID) bool // cases that may not count, beside the question's own id; may be nil
	MaxCases int                  // most cases cited at one place, 20 if 0
	NoNext   bool                 // leave out what to do next
	Plan     *PlanOptions         // also plan; nil: no plan
}

// Ask answers an open case: basis, what is ruled out, what to do next, repairs and the rest. Meaning, cautions and costs are left to the
// caller. The question is in the vocabulary's terms, as the cases are.
func (m *Model) Ask(q kb.Case, opt Options) kb.Answer {
	if opt.MaxCases == 0 {
		opt.MaxCases = 20
	}
	ex := m.exclude(m.excluded(q.ID, opt.Exclude))
	e := m.evaluate(m.asked(q), ex)
	a := kb.Answer{V: kb.Version, ID: string(q.ID), Understood: q, Warnings: e.unjudged(q.Tests)}
	r := &reply{posterior: e, opt: opt, listed: map[int]bool{}}
	r.ask = r.asking()
	r.look()
	a.Basis = r.basis()
	a.Fixes = r.fixes()
	a.Unlisted = r.unlisted()
	a.RuledOut = r.ruledOut(a.Fixes)
	if !opt.NoNext || opt.Plan != nil {
		a.Next = r.next(a.Fixes)
		a.WouldChange = r.change
	}
	if opt.Plan != nil {
		r.addPlan(&a, *opt.Plan)
	}
	return a
}

// unjudged names the readings that no limit judges and that too few others took to be compared with.
func (e *posterior) unjudged(tests []kb.Test) []string {
	var out []string
	for _, t := range tests {
		if _, judged := t.Conformity(); judged || t.Result != "" || t.Reading == nil {
			continue
		}
		if g, shows := gauge(t); !shows || e.chanceOf(g) == 0 {
			out = append(out, fmt.Sprintf("the reading of %s at %s is kept but not judged, for no limit is known: say whether the test passed or failed for it to count", t.Test, t.Component))
		}
	}
	return out
}

func (m *Model) excluded(own kb.CaseID, also func(kb.CaseID) bool) map[int32]bool {
	out := map[int32]bool{}
	if i, ok := m.byID[own]; ok {
		out[i] = true
	}
	if also != nil {
		for i, r := range m.rows {
			if also(r.ID) {
				out[int32(i)] = true
			}
		}
	}
	return out
}

// reply turns a posterior into the parts of an answer.
type reply struct {
	*posterior
	opt     Options
	ask     asking
	listed  map[int]bool
	records []*record  // by culprit, nil for one that no near case names
	leads   []bool     // by culprit: probable enough for its tests to be proposed
	first   int32      // the likeliest culprit
	did     done       // tests that near cases of the leading culprits did
	proofs  done       // proofs of the likeliest culprit's repair
	change  *kb.Change // see wouldChange
	further []proposal // tests worth doing beyond those that are shown
}

// basis counts the cases at each closeness to the question.
func (r *reply) basis() []kb.Basis {
	out := []kb.Basis{}
	t := r.m.tree(shapeOf(r.q, min(len(r.q.Codes), 1)-1))
	less := r.m.without(t, r.ex, false)
	for i, at := range t.find(r.q, 0) {
		out = append(out, kb.Basis{Level: t.levels[i].String(), Cases: t.nodes[at].rows - less.rows[at]})
	}
	for i := len(out); i < len(t.levels); i++ {
		out = append(out, kb.Basis{Level: t.levels[i].String()})
	}
	if len(out) > 0 {
		out[0].Cases = len(r.m.rows) - len(r.ex.rows)
	}
	return out
}

// fixes lists the culprits that cases of the question's code name, and any other that is likely enough.
func (r *reply) fixes() []kb.RankedFix {
	stated := len(r.q.Codes) > 0 || r.q.Machine.Kind != "" || r.q.Machine.Make != ""
	var order []int
	for f := range r.logPost {
		if f != r.omega() && !math.IsInf(r.logPost[f], -1) && (stated && r.records[f] != nil || r.p(f) >= worthListing) {
			r.listed[f] = true
			order = append(order, f)
		}
	}
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(r.logPost[b], r.logPost[a]), cmp.Compare(a, b))
	})
	out := []kb.RankedFix{}
	factors := r.factorsOf(order)
	for i, f := range order {
		out = append(out, r.fix(f, factors[i]))
	}
	return out
}

func (r *reply) fix(f int, factors []float64) kb.RankedFix {
	rec := r.lookElsewhere(f)
	low, high := r.interval(f)
	return kb.RankedFix{Component: r.name(f), Probability: r.p(f), Low: low, High: high, Seen: r.seen(rec), Prior: r.base.p[f],
		Actions: rec.shares(), CaseCount: rec.count, Cases: r.ids(rec.cases), Because: r.because(rec, factors)}
}

// seen says how close the cases of a culprit come; one that no case names is known by the structure alone.
func (r *reply) seen(rec *record) string {
	if rec.count == 0 {
		return LevelStructure.String()
	}
	return rec.seen.String()
}

// shares gives the shares of the actions that cured a culprit. A bypass is never among them: it is no cure.
func (rec *record) shares() []kb.ActionShare {
	total := 0
	for _, n := range rec.actions {
		total += n
	}
	out := []kb.ActionShare{}
	for i, a := range kb.Actions() {
		if rec.actions[i] > 0 {
			out = append(out, kb.ActionShare{Action: a, Share: float64(rec.actions[i]) / float64(total)})
		}
	}
	slices.SortStableFunc(out, func(a, b kb.ActionShare) int { return cmp.Compare(b.Share, a.Share) })
	return out
}

// interval gives the 90 % interval of a culprit's probability by the delta method.
func (r *reply) interval(f int) (low, high float64) {
	return r.intervalOf(func(g int) bool { return g == f })
}

// intervalOf gives the interval of the probability that the culprit is one of a set: with P the set's probability and v_g the variance
// of the log weight of g, var logit P = sum over the set of (p_g/P)^2 v_g + sum over the others of (p_g/(1-P))^2 v_g.
func (r *reply) intervalOf(in func(int) bool) (low, high float64) {
	var inside, outside []float64
	for g, l := range r.logPost {
		if in(g) {
			inside = append(inside, l)
		} else {
			outside = append(outside, l)
		}
	}
	if len(inside) == 0 || len(outside) == 0 {
		return 0, 1
	}
	logIn, logOut := logSum(inside), logSum(outside)
	if math.IsInf(logIn, -1) {
		return 0, 0
	}
	if math.IsInf(logOut, -1) {
		return 1, 1
	}
	sum := 0.0
	for g, l := range r.logPost {
		if math.IsInf(l, -1) {
			continue
		}
		share := math.Exp(l - logOut)
		if in(g) {
			share = math.Exp(l - logIn)
		}
		if share >= leastShare {
			sum += share * share * r.variance(g)
		}
	}
	logit, sd := logIn-logOut, math.Sqrt(sum)
	return logistic(logit - z90*sd), logistic(logit + z90*sd)
}

func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

// unlisted gives the probability that the culprit is none of the listed ones, omega included: never zero.
func (r *reply) unlisted() kb.Unlisted {
	rest := []float64{r.logPost[r.omega()]}
	var order []int
	for f := range r.logPost {
		if f != r.omega() && !r.listed[f] && !math.IsInf(r.logPost[f], -1) {
			rest = append(rest, r.logPost[f])
			order = append(order, f)
		}
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(r.logPost[b], r.logPost[a]), cmp.Compare(a, b)) })
	u := kb.Unlisted{Probability: math.Min(1, math.Exp(logSum(rest))), Nearest: []kb.Nearest{}}
	u.Low, u.High = r.intervalOf(func(g int) bool { return !r.listed[g] })
	for _, f := range order[:min(len(order), mostNearest)] {
		rec := r.lookElsewhere(f)
		u.Nearest = append(u.Nearest, kb.Nearest{Component: r.name(f), Probability: r.p(f), Seen: r.seen(rec), Cases: r.ids(rec.cases)})
	}
	return u
}

// ruledOut lists the culprits that passed tests and tried fixes alone exclude.
func (r *reply) ruledOut(fixes []kb.RankedFix) []kb.RuledOut {
	out := []kb.RuledOut{}
	without := slices.Clone(r.logPost)
	var by []string
	for _, x := range r.factors {
		if !x.tests {
			continue
		}
		for f := range without {
			without[f] -= x.logL[f]
		}
	}
	total := logSum(without)
	for _, fix := range fixes {
		f := r.place(fix.Component)
		before := math.Exp(without[f] - total)
		if before <= 0 || fix.Probability >= ruledBelow || odds(fix.Probability) > ruledFactor*odds(before) {
			continue
		}
		by = by[:0]
		for _, x := range r.factors {
			if x.tests && x.logL[f] < x.logL[r.omega()] {
				by = append(by, x.label)
			}
		}
		out = append(out, kb.RuledOut{Component: fix.Component, From: before, To: fix.Probability, By: slices.Clone(by)})
	}
	return out
}

func odds(p float64) float64 { return p / (1 - p) }
