package testkit

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"ruledout/kb"
)

// Shared gives a place in the shared open data beside the project; the test is skipped, saying so, where it is absent, and with the race
// detector: measuring is for the run without it.
func Shared(t testing.TB, path ...string) string {
	t.Helper()
	dir, err := os.Getwd()
	require.NoError(t, err)
	for !exists(filepath.Join(dir, "go.mod")) {
		require.NotEqual(t, dir, filepath.Dir(dir), "the test runs inside the project")
		dir = filepath.Dir(dir)
	}
	if raceDetector {
		t.Skip("the shared open data is measured without the race detector")
	}
	full := filepath.Join(append([]string{filepath.Dir(dir), "shared"}, path...)...)
	if !exists(full) {
		t.Skip("the shared open data is not beside the project: " + full)
	}
	return full
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// Nominal is a data set of nominal attributes, one of them the class (ARFF form of the UCI Machine Learning Repository).
type Nominal struct {
	Attributes []string
	Values     [][]string // of each attribute; of a number those that occur, each a value of its own
	Rows       [][]string
}

// ReadARFF reads a set of the shared open data.
func ReadARFF(t testing.TB, name string) Nominal {
	t.Helper()
	f, err := os.Open(Shared(t, "data", "uci", name))
	require.NoError(t, err)
	defer f.Close()
	var out Nominal
	for s := bufio.NewScanner(f); s.Scan(); {
		line := strings.TrimSpace(s.Text())
		lower := strings.ToLower(line)
		switch {
		case line == "" || line[0] == '%' || strings.HasPrefix(lower, "@relation") || lower == "@data":
		case strings.HasPrefix(lower, "@attribute"):
			name, values, nominal := strings.Cut(line[len("@attribute"):], "{")
			out.Attributes, out.Values = append(out.Attributes, strings.Trim(name, " '")), append(out.Values, nil)
			if nominal {
				out.Values[len(out.Values)-1] = fields(strings.TrimRight(values, "} "))
			}
		default:
			out.Rows = append(out.Rows, fields(line))
		}
	}
	for a, values := range out.Values {
		if values == nil {
			out.Values[a] = out.occurring(a)
		}
	}
	return out
}

// occurring gives the values of an attribute that occur, in order of their spelling.
func (d Nominal) occurring(a int) []string {
	var out []string
	for _, r := range d.Rows {
		if r[a] != "?" {
			out = append(out, r[a])
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func fields(line string) []string {
	out := strings.Split(line, ",")
	for i := range out {
		out[i] = strings.Trim(strings.TrimSpace(out[i]), `'"`)
	}
	return out
}

// Class gives the place of the class: the attribute called so, else the last.
func (d Nominal) Class() int {
	if i := slices.Index(d.Attributes, "class"); i >= 0 {
		return i
	}
	return len(d.Attributes) - 1
}

// Folds deals the rows into n folds, stratified by class, in the order of the file.
func (d Nominal) Folds(n int) []int {
	out, seen := make([]int, len(d.Rows)), map[string]int{}
	for i, r := range d.Rows {
		class := r[d.Class()]
		out[i] = seen[class] % n
		seen[class]++
	}
	return out
}

// Shuffled deals the rows into n folds, stratified by class, in an order drawn by seed.
func (d Nominal) Shuffled(n int, seed uint64) []int {
	order := rand.New(rand.NewPCG(seed, 1)).Perm(len(d.Rows))
	slices.SortStableFunc(order, func(a, b int) int { return strings.Compare(d.Rows[a][d.Class()], d.Rows[b][d.Class()]) })
	out := make([]int, len(d.Rows))
	for i, row := range order {
		out[row] = i % n
	}
	return out
}

// Case makes a row a case of one code: the row's own value of each attribute is a symptom that is there, the attribute's other values are
// not there, a missing value is left out, every symptom was asked, and the class is the culprit. Open leaves the culprit out.
func (d Nominal) Case(i int, open bool) kb.Case {
	row := d.Rows[i]
	c := kb.Case{V: kb.Version, ID: kb.CaseID(fmt.Sprintf("row%04d", i)), FullForm: true, Machine: kb.Machine{Kind: "any"}, Status: kb.Open,
		Codes: []kb.CodeEntry{{Code: "UCI1", Scheme: "maker"}}, State: kb.Published, Sources: []kb.Source{{Trusted: true}}}
	for a := range row {
		if a == d.Class() || row[a] == "?" {
			continue
		}
		for _, v := range d.Values[a] {
			c.Symptoms = append(c.Symptoms, kb.Symptom{Symptom: d.Attributes[a] + " is " + v, Absent: v != row[a]})
		}
	}
	if !open {
		c.Status, c.ClosedAs, c.Confirmation = kb.Closed, kb.Repaired, kb.Verified
		c.Fixes = []kb.Fix{{Action: kb.Other, Component: row[d.Class()], Outcome: kb.Fixed}}
	}
	return c
}
