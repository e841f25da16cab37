package rank

import (
	"maps"
	"math"
	"slices"
)

// prior is a distribution over culprits with the variance of each probability.
type prior struct{ p, v []float64 }

// priorOf computes a chain's distribution from its base omega down.
func (m *Model) priorOf(chain []context, size int) prior {
	out := prior{p: make([]float64, size), v: make([]float64, size)}
	out.p[len(m.names)] = 1
	for _, c := range chain {
		c.step(&out)
	}
	return out
}

// discounts say what a count gives up to the level above: d(1), d(2) or d(3) of one seen so often, linear between, none of nothing.
type discounts [3]float64

func (d discounts) of(n float64) float64 {
	switch {
	case n <= 0:
		return 0
	case n < 1:
		return d[0] * n
	case n < 2:
		return d[0] + (d[1]-d[0])*(n-1)
	case n < 3:
		return d[1] + (d[2]-d[1])*(n-2)
	}
	return d[2]
}

// handedUp gives the share of a context's probability that goes by the level above: (k + sum of d(n)) / (N + k).
func (c context) handedUp() float64 {
	return (c.k + c.given) / (c.sum + c.k)
}

// step shrinks one context to the level above: the back-off formula and the delta method's variance for it.
func (c context) step(d *prior) {
	k, up := c.k, c.handedUp()
	for f := range d.p {
		d.p[f] *= up
	}
	for f, n := range c.n {
		d.p[f] += (n - c.discounts.of(n)) / (c.sum + k)
	}
	for f := range d.p {
		d.v[f] = d.p[f]/(c.sum+k+1) + up*up*d.v[f]
	}
}

// yearsOf weighs the cases of the deepest context by their distance in years to the question. Cases of unknown year do not count in it.
func (m *Model) yearsOf(q *row, codeAt int, chain []context, ex exclusion) (context, bool) {
	if q.Machine.Year == 0 || len(chain) == 0 {
		return context{}, false
	}
	t := m.tree(shapeOf(q, codeAt))
	path := t.find(q, codeAt)
	deepest := path[len(path)-1]
	for i, at := range path { // what an exclusion emptied is not the deepest
		if t.levels[i] <= chain[len(chain)-1].deep {
			deepest = at
		}
	}
	near := func(year int) float64 { return math.Exp(-math.Abs(float64(year-q.Machine.Year)) / m.p.Years) }
	c := context{deep: LevelYears, k: m.p.K[LevelYears], discounts: m.p.Discount, n: map[int32]float64{}}
	for _, y := range m.yearly(t, deepest) {
		c.rows += y.rows
		for f, n := range y.n {
			c.n[f] += near(y.year) * n
		}
	}
	for _, x := range ex.changes {
		leaf, ok := t.leaves[x.member]
		year := m.rows[x.row].Machine.Year
		if !ok || year == 0 || !t.below(leaf, deepest) {
			continue
		}
		if ex.rows[x.row] {
			c.rows--
		}
		for _, s := range m.credit[x.row] {
			c.n[s.f] = math.Max(0, c.n[s.f]+near(year)*x.by*s.r)
		}
	}
	c.sum, c.given = t.sums(c.n)
	return c, c.rows > 0
}

// inYear counts the cases of a context in one year.
type inYear struct {
	year, rows int
	n          map[int32]float64
}

// yearly counts a context's cases by year, once.
func (m *Model) yearly(t *tree, at int32) []inYear {
	m.mu.Lock()
	defer m.mu.Unlock()
	if list, ok := t.years[at]; ok {
		return list
	}
	by := map[int]*inYear{}
	for _, x := range t.members(at) {
		year := m.rows[x.row].Machine.Year
		if year == 0 {
			continue
		}
		if by[year] == nil {
			by[year] = &inYear{year: year, n: map[int32]float64{}}
		}
		by[year].rows++
		for _, s := range m.credit[x.row] {
			by[year].n[s.f] += m.weight[x.row][x.code] * s.r
		}
	}
	list := []inYear{}
	for _, year := range slices.Sorted(maps.Keys(by)) {
		list = append(list, *by[year])
	}
	t.years[at] = list
	return list
}

// chain gives the whole chain of a question for one code, or none: the contexts of cases, the years level, and what the structure
// suspects: as a base that every culprit starts from, and again where the question's own code or symptoms come in.
func (m *Model) chain(q *row, codeAt int, ex exclusion, structure *context) []context {
	cases := m.contexts(q, codeAt, ex, false)
	if y, ok := m.yearsOf(q, codeAt, cases, ex); ok {
		cases = append(cases, y)
	}
	if structure == nil {
		return cases
	}
	at := slices.IndexFunc(cases, func(c context) bool { return codeAt >= 0 && c.deep >= LevelCode || codeAt < 0 && c.deep >= LevelMake })
	if at < 0 {
		at = len(cases)
	}
	return slices.Concat([]context{*structure}, cases[:at], []context{*structure}, cases[at:])
}

// suspect notes what the structure alone says of the question.
func (e *posterior) suspect() *context {
	if e.m.p.Struct == 0 {
		return nil
	}
	var codes, symptoms []string
	for _, k := range e.q.Codes {
		codes = append(codes, k.Key.Code)
	}
	for _, s := range e.q.Symptoms {
		if !s.Absent {
			symptoms = append(symptoms, s.Term)
		}
	}
	list := e.m.terms.Suspects(e.q.Machine.Kind, codes, symptoms)
	if len(list) == 0 {
		return nil
	}
	c := &context{deep: LevelStructure, k: e.m.p.K[LevelStructure], n: map[int32]float64{}}
	for _, s := range list {
		f := e.place(s.Component)
		if f < 0 {
			e.extra = append(e.extra, s.Component)
			f = e.place(s.Component)
		}
		c.n[int32(f)] = s.Share * e.m.p.Struct
	}
	c.sum = e.m.p.Struct
	return c
}
