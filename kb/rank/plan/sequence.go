package plan

import (
	"errors"
	"fmt"
	"math/bits"
	"slices"
)

// nothing is the share of a state's weight below which it counts as not there.
const nothing = 1e-12

// ECR gives the expected cost of repair of a sequence of actions, each done if all before it have failed, with handing over at its end:
// sum of C_i P(all before i failed) + H P(all failed).
func (p Problem) ECR(sequence []int) (float64, error) {
	if err := p.Validate(); err != nil {
		return 0, err
	}
	for i, a := range sequence {
		if a < 0 || a >= len(p.Actions) || slices.Contains(sequence[:i], a) {
			return 0, fmt.Errorf("plan: place %d of the sequence names no action or one done before", i)
		}
	}
	return newSearch(p).ecr(sequence, clone(p.P)), nil
}

// ecr is ECR from a state of weights w, which it uses up.
func (s *search) ecr(sequence []int, w []float64) float64 {
	m, cost := total(w), 0.0
	for _, a := range sequence {
		cost += s.spend(a, w, m)
		m -= s.fail(a, w)
	}
	return cost + s.HandOver*max(0, m)
}

// rule tells which action comes next among those not done, -1 for none.
type rule func(s *search, done uint64, w []float64) int

// ratio gives the probability of curing over the cost. Further costs under a cause do not bear on the best order and are left out; what is
// free and may cure has the largest ratio there is.
func (s *search) ratio(a int, w []float64) float64 {
	return s.chance(a, w) / max(s.Actions[a].Cost, 1e-300)
}

// byRatio takes the action with the greatest ratio, recomputed after each failure; the first of equal ones.
func byRatio(s *search, done uint64, w []float64) int {
	best, top := -1, 0.0
	for a := range s.Actions {
		if done>>a&1 == 1 {
			continue
		}
		if r := s.ratio(a, w); r > top*(1+nothing) {
			best, top = a, r
		}
	}
	return best
}

// byProbability takes the action that most probably cures, whatever it costs; the cheaper of equal ones.
func byProbability(s *search, done uint64, w []float64) int {
	best, top := -1, 0.0
	for a := range s.Actions {
		if done>>a&1 == 1 {
			continue
		}
		x := s.chance(a, w)
		if x > top*(1+nothing) || x > 0 && x >= top*(1-nothing) && s.Actions[a].Cost < s.Actions[best].Cost {
			best, top = a, x
		}
	}
	return best
}

// follow gives the sequence that a rule makes from a state, up to where handing over is cheapest, and its cost. It uses w up.
func (s *search) follow(next rule, done uint64, w []float64, sequence []int) ([]int, float64) {
	m := total(w)
	cost, best, cut := 0.0, s.HandOver*m, 0
	for start := m; m > nothing*start && cost < best; {
		a := next(s, done, w)
		if a < 0 {
			break
		}
		cost += s.spend(a, w, m)
		m -= s.fail(a, w)
		done |= 1 << a
		sequence = append(sequence, a)
		if now := cost + s.HandOver*max(0, m); now < best {
			best, cut = now, len(sequence)
		}
	}
	return sequence[:cut], best
}

// exchange improves a sequence from a state by leaving out, moving and adding single actions until nothing helps. Ratios alone misjudge
// actions that overlap.
func (s *search) exchange(sequence []int, cost float64, done uint64, w []float64) ([]int, float64) {
	x := exchanger{search: s, w: w, left: make([]float64, len(w)), best: clone(sequence), cost: cost}
	for range 2 * len(s.Actions) {
		if !x.improve(done) {
			break
		}
	}
	return x.best, x.cost
}

type exchanger struct {
	*search
	w, left     []float64
	best        []int
	rest, trial []int
	cost        float64
}

// improve tries each action left out and at each place, and tells whether any trial was better.
func (x *exchanger) improve(done uint64) bool {
	better := false
	for a := range x.Actions {
		if done>>a&1 == 1 || x.chance(a, x.w) == 0 {
			continue
		}
		x.rest = x.rest[:0]
		for _, b := range x.best {
			if b != a {
				x.rest = append(x.rest, b)
			}
		}
		better = x.take(x.rest) || better
		for at := 0; at <= len(x.rest); at++ {
			x.trial = append(append(append(x.trial[:0], x.rest[:at]...), a), x.rest[at:]...)
			better = x.take(x.trial) || better
		}
	}
	return better
}

// take keeps a sequence that is better than the best so far.
func (x *exchanger) take(sequence []int) bool {
	copy(x.left, x.w)
	cost := x.ecr(sequence, x.left)
	if cost >= x.cost*(1-nothing) {
		return false
	}
	x.best, x.cost = clone(sequence), cost
	return true
}

// maxOrder is the most actions whose best order is found over all subsets: 2^16 subsets.
const maxOrder = 16

// Order gives the best sequence of actions, tests left aside, with handing over at its end, and its expected cost: exact, by dynamic
// programming over the subsets that have failed. More than 16 actions are an error.
func (p Problem) Order() ([]int, float64, error) {
	if err := p.Validate(); err != nil {
		return nil, 0, err
	}
	if len(p.Actions) > maxOrder {
		return nil, 0, errors.New("plan: too many actions for the best order over all subsets")
	}
	s := newSearch(p)
	all := 1<<len(p.Actions) - 1
	left, cost, first := make([]float64, len(p.P)), make([]float64, all+1), make([]int, all+1)
	for failed := all; failed >= 0; failed-- {
		copy(left, p.P)
		for rest := uint64(failed); rest != 0; rest &= rest - 1 {
			s.fail(bits.TrailingZeros64(rest), left)
		}
		m := total(left)
		cost[failed], first[failed] = p.HandOver*m, -1
		for a := range p.Actions {
			if failed>>a&1 == 1 {
				continue
			}
			if c := s.spend(a, left, m) + cost[failed|1<<a]; c < cost[failed]*(1-nothing) {
				cost[failed], first[failed] = c, a
			}
		}
	}
	sequence := []int{}
	for failed := 0; first[failed] >= 0; failed |= 1 << first[failed] {
		sequence = append(sequence, first[failed])
	}
	return sequence, cost[0], nil
}

func clone[T any](x []T) []T { return slices.Clone(x) }
