package ingest_test

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/ingest"
)

// post is one post of a made-up thread: the n-th, by one of three people, an hour after the one before.
func post(n int) ingest.Post {
	return ingest.Post{N: n + 1, Author: []string{"ann", "bo", "cy"}[n%3], Time: time.Date(2024, 3, 1, 8+n, 5, 0, 0, time.UTC),
		Text: fmt.Sprintf("Post number %d of this thread says something long enough to be told from any other one.", n)}
}

// pageOf is page n (1, 2, ...) of a thread with an address, holding posts from..to-1.
func pageOf(n, from, to int) ingest.Thread {
	t := ingest.Thread{Key: "https://brisk.example/t/1", URL: "https://brisk.example/t/1", Kind: ingest.KindThread, Title: "Brisk 3 stays cold", Page: n}
	for i := from; i < to; i++ {
		p := post(i)
		p.N, p.Page = i-from+1, n
		t.Posts = append(t.Posts, p)
	}
	return t
}

func textsOf(t ingest.Thread) (out []string) {
	for i, p := range t.Posts {
		if p.N != i+1 {
			return []string{"numbers are wrong"}
		}
		out = append(out, p.Text)
	}
	return out
}

func wantTexts(from, to int) (out []string) {
	for i := from; i < to; i++ {
		out = append(out, post(i).Text)
	}
	return out
}

// Pages cut from one thread anyhow, with overlaps, with and without times, give the thread again in any order.
func TestJoinedPagesAreTheThread(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 20).Draw(t, "posts")
		timed := rapid.Bool().Draw(t, "timed")
		var pages []ingest.Thread
		for from := 0; from < n; {
			size := rapid.IntRange(1, 6).Draw(t, "size")
			start := max(0, from-rapid.IntRange(0, 2).Draw(t, "overlap"))
			pages = append(pages, pageOf(len(pages)+1, start, min(n, from+size)))
			from += size
		}
		if !timed {
			for _, p := range pages {
				for i := range p.Posts {
					p.Posts[i].Time = time.Time{}
				}
			}
		}
		shuffled := rapid.Permutation(pages).Draw(t, "order")
		joined := ingest.JoinPages(shuffled)
		require.Len(t, joined, 1)
		require.Equal(t, wantTexts(0, n), textsOf(joined[0]))
		var step ingest.Thread
		for _, p := range shuffled { // as when each is added on a day of its own
			step = ingest.Join(step, p)
		}
		require.Equal(t, wantTexts(0, n), textsOf(step))
		require.Equal(t, textsOf(step), textsOf(ingest.Join(step, shuffled[0])))
	})
}

// byText puts threads in an order of their own, so that two lists can be compared.
func byText(list []ingest.Thread) []ingest.Thread {
	list = slices.Clone(list)
	slices.SortFunc(list, func(a, b ingest.Thread) int {
		return cmp.Or(cmp.Compare(a.Key, b.Key), cmp.Compare(strings.Join(textsOf(a), "\n"), strings.Join(textsOf(b), "\n")))
	})
	return list
}

func TestSameThread(t *testing.T) {
	loose := func(t ingest.Thread, pages int) ingest.Thread {
		t.URL, t.Key, t.Pages = "", "post:"+t.Posts[0].Text, pages
		return t
	}
	titled := func(t ingest.Thread, title string) ingest.Thread { t.Title = title; return t }
	at := func(t ingest.Thread, url string) ingest.Thread { t.URL, t.Key = url, url; return t }
	tests := []struct {
		name string
		a, b ingest.Thread
		want bool
	}{
		{"one address", pageOf(1, 0, 3), titled(pageOf(2, 3, 6), "[SOLVED] Brisk 3 stays cold"), true},
		{"two addresses", pageOf(1, 0, 3), at(pageOf(1, 0, 3), "https://brisk.example/t/2"), false},
		{"pages of five", loose(pageOf(1, 0, 3), 5), loose(pageOf(2, 3, 6), 5), true},
		{"pages of five, last first", loose(pageOf(4, 9, 12), 5), loose(pageOf(2, 3, 6), 5), true},
		{"pages of five and of four", loose(pageOf(1, 0, 3), 5), loose(pageOf(2, 3, 6), 4), false},
		{"page 1 is younger", loose(pageOf(1, 3, 6), 2), loose(pageOf(2, 0, 3), 2), false},
		{"nobody wrote on both", loose(pageOf(1, 0, 1), 2), loose(pageOf(2, 1, 3), 2), false},
		{"twice page 1, other posts", loose(pageOf(1, 0, 3), 2), loose(pageOf(1, 3, 6), 2), false},
		{"a post on both, no page numbers", loose(pageOf(0, 0, 3), 0), loose(pageOf(0, 2, 5), 0), true},
		{"a post on both, other title", loose(pageOf(0, 0, 3), 0), titled(loose(pageOf(0, 2, 5), 0), "Brisk 3 heater"), false},
		{"a title that says nothing", titled(loose(pageOf(1, 0, 3), 2), "Help"), titled(loose(pageOf(2, 3, 6), 2), "Help"), false},
		{"with an address and without", pageOf(1, 0, 3), loose(pageOf(0, 2, 5), 0), true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			assert.Equal(t, tt.want, ingest.SameThread(tt.a, tt.b))
			assert.Equal(t, tt.want, ingest.SameThread(tt.b, tt.a))
			groups := 2
			if tt.want {
				groups = 1
			}
			assert.Len(t, ingest.JoinPages([]ingest.Thread{tt.b, tt.a}), groups)
		})
	}
}

// What could belong to two threads stays on its own.
func TestAPageThatFitsTwoThreadsStaysApart(t *testing.T) {
	loose := pageOf(0, 0, 3)
	loose.URL, loose.Key = "", "post:loose"
	other := pageOf(1, 0, 3)
	other.URL, other.Key = "https://brisk.example/t/2", "https://brisk.example/t/2"
	assert.Len(t, ingest.JoinPages([]ingest.Thread{pageOf(1, 0, 3), loose, other}), 3)
}

func TestJoinSettlesWhatPostsTell(t *testing.T) {
	known := pageOf(1, 0, 4)
	t.Run("the same words twice on one page stay two posts", func(t *testing.T) {
		twice := pageOf(1, 0, 4)
		twice.Posts[2] = twice.Posts[0]
		twice.Posts[2].N = 3
		assert.Len(t, ingest.Join(twice, twice).Posts, 4)
	})
	t.Run("short words are said again on another page", func(t *testing.T) {
		a, b := pageOf(1, 0, 2), pageOf(2, 2, 4)
		for _, p := range []*ingest.Post{&a.Posts[1], &b.Posts[1]} {
			p.Author, p.Text, p.Time = "bo", "Thanks!", time.Time{}
		}
		assert.Len(t, ingest.Join(a, b).Posts, 4)
	})
	t.Run("another time zone", func(t *testing.T) {
		shown := pageOf(1, 0, 5)
		for i := range shown.Posts {
			shown.Posts[i].Time = shown.Posts[i].Time.Add(-5 * time.Hour)
		}
		shown.Posts[1].Text = "Edited beyond recognition."
		got := ingest.Join(known, shown)
		require.Len(t, got.Posts, 5)
		assert.Equal(t, "Edited beyond recognition.", got.Posts[1].Text)
		assert.Equal(t, post(4).Time, got.Posts[4].Time)
	})
	t.Run("a deleted post is kept", func(t *testing.T) {
		shown := pageOf(1, 0, 4)
		shown.Posts = slices.Delete(shown.Posts, 1, 2)
		assert.Equal(t, wantTexts(0, 4), textsOf(ingest.Join(known, shown)))
	})
	t.Run("what was masked stays masked", func(t *testing.T) {
		veiled, bare := pageOf(1, 0, 2), pageOf(1, 0, 2)
		veiled.Posts[1].Text = "Ask Hanno " + ingest.Veil + " at the counter, he knows this van well."
		bare.Posts[1].Text = "Ask Hanno Birkmoor at the counter, he knows this van well."
		assert.Equal(t, veiled.Posts[1].Text, ingest.Join(veiled, bare).Posts[1].Text)
		assert.Equal(t, veiled.Posts[1].Text, ingest.Join(bare, veiled).Posts[1].Text)
	})
	t.Run("licence and title", func(t *testing.T) {
		second := pageOf(2, 4, 6)
		second.Title, second.Licence = "Brisk 3 stays cold (page 2)", "CC BY 4.0"
		got := ingest.Join(known, second)
		assert.Equal(t, "Brisk 3 stays cold", got.Title)
		assert.Equal(t, "CC BY 4.0", got.Licence)
		assert.Equal(t, "Brisk 3 stays cold", ingest.Join(second, known).Title)
	})
}

// FuzzJoinPages cuts a thread made of any words into pages: nothing panics, no post is lost, no order matters.
func FuzzJoinPages(f *testing.F) {
	f.Add("ann: it is cold\nbo: really?\nann: it is cold\ncy: New relay.", uint64(5), uint8(2), true)
	f.Add("a: \na: \n: x\n: x", uint64(3), uint8(0), false)
	f.Add("ann: thanks\nann: thanks\nann: thanks\nann: thanks a lot, that was the relay and it has been fine since then", uint64(1<<40+7), uint8(1), false)
	f.Fuzz(func(t *testing.T, words string, cuts uint64, swap uint8, addressed bool) {
		pages := cutPages(words, cuts, addressed)
		if len(pages) == 0 {
			return
		}
		joined := ingest.JoinPages(pages)
		turned := slices.Concat(pages[int(swap)%len(pages):], pages[:int(swap)%len(pages)])
		slices.Reverse(turned)
		require.Equal(t, byText(joined), byText(ingest.JoinPages(turned)))
		have := map[string]bool{}
		for _, th := range joined {
			for i, p := range th.Posts {
				require.Equal(t, i+1, p.N)
				have[p.Author+"\x00"+p.Text] = true
			}
			require.Equal(t, textsOf(th), textsOf(ingest.Join(th, th)))
		}
		for _, p := range pages {
			for _, q := range p.Posts {
				require.True(t, have[q.Author+"\x00"+q.Text], "lost: %q", q.Text)
			}
		}
	})
}

// cutPages makes a thread of lines "author: words" and cuts it where the bits of cuts say so. Some posts stand on both sides.
func cutPages(words string, cuts uint64, addressed bool) []ingest.Thread {
	var pages []ingest.Thread
	for i, line := range strings.Split(words, "\n") {
		if i > 60 {
			break
		}
		author, text, _ := strings.Cut(line, ": ")
		p := ingest.Post{Author: author, Text: text}
		if addressed {
			p.Time = time.Date(2024, 3, 1, 8, i, 7, 0, time.UTC)
		}
		if len(pages) == 0 || cuts>>i&1 == 1 {
			next := ingest.Thread{Kind: ingest.KindThread, Title: "Brisk 3 stays cold", Page: len(pages) + 1}
			if len(pages) > 0 && i%2 == 0 {
				next.Posts = append(next.Posts, pages[len(pages)-1].Posts[len(pages[len(pages)-1].Posts)-1])
			}
			pages = append(pages, next)
		}
		last := &pages[len(pages)-1]
		last.Posts = append(last.Posts, p)
	}
	for i := range pages {
		pages[i].Pages = len(pages)
		pages[i].Key = fmt.Sprint("post:", i, pages[i].Posts[0].Text)
		if addressed {
			pages[i].URL, pages[i].Key = "https://brisk.example/t/1", "https://brisk.example/t/1"
		}
		for j := range pages[i].Posts {
			pages[i].Posts[j].N, pages[i].Posts[j].Page = j+1, i+1
		}
	}
	return pages
}
