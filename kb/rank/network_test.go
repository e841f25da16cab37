package rank_test

import (
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/testkit"
)

// network is a Bayesian network of variables with few states, small enough to enumerate.
type network struct {
	vars  []variable // parents before children
	index map[string]int
}

// variable has a table with its own states slowest and its last parent fastest.
type variable struct {
	name    string
	states  []string
	parents []int
	table   []float64
}

// setting gives some variables a state by name.
type setting map[string]string

func (n *network) add(name string, states, parents []string, table ...float64) {
	if n.index == nil {
		n.index = map[string]int{}
	}
	v := variable{name: name, states: states, table: table}
	for _, p := range parents {
		v.parents = append(v.parents, n.index[p])
	}
	n.index[name] = len(n.vars)
	n.vars = append(n.vars, v)
}

// given gives the probability of a variable's state under the states of its parents.
func (n *network) given(v variable, states []int) float64 {
	at := states[n.index[v.name]]
	for _, p := range v.parents {
		at = at*len(n.vars[p].states) + states[p]
	}
	return v.table[at]
}

// each visits every combination of states that agrees with what is seen and has a probability above zero.
func (n *network) each(seen setting, visit func(states []int, p float64)) {
	states := make([]int, len(n.vars))
	var down func(i int, p float64)
	down = func(i int, p float64) {
		if i == len(n.vars) {
			visit(states, p)
			return
		}
		for s, name := range n.vars[i].states {
			if want, fixed := seen[n.vars[i].name]; fixed && want != name {
				continue
			}
			states[i] = s
			if q := p * n.given(n.vars[i], states); q > 0 {
				down(i+1, q)
			}
		}
	}
	down(0, 1)
}

// probability gives the probability of what is seen, by exact enumeration.
func (n *network) probability(seen setting) float64 {
	sum := 0.0
	n.each(seen, func(_ []int, p float64) { sum += p })
	return sum
}

// posterior gives the probability of a state after what is seen.
func (n *network) posterior(name, state string, seen setting) float64 {
	hit, all := 0.0, 0.0
	at := n.index[name]
	n.each(seen, func(states []int, p float64) {
		all += p
		if n.vars[at].states[states[at]] == state {
			hit += p
		}
	})
	return hit / all
}

// Parts of the interchange format for Bayesian networks, as far as the open data uses it.
var (
	bifBlock  = regexp.MustCompile(`(?s)(variable|probability)\s([^{]*)\{(.*?)\n\}`)
	bifStates = regexp.MustCompile(`type\s+discrete\s*\[\s*\d+\s*\]\s*\{([^}]*)\}`)
	bifTable  = regexp.MustCompile(`(?s)table([^;]*);`)
	bifNote   = regexp.MustCompile(`//[^\n]*`)
	bifName   = regexp.MustCompile(`[\w.]+`)
)

// readBIF reads a network of the shared open data.
func readBIF(t *testing.T, file string) *network {
	t.Helper()
	text, err := os.ReadFile(testkit.Shared(t, "data", "bn", file))
	require.NoError(t, err)
	n, states := &network{}, map[string][]string{}
	for _, block := range bifBlock.FindAllStringSubmatch(bifNote.ReplaceAllString(string(text), ""), -1) {
		names := bifName.FindAllString(block[2], -1)
		if block[1] == "variable" {
			states[names[0]] = bifName.FindAllString(bifStates.FindStringSubmatch(block[3])[1], -1)
			continue
		}
		var table []float64
		for _, x := range strings.Fields(bifTable.FindStringSubmatch(block[3])[1]) {
			p, err := strconv.ParseFloat(x, 64)
			require.NoError(t, err)
			table = append(table, p)
		}
		n.add(names[0], states[names[0]], names[1:], table...)
	}
	return n
}

// published is a question to a network with posteriors as printed or, where said, enumerated from the printed tables.
type published struct {
	name string
	seen setting
	p    float64 // of what is seen, 0 where none is printed
	want []stated
}

// stated is the probability of one state.
type stated struct {
	variable, state string
	p               float64
}

func (n *network) check(t *testing.T, list []published) {
	t.Helper()
	for _, q := range list {
		if q.p > 0 {
			assert.InDelta(t, q.p, n.probability(q.seen), 5e-11, q.name)
		}
		for _, w := range q.want {
			assert.InDelta(t, w.p, n.posterior(w.variable, w.state, q.seen), 5e-9, "%s: %s = %s", q.name, w.variable, w.state)
		}
	}
}

// carStart is the car-start network of Jensen and Nielsen, Bayesian Networks and Decision Graphs (2nd ed. 2007), as the tutorial of the
// package hackl/pybn has it.
func carStart() *network {
	n := &network{}
	yesNo := []string{"yes", "no"}
	n.add("Fu", yesNo, nil, 0.98, 0.02)
	n.add("SP", yesNo, nil, 0.96, 0.04)
	n.add("FM", []string{"full", "half", "empty"}, []string{"Fu"}, 0.39, 0.001, 0.60, 0.001, 0.01, 0.998)
	n.add("St", yesNo, []string{"Fu", "SP"}, 0.99, 0.01, 0, 0, 0.01, 0.99, 1, 1)
	return n
}

// The yardstick itself: posteriors of the car-start network as that tutorial prints them.
func TestEnumerationOfCarStart(t *testing.T) {
	carStart().check(t, []published{
		{"nothing seen", nil, 0, []stated{{"St", "yes", 0.931784}, {"FM", "full", 0.38222}, {"FM", "half", 0.58802}, {"FM", "empty", 0.02976}}},
		{"no start", setting{"St": "no"}, 0.068216, []stated{{"Fu", "no", 0.29318635}, {"SP", "no", 0.58062625}, {"FM", "full", 0.27595051},
			{"FM", "half", 0.42438138}, {"FM", "empty", 0.29966811}}},
		{"no start, gauge at half", setting{"St": "no", "FM": "half"}, 0, []stated{{"Fu", "no", 6.90855832e-04}, {"SP", "no", 0.80434963}}},
	})
}

// carStartsQuestions are questions to the CarStarts network of the JavaBayes examples, with posteriors by exact enumeration of its
// tables; several faults may be there at once.
func carStartsQuestions() []published {
	with := func(more setting) setting {
		out := setting{"Starts": "No"}
		for k, v := range more {
			out[k] = v
		}
		return out
	}
	return []published{
		{"no start", with(nil), 0.0691594083, []stated{{"BatteryState", "Weak", 0.77739951}, {"Starter", "Faulted", 0.14459349},
			{"FanBelt", "Broken", 0.03480094}, {"FanBelt", "Slipping", 0.02320063}, {"FuelPump", "Faulted", 0.01445935},
			{"Distributor", "Faulted", 0.01445935}, {"Alternator", "Faulted", 0.00313649}, {"SparkPlugs", "Bad", 0.00289187},
			{"Leak2", "True", 0.00144593}, {"Leak", "Leak", 0.00116003}}},
		{"lights work", with(setting{"Lights": "Work"}), 0.0102525360, []stated{{"Starter", "Faulted", 0.81463763}, {"FuelPump", "Faulted", 0.08146376},
			{"Distributor", "Faulted", 0.08146376}, {"SparkPlugs", "Bad", 0.01629275}, {"Leak2", "True", 0.00814638}, {"BatteryState", "Weak", 0}}},
		{"no lights", with(setting{"Lights": "NoLight"}), 0.0589068723, []stated{{"BatteryState", "Weak", 0.91270319}, {"FanBelt", "Broken", 0.04085779},
			{"FanBelt", "Slipping", 0.02723853}, {"Starter", "Faulted", 0.02797464}, {"Alternator", "Faulted", 0.00363865}}},
		{"cranks", with(setting{"EngineCranks": "Cranks"}), 0.0020510558, []stated{{"FuelPump", "Faulted", 0.45483485}, {"Distributor", "Faulted", 0.45483485},
			{"SparkPlugs", "Bad", 0.09096697}, {"BatteryState", "Weak", 0.01421888}}},
		{"no crank, lights and radio work", with(setting{"EngineCranks": "NoCrank", "Lights": "Work", "Radio": "Works"}), 0.0075913087,
			[]stated{{"Starter", "Faulted", 0.99019705}, {"Leak2", "True", 0.00990197}}},
		{"old battery, no lights, radio dead", with(setting{"BatteryAge": "Old", "Lights": "NoLight", "Radio": "Dead"}), 0.0442886662,
			[]stated{{"BatteryState", "Weak", 0.97841227}, {"Starter", "Faulted", 0.01299251}, {"FanBelt", "Broken", 0.01467325}}},
	}
}

// The yardstick itself: the CarStarts network read from the open data and enumerated. Gas in the tank is no parent of starting here.
func TestEnumerationOfCarStarts(t *testing.T) {
	n := readBIF(t, "car-starts.bif")
	require.Len(t, n.vars, 18)
	starts := n.vars[n.index["Starts"]]
	assert.False(t, slices.Contains(starts.parents, n.index["GasInTank"]))
	n.check(t, []published{{"nothing seen", nil, 1, []stated{{"Starts", "No", 0.06915941}, {"BatteryPower", "Poor", 0.0719887}, {"Charge", "Low", 0.00534695},
		{"BatteryState", "Weak", 0.067}, {"GasGauge", "NoGas", 0.52879548}, {"Lights", "NoLight", 0.16478983}, {"Radio", "Dead", 0.15759096},
		{"EngineCranks", "NoCrank", 0.06710835}}}})
	n.check(t, []published{{"no start", setting{"Starts": "No"}, 0, []stated{{"BatteryAge", "Old", 0.75343924}}},
		{"no lights", setting{"Starts": "No", "Lights": "NoLight"}, 0, []stated{{"BatteryAge", "Old", 0.83980191}}}})
	n.check(t, carStartsQuestions())
}
