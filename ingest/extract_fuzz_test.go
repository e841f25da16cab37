package ingest_test

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/ingest"
)

var sharedExtractor = sync.OnceValues(func() (*ingest.Extractor, error) {
	v, err := vocabulary()
	if err != nil {
		return nil, err
	}
	return ingest.NewExtractor(v), nil
})

func extractor(t testing.TB) *ingest.Extractor {
	t.Helper()
	x, err := sharedExtractor()
	require.NoError(t, err)
	return x
}

// FuzzExtract holds the law of drafts for any text: no panic, a valid record, every span in range and equal to its quote.
func FuzzExtract(f *testing.F) {
	f.Add("E21 on my TG 45", "2016 Tarnholt TG 45, E21. Replaced the relay, no change.", "Mine too. New relay and fixed.", uint8(3))
	f.Add("", "12V 4k7 +18% 0.2 ohm open circuit, should be 53-61", "> quote\nP0420-1A SPN 94 FMI 1", uint8(0))
	f.Add("", "01A 1C0 !11! 0.0 Aaa aaaa 01-11", "P0000&0A 000000000000", uint8(54)) // once a word without an end
	f.Add("", "0", "0&0A", uint8('6'))                                               // a number with nothing before it
	f.Add("?", "\xff\xfe Ä\u200b¼", "it was the pump", uint8(9))
	f.Fuzz(func(t *testing.T, title, first, second string, cut uint8) {
		th := threadOf(title, "ann: "+first, "bo: "+second, "ann: "+second)
		at := min(int(cut), len(th.Posts[0].Text))
		th.Posts[0].Regions = []ingest.Region{{Start: 0, End: at, Kind: ingest.RegionQuote}}
		for _, c := range extractor(t).Extract(th) {
			requireLawful(t, th, c)
		}
		th.Kind = ingest.KindRow
		for _, c := range extractor(t).Extract(th) {
			requireLawful(t, th, c)
		}
	})
}

// Any order of everyday statements gives lawful drafts, and the same ones each time.
func TestExtractLawOnMixedStatements(t *testing.T) {
	v := words(t)
	x := ingest.NewExtractor(v)
	says := []string{
		"2019 Halden Brisk 3, 80,000 km.", "P1B77 stored.", "No cabin heat.", "Replaced the heater relay.", "No change.", "It came back.", "That fixed it.",
		"Heater relay coil 84 ohm, spec 80-90.", "It was the heater fuse.", "So it wasn't the pump.", "New one in.", "Should I check the fuse?", "Same here on my 2016 Brisk 2.",
		"Bridged the flow switch.", "Three months later all good.", "Cleaned it.", "Couldn't tell you which one did it.", "Gave up.",
	}
	rapid.Check(t, func(t *rapid.T) {
		var posts []string
		for range rapid.IntRange(1, 4).Draw(t, "posts") {
			said := rapid.SliceOfN(rapid.SampledFrom(says), 1, 6).Draw(t, "said")
			posts = append(posts, rapid.SampledFrom([]string{"ann", "bo"}).Draw(t, "author")+": "+strings.Join(said, " "))
		}
		th := threadOf("Brisk 3", posts...)
		cases := x.Extract(th)
		for _, c := range cases {
			require.Empty(t, c.Validate())
			for _, f := range c.Fixes {
				require.NotEmpty(t, f.Evidence)
			}
		}
		require.Equal(t, cases, x.Extract(th))
	})
}

func FuzzParseTest(f *testing.F) {
	for _, s := range []string{"coil resistance of heater relay", "a of b = 84 ohm", "a of b = pass", "of", "= ="} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := ingest.ParseTest(s, words(t))
		if err == nil {
			require.NotEmpty(t, got.Component)
			require.NotEmpty(t, got.Test)
		}
	})
}

func FuzzParseFix(f *testing.F) {
	for _, s := range []string{"replaced heater fuse", "replace", "", "cleaned the x"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := ingest.ParseFix(s, words(t))
		if err == nil {
			require.NotEmpty(t, got.Component)
			require.NotEmpty(t, got.Action)
		}
	})
}

func FuzzUnderstand(f *testing.F) {
	for _, s := range []string{"P1B77 no heat", "Halden Brisk 3 2019", "84 ohm", "?", "it was the relay, fixed"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c := extractor(t).Understand(s)
		require.Empty(t, c.Validate())
	})
}

// BenchmarkExtract reads a thread of forty pages of twenty posts.
func BenchmarkExtract(b *testing.B) {
	th := ingest.Thread{Key: "k", Kind: ingest.KindThread, Title: "Brisk 3 no heat, P1B77"}
	text := "2019 Halden Brisk 3, 81,200 km, P1B77 stored. No cabin heat. Heater relay coil 84 ohm, book says 80 to 90. Replaced the heater fuse, no change. " +
		"Found the heater wiring harness chafed through behind the glove box. I think it could be the module. Repaired the harness and it has been fine for 3,000 km."
	for i := range 800 {
		th.Posts = append(th.Posts, ingest.Post{N: i + 1, Author: fmt.Sprint("author ", i%30), Text: text})
	}
	x := ingest.NewExtractor(words(b))
	b.SetBytes(int64(len(text) * len(th.Posts)))
	for b.Loop() {
		x.Extract(th)
	}
}
