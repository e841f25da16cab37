package rank_test

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb"
	"ruledout/kb/rank"
)

// priced is a closed case whose cure took parts and time.
func priced(id, component string, a kb.Action, o kb.Origin, amount, currency string, minutes float64) kb.Case {
	c := closedCase(id, component)
	f := &c.Fixes[0]
	f.Action, f.Minutes, f.PartsCost = a, minutes, &kb.Money{Amount: amount, Currency: currency}
	if o != "" {
		f.Part = &kb.Part{Origin: o}
	}
	return c
}

// pricedBook is a small book: a relay replaced by new and used parts, a harness repaired, a valve cleaned or replaced, a fuse.
func pricedBook() []kb.Case {
	var out []kb.Case
	for i, amount := range []string{"20", "30", "100"} {
		c := priced(fmt.Sprintf("r%d", i), "heater relay", kb.Replace, kb.NewPart, amount, "EUR", 30)
		c.Tests = []kb.Test{{Step: 1, Test: "resistance measurement", Method: "resistance measurement", Component: "heater relay", Result: kb.Fail, Minutes: 10}}
		out = append(out, c)
	}
	out = append(out, priced("u0", "heater relay", kb.Replace, kb.UsedPart, "6", "EUR", 30),
		priced("h0", "wiring harness", kb.Repair, "", "5", "EUR", 90), priced("h1", "wiring harness", kb.Repair, "", "7", "EUR", 120),
		priced("v0", "coolant valve", kb.Clean, "", "2", "EUR", 40), priced("v1", "coolant valve", kb.Replace, "", "80", "EUR", 60),
		priced("d0", "heater fuse", kb.Replace, kb.NewPart, "3", "USD", 10), priced("d1", "heater fuse", kb.Replace, kb.NewPart, "2", "CHF", 10))
	for i := range out {
		if out[i].Fixes[0].Component != "heater relay" {
			out[i].Tests = []kb.Test{{Step: 1, Test: "resistance measurement", Method: "resistance measurement", Component: "heater relay", Result: kb.Pass}}
		}
	}
	return out
}

func planVocabulary(t require.TestingT) *kb.Vocabulary {
	v, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	return v
}

func planned(t require.TestingT, cases []kb.Case, q kb.Case, wish rank.PlanOptions) kb.Answer {
	tab := rank.NewTable(planVocabulary(t))
	for _, c := range cases {
		tab.Put(c)
	}
	a := tab.Model(rank.DefaultParams()).Ask(q, rank.Options{Plan: &wish})
	require.NotNil(t, a.Plan)
	return a
}

func amountOf(t require.TestingT, m kb.Money) float64 {
	x, ok := m.Float()
	require.True(t, ok, "%v", m)
	return x
}

func waysFor(p kb.Plan, component string) []kb.PlanWay {
	for _, r := range p.Repairs {
		if r.Component == component {
			return r.Ways
		}
	}
	return nil
}

func wayOf(t require.TestingT, p kb.Plan, component string, a kb.Action, o kb.Origin) kb.PlanWay {
	ways := waysFor(p, component)
	i := slices.IndexFunc(ways, func(w kb.PlanWay) bool { return w.Action == a && w.Origin == o })
	require.GreaterOrEqual(t, i, 0, "%s %s %s", a, component, o)
	return ways[i]
}

// checkPlan holds a plan against what every plan keeps.
func checkPlan(t require.TestingT, a kb.Answer) {
	p := *a.Plan
	require.NotEmpty(t, p.Steps)
	require.Equal(t, p.Expected, *a.ExpectedCost)
	require.Equal(t, p.Expected, p.Steps[0].From)
	for _, other := range p.Compared {
		require.LessOrEqual(t, amountOf(t, p.Expected), amountOf(t, other.Cost)+0.011, other.Way)
	}
	led := make([]int, len(p.Steps))
	led[0]++
	for i, s := range p.Steps {
		require.NotEqual(t, kb.Bypass, s.Action)
		require.NotEqual(t, kb.MethodBridging, s.Test)
		require.Equal(t, s.Kind == kb.StepHandOver, len(s.Branches) == 0)
		sum := 0.0
		for _, b := range s.Branches {
			sum += b.Probability
			if b.Next != nil {
				led[*b.Next]++
				require.Greater(t, *b.Next, i)
				require.InDelta(t, s.Probability*b.Probability, p.Steps[*b.Next].Probability, 1e-9)
			}
		}
		if len(s.Branches) > 0 {
			require.InDelta(t, 1, sum, 1e-9)
		}
	}
	for i, n := range led {
		require.Equal(t, 1, n, "step %d", i)
	}
	for _, n := range a.Next {
		require.NotNil(t, n.Cost)
		require.Equal(t, p.Currency, n.Cost.Currency)
	}
}

func TestPlanOfAWorkshop(t *testing.T) {
	a := planned(t, pricedBook(), question(), rank.PlanOptions{})
	checkPlan(t, a)
	p := *a.Plan
	assert.Equal(t, "EUR", p.Currency)
	assert.Equal(t, "exact", p.Method)
	assert.GreaterOrEqual(t, deepest(p, 0), 3)
	assert.Equal(t, []string{kb.WayLikeliest, kb.WayRatio, kb.WayHandOver}, []string{p.Compared[0].Way, p.Compared[1].Way, p.Compared[2].Way})
	assert.Equal(t, []kb.LeftOutCost{{Currency: "CHF", Costs: 1}, {Currency: "USD", Costs: 1}}, p.LeftOut)
	assert.True(t, slices.ContainsFunc(p.Steps, func(s kb.PlanStep) bool { return s.Kind == kb.StepFix && slices.Contains(s.Cases, "r0") }))
	all := strings.Join(p.Assumptions, "\n")
	for _, line := range []string{"costs are in EUR, as most on record", "an hour of work costs 60.00 EUR: a default", "handing over costs", "a used part is bad in 15 %", "one fault only", "something else"} {
		assert.Contains(t, all, line)
	}
}

func deepest(p kb.Plan, at int) int {
	most := 0
	for _, b := range p.Steps[at].Branches {
		if b.Next != nil {
			most = max(most, deepest(p, *b.Next))
		}
	}
	return most + 1
}

// Parts and minutes are medians shrunk to defaults (own derivation): the relay's 20, 30, 100 have the median 30, that of all new parts
// replaced (with the valve's 80, of unknown origin) is 55 of four, a relay's default 0.3 hours of labour.
func TestPricesAreShrunkMedians(t *testing.T) {
	p := *planned(t, pricedBook(), question(), rank.PlanOptions{Rate: &kb.Money{Amount: "100", Currency: "EUR"}}).Plan
	geometric := func(n, median, usual float64) float64 {
		return math.Exp((n*math.Log(median) + 0.5*math.Log(usual)) / (n + 0.5))
	}
	fresh := geometric(3, 30, geometric(4, 55, 30))
	w := wayOf(t, p, "heater relay", kb.Replace, kb.NewPart)
	assert.InDelta(t, fresh, amountOf(t, w.Parts), 0.01)
	assert.InDelta(t, 30, w.Minutes, 0.5)
	assert.InDelta(t, fresh+100*w.Minutes/60, amountOf(t, w.Cost), 0.02)
	assert.Equal(t, 3, w.Priced)
	// The used one: median 6 of one case, shrunk to 40 % of the new one's price; 12.75 % are rejected on the bench and bought again.
	u := wayOf(t, p, "heater relay", kb.Replace, kb.UsedPart)
	assert.InDelta(t, geometric(1, 6, 0.4*fresh)/(1-0.1275), amountOf(t, u.Parts), 0.01)
	assert.InDelta(t, w.Cures*(1-0.15*0.15/(1-0.1275)), u.Cures, 1e-9)
	assert.Contains(t, u.Check, "bench")
	assert.Equal(t, 1, u.Cases)
	// What no case did is only compared.
	assert.True(t, wayOf(t, p, "heater relay", kb.Repair, "").Shown)
	assert.True(t, wayOf(t, p, "wiring harness", kb.Replace, kb.NewPart).Shown)
	assert.False(t, wayOf(t, p, "coolant valve", kb.Clean, "").Shown)
	assert.Less(t, wayOf(t, p, "coolant valve", kb.Clean, "").Cures, wayOf(t, p, "coolant valve", kb.Replace, kb.NewPart).Cures)
}

// The question's own case prices nothing.
func TestPlanDoesNotCountItself(t *testing.T) {
	own := priced("own", "heater relay", kb.Replace, kb.NewPart, "90000", "EUR", 9000)
	own.Machine, own.Codes = kb.Machine{Kind: "boat", Make: "torvel"}, []kb.CodeEntry{{Code: "P0401"}}
	q := question()
	before := planned(t, pricedBook(), q, rank.PlanOptions{}).Plan
	q.ID = "own"
	after := planned(t, append(pricedBook(), own), q, rank.PlanOptions{}).Plan
	was, is := wayOf(t, *before, "heater relay", kb.Replace, kb.UsedPart), wayOf(t, *after, "heater relay", kb.Replace, kb.UsedPart)
	assert.Equal(t, was.Minutes, is.Minutes)
	assert.Equal(t, was.Parts, is.Parts)
	assert.InDelta(t, was.Cures, is.Cures, 1e-3) // the credits of the other cases still know it
}

func TestPartAtHandCostsNothing(t *testing.T) {
	p := *planned(t, pricedBook(), question(), rank.PlanOptions{AtHand: []string{"heater relay"}, Tools: []string{"multimeter"}}).Plan
	assert.Equal(t, "0.00", wayOf(t, p, "heater relay", kb.Replace, kb.NewPart).Parts.Amount)
	assert.Contains(t, strings.Join(p.Assumptions, "\n"), "at hand: multimeter")
}

func TestWhatCannotBeDone(t *testing.T) {
	never := func(cannot rank.Barred, banned func(kb.PlanStep) bool) {
		a := planned(t, pricedBook(), question(), rank.PlanOptions{Cannot: []rank.Barred{cannot}})
		checkPlan(t, a)
		assert.False(t, slices.ContainsFunc(a.Plan.Steps, banned), "%v", cannot)
	}
	free := planned(t, pricedBook(), question(), rank.PlanOptions{})
	isTest := func(s kb.PlanStep) bool { return s.Kind == kb.StepTest && s.Component == "heater relay" }
	isFix := func(s kb.PlanStep) bool { return s.Kind == kb.StepFix && s.Component == "heater relay" }
	require.True(t, slices.ContainsFunc(free.Plan.Steps, isTest))
	require.True(t, slices.ContainsFunc(free.Plan.Steps, isFix))
	never(rank.Barred{Component: "heater relay", Method: "resistance measurement"}, isTest)
	never(rank.Barred{Method: "resistance measurement"}, isTest)
	never(rank.Barred{Component: "heater relay", Action: kb.Replace}, isFix)
	never(rank.Barred{Component: "heater relay"}, func(s kb.PlanStep) bool { return isTest(s) || isFix(s) })
	// Nothing is left to do: hand over.
	everything := planned(t, pricedBook(), question(), rank.PlanOptions{Cannot: []rank.Barred{{}}})
	checkPlan(t, everything)
	require.Len(t, everything.Plan.Steps, 1)
	assert.Equal(t, kb.StepHandOver, everything.Plan.Steps[0].Kind)
}

func TestReservedWorkIsHandedOver(t *testing.T) {
	wish := rank.PlanOptions{Licensed: func(c string) []string {
		if c == "heater relay" {
			return []string{"gas", "mains"}
		}
		return nil
	}}
	onRelay := func(s kb.PlanStep) bool { return s.Component == "heater relay" }
	for _, qualified := range [][]string{nil, {"gas"}} {
		wish.Qualified = qualified
		a := planned(t, pricedBook(), question(), wish)
		checkPlan(t, a)
		assert.False(t, slices.ContainsFunc(a.Plan.Steps, onRelay))
		assert.Contains(t, strings.Join(a.Plan.Assumptions, "\n"), "work on heater relay may be reserved")
		for _, w := range waysFor(*a.Plan, "heater relay") {
			assert.Equal(t, a.Plan.Compared[2].Cost, w.Cost)
		}
	}
	wish.Qualified = []string{"mains", "gas"}
	a := planned(t, pricedBook(), question(), wish)
	assert.True(t, slices.ContainsFunc(a.Plan.Steps, onRelay))
	assert.Equal(t, -1, slices.IndexFunc(waysFor(*a.Plan, "heater relay"), func(w kb.PlanWay) bool { return w.Origin == kb.UsedPart }), "no used part in a gas system")
}

func TestPartsThatNeedCoding(t *testing.T) {
	cases := pricedBook()
	yes := true
	cases[0].Fixes[0].Part.NeedsCoding = &yes
	p := *planned(t, cases, question(), rank.PlanOptions{}).Plan
	i := slices.IndexFunc(p.Steps, func(s kb.PlanStep) bool { return s.Kind == kb.StepFix && s.Component == "heater relay" })
	require.GreaterOrEqual(t, i, 0)
	assert.Contains(t, strings.Join(p.Steps[i].Notes, "\n"), "may need coding")
}

// What is stated goes before every default, and its currency is that of the plan.
func TestStatedCosts(t *testing.T) {
	a := planned(t, pricedBook(), question(), rank.PlanOptions{Rate: &kb.Money{Amount: "90", Currency: "USD"}, HandOver: &kb.Money{Amount: "123.45", Currency: "USD"}})
	checkPlan(t, a)
	assert.Equal(t, "USD", a.Plan.Currency)
	assert.Equal(t, kb.Money{Amount: "123.45", Currency: "USD"}, a.Plan.Compared[2].Cost)
	all := strings.Join(a.Plan.Assumptions, "\n")
	assert.Contains(t, all, "an hour of work costs 90.00 USD, as stated")
	assert.Contains(t, all, "handing over costs 123.45 USD, as stated")
	free := planned(t, pricedBook(), question(), rank.PlanOptions{Rate: &kb.Money{Amount: "0", Currency: "EUR"}})
	checkPlan(t, free)
	assert.Contains(t, a.Plan.LeftOut, kb.LeftOutCost{Currency: "EUR", Costs: 8})
	none := planned(t, []kb.Case{closedCase("x", "heater relay")}, question(), rank.PlanOptions{})
	assert.Contains(t, strings.Join(none.Plan.Assumptions, "\n"), "no case names any")
}

// Scaling all costs scales the plan and changes no step.
func TestPlanAndTheScaleOfCosts(t *testing.T) {
	cases := pricedBook()
	wish := rank.PlanOptions{Rate: &kb.Money{Amount: "50", Currency: "EUR"}}
	one := planned(t, cases, question(), wish)
	for i := range cases {
		m := cases[i].Fixes[0].PartsCost
		cases[i].Fixes[0].PartsCost = &kb.Money{Amount: strconv.FormatFloat(4*amountOf(t, *m), 'f', 2, 64), Currency: m.Currency}
	}
	wish.Rate = &kb.Money{Amount: "200", Currency: "EUR"}
	four := planned(t, cases, question(), wish)
	assert.InDelta(t, 4*amountOf(t, one.Plan.Expected), amountOf(t, four.Plan.Expected), 0.05)
	require.Len(t, four.Plan.Steps, len(one.Plan.Steps))
	for i := range one.Plan.Steps {
		a, b := one.Plan.Steps[i], four.Plan.Steps[i]
		assert.Equal(t, []any{a.Kind, a.Component, a.Test, a.Action, a.Origin}, []any{b.Kind, b.Component, b.Test, b.Action, b.Origin})
	}
}

// Asking for a plan changes nothing else in the answer, and the laws hold for any book; a bypass is never in a plan.
func TestPlansOfAnyBook(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cases, q := book(t), asked(t)
		for i := range cases {
			if rapid.Bool().Draw(t, "bypassed") {
				cases[i].Fixes = append(cases[i].Fixes, kb.Fix{Step: 1, Action: kb.Bypass, Component: "lamp", Outcome: kb.Fixed})
			}
			cases[i].Fixes[0].Action = rapid.SampledFrom(kb.Actions()).Draw(t, "action")
			if rapid.Bool().Draw(t, "priced") {
				cases[i].Fixes[0].PartsCost = &kb.Money{Amount: fmt.Sprint(rapid.IntRange(0, 900).Draw(t, "cost")), Currency: rapid.SampledFrom([]string{"EUR", "SEK"}).Draw(t, "currency")}
			}
		}
		m := modelOf(rank.DefaultParams(), cases...)
		plain := m.Ask(q, rank.Options{})
		a := m.Ask(q, rank.Options{Plan: &rank.PlanOptions{}})
		require.NotNil(t, a.Plan)
		checkPlan(t, a)
		again := m.Ask(q, rank.Options{Plan: &rank.PlanOptions{}})
		require.Equal(t, a, again)
		a.Plan, a.ExpectedCost = nil, nil
		for i := range a.Next {
			a.Next[i].Cost = nil
		}
		require.Equal(t, plain, a)
	})
}

// A book that knows nothing hands over.
func TestPlanWithoutEvidence(t *testing.T) {
	a := modelOf(rank.DefaultParams()).Ask(question(), rank.Options{Plan: &rank.PlanOptions{}})
	require.NotNil(t, a.Plan)
	checkPlan(t, a)
	require.Len(t, a.Plan.Steps, 1)
	assert.Equal(t, kb.StepHandOver, a.Plan.Steps[0].Kind)
}

// What repairs took is kept between runs.
func TestSnapshotKeepsPrices(t *testing.T) {
	v := planVocabulary(t)
	tab := rank.NewTable(v)
	for _, c := range pricedBook() {
		tab.Put(c)
	}
	p := rank.DefaultParams()
	m := tab.Model(p)
	var out bytes.Buffer
	require.NoError(t, m.Encode(&out, "stamp"))
	_, back, err := rank.Decode(&out, v, p, "stamp")
	require.NoError(t, err)
	opt := rank.Options{Plan: &rank.PlanOptions{}}
	assert.Equal(t, m.Ask(question(), opt).Plan, back.Ask(question(), opt).Plan)
}

// BenchmarkPlan measures what a plan adds to a question on a code with 50,000 cases, beside the question alone: milliseconds and ratio.
func BenchmarkPlan(b *testing.B) {
	const n = 50_000
	cases := synthetic(n)
	tab := rank.NewTable(noTerms{})
	for i, c := range cases {
		c.Codes = []kb.CodeEntry{{Code: "P0123"}}
		c.Fixes[0].Component = fmt.Sprintf("part %d", i%17*(i%3))
		c.Fixes[0].PartsCost = &kb.Money{Amount: fmt.Sprint(20 + i%90), Currency: "EUR"}
		c.Fixes[0].Minutes = float64(20 + i%70)
		tab.Put(c)
	}
	m := tab.Model(rank.DefaultParams())
	q := question()
	q.Codes = []kb.CodeEntry{{Code: "P0123"}}
	wish := rank.Options{Plan: &rank.PlanOptions{}}
	m.Ask(q, wish)
	question, withPlan := math.Inf(1), math.Inf(1)
	for b.Loop() {
		question = min(question, secondsOnce(func() { m.Ask(q, rank.Options{}) }))
		withPlan = min(withPlan, secondsOnce(func() { m.Ask(q, wish) }))
	}
	b.ReportMetric(1000*(withPlan-question), "ms-for-the-plan")
	b.ReportMetric(withPlan/question, "x-question")
}

// secondsOnce gives the time of one run of f.
func secondsOnce(f func()) float64 {
	begin := time.Now()
	f()
	return time.Since(begin).Seconds()
}
