package rank

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"

	"ruledout/kb/code"
)

// shape says which levels a question states; a tree of contexts is built for each shape that is asked for.
type shape struct {
	coded   bool         // contexts go by code
	present [levels]bool // levels that the shape has
}

// list gives the levels of the shape, widest first. The years level is no part of a tree.
func (s shape) list() []Level {
	var out []Level
	for l := LevelAll; l < LevelYears; l++ {
		if s.present[l] {
			out = append(out, l)
		}
	}
	return out
}

// tree holds the contexts of one shape with their counts.
type tree struct {
	levels []Level
	p      Params
	nodes  []node
	index  map[nodeKey]int32
	leaves map[member]int32   // context in which a row counts
	under  [][]member         // rows that count in a leaf, in order
	years  map[int32][]inYear // of contexts asked for
}

// node is one context.
type node struct {
	parent int32
	depth  int
	n      map[int32]float64 // by culprit: of a leaf the cases, of another the seats of its children
	rows   int               // cases in it, a case once for each of its codes
	sum    float64           // N
	given  float64           // what the counts give up by discount
}

type nodeKey struct {
	parent int32
	value  string
}

// valueOf gives what a row or question states at a level; code is the place of one of its codes, ignored without codes.
func valueOf(r *row, codeAt int, l Level) string {
	switch l {
	case LevelKind:
		return r.Machine.Kind
	case LevelMake:
		return r.Machine.Make
	case LevelModel:
		return r.Machine.Model
	case LevelVariant:
		return r.Machine.Variant
	case LevelAll:
		return ""
	}
	if len(r.Codes) == 0 {
		return ""
	}
	k := r.Codes[codeAt]
	switch l {
	case LevelFamily:
		return k.Key.Family()
	case LevelCode:
		return k.Key.String()
	case LevelSubtype:
		return k.Subtype
	}
	return ""
}

// shapeOf gives the shape of a question with regard to one of its codes, or to none (codeAt < 0).
func shapeOf(q *row, codeAt int) shape {
	s := shape{coded: codeAt >= 0}
	s.present[LevelAll] = true
	for _, l := range []Level{LevelKind, LevelMake, LevelModel, LevelVariant} {
		s.present[l] = valueOf(q, 0, l) != ""
	}
	if s.coded {
		s.present[LevelKind] = s.present[LevelKind] && slices.Contains([]string{"", code.IssuerStandard}, q.Codes[codeAt].Key.Issuer) // a maker's own code says more than the kind
		s.present[LevelCode] = true
		s.present[LevelFamily] = valueOf(q, codeAt, LevelFamily) != ""
		s.present[LevelSubtype] = valueOf(q, codeAt, LevelSubtype) != ""
	}
	return s
}

// tree gives the tree of a shape, built at first use.
func (m *Model) tree(s shape) *tree {
	m.mu.Lock()
	defer m.mu.Unlock()
	if t, ok := m.trees[s]; ok {
		return t
	}
	t := m.grow(s)
	m.trees[s] = t
	return t
}

func (m *Model) grow(s shape) *tree {
	t := &tree{levels: s.list(), p: m.p, index: map[nodeKey]int32{}, leaves: map[member]int32{}, years: map[int32][]inYear{}}
	for i, r := range m.rows {
		places := 1
		if s.coded {
			places = max(1, len(r.Codes)) // a case without a code counts in the contexts above the codes
		}
		for j := range places {
			leaf := t.add(r, j)
			t.leaves[member{int32(i), int32(j)}] = leaf
			t.under[leaf] = append(t.under[leaf], member{int32(i), int32(j)})
			for _, x := range m.credit[i] {
				t.nodes[leaf].n[x.f] += m.weight[i][j] * x.r
			}
		}
	}
	t.seat()
	return t
}

// add finds or makes the contexts of a row and counts it in each; it gives the deepest.
func (t *tree) add(r *row, codeAt int) int32 {
	at := int32(-1)
	for depth, l := range t.levels {
		k := nodeKey{at, valueOf(r, codeAt, l)}
		next, ok := t.index[k]
		if !ok {
			next = int32(len(t.nodes))
			t.nodes = append(t.nodes, node{parent: at, depth: depth, n: map[int32]float64{}})
			t.under = append(t.under, nil)
			t.index[k] = next
		}
		t.nodes[next].rows++
		at = next
	}
	return at
}

// seat hands up to each parent the seats that its children's counts take, deepest first, and sums every context up.
func (t *tree) seat() {
	for depth := len(t.levels) - 1; depth >= 0; depth-- {
		for i := range t.nodes {
			nd := &t.nodes[i]
			if nd.depth != depth {
				continue
			}
			nd.sum, nd.given = t.sums(nd.n)
			if nd.parent < 0 {
				continue
			}
			up := t.nodes[nd.parent].n
			for f, n := range nd.n {
				up[f] += t.seats(nd.depth, n, nd.sum)
			}
		}
	}
}

// seats gives t of a culprit counted n times of N: the number of tables at which a Chinese restaurant with concentration k is expected to
// seat n guests who ask for a dish of share s, k s (psi(k s + n) - psi(k s)), with n/N for s (Teh et al. 2006, eq. 24 by expectation).
// A rare guest counts in full, and many count the less the weaker the tie between a context and its parent is.
func (t *tree) seats(depth int, n, total float64) float64 {
	if n <= 1 || total <= 0 {
		return math.Max(0, n)
	}
	a := t.p.K[t.levels[depth]] * n / total
	return a * (mathext.Digamma(a+n) - mathext.Digamma(a))
}

// sums gives N and what the counts give up by discount, in a fixed order, so that equal counts give equal bits.
func (t *tree) sums(n map[int32]float64) (total, given float64) {
	for _, f := range slices.Sorted(maps.Keys(n)) {
		total += n[f]
		given += discounts(t.p.Discount).of(n[f])
	}
	return total, given
}

// find gives the contexts of a question from the widest to the deepest that any case shares.
func (t *tree) find(q *row, codeAt int) []int32 {
	var out []int32
	at := int32(-1)
	for _, l := range t.levels {
		next, ok := t.index[nodeKey{at, valueOf(q, max(codeAt, 0), l)}]
		if !ok {
			break
		}
		out, at = append(out, next), next
	}
	return out
}

// lessened holds the contexts that an exclusion changes.
type lessened struct {
	n    map[int32]map[int32]float64 // counts of changed contexts: all of them, or when near enough will do only those that changed
	rows map[int32]int               // cases taken away
	near bool
}

// without computes the contexts as they would be without what is excluded. Taking a case out changes the share of every culprit, and so
// the seats of each; when near enough will do, those of the culprits that the case does not credit stay.
func (m *Model) without(t *tree, ex exclusion, near bool) lessened {
	out := lessened{n: map[int32]map[int32]float64{}, rows: map[int32]int{}, near: near}
	for _, x := range ex.changes {
		leaf, ok := t.leaves[x.member]
		if !ok {
			continue
		}
		counts := out.open(t, leaf)
		for _, c := range m.credit[x.row] {
			counts[c.f] = math.Max(0, out.count(t, leaf, c.f)+x.by*c.r)
		}
		if ex.rows[x.row] {
			for at := leaf; at >= 0; at = t.nodes[at].parent {
				out.rows[at]++
			}
		}
	}
	for depth := len(t.levels) - 1; depth > 0; depth-- {
		for _, at := range slices.Sorted(maps.Keys(out.n)) {
			if t.nodes[at].depth == depth {
				out.pass(t, at)
			}
		}
	}
	return out
}

// open makes room for a context's counts at the first change.
func (l lessened) open(t *tree, at int32) map[int32]float64 {
	if l.n[at] == nil && l.near {
		l.n[at] = map[int32]float64{}
	} else if l.n[at] == nil {
		l.n[at] = maps.Clone(t.nodes[at].n)
	}
	return l.n[at]
}

// count gives a culprit's count in a context after the changes so far.
func (l lessened) count(t *tree, at, f int32) float64 {
	if n, ok := l.n[at][f]; ok {
		return n
	}
	return t.nodes[at].n[f]
}

// pass hands the difference of a context's seats to its parent.
func (l lessened) pass(t *tree, at int32) {
	nd, now := t.nodes[at], l.n[at]
	total := nd.sum
	if !l.near {
		total, _ = t.sums(now)
	}
	for _, f := range slices.Sorted(maps.Keys(now)) {
		by := t.seats(nd.depth, now[f], total) - t.seats(nd.depth, nd.n[f], nd.sum)
		if by == 0 {
			continue
		}
		up := l.open(t, nd.parent)
		up[f] = math.Max(0, l.count(t, nd.parent, f)+by)
	}
}

// context is a level of a chain with its counts after an exclusion.
type context struct {
	deep      Level   // the deepest of the levels that hold the same cases
	k         float64 // strength of the level above: the least of those levels
	n         map[int32]float64
	over      map[int32]float64 // counts that take the place of those in n
	sum       float64
	given     float64
	rows      int
	discounts discounts
}

// count gives the count of a culprit.
func (c context) count(f int32) float64 {
	if n, ok := c.over[f]; ok {
		return n
	}
	return c.n[f]
}

// contexts gives the chain of contexts of a question, widest first: levels that hold the same cases are one, with the deepest's counts.
func (m *Model) contexts(q *row, codeAt int, ex exclusion, near bool) []context {
	t := m.tree(shapeOf(q, codeAt))
	less := m.without(t, ex, near)
	var out []context
	for i, at := range t.find(q, codeAt) {
		c := less.context(t, at, t.levels[i])
		if c.rows == 0 {
			break
		}
		if last := len(out) - 1; last >= 0 && out[last].rows == c.rows {
			c.k = min(c.k, out[last].k)
			out[last] = c
			continue
		}
		out = append(out, c)
	}
	return out
}

func (l lessened) context(t *tree, at int32, level Level) context {
	nd := t.nodes[at]
	c := context{deep: level, k: t.p.K[level], discounts: t.p.Discount, n: nd.n, sum: nd.sum, given: nd.given, rows: nd.rows - l.rows[at]}
	changed, ok := l.n[at]
	switch {
	case ok && !l.near:
		c.n = changed
		c.sum, c.given = t.sums(changed)
	case ok:
		c.over = changed
		for _, f := range slices.Sorted(maps.Keys(changed)) {
			c.sum += changed[f] - nd.n[f]
			c.given += discounts(t.p.Discount).of(changed[f]) - discounts(t.p.Discount).of(nd.n[f])
		}
	}
	return c
}

// members lists the rows that count in or below a context, in order.
func (t *tree) members(at int32) []member {
	if t.nodes[at].depth == len(t.levels)-1 {
		return t.under[at]
	}
	var out []member
	for leaf, list := range t.under {
		if len(list) > 0 && t.below(int32(leaf), at) {
			out = append(out, list...)
		}
	}
	slices.SortFunc(out, func(a, b member) int { return cmp.Or(cmp.Compare(a.row, b.row), cmp.Compare(a.code, b.code)) })
	return out
}

func (t *tree) below(at, top int32) bool {
	for ; at >= 0; at = t.nodes[at].parent {
		if at == top {
			return true
		}
	}
	return false
}
