package casebook_test

import (
	"bytes"
	"encoding/csv"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/internal/testkit"
	"ruledout/kb"
)

func writeRecord(t *testing.T, w *bytes.Buffer, c kb.Case) {
	t.Helper()
	line, err := kb.EncodeCase(c)
	require.NoError(t, err)
	w.Write(append(line, '\n'))
}

// Soybean (Michalski and Chilausky 1980; UCI Machine Learning Repository, CC BY 4.0) through the door, as "import --trusted" and "ask --batch" go: ten folds, stratified by class. Naive Bayes with missing values skipped
// reaches 93.0 %; the bar is 92.0 %.
func TestSoybeanThroughTheDoor(t *testing.T) {
	set := testkit.ReadARFF(t, "soybean.arff")
	fold, right := set.Folds(10), 0
	for k := range 10 {
		var train, held bytes.Buffer
		var want []string
		for i, row := range set.Rows {
			if fold[i] == k {
				writeRecord(t, &held, set.Case(i, true))
				want = append(want, row[set.Class()])
			} else {
				writeRecord(t, &train, set.Case(i, false))
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
	accuracy := float64(right) / float64(len(set.Rows))
	t.Logf("soybean, import --trusted and ask --batch, 10 folds: %.2f %% of %d", 100*accuracy, len(set.Rows))
	assert.GreaterOrEqual(t, accuracy, 0.920)
}

// Real maintenance logbook lines (MaintNet, University of North Dakota): every tenth line is held back, the others are added by their columns
// and accepted; each held-back line is asked by what was found. A hit is the component that reading takes from its action; lines without one
// are counted apart.
func TestLogbook(t *testing.T) {
	head, train, held := logbook(t)
	columns := ingest.Options{Columns: map[string]string{"id": "ident", "found": "problem", "done": "action"}}
	b := open(t, t.TempDir())
	var added []kb.Case
	err := b.Add(t.Context(), vera, files(writeup("log.csv", head+train)), casebook.AddOptions{Accept: true, Read: columns}, func(r casebook.FileReport) error {
		require.NoError(t, r.Err)
		for _, a := range r.Cases {
			added = append(added, a.Case)
		}
		return nil
	})
	require.NoError(t, err)
	reading := casebook.ReadFile(writeup("log.csv", head+held), columns, b.Reader())
	require.NoError(t, reading.Err)
	closed, lines, none, asked, first, third := 0, len(added)+len(reading.Drafts), 0, 0, 0, 0
	for _, c := range added {
		if len(c.Culprits()) > 0 {
			closed++
		}
	}
	for _, drafts := range reading.Drafts {
		for _, c := range drafts {
			want := c.Culprits()
			if len(want) == 0 {
				none++
				continue
			}
			closed++
			asked++
			at := rankOf(t, b, c, want)
			if at == 0 {
				first++
			}
			if at >= 0 && at < 3 {
				third++
			}
		}
	}
	t.Logf("logbook: %d of %d lines closed with a component (%.1f %%); %d held-back lines asked, %d without a component; top-1 %.1f %%, top-3 %.1f %%",
		closed, lines, 100*float64(closed)/float64(lines), asked, none, 100*float64(first)/float64(asked), 100*float64(third)/float64(asked))
	assert.Greater(t, float64(closed)/float64(lines), 0.80)
	assert.Greater(t, float64(first)/float64(asked), 0.60)
	assert.Greater(t, float64(third)/float64(asked), 0.70)
}

// rankOf asks by the symptoms alone and gives the place of the first culprit wanted, -1 if it is not listed.
func rankOf(t *testing.T, b *casebook.Book, c kb.Case, want []string) int {
	t.Helper()
	a, err := b.Ask(t.Context(), kb.Case{V: 1, Status: kb.Open, Symptoms: c.Symptoms})
	require.NoError(t, err)
	for i, f := range a.Fixes {
		for _, w := range want {
			if f.Component == b.Vocabulary().CanonicalComponent(w) {
				return i
			}
		}
	}
	return -1
}

// logbook splits the file: its head, the lines to learn from, and every tenth.
func logbook(t *testing.T) (head, train, held string) {
	t.Helper()
	f, err := os.Open(testkit.Shared(t, "data", "logbook", "logbook.csv"))
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	text := func(rows [][]string) string {
		var b strings.Builder
		require.NoError(t, csv.NewWriter(&b).WriteAll(rows))
		return b.String()
	}
	var learn, ask [][]string
	for i, row := range all[1:] {
		if i%10 == 9 {
			ask = append(ask, row)
		} else {
			learn = append(learn, row)
		}
	}
	return text(all[:1]), text(learn), text(ask)
}
