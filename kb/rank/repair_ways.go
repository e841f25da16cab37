package rank

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"ruledout/kb"
)

// What is taken of used parts, and of repairs in place, where no case tells; common practice of the trade.
const (
	usedShare    = 0.4  // price of a used part beside a new one
	usedBad      = 0.15 // probability that a used part is bad
	benchFinds   = 0.85 // probability that a bench check finds a bad part
	benchMinutes = 15
	suitPrior    = 2    // cases by which the share of a repair in place is pulled to one half
	curePrior    = 5    // cases that the pooled rate of an action counts as
	mostInPlace  = 2    // kinds of repair in place that are compared
	mostSolved   = 0.99 // no repair is surer than this
	leastSolved  = 0.02
)

// way is one way of repairing one culprit.
type way struct {
	kb.PlanWay
	culprit string
	solves  float64 // probability of curing if this is the culprit
	cost    float64
	parts   float64
	notes   []string
	cases   []kb.CaseID
}

// waysOf lists the ways of repairing a culprit: new part, used part, repair in place, the surest first. What no cure on record did is shown
// to compare but not planned.
func (p *planner) waysOf(fix kb.RankedFix) []way {
	var out []way
	replaced, inPlace := false, 0
	for _, a := range fix.Actions {
		switch {
		case a.Action == kb.Bypass || p.barred(fix.Component, "", a.Action):
		case a.Action == kb.Replace:
			replaced = true
			out = append(out, p.replacements(fix)...)
		case inPlace < mostInPlace && (a.Action != kb.Other || len(fix.Actions) == 1):
			inPlace++
			out = append(out, p.inPlace(fix, a))
		}
	}
	if len(fix.Actions) == 0 && p.mayReplace(fix.Component) {
		replaced = true
		out = append(out, p.replacements(fix)...)
		p.assume("no case tells how %s was repaired: replacing is taken", fix.Component)
	}
	quiet := p.quiet
	p.quiet = true
	if !replaced && p.mayReplace(fix.Component) {
		out = append(out, onlyShown(p.replacements(fix))...)
	}
	if inPlace == 0 && !p.barred(fix.Component, "", kb.Repair) {
		out = append(out, onlyShown([]way{p.inPlace(fix, kb.ActionShare{Action: kb.Repair})})...)
	}
	p.quiet = quiet
	slices.SortStableFunc(out, func(a, b way) int { return cmp.Or(order(a.Shown, b.Shown), cmp.Compare(b.solves, a.solves)) })
	return out
}

// mayReplace tells whether a component is a thing that the asker can replace.
func (p *planner) mayReplace(component string) bool {
	return !p.barred(component, "", kb.Replace) && (p.wish.Part == nil || p.wish.Part(component))
}

func onlyShown(list []way) []way {
	for i := range list {
		list[i].Shown = true
	}
	return list
}

// order puts what is planned before what is only shown.
func order(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}

// replacements gives the ways of replacing a part: new, rebuilt where a case did so, and used with a check before it is fitted, unless it
// is too small a part to look for a used one.
func (p *planner) replacements(fix kb.RankedFix) []way {
	job := jobKey{fix.Component, kb.Replace}
	fresh := p.way(fix, originKey{job, kb.NewPart}, p.cureRate(job))
	price := fresh.parts
	if slices.Contains(p.wish.AtHand, fix.Component) {
		fresh.price(p, 0)
		fresh.notes = append(fresh.notes, "the part is at hand and costs nothing")
	}
	coding := []string{}
	if c := p.prices.coding[fix.Component]; c > 0 {
		coding = append(coding, fmt.Sprintf("the part may need coding to the machine before it works (%s)", inCases(c)))
	}
	fresh.notes = append(fresh.notes, coding...)
	out := []way{fresh}
	if p.prices.jobs[job].fitted(kb.RebuiltPart) > 0 {
		rebuilt := p.way(fix, originKey{job, kb.RebuiltPart}, p.cureRate(job))
		rebuilt.notes = coding
		out = append(out, rebuilt)
	}
	if p.mayBeUsed(job) {
		used := p.used(fix, price)
		used.notes = coding
		out = append(out, used)
	}
	return out
}

// mayBeUsed tells whether a used part is worth a thought: not where it is too small unless a case did so, and never in gas, pressure and
// restraint systems (common practice of the trade).
func (p *planner) mayBeUsed(k jobKey) bool {
	if p.wish.Licensed != nil {
		for _, area := range p.wish.Licensed(k.component) {
			if area == "gas" || area == "pressure" || area == "restraint" {
				p.assume("no used parts in gas, pressure and restraint systems (common practice of the trade)")
				return false
			}
		}
	}
	return usualParts(k) > smallest || p.prices.jobs[k].fitted(kb.UsedPart) > 0
}

// used is replacing by a used part, checked on the bench before it is fitted: what the check rejects is bought again.
func (p *planner) used(fix kb.RankedFix, fresh float64) way {
	rejected := usedBad * benchFinds
	again := 1 / (1 - rejected)
	stillBad := usedBad * (1 - benchFinds) * again
	job := jobKey{fix.Component, kb.Replace}
	w := p.way(fix, originKey{job, kb.UsedPart}, p.cureRate(job)*(1-stillBad))
	price, n := p.usedPrice(fix.Component, fresh)
	w.Minutes, w.Priced, w.Cases = math.Round(w.Minutes+benchMinutes*again), n, p.prices.jobs[job].fitted(kb.UsedPart)
	w.price(p, price*again)
	w.Check = p.benchCheck(fix.Component)
	p.assume("a used part is bad in %.0f %% of cases; the bench check before fitting takes %d min and finds %.0f %% of the bad ones, "+
		"which are bought again (common practice of the trade)", 100*usedBad, benchMinutes, 100*benchFinds)
	return w
}

// usedPrice gives the price of a used part: as recorded, beside a share of the new one's.
func (p *planner) usedPrice(component string, fresh float64) (price float64, n int) {
	median, n := p.prices.jobs[jobKey{component, kb.Replace}].costOf(kb.UsedPart, p.currency).middle(p.r.ex.rows)
	if n == 0 {
		p.assume("a used part costs %.0f %% of a new one where no case tells (common practice of the trade)", 100*usedShare)
	}
	return blend(median, n, usedShare*fresh), n
}

// benchCheck names how a used part is checked before it is fitted: by the method that tests it most, if that can be done on the bench.
func (p *planner) benchCheck(component string) string {
	name := p.r.usualMethod(component)
	if m, ok := p.r.m.terms.Method(name); ok && m.Where != kb.InPlace {
		return name + " of the used part on the bench before it is fitted"
	}
	return "check of the used part on the bench, against the maker's values or beside the old one, before it is fitted"
}

// inPlace is a repair without a new part.
func (p *planner) inPlace(fix kb.RankedFix, a kb.ActionShare) way {
	job := jobKey{fix.Component, a.Action}
	suits := (a.Share*float64(fix.CaseCount) + suitPrior/2) / (float64(fix.CaseCount) + suitPrior)
	if len(fix.Actions) == 1 && a.Share == 1 {
		suits = 1 // the only way on record: there is nothing it stands back to
	}
	return p.way(fix, originKey{job, ""}, p.cureRate(job)*suits)
}

func (p *planner) way(fix kb.RankedFix, k originKey, solves float64) way {
	w := way{culprit: fix.Component, solves: math.Min(mostSolved, math.Max(leastSolved, solves))}
	parts, n := p.partsOf(k)
	w.PlanWay = kb.PlanWay{Action: k.action, Origin: k.origin, Cures: w.solves, Cases: p.cured(k.jobKey), Priced: n}
	w.Minutes = math.Round(p.minutesOf(k.jobKey))
	w.cases = p.casesOf(fix, k.action)
	w.price(p, parts)
	return w
}

// price sets what a way costs.
func (w *way) price(p *planner, parts float64) {
	w.parts = parts
	w.cost = parts + w.Minutes/60*p.rate
	w.Parts, w.Cost = kb.MoneyOf(parts, p.currency), kb.MoneyOf(w.cost, p.currency)
}

// casesOf gives the cases, closest first, in which an action cured a culprit.
func (p *planner) casesOf(fix kb.RankedFix, a kb.Action) []kb.CaseID {
	out := []kb.CaseID{}
	for _, id := range fix.Cases {
		i, ok := p.r.m.byID[id]
		if ok && slices.ContainsFunc(p.r.m.rows[i].Cures, func(x attempt) bool { return x.Component == fix.Component && x.Action == a }) {
			out = append(out, id)
		}
	}
	return out[:min(len(out), mostPlanCases)]
}

// partsOf gives what the parts of a repair cost: the median of the cases of this component, shrunk to that of all components, that one to
// a default in hours of labour.
func (p *planner) partsOf(k originKey) (price float64, n int) {
	median, n := p.prices.jobs[k.jobKey].costOf(k.origin, p.currency).middle(p.r.ex.rows)
	usual := usualParts(k.jobKey) * p.rate
	all, many := p.prices.kinds[k.action].costOf(k.origin, p.currency).middle(p.r.ex.rows)
	price = blend(median, n, blend(all, many, usual))
	if n == 0 && usual > 0 {
		p.defaulted("parts", many, fmt.Sprintf("%s %s %s", k.action, k.component, p.money(price)))
	}
	return price, n
}

// minutesOf gives how long a repair takes, in the same way.
func (p *planner) minutesOf(k jobKey) float64 {
	median, n := p.prices.jobs[k].timeOf().middle(p.r.ex.rows)
	all, many := p.prices.kinds[k.action].timeOf().middle(p.r.ex.rows)
	usual := blend(all, many, usualMinutes(k))
	if n == 0 {
		p.defaulted("time", many, fmt.Sprintf("%s %s %.0f min", k.action, k.component, usual))
	}
	return blend(median, n, usual)
}

// cureRate gives the probability that a repair cures for good the culprit that it is done on: the action's rates over all components, and
// what came of it on this one.
func (p *planner) cureRate(k jobKey) float64 {
	fails := 0.0
	for _, o := range []kb.Outcome{kb.NoChange, kb.Partial, kb.Returned} {
		fails += p.r.ev.outcomeRate(attempt{Action: k.action, Outcome: o}, true).mean()
	}
	cured, failed := p.done(k)
	return (curePrior*math.Max(0, 1-fails) + float64(cured)) / (curePrior + float64(cured+failed))
}

// done gives how often a repair of the very culprit cured and failed, cases that do not count left out.
func (p *planner) done(k jobKey) (cured, failed int) {
	if j := p.prices.jobs[k]; j != nil {
		cured, failed = j.cured, j.failed
	}
	for i := range p.r.ex.rows {
		own := newPrices()
		own.add(p.r.m.rows[i], i)
		if j := own.jobs[k]; j != nil {
			cured, failed = cured-j.cured, failed-j.failed
		}
	}
	return cured, failed
}

func (p *planner) cured(k jobKey) int {
	n, _ := p.done(k)
	return n
}
