package casebook_test

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// sharedFile opens a file of the shared open data; the test is skipped where it is absent.
func sharedFile(t *testing.T, path ...string) *os.File {
	t.Helper()
	full := filepath.Join(append([]string{"..", "..", "..", "shared", "data"}, path...)...)
	f, err := os.Open(full)
	if os.IsNotExist(err) {
		t.Skip("the shared open data is not beside the project: " + full)
	}
	require.NoError(t, err)
	t.Cleanup(func() { f.Close() })
	return f
}

// soybean is a row of the data set as a case record: a symptom for each value of each attribute, its own one there, the others not.
type soybean struct {
	record []byte // open
	class  string
	closed []byte
}

// soybeans reads the set (Michalski and Chilausky 1980; UCI Machine Learning Repository, CC BY 4.0).
func soybeans(t *testing.T) []soybean {
	t.Helper()
	var names []string
	var values [][]string
	var out []soybean
	for s := bufio.NewScanner(sharedFile(t, "uci", "soybean.arff")); s.Scan(); {
		line := strings.TrimSpace(s.Text())
		switch {
		case line == "" || line[0] == '%' || strings.HasPrefix(strings.ToLower(line), "@relation") || strings.EqualFold(line, "@data"):
		case strings.HasPrefix(strings.ToLower(line), "@attribute"):
			name, list, _ := strings.Cut(line[len("@attribute"):], "{")
			names, values = append(names, strings.Trim(name, " '")), append(values, split(strings.TrimRight(list, "} ")))
		default:
			out = append(out, beanOf(t, len(out), names, values, split(line)))
		}
	}
	return out
}

func split(s string) []string {
	parts := strings.Split(s, ",")
	for i := range parts {
		parts[i] = strings.Trim(strings.TrimSpace(parts[i]), "'")
	}
	return parts
}

func beanOf(t *testing.T, i int, names []string, values [][]string, row []string) soybean {
	t.Helper()
	c := kb.Case{ID: kb.CaseID(fmt.Sprintf("bean%04d", i)), FullForm: true, Machine: kb.Machine{Kind: "plant"}, Status: kb.Open,
		Codes: []kb.CodeEntry{{Code: "SOY1", Scheme: "maker"}}}
	last := len(row) - 1
	for a := range last {
		for _, v := range values[a] {
			if row[a] != "?" {
				c.Symptoms = append(c.Symptoms, kb.Symptom{Symptom: names[a] + " is " + v, Absent: v != row[a]})
			}
		}
	}
	open, err := kb.EncodeCase(c)
	require.NoError(t, err)
	c.Status, c.ClosedAs, c.Confirmation = kb.Closed, kb.Repaired, kb.Verified
	c.Fixes = []kb.Fix{{Action: kb.Other, Component: row[last], Outcome: kb.Fixed}}
	closed, err := kb.EncodeCase(c)
	require.NoError(t, err)
	return soybean{open, row[last], closed}
}

// Through the door, as "import --trusted" and "ask --batch" go: ten folds, stratified by class. Naive Bayes with missing values skipped
// reaches 93.0 %; the bar is 92.0 %.
func TestSoybeanThroughTheDoor(t *testing.T) {
	rows := soybeans(t)
	fold, seen := make([]int, len(rows)), map[string]int{}
	for i, r := range rows {
		fold[i] = seen[r.class] % 10
		seen[r.class]++
	}
	right := 0
	for k := range 10 {
		var train, held bytes.Buffer
		var want []string
		for i, r := range rows {
			if fold[i] == k {
				held.Write(append(r.record, '\n'))
				want = append(want, r.class)
			} else {
				train.Write(append(r.closed, '\n'))
			}
		}
		b := open(t, t.TempDir())
		_, err := b.Import(t.Context(), vera, &train, casebook.ImportOptions{Trusted: true})
		require.NoError(t, err)
		at := 0
		require.NoError(t, b.AskBatch(t.Context(), &held, "held", func(r casebook.Reply) error {
			require.NoError(t, r.Err)
			if r.Answer.Fixes[0].Component == b.Vocabulary().CanonicalComponent(want[at]) {
				right++
			}
			at++
			return nil
		}))
		require.Equal(t, len(want), at)
		require.NoError(t, b.Close())
	}
	accuracy := float64(right) / float64(len(rows))
	t.Logf("soybean, import --trusted and ask --batch, 10 folds: %.2f %% of %d", 100*accuracy, len(rows))
	assert.GreaterOrEqual(t, accuracy, 0.920)
}
