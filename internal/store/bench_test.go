package store_test

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ruledout/internal/store"
	"ruledout/internal/testkit"
	"ruledout/kb"
	"ruledout/kb/code"
)

func entries(n int) []store.Entry {
	all := make([]store.Entry, 0, n)
	for i := range n {
		c := testkit.Case(kb.CaseID(fmt.Sprintf("c%07d", i*7919%n))) // ids come in no order, as hashes do
		c.Codes[0].Code = fmt.Sprintf("P1%03d", i%1000)
		all = append(all, testkit.Entry(c, "import"))
	}
	return all
}

// BenchmarkImport puts cases into an empty store in one change, and reports how much longer that takes than to insert the
// same bytes into a table with a key.
func BenchmarkImport(b *testing.B) {
	for _, n := range []int{1_000, 100_000} {
		b.Run(fmt.Sprintf("cases=%d", n), func(b *testing.B) {
			all := entries(n)
			var bare time.Duration
			for b.Loop() {
				s := open(b, filepath.Join(b.TempDir(), "book.db"))
				require.NoError(b, s.Update(b.Context(), func(tx *store.Tx) error {
					for _, e := range all {
						if _, err := tx.Append(e); err != nil {
							return err
						}
					}
					return nil
				}))
				b.StopTimer()
				bare += bareInsert(b, all)
				b.StartTimer()
			}
			b.ReportMetric(float64(n*b.N)/b.Elapsed().Seconds(), "cases/s")
			b.ReportMetric(b.Elapsed().Seconds()/bare.Seconds(), "times-bare")
		})
	}
}

func bareInsert(b *testing.B, all []store.Entry) time.Duration {
	db, err := sql.Open("sqlite", "file:"+filepath.Join(b.TempDir(), "bare.db")+"?_txlock=immediate&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)")
	require.NoError(b, err)
	defer db.Close()
	_, err = db.Exec("CREATE TABLE bare (pos INTEGER PRIMARY KEY, body TEXT NOT NULL)")
	require.NoError(b, err)
	var bodies []string
	for _, e := range all {
		body, err := kb.EncodeCase(*e.Case)
		require.NoError(b, err)
		bodies = append(bodies, string(body))
	}
	start := time.Now()
	tx, err := db.Begin()
	require.NoError(b, err)
	insert, err := tx.Prepare("INSERT INTO bare (body) VALUES ($1)")
	require.NoError(b, err)
	for _, body := range bodies {
		_, err := insert.Exec(body)
		require.NoError(b, err)
	}
	require.NoError(b, tx.Commit())
	return time.Since(start)
}

func BenchmarkRead(b *testing.B) {
	const n = 100_000
	s := open(b, filepath.Join(b.TempDir(), "book.db"))
	require.NoError(b, s.Update(b.Context(), func(tx *store.Tx) error {
		for _, e := range entries(n) {
			if _, err := tx.Append(e); err != nil {
				return err
			}
		}
		return nil
	}))
	b.Run("one case", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			_, err := s.Case(b.Context(), kb.CaseID(fmt.Sprintf("c%07d", i%n)))
			require.NoError(b, err)
		}
	})
	b.Run("cases of a code", func(b *testing.B) { // a hundred of them
		for b.Loop() {
			readAll(b, s, store.Filter{Keys: []code.Key{{Scheme: code.OBD, Issuer: "halden", Code: "P1123"}}})
		}
	})
	b.Run("all cases", func(b *testing.B) {
		for b.Loop() {
			readAll(b, s, store.Filter{})
		}
	})
	b.Run("verify", func(b *testing.B) {
		for b.Loop() {
			problems, err := s.Verify(b.Context())
			require.NoError(b, err)
			require.Empty(b, problems)
		}
	})
}

func readAll(b *testing.B, s *store.Store, f store.Filter) {
	count := 0
	for _, err := range s.Cases(b.Context(), f) {
		require.NoError(b, err)
		count++
	}
	require.NotZero(b, count)
}

// BenchmarkChange makes one durable change of one case.
func BenchmarkChange(b *testing.B) {
	s := open(b, filepath.Join(b.TempDir(), "book.db"))
	for i := 0; b.Loop(); i++ {
		c := testkit.Case(kb.CaseID(fmt.Sprint("c", i%50)))
		require.NoError(b, s.Update(b.Context(), func(tx *store.Tx) error {
			_, err := tx.Append(testkit.Entry(c, "add"))
			return err
		}))
	}
}
