package rank

import (
	"math"

	"ruledout/kb"
)

// Why gives the whole reckoning of one culprit for a question. A component that cannot be the culprit by anything known is NotFound.
func (m *Model) Why(q kb.Case, component string) (kb.Account, error) {
	e := m.evaluate(m.asked(q), m.exclude(m.excluded(q.ID, nil)))
	f := e.place(component)
	if f < 0 || math.IsInf(e.logPost[f], -1) {
		return kb.Account{}, kb.Errorf(kb.NotFound, "no case and no structure speaks for %q as the culprit: its probability is part of what is not listed", component)
	}
	return e.account(f), nil
}

func (e *posterior) account(f int) kb.Account {
	a := kb.Account{Component: e.name(f), Prior: levelsOf(e.plain, f), PriorP: e.base.p[f], Probability: e.p(f), Evidence: []kb.AccountEvidence{}}
	a.PriorOdds = odds(a.PriorP)
	a.Odds = a.PriorOdds
	factors := e.factorsOf([]int{f})[0]
	code := 0
	for j := range e.factors {
		x := &e.factors[j]
		a.Odds *= factors[j]
		l := math.Exp(x.logL[f])
		out := kb.AccountEvidence{Evidence: x.label, Likelihood: l, Factor: factors[j], Others: l / factors[j], Odds: a.Odds}
		if x.rates == nil {
			out.Levels, out.Power = levelsOf(e.chains[code], f), e.power()
			code++
		} else {
			for _, r := range x.rates(f, nil) {
				out.Rates = append(out.Rates, kb.AccountRate{What: r.name, Yes: r.rate.a, No: r.rate.b, Rate: r.rate.mean(), Power: r.power})
			}
		}
		a.Evidence = append(a.Evidence, out)
	}
	return a
}

// levelsOf writes out the steps of a chain for one culprit.
func levelsOf(chain []context, f int) []kb.AccountLevel {
	out, p := []kb.AccountLevel{}, 0.0
	for _, c := range chain {
		l := kb.AccountLevel{Level: c.deep.String(), Count: c.n[int32(f)], Total: c.sum, Given: c.given, Strength: c.k, Above: p, Discount: c.discounts.of(c.n[int32(f)])}
		p = (l.Count - l.Discount + (l.Strength+l.Given)*l.Above) / (l.Total + l.Strength)
		l.P = p
		out = append(out, l)
	}
	return out
}
