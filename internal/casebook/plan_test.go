package casebook_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// planBook holds a relay, a gas valve of a boiler and a harness, with and without costs.
func planBook(t *testing.T) *casebook.Book {
	t.Helper()
	b := open(t, t.TempDir())
	lines := []string{
		closedRecord("r1", "heater relay"), closedRecord("r2", "relay of the heater"), closedRecord("h1", "wiring harness"),
		`{"v":1,"id":"p1","machine":{"kind":"van","make":"Halden","model":"Brisk 3","year":2019},"codes":["P1B77"],"tests":[{"step":1,"test":"coil resistance","component":"heater relay","result":"fail","minutes":12}],"fixes":[{"step":2,"action":"replace","component":"heater relay","outcome":"fixed","minutes":40,"parts_cost":{"amount":"25","currency":"EUR"}}],"status":"closed","closed_as":"repaired","confirmation":"verified"}`,
		`{"v":1,"id":"g1","machine":{"kind":"boiler","make":"Torvel","model":"K 20"},"codes":["E2"],"fixes":[{"step":2,"action":"replace","component":"gas valve","outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"verified"}`,
		`{"v":1,"id":"g2","machine":{"kind":"boiler","make":"Torvel","model":"K 20"},"codes":["E2"],"fixes":[{"step":2,"action":"clean","component":"condensate trap","outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"verified"}`,
	}
	_, err := b.Import(t.Context(), vera, records(lines...), casebook.ImportOptions{})
	require.NoError(t, err)
	return b
}

func planFor(t *testing.T, b *casebook.Book, words, machine string, w casebook.PlanWish) kb.Answer {
	t.Helper()
	q, err := b.Understand(casebook.Question{Words: words, Machine: machine})
	require.NoError(t, err)
	a, err := b.AskPlan(t.Context(), q, w)
	require.NoError(t, err)
	require.NotNil(t, a.Plan)
	return a
}

func steps(p *kb.Plan, kind, component string) []kb.PlanStep {
	var out []kb.PlanStep
	for _, s := range p.Steps {
		if s.Kind == kind && s.Component == component {
			out = append(out, s)
		}
	}
	return out
}

func TestAskPlan(t *testing.T) {
	b := planBook(t)
	a := planFor(t, b, "P1B77", "Halden Brisk 3 2019", casebook.PlanWish{Rate: "80 EUR/h", HandOver: "400 EUR", Have: []string{"relay of the heater", "multimeter"}})
	p := a.Plan
	assert.Equal(t, "EUR", p.Currency)
	assert.Equal(t, &p.Expected, a.ExpectedCost)
	fixes := steps(p, kb.StepFix, "heater relay")
	require.NotEmpty(t, fixes)
	assert.Contains(t, strings.Join(fixes[0].Notes, " "), "at hand")
	all := strings.Join(p.Assumptions, "\n")
	assert.Contains(t, all, "an hour of work costs 80.00 EUR, as stated")
	assert.Contains(t, all, "at hand: multimeter")
	q, err := b.Understand(casebook.Question{Words: "P1B77", Machine: "Halden Brisk 3 2019"})
	require.NoError(t, err)
	plain, err := b.Ask(t.Context(), q)
	require.NoError(t, err)
	assert.Nil(t, plain.Plan)
	assert.Nil(t, plain.ExpectedCost)
	assert.Equal(t, plain.Fixes, a.Fixes)
}

// Work on gas is handed over by whoever does not state the qualification, on a boiler but not on a machine where the part does not occur.
func TestPlanAndReservedWork(t *testing.T) {
	b := planBook(t)
	a := planFor(t, b, "E2", "Torvel K 20", casebook.PlanWish{})
	assert.Empty(t, steps(a.Plan, kb.StepFix, "gas valve"))
	i := slices.IndexFunc(a.Plan.Repairs, func(r kb.PlanRepair) bool { return r.Component == "gas valve" })
	require.GreaterOrEqual(t, i, 0)
	assert.Contains(t, a.Plan.Repairs[i].Reserved, "gas")
	licensed := planFor(t, b, "E2", "Torvel K 20", casebook.PlanWish{Licensed: a.Plan.Repairs[i].Reserved})
	fixes := steps(licensed.Plan, kb.StepFix, "gas valve")
	require.NotEmpty(t, fixes)
	assert.Contains(t, fixes[0].Licensed, "gas")
	assert.NotEmpty(t, fixes[0].Cautions)
}

func TestPlanCannot(t *testing.T) {
	b := planBook(t)
	for _, s := range []string{"heater relay", "replace heater relay", "replaced", "replacing"} {
		a := planFor(t, b, "P1B77", "Halden Brisk 3 2019", casebook.PlanWish{Cannot: []string{s}})
		assert.Empty(t, steps(a.Plan, kb.StepFix, "heater relay"), s)
	}
	for _, s := range []string{"coil resistance of heater relay", "coil resistance", "resistance measurement"} {
		a := planFor(t, b, "P1B77", "Halden Brisk 3 2019", casebook.PlanWish{Cannot: []string{s}})
		assert.Empty(t, steps(a.Plan, kb.StepTest, "heater relay"), s)
		assert.NotEmpty(t, steps(a.Plan, kb.StepFix, "heater relay"), s)
	}
}

// What cannot be read is an error that names the flag and what was expected.
func TestPlanWishesThatCannotBeRead(t *testing.T) {
	b := planBook(t)
	q, err := b.Understand(casebook.Question{Words: "P1B77"})
	require.NoError(t, err)
	for _, x := range []struct {
		wish casebook.PlanWish
		want []string
	}{
		{casebook.PlanWish{Rate: "sixty"}, []string{"--rate", "60 EUR/h"}},
		{casebook.PlanWish{Rate: "60"}, []string{"--rate", "60 EUR/h"}},
		{casebook.PlanWish{HandOver: "250"}, []string{"--handover", "250 EUR"}},
		{casebook.PlanWish{HandOver: "250 EUR/h"}, []string{"--handover", "250 EUR"}},
		{casebook.PlanWish{Rate: "60 EUR/h", HandOver: "250 USD"}, []string{"--handover", "EUR"}},
		{casebook.PlanWish{Licensed: []string{"plumbing"}}, []string{"--licensed", "refrigerant"}},
		{casebook.PlanWish{Cannot: []string{"flurble the wotsit"}}, []string{"--cannot", "ACTION COMPONENT"}},
	} {
		_, err := b.AskPlan(t.Context(), q, x.wish)
		require.Error(t, err, "%+v", x.wish)
		assert.Equal(t, kb.Invalid, kb.KindOf(err))
		for _, s := range x.want {
			assert.Contains(t, err.Error(), s)
		}
	}
}

// Those who show a form are told of every wish that cannot be read, each with its place.
func TestWishProblems(t *testing.T) {
	b := planBook(t)
	assert.Empty(t, b.WishProblems(casebook.PlanWish{Rate: "60 EUR/h", HandOver: "250 EUR", Have: []string{"anything"}, Cannot: []string{"heater relay"}, Licensed: []string{"gas"}}))
	var got []string
	for _, p := range b.WishProblems(casebook.PlanWish{Rate: "60", HandOver: "much", Cannot: []string{"heater relay", "flurble the wotsit"}, Licensed: []string{"plumbing"}}) {
		assert.NotEmpty(t, p.Msg)
		got = append(got, fmt.Sprint(p.Field, " ", p.At, " ", p.Value))
	}
	assert.Equal(t, []string{"rate 0 60", "handover 0 much", "cannot 1 flurble the wotsit", "licensed 0 plumbing"}, got)
}
