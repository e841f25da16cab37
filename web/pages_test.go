package web_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/jba/templatecheck"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"ruledout/internal/casebook"
	"ruledout/internal/testkit"
	"ruledout/web"
)

var (
	demoOnce sync.Once
	demoBook *casebook.Book
	demoErr  error
	demoDir  string
)

func TestMain(m *testing.M) {
	code := m.Run()
	if browserEnd != nil {
		browserEnd()
	}
	if demoBook != nil {
		_ = demoBook.Close()
		_ = os.RemoveAll(demoDir)
	}
	os.Exit(code)
}

// book gives the demo's book, made once.
func book(t testing.TB) *casebook.Book {
	t.Helper()
	demoOnce.Do(func() {
		if demoDir, demoErr = os.MkdirTemp("", "ruledout-pages-"); demoErr == nil {
			demoBook, demoErr = testkit.DemoBook(context.Background(), demoDir)
		}
	})
	require.NoError(t, demoErr)
	return demoBook
}

func server(t testing.TB, log io.Writer) *httptest.Server {
	t.Helper()
	opt := web.Options{}
	if log != nil {
		opt.Log = slog.New(slog.NewTextHandler(log, nil))
	}
	h, err := web.New(book(t), opt)
	require.NoError(t, err)
	s := httptest.NewServer(h)
	t.Cleanup(s.Close)
	return s
}

// page is an answer of the server, parsed.
type page struct {
	status int
	body   string
	header http.Header
	root   *html.Node
}

func answer(t require.TestingT, r *http.Response, err error) page {
	require.NoError(t, err)
	defer r.Body.Close()
	body, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	root, err := html.Parse(bytes.NewReader(body))
	require.NoError(t, err)
	return page{r.StatusCode, string(body), r.Header, root}
}

func get(t require.TestingT, s *httptest.Server, path string) page {
	r, err := http.Get(s.URL + path)
	return answer(t, r, err)
}

func post(t require.TestingT, s *httptest.Server, form url.Values) page {
	r, err := http.PostForm(s.URL+"/", form)
	return answer(t, r, err)
}

// holds and lacks check the page's text without printing all of it.
func (p page) holds(t assert.TestingT, want string) {
	assert.True(t, strings.Contains(p.body, want), "the page holds %q", want)
}

func (p page) lacks(t assert.TestingT, bad string) {
	assert.False(t, strings.Contains(p.body, bad), "the page does not hold %q", bad)
}

// fields gives the values of the form's fields by name.
func (p page) fields() url.Values {
	v := url.Values{}
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		name := attr(n, "name")
		switch {
		case n.Type != html.ElementNode || name == "" || slices.Contains([]string{"checkbox", "radio"}, attr(n, "type")) && !has(n, "checked"):
		case n.Data == "input":
			v.Add(name, attr(n, "value"))
		case n.Data == "textarea":
			v.Add(name, text(n))
		case n.Data == "select":
			v.Add(name, chosen(n))
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(p.root)
	return v
}

func chosen(n *html.Node) string {
	first, found := "", false
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.Data != "option" {
			continue
		}
		if !found {
			first, found = attr(c, "value"), true
		}
		for _, a := range c.Attr {
			if a.Key == "selected" {
				return attr(c, "value")
			}
		}
	}
	return first
}

func has(n *html.Node, key string) bool {
	return slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == key })
}

func attr(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

func text(n *html.Node) string {
	if n.Type == html.TextNode {
		return n.Data
	}
	s := ""
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		s += text(c)
	}
	return s
}

// links gives the addresses of the page's links that begin with a prefix.
func (p page) links(prefix string) []string {
	var out []string
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode && n.Data == "a" && strings.HasPrefix(attr(n, "href"), prefix) {
			out = append(out, attr(n, "href"))
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(p.root)
	return out
}

// Every template fits the struct of its page.
func TestTemplatesFitTheirPages(t *testing.T) {
	set, structs, err := web.CheckedPages()
	require.NoError(t, err)
	require.Len(t, set, len(structs))
	for name, tmpl := range set {
		assert.NoError(t, templatecheck.CheckHTML(tmpl, structs[name]), name)
	}
}

const asked = "P0087 on a Halden Brisk 3 2018. Loss of power. Replaced the fuel filter, no change."

func TestLookUp(t *testing.T) {
	s := server(t, nil)
	p := post(t, s, url.Values{"q": {asked}})
	require.Equal(t, http.StatusOK, p.status)
	f := p.fields()
	assert.Equal(t, "Halden Brisk 3 2018", f.Get("machine"))
	assert.Contains(t, f["code"], "P0087")
	assert.Contains(t, f["tried"], "replace fuel filter")
	assert.Empty(t, strings.TrimSpace(f.Get("q")), "the words have become facts")
	for _, want := range []string{"Cautions", "Ruled out", "Do next", "Repairs on record", "something else", "Counted from", "lift pump"} {
		p.holds(t, want)
	}
	order := []string{`id="cautions"`, `id="out"`, `id="next"`, `id="record"`, `id="basis"`}
	for i := 1; i < len(order); i++ {
		assert.Less(t, strings.Index(p.body, order[i-1]), strings.Index(p.body, order[i]), "%s comes before %s", order[i-1], order[i])
	}
	assert.NotEmpty(t, p.links("/case/"), "cases are cited")
}

// A passed test beside a step, and a typed reading, re-rank: what the test clears falls.
func TestMarkingATestReRanks(t *testing.T) {
	s := server(t, nil)
	p := post(t, s, url.Values{"q": {asked}})
	f := p.fields()
	f.Set("mark", "pass|pressure test|lift pump")
	again := post(t, s, f)
	require.Equal(t, http.StatusOK, again.status)
	assert.Contains(t, again.fields()["test"], "pressure test of lift pump")
	assert.Contains(t, again.fields()["result"], "pass")
	before, after := shareOf(t, p, "lift pump"), shareOf(t, again, "lift pump")
	assert.Less(t, after, before/2)
	assert.Equal(t, f.Get("machine"), again.fields().Get("machine"), "what was known stays")

	f = again.fields()
	f["test"][len(f["test"])-1], f["reading"][len(f["reading"])-1] = "coil resistance of heater relay", "300 ohm limit 75 to 95 ohm"
	read := post(t, s, f)
	read.holds(t, "does not conform: within 75 to 95 ohm")
}

// shareOf gives a culprit's probability as the table shows it, in per cent.
func shareOf(t *testing.T, p page, culprit string) float64 {
	t.Helper()
	i := strings.Index(p.body, `<th scope="row">`+culprit+`<br>`)
	require.GreaterOrEqual(t, i, 0, culprit)
	rest := p.body[i:]
	rest = rest[strings.Index(rest, `<td class="n">`)+len(`<td class="n">`):]
	var v float64
	_, err := fmt.Sscanf(strings.TrimPrefix(html.UnescapeString(rest), "<"), "%g", &v)
	require.NoError(t, err)
	return v
}

// What cannot be read comes back as typed, with what was expected, and the rest is answered.
func TestNothingTypedIsLost(t *testing.T) {
	s := server(t, nil)
	p := post(t, s, url.Values{
		"q": {"P0087"}, "test": {"no such form", "pressure test of lift pump"}, "result": {"pass", ""}, "reading": {"", "4.7 bananas"},
		"tried": {"frobnicated the relay"}, "outcome": {"no change"}, "code": {"not-a-code-at-all!"},
	})
	require.Equal(t, http.StatusOK, p.status)
	f := p.fields()
	assert.Contains(t, f["test"], "no such form")
	assert.Contains(t, f["test"], "pressure test of lift pump")
	assert.Contains(t, f["reading"], "4.7 bananas")
	assert.Contains(t, f["tried"], "frobnicated the relay")
	p.holds(t, "is no unit that is known")
	p.holds(t, "want TEST of COMPONENT")
	p.holds(t, "Repairs on record")
}

// Hostile and odd input is shown as text and breaks nothing.
func TestHostileInput(t *testing.T) {
	s := server(t, nil)
	for _, evil := range []string{`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, "\x00\xff\xfe", strings.Repeat("P0087 ", 3000), "{{.}}", "'; DROP TABLE cases; --", "%00%0d%0aSet-Cookie: x"} {
		p := post(t, s, url.Values{"q": {evil}, "machine": {evil}, "code": {evil}, "symptom": {evil}, "test": {evil}, "reading": {evil}, "tried": {evil}})
		assert.Less(t, p.status, 500, evil[:min(20, len(evil))])
		p.lacks(t, "<script>alert")
		p.lacks(t, "<img src=x")
		p = get(t, s, "/find?q="+url.QueryEscape(evil))
		assert.Less(t, p.status, 500)
		p.lacks(t, "<script>alert")
		for _, path := range []string{"/case/", "/code/"} {
			p = get(t, s, path+url.PathEscape(evil[:min(40, len(evil))]))
			assert.Less(t, p.status, 500, path)
		}
	}
	big := post(t, s, url.Values{"q": {strings.Repeat("x", 400<<10)}})
	assert.Equal(t, http.StatusBadRequest, big.status)
	big.holds(t, "longer than")
}

// An address says nothing private, and the log says nothing of what was asked.
func TestNothingPrivateLeaks(t *testing.T) {
	var log bytes.Buffer
	s := server(t, &log)
	p := post(t, s, url.Values{"q": {"P0087. Mail me at jo.smith@example.org, VIN 1M8GDM9AXKP042788"}})
	link := p.links("/?q=")
	require.Len(t, link, 1)
	plain, err := url.QueryUnescape(link[0])
	require.NoError(t, err)
	assert.NotContains(t, plain, "jo.smith")
	assert.NotContains(t, plain, "1M8GDM9AXKP042788")
	get(t, s, "/?q=private+words+of+mine")
	assert.NotContains(t, log.String(), "private")
	assert.NotContains(t, log.String(), "jo.smith")
	assert.Contains(t, log.String(), "query=masked")
	assert.Equal(t, "same-origin", p.header.Get("Referrer-Policy"))
	assert.Contains(t, p.header.Get("Content-Security-Policy"), "default-src 'self'")
}

// The link to a look-up leads to the same answer.
func TestALinkReadsBack(t *testing.T) {
	s := server(t, nil)
	p := post(t, s, url.Values{"q": {asked}})
	again := get(t, s, p.links("/?q=")[0])
	assert.Equal(t, p.fields()["code"], again.fields()["code"])
	assert.Equal(t, p.fields().Get("machine"), again.fields().Get("machine"))
	assert.Equal(t, p.fields()["tried"], again.fields()["tried"])
}

// A code that no case has gets its structure, the nearest cases by words, and no invented repair.
func TestNoCaseForThisCode(t *testing.T) {
	s := server(t, nil)
	p := post(t, s, url.Values{"q": {"P0740 Halden Brisk 3 2018, loss of power"}})
	p.holds(t, "no published case has this code")
	p.holds(t, "Nearest by words")
	p.holds(t, "SAE J2012")
}

func TestCasePage(t *testing.T) {
	s := server(t, nil)
	p := post(t, s, url.Values{"q": {asked}})
	for _, path := range p.links("/case/")[:3] {
		c := get(t, s, path)
		require.Equal(t, http.StatusOK, c.status, path)
		for _, want := range []string{"What fixed it", "What was done, in order", "Sources", "History"} {
			c.holds(t, want)
		}
		for _, a := range c.links("#w-") {
			c.holds(t, `id="`+strings.TrimPrefix(a, "#")+`"`) // a fact leads to its words
		}
	}
	assert.Equal(t, http.StatusNotFound, get(t, s, "/case/nothing").status)
}

func TestCodePage(t *testing.T) {
	s := server(t, nil)
	p := get(t, s, "/code/P0087")
	require.Equal(t, http.StatusOK, p.status)
	for _, want := range []string{"SAE J2012", "published cases have this code", "Tests that tell most", "tells, bit", "Which test separates which culprits", "By make and model", "Halden Brisk 3", "Open questions", "Cautions"} {
		p.holds(t, want)
	}
	own := get(t, s, "/code/P1B77")
	assert.NotEmpty(t, own.links("/code/halden/"), "the makers that use it are named")
	own.lacks(t, "Repairs on record") // before the maker is named nothing is told of other makers' codes
	get(t, s, "/code/halden/P1B77").holds(t, "of Halden")
	get(t, s, "/code/halden/P0087").lacks(t, "of Halden") // the standard's, whoever built the machine
	assert.Equal(t, http.StatusBadRequest, get(t, s, "/code/!!!").status)
}

func TestFindPage(t *testing.T) {
	s := server(t, nil)
	p := get(t, s, "/find?q=pump")
	require.NotEmpty(t, p.links("/case/"))
	more := p.links("/find?")
	require.NotEmpty(t, more)
	for _, a := range more {
		narrowed := get(t, s, a)
		assert.Equal(t, http.StatusOK, narrowed.status, a)
		assert.NotEmpty(t, narrowed.links("/case/"), "%s: what is counted is found", a)
	}
	get(t, s, "/find?q=zzzzzz").holds(t, "Nothing was found")
}

// Every field that counts in a choice can be narrowed by, each value has its address, and a choice can be taken away again.
func TestNarrowingASearch(t *testing.T) {
	s := server(t, nil)
	all := get(t, s, "/find?q=")
	for _, field := range []string{"code", "make", "model", "kind", "component", "action", "confirmation", "year", "status"} {
		links := all.links("/find?q=" + field + "%3A")
		require.NotEmpty(t, links, field)
		p := get(t, s, links[0])
		assert.NotEmpty(t, p.links("/case/"), field)
		p.holds(t, "take away")
		assert.Contains(t, p.links("/find?"), "/find?q=", "without it everything is found again")
	}
	p := get(t, s, "/find?q="+url.QueryEscape(`pump make:halden -model:"brisk 2" water`))
	for _, want := range []string{"make: halden", "not model: brisk 2"} {
		p.holds(t, want)
	}
	assert.Contains(t, p.links("/find?"), "/find?q="+url.QueryEscape(`pump -model:"brisk 2" water`))
	assert.Contains(t, p.links("/find?"), "/find?q="+url.QueryEscape("pump make:halden water"))
}

// tracked gives the track record once it is made; each look waits a little for it.
func tracked(t *testing.T, s *httptest.Server) page {
	t.Helper()
	for range 60 {
		if p := get(t, s, "/track"); !strings.Contains(p.body, "Look again") {
			return p
		}
	}
	require.Fail(t, "the track record is not made in two minutes")
	return page{}
}

func TestTrackRecord(t *testing.T) {
	s := server(t, nil)
	p := tracked(t, s)
	for _, want := range []string{"most frequent culprit of the code", "vote of the nearest texts", "Expected calibration error", "log position"} {
		p.holds(t, want)
	}
}

// Pages stay light: under 60 kB each, script and style included.
func TestPageWeight(t *testing.T) {
	s := server(t, nil)
	shared := len(get(t, s, "/static/style.css").body) + len(get(t, s, "/static/again.js").body)
	for _, p := range []page{post(t, s, url.Values{"q": {asked}}), get(t, s, "/code/P0087"), get(t, s, "/find?q=pump"), tracked(t, s)} {
		assert.Less(t, len(p.body)+shared, 60_000)
	}
}

// Found words are marked in the hits, and never more than a short piece of text is shown.
func TestFoundWordsAreMarked(t *testing.T) {
	found, err := book(t).Find(t.Context(), "strainer", casebook.FindOptions{Size: 20, Words: true})
	require.NoError(t, err)
	marked := 0
	for _, h := range found.Hits {
		all := ""
		for _, w := range h.Words {
			all += w.Text
			if w.Found {
				marked++
				assert.Contains(t, strings.ToLower(w.Text), "strain")
			}
		}
		assert.LessOrEqual(t, len(all), casebook.QuoteLimit)
	}
	assert.Positive(t, marked)
	s := server(t, nil)
	get(t, s, "/find?q=strainer").holds(t, "<mark>")
}
