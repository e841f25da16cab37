package plan

import (
	"cmp"
	"math"
	"slices"
)

// state is what has happened: the actions that failed, one bit each, and four bits for each test, 0 while it is not done, else its
// outcome's number plus one.
type state struct{ failed, shown uint64 }

func (s state) did(test int) bool { return s.shown>>(4*test)&15 != 0 }

func (s state) after(o option, outcome int) state {
	if o.kind == Act {
		s.failed |= 1 << o.index
	} else {
		s.shown |= uint64(outcome+1) << (4 * o.index)
	}
	return s
}

// option is something to do in a state.
type option struct {
	kind  Kind
	index int
	bound float64 // least that doing it and all that follows can cost
}

// way is an action that can cure a cause.
type way struct {
	action       int
	cost, solves float64 // under that cause
}

// cure is a cause that an action can cure.
type cure struct {
	cause  int
	solves float64
}

// search holds what both ways of planning share. Costs in it are multiplied by the probability of the state, which is the total of its
// weights.
type search struct {
	Problem
	cures   [][]cure    // by action: what it can cure
	ways    [][]way     // by cause, the cheapest by cost over probability first
	better  []uint64    // by action: those that dominate it
	memory  [][]float64 // scratch by depth
	options [][]option  // scratch by depth
}

func newSearch(p Problem) *search {
	s := &search{Problem: p, ways: make([][]way, len(p.P)), cures: make([][]cure, len(p.Actions)), better: make([]uint64, len(p.Actions))}
	for c := range p.P {
		for i, a := range p.Actions {
			if a.Solves[c] > 0 {
				s.ways[c] = append(s.ways[c], way{i, a.Cost + a.extra(c), a.Solves[c]})
				s.cures[i] = append(s.cures[i], cure{c, a.Solves[c]})
			}
		}
		slices.SortStableFunc(s.ways[c], func(a, b way) int { return cmp.Compare(a.cost*b.solves, b.cost*a.solves) })
	}
	for i := range p.Actions {
		for j := range p.Actions {
			if i != j && p.dominates(j, i) {
				s.better[i] |= 1 << j
			}
		}
	}
	return s
}

// chance gives the probability that an action cures, times the probability of the state.
func (s *search) chance(a int, w []float64) float64 {
	sum := 0.0
	for _, x := range s.cures[a] {
		sum += w[x.cause] * x.solves
	}
	return sum
}

// spend gives what doing an action costs in a state of weights w and total m.
func (s *search) spend(a int, w []float64, m float64) float64 {
	sum := s.Actions[a].Cost * m
	for c, x := range s.Actions[a].Extra {
		sum += w[c] * x
	}
	return sum
}

// fail turns the weights into those after the action has failed and gives by how much their total falls.
func (s *search) fail(a int, w []float64) float64 {
	sum := 0.0
	for _, x := range s.cures[a] {
		gone := w[x.cause] * x.solves
		w[x.cause] -= gone
		sum += gone
	}
	return sum
}

// dominates tells whether action a is never worse than b: no dearer and no less likely to cure whatever the cause. Then b need not be
// considered before a has failed. Of two equal ones the first dominates.
func (p Problem) dominates(a, b int) bool {
	x, y := p.Actions[a], p.Actions[b]
	if x.Extra != nil || y.Extra != nil || x.Cost > y.Cost {
		return false
	}
	same := x.Cost == y.Cost
	for c := range p.P {
		if x.Solves[c] < y.Solves[c] {
			return false
		}
		same = same && x.Solves[c] == y.Solves[c]
	}
	return !same || a < b
}

// scratch gives working memory for the weights of one depth of a recursion.
func (s *search) scratch(depth int) []float64 {
	for len(s.memory) <= depth {
		s.memory = append(s.memory, make([]float64, len(s.P)))
		s.options = append(s.options, nil)
	}
	return s.memory[depth]
}

// least is a bound from below on the cost of a state: who knew the cause would still pay for curing it, by the best of the actions that
// are left for it, in order of cost over probability, or by handing over.
func (s *search) least(failed uint64, w []float64) float64 {
	sum := 0.0
	for c, x := range w {
		if x > 0 {
			sum += x * s.known(c, failed)
		}
	}
	return sum
}

// known is what curing a cause costs at least for who knows it.
func (s *search) known(c int, failed uint64) float64 {
	cost := s.HandOver
	for i := len(s.ways[c]) - 1; i >= 0; i-- {
		if a := &s.ways[c][i]; failed>>a.action&1 == 0 {
			cost = min(cost, a.cost+(1-a.solves)*cost)
		}
	}
	return cost
}

// saves is by how much the bound of a state falls when an action has failed: what it cured need not be paid for any more, what it did not
// cure has one way less.
func (s *search) saves(a int, failed uint64, w []float64) (saved, cured float64) {
	for _, x := range s.cures[a] {
		if at := w[x.cause]; at > 0 {
			cured += at * x.solves
			saved += at * (s.known(x.cause, failed) - (1-x.solves)*s.known(x.cause, failed|1<<a))
		}
	}
	return saved, cured
}

// list gives what may be worth doing in a state, the most promising first, with bounds.
func (s *search) list(depth int, at state, w []float64, m float64) []option {
	s.scratch(depth + 1)
	out, low := s.options[depth][:0], s.least(at.failed, w)
	for i := range s.Actions {
		if at.failed>>i&1 == 1 || s.better[i]&^at.failed != 0 {
			continue
		}
		if saved, cured := s.saves(i, at.failed, w); cured > m*nothing {
			out = append(out, option{Act, i, s.spend(i, w, m) + low - saved})
		}
	}
	for i, t := range s.Tests {
		if !at.did(i) && tells(t, w) {
			out = append(out, option{Look, i, t.Cost*m + low})
		}
	}
	slices.SortFunc(out, func(a, b option) int {
		return cmp.Or(cmp.Compare(a.bound, b.bound), cmp.Compare(a.kind, b.kind), cmp.Compare(a.index, b.index))
	})
	s.options[depth] = out
	return out
}

// tells reports whether a test could change the belief w: whether some outcome is not equally probable under all causes that are left.
func tells(t Test, w []float64) bool {
	for _, o := range t.Outcomes {
		low, high := math.Inf(1), 0.0
		for c, x := range w {
			if x > 0 {
				low, high = min(low, o[c]), max(high, o[c])
			}
		}
		if high-low > nothing {
			return true
		}
	}
	return false
}
