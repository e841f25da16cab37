package rank

import (
	"sync"

	"ruledout/kb/code"
)

// leastExpected is how many cases would have to have two symptoms together by chance, before their never coming together says that they
// exclude each other.
const leastExpected = 2

// spokenIn is a row that mentions a symptom.
type spokenIn struct {
	row   int32
	there bool
}

// overlaps knows, of any two symptoms, how far they go together in cases of one code and culprit. Pairs are measured when first asked for.
type overlaps struct {
	rows     []*row
	cell     []int32 // of a row: its code and culprit
	free     []int   // free cases of each cell
	mentions map[string][]spokenIn
	mu       sync.Mutex
	known    map[[2]string]overlap
}

// overlap is what two symptoms have in common: the squared correlation of what is left when code and culprit are known, and whether one
// excludes the other.
type overlap struct {
	r2       float64
	excludes bool
}

func newOverlaps(rows []*row, named [][]int32) *overlaps {
	o := &overlaps{rows: rows, mentions: map[string][]spokenIn{}, known: map[[2]string]overlap{}}
	type cell struct {
		key     code.Key
		culprit int32
	}
	ids := map[cell]int32{}
	for i, r := range rows {
		c := cell{key: keysOf(r)[0], culprit: named[i][0]}
		id, ok := ids[c]
		if !ok {
			id = int32(len(ids))
			ids[c] = id
			o.free = append(o.free, 0)
		}
		o.cell = append(o.cell, id)
		if !r.FullForm {
			o.free[id]++
		}
		for _, s := range r.Symptoms {
			o.mentions[s.Term] = append(o.mentions[s.Term], spokenIn{int32(i), !s.Absent})
		}
	}
	return o
}

// of measures two symptoms, without some rows.
func (o *overlaps) of(u, v string, without map[int32]bool) overlap {
	if u > v {
		u, v = v, u
	}
	if len(without) > 0 {
		return o.measure(u, v, without)
	}
	k := [2]string{u, v}
	o.mu.Lock()
	x, ok := o.known[k]
	o.mu.Unlock()
	if !ok {
		x = o.measure(u, v, nil)
		o.mu.Lock()
		o.known[k] = x
		o.mu.Unlock()
	}
	return x
}

// cellSum counts two symptoms in one cell: n cases, u and v among them, and both.
type cellSum struct{ n, u, v, both float64 }

// together collects the counts of two symptoms by cell, in order of first meeting.
type together struct {
	o             *overlaps
	at            map[int32]int // free cells as they are, those of full forms as -1-cell
	sums          []cellSum
	stated        cellSum // over all cases that state both
	without       map[int32]bool
	withoutByCell map[int32]int
}

func (t *together) cell(i int32, form bool) *cellSum {
	k := t.o.cell[i]
	if form {
		k = -1 - k
	}
	j, ok := t.at[k]
	if !ok {
		j = len(t.sums)
		t.at[k] = j
		s := cellSum{}
		if !form {
			s.n = float64(t.o.free[k] - t.withoutByCell[k])
		}
		t.sums = append(t.sums, s)
	}
	return &t.sums[j]
}

func (o *overlaps) measure(u, v string, without map[int32]bool) overlap {
	t := &together{o: o, at: map[int32]int{}, without: without, withoutByCell: map[int32]int{}}
	for i := range without {
		if !o.rows[i].FullForm {
			t.withoutByCell[o.cell[i]]++
		}
	}
	a, b := o.mentions[u], o.mentions[v]
	for len(a) > 0 || len(b) > 0 {
		switch {
		case len(b) == 0 || len(a) > 0 && a[0].row < b[0].row:
			t.add(&a[0], nil)
			a = a[1:]
		case len(a) == 0 || b[0].row < a[0].row:
			t.add(nil, &b[0])
			b = b[1:]
		default:
			t.add(&a[0], &b[0])
			a, b = a[1:], b[1:]
		}
	}
	s := t.stated
	return overlap{r2: t.r2(), excludes: s.both == 0 && s.n > 0 && s.u*s.v >= leastExpected*s.n}
}

// add counts a case that mentions one symptom or both. A case asked for every symptom tells something of two only where it states both.
func (t *together) add(u, v *spokenIn) {
	i := int32(0)
	if u != nil {
		i = u.row
	} else {
		i = v.row
	}
	if t.without[i] {
		return
	}
	form := t.o.rows[i].FullForm
	if u != nil && v != nil {
		t.stated.count(u.there, v.there)
		t.stated.n++
	}
	switch {
	case form && (u == nil || v == nil):
	case form:
		c := t.cell(i, true)
		c.n++
		c.count(u.there, v.there)
	default:
		t.cell(i, false).count(u != nil, v != nil)
	}
}

func (c *cellSum) count(u, v bool) {
	if u {
		c.u++
	}
	if v {
		c.v++
	}
	if u && v {
		c.both++
	}
}

// r2 is the squared correlation of the two within cells, rates shrunk by one case to the rate over all cells, less what chance alone gives.
func (t *together) r2() float64 {
	var all cellSum
	for _, c := range t.sums {
		all.n, all.u, all.v, all.both = all.n+c.n, all.u+c.u, all.v+c.v, all.both+c.both
	}
	if all.n == 0 {
		return 0
	}
	var cov, varU, varV float64
	for _, c := range t.sums {
		u, v := (c.u+all.u/all.n)/(c.n+1), (c.v+all.v/all.n)/(c.n+1)
		cov += c.both - u*c.v - v*c.u + c.n*u*v
		varU += c.u - 2*u*c.u + c.n*u*u
		varV += c.v - 2*v*c.v + c.n*v*v
	}
	if varU <= 1e-9 || varV <= 1e-9 {
		return 0
	}
	return max(0, min(1, cov*cov/(varU*varV))-1/max(1, all.n-float64(len(t.sums))))
}

// weights gives how much each symptom of a question counts: one over one plus the squared correlations with all others, 0 for one whose
// absence is plain from another that is there and excludes it. scale 0 takes all as independent.
func (o *overlaps) weights(list []noticed, scale float64, without map[int32]bool) []float64 {
	out := make([]float64, len(list))
	for i := range list {
		out[i] = 1
	}
	if scale == 0 {
		return out
	}
	for i, x := range list {
		for j, y := range list {
			if x.Absent && !y.Absent && i != j && o.of(x.Term, y.Term, without).excludes {
				out[i] = 0
			}
		}
	}
	sum := make([]float64, len(list))
	for i := range list {
		for j := range i {
			if out[i] > 0 && out[j] > 0 {
				r2 := o.of(list[i].Term, list[j].Term, without).r2
				sum[i], sum[j] = sum[i]+r2, sum[j]+r2
			}
		}
	}
	for i := range out {
		out[i] /= 1 + scale*sum[i]
	}
	return out
}
