package rank

import (
	"cmp"
	"math"
	"runtime"
	"slices"
	"sync"

	"ruledout/kb"
	"ruledout/kb/code"
)

// mostOthers is how many other culprits, the most named first, the doubt about a case's naming is spread over.
const mostOthers = 24

// recredit gives every case its credits anew from the model as it is, and counts again.
func (m *Model) recredit() {
	next := make([][]share, len(m.rows))
	m.warm()
	var wait sync.WaitGroup
	workers := runtime.GOMAXPROCS(0)
	for w := range workers {
		wait.Go(func() {
			for i := w; i < len(m.rows); i += workers {
				next[i] = m.creditOf(int32(i))
			}
		})
	}
	wait.Wait()
	m.credit = next
	m.trees, m.spoken, m.silences = map[shape]*tree{}, map[spokenKey]*spoken{}, map[string]*silence{}
	m.stats = m.count()
}

// warm computes once, alone, what the workers would otherwise compute several times.
func (m *Model) warm() {
	for _, r := range m.rows {
		m.tree(shapeOf(coarse(r), firstCode(r)))
	}
}

// coarse gives a case with only the contexts that crediting looks at: family, code and make. Finer ones would cost a tree for every
// combination of what cases state, and move a credit little.
func coarse(r *row) *row {
	c := *r
	c.Machine = kb.Machine{Make: r.Machine.Make}
	c.Codes = slices.Clone(r.Codes)
	for i := range c.Codes {
		c.Codes[i].Subtype = ""
	}
	return &c
}

// firstCode gives the place of the code by which a case is credited, -1 for a case without codes.
func firstCode(r *row) int {
	if len(r.Codes) == 0 {
		return -1
	}
	return 0
}

// creditOf computes r(f), proportional to p(f | the case's evidence, without itself) times C(f), over the named culprits and the others
// that cases of the same code name. A culprit that no other case names has the probability of omega.
func (m *Model) creditOf(i int32) []share {
	r := m.rows[i]
	others := m.othersOf(i)
	if len(others) == 0 {
		return m.credit[i]
	}
	candidates := slices.Concat(m.named[i], others)
	ex := m.exclude(map[int32]bool{i: true})
	logP := m.logPosteriorOf(coarse(r), ex, candidates)
	logC := m.logNaming(i, others)
	for j := range logP {
		logP[j] += logC[j]
	}
	total := logSum(logP)
	out := make([]share, len(candidates))
	for j, f := range candidates {
		out[j] = share{f, math.Exp(logP[j] - total)}
	}
	m.floor(out, len(m.named[i]), m.p.Floor[r.Confirm])
	slices.SortFunc(out, func(a, b share) int { return int(a.f - b.f) })
	return out
}

// othersOf lists the culprits that other cases of the same code name, the most named first, at most mostOthers.
func (m *Model) othersOf(i int32) []int32 {
	r := m.rows[i]
	if len(r.Codes) == 0 {
		return nil // without a code there is no telling which others come into question
	}
	var out []int32
	for _, x := range m.byTopic[r.Codes[0].Key] {
		if !slices.Contains(m.named[i], x.culprit) {
			out = append(out, x.culprit)
		}
	}
	return out[:min(len(out), mostOthers)]
}

// rankTopics lists, for every code, the culprits that its cases name, the most named first.
func (m *Model) rankTopics() {
	m.byTopic = map[code.Key][]topic{}
	for t := range m.topics {
		m.byTopic[t.key] = append(m.byTopic[t.key], t)
	}
	for _, list := range m.byTopic {
		slices.SortFunc(list, func(a, b topic) int {
			return cmp.Or(cmp.Compare(len(m.topics[b].rows), len(m.topics[a].rows)), cmp.Compare(a.culprit, b.culprit))
		})
	}
}

// logPosteriorOf computes the unnormalised log posterior of some culprits for a case. A culprit that the rest of the book does not name
// takes the place of omega.
func (m *Model) logPosteriorOf(q *row, ex exclusion, candidates []int32) []float64 {
	chain := m.contexts(q, firstCode(q), ex, true)
	ev := evidence{m: m, minus: m.minus(ex), near: true}
	for _, k := range q.Codes {
		ev.scopes = append(ev.scopes, scope{key: k.Key})
	}
	weights := m.overlaps.weights(q.Symptoms, m.p.Overlap, nil)
	heard := make([]*spoken, len(q.Symptoms))
	for i, s := range q.Symptoms {
		heard[i] = ev.spoken(s.Term, q.FullForm)
	}
	ups := make([]float64, len(chain))
	for i, c := range chain {
		ups[i] = c.handedUp()
	}
	out := make([]float64, len(candidates))
	for j, f := range candidates {
		p, omega := 0.0, 1.0
		for i, c := range chain {
			up, n := ups[i], c.count(f)
			p = p*up + (n-c.discounts.of(n))/(c.sum+c.k)
			omega *= up
		}
		if p <= 0 {
			p = omega
		}
		out[j] = math.Log(p) + m.logEvidence(q, ev, heard, weights, int(f))
	}
	return out
}

// logEvidence gives the log likelihood of a case's tests, symptoms and tried fixes under one culprit.
func (m *Model) logEvidence(q *row, ev evidence, heard []*spoken, weights []float64, f int) float64 {
	sum := 0.0
	for i, s := range q.Symptoms {
		if weights[i] == 0 {
			continue
		}
		mention, present := heard[i].rates(f)
		if s.Absent {
			present = present.not()
		}
		if !q.FullForm {
			sum += weights[i] * m.p.mentionOf(s.Term) * math.Log(mention.mean())
		}
		sum += weights[i] * m.p.Value * math.Log(present.mean())
	}
	for _, o := range q.Tests {
		if r, ok := observedRate(ev.testRate(o, ev.failRates(o), m.relation(o.Component, int32(f)), f), o); ok {
			sum += math.Log(r.mean())
		}
	}
	for _, a := range q.Tried {
		sum += math.Log(ev.triedRate(a, m.relation(a.Component, int32(f)), f).mean())
	}
	return m.p.Lambda * sum
}

// logNaming gives log C: w on each named culprit, 1-w spread over the others by how often they are culprits at all.
func (m *Model) logNaming(i int32, others []int32) []float64 {
	w := m.p.Named[m.rows[i].Confirm]
	if w == 0 {
		w = m.p.Named[kb.Reported]
	}
	out := make([]float64, 0, len(m.named[i])+len(others))
	for range m.named[i] {
		out = append(out, math.Log(w))
	}
	total := 0.0
	for _, f := range others {
		total += m.stats.n[f]
	}
	for _, f := range others {
		out = append(out, math.Log((1-w)*m.stats.n[f]/total))
	}
	return out
}

// floor lifts the first named shares to r0 together where they have less, each in proportion, or alike where they have nothing.
func (m *Model) floor(list []share, named int, r0 float64) {
	have := 0.0
	for _, s := range list[:named] {
		have += s.r
	}
	if have >= r0 {
		return
	}
	for j := range list {
		switch {
		case j >= named:
			list[j].r *= (1 - r0) / (1 - have)
		case have > 0:
			list[j].r *= r0 / have
		default:
			list[j].r = r0 / float64(named)
		}
	}
}
