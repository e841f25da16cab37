package index_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/internal/index"
)

func TestBM25Published(t *testing.T) {
	// Worked example at http://docs.likejazz.com/wiki/: idf 0.248, tf 2, k1 1.5, b 0.75, length 8, average 8.6 give 0.362.
	assert.InDelta(t, 0.362412914, index.BM25(0.248, 2, 8, 8.6, 1.5, 0.75), 1e-9)
	// Croft, Metzler, Strohman, Search Engines (2009), section 7.2.2: two terms, tf 15 and 25, in 40,000 and 300 of 500,000
	// documents, length 0.9 of the average. Their idf lacks the 1 that keeps ours positive, hence the small difference.
	president := index.BM25(index.InverseFrequency(500_000, 40_000), 15, 0.9, 1, 1.2, 0.75)
	lincoln := index.BM25(index.InverseFrequency(500_000, 300), 25, 0.9, 1, 1.2, 0.75)
	assert.InDelta(t, 20.625190, president+lincoln, 0.2)
	assert.InDelta(t, 15.622267, lincoln, 0.01)
}

func TestBM25Laws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Uint64Range(1, 1_000_000).Draw(t, "documents")
		df := rapid.Uint64Range(0, n).Draw(t, "with the term")
		idf := index.InverseFrequency(n, df)
		require.Positive(t, idf)
		if df > 0 {
			require.Greater(t, index.InverseFrequency(n, df-1), idf, "a rarer term weighs more")
		}
		tf := rapid.Float64Range(1, 1000).Draw(t, "frequency")
		length := rapid.Float64Range(1, 10_000).Draw(t, "length")
		score := index.BM25(idf, tf, length, 100, 0.9, 0.4)
		require.Greater(t, index.BM25(idf, tf+1, length, 100, 0.9, 0.4), score, "more often is better")
		require.Less(t, index.BM25(idf, tf, length+1, 100, 0.9, 0.4), score, "in a longer text is worse")
		require.Less(t, score, idf*1.9, "but a term never counts for more than k1+1 of its weight")
	})
}

// TestOrder holds the order of hits against what the formula says.
func TestOrder(t *testing.T) {
	x := filled(t,
		index.Doc{ID: "often", Body: []string{"fuse fuse fuse relay pump valve"}},
		index.Doc{ID: "once", Body: []string{"fuse relay pump valve hose seal"}},
		index.Doc{ID: "long", Body: []string{"fuse relay pump valve hose seal belt shaft gear wheel chain bolt"}},
		index.Doc{ID: "title", Title: "fuse", Body: []string{"relay pump valve hose seal"}},
		index.Doc{ID: "other", Body: []string{"lamp"}},
	)
	assert.Equal(t, []string{"often", "title", "once", "long"}, find(t, x, "fuse"))
	r, err := x.Search(t.Context(), index.Query{Text: "fuse", Size: 1})
	require.NoError(t, err)
	average := float64(6+6+12+7+1)/5 + 1 // every text has one term more, which all have
	assert.InDelta(t, index.BM25(index.InverseFrequency(5, 4), 3, 7, average, 0.9, 0.4), r.Hits[0].Score, 1e-6)
}
