package web_test

import (
	"fmt"
	"html/template"
	"math"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
	"pgregory.net/rapid"

	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/web"
)

const heater = "P1B77 on a Halden Brisk 3 2019"

// leads checks that every link to a place on the page leads somewhere.
func leads(t *testing.T, p page) {
	t.Helper()
	for _, a := range p.links("#") {
		p.holds(t, `id="`+strings.TrimPrefix(a, "#")+`"`)
	}
}

// Each result of a step says what follows; nothing says what it costs until that is asked for.
func TestStepsLeadOn(t *testing.T) {
	s := server(t, nil)
	p := post(t, s, url.Values{"q": {heater}})
	require.NotEmpty(t, p.links("#step-"))
	leads(t, p)
	p.holds(t, "then hand over")
	p.lacks(t, "expected cost")
}

// With costs the steps come in the plan's order, with what the book's own plan says of them.
func TestCostsOnTheLookUp(t *testing.T) {
	s := server(t, nil)
	form := url.Values{"q": {heater}, "plan-rate": {"60 EUR/h"}, "plan-handover": {"300 EUR"}, "plan-have": {"heater relay", ""}, "plan-cannot": {"wiggle test"},
		"plan-licensed": {"hv"}}
	p := post(t, s, form)
	require.Equal(t, http.StatusOK, p.status)
	q, err := book(t).Understand(casebook.Question{Words: heater})
	require.NoError(t, err)
	a, err := book(t).AskPlan(t.Context(), q, casebook.PlanWish{Rate: "60 EUR/h", HandOver: "300 EUR", Have: []string{"heater relay"}, Cannot: []string{"wiggle test"}, Licensed: []string{"hv"}})
	require.NoError(t, err)
	p.holds(t, a.ExpectedCost.Amount+" EUR</strong> is the expected cost of the whole")
	for _, x := range a.Plan.Compared {
		p.holds(t, x.Cost.Amount+" EUR")
	}
	first := a.Plan.Steps[0]
	p.holds(t, fmt.Sprintf("about %.0f min, %s EUR", math.Ceil(first.Minutes), first.Cost.Amount))
	for _, want := range []string{"Ways of repair", "replace, used part checked first", "repair in place", "in the plan", "an hour of work costs 60.00 EUR, as stated",
		"common practice of the trade", "then hand over, 300.00 EUR", "When it is fixed"} {
		p.holds(t, want)
	}
	leads(t, p)
	f := p.fields()
	assert.Equal(t, "60 EUR/h", f.Get("plan-rate"))
	assert.Equal(t, []string{"heater relay", ""}, f["plan-have"])
	assert.Equal(t, []string{"hv"}, f["plan-licensed"])
	assert.Empty(t, f["plan"])
	shared := len(get(t, s, "/static/style.css").body) + len(get(t, s, "/static/again.js").body)
	assert.Less(t, len(p.body)+shared, 60_000)

	f.Set("mark", fmt.Sprintf("pass|%s|%s", first.Test, first.Component))
	post(t, s, f).holds(t, "is the expected cost of the whole")
}

// One tick is enough for costs: what nobody stated is taken as usual, and said.
func TestUsualCosts(t *testing.T) {
	s := server(t, nil)
	p := post(t, s, url.Values{"q": {heater}, "plan": {"usual"}})
	p.holds(t, "is the expected cost of the whole")
	p.holds(t, "a default, common practice of the trade; state your own rate")
	assert.Equal(t, "usual", p.fields().Get("plan"))
}

// A wish that cannot be read stays as typed with what was expected, and the rest is answered without costs.
func TestAWishThatCannotBeRead(t *testing.T) {
	s := server(t, nil)
	for _, x := range []struct{ field, typed, want string }{
		{"plan-rate", "sixty", "60 EUR/h"}, {"plan-handover", "250", "250 EUR"}, {"plan-cannot", "flurble the wotsit", "ACTION COMPONENT"},
	} {
		p := post(t, s, url.Values{"q": {heater}, x.field: {x.typed}})
		assert.Contains(t, p.fields()[x.field], x.typed)
		problem := firstNode(p.root, func(n *html.Node) bool { return strings.HasPrefix(attr(n, "id"), x.field+"-problem") })
		require.NotNil(t, problem, x.field)
		assert.Contains(t, text(problem), x.want)
		p.holds(t, `aria-describedby="`+attr(problem, "id")+`"`)
		p.holds(t, "Answered without costs")
		p.holds(t, "Repairs on record")
		p.lacks(t, "is the expected cost of the whole")
	}
}

// Every licence area has its words.
func TestLicenceAreasHaveNames(t *testing.T) {
	for _, area := range kb.LicenceAreas() {
		assert.NotEmpty(t, web.AreaNames[area], area)
	}
}

// A reading of one's own stands among those of others.
func TestOwnReadingAmongOthers(t *testing.T) {
	s := server(t, nil)
	p := post(t, s, url.Values{"q": {"P0087 on a Halden Brisk 3 2018"}, "test": {"pressure test of lift pump"}, "reading": {"0.9 bar"}, "result": {""}})
	for _, want := range []string{"What others measured", "pressure test of lift pump", "<strong>0.9 bar</strong>", "this reading 0.9", "part at fault", "fault elsewhere", "after the repair"} {
		p.holds(t, want)
	}
	post(t, s, url.Values{"q": {"P0087"}}).lacks(t, "What others measured")
}

// Whatever was measured, a strip is a picture with words and without a number that is none.
func TestStripsAreDrawn(t *testing.T) {
	value := rapid.Custom(func(t *rapid.T) *float64 {
		switch rapid.IntRange(0, 5).Draw(t, "kind") {
		case 0:
			return nil
		case 1:
			return new(0.0)
		}
		return new(rapid.Float64Range(-1e9, 1e9).Draw(t, "value"))
	})
	rapid.Check(t, func(t *rapid.T) {
		m := kb.Measured{Component: "heater relay", Unit: rapid.SampledFrom([]string{"ohm", "<b>", ""}).Draw(t, "unit")}
		drawn := 0
		for range rapid.IntRange(0, 4).Draw(t, "groups") {
			g := kb.MeasuredGroup{Group: rapid.SampledFrom([]string{kb.MeasuredFaulty, kb.MeasuredGood}).Draw(t, "group")}
			for _, v := range rapid.SliceOfN(value, 0, 5).Draw(t, "values") {
				g.Points = append(g.Points, kb.MeasuredPoint{Value: v})
				if v != nil {
					drawn++
				}
			}
			m.Groups = append(m.Groups, g)
		}
		own := value.Draw(t, "own")
		out := string(web.Strip(m, own))
		for _, bad := range []string{"NaN", "Inf", "<b>"} {
			require.NotContains(t, out, bad)
		}
		require.Equal(t, drawn, strings.Count(out, "<circle"))
		if drawn > 0 || own != nil {
			require.Contains(t, out, `role="img" aria-label="`)
		}
	})
}

// Shares of several ways of repair are drawn beside their numbers.
func TestSharesAreDrawn(t *testing.T) {
	out := web.ShareBar(0.25)
	assert.IsType(t, template.HTML(""), out)
	assert.Contains(t, string(out), `aria-hidden="true"`, "the number beside it says the same")
	assert.Contains(t, string(out), "h14.8", "a quarter of 59")
}
