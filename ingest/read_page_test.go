package ingest_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
)

const twoPosts = `<article><h4 class="author">ann</h4><time datetime="2024-03-01T09:00:00Z">1 March</time><p>Brisk 3 stays cold on all settings, P1B77.</p></article>` +
	`<article><h4 class="author">bo</h4><time datetime="2024-03-01T10:00:00Z">1 March</time><p>Have a look at the relay behind the glove box.</p></article>`

// Addresses and their parts follow RFC 3986; rel=canonical RFC 6596; rel=next and rel=prev the HTML standard; aria-current WAI-ARIA 1.2.
func TestPageOfAThread(t *testing.T) {
	link := func(rel, href string) string { return `<link rel="` + rel + `" href="` + href + `">` }
	const at = "https://brisk.example/t/cold"
	tests := []struct {
		name, head, body string
		url              string
		page, pages      int
	}{
		{"nothing told", "", "", "", 0, 0},
		{"its address only", link("canonical", at), "", at, 0, 0},
		{"a number in the address", link("canonical", at+"?page=3"), "", at, 3, 3},
		{"a number in the path", link("canonical", at+"/page-3"), "", at, 3, 3},
		{"a number in the file name", link("canonical", "https://brisk.example/cold-5-page-3.html"), "", "https://brisk.example/cold-5.html", 3, 3},
		{"an offset in the address", link("canonical", at+"?t=9&start=40"), "", at + "?t=9", 41, 41},
		{"a post by its number is no page", link("canonical", "https://brisk.example/view.php?p=77"), "", "https://brisk.example/view.php?p=77", 0, 0},
		{"a post in a board is no page", link("canonical", "https://brisk.example/view.php?f=3&p=77"), "", "https://brisk.example/view.php?f=3&p=77", 0, 0},
		{"a mark", "", `<div>Page 2 of 5 · 43 posts</div>`, "", 2, 5},
		{"a mark in pieces", "", `<div>Page <b>2</b> of <b>5</b></div>`, "", 2, 5},
		{"marks that contradict each other", "", `<p>Page 2 of 5</p><p>Page 7 of 9</p>`, "", 0, 0},
		{"a mark out of range", "", `<p>Page 7 of 5</p>`, "", 0, 0},
		{"the next page", link("canonical", at) + link("next", "?page=2"), "", at, 1, 2},
		{"the page before", link("canonical", at) + link("prev", at+"?page=2") + link("next", at+"?page=4"), "", at, 3, 4},
		{"the next thread is no page", link("canonical", at) + link("next", "https://brisk.example/t/warm?page=2"), "", at, 0, 0},
		{"links to other pages", link("canonical", at), `<nav><a href="/t/cold?page=2">2</a> <a href="/t/cold?page=9">9</a></nav>`, at, 1, 9},
		{"the current page", link("canonical", at), `<a aria-current="page">4</a> <a href="?page=6">6</a>`, at, 4, 6},
		{"the title", "<title>x</title>", `<h1>Brisk 3 stays cold - Page 4</h1>`, "", 4, 4},
		{"the address where it was saved", "", "", "https://brisk.example/t/9", 2, 2},
		{"a mail address is masked", link("canonical", at+"?u=ann%40brisk.example&t=1"), "", at + "?t=1", 0, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			doc := "<!DOCTYPE html>\n"
			if tt.name == "the address where it was saved" {
				doc += "<!-- saved from url=(0034)https://brisk.example/t/9?page=2 -->\n"
			}
			doc += "<html><head>" + tt.head + "</head><body>" + tt.body + twoPosts + "</body></html>"
			got, err := ingest.Read(ingest.File{Name: "a.html", Data: []byte(doc)}, ingest.Options{})
			require.NoError(t, err)
			require.Len(t, got, 1)
			assert.Equal(t, tt.url, got[0].URL)
			assert.Equal(t, tt.page, got[0].Page)
			assert.Equal(t, tt.pages, got[0].Pages)
			assert.NotContains(t, got[0].Title, "Page")
			require.Len(t, got[0].Posts, 2)
			assert.Equal(t, tt.page, got[0].Posts[1].Page)
		})
	}
}

func TestPageOfAPastedText(t *testing.T) {
	const posts = "ann\n1 March 2024, 09:00\nBrisk 3 stays cold.\n\nbo\n1 March 2024, 10:00\nRelay?\n"
	tests := []struct {
		name, text  string
		page, pages int
	}{
		{"a.txt", "Brisk 3 stays cold\nPage 2 of 5  < 1 2 3 >\n\n" + posts, 2, 5},
		{"a.txt", "Brisk 3 stays cold\nPage 2 of 5\n\n" + posts + "\nPage 3 of 5\n", 0, 0},
		{"a.txt", "Brisk 3 stays cold\n\n" + posts, 0, 0},
		{"a.md", "# Brisk 3 stays cold\n\nPage 2 of 5\n\n**ann** - 1 March 2024, 09:00\n\nIt is cold.\n\n**bo** - 1 March 2024, 10:00\n\nRelay?\n", 2, 5},
	}
	for _, tt := range tests {
		got, err := ingest.Read(ingest.File{Name: tt.name, Data: []byte(tt.text)}, ingest.Options{})
		require.NoError(t, err)
		require.Len(t, got, 1)
		assert.Equal(t, tt.page, got[0].Page, tt.text)
		assert.Equal(t, tt.pages, got[0].Pages, tt.text)
	}
}
