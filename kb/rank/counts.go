package rank

import (
	"math"

	"ruledout/kb"
	"ruledout/kb/code"
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

// said counts mentions of a symptom, how many of them in cases that were not asked for every symptom, and how many say that it is there.
type said struct{ mention, free, present float64 }

// scope is where symptoms are counted: under one code, or under any (the empty key).
type scope struct {
	key code.Key
	any bool
}

var anywhere = scope{any: true}

// counts are the fractional counts behind the rates. Subtracted counts are counts with negative weights.
type counts struct {
	n       []float64           // cases by culprit
	scopes  map[scope]*scopeSum // what is said under a code, and under any
	methods map[methodKey]tally
	tests   map[testKey]tally
	tried   map[triedKey]float64
	parts   map[pair]float64 // cases of f in which a failing test or a fix names x
	there   [2]said          // all mentions of all symptoms: free cases, and cases asked for every symptom
}

// scopeSum counts symptoms under one code or under any. Free cases are those in which not every symptom was asked.
type scopeSum struct {
	free  float64           // free cases
	byF   map[int32]float64 // free cases by culprit
	terms map[string]*spokenOf
}

// spokenOf counts one symptom: over all culprits and by culprit.
type spokenOf struct {
	all said
	byF map[int32]said
}

func (m *Model) newCounts() *counts {
	return &counts{n: make([]float64, len(m.names)+1), scopes: map[scope]*scopeSum{}, methods: map[methodKey]tally{}, tests: map[testKey]tally{},
		tried: map[triedKey]float64{}, parts: map[pair]float64{}}
}

func (m *Model) count() *counts {
	c := m.newCounts()
	for i := range m.rows {
		m.addRow(c, int32(i), m.weight[i][0])
		for j, k := range keysOf(m.rows[i]) {
			m.addSymptoms(c, scope{key: k}, int32(i), m.weight[i][j])
		}
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
		m.addSymptoms(c, scope{key: keysOf(m.rows[x.row])[x.code]}, x.row, x.by)
	}
	return c
}

// addRow counts a row with a weight, whatever its codes.
func (m *Model) addRow(c *counts, i int32, weight float64) {
	r := m.rows[i]
	for _, s := range m.credit[i] {
		c.n[s.f] += weight * s.r
	}
	m.addSymptoms(c, anywhere, i, weight)
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

// addSymptoms counts what a row says under a code, or under any.
func (m *Model) addSymptoms(c *counts, where scope, i int32, weight float64) {
	r := m.rows[i]
	s := c.scopes[where]
	if s == nil {
		s = &scopeSum{byF: map[int32]float64{}, terms: map[string]*spokenOf{}}
		c.scopes[where] = s
	}
	if !r.FullForm {
		s.free += weight
		for _, x := range m.credit[i] {
			s.byF[x.f] += weight * x.r
		}
	}
	for _, n := range r.Symptoms {
		t := s.terms[n.Term]
		if t == nil {
			t = &spokenOf{byF: map[int32]said{}}
			s.terms[n.Term] = t
		}
		one := saidOnce(n, r.FullForm, weight)
		t.all = t.all.plus(one)
		if where.any {
			c.there[formOf(r)] = c.there[formOf(r)].plus(one)
		}
		for _, x := range m.credit[i] {
			t.byF[x.f] = t.byF[x.f].plus(saidOnce(n, r.FullForm, weight*x.r))
		}
	}
}

// formOf numbers the two kinds of case: free, and asked for every symptom.
func formOf(r *row) int {
	if r.FullForm {
		return 1
	}
	return 0
}

// saidOnce counts one mention.
func saidOnce(s noticed, fullForm bool, weight float64) said {
	out := said{mention: weight}
	if !fullForm {
		out.free = weight
	}
	if !s.Absent {
		out.present = weight
	}
	return out
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
func (s said) less(o said) said {
	return said{s.mention - o.mention, s.free - o.free, s.present - o.present}
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
