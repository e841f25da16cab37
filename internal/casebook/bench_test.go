package casebook_test

import (
	"bytes"
	"database/sql"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/yuin/goldmark"
	_ "modernc.org/sqlite"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/internal/testkit"
)

// manyRecords makes n different records of some hundred codes.
func manyRecords(n int) []string {
	parts := []string{"heater relay", "heater fuse", "wiring harness", "coolant pump", "egr valve", "boost hose", "flow switch"}
	out := make([]string, n)
	for i := range out {
		line := closedRecord(fmt.Sprintf("c%07d", i), parts[(i*7+i/400)%len(parts)])
		out[i] = strings.Replace(line, "P1B77", fmt.Sprintf("P%04d", i%400), 1)
	}
	return out
}

func must(b *testing.B, err error) {
	b.Helper()
	if err != nil {
		b.Fatal(err)
	}
}

func filled(b *testing.B, n int) *casebook.Book {
	b.Helper()
	book, err := casebook.Open(b.Context(), casebook.Options{Dir: b.TempDir()})
	must(b, err)
	b.Cleanup(func() { must(b, book.Close()) })
	_, err = book.Import(b.Context(), vera, records(manyRecords(n)...), casebook.ImportOptions{})
	must(b, err)
	return book
}

// bareInsert gives the time of inserting the same texts into a bare SQLite table in one transaction.
func bareInsert(b *testing.B, lines []string) float64 {
	b.Helper()
	begin := time.Now()
	db, err := sql.Open("sqlite", filepath.Join(b.TempDir(), "bare.db")+"?_txlock=immediate&_pragma=journal_mode(WAL)")
	must(b, err)
	defer db.Close()
	_, err = db.ExecContext(b.Context(), "CREATE TABLE t (id INTEGER PRIMARY KEY, body TEXT)")
	must(b, err)
	tx, err := db.BeginTx(b.Context(), nil)
	must(b, err)
	insert, err := tx.Prepare("INSERT INTO t (body) VALUES ($1)")
	must(b, err)
	for _, line := range lines {
		_, err := insert.Exec(line)
		must(b, err)
	}
	must(b, tx.Commit())
	return time.Since(begin).Seconds()
}

// BenchmarkImport measures taking in records, text index included, beside a bare SQLite insert of the same lines.
func BenchmarkImport(b *testing.B) {
	for _, n := range []int{1_000, 100_000} {
		lines := manyRecords(n)
		bare := bareInsert(b, lines)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				book, err := casebook.Open(b.Context(), casebook.Options{Dir: b.TempDir()})
				must(b, err)
				_, err = book.Import(b.Context(), vera, records(lines...), casebook.ImportOptions{})
				must(b, err)
				must(b, book.Close())
			}
			per := b.Elapsed().Seconds() / float64(b.N)
			b.ReportMetric(float64(n)/per, "cases/s")
			b.ReportMetric(per/bare, "x-bare-insert")
		})
	}
}

// BenchmarkAsk measures a question through the door, beside reading one case by its id.
func BenchmarkAsk(b *testing.B) {
	for _, n := range []int{1_000, 100_000} {
		book := filled(b, n)
		q, err := book.Understand(casebook.Question{Words: "P0123", Machine: "Halden Brisk 3 2019", Passed: []string{"swap with known good of heater relay"}})
		must(b, err)
		_, err = book.Ask(b.Context(), q)
		must(b, err)
		read := testkit.Seconds(func() {
			_, err := book.Show(b.Context(), "c0000001")
			must(b, err)
		})
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				_, err := book.Ask(b.Context(), q)
				must(b, err)
			}
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/read, "x-read-a-case")
		})
	}
}

// BenchmarkFind measures a search with its facets and the cases read for the hits; internal/index has it beside a bare Bleve query.
func BenchmarkFind(b *testing.B) {
	for _, n := range []int{1_000, 100_000} {
		book := filled(b, n)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				_, err := book.Find(b.Context(), "relay code:P0123", casebook.FindOptions{})
				must(b, err)
			}
		})
	}
}

// BenchmarkAdd measures reading a write-up into draft cases, beside goldmark's rendering of the same text.
func BenchmarkAdd(b *testing.B) {
	reader := filled(b, 1).Reader()
	text := []byte(relayText + strings.Repeat("\nI measured the coil of the heater relay, 84 ohm, fine. Swapped the fuse, no change.\n", 40))
	bare := testkit.Seconds(func() {
		var out bytes.Buffer
		must(b, goldmark.Convert(text, &out))
	})
	for b.Loop() {
		if r := casebook.ReadFile(ingest.File{Name: "a.md", Data: text}, ingest.Options{}, reader); r.Err != nil {
			b.Fatal(r.Err)
		}
	}
	b.SetBytes(int64(len(text)))
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/bare, "x-goldmark")
}
