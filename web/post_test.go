package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
	"pgregory.net/rapid"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/web"
)

// A post is shown with the structure that it had, the words of facts marked across it.
func TestAPostIsShownWithItsStructure(t *testing.T) {
	text := "Checks\n\nfuse, good\nrelay | 84 ohm\nplug | 0 V\n\nHe said:\ntry the relay\n\nP1B77 stored\n  set again\n\nbye"
	at := func(s string) (int, int) { i := strings.Index(text, s); return i, i + len(s) }
	region := func(kind ingest.RegionKind, s, author string) ingest.Region {
		a, b := at(s)
		return ingest.Region{Start: a, End: b, Kind: kind, Author: author}
	}
	span := func(s string) kb.Evidence {
		a, b := at(s)
		return kb.Evidence{Writeup: "w", Post: 1, Start: a, End: b, Quote: s}
	}
	out := web.PostHTML(text, []ingest.Region{region(ingest.RegionHeading, "Checks", ""), region(ingest.RegionItem, "fuse, good", ""), region(ingest.RegionCell, "relay | 84 ohm", ""),
		region(ingest.RegionCell, "plug | 0 V", ""), region(ingest.RegionQuote, "try the relay", "Fern"), region(ingest.RegionCode, "P1B77 stored\n  set again", ""), region(ingest.RegionSignature, "bye", "")},
		[]kb.Evidence{span("84 ohm"), span("good\nrelay | 84"), span("0 V")})
	want := `<p><strong>Checks</strong></p><ul><li>fuse, <mark id="w-w-1-14">good</mark></li></ul>` +
		`<table><tbody><tr><td><mark>relay</mark></td><td><mark><span id="w-w-1-27"></span>84 ohm</mark></td></tr><tr><td>plug</td><td><mark id="w-w-1-41">0 V</mark></td></tr></tbody></table>` +
		`<p>He said:</p><blockquote><p class="note">Fern:</p><p>try the relay</p></blockquote><pre>P1B77 stored` + "\n  set again</pre>" + `<p class="note">bye</p>`
	assert.Equal(t, want, out)
}

// drawPost draws a text with regions and spans, some of which fit.
func drawPost(t *rapid.T) (string, []ingest.Region, []kb.Evidence) {
	s := rapid.StringMatching(`([a-z<&"é*_#|] ?|\n|\n\n| \| ){0,40}`).Draw(t, "text")
	offset := func(name string) int { return rapid.IntRange(-2, len(s)+2).Draw(t, name) }
	kinds := []ingest.RegionKind{ingest.RegionQuote, ingest.RegionItem, ingest.RegionCell, ingest.RegionCode, ingest.RegionHeading, ingest.RegionField, ingest.RegionMasked, ingest.RegionEdit}
	var regions []ingest.Region
	for i := range rapid.IntRange(0, 5).Draw(t, "regions") {
		regions = append(regions, ingest.Region{Start: offset(fmt.Sprint("region from", i)), End: offset(fmt.Sprint("region to", i)), Kind: rapid.SampledFrom(kinds).Draw(t, fmt.Sprint("kind", i))})
	}
	var spans []kb.Evidence
	for i := range rapid.IntRange(0, 6).Draw(t, "spans") {
		e := kb.Evidence{Writeup: "w", Post: 1, Start: offset(fmt.Sprint("from", i)), End: offset(fmt.Sprint("to", i)), Quote: "edited since"}
		if e.Start >= 0 && e.End <= len(s) && e.Start < e.End && rapid.Bool().Draw(t, fmt.Sprint("fits", i)) {
			e.Quote = s[e.Start:e.End]
		}
		spans = append(spans, e)
	}
	return s, regions, spans
}

// letters leaves out what a block may stand for: space, and the signs between the cells of a table.
func letters(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToValidUTF8(s, ""), func(r rune) bool { return r == '|' || r <= ' ' }), "")
}

// However regions and spans lie, every letter of a post is shown once and in order, every fitting span has its one place, and every fitting
// span's letters are marked.
func TestShowingAPostLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, regions, spans := drawPost(t)
		out := web.PostHTML(s, regions, spans)
		root, err := html.Parse(strings.NewReader("<div>" + out + "</div>"))
		require.NoError(t, err)
		require.Equal(t, letters(s), letters(text(root)))
		ids, marked := map[string]int{}, ""
		var walk func(n *html.Node, in bool)
		walk = func(n *html.Node, in bool) {
			in = in || n.Data == "mark" && n.Type == html.ElementNode
			if n.Type == html.TextNode && in {
				marked += n.Data
			}
			if id := attr(n, "id"); id != "" {
				ids[id]++
			}
			for c := n.FirstChild; c != nil; c = c.NextSibling {
				walk(c, in)
			}
		}
		walk(root, false)
		places, covered := map[string]bool{}, make([]bool, len(s))
		for _, e := range spans {
			if e.Start >= 0 && e.End <= len(s) && e.Start < e.End && s[e.Start:e.End] == e.Quote {
				places[fmt.Sprintf("w-w-1-%d", e.Start)] = true
				for i := e.Start; i < e.End; i++ {
					covered[i] = true
				}
			}
		}
		for id := range places {
			require.Equal(t, 1, ids[id], id)
		}
		require.Len(t, ids, len(places))
		var want strings.Builder
		for i := range len(s) {
			if covered[i] {
				want.WriteByte(s[i])
			}
		}
		require.Equal(t, letters(want.String()), letters(marked))
	})
}

// Nothing that somebody wrote is markup.
func TestAHostilePostIsText(t *testing.T) {
	for _, evil := range []string{"<script>alert(1)</script>", "[x](javascript:alert(1))", "![x](http://example.org/x.png)", `<img src=x onerror=alert(1)>`, "<!-- hidden -->", "<style>*{display:none}</style>", "&lt;b&gt;"} {
		out := web.PostHTML(evil, []ingest.Region{{Start: 0, End: len(evil), Kind: ingest.RegionField, Name: evil}, {Start: 0, End: 3, Kind: ingest.RegionQuote, Author: evil}}, nil)
		root, err := html.Parse(strings.NewReader(out))
		require.NoError(t, err)
		for _, tag := range []string{"script", "img", "style", "a"} {
			assert.Nil(t, firstNode(root, func(n *html.Node) bool { return n.Data == tag }), evil)
		}
		assert.Contains(t, text(root), evil)
	}
}

func FuzzPost(f *testing.F) {
	f.Add("a | b\n\nc", 0, 5, "cell", 2, 7)
	f.Fuzz(func(t *testing.T, s string, from, to int, kind string, start, end int) {
		var spans []kb.Evidence
		if start >= 0 && end <= len(s) && start < end {
			spans = []kb.Evidence{{Writeup: "w", Post: 1, Start: start, End: end, Quote: s[start:end]}}
		}
		out := web.PostHTML(s, []ingest.Region{{Start: from, End: to, Kind: ingest.RegionKind(kind), Name: s}}, spans)
		if strings.Count(out, `id="`) != len(spans) {
			t.Fatalf("%d places of %d spans in %q", strings.Count(out, `id="`), len(spans), out)
		}
	})
}

// A text without a licence is the moderators' alone; its facts and short quotes are everybody's.
func TestATextWithoutALicence(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	const story = "# P1B77 on my van\n\nHalden Brisk 3 2019, code P1B77, no cabin heat. Replaced the heater relay and the heat is back. A word that is in no fact: periwinkle.\n"
	var id kb.CaseID
	files := func(yield func(ingest.File, error) bool) {
		yield(ingest.File{Name: "story.md", Data: []byte(story)}, nil)
	}
	require.NoError(t, w.book.Add(t.Context(), keeper, files, casebook.AddOptions{Accept: true}, func(r casebook.FileReport) error {
		require.NoError(t, r.Err)
		require.NotEmpty(t, r.Cases)
		id = r.Cases[0].Case.ID
		return nil
	}))
	path := "/case/" + url.PathEscape(string(id))
	for _, v := range []*visitor{w.stranger(), w.person("quill", casebook.Contributor)} {
		p := v.get(path)
		require.Equal(t, http.StatusOK, p.status)
		p.holds(t, "only facts and short quotes are shown")
		p.lacks(t, "periwinkle")
	}
	p := w.person("fern", casebook.Moderator).get(path)
	p.holds(t, "periwinkle")
	p.holds(t, "shown to moderators alone")
}
