package plan

// exact is dynamic programming over all states that can be reached, in depth first order, with branches cut off by bounds.
type exact struct {
	*search
	settled map[state]settled
	limit   int
	over    bool // the limit was passed: what is returned from then on is worth nothing
}

// settled is a solved state: its cost, times its probability, and what to do there.
type settled struct {
	cost float64
	do   option
}

// value gives the least cost of a state.
func (s *exact) value(depth int, at state, w []float64) float64 {
	if v, ok := s.settled[at]; ok || s.over {
		return v.cost
	}
	if len(s.settled) >= s.limit {
		s.over = true
		return 0
	}
	m := total(w)
	best := settled{s.HandOver * m, option{kind: Hand}}
	for _, o := range s.list(depth, at, w, m) {
		if o.bound >= best.cost*(1-nothing) {
			break
		}
		if cost := s.try(depth, at, w, m, o, best.cost); cost < best.cost*(1-nothing) {
			best = settled{cost, o}
		}
		if s.over {
			return 0
		}
	}
	s.settled[at] = best
	return best.cost
}

// try gives the cost of doing something and then the best, or anything not below limit if it is not.
func (s *exact) try(depth int, at state, w []float64, m float64, o option, limit float64) float64 {
	next := s.scratch(depth + 1)
	if o.kind == Act {
		copy(next, w)
		s.fail(o.index, next)
		return s.spend(o.index, w, m) + s.value(depth+1, at.after(o, 0), next)
	}
	t := s.Tests[o.index]
	cost := t.Cost*m + s.least(at.failed, w)
	for i, outcome := range t.Outcomes {
		if show(next, w, outcome) <= nothing*m {
			continue
		}
		low := s.least(at.failed, next)
		cost += s.value(depth+1, at.after(o, i), next) - low
		if cost >= limit || s.over {
			return cost
		}
	}
	return cost
}
