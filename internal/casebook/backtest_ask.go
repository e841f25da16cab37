package casebook

import (
	"cmp"
	"context"
	"math"
	"slices"

	"ruledout/kb"
	"ruledout/kb/code"
	"ruledout/kb/rank"
	"ruledout/kb/rank/score"
)

// trial is one case asked.
type trial struct {
	codes        []code.Key
	seen         int // cases learned from that share a code
	steps        bool
	start, bench answers
	unlisted     score.Event // at the start: none of those listed
}

// answers holds what each way of answering came to.
type answers struct{ book, frequent, nearest score.Outcome }

// tryAll asks every held-out case of every part, in the order of parts and cases.
func (b *Book) tryAll(ctx context.Context, s *sample, parts []part, opt BacktestOptions) ([]trial, error) {
	total, out := 0, []trial(nil)
	for _, p := range parts {
		total += len(p.ask)
	}
	told := opt.Progress
	if told == nil {
		told = func(done, total int) { b.progress(Progress{Work: "asking held-out cases", Done: done, Total: total}) }
	}
	for _, p := range parts {
		x, err := b.examiner(ctx, s, p, opt)
		if err != nil {
			return nil, err
		}
		type result struct {
			trial
			err error
		}
		jobs := func(yield func(func() result) bool) {
			for _, i := range p.ask {
				if !yield(func() result { t, err := x.try(ctx, &s.cases[i]); return result{t, err} }) {
					return
				}
			}
		}
		err = inOrder(ctx, opt.Workers, jobs, func(r result) error {
			out = append(out, r.trial)
			told(len(out), total)
			return r.err
		})
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// examiner asks the held-out cases of one part; it knows nothing but the training cases.
type examiner struct {
	book   *Book
	sample *sample
	learnt []bool // of the sample's cases
	model  *rank.Model
	byCode map[code.Key][]int // training cases
	all    []int
}

func (b *Book) examiner(ctx context.Context, s *sample, p part, opt BacktestOptions) (*examiner, error) {
	x := &examiner{book: b, sample: s, learnt: make([]bool, len(s.cases)), byCode: map[code.Key][]int{}, all: p.learn}
	table := rank.NewTable(b.Vocabulary())
	for _, i := range p.learn {
		x.learnt[i] = true
		table.Put(s.cases[i])
		for _, k := range keysOf(&s.cases[i]) {
			x.byCode[k] = append(x.byCode[k], i)
		}
	}
	now, err := b.constantsInForce(ctx)
	if err != nil {
		return nil, err
	}
	params := now.params
	if opt.Nested {
		training := make([]kb.Case, len(p.learn))
		of := make([]int, len(p.learn))
		for at, i := range p.learn {
			training[at], of[at] = s.cases[i], s.groups[i]
		}
		if params, err = opt.Fit(training, of); err != nil {
			return nil, err
		}
	}
	x.model = table.Model(params)
	return x, ctx.Err()
}

// keysOf gives the keys of a case's codes, each once.
func keysOf(c *kb.Case) []code.Key {
	var out []code.Key
	for _, e := range c.Codes {
		if k, err := e.Key(c.Machine.Make); err == nil && !slices.Contains(out, k) {
			out = append(out, k)
		}
	}
	return out
}

func (x *examiner) try(ctx context.Context, c *kb.Case) (trial, error) {
	t := trial{codes: keysOf(c), seen: len(x.ofCodes(c))}
	start, bench := atStart(c), atBench(c, x.book.Vocabulary())
	t.steps = len(bench.Tests)+len(bench.Fixes) > 0
	culprits := c.Culprits()
	said := x.ask(start)
	t.unlisted = score.Event{P: said.rest, So: said.outcome(culprits).Place == 0}
	var err error
	if t.start, err = x.beside(ctx, said, &start, culprits); err != nil || !t.steps {
		t.bench = t.start
		return t, err
	}
	t.bench, err = x.beside(ctx, x.ask(bench), &bench, culprits)
	return t, err
}

// beside holds the book's answer and the plain ones against the culprits.
func (x *examiner) beside(ctx context.Context, said stated, q *kb.Case, culprits []string) (answers, error) {
	near, err := x.nearest(ctx, q)
	return answers{book: said.outcome(culprits), frequent: x.frequent(q).outcome(culprits), nearest: near.outcome(culprits)}, err
}

// atStart gives what is known of a closed case when it comes in: machine, codes and symptoms.
func atStart(c *kb.Case) kb.Case {
	q := kb.Case{V: kb.Version, Status: kb.Open, FullForm: c.FullForm, Machine: c.Machine, Symptoms: c.Symptoms, Codes: c.Codes}
	q.Machine.Evidence = nil
	return q
}

// atBench adds what was tested and tried without cure before the culprit showed: before the first failing test of a culprit, of a part or a
// whole of one, or the cure. Steps of unknown order are left out, also all of them where nothing tells when the culprit showed; so are
// those done together with what showed it.
func atBench(c *kb.Case, voc *kb.Vocabulary) kb.Case {
	q := atStart(c)
	end := shows(c, voc)
	for _, t := range c.EvidenceTests() {
		if t.Step > 0 && t.Step < end {
			q.Tests = append(q.Tests, t)
		}
	}
	for _, f := range c.TriedFixes() {
		if f.Step > 0 && f.Step < end {
			q.Fixes = append(q.Fixes, f)
		}
	}
	return q
}

// shows gives the step at which the culprit showed, 0 if that is not known.
func shows(c *kb.Case, voc *kb.Vocabulary) int {
	first := math.MaxInt
	note := func(step int) {
		if step > 0 {
			first = min(first, step)
		}
	}
	for _, f := range c.Cures() {
		note(f.Step)
	}
	culprits := c.Culprits()
	for _, t := range c.EvidenceTests() {
		if t.Result == kb.Fail && slices.ContainsFunc(culprits, func(f string) bool { return isOrHolds(voc.Relation(t.Component, f)) }) {
			note(t.Step)
		}
	}
	if first == math.MaxInt {
		return 0
	}
	return first
}

// isOrHolds tells whether of two components one is the other, or a part of it.
func isOrHolds(r kb.Relation) bool {
	return r == kb.Same || r == kb.CulpritInTested || r == kb.TestedInCulprit
}

// stated is an ordered answer: names, the likeliest first, with their probabilities, and what is left for anything else. They sum to 1.
type stated struct {
	names []string
	p     []float64
	rest  float64
}

// outcome holds an answer against the culprits of the case. Any one of several counts as right, and they are one answer with their sum. What
// is forecast is which of those listed it was, or none of them: where no culprit is listed, the rest is what came true.
func (s stated) outcome(culprits []string) score.Outcome {
	o := score.Outcome{Listed: len(s.names)}
	all := []float64{0} // the first is the culprits together
	for i, name := range s.names {
		if !slices.Contains(culprits, name) {
			all = append(all, s.p[i])
			continue
		}
		all[0] += s.p[i]
		if o.Place == 0 {
			o.Place = i + 1
		}
	}
	if len(s.p) > 0 {
		o.Top = s.p[0]
	}
	if o.Place == 0 {
		all[0] = s.rest
	} else {
		all = append(all, s.rest)
	}
	o.Right, o.Brier = max(all[0], math.SmallestNonzeroFloat64), score.Brier(all, 0) // too small for a float is still not never
	return o
}

// ask puts a question to the model of the part.
func (x *examiner) ask(q kb.Case) stated {
	a := x.model.Ask(q, rank.Options{NoNext: true, MaxCases: 1})
	out := stated{rest: a.Unlisted.Probability}
	for _, f := range a.Fixes {
		out.names, out.p = append(out.names, f.Component), append(out.p, f.Probability)
	}
	return out
}

// strata sets what was stated for "none of those listed" against how often it was so, by the number of cases of the code.
func strata(trials []trial) []Stratum {
	bounds := []Stratum{{From: 0, To: 0}, {From: 1, To: 3}, {From: 4, To: 10}, {From: 11, To: 50}, {From: 51, To: math.MaxInt}}
	for i := range bounds {
		s := &bounds[i]
		var p []float64
		for _, t := range trials {
			if len(t.codes) == 0 || t.seen < s.From || t.seen > s.To {
				continue
			}
			p = append(p, t.unlisted.P)
			if t.unlisted.So {
				s.So++
			}
		}
		slices.Sort(p)
		variance := 0.0
		for _, q := range p {
			s.Stated += q
			variance += q * (1 - q)
		}
		s.N = len(p)
		n := float64(max(s.N, 1))
		s.Stated, s.Share, s.Error = s.Stated/n, float64(s.So)/n, math.Sqrt(variance)/n
		s.Interval = score.Exact(s.So, s.N, score.Level)
	}
	bounds[len(bounds)-1].To = 0
	return bounds
}

func byQuestions(a, b CodeFigures) int {
	return cmp.Or(cmp.Compare(b.Book.N, a.Book.N), cmp.Compare(a.Code, b.Code), cmp.Compare(a.Issuer, b.Issuer))
}
