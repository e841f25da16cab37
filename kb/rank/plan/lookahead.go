package plan

// lookDepth is the most tests that are looked ahead, one after the other; lookBudget is how many ratios may be computed for it.
const (
	lookDepth  = 3
	lookBudget = 1_000_000
)

// lookAhead plans by looking some tests ahead: between them come the actions that the ratio suggests, after the last of them a sequence of
// actions alone. Every estimate is the cost of something that can be done.
type lookAhead struct {
	*search
	tests   int // looked ahead
	judged  map[ahead]float64
	planned map[state][]int // the rest of a sequence that the plan is following
	ratios  int             // computed so far
	trial   []int
}

// ahead is a state with the number of tests that are looked ahead from it.
type ahead struct {
	state
	tests int
}

func newLookAhead(s *search) *lookAhead {
	return &lookAhead{search: s, judged: map[ahead]float64{}}
}

// plan makes plans that look further and further ahead, and gives the best.
func (s *lookAhead) plan() *Step {
	var best *Step
	for s.tests = 0; s.tests <= lookDepth && s.ratios < lookBudget; s.tests++ {
		s.planned = map[state][]int{}
		b := &builder{search: s.search, choose: s.choose}
		if p := b.step(state{}, s.P); best == nil || p.Cost < best.Cost*(1-nothing) {
			best = p
		}
	}
	return best
}

// choose tells what to do in a state: the best sequence of actions known from there, or another step that promises to be cheaper.
func (s *lookAhead) choose(at state, w []float64) option {
	follow, cost := s.sequence(at, w)
	best, head := option{kind: Hand}, -1
	if len(follow) > 0 {
		head = follow[0]
		best = option{kind: Act, index: head}
	}
	m, first, onSequence := total(w), byRatio(s.search, at.failed, w), true
	for _, o := range s.list(0, at, w, m) {
		if o.bound >= cost*(1-nothing) || s.tests == 0 {
			break
		}
		if o.kind == Act && o.index != first && o.index != head {
			continue
		}
		if c := s.try(0, at, w, m, o, s.tests, cost); c < cost*(1-nothing) {
			best, cost, onSequence = o, c, false
		}
	}
	if onSequence && head >= 0 {
		s.planned[at.after(best, 0)] = follow[1:]
	}
	return best
}

// sequence gives the best sequence known from a state: the one that is being followed, or the better of the orders by ratio and by
// probability, improved.
func (s *lookAhead) sequence(at state, w []float64) ([]int, float64) {
	sequence, cost := s.follow(byRatio, at.failed, clone(w), nil)
	if other, c := s.follow(byProbability, at.failed, clone(w), nil); c < cost {
		sequence, cost = other, c
	}
	sequence, cost = s.exchange(sequence, cost, at.failed, w)
	if rest, ok := s.planned[at]; ok {
		if c := s.ecr(rest, clone(w)); c < cost {
			return rest, c
		}
	}
	return sequence, cost
}

// value gives a cost at which a state can be settled, looking some tests ahead.
func (s *lookAhead) value(depth int, at state, w []float64, tests int) float64 {
	best := s.leaf(depth, at, w)
	if tests == 0 || s.ratios > lookBudget {
		return best
	}
	if v, ok := s.judged[ahead{at, tests}]; ok {
		return v
	}
	m, first := total(w), byRatio(s.search, at.failed, w)
	for _, o := range s.list(depth, at, w, m) {
		if o.bound >= best*(1-nothing) {
			break
		}
		if o.kind == Look || o.index == first {
			best = min(best, s.try(depth, at, w, m, o, tests, best))
		}
	}
	s.judged[ahead{at, tests}] = best
	return best
}

// leaf judges a state by the order of probability over cost.
func (s *lookAhead) leaf(depth int, at state, w []float64) float64 {
	if v, ok := s.judged[ahead{at, 0}]; ok {
		return v
	}
	next := s.scratch(depth + 1)
	copy(next, w)
	var v float64
	s.trial, v = s.follow(byRatio, at.failed, next, s.trial[:0])
	s.judged[ahead{at, 0}] = v
	s.ratios += (len(s.trial) + 1) * len(s.Actions)
	return v
}

// try gives the cost of doing something and going on from there, or anything not below limit if it is not.
func (s *lookAhead) try(depth int, at state, w []float64, m float64, o option, tests int, limit float64) float64 {
	next := s.scratch(depth + 1)
	if o.kind == Act {
		copy(next, w)
		s.fail(o.index, next)
		return s.spend(o.index, w, m) + s.value(depth+1, at.after(o, 0), next, tests)
	}
	t := s.Tests[o.index]
	cost := t.Cost*m + s.least(at.failed, w)
	for i, outcome := range t.Outcomes {
		if show(next, w, outcome) <= nothing*m {
			continue
		}
		low := s.least(at.failed, next)
		cost += s.value(depth+1, at.after(o, i), next, tests-1) - low
		if cost >= limit {
			return cost
		}
	}
	return cost
}
