package rank

import (
	"math"

	"ruledout/kb"
)

// role is what a test's component is to the culprit.
type role int

const (
	roleFound role = iota // the culprit or what contains it was tested
	roleUp                // the culprit drives or feeds what was tested in place
	roleElse              // the culprit is elsewhere
)

func roleOf(rel kb.Relation, bench bool) role {
	switch {
	case rel == kb.Same || rel == kb.CulpritInTested:
		return roleFound
	case rel == kb.CulpritUpstream && !bench:
		return roleUp
	}
	return roleElse
}

type methodKey struct {
	method string
	role   role
}

type testKey struct {
	component, method string
	role              role
}

type triedKey struct {
	action  kb.Action
	own     bool // done on the culprit
	outcome kb.Outcome
}

type pair struct {
	x string
	f int32
}

// tally counts failed and passed tests.
type tally struct{ fail, pass float64 }

// said counts mentions of a symptom, and how many of them say that it is there.
type said struct{ mention, free, present float64 }

// counts are the fractional counts behind the rates. Subtracted counts are counts with negative weights.
type counts struct {
	n       []float64 // cases by culprit
	free    []float64 // the same without cases in which every symptom was asked
	totFree float64   // cases without those in which every symptom was asked
	methods map[methodKey]tally
	tests   map[testKey]tally
	spoken  map[string]said
	byF     map[string]map[int32]said
	tried   map[triedKey]float64
	parts   map[pair]float64 // cases of f in which a failing test or a fix names x
}

func (m *Model) newCounts() *counts {
	return &counts{n: make([]float64, len(m.names)+1), free: make([]float64, len(m.names)+1), methods: map[methodKey]tally{}, tests: map[testKey]tally{},
		spoken: map[string]said{}, byF: map[string]map[int32]said{}, tried: map[triedKey]float64{}, parts: map[pair]float64{}}
}

func (m *Model) count() *counts {
	c := m.newCounts()
	for i := range m.rows {
		m.addRow(c, int32(i), m.weight[i][0])
	}
	return c
}

// minus counts what an exclusion takes away, nil if that is nothing.
func (m *Model) minus(ex exclusion) *counts {
	if len(ex.changes) == 0 {
		return nil
	}
	c := m.newCounts()
	for _, x := range ex.changes {
		if x.code == 0 {
			m.addRow(c, x.row, x.by)
		}
	}
	return c
}

// addRow counts a row with a weight.
func (m *Model) addRow(c *counts, i int32, weight float64) {
	r := m.rows[i]
	if !r.FullForm {
		c.totFree += weight
	}
	for _, s := range m.credit[i] {
		c.n[s.f] += weight * s.r
		if !r.FullForm {
			c.free[s.f] += weight * s.r
		}
	}
	for _, s := range r.Symptoms {
		m.addSymptom(c, i, s, weight)
	}
	for _, o := range r.Tests {
		m.addTest(c, i, o, weight)
	}
	for _, a := range r.Tried {
		m.addTried(c, i, a, weight)
	}
	for _, a := range r.Cures {
		m.addTried(c, i, attempt{a.Component, a.Action, kb.Fixed}, weight)
	}
	for _, x := range suspects(r) {
		for _, s := range m.credit[i] {
			c.parts[pair{x, s.f}] += weight * s.r
		}
	}
}

// suspects are the components that a failing test or a fix of the case names.
func suspects(r *row) []string {
	var out []string
	for _, o := range r.Tests {
		if o.Result == kb.Fail {
			out = appendNew(out, o.Component)
		}
	}
	for _, a := range r.Tried {
		out = appendNew(out, a.Component)
	}
	for _, a := range r.Cures {
		out = appendNew(out, a.Component)
	}
	return out
}

func appendNew(list []string, s string) []string {
	for _, x := range list {
		if x == s {
			return list
		}
	}
	return append(list, s)
}

func (m *Model) addSymptom(c *counts, i int32, s noticed, weight float64) {
	full := m.rows[i].FullForm
	c.spoken[s.Term] = c.spoken[s.Term].plus(saidOnce(s, full, weight))
	by := c.byF[s.Term]
	if by == nil {
		by = map[int32]said{}
		c.byF[s.Term] = by
	}
	for _, x := range m.credit[i] {
		by[x.f] = by[x.f].plus(saidOnce(s, full, weight*x.r))
	}
}

func (m *Model) addTest(c *counts, i int32, o observed, weight float64) {
	if o.Result != kb.Pass && o.Result != kb.Fail {
		return
	}
	for _, s := range m.credit[i] {
		rel := m.relation(o.Component, s.f)
		if rel == kb.TestedInCulprit {
			continue // counted in parts: the test may have met the bad part or another
		}
		t := tally{}
		if o.Result == kb.Fail {
			t.fail = weight * s.r
		} else {
			t.pass = weight * s.r
		}
		part := roleOf(rel, o.Bench)
		mk, tk := methodKey{o.Method, part}, testKey{o.Component, o.Method, part}
		c.methods[mk] = c.methods[mk].plus(t)
		c.tests[tk] = c.tests[tk].plus(t)
	}
}

func (t tally) plus(o tally) tally { return tally{t.fail + o.fail, t.pass + o.pass} }
func (t tally) n() float64         { return t.fail + t.pass }
func (s said) plus(o said) said {
	return said{s.mention + o.mention, s.free + o.free, s.present + o.present}
}
func invSqrt(n int) float64 { return 1 / math.Sqrt(float64(n)) }

func (m *Model) addTried(c *counts, i int32, a attempt, weight float64) {
	for _, s := range m.credit[i] {
		rel := m.relation(a.Component, s.f)
		if rel == kb.TestedInCulprit {
			continue
		}
		own := roleOf(rel, true) == roleFound
		if a.Outcome == kb.Fixed && !own {
			continue // the credit that a doubtful naming spreads says nothing of cures elsewhere
		}
		c.tried[triedKey{a.Action, own, a.Outcome}] += weight * s.r
	}
}
