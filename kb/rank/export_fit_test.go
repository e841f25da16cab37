package rank

import "ruledout/kb"

// Parts gives the tests the log posterior of a closed case asked as a question, as a whole and put together from the parts of a fit.
func Parts(m *Model, c kb.Case) (whole, together []float64) {
	r := (&Table{terms: m.terms}).rowOf(c)
	together = make([]float64, len(m.part(r, partPrior)))
	for _, part := range []int{partPrior, partSymptoms, partTests, partTried} {
		for f, l := range m.part(r, part) {
			together[f] += l
		}
	}
	total := logSum(together)
	for f := range together {
		together[f] -= total
	}
	return m.evaluate(r, exclusion{}).logPost, together
}

// Tuned gives the tests the log posterior of a case under a model tuned from one set of constants to another.
func Tuned(m *Model, to Params, c kb.Case) []float64 {
	r := (&Table{terms: m.terms}).rowOf(c)
	m.evaluate(r, exclusion{}) // fills what the model keeps
	m.tune(to)
	return m.evaluate(r, exclusion{}).logPost
}

// FoldsOf gives the tests the fold of each case, by id.
func FoldsOf(cases []kb.Case, groups []int, t Terms, folds int) (map[kb.CaseID]int, error) {
	b, err := newBooklet(cases, groups, t, FitOptions{Folds: folds})
	if err != nil {
		return nil, err
	}
	out := map[kb.CaseID]int{}
	for i, r := range b.rows {
		out[r.ID] = b.fold[i]
	}
	return out, nil
}
