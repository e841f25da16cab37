package ingest_test

import (
	"bytes"
	"fmt"
	"html"
	"io/fs"
	"runtime/metrics"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/yuin/goldmark"
	nethtml "golang.org/x/net/html"

	"ruledout/ingest"
	"ruledout/internal/demo"
)

// demoPosts gives the texts of all posts of the demo: varied enough that what is kept between sentences helps no more than in life.
var demoPosts = sync.OnceValues(func() ([]string, error) {
	var texts []string
	err := fs.WalkDir(demo.Files(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := fs.ReadFile(demo.Files(), name)
		if err != nil {
			return err
		}
		threads, err := ingest.Read(ingest.File{Name: name, Data: data}, ingest.Options{})
		if err != nil {
			return nil // a table, which is read by columns that are named
		}
		for _, th := range threads {
			for _, p := range th.Posts {
				texts = append(texts, p.Text)
			}
		}
		return nil
	})
	return texts, err
})

// longThread makes a write-up of so many posts by a third as many people, as a page or in Markdown; each post holds so many of the
// demo's.
func longThread(tb testing.TB, posts, each int, page bool) ingest.File {
	tb.Helper()
	texts, err := demoPosts()
	require.NoError(tb, err)
	var b strings.Builder
	name := "long.md"
	if page {
		name = "long.html"
		b.WriteString("<!DOCTYPE html><html><head><title>Brisk 3, no heat</title></head><body><h1>Brisk 3, no heat</h1>\n")
	} else {
		b.WriteString("# Brisk 3, no heat\n\n")
	}
	for i := range posts {
		who, day := i%(posts/3+1), i%28+1
		if page {
			fmt.Fprintf(&b, "<div class=\"msg\"><b class=\"who\">poster_%d</b> <time datetime=\"2024-03-%02d\">%d March 2024</time><div class=\"txt\">", who, day, day)
		} else {
			fmt.Fprintf(&b, "## poster_%d - %d March 2024\n\n", who, day)
		}
		for k := range each {
			text := texts[(i*each+k)%len(texts)]
			if page {
				text = "<p>" + strings.ReplaceAll(html.EscapeString(text), "\n\n", "</p>\n<p>") + "</p>"
			}
			b.WriteString(text + "\n\n")
		}
		if page {
			b.WriteString("</div></div>\n")
		}
	}
	return ingest.File{Name: name, Data: []byte(b.String())}
}

// draftsOf does what a dry run of adding does: reading, masking, extraction.
func draftsOf(tb testing.TB, x *ingest.Extractor, f ingest.File) (posts, cases int) {
	tb.Helper()
	threads, err := ingest.Read(f, ingest.Options{})
	require.NoError(tb, err)
	for _, th := range threads {
		posts += len(th.Posts)
		cases += len(x.Extract(th))
	}
	return posts, cases
}

// seconds gives the shortest of some runs.
func seconds(runs int, do func()) float64 {
	best := 0.0
	for i := range runs {
		begin := time.Now()
		do()
		if took := time.Since(begin).Seconds(); i == 0 || took < best {
			best = took
		}
	}
	return best
}

// BenchmarkMarkdown reports how many times longer a dry run takes than the Markdown library's own parsing and rendering of the bytes.
func BenchmarkMarkdown(b *testing.B) {
	benchmarkAgainst(b, longThread(b, 300, 1, false), func(data []byte) {
		var out bytes.Buffer
		require.NoError(b, goldmark.Convert(data, &out))
	})
}

// BenchmarkHTML reports how many times longer a dry run takes than the HTML library's parsing of the bytes.
func BenchmarkHTML(b *testing.B) {
	benchmarkAgainst(b, longThread(b, 300, 1, true), func(data []byte) {
		_, err := nethtml.Parse(bytes.NewReader(data))
		require.NoError(b, err)
	})
}

func benchmarkAgainst(b *testing.B, f ingest.File, bare func([]byte)) {
	x := extractor(b)
	draftsOf(b, x, f)
	library := seconds(20, func() { bare(f.Data) })
	reading := seconds(5, func() {
		_, err := ingest.Read(f, ingest.Options{})
		require.NoError(b, err)
	})
	b.SetBytes(int64(len(f.Data)))
	best := 0.0
	for b.Loop() {
		took := seconds(1, func() { draftsOf(b, x, f) })
		if best == 0 || took < best {
			best = took
		}
	}
	b.ReportMetric(best/library, "x-library")
	b.ReportMetric(reading/library, "x-library-reading")
}

// BenchmarkLength reports the time for threads of two and four times the length in times of that for the single length: 2 and 4 where
// time is linear.
func BenchmarkLength(b *testing.B) {
	x := extractor(b)
	lengths := [3]ingest.File{longThread(b, 300, 2, false), longThread(b, 600, 2, false), longThread(b, 1200, 2, false)}
	draftsOf(b, x, lengths[0])
	var took [3]float64
	for b.Loop() {
		for i, f := range lengths {
			took[i] = seconds(3, func() { draftsOf(b, x, f) })
		}
	}
	b.ReportMetric(took[1]/took[0], "x-at-2")
	b.ReportMetric(took[2]/took[0], "x-at-4")
}

// BenchmarkTenMegabytes reads one thread of 5,000 posts and reports its rate and the most that was alive in memory, in times of its bytes.
func BenchmarkTenMegabytes(b *testing.B) {
	x := extractor(b)
	f := longThread(b, 5000, 7, false)
	b.SetBytes(int64(len(f.Data)))
	peak := uint64(0)
	for b.Loop() {
		peak = max(peak, peakOf(func() {
			posts, cases := draftsOf(b, x, f)
			require.Equal(b, 5000, posts)
			require.Positive(b, cases)
		}))
	}
	b.ReportMetric(float64(peak)/float64(len(f.Data)), "x-memory")
}

// BenchmarkManyFiles reads sixty threads one after the other and reports the most that was alive in memory, in times of what it is for one
// of them: 1 where memory is bounded by the largest thread.
func BenchmarkManyFiles(b *testing.B) {
	x := extractor(b)
	f := longThread(b, 600, 2, false)
	draftsOf(b, x, f)
	one := peakOf(func() { draftsOf(b, x, f) })
	many := uint64(0)
	for b.Loop() {
		many = peakOf(func() {
			for range 60 {
				draftsOf(b, x, f)
			}
		})
	}
	b.ReportMetric(float64(many)/float64(one), "x-memory-of-one")
}

// peakOf gives the most bytes that a collection found alive while something was done.
func peakOf(do func()) uint64 {
	const live = "/gc/heap/live:bytes"
	sample := []metrics.Sample{{Name: live}}
	done, out := make(chan struct{}), make(chan uint64)
	go func() {
		peak := uint64(0)
		for tick := time.NewTicker(time.Millisecond); ; {
			metrics.Read(sample)
			peak = max(peak, sample[0].Value.Uint64())
			select {
			case <-done:
				tick.Stop()
				out <- peak
				return
			case <-tick.C:
			}
		}
	}()
	do()
	close(done)
	return <-out
}
