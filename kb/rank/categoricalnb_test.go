package rank_test

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/testkit"
	"ruledout/kb/rank"
)

// libraryPosterior is one row's posterior as testdata/categoricalnb.py prints it.
type libraryPosterior struct {
	Set       string
	TrainStep int `json:"train_step"` // the rows 0, step, 2 step, ... were learned
	Row       int
	Log       []float64 // by class, in order of their names
}

// libraryPosteriors reads the recorded posteriors, or those of a fresh run of the script where the environment names one.
func libraryPosteriors(t *testing.T) []libraryPosterior {
	t.Helper()
	path := os.Getenv("CATEGORICALNB_JSON")
	if path == "" {
		path = "testdata/categoricalnb.json"
	}
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	var all struct{ Posteriors []libraryPosterior }
	require.NoError(t, json.Unmarshal(text, &all))
	return all.Posteriors
}

// learned holds what counting some rows gives.
type learned struct {
	d       testkit.Nominal
	classes []string
	n       []float64              // rows by class
	values  []float64              // K of each attribute
	count   []map[string][]float64 // of each attribute, by value and class
}

// learn counts the rows 0, step, 2 step ... K counts the values of the attribute's whole column: an integer is a value like any other,
// "?" is one where it occurs, and what is declared but never occurs is none.
func learn(d testkit.Nominal, step int) learned {
	at := d.Class()
	l := learned{d: d}
	for i := 0; i < len(d.Rows); i += step {
		l.classes = append(l.classes, d.Rows[i][at])
	}
	slices.Sort(l.classes)
	l.classes = slices.Compact(l.classes)
	l.n = make([]float64, len(l.classes))
	for a := range d.Attributes {
		by := map[string][]float64{}
		for _, r := range d.Rows {
			by[r[a]] = make([]float64, len(l.classes))
		}
		l.count, l.values = append(l.count, by), append(l.values, float64(len(by)))
	}
	for i := 0; i < len(d.Rows); i += step {
		f := slices.Index(l.classes, d.Rows[i][at])
		l.n[f]++
		for a, v := range d.Rows[i] {
			l.count[a][v][f]++
		}
	}
	return l
}

// posterior asks by the row's own values alone: each has the rate Beta(1, K-1) under a class before any row is counted.
func (l learned) posterior(row []string) []float64 {
	var prior []float64
	for f := range l.classes {
		prior = append(prior, l.n[f]/floats(l.n))
	}
	var observed [][]rank.Rate
	for a, v := range row {
		if a == l.d.Class() {
			continue
		}
		var rates []rank.Rate
		for f, n := range l.count[a][v] {
			rates = append(rates, rank.Shrunk(1/l.values[a], l.values[a], n, l.n[f]-n))
		}
		observed = append(observed, rates)
	}
	return rank.LogPosterior(prior, observed, 1)
}

func floats(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum
}

// The likelihood kernel on numbers is naive Bayes with add-one counts: scikit-learn's CategoricalNB on three sets of the UCI Machine
// Learning Repository (recorded with Debian's python3-sklearn by testdata/categoricalnb.py), logarithms and probabilities alike.
func TestKernelIsCategoricalNaiveBayes(t *testing.T) {
	recorded := libraryPosteriors(t)
	type run struct {
		set  string
		step int
	}
	models := map[run]learned{}
	worst := 0.0
	for _, want := range recorded {
		k := run{want.Set, want.TrainStep}
		m, ok := models[k]
		if !ok {
			m = learn(testkit.ReadARFF(t, want.Set), want.TrainStep)
			models[k] = m
		}
		got := m.posterior(m.d.Rows[want.Row])
		require.Len(t, got, len(want.Log))
		for f := range got {
			worst = max(worst, math.Abs(got[f]-want.Log[f]))
			require.InDelta(t, want.Log[f], got[f], 1e-9, "log: %s row %d class %s", want.Set, want.Row, m.classes[f])
			require.InDelta(t, math.Exp(want.Log[f]), math.Exp(got[f]), 1e-9)
		}
	}
	assert.Len(t, models, 6, "three sets, learned from all and from every other row")
	t.Logf("%d posteriors, largest difference of a logarithm %.1e", len(recorded), worst)
}
