package rank_test

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/kb"
	"ruledout/kb/rank"
)

// fault is a state of a network's variable that is a fault, and the component at fault.
type fault struct{ variable, state, component string }

var carFaults = []fault{{"BatteryState", "Weak", "battery"}, {"Starter", "Faulted", "starter"}, {"FanBelt", "Broken", "fan belt"},
	{"FanBelt", "Slipping", "fan belt"}, {"FuelPump", "Faulted", "fuel pump"}, {"Distributor", "Faulted", "distributor"},
	{"Alternator", "Faulted", "alternator"}, {"SparkPlugs", "Bad", "spark plugs"}, {"Leak2", "True", "starting leak"}, {"Leak", "Leak", "charging leak"}}

// cell is a single fault with the states of what can be observed of it, and its share.
type cell struct {
	component string
	seen      []string // states, in the order of the observed variables
	p         float64
}

// cells gives the distribution of a network restricted to what has exactly one fault; without names the component where none of the
// faults is there, "" for a network in which there is no such thing. one is the probability of the restriction.
func (n *network) cells(seen setting, faults []fault, without string, observed []string) (list []cell, one float64) {
	sum, all := map[string]*cell{}, 0.0
	n.each(seen, func(states []int, p float64) {
		all += p
		component, count := without, 0
		for _, f := range faults {
			if v := n.index[f.variable]; n.vars[v].states[states[v]] == f.state {
				component, count = f.component, count+1
			}
		}
		if count > 1 || component == "" {
			return
		}
		c := cell{component: component}
		for _, o := range observed {
			v := n.index[o]
			c.seen = append(c.seen, n.vars[v].states[states[v]])
		}
		key := fmt.Sprint(c.component, c.seen)
		if sum[key] == nil {
			sum[key] = &c
		}
		sum[key].p += p
	})
	for _, c := range sum {
		list = append(list, *c)
		one += c.p / all
	}
	for i := range list {
		list[i].p /= all * one
	}
	slices.SortFunc(list, func(a, b cell) int {
		return cmp.Or(cmp.Compare(a.component, b.component), slices.Compare(a.seen, b.seen))
	})
	return list, one
}

// single gives the exact posterior of each component, one fault only, after what is seen of the observed variables.
func single(list []cell, observed []string, seen setting) map[string]float64 {
	out, all := map[string]float64{}, 0.0
	for _, c := range list {
		if c.agrees(observed, seen) {
			out[c.component] += c.p
			all += c.p
		}
	}
	for name := range out {
		out[name] /= all
	}
	return out
}

func (c cell) agrees(observed []string, seen setting) bool {
	for i, o := range observed {
		if want, ok := seen[o]; ok && want != c.seen[i] {
			return false
		}
	}
	return true
}

// expected deals n cases to the cells as their shares say. It rounds the sum up to each cell, so that whatever stands together in the
// order of the cells (a component, a component with its first observation ...) is off by less than a case.
func expected(list []cell, n int) []int {
	out, sum, before := make([]int, len(list)), 0.0, 0.0
	for i, c := range list {
		sum += c.p
		now := math.Round(float64(n) * sum)
		out[i], before = int(now-before), now
	}
	return out
}

// put fills a table with n cases of the cells; show makes a case or a question show the state of a variable.
func put(table *rank.Table, list []cell, n int, observed []string, show func(*kb.Case, string, string)) {
	for i, count := range expected(list, n) {
		for j := range count {
			c := closedCase(fmt.Sprintf("%03d-%05d", i, j), list[i].component)
			c.Machine, c.FullForm = kb.Machine{Kind: "car"}, true
			for k, o := range observed {
				show(&c, o, list[i].seen[k])
			}
			table.Put(c)
		}
	}
}

// askedBy makes a question of what is seen, as far as it is among the observed variables.
func askedBy(observed []string, seen setting, show func(*kb.Case, string, string)) kb.Case {
	q := kb.Case{V: 1, Status: kb.Open, Machine: kb.Machine{Kind: "car"}, Codes: []kb.CodeEntry{{Code: "P1B77"}}, FullForm: true}
	for _, o := range observed {
		if state, ok := seen[o]; ok {
			show(&q, o, state)
		}
	}
	return q
}

// asSymptom shows a state as a symptom that is there; in a closed case the form was filled in, so the other states are not there.
func asSymptom(n *network) func(*kb.Case, string, string) {
	return func(c *kb.Case, name, state string) {
		for _, s := range n.vars[n.index[name]].states {
			if s == state || c.Status == kb.Closed {
				c.Symptoms = append(c.Symptoms, kb.Symptom{Symptom: name + " " + s, Absent: s != state})
			}
		}
	}
}

// asTest shows lights and radio as tests of the battery and cranking as a test of the starter; all else as symptoms.
func asTest(n *network) func(*kb.Case, string, string) {
	symptom := asSymptom(n)
	tested := map[string]string{"Lights": "battery", "Radio": "battery", "EngineCranks": "starter"}
	good := []string{"Work", "Works", "Cranks"}
	return func(c *kb.Case, name, state string) {
		component, ok := tested[name]
		if !ok {
			symptom(c, name, state)
			return
		}
		x := kb.Test{Test: name, Component: component, Result: kb.Fail}
		if slices.Contains(good, state) {
			x.Result = kb.Pass
		}
		c.Tests = append(c.Tests, x)
	}
}

// carTerms knows what feeds the battery, and the starter.
type carTerms struct{ noTerms }

func (carTerms) Relation(tested, culprit string) kb.Relation {
	charging := []string{"fan belt", "alternator", "charging leak"}
	cranking := append([]string{"battery", "starting leak"}, charging...)
	switch {
	case tested == culprit:
		return kb.Same
	case tested == "battery" && slices.Contains(charging, culprit), tested == "starter" && slices.Contains(cranking, culprit):
		return kb.CulpritUpstream
	}
	return kb.Unrelated
}

// evenly is one weight for every step of shrinking.
func evenly(k float64) rank.Shrink { return rank.Shrink{Near: k, Elsewhere: k, Here: k} }

// countedParams are constants under which the ranker is naive Bayes on its counts: no pull to wider contexts or pooled rates, nothing
// tempered, no doubt about namings. On a full form nothing is said of mentioning.
func countedParams() rank.Params {
	p := heldParams(0.82, 0.06)
	p.FoundW, p.ValueK, p.MentionK, p.Adapt, p.Overlap = 1e-9, evenly(1e-9), evenly(1e-9), 0, 0
	return p
}

// several gives the network's own posterior of each component, however many faults there are.
func several(n *network, faults []fault, seen setting) map[string]float64 {
	out := map[string]float64{}
	for _, f := range faults { // two faults of one component are two states of one variable: never both
		out[f.component] += n.posterior(f.variable, f.state, seen)
	}
	return out
}

// farthest gives the largest difference between an answer and the probabilities wanted.
func farthest(want map[string]float64, a kb.Answer) (worst float64) {
	for name, p := range want {
		worst = max(worst, math.Abs(p-probability(a, name)))
	}
	return worst
}

var carObserved = []string{"Lights", "Radio", "GasGauge", "EngineCranks", "BatteryAge"}

// forms are the ways in which what is seen of a car enters.
func forms(n *network) map[string]func(*kb.Case, string, string) {
	return map[string]func(*kb.Case, string, string){"as symptoms": asSymptom(n), "as tests": asTest(n)}
}

// modelOfCells is a casebook of 20,000 cases dealt to the cells.
func modelOfCells(t *testing.T, list []cell, observed []string, p rank.Params, show func(*kb.Case, string, string)) *rank.Model {
	t.Helper()
	const n = 20_000
	require.NoError(t, p.Validate())
	table := rank.NewTable(carTerms{})
	put(table, list, n, observed, show)
	require.Equal(t, n, table.Len())
	return table.Model(p)
}

// moreQuestions adds questions of which no posterior is printed; the enumeration answers them as it does the others.
func moreQuestions() []published {
	return append(carStartsQuestions(), published{name: "gauge shows gas", seen: setting{"Starts": "No", "GasGauge": "Gas"}},
		published{name: "all seen", seen: setting{"Starts": "No", "Lights": "NoLight", "Radio": "Works", "GasGauge": "NoGas", "EngineCranks": "NoCrank", "BatteryAge": "New"}})
}

// One fault at a time the CarStarts network is the ranker's model exactly: all that is seen here depends on the fault through the
// battery's power, which each single fault settles. So its posterior is that of the kernel from the share of each fault and of each state
// under it.
func TestCarStartsThroughTheKernel(t *testing.T) {
	n := readBIF(t, "car-starts.bif")
	list, one := n.cells(setting{"Starts": "No"}, carFaults, "", carObserved)
	assert.InDelta(t, 0.9825, one, 1e-4, "share of the cars with one fault only")
	prior := single(list, carObserved, nil)
	names := slices.Sorted(maps.Keys(prior))
	require.Len(t, names, 9)
	for _, q := range moreQuestions() {
		p, want := make([]float64, len(names)), single(list, carObserved, q.seen)
		var observed [][]rank.Rate
		for _, o := range carObserved {
			if _, seen := q.seen[o]; seen {
				observed = append(observed, make([]rank.Rate, len(names)))
			}
		}
		for f, name := range names {
			p[f] = prior[name]
			own := slices.DeleteFunc(slices.Clone(list), func(c cell) bool { return c.component != name })
			j := 0
			for _, o := range carObserved {
				if state, seen := q.seen[o]; seen {
					observed[j][f] = share(shareOf(own, carObserved, setting{o: state}))
					j++
				}
			}
		}
		for f, got := range posterior(p, observed...) {
			assert.InDelta(t, want[names[f]], got, 1e-12, "%s: %s", q.name, names[f])
		}
	}
}

// shareOf gives the share of what is seen among some cells.
func shareOf(list []cell, observed []string, seen setting) float64 {
	hit, all := 0.0, 0.0
	for _, c := range list {
		all += c.p
		if c.agrees(observed, seen) {
			hit += c.p
		}
	}
	return hit / all
}

// The same network as a single-fault casebook of 20,000 cars. On its counts alone the ranker has the posterior restricted to one fault, but
// that cases are whole: 0.0002 in most questions, 0.001 in the one that few cars share. From the network's own posterior, the published
// one, it is off by up to 0.015: of the cars that do not start 1.7 % have two faults or more, nearly always a weak battery among them.
func TestCarStartsByCounts(t *testing.T) {
	n := readBIF(t, "car-starts.bif")
	list, _ := n.cells(setting{"Starts": "No"}, carFaults, "", carObserved)
	for form, show := range forms(n) {
		m := modelOfCells(t, list, carObserved, countedParams(), show)
		for _, q := range moreQuestions() {
			a := m.Ask(askedBy(carObserved, q.seen, show), rank.Options{NoNext: true})
			exact, whole := farthest(single(list, carObserved, q.seen), a), farthest(several(n, carFaults, q.seen), a)
			assert.Less(t, exact, 0.0012, "%s %s", q.name, form)
			assert.Less(t, whole, 0.015, "%s %s", q.name, form)
			t.Logf("%-35s %-12s from the single fault %.5f, from the network %.4f", q.name, form, exact, whole)
			if q.seen["Lights"] == "Work" {
				assert.InDelta(t, 0, probability(a, "battery"), 1e-9, "a weak battery lights no lamp")
			}
		}
	}
}

// The same with the constants as they come; what is seen enters as tests where it is one. What moves the answer: pooled rates, which keep
// what never happened possible (an engine that cranks though battery or starter is at fault: 0.03), and tempering, which is felt where a
// weak clue stands against a strong prior (the gauge, 0.12) and most where several clues point the same way (all seen, 0.14): the
// exponents of 0.75 and 0.95 take them for partly one clue, which in this network they are not. The leader is the network's; a passed test moves it from
// the battery to the starter, published 0.8146, and rules out the battery.
func TestCarStartsByDefault(t *testing.T) {
	n := readBIF(t, "car-starts.bif")
	list, _ := n.cells(setting{"Starts": "No"}, carFaults, "", carObserved)
	show := asTest(n)
	m := modelOfCells(t, list, carObserved, rank.DefaultParams(), show)
	for _, q := range moreQuestions() {
		a := m.Ask(askedBy(carObserved, q.seen, show), rank.Options{NoNext: true})
		network := several(n, carFaults, q.seen)
		exact, whole := farthest(single(list, carObserved, q.seen), a), farthest(network, a)
		bound := map[string]float64{"gauge shows gas": 0.12, "all seen": 0.14}[q.name]
		assert.Less(t, exact, max(bound, 0.04), q.name)
		assert.Less(t, whole, max(bound, 0.04), q.name)
		t.Logf("%-35s from the single fault %.5f, from the network %.4f", q.name, exact, whole)
		if q.name != "cranks" { // there the fuel pump and the distributor are alike
			assert.Equal(t, leader(network), a.Fixes[0].Component, q.name)
		}
		if q.name == "lights work" {
			assert.InDelta(t, 0.8146, probability(a, "starter"), 0.005)
			assert.True(t, slices.ContainsFunc(a.RuledOut, func(r kb.RuledOut) bool { return r.Component == "battery" }))
		}
	}
}

// leader gives the likeliest of some components.
func leader(p map[string]float64) string {
	return slices.MaxFunc(slices.Sorted(maps.Keys(p)), func(a, b string) int { return cmp.Compare(p[a], p[b]) })
}

// The car-start network of Jensen and Nielsen as a single-fault casebook: no fuel, dirty plugs, or neither (1 in 100 sound cars does not
// start). The gauge has three states, and the question states the one that is seen. With both faults at once left out, which the
// published posterior counts for each of them, no fuel is 0.2848 and dirty plugs 0.5757 in place of 0.2932 and 0.5806.
func TestCarStartByCounts(t *testing.T) {
	n := carStart()
	faults, gauge := []fault{{"Fu", "no", "fuel"}, {"SP", "no", "spark plugs"}}, []string{"FM"}
	list, one := n.cells(setting{"St": "no"}, faults, "something else", gauge)
	assert.InDelta(t, 1-0.02*0.04/0.068216, one, 1e-9)
	m := modelOfCells(t, list, gauge, countedParams(), asSymptom(n))
	for _, q := range []struct {
		seen               setting
		fuel, plugs, close float64 // published, and how close the single fault comes to it
	}{
		{setting{"St": "no"}, 0.29318635, 0.58062625, 0.009},
		{setting{"St": "no", "FM": "half"}, 6.90855832e-04, 0.80434963, 0.001},
	} {
		a := m.Ask(askedBy(gauge, q.seen, asSymptom(n)), rank.Options{NoNext: true})
		assert.Less(t, farthest(single(list, gauge, q.seen), a), 1e-4)
		assert.InDelta(t, q.fuel, probability(a, "fuel"), q.close)
		assert.InDelta(t, q.plugs, probability(a, "spark plugs"), q.close)
	}
}
