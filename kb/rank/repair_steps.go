package rank

import (
	"cmp"
	"slices"

	"ruledout/kb"
	"ruledout/kb/rank/plan"
)

// What of a plan is listed: improbable ends are only marked.
const (
	mostSteps = 60
	rareStep  = 0.002
)

// steps turns a solution into steps in the order of reading: each before what it leads to, the first branch first.
func (p *planner) steps(first *plan.Step) *kb.Plan {
	out := &kb.Plan{Steps: []kb.PlanStep{}}
	w := walker{planner: p, out: out, least: leastListed(first)}
	w.visit(first, 1)
	out.Minutes = p.minutesFrom(first)
	return out
}

// minutesFrom gives the expected time of a step and all that follows, what is too improbable to be listed included.
func (p *planner) minutesFrom(s *plan.Step) float64 {
	sum := p.describe(s).Minutes
	for _, b := range s.Branches {
		if b.Next != nil {
			sum += b.P * p.minutesFrom(b.Next)
		}
	}
	return sum
}

// leastListed gives the probability from which steps are listed, so that at most mostSteps are.
func leastListed(first *plan.Step) float64 {
	var all []float64
	var walk func(s *plan.Step, reach float64)
	walk = func(s *plan.Step, reach float64) {
		if reach < rareStep {
			return
		}
		all = append(all, reach)
		for _, b := range s.Branches {
			if b.Next != nil {
				walk(b.Next, reach*b.P)
			}
		}
	}
	walk(first, 1)
	if len(all) <= mostSteps {
		return rareStep
	}
	slices.SortFunc(all, func(a, b float64) int { return cmp.Compare(b, a) })
	return all[mostSteps-1]
}

type walker struct {
	*planner
	out   *kb.Plan
	least float64
}

// visit lists a step and what follows, and gives its place.
func (w *walker) visit(s *plan.Step, reach float64) int {
	at := len(w.out.Steps)
	step := w.describe(s)
	step.Probability = reach
	step.From = kb.MoneyOf(s.Cost, w.currency)
	step.Leader, step.LeaderP = w.leader(s.P)
	w.out.Steps = append(w.out.Steps, step)
	branches := []kb.PlanBranch{}
	for _, b := range s.Branches {
		to := kb.PlanBranch{Result: result(s.Kind, b.Outcome), Probability: b.P}
		if b.Next != nil {
			if reach*b.P < w.least {
				to.Rare = true
			} else {
				next := w.visit(b.Next, reach*b.P)
				to.Next = &next
			}
		}
		branches = append(branches, to)
	}
	w.out.Steps[at].Branches = branches
	return at
}

func result(k plan.Kind, outcome int) string {
	if k == plan.Act {
		return [...]string{plan.Cured: "fixed", plan.Failed: "no change"}[outcome]
	}
	return [...]string{"pass", "fail"}[outcome]
}

// leader names the likeliest culprit, empty for something else.
func (p *planner) leader(belief []float64) (string, float64) {
	best := 0
	for c, x := range belief {
		if x > belief[best] {
			best = c
		}
	}
	if best == len(p.names) {
		return "", belief[best]
	}
	return p.names[best], belief[best]
}

func (p *planner) describe(s *plan.Step) kb.PlanStep {
	out := kb.PlanStep{Notes: []string{}, Cases: []kb.CaseID{}, Cautions: []kb.CautionFor{}, Licensed: []string{}}
	switch s.Kind {
	case plan.Hand:
		out.Kind, out.Cost = kb.StepHandOver, kb.MoneyOf(p.handOver, p.currency)
	case plan.Look:
		t := p.tests[s.Index]
		out.Kind, out.Test, out.Component, out.Cost = kb.StepTest, t.Test, t.Component, kb.MoneyOf(t.cost, p.currency)
		out.Minutes, out.Cases = minutesOr(t.Minutes), t.Cases[:min(len(t.Cases), mostPlanCases)]
	case plan.Act:
		a := p.ways[s.Index]
		out.Kind, out.Component, out.Action, out.Origin, out.Check = kb.StepFix, a.culprit, a.Action, a.Origin, a.Check
		out.Cost, out.Minutes, out.Cases = a.Cost, a.Minutes, a.cases
		out.Notes = append(out.Notes, a.notes...)
	}
	return out
}

func minutesOr(x float64) float64 {
	if x > 0 {
		return x
	}
	return usualTestTime
}

// compare lists for each culprit its ways of repair side by side, and which of them the plan takes.
func (p *planner) compare(ways map[string][]way, fixes []kb.RankedFix, out *kb.Plan) []kb.PlanRepair {
	list := []kb.PlanRepair{}
	for _, fix := range fixes {
		own, ok := ways[fix.Component]
		if !ok {
			continue
		}
		r := kb.PlanRepair{Component: fix.Component, Probability: fix.Probability, Ways: []kb.PlanWay{}, Reserved: p.reserved[fix.Component]}
		for _, w := range own {
			w.InPlan = slices.ContainsFunc(out.Steps, func(s kb.PlanStep) bool {
				return s.Kind == kb.StepFix && s.Component == w.culprit && s.Action == w.Action && s.Origin == w.Origin
			})
			if len(r.Reserved) > 0 {
				w.Cost = kb.MoneyOf(p.handOver, p.currency)
			}
			r.Ways = append(r.Ways, w.PlanWay)
		}
		list = append(list, r)
	}
	return list
}

// priceNext fills in what the steps of the answer cost.
func (p *planner) priceNext(next []kb.NextStep, ways map[string][]way) {
	for i := range next {
		n := &next[i]
		cost := minutesOr(n.Minutes) / 60 * p.rate
		switch n.Kind {
		case "proof":
			m, _ := p.r.m.terms.Method(n.Test)
			cost = minutesOr(m.Minutes) / 60 * p.rate
		case "fix":
			cost = p.handOver
			for _, w := range ways[n.Component] {
				if w.Action == n.Action && len(p.reserved[n.Component]) == 0 {
					cost = min(cost, w.cost)
				}
			}
		}
		m := kb.MoneyOf(cost, p.currency)
		n.Cost = &m
	}
}
