package ingest_test

import (
	"bytes"
	"fmt"
	"html"
	"io/fs"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/yuin/goldmark"
	nethtml "golang.org/x/net/html"

	"ruledout/ingest"
	"ruledout/internal/demo"
	"ruledout/internal/testkit"
	"ruledout/kb"
)

// The demo's posts, told by many people, make the long threads of these benchmarks: varied text, and as much of it as wanted.

// demoPosts gives the texts of the demo's plain write-ups, a paragraph each.
func demoPosts(b *testing.B) []string {
	b.Helper()
	files := demo.Files()
	names, err := fs.Glob(files, "*.md")
	require.NoError(b, err)
	var out []string
	for _, name := range names {
		data, err := fs.ReadFile(files, name)
		require.NoError(b, err)
		_, body, ok := strings.Cut(strings.TrimPrefix(string(data), "---\n"), "\n---\n")
		if !ok {
			body = string(data)
		}
		for _, p := range strings.Split(body, "\n\n") {
			if p = strings.TrimSpace(p); len(p) > 80 && !strings.HasPrefix(p, "#") && !strings.HasPrefix(p, ">") {
				out = append(out, p)
			}
		}
	}
	require.Greater(b, len(out), 50)
	return out
}

// markdownThread writes a thread of n posts.
func markdownThread(posts []string, n int) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "---\ntitle: Brisk 3 loses power, P0087\nurl: https://forum.example/t/%d\n---\n\n", n)
	for i := range n {
		fmt.Fprintf(&b, "## writer_%d, 2024-03-%02d %02d:%02d\n\n%s\n\n", i%(n/4+1), i%27+1, i%24, i%60, posts[(i*7)%len(posts)])
	}
	return b.Bytes()
}

// htmlThread writes the same thread as a page with repeated blocks.
func htmlThread(posts []string, n int) []byte {
	var b bytes.Buffer
	b.WriteString("<!doctype html><html><head><title>Brisk 3 loses power, P0087</title></head><body><h1>Brisk 3 loses power, P0087</h1><div class=\"list\">")
	for i := range n {
		fmt.Fprintf(&b, `<div class="entry"><div class="who">writer_%d</div><time datetime="2024-03-%02dT%02d:%02d:00Z">March %d</time><div class="body"><p>%s</p></div></div>`,
			i%(n/4+1), i%27+1, i%24, i%60, i%27+1, html.EscapeString(posts[(i*7)%len(posts)]))
	}
	b.WriteString("</div></body></html>")
	return b.Bytes()
}

// readAll reads a file into drafts, as "add --dry-run" does, and gives how many cases there are.
func readAll(b *testing.B, x *ingest.Extractor, name string, data []byte) int {
	threads, err := ingest.Read(ingest.File{Name: name, Data: data}, ingest.Options{})
	require.NoError(b, err)
	cases := 0
	for _, t := range threads {
		cases += len(x.Extract(t))
	}
	return cases
}

func benchReader(b *testing.B) *ingest.Extractor {
	b.Helper()
	voc, err := kb.BuiltinVocabulary()
	require.NoError(b, err)
	return ingest.NewExtractor(voc)
}

// BenchmarkReadMarkdown measures reading a thread into drafts beside goldmark's parse and render of the same bytes.
func BenchmarkReadMarkdown(b *testing.B) {
	x, data := benchReader(b), markdownThread(demoPosts(b), 200)
	render := func() {
		var out bytes.Buffer
		require.NoError(b, goldmark.Convert(data, &out))
	}
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		readAll(b, x, "thread.md", data)
	}
	b.ReportMetric(testkit.Seconds(func() { readAll(b, x, "thread.md", data) })/testkit.Seconds(render), "of-goldmark")
}

// BenchmarkReadHTML measures the same beside net/html's parse.
func BenchmarkReadHTML(b *testing.B) {
	x, data := benchReader(b), htmlThread(demoPosts(b), 200)
	parse := func() {
		_, err := nethtml.Parse(bytes.NewReader(data))
		require.NoError(b, err)
	}
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		readAll(b, x, "thread.html", data)
	}
	b.ReportMetric(testkit.Seconds(func() { readAll(b, x, "thread.html", data) })/testkit.Seconds(parse), "of-net/html")
}

// BenchmarkReadLong measures threads of one, two and four times the length: the time is to grow no faster than they do. The longest is of
// 5,000 posts.
func BenchmarkReadLong(b *testing.B) {
	x, posts := benchReader(b), demoPosts(b)
	var took [3]float64
	for b.Loop() {
		for i, n := range []int{1250, 2500, 5000} {
			data := markdownThread(posts, n)
			begin := time.Now()
			readAll(b, x, "thread.md", data)
			took[i] = time.Since(begin).Seconds()
		}
	}
	b.ReportMetric(took[1]/took[0], "2x/1x")
	b.ReportMetric(took[2]/took[0], "4x/1x")
	b.ReportMetric(took[2], "s/5000-posts")
}

// BenchmarkReadMemory measures what is alive at the end of reading one thread beside its length, and that many threads one after the other
// leave nothing behind.
func BenchmarkReadMemory(b *testing.B) {
	x, data := benchReader(b), markdownThread(demoPosts(b), 1000)
	live := func() float64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return float64(m.HeapAlloc)
	}
	readAll(b, x, "thread.md", data)
	before := live()
	for b.Loop() {
		for range 3 {
			readAll(b, x, "thread.md", data)
		}
	}
	b.ReportMetric((live()-before)/float64(len(data)), "left-behind/length")
}
