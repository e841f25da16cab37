package rank

import (
	"cmp"
	"maps"
	"math"
	"runtime"
	"slices"
	"sync"

	"gonum.org/v1/gonum/floats"

	"ruledout/kb"
)

// booklet holds the closed cases of a fit, in order of id.
type booklet struct {
	terms  Terms
	rows   []*row
	starts []*row // the same as they stand at the start
	group  []int
	fold   []int
	folds  int
}

func newBooklet(cases []kb.Case, groups []int, t Terms, opt FitOptions) (*booklet, error) {
	if len(groups) != len(cases) {
		return nil, kb.Errorf(kb.Internal, "%d groups for %d cases", len(groups), len(cases))
	}
	order := make([]int, 0, len(cases))
	for i := range cases {
		if cases[i].IsEvidence() {
			order = append(order, i)
		}
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(cases[a].ID, cases[b].ID) })
	b := &booklet{terms: t}
	table := &Table{terms: t}
	for n, i := range order {
		if cases[i].ID == "" || n > 0 && cases[order[n-1]].ID == cases[i].ID {
			return nil, &kb.Error{Kind: kb.Invalid, Field: "id", Msg: "every case needs one of its own"}
		}
		start := cases[i]
		start.Tests, start.Fixes = nil, nil
		b.rows = append(b.rows, table.rowOf(cases[i]))
		b.starts = append(b.starts, table.rowOf(start))
		b.group = append(b.group, groups[i])
	}
	b.assign(opt.Folds)
	return b, nil
}

// assign puts each group into a fold, the one with the fewest cases so far; groups go by the hash of their first id.
func (b *booklet) assign(folds int) {
	first, size := map[int]kb.CaseID{}, map[int]int{}
	for i, g := range b.group {
		if _, known := first[g]; !known {
			first[g] = b.rows[i].ID
		}
		size[g]++
	}
	order := slices.SortedFunc(maps.Keys(first), func(x, y int) int {
		return cmp.Or(cmp.Compare(hashOf(first[x]), hashOf(first[y])), cmp.Compare(first[x], first[y]))
	})
	b.folds = min(folds, len(order))
	of, load := map[int]int{}, make([]int, b.folds)
	for _, g := range order {
		least := slices.Index(load, slices.Min(load))
		of[g] = least
		load[least] += size[g]
	}
	for _, g := range b.group {
		b.fold = append(b.fold, of[g])
	}
}

// The parts of a question whose likelihoods multiply, the prior first.
const (
	partPrior = iota
	partSymptoms
	partFirst // tests known at the start
	partTests // all tests
	partTried
	nParts
)

// question is a held-out case.
type question struct {
	at    int   // of the case in the booklet
	fold  int   // of the model that answers it
	truth []int // culprits, by number in the fold's model
	vec   [nParts][]float64
	loss  float64
}

// problem is a set of questions with the models that answer them, each built from the cases of other folds.
type problem struct {
	b         *booklet
	tables    map[int]*Table
	models    map[int]*Model
	questions []*question
}

// problem asks some folds, each of a model of the others that are in.
func (b *booklet) problem(in func(int) bool, asks []int, most int) *problem {
	pr := &problem{b: b, tables: map[int]*Table{}}
	for _, f := range asks {
		t := NewTable(b.terms)
		for i, r := range b.rows {
			if in(b.fold[i]) && b.fold[i] != f {
				t.rows[r.ID] = r
			}
		}
		pr.tables[f] = t
	}
	var asked []int
	for i := range b.rows {
		if pr.tables[b.fold[i]] != nil {
			asked = append(asked, i)
		}
	}
	if len(asked) > most {
		slices.SortFunc(asked, func(x, y int) int { return cmp.Compare(hashOf(b.rows[x].ID), hashOf(b.rows[y].ID)) })
		asked = asked[:most]
		slices.Sort(asked)
	}
	for _, i := range asked {
		pr.questions = append(pr.questions, &question{at: i, fold: b.fold[i]})
	}
	return pr
}

// enough gives the first folds without one (-1: of all) that hold as many cases as are asked, two at least: a fold that is not asked
// needs no model.
func (b *booklet) enough(without, most int) []int {
	var out []int
	for f, n := 0, 0; f < b.folds && (len(out) < 2 || n < most); f++ {
		if f != without {
			out, n = append(out, f), n+b.size(f)
		}
	}
	return out
}

// size gives the number of cases in a fold.
func (b *booklet) size(fold int) int {
	n := 0
	for _, f := range b.fold {
		if f == fold {
			n++
		}
	}
	return n
}

// open makes the models anew under the given constants, credits included, and asks every question.
func (pr *problem) open(p Params) {
	pr.models = map[int]*Model{}
	index := map[int]map[string]int{}
	for f, t := range pr.tables {
		m := t.Model(p)
		pr.models[f], index[f] = m, map[string]int{}
		for j, name := range m.names {
			index[f][name] = j
		}
	}
	for _, q := range pr.questions {
		q.truth = q.truth[:0]
		for _, c := range pr.b.rows[q.at].Culprits {
			j, known := index[q.fold][c]
			if !known {
				j = len(pr.models[q.fold].names)
			}
			if !slices.Contains(q.truth, j) {
				q.truth = append(q.truth, j)
			}
		}
	}
	pr.keep(pr.ask(p, onAll, nil))
}

// again asks the same questions of models built anew under other constants.
func (pr *problem) again(p Params) *problem {
	out := &problem{b: pr.b, tables: pr.tables}
	for _, q := range pr.questions {
		out.questions = append(out.questions, &question{at: q.at, fold: q.fold})
	}
	out.open(p)
	return out
}

// tune changes the constants of a model that nobody else uses meanwhile. Credits and counts stay; what it keeps that depends on a constant
// is made anew.
func (m *Model) tune(p Params) {
	if slices.ContainsFunc(symptomConstants(), func(c Constant) bool { return c.Get(m.p) != c.Get(p) }) {
		m.spoken, m.silences = map[spokenKey]*spoken{}, map[string]*silence{}
	}
	for _, t := range m.trees {
		if t.p.Discount != p.Discount || slices.ContainsFunc(t.levels, func(l Level) bool { return t.p.K[l] != p.K[l] }) {
			t.reseat(p)
		}
	}
	m.p = p
}

// reseat hands up the seats anew under other constants.
func (t *tree) reseat(p Params) {
	for i := range t.nodes {
		if t.nodes[i].depth < len(t.levels)-1 {
			t.nodes[i].n = map[int32]float64{}
		}
	}
	t.p = p
	t.seat()
}

// each does something with every question, several at once.
func (pr *problem) each(do func(q *question)) {
	workers := runtime.GOMAXPROCS(0)
	var wait sync.WaitGroup
	for w := range workers {
		wait.Go(func() {
			for i := w; i < len(pr.questions); i += workers {
				do(pr.questions[i])
			}
		})
	}
	wait.Wait()
}

// trial is what a question's parts are under constants that are tried out; nil where a part stays as it was.
type trial struct {
	vec  [nParts][]float64
	loss float64
}

// ask computes the parts in acts anew under other constants, of every question that only picks (nil: of all), and the losses. A question
// that stays as it is has no trial.
func (pr *problem) ask(p Params, acts parts, only func(*row, Terms) bool) []*trial {
	for _, m := range pr.models {
		m.tune(p)
	}
	out := make([]*trial, len(pr.b.rows))
	pr.each(func(q *question) {
		if only == nil || only(pr.b.rows[q.at], pr.b.terms) {
			out[q.at] = pr.askOne(q, acts)
		}
	})
	return out
}

func (pr *problem) askOne(q *question, acts parts) *trial {
	m, x, any := pr.models[q.fold], &trial{}, false
	for part := range nParts {
		r := pr.b.rows[q.at]
		if part == partFirst {
			r = pr.b.starts[q.at]
		}
		if acts&(1<<part) != 0 && has(r, part) {
			x.vec[part], any = m.part(r, part), true
		}
	}
	if !any {
		return nil
	}
	x.loss = q.lossOf(x)
	return x
}

// has tells whether a case says anything in a part.
func has(r *row, part int) bool {
	switch part {
	case partSymptoms:
		return len(r.Symptoms) > 0 || !r.FullForm
	case partFirst, partTests:
		return len(r.Tests) > 0
	case partTried:
		return len(r.Tried) > 0
	}
	return true
}

// part gives the log likelihood of one part of a question under every culprit, of the prior the log probability.
func (m *Model) part(q *row, part int) []float64 {
	e := m.begin(q, exclusion{})
	out := make([]float64, e.size())
	switch part {
	case partPrior:
		e.addPrior()
		e.addCodes()
		out = logs(e.base.p)
	case partSymptoms:
		e.addSymptoms()
	case partTried:
		e.addTried()
	default:
		e.addTests()
	}
	for _, x := range e.factors {
		floats.Add(out, x.logL)
	}
	return out
}

// lossOf gives the mean of the log loss at the start and with everything, under a trial.
func (q *question) lossOf(x *trial) float64 {
	get := func(part int) []float64 {
		if x.vec[part] != nil {
			return x.vec[part]
		}
		return q.vec[part]
	}
	sum := func(list ...int) []float64 {
		out := slices.Clone(get(partPrior))
		for _, part := range list {
			if v := get(part); v != nil {
				floats.Add(out, v)
			}
		}
		return out
	}
	start := logLoss(sum(partSymptoms, partFirst), q.truth)
	if get(partTests) == nil && get(partTried) == nil {
		return start
	}
	return (start + logLoss(sum(partSymptoms, partTests, partTried), q.truth)) / 2
}

// leastProbability bounds the log loss of a question where a culprit has been given no probability at all.
const leastProbability = 1e-12

// logLoss gives -ln of the summed probability of some culprits under unnormalised log probabilities.
func logLoss(log []float64, truth []int) float64 {
	of := make([]float64, len(truth))
	for i, f := range truth {
		of[i] = log[f]
	}
	return math.Min(logSum(log)-logSum(of), -math.Log(leastProbability))
}

// keep makes trials the state of the questions.
func (pr *problem) keep(list []*trial) {
	for _, q := range pr.questions {
		x := list[q.at]
		if x == nil {
			continue
		}
		for part, v := range x.vec {
			if v != nil {
				q.vec[part] = v
			}
		}
		q.loss = x.loss
	}
}

// losses gives the log loss of every question, those of a trial where there is one.
func (pr *problem) losses(list []*trial) []float64 {
	out := make([]float64, len(pr.questions))
	for i, q := range pr.questions {
		out[i] = q.loss
		if list != nil && list[q.at] != nil {
			out[i] = list[q.at].loss
		}
	}
	return out
}
