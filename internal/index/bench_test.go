package index_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"ruledout/internal/index"
)

// someDocs gives documents of about 90 words, whose frequencies fall as those of a language do (Zipf), and a code each.
func someDocs(n int) []index.Doc {
	r := rand.New(rand.NewPCG(1, 2))
	zipf := rand.NewZipf(r, 1.1, 3, 20_000)
	var docs []index.Doc
	for i := range n {
		var text strings.Builder
		for range 90 {
			fmt.Fprintf(&text, "%s ", word(zipf.Uint64()))
		}
		docs = append(docs, index.Doc{ID: fmt.Sprintf("c%07d", i), Title: word(zipf.Uint64()), Body: []string{text.String()}, State: "published",
			Codes: []string{fmt.Sprintf("P%04d", r.IntN(300))}, Make: fmt.Sprintf("make %d", r.IntN(20)), Model: fmt.Sprintf("model %d", r.IntN(200)),
			Year: 1995 + r.IntN(30), Components: []string{fmt.Sprintf("part %d", r.IntN(300))}, Actions: []string{"replace"}, Kind: "van", Status: "closed"})
	}
	return docs
}

// word gives the n-th word of a made-up language.
func word(n uint64) string {
	const consonants, vowels = "bdfglmnprstvk", "aeiou"
	var w strings.Builder
	for n += 50; n > 0; n /= 65 {
		w.WriteByte(consonants[n%13])
		w.WriteByte(vowels[n/13%5])
	}
	return w.String()
}

func BenchmarkSearch(b *testing.B) {
	for _, n := range []int{1_000, 100_000} {
		x := open(b, b.TempDir())
		docs := someDocs(n)
		require.NoError(b, x.Apply(b.Context(), docs, nil, 1))
		for _, query := range []struct{ name, text string }{
			{"word", word(20)}, {"words", word(20) + " " + word(90) + " " + word(400)}, {"code", "P0123"}, {"phrase", `"` + word(5) + " " + word(3) + `"`},
			{"field", word(20) + ` make:"make 7" year:2005..2010`},
		} {
			for _, facets := range []bool{false, true} {
				b.Run(fmt.Sprintf("%s/docs=%d/facets=%t", query.name, n, facets), func(b *testing.B) {
					for b.Loop() {
						_, err := x.Search(b.Context(), index.Query{Text: query.text, State: []string{"published"}, Size: 10, Facets: facets})
						require.NoError(b, err)
					}
				})
			}
		}
		b.Run(fmt.Sprintf("any of three words/docs=%d", n), func(b *testing.B) {
			for b.Loop() {
				_, err := x.Search(b.Context(), index.Query{Text: word(20) + " " + word(90) + " " + word(400), Any: true, Size: 10})
				require.NoError(b, err)
			}
		})
		b.Run(fmt.Sprintf("bare word of Bleve/docs=%d", n), func(b *testing.B) {
			for b.Loop() {
				_, err := x.Bare(word(20), 10)
				require.NoError(b, err)
			}
		})
	}
}

func BenchmarkApply(b *testing.B) {
	docs := someDocs(20_000)
	for b.Loop() {
		x := open(b, b.TempDir())
		require.NoError(b, x.Apply(b.Context(), docs, nil, 1))
	}
	b.ReportMetric(float64(len(docs)*b.N)/b.Elapsed().Seconds(), "docs/s")
}

func BenchmarkTerms(b *testing.B) {
	text := someDocs(1)[0].Body[0]
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		index.Terms(text)
	}
}
