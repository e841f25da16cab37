package rank

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"ruledout/kb"
	"ruledout/kb/rank/plan"
)

// Bounds of what is planned.
const (
	mostCulprits    = 10   // that the plan tells apart; the others are something else
	worthPlanning   = 0.01 // probability from which a culprit is planned for
	mostPlanned     = 6    // tests that the plan may do
	mostPlanCases   = 5    // cases cited at a step
	handOverHours   = 4    // of labour that handing over is taken to cost, beside the parts
	usualTestTime   = 10   // minutes of a test whose time nothing tells
	defaultCurrency = "EUR"
)

// PlanOptions is what a plan is made for.
type PlanOptions struct {
	Rate      *kb.Money                       // cost of an hour of work; nil: a default
	HandOver  *kb.Money                       // cost of handing over, nil: derived; in the currency of Rate where both are given
	AtHand    []string                        // components of which a part is at hand
	Tools     []string                        // other things at hand, only repeated in the assumptions: no test is barred for want of a tool
	Cannot    []Barred                        // what cannot be done
	Licensed  func(component string) []string // licence areas of work on a component, nil: none
	Qualified []string                        // licence areas that may be worked in
	Part      func(component string) bool     // whether a component is a thing that can be replaced, nil: all are
}

// Barred is what cannot be done: an empty field stands for anything.
type Barred struct {
	Component string
	Method    string // of a test
	Action    kb.Action
}

// planner turns an answer into a problem for the planner and its solution back into steps.
type planner struct {
	r        *reply
	wish     PlanOptions
	prices   *prices
	currency string
	rate     float64 // of an hour
	handOver float64
	causes   []int // culprits planned for, -1 for one that no case names
	names    []string
	chances  []float64 // their probabilities
	other    float64   // probability of something else
	ways     []way
	reserved map[string][]string // components whose work is priced as handed over
	tests    []plannedTest
	quiet    bool     // what is made up is only shown: it is no assumption of the plan
	assumed  []string // in the order in which they came up
	defaults []defaults
}

// defaults are values that no case of a component tells.
type defaults struct {
	what   string // parts, time
	source string
	values []string
}

// plannedTest is a test that the plan may do.
type plannedTest struct {
	kb.NextStep
	cost float64
}

// addPlan makes the plan and fills in what it tells of costs. Where the numbers cannot be planned with, a warning says why.
func (r *reply) addPlan(a *kb.Answer, wish PlanOptions) {
	p := &planner{r: r, wish: wish, prices: r.m.prices(), reserved: map[string][]string{}}
	p.setRate()
	ways := p.choose(a.Fixes)
	p.setHandOver(a.Fixes)
	p.chooseTests(a.Next)
	problem := p.problem()
	solution, err := plan.Solve(problem, plan.Options{})
	if err != nil {
		a.Warnings = append(a.Warnings, fmt.Sprintf("no plan could be made: %v", err))
		return
	}
	out := p.steps(solution.First)
	out.Currency, out.Method = p.currency, string(solution.Method)
	out.Expected = kb.MoneyOf(solution.Cost, p.currency)
	out.Compared = []kb.PlanCost{{Way: kb.WayLikeliest, Cost: kb.MoneyOf(solution.Likeliest, p.currency)},
		{Way: kb.WayRatio, Cost: kb.MoneyOf(solution.Ratio, p.currency)}, {Way: kb.WayHandOver, Cost: kb.MoneyOf(solution.HandOver, p.currency)}}
	out.Repairs = p.compare(ways, a.Fixes, out)
	out.Assumptions, out.LeftOut = p.assumptions(), p.leftOut()
	a.Plan, a.ExpectedCost = out, &out.Expected
	p.priceNext(a.Next, ways)
}

func (p *planner) money(x float64) string {
	m := kb.MoneyOf(x, p.currency)
	return m.Amount + " " + m.Currency
}

// setRate settles the currency and the rate: as stated, else the currency of most recorded costs and a default rate.
func (p *planner) setRate() {
	stated := cmp.Or(p.wish.Rate, p.wish.HandOver)
	switch {
	case stated != nil:
		p.currency = stated.Currency
	case p.prices.usualCurrency() != "":
		p.currency = p.prices.usualCurrency()
		p.assume("costs are in %s, as most on record", p.currency)
	default:
		p.currency = defaultCurrency
		p.assume("costs are in %s: no case names any", p.currency)
	}
	if p.wish.Rate != nil {
		p.rate, _ = p.wish.Rate.Float()
		p.assume("an hour of work costs %s, as stated", p.money(p.rate))
		return
	}
	p.rate = usualRate(p.currency)
	p.assume("an hour of work costs %s: a default, common practice of the trade; state your own rate", p.money(p.rate))
}

// usualRate is what an hour of a workshop costs by currency; common practice of the trade, no source.
func usualRate(currency string) float64 {
	rates := map[string]float64{"EUR": 60, "USD": 75, "GBP": 55, "CHF": 100, "CAD": 90, "AUD": 100, "NZD": 100, "PLN": 150, "CZK": 800, "SEK": 700,
		"NOK": 800, "DKK": 500, "JPY": 8000, "INR": 800, "ZAR": 500, "BRL": 150, "MXN": 500, "TRY": 800, "HUF": 12000}
	if x, ok := rates[currency]; ok {
		return x
	}
	return 60
}

// choose settles which culprits are planned for and how each can be repaired.
func (p *planner) choose(fixes []kb.RankedFix) map[string][]way {
	out := map[string][]way{}
	sum := 0.0
	for _, fix := range fixes {
		if len(p.causes) == mostCulprits || fix.Probability < worthPlanning {
			break
		}
		p.causes, p.names, p.chances = append(p.causes, p.r.place(fix.Component)), append(p.names, fix.Component), append(p.chances, fix.Probability)
		sum += fix.Probability
		ways := p.waysOf(fix)
		out[fix.Component] = ways
		if areas := p.unqualified(fix.Component); len(areas) > 0 {
			p.reserved[fix.Component] = areas
			continue
		}
		for _, w := range ways {
			if !w.Shown {
				p.ways = append(p.ways, w)
			}
		}
	}
	p.other = math.Max(0, 1-sum)
	return out
}

// unqualified gives the licence areas of work on a component that the asker has not stated a qualification for.
func (p *planner) unqualified(component string) []string {
	if p.wish.Licensed == nil {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(p.wish.Licensed(component)), func(area string) bool { return slices.Contains(p.wish.Qualified, area) })
}

// barred tells whether a test or a repair cannot be done.
func (p *planner) barred(component, method string, action kb.Action) bool {
	return slices.ContainsFunc(p.wish.Cannot, func(b Barred) bool {
		return (b.Component == "" || b.Component == component) && (b.Method == "" || b.Method == method) && (b.Action == "" || b.Action == action)
	})
}

// setHandOver settles what handing over costs: as stated, else some hours of labour and the parts of the surest repairs, by their probability.
func (p *planner) setHandOver(fixes []kb.RankedFix) {
	if p.wish.HandOver != nil {
		p.handOver, _ = p.wish.HandOver.Float()
		p.assume("handing over costs %s, as stated", p.money(p.handOver))
		return
	}
	anybody := *p // a specialist can do everything and brings the parts
	anybody.quiet, anybody.wish.Cannot, anybody.wish.AtHand = true, nil, nil
	parts, sum := 0.0, 0.0
	for _, fix := range fixes[:len(p.causes)] {
		if ways := anybody.waysOf(fix); len(ways) > 0 {
			parts, sum = parts+fix.Probability*ways[0].parts, sum+fix.Probability
		}
	}
	if sum > 0 {
		parts /= sum
	}
	p.handOver = handOverHours*p.rate + parts
	p.assume("handing over costs %s: derived from %d hours of work and %s for the parts to be expected; common practice of the trade, state your own",
		p.money(p.handOver), handOverHours, p.money(parts))
}

// chooseTests takes the tests that the answer proposes, and some more, those left out that cannot be done or are reserved.
func (p *planner) chooseTests(next []kb.NextStep) {
	for _, n := range next {
		if n.Kind == "test" && p.mayTest(n.Component, n.Test) {
			p.tests = append(p.tests, plannedTest{n, p.testCost(n.Test, n.Component, n.Minutes)})
		}
	}
	for _, x := range p.r.further {
		if len(p.tests) >= mostPlanned {
			return
		}
		if p.mayTest(x.Component, x.Method) {
			n := p.r.testStep(x, nil)
			p.tests = append(p.tests, plannedTest{n, p.testCost(n.Test, n.Component, n.Minutes)})
		}
	}
}

// mayTest tells whether a test can be planned: not what cannot be done, nor what is reserved; bridging is never planned.
func (p *planner) mayTest(component, method string) bool {
	if p.barred(component, method, "") || p.kindOf(method) == kb.MethodBridging {
		return false
	}
	areas := p.unqualified(component)
	if len(areas) > 0 && !p.harmless(method) {
		p.assume("%s of %s is reserved work (%s) and left to the hand-over", method, component, strings.Join(areas, ", "))
		return false
	}
	return true
}

// harmless tells whether a test only looks, listens or reads out: that is not reserved.
func (p *planner) harmless(method string) bool {
	return slices.Contains([]string{"look", "listen", "scan"}, p.kindOf(method))
}

// kindOf gives the kind of a test method, empty if it is not known.
func (p *planner) kindOf(method string) string {
	if method == kb.MethodBridging {
		return kb.MethodBridging // also where the vocabulary does not know it
	}
	m, _ := p.r.m.terms.Method(method)
	return m.Kind
}

func (p *planner) testCost(method, component string, minutes float64) float64 {
	if minutes <= 0 {
		p.defaulted("time", 0, fmt.Sprintf("%s of %s %d min", method, component, usualTestTime))
		minutes = usualTestTime
	}
	if p.kindOf(method) == "substitute" && !slices.Contains(p.wish.AtHand, component) {
		p.assume("a known good part for a test by substitution can be borrowed")
	}
	return minutes / 60 * p.rate
}

// assume notes in words what the plan rests on, once.
func (p *planner) assume(format string, args ...any) {
	if s := fmt.Sprintf(format, args...); !p.quiet && !slices.Contains(p.assumed, s) {
		p.assumed = append(p.assumed, s)
	}
}

// defaulted notes a value that no case of the component tells: from so many cases of other components, shrunk to common practice.
func (p *planner) defaulted(what string, others int, value string) {
	if p.quiet {
		return
	}
	source := "common practice of the trade"
	if others > 0 {
		source = "like repairs of other components, shrunk to common practice of the trade"
	}
	i := slices.IndexFunc(p.defaults, func(d defaults) bool { return d.what == what && d.source == source })
	if i < 0 {
		p.defaults = append(p.defaults, defaults{what: what, source: source})
		i = len(p.defaults) - 1
	}
	if !slices.Contains(p.defaults[i].values, value) {
		p.defaults[i].values = append(p.defaults[i].values, value)
	}
}

// problem puts the planning as numbers: the last cause is something else.
func (p *planner) problem() plan.Problem {
	out := plan.Problem{HandOver: p.handOver, P: append(slices.Clone(p.chances), p.other)}
	sum := 0.0
	for _, x := range out.P {
		sum += x
	}
	for c := range out.P {
		out.P[c] /= sum
	}
	for _, w := range p.ways {
		a := plan.Action{Cost: w.cost, Solves: make([]float64, len(out.P))}
		for c, name := range p.names {
			if name == w.culprit || w.Origin != "" && p.r.m.relate(w.culprit, name) == kb.CulpritInTested { // a part comes with its whole
				a.Solves[c] = w.solves
			}
		}
		out.Actions = append(out.Actions, a)
	}
	for _, t := range p.tests {
		out.Tests = append(out.Tests, plan.Test{Cost: t.cost, Outcomes: p.outcomes(t)})
	}
	return out
}

// outcomes gives the probabilities of passing and of failing a test under each cause; under something else they are those of all that is
// not planned for, by their probability.
func (p *planner) outcomes(t plannedTest) [][]float64 {
	m, _ := p.r.m.terms.Method(t.Test)
	o := observed{Component: t.Component, Method: t.Test, Bench: m.Where == kb.Bench}
	rel, rates := p.r.related(o.Component), p.r.ev.failRates(o)
	fails := func(f int) float64 { return p.r.ev.testRate(o, rates, rel[f], f).mean() }
	pass, fail := []float64{}, []float64{}
	for c, f := range p.causes {
		if f < 0 {
			fail = append(fail, rates[roleOf(p.r.m.relate(o.Component, p.names[c]), o.Bench)].mean())
			continue
		}
		fail = append(fail, fails(f))
	}
	sum, mean := 0.0, 0.0
	for f := range p.r.logPost {
		if x := p.r.p(f); x > 0 && !slices.Contains(p.causes, f) {
			sum, mean = sum+x, mean+x*fails(f)
		}
	}
	if sum > 0 {
		mean /= sum
	}
	fail = append(fail, mean)
	for _, x := range fail {
		pass = append(pass, 1-x)
	}
	return [][]float64{pass, fail}
}

// assumptions lists in words what the plan rests on, every default with its source.
func (p *planner) assumptions() []string {
	out := p.assumed
	for _, d := range p.defaults {
		out = append(out, fmt.Sprintf("%s where no case tells (%s): %s", d.what, d.source, strings.Join(d.values, ", ")))
	}
	for _, c := range slices.Sorted(maps.Keys(p.reserved)) {
		out = append(out, fmt.Sprintf("work on %s may be reserved to licensed people (%s) and is priced as handed over; "+
			"state the qualification if you have it", c, strings.Join(p.reserved[c], ", ")))
	}
	if len(p.wish.Tools) > 0 {
		out = append(out, "at hand: "+strings.Join(p.wish.Tools, ", ")+
			"; no test is left out for want of a tool, name in what you cannot do what is to be left out")
	}
	if len(p.tests) > 0 {
		out = append(out, "how often a test fails comes from its cases and those of its method, shrunk to the constants of the model")
	}
	return append(out, "one fault only, and after each repair one sees whether it cured; a fixed share of repairs does not last and counts as not cured",
		"a repair in place suits the fault as often as its share among the cures on record, pulled to one half; "+
			"replacing a part removes any fault in it (own derivation)",
		fmt.Sprintf("something else (%.0f %%) is cured by handing over only", 100*p.other))
}

// leftOut counts the recorded costs in other currencies, by name.
func (p *planner) leftOut() []kb.LeftOutCost {
	out := []kb.LeftOutCost{}
	for _, c := range slices.Sorted(maps.Keys(p.prices.costs)) {
		if c != p.currency {
			out = append(out, kb.LeftOutCost{Currency: c, Costs: p.prices.costs[c]})
		}
	}
	return out
}

func inCases(n int) string {
	if n == 1 {
		return "1 case"
	}
	return fmt.Sprintf("%d cases", n)
}
