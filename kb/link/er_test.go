package link_test

import (
	"os"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/testkit"
	"ruledout/kb/link"
)

// entry is a labelled pair of records, each a value by the name of its column.
type entry struct {
	a, b map[string]string
	same bool
}

// readPairs reads a split of a labelled set: "COL name VAL value ..." tab the same tab label.
func readPairs(t *testing.T, set, split string) []entry {
	t.Helper()
	data, err := os.ReadFile(testkit.Shared(t, "data", "er", set, split))
	require.NoError(t, err)
	var out []entry
	for line := range strings.Lines(string(data)) {
		parts := strings.Split(strings.TrimRight(line, "\n"), "\t")
		require.Len(t, parts, 3)
		out = append(out, entry{columns(parts[0]), columns(parts[1]), parts[2] == "1"})
	}
	return out
}

func columns(text string) map[string]string {
	out := map[string]string{}
	for _, col := range strings.Split(text, "COL ") {
		if name, value, ok := strings.Cut(col, " VAL "); ok {
			out[strings.TrimSpace(name)] = strings.TrimSpace(value)
		}
	}
	return out
}

func tokens(s string) map[string]bool {
	out := map[string]bool{}
	for _, w := range strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
		out[w] = true
	}
	return out
}

// tokenLevel gives the level of two values by the share of their words that is in both, 0 if one says nothing.
func tokenLevel(a, b string) uint8 {
	x, y := tokens(a), tokens(b)
	if len(x) == 0 || len(y) == 0 {
		return 0
	}
	both := 0
	for w := range x {
		if y[w] {
			both++
		}
	}
	for i, least := range []float64{0.8, 0.5, 0.25} {
		if float64(both) >= least*float64(len(x)+len(y)-both) {
			return uint8(i + 1)
		}
	}
	return 4
}

func vectorsOf(list []entry, fields []string) []link.Vector {
	var out []link.Vector
	for _, e := range list {
		v := make(link.Vector, len(fields))
		for i, f := range fields {
			v[i] = tokenLevel(e.a[f], e.b[f])
		}
		out = append(out, v)
	}
	return out
}

// Labelled bibliographic and restaurant records (Leipzig and Magellan benchmarks by way of Ditto, Apache-2.0). Nothing is
// learnt from labels: expectation maximisation over the training pairs, from one starting point for every field, judges the fixed test split.
// Published for the test split: token Jaccard with the best threshold 93.2 and 100, trained transformers about 99 and 100. The column "class" of
// the restaurants, which numbers the restaurant, is left out. Measured: 94.2 and 97.8.
func TestLabelledRecords(t *testing.T) {
	for _, set := range []struct {
		name   string
		fields []string
		floor  float64
	}{
		{"DBLP-ACM", []string{"title", "authors", "venue", "year"}, 0.93},
		{"Fodors-Zagats", []string{"name", "addr", "city", "phone", "type"}, 0.96},
	} {
		start := &link.Model{Prior: 0.1}
		for _, f := range set.fields {
			start.Fields = append(start.Fields, link.Field{Name: f, Levels: []link.Level{{Name: "same", M: 0.6, U: 0.05}, {Name: "alike", M: 0.2, U: 0.05},
				{Name: "somewhat", M: 0.1, U: 0.1}, {Name: "different", M: 0.1, U: 0.8}}})
		}
		train := vectorsOf(readPairs(t, set.name, "train.txt"), set.fields)
		fit := link.Fit(start, link.Patterns(train), link.FitOptions{Rounds: 500, OfOne: 5, OfTwo: 5, OfPrior: 5})
		test := readPairs(t, set.name, "test.txt")
		right, given, wanted := 0, 0, 0
		for i, v := range vectorsOf(test, set.fields) {
			is, says := test[i].same, fit.Model.Probability(v) >= 0.5
			if is {
				wanted++
			}
			if says {
				given++
			}
			if is && says {
				right++
			}
		}
		f1 := 2 * float64(right) / float64(given+wanted)
		t.Logf("%s: F1 %.1f (precision %.3f, recall %.3f), %d rounds, prior %.3f", set.name, 100*f1, float64(right)/float64(given), float64(right)/float64(wanted), fit.Rounds, fit.Model.Prior)
		assert.GreaterOrEqual(t, f1, set.floor, set.name)
	}
}
