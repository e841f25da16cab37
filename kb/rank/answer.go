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
	a := kb.Answer{V: kb.Version, ID: string(q.ID), Understood: q, Warnings: unjudged(q)}
	asked := (&Table{terms: m.terms}).rowOf(q)
	e := m.evaluate(asked, m.exclude(m.excluded(q.ID, opt.Exclude)))
	r := &reply{posterior: e, opt: opt, listed: map[int]bool{}}
	r.closeness()
	a.Basis = r.basis()
	a.Fixes = r.fixes()
	a.Unlisted = r.unlisted()
	a.RuledOut = r.ruledOut(a.Fixes)
	if !opt.NoNext || opt.Plan != nil {
		a.Next = r.next(a.Fixes)
	}
	if opt.Plan != nil {
		r.addPlan(&a, *opt.Plan)
	}
	return a
}

func unjudged(q kb.Case) []string {
	var out []string
	for _, t := range q.Tests {
		if t.Result == "" && t.Reading != nil {
			out = append(out, fmt.Sprintf("the reading of %s at %s is kept but not judged: say whether the test passed or failed for it to count", t.Test, t.Component))
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
	opt    Options
	listed map[int]bool
	close  []int32 // rows by closeness: those that share a code first
	depth  map[int32]Level
	byF    map[int][]int32 // rows that name a culprit, closest first

	further []proposal // tests worth doing beyond those that are shown
}

// closeness finds, for every row that may be cited, the deepest level at which it agrees with the question.
func (r *reply) closeness() {
	r.depth, r.byF = map[int32]Level{}, map[int][]int32{}
	r.close = r.near()
	for _, i := range r.close {
		r.depth[i] = r.levelOf(i)
		for _, f := range r.m.named[i] {
			r.byF[int(f)] = append(r.byF[int(f)], i)
		}
	}
	for _, rows := range r.byF {
		slices.SortFunc(rows, r.closer)
	}
}

// levelOf gives the deepest level of the chain that a row shares with the question.
func (r *reply) levelOf(i int32) Level {
	q, row := r.q, r.m.rows[i]
	level := LevelAll
	if q.Machine.Kind != "" && q.Machine.Kind == row.Machine.Kind {
		level = LevelKind
	}
	if len(q.Codes) > 0 {
		shared := r.codeLevel(row)
		if shared < LevelCode {
			return max(level, shared)
		}
		level = shared
	}
	for _, x := range []struct {
		level      Level
		asked, got string
	}{{LevelMake, q.Machine.Make, row.Machine.Make}, {LevelModel, q.Machine.Model, row.Machine.Model}, {LevelVariant, q.Machine.Variant, row.Machine.Variant}} {
		if x.asked == "" || x.asked != x.got {
			return level
		}
		level = x.level
	}
	return level
}

func (r *reply) codeLevel(row *row) Level {
	level := LevelAll
	for _, asked := range r.q.Codes {
		for _, got := range row.Codes {
			switch {
			case asked.Key == got.Key && asked.Subtype != "" && asked.Subtype == got.Subtype:
				level = max(level, LevelSubtype)
			case asked.Key == got.Key:
				level = max(level, LevelCode)
			case asked.Key.Family() != "" && asked.Key.Scheme == got.Key.Scheme && asked.Key.Family() == got.Key.Family():
				level = max(level, LevelFamily)
			}
		}
	}
	return level
}

// basis counts the cases at each closeness to the question.
func (r *reply) basis() []kb.Basis {
	out := []kb.Basis{}
	t := r.m.tree(shapeOf(r.q, min(len(r.q.Codes), 1)-1))
	less := r.m.without(t, r.ex)
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
	for _, i := range r.close {
		if len(r.q.Codes) > 0 || r.sameMachine(i) {
			for _, f := range r.m.named[i] {
				r.listed[int(f)] = true
			}
		}
	}
	for f := range r.m.names {
		if r.p(f) >= worthListing {
			r.listed[f] = true
		}
	}
	var order []int
	for f := range r.m.names {
		if r.listed[f] && r.logPost[f] > math.Inf(-1) {
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

// sameMachine tells whether a row's machine is of the kind and make that the question states; with neither stated no row is.
func (r *reply) sameMachine(i int32) bool {
	m := r.q.Machine
	return (m.Kind != "" || m.Make != "") && same(m.Kind, r.m.rows[i].Machine.Kind) && same(m.Make, r.m.rows[i].Machine.Make)
}

func (r *reply) fix(f int, factors []float64) kb.RankedFix {
	rows := r.rowsOf(f)
	seen := LevelAll
	for _, i := range rows {
		seen = max(seen, r.depthOf(i))
	}
	counted := rows
	if seen >= LevelCode {
		counted = slices.DeleteFunc(slices.Clone(rows), func(i int32) bool { return r.depthOf(i) < LevelCode })
	}
	low, high := r.interval(f)
	return kb.RankedFix{Component: r.m.names[f], Probability: r.p(f), Low: low, High: high, Seen: seen.String(), Prior: r.base.p[f],
		Actions: r.actions(f, counted), CaseCount: len(counted), Cases: r.ids(counted), Because: r.because(counted, factors)}
}

// rowsOf lists the rows that name a culprit, the closest first: those near the question, or all where none is.
func (r *reply) rowsOf(f int) []int32 {
	if rows, ok := r.byF[f]; ok {
		return rows
	}
	var rows []int32
	for _, i := range r.m.byCulprit[f] {
		if !r.ex.rows[i] {
			rows = append(rows, i)
		}
	}
	slices.SortFunc(rows, r.closer)
	r.byF[f] = rows
	return rows
}

// closer orders rows by the deepest level shared, then by distance in years, then by id.
func (r *reply) closer(a, b int32) int {
	return cmp.Or(cmp.Compare(r.depthOf(b), r.depthOf(a)), cmp.Compare(r.yearsTo(a), r.yearsTo(b)), cmp.Compare(r.m.rows[a].ID, r.m.rows[b].ID))
}

func (r *reply) depthOf(i int32) Level {
	if l, ok := r.depth[i]; ok {
		return l
	}
	l := r.levelOf(i)
	r.depth[i] = l
	return l
}

func (r *reply) yearsTo(i int32) int {
	asked, got := r.q.Machine.Year, r.m.rows[i].Machine.Year
	if asked == 0 || got == 0 {
		return math.MaxInt32
	}
	return max(asked-got, got-asked)
}

func (r *reply) ids(rows []int32) []kb.CaseID {
	out := []kb.CaseID{}
	for _, i := range rows[:min(len(rows), r.opt.MaxCases)] {
		out = append(out, r.m.rows[i].ID)
	}
	return out
}

// actions gives the shares of the actions that cured a culprit. A bypass is never among them: it is no cure.
func (r *reply) actions(f int, rows []int32) []kb.ActionShare {
	n, total := map[kb.Action]int{}, 0
	for _, i := range rows {
		for _, c := range r.m.rows[i].Cures {
			if c.Component == r.m.names[f] {
				n[c.Action]++
				total++
			}
		}
	}
	out := []kb.ActionShare{}
	for _, a := range kb.Actions() {
		if n[a] > 0 {
			out = append(out, kb.ActionShare{Action: a, Share: float64(n[a]) / float64(total)})
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
		sum += share * share * r.v[g]
	}
	logit, sd := logIn-logOut, math.Sqrt(sum)
	return logistic(logit - z90*sd), logistic(logit + z90*sd)
}

func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

// unlisted gives the probability that the culprit is none of the listed ones, omega included: never zero.
func (r *reply) unlisted() kb.Unlisted {
	rest := []float64{r.logPost[len(r.m.names)]}
	var order []int
	for f := range r.m.names {
		if !r.listed[f] && !math.IsInf(r.logPost[f], -1) {
			rest = append(rest, r.logPost[f])
			order = append(order, f)
		}
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(r.logPost[b], r.logPost[a]), cmp.Compare(a, b)) })
	u := kb.Unlisted{Probability: math.Exp(logSum(rest)), Nearest: []kb.Nearest{}}
	u.Low, u.High = r.intervalOf(func(g int) bool { return g == len(r.m.names) || !r.listed[g] })
	for _, f := range order[:min(len(order), mostNearest)] {
		rows := r.rowsOf(f)
		seen := LevelAll
		for _, i := range rows {
			seen = max(seen, r.depthOf(i))
		}
		u.Nearest = append(u.Nearest, kb.Nearest{Component: r.m.names[f], Probability: r.p(f), Seen: seen.String(), Cases: r.ids(rows)})
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
		f := int(r.m.index[fix.Component])
		before := math.Exp(without[f] - total)
		if before <= 0 || fix.Probability >= ruledBelow || odds(fix.Probability) > ruledFactor*odds(before) {
			continue
		}
		by = by[:0]
		for _, x := range r.factors {
			if x.tests && x.logL[f] < x.logL[len(r.m.names)] {
				by = append(by, x.label)
			}
		}
		out = append(out, kb.RuledOut{Component: fix.Component, From: before, To: fix.Probability, By: slices.Clone(by)})
	}
	return out
}

func odds(p float64) float64 { return p / (1 - p) }
