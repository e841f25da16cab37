package rank_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"ruledout/kb"
	"ruledout/kb/rank"
)

// closedCase is a closed case of one code of the invented maker Halden.
func closedCase(id, culprit string) kb.Case {
	return kb.Case{V: 1, ID: kb.CaseID(id), Machine: kb.Machine{Kind: "van", Make: "halden", Model: "brisk 3", Year: 2019},
		Codes: []kb.CodeEntry{{Code: "P1B77"}}, State: kb.Published, Status: kb.Closed, ClosedAs: kb.Repaired, Confirmation: kb.Verified,
		Fixes: []kb.Fix{{Step: 9, Action: kb.Replace, Component: culprit, Outcome: kb.Fixed}}}
}

func question() kb.Case {
	return kb.Case{V: 1, Status: kb.Open, Machine: kb.Machine{Kind: "van", Make: "halden", Model: "brisk 3", Year: 2019}, Codes: []kb.CodeEntry{{Code: "P1B77"}}}
}

func modelOf(p rank.Params, cases ...kb.Case) *rank.Model {
	t := rank.NewTable(noTerms{})
	for _, c := range cases {
		t.Put(c)
	}
	return t.Model(p)
}

func probability(a kb.Answer, component string) float64 {
	for _, f := range a.Fixes {
		if f.Component == component {
			return f.Probability
		}
	}
	return 0
}

// book draws a small casebook with tests, symptoms and tried fixes.
func book(t *rapid.T) []kb.Case {
	parts := []string{"relay", "fuse", "harness", "pump", "valve"}
	part := rapid.SampledFrom(parts)
	var out []kb.Case
	for i := range rapid.IntRange(2, 25).Draw(t, "cases") {
		c := closedCase(fmt.Sprintf("c%02d", i), part.Draw(t, "culprit"))
		c.Machine.Model = rapid.SampledFrom([]string{"brisk 3", "brisk 2", ""}).Draw(t, "model")
		c.Machine.Kind = rapid.SampledFrom([]string{"van", "truck"}).Draw(t, "kind")
		c.Machine.Year = rapid.IntRange(2010, 2022).Draw(t, "year")
		c.Codes = []kb.CodeEntry{{Code: rapid.SampledFrom([]string{"P1B77", "P0401", "P0402"}).Draw(t, "code")}}
		if rapid.Bool().Draw(t, "second code") {
			c.Codes = append(c.Codes, kb.CodeEntry{Code: "U0101"})
		}
		c.Confirmation = rapid.SampledFrom([]kb.Confirmation{kb.Verified, kb.Reported}).Draw(t, "confirmation")
		c.Contributor = rapid.SampledFrom([]string{"", "anna", "bo"}).Draw(t, "contributor")
		evidenceOf(t, &c, part)
		out = append(out, c)
	}
	return out
}

func evidenceOf(t *rapid.T, c *kb.Case, part *rapid.Generator[string]) {
	for i := range rapid.IntRange(0, 3).Draw(t, "tests") {
		c.Tests = append(c.Tests, kb.Test{Step: i + 1, Test: rapid.SampledFrom([]string{"resistance", "look"}).Draw(t, "test"), Component: part.Draw(t, "tested"),
			Result: rapid.SampledFrom(kb.Results()).Draw(t, "result")})
	}
	for range rapid.IntRange(0, 2).Draw(t, "symptoms") {
		c.Symptoms = append(c.Symptoms, kb.Symptom{Symptom: rapid.SampledFrom([]string{"no heat", "stalls", "smoke"}).Draw(t, "symptom"), Absent: rapid.Bool().Draw(t, "absent")})
	}
	if rapid.Bool().Draw(t, "tried") {
		c.Fixes = append(c.Fixes, kb.Fix{Step: 5, Action: kb.Clean, Component: part.Draw(t, "tried part"), Outcome: rapid.SampledFrom([]kb.Outcome{kb.NoChange, kb.Partial, kb.Returned}).Draw(t, "outcome")})
	}
}

func asked(t *rapid.T) kb.Case {
	q := question()
	evidenceOf(t, &q, rapid.SampledFrom([]string{"relay", "fuse", "harness", "pump", "lamp"}))
	if rapid.Bool().Draw(t, "two codes") {
		q.Codes = append(q.Codes, kb.CodeEntry{Code: "P0401"})
	}
	if rapid.Bool().Draw(t, "no machine") {
		q.Machine = kb.Machine{}
	}
	return q
}

func TestProbabilitiesSumToOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := modelOf(rank.DefaultParams(), book(t)...).Ask(asked(t), rank.Options{})
		sum := a.Unlisted.Probability
		require.Greater(t, sum, 0.0)
		for _, f := range a.Fixes {
			sum += f.Probability
			require.LessOrEqual(t, f.Low, f.Probability)
			require.GreaterOrEqual(t, f.High, f.Probability)
		}
		require.InDelta(t, 1, sum, 1e-9)
		require.LessOrEqual(t, a.Unlisted.Low, a.Unlisted.Probability)
		require.GreaterOrEqual(t, a.Unlisted.High, a.Unlisted.Probability)
	})
}

// Prior odds times the factors are the posterior odds, for every culprit.
func TestFactorsMultiplyToTheOdds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := modelOf(rank.DefaultParams(), book(t)...).Ask(asked(t), rank.Options{})
		for _, f := range a.Fixes {
			odds := f.Prior / (1 - f.Prior)
			for _, b := range f.Because {
				odds *= b.Factor
			}
			require.InEpsilon(t, f.Probability/(1-f.Probability), odds, 1e-9, f.Component)
		}
	})
}

func TestOrderOfCasesDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cases, q := book(t), asked(t)
		one := modelOf(rank.DefaultParams(), cases...).Ask(q, rank.Options{})
		slices.Reverse(cases)
		require.Equal(t, one, modelOf(rank.DefaultParams(), cases...).Ask(q, rank.Options{}))
	})
}

// Without crediting passes, leaving a case out is exactly what building without it gives.
func TestAQuestionNeverCountsItself(t *testing.T) {
	p := rank.DefaultParams()
	p.Passes = 0
	rapid.Check(t, func(t *rapid.T) {
		cases := book(t)
		out := rapid.IntRange(0, len(cases)-1).Draw(t, "left out")
		q := cases[out]
		with := modelOf(p, cases...).Ask(q, rank.Options{})
		without := modelOf(p, slices.Delete(slices.Clone(cases), out, out+1)...).Ask(q, rank.Options{})
		require.Equal(t, len(without.Fixes), len(with.Fixes))
		for _, f := range without.Fixes {
			require.InDelta(t, f.Probability, probability(with, f.Component), 1e-9, f.Component)
		}
		require.InDelta(t, without.Unlisted.Probability, with.Unlisted.Probability, 1e-9)
	})
}

// A test of X that fails with probability s under X and phi elsewhere multiplies the odds of X by ((1-s)/(1-phi))^lambda when it passes.
func TestAPassedTestMultipliesTheOddsExactly(t *testing.T) {
	p := rank.DefaultParams()
	m := modelOf(p, closedCase("a", "relay"), closedCase("b", "relay"), closedCase("c", "fuse"))
	q := question()
	before := probability(m.Ask(q, rank.Options{}), "relay")
	q.Tests = []kb.Test{{Test: "swap", Component: "relay", Result: kb.Pass}}
	after := probability(m.Ask(q, rank.Options{}), "relay")
	want := math.Pow((1-p.Found[""])/(1-p.FalseAlarm), p.Lambda)
	assert.InEpsilon(t, want, after/(1-after)/(before/(1-before)), 1e-9)
}

func TestInconclusiveAndUnjudgedMoveNothing(t *testing.T) {
	m := modelOf(rank.DefaultParams(), closedCase("a", "relay"), closedCase("b", "fuse"))
	before := m.Ask(question(), rank.Options{})
	q := question()
	x := 84.0
	q.Tests = []kb.Test{{Test: "coil", Component: "relay", Result: kb.Inconclusive}, {Test: "coil", Component: "fuse", Reading: &kb.Reading{Value: &x, Unit: "ohm"}}}
	after := m.Ask(q, rank.Options{})
	assert.InDelta(t, probability(before, "relay"), probability(after, "relay"), 1e-12)
	assert.Len(t, after.Warnings, 1)
}

// One contributor's n cases count together as sqrt(n) until somebody else names the same culprit.
func TestOneVoiceDoesNotSwingACode(t *testing.T) {
	p := rank.DefaultParams()
	p.Passes = 0
	own := func(n int) []kb.Case {
		out := []kb.Case{closedCase("x", "fuse")}
		for i := range n {
			c := closedCase(fmt.Sprintf("a%d", i), "relay")
			c.Contributor = "anna"
			out = append(out, c)
		}
		return out
	}
	four := probability(modelOf(p, own(4)...).Ask(question(), rank.Options{}), "relay")
	two := probability(modelOf(p, closedCase("x", "fuse"), closedCase("b1", "relay"), closedCase("b2", "relay")).Ask(question(), rank.Options{}), "relay")
	assert.InDelta(t, two, four, 1e-9)
	confirmed := probability(modelOf(p, append(own(4), closedCase("z", "relay"))...).Ask(question(), rank.Options{}), "relay")
	five := probability(modelOf(p, append(own(0), closedCase("b1", "relay"), closedCase("b2", "relay"), closedCase("b3", "relay"), closedCase("b4", "relay"), closedCase("z", "relay"))...).Ask(question(), rank.Options{}), "relay")
	assert.InDelta(t, five, confirmed, 1e-9)
}

func TestRuledOutByPassedTestsAndTriedFixes(t *testing.T) {
	m := modelOf(rank.DefaultParams(), closedCase("a", "relay"), closedCase("b", "relay"), closedCase("c", "fuse"), closedCase("d", "harness"),
		closedCase("e", "harness"), closedCase("f", "harness"), closedCase("g", "harness"))
	q := question()
	q.Tests = []kb.Test{{Test: "swap", Component: "relay", Result: kb.Pass}, {Test: "coil", Component: "relay", Result: kb.Pass}}
	q.Fixes = []kb.Fix{{Action: kb.Replace, Component: "fuse", Outcome: kb.NoChange}}
	a := m.Ask(q, rank.Options{})
	var out []string
	for _, r := range a.RuledOut {
		out = append(out, r.Component)
		assert.Less(t, r.To, 0.05)
		assert.NotEmpty(t, r.By)
	}
	assert.ElementsMatch(t, []string{"relay", "fuse"}, out)
	assert.Equal(t, "harness", a.Fixes[0].Component)
}

func TestABypassIsNeverProposed(t *testing.T) {
	c := closedCase("a", "pump")
	c.Fixes = append(c.Fixes, kb.Fix{Step: 3, Action: kb.Bypass, Component: "flow switch", Outcome: kb.Partial})
	a := modelOf(rank.DefaultParams(), c).Ask(question(), rank.Options{})
	for _, n := range a.Next {
		assert.NotEqual(t, kb.Bypass, n.Action)
	}
	assert.Equal(t, "pump", a.Fixes[0].Component)
	assert.Zero(t, probability(a, "flow switch"))
}

func TestNothingKnown(t *testing.T) {
	a := modelOf(rank.DefaultParams()).Ask(question(), rank.Options{})
	assert.Empty(t, a.Fixes)
	assert.InDelta(t, 1, a.Unlisted.Probability, 1e-12)
}

// E6 of one maker and E6 of another are two codes: neither is evidence under the other.
func TestMakersCodesDoNotMix(t *testing.T) {
	e6 := func(id, maker, part string) kb.Case {
		c := closedCase(id, part)
		c.Machine, c.Codes = kb.Machine{Make: maker}, []kb.CodeEntry{{Code: "E6"}}
		return c
	}
	m := modelOf(rank.DefaultParams(), e6("a", "wendrup", "heating element"), e6("b", "wendrup", "heating element"), e6("c", "issmund", "strainer"), e6("d", "issmund", "strainer"))
	a := m.Ask(kb.Case{V: 1, Machine: kb.Machine{Make: "issmund"}, Codes: []kb.CodeEntry{{Code: "E-06"}}}, rank.Options{})
	assert.Equal(t, "strainer", a.Fixes[0].Component)
	assert.Less(t, probability(a, "heating element"), 0.2, "only as something seen elsewhere")
	assert.Equal(t, "make", a.Fixes[0].Seen)
	key, err := kb.CodeEntry{Code: "E6"}.Key("")
	require.NoError(t, err)
	assert.Equal(t, []string{"issmund", "wendrup"}, m.Issuers(key))
}

// linked knows that U0101 follows from a fault of the supply.
type linked struct{ noTerms }

func (linked) CodeTerm(code string) (kb.CodeTerm, bool) {
	return kb.CodeTerm{Code: code, Consequence: true, Components: []string{"battery"}}, code == "U0101"
}

// A code that only follows from another fault is no code of the question but a failed test of what it is tied to; alone, it stays a code.
func TestConsequenceCodesAreFailedTests(t *testing.T) {
	table := rank.NewTable(linked{})
	table.Put(closedCase("a", "relay"))
	table.Put(closedCase("b", "battery"))
	p := rank.DefaultParams()
	p.K[rank.LevelAll], p.K[rank.LevelKind] = 2, 2 // a book of two cases knows next to nothing otherwise
	m := table.Model(p)
	q := question()
	before := probability(m.Ask(q, rank.Options{}), "battery")
	q.Codes = append(q.Codes, kb.CodeEntry{Code: "U0101"})
	a := m.Ask(q, rank.Options{})
	assert.Greater(t, probability(a, "battery"), before)
	var labels []string
	for _, b := range a.Fixes[0].Because {
		labels = append(labels, b.Evidence)
	}
	assert.Equal(t, []string{"code P1B77", "failed code U0101 of battery"}, labels)
	q.Codes = []kb.CodeEntry{{Code: "U0101"}}
	assert.Equal(t, "code U0101", m.Ask(q, rank.Options{}).Fixes[0].Because[0].Evidence)
}

// Cases of the same failure type are closer than those of the code with another.
func TestFailureTypeIsALevel(t *testing.T) {
	sub := func(id, ftb, part string) kb.Case {
		c := closedCase(id, part)
		c.Codes = []kb.CodeEntry{{Code: "P1B77-" + ftb}}
		return c
	}
	m := modelOf(rank.DefaultParams(), sub("a", "13", "harness"), sub("b", "13", "harness"), sub("c", "11", "relay"), sub("d", "11", "relay"))
	q := question()
	q.Codes = []kb.CodeEntry{{Code: "P1B77-11"}}
	a := m.Ask(q, rank.Options{})
	assert.Equal(t, "relay", a.Fixes[0].Component)
	assert.Greater(t, a.Fixes[0].Probability, 0.5)
	assert.Contains(t, a.Basis, kb.Basis{Level: "subtype", Cases: 2})
}

// Chinese-restaurant process (Pitman 2006): with concentration k and n cases seen, a new culprit has k/(k+n). One level, one case each
// way: published identities (1, 9) -> 0.1, (2, 8) -> 0.2, (0.5, 19.5) has no whole n and is left out.
func TestUnseenMassOfOneLevel(t *testing.T) {
	for _, tc := range []struct {
		k    float64
		n    int
		want float64
	}{{1, 9, 0.1}, {2, 8, 0.2}} {
		p := rank.DefaultParams()
		p.Passes = 0
		for l := range p.K {
			p.K[l] = tc.k
		}
		var cases []kb.Case
		for i := range tc.n {
			c := closedCase(fmt.Sprintf("c%d", i), "relay")
			c.Machine, c.Codes = kb.Machine{}, nil
			cases = append(cases, c)
		}
		q := kb.Case{V: 1, Status: kb.Open, Symptoms: nil}
		assert.InDelta(t, tc.want, modelOf(p, cases...).Ask(q, rank.Options{}).Unlisted.Probability, 1e-12)
	}
}

// The interval against a reference: with one level and d = 0 the share of a culprit is Beta(n_f, N + k - n_f) in the model; for
// 18 of 20 the delta method's 90 % interval stays within two points of the exact Beta quantiles (gonum's distuv).
func TestIntervalAgainstBetaQuantiles(t *testing.T) {
	p := rank.DefaultParams()
	p.Passes = 0
	p.K[rank.LevelAll] = 0.5
	var cases []kb.Case
	for i := range 40 {
		part := "relay"
		if i >= 28 {
			part = "fuse"
		}
		c := closedCase(fmt.Sprintf("c%02d", i), part)
		c.Machine, c.Codes = kb.Machine{}, nil
		cases = append(cases, c)
	}
	f := modelOf(p, cases...).Ask(kb.Case{V: 1, Status: kb.Open}, rank.Options{}).Fixes[0]
	exact := distuv.Beta{Alpha: 28, Beta: 12.5}
	assert.InDelta(t, exact.Quantile(0.05), f.Low, 0.02)
	assert.InDelta(t, exact.Quantile(0.95), f.High, 0.02)
}

func TestParamsAreChecked(t *testing.T) {
	require.NoError(t, rank.DefaultParams().Validate())
	p := rank.DefaultParams()
	p.Lambda = 1.5
	assert.Equal(t, kb.Invalid, kb.KindOf(p.Validate()))
	p = rank.DefaultParams()
	p.K[2] = 0
	assert.Error(t, p.Validate())
}
