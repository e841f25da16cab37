package plan

// Ratios gives the tests the probability over cost of every action under a belief, and which of those not done comes first.
func Ratios(p Problem, done uint64, belief []float64) ([]float64, int) {
	s := newSearch(p)
	var out []float64
	for a := range p.Actions {
		out = append(out, s.ratio(a, belief))
	}
	return out, byRatio(s, done, belief)
}
