package rank

import (
	"cmp"
	"math"
	"slices"

	"ruledout/kb"
)

// mostOrdered is how many of the leading culprits a change of order is looked for among.
const mostOrdered = 5

// wouldChange finds the one test whose result would most change the order of the leading culprits: first by how probable another leader
// is, then by how many pairs change places on average, then by the probability moved. nil if no test would change the order.
func (r *reply) wouldChange(fixes []kb.RankedFix, tests []proposal) *kb.Change {
	var leaders []int
	for _, f := range fixes[:min(len(fixes), mostOrdered)] {
		leaders = append(leaders, r.place(f.Component))
	}
	var best *kb.Change
	var most [3]float64
	for _, x := range tests {
		c := kb.Change{Test: x.Method, Component: x.Component}
		var moves [3]float64 // another leader, pairs, probability
		for _, result := range []struct {
			name   string
			p      float64
			passed bool
		}{{"pass", 1 - x.pFail, true}, {"fail", x.pFail, false}} {
			after := r.after(x, result.passed)
			order := slices.SortedStableFunc(slices.Values(leaders), func(a, b int) int { return cmp.Compare(after[b], after[a]) })
			if order[0] != leaders[0] {
				moves[0] += result.p
			}
			moves[1] += result.p * swapped(leaders, order)
			o := kb.ChangedOrder{Result: result.name, Probability: result.p, Changed: !slices.Equal(order, leaders), Order: []kb.OrderedFix{}}
			for _, f := range order {
				o.Order = append(o.Order, kb.OrderedFix{Component: r.name(f), Probability: after[f], Before: r.p(f)})
				moves[2] += result.p * math.Abs(after[f]-r.p(f))
			}
			c.Results = append(c.Results, o)
		}
		if moves[1] > 0 && slices.Compare(moves[:], most[:]) > 0 {
			best, most = &c, moves
		}
	}
	return best
}

// swapped counts the pairs that stand the other way round in the new order.
func swapped(old, now []int) float64 {
	n := 0.0
	for i, a := range old {
		for _, b := range old[i+1:] {
			if slices.Index(now, a) > slices.Index(now, b) {
				n++
			}
		}
	}
	return n
}

// after gives the probabilities after a result, by the same tempered likelihood that an answer to it would use.
func (r *reply) after(x proposal, passed bool) []float64 {
	out := slices.Clone(r.logPost)
	for f := range out {
		l := x.fail[f]
		if passed {
			l = 1 - l
		}
		out[f] += r.m.p.Lambda * math.Log(l)
	}
	total := logSum(out)
	for f := range out {
		out[f] = math.Exp(out[f] - total)
	}
	return out
}
