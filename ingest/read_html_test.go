package ingest_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
)

// readOne reads a file that holds one write-up.
func readOne(t *testing.T, name, data string) ingest.Thread {
	t.Helper()
	threads, err := ingest.Read(ingest.File{Name: name, Data: []byte(data)}, ingest.Options{})
	require.NoError(t, err)
	require.Len(t, threads, 1)
	return threads[0]
}

// shown gives "author: text" of each post, with the lines of the text joined by " / ".
func shown(thread ingest.Thread) []string {
	var out []string
	for _, p := range thread.Posts {
		text := strings.ReplaceAll(strings.ReplaceAll(p.Text, "\n\n", "\n"), "\n", " / ")
		out = append(out, p.Author+": "+text)
	}
	return out
}

func regionsOf(p ingest.Post, kind ingest.RegionKind) []string {
	var out []string
	for _, r := range p.Regions {
		if r.Kind == kind {
			out = append(out, strings.ReplaceAll(p.Text[r.Start:r.End], "\n", " / "))
		}
	}
	return out
}

func page(body string) string {
	return `<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Pump runs dry | Lantern Board</title></head><body>` +
		`<nav><a href="/">Home</a> <a href="/new">New posts, 3 May 2020</a></nav><h1>Pump runs dry</h1>` + body +
		`<footer>Lantern Board, all times are UTC. <a href="/privacy">Privacy</a></footer></body></html>`
}

func TestReadHTMLPosts(t *testing.T) {
	want := []string{
		"quill_9: The pump runs dry after ten minutes and code E6 is on the display.",
		"brassnut: Check the foot valve first, it is always the foot valve on these.",
		"quill_9: Foot valve was stuck. New one fitted and it has run for a week.",
	}
	text := func(i int) string { _, s, _ := strings.Cut(want[i], ": "); return s }
	tests := map[string]string{
		"one element per post": page(`<div class="m"><b class="nick">quill_9</b> <i>3 May 2020, 10:00</i><div class="t">` + text(0) + `</div><div class="x"><a href="#">Like</a> <a href="#">Quote</a></div></div>` +
			`<div class="m"><b class="nick">brassnut</b> <i>3 May 2020, 11:30</i><div class="t">` + text(1) + `</div><div class="x"><a href="#">Like</a> <a href="#">Quote</a></div></div>` +
			`<div class="sponsor">Sponsored: hoses of all lengths, next day</div>` +
			`<div class="m"><b class="nick">quill_9</b> <i>10 May 2020, 09:00</i><div class="t">` + text(2) + `</div><div class="x"><a href="#">Like</a> <a href="#">Quote</a></div></div>`),
		"rows of a layout table": page(`<table><tr><td class="h" colspan="2">03.05.2020, 10:00 <a href="#1">#1</a></td></tr><tr><td><b>quill_9</b><br>Posts: 12</td><td>` + text(0) + `</td></tr>` +
			`<tr><td class="h" colspan="2">03.05.2020, 11:30 <a href="#2">#2</a></td></tr><tr><td><b>brassnut</b><br>Posts: 3,101</td><td>` + text(1) + `</td></tr>` +
			`<tr><td colspan="2"><small>Advertisement</small><br>Hoses of all lengths</td></tr>` +
			`<tr><td class="h" colspan="2">10.05.2020, 09:00 <a href="#3">#3</a></td></tr><tr><td><b>quill_9</b><br>Posts: 13</td><td>` + text(2) + `</td></tr></table>`),
		"author after the text": page(`<ol><li><div>` + text(0) + `</div><p>&mdash; <a href="/u/1">quill_9</a>, Sunday, May 3, 2020 10:00</p></li>` +
			`<li><div>` + text(1) + `</div><p>&mdash; <a href="/u/2">brassnut</a>, Sunday, May 3, 2020 11:30</p></li>` +
			`<li><div>` + text(2) + `</div><p>&mdash; <a href="/u/1">quill_9</a>, Sunday, May 10, 2020 09:00</p></li></ol>`),
		"replies inside what they answer": page(`<div class="c"><p class="by"><a href="/u/1">quill_9</a> <time datetime="2020-05-03T10:00:00Z">3 May</time></p><div class="t">` + text(0) + `</div>` +
			`<div class="kids"><div class="c"><p class="by"><a href="/u/2">brassnut</a> <time datetime="2020-05-03T11:30:00Z">3 May</time></p><div class="t">` + text(1) + `</div>` +
			`<div class="kids"><div class="c"><p class="by"><a href="/u/1">quill_9</a> <time datetime="2020-05-10T09:00:00Z">10 May</time></p><div class="t">` + text(2) + `</div></div></div></div></div></div>`),
		"definition list":                   page(`<dl><dt>quill_9, 3 May 2020 at 10:00</dt><dd>` + text(0) + `</dd><dt>brassnut, 3 May 2020 at 11:30</dt><dd>` + text(1) + `</dd><dt>quill_9, 10 May 2020 at 09:00</dt><dd>` + text(2) + `</dd></dl>`),
		"headings between loose paragraphs": page(`<h3>quill_9 wrote on 3 May 2020 10:00</h3><p>` + text(0) + `</p><h3>brassnut wrote on 3 May 2020 11:30</h3><p>` + text(1) + `</p><h3>quill_9 wrote on 10 May 2020 09:00</h3><p>` + text(2) + `</p>`),
		"exact time only in an attribute": page(`<section><span class="w">quill_9</span><span class="r">Helper</span><span title="2020-05-03T10:00:00+00:00">3 May</span><div>` + text(0) + `</div></section>` +
			`<section><span class="w">brassnut</span><span class="r"></span><span title="2020-05-03T11:30:00+00:00">3 May</span><div>` + text(1) + `</div></section>` +
			`<section><span class="w">quill_9</span><span class="r">Helper</span><span title="2020-05-10T09:00:00+00:00">10 May</span><div>` + text(2) + `</div></section>`),
		"microdata": page(`<div itemscope itemtype="https://schema.org/DiscussionForumPosting"><div><span itemprop="author" itemscope itemtype="https://schema.org/Person"><span itemprop="name">quill_9</span></span> <time itemprop="datePublished" datetime="2020-05-03T10:00:00Z">3 May</time></div><div itemprop="text">` + text(0) + `</div>` +
			`<div itemprop="comment" itemscope itemtype="https://schema.org/Comment"><div itemprop="text">` + text(1) + `</div><div><meta itemprop="datePublished" content="2020-05-03T11:30:00Z"><span itemprop="author" itemscope itemtype="https://schema.org/Person"><meta itemprop="name" content="brassnut"></span></div></div>` +
			`<div itemprop="comment" itemscope itemtype="https://schema.org/Comment"><span itemprop="author">quill_9</span> <time itemprop="datePublished">2020-05-10 09:00</time><div itemprop="text"><p>` + text(2) + `</p></div><div><a href="#">reply</a> <a href="#">flag</a></div></div></div>`),
		"metadata only": page(`<div id="app"></div><script type="application/ld+json">{"@context":"https://schema.org","@graph":[{"@type":"WebSite","name":"Lantern Board"},{"@type":["DiscussionForumPosting"],"headline":"Pump runs dry","author":{"@type":"Person","name":"quill_9"},"datePublished":"2020-05-03T10:00:00Z","text":"` + text(0) +
			`","comment":[{"@type":"Comment","author":{"name":"brassnut"},"datePublished":"2020-05-03T11:30:00Z","text":"<p>` + text(1) + `<\/p>"},{"@type":"Comment","author":[{"name":"quill_9"}],"datePublished":"2020-05-10T09:00:00Z","text":"` + text(2) + `"}]}]}</script>`),
		"question and answers as metadata, accepted one first": page(`<script type="application/ld+json">{"@type":"QAPage","mainEntity":{"@type":"Question","name":"Pump runs dry","author":{"name":"quill_9"},"dateCreated":"2020-05-03T10:00:00Z","text":"` + text(0) +
			`","acceptedAnswer":{"@type":"Answer","author":{"name":"quill_9"},"dateCreated":"2020-05-10T09:00:00Z","text":"` + text(2) + `"},"suggestedAnswer":[{"@type":"Answer","author":{"name":"brassnut"},"dateCreated":"2020-05-03T11:30:00Z","text":"` + text(1) + `"}]}}</script>`),
	}
	for name, data := range tests {
		t.Run(name, func(t *testing.T) {
			thread := readOne(t, "thread.html", data)
			assert.Equal(t, want, shown(thread))
			assert.Equal(t, ingest.KindThread, thread.Kind)
			assert.Equal(t, "Pump runs dry", thread.Title)
			assert.Equal(t, "en", thread.Language)
			for i, posted := range []time.Time{time.Date(2020, 5, 3, 10, 0, 0, 0, time.UTC), time.Date(2020, 5, 3, 11, 30, 0, 0, time.UTC), time.Date(2020, 5, 10, 9, 0, 0, 0, time.UTC)} {
				assert.True(t, posted.Equal(thread.Posts[i].Time), "post %d: %v", i+1, thread.Posts[i].Time)
				assert.Equal(t, i+1, thread.Posts[i].N)
			}
		})
	}
}

func TestReadHTMLLeavesOutWhatNobodySees(t *testing.T) {
	tests := map[string]string{
		"own style":             `<p style="display: none">gone</p>`,
		"visibility":            `<p style="visibility:hidden">gone</p>`,
		"attribute":             `<p hidden>gone</p>`,
		"for screen readers":    `<p aria-hidden="true">gone</p>`,
		"comment":               `<!-- gone -->`,
		"script":                `<script>document.write("gone")</script>`,
		"template":              `<template><p>gone</p></template>`,
		"style sheet":           `<style>.zz, .yy{display:none}</style><p class="a yy">gone</p>`,
		"style sheet, nested":   `<style>@media screen{.box > .zz{position:absolute;left:-9999px}}</style><div class="box"><p class="zz">gone</p></div>`,
		"font of no size":       `<span style="font-size:0">gone</span>`,
		"text of no colour":     `<span style="color: transparent">gone</span>`,
		"box of no size":        `<div style="height:0;overflow:hidden">gone</div>`,
		"alternative of script": `<noscript>gone</noscript>`,
		"button":                `<button>gone</button>`,
	}
	for name, hidden := range tests {
		t.Run(name, func(t *testing.T) {
			thread := readOne(t, "page.html", page(`<main><p>The relay sticks.</p>`+hidden+`<p>New relay fitted.</p></main>`))
			require.Len(t, thread.Posts, 1)
			assert.NotContains(t, thread.Posts[0].Text, "gone")
			assert.Contains(t, thread.Posts[0].Text, "The relay sticks.")
			assert.Contains(t, thread.Posts[0].Text, "New relay fitted.")
		})
	}
}

func TestReadHTMLShowsAgainWhatAPrintSheetHides(t *testing.T) {
	thread := readOne(t, "page.html", page(`<style>@media print{p{display:none}} .zz{display:none} .zz{display:block}</style><main><p class="zz">The relay sticks.</p></main>`))
	assert.Contains(t, thread.Posts[0].Text, "The relay sticks.")
}

func TestReadHTMLQuotesSignaturesEdits(t *testing.T) {
	data := page(`<div class="m"><b>quill_9</b> <i>3 May 2020, 10:00</i><div class="t"><p>Flow is 11 l/min and E6 comes.</p><ul><li>strainer clean</li><li>air bled</li></ul></div><div class="sign">Brisk 3 / Mica estate</div></div>` +
		`<div class="m"><b>brassnut</b> <i>3 May 2020, 11:30</i><div class="t"><blockquote><cite>quill_9 said:</cite> Flow is 11 l/min</blockquote><p>Too low by half.</p></div></div>` +
		`<div class="m"><b>oldhand</b> <i>4 May 2020, 11:30</i><div class="t"><div class="quotebox">Quote:<div>Originally posted by <b>brassnut</b></div><div>Too low by half.</div></div>Pump speed?<br>Set it to three.</div></div>` +
		`<div class="m"><b>quill_9</b> <i>5 May 2020, 09:00</i><div class="t"><blockquote>Set it to three.</blockquote><p>Did that, 22 l/min.</p><p>____________</p><p>Brisk 3 / Mica estate</p></div></div>` +
		`<div class="m"><b>brassnut</b> <i>5 May 2020, 10:00</i><div class="t"><p>There you go, told you so.</p><div>Last edited by brassnut on 6 May 2020: it was the pump after all.</div></div></div>`)
	posts := readOne(t, "thread.html", data).Posts
	require.Len(t, posts, 5)
	assert.Equal(t, []string{"strainer clean", "air bled"}, regionsOf(posts[0], ingest.RegionItem))
	assert.Equal(t, []string{"Brisk 3 / Mica estate"}, regionsOf(posts[0], ingest.RegionSignature))
	assert.Equal(t, []string{"quill_9 said: Flow is 11 l/min"}, regionsOf(posts[1], ingest.RegionQuote))
	assert.Equal(t, "quill_9", posts[1].Regions[0].Author)
	assert.Equal(t, []string{"Originally posted by brassnut / Too low by half."}, regionsOf(posts[2], ingest.RegionQuote))
	assert.Equal(t, "brassnut", posts[2].Regions[0].Author)
	assert.True(t, strings.HasSuffix(posts[2].Text, "Pump speed?\nSet it to three."), posts[2].Text)
	assert.Equal(t, []string{"Set it to three."}, regionsOf(posts[3], ingest.RegionQuote))
	assert.Equal(t, "oldhand", posts[3].Regions[0].Author, "told by whose words they are")
	assert.Equal(t, []string{"Brisk 3 / Mica estate"}, regionsOf(posts[3], ingest.RegionSignature))
	assert.Equal(t, []string{"Last edited by brassnut on 6 May 2020: it was the pump after all."}, regionsOf(posts[4], ingest.RegionEdit))
}

func TestReadHTMLFindsQuotesInMetadataText(t *testing.T) {
	data := page(`<script type="application/ld+json">{"@type":"DiscussionForumPosting","headline":"Pump runs dry","url":"HTTPS://Board.Lantern.example/t/12/page-2?utm_source=x#post-3","author":{"name":"quill_9"},"datePublished":"2020-05-03T10:00:00Z","text":"It is the pack, 99% sure.\n\nSave up.","license":"CC BY-SA 4.0",
"comment":[{"@type":"Comment","author":{"name":"brassnut"},"datePublished":"2020-05-03T11:30:00Z","text":"quill_9 said:\n\nIt is the pack, 99% sure.\n\nPlease no, it follows the heater."}]}</script>`)
	thread := readOne(t, "thread.html", data)
	require.Len(t, thread.Posts, 2)
	assert.Equal(t, "https://board.lantern.example/t/12", thread.URL)
	assert.Equal(t, thread.URL, thread.Key)
	assert.Equal(t, "CC BY-SA 4.0", thread.Licence)
	require.Len(t, thread.Posts[1].Regions, 1)
	assert.Equal(t, "quill_9", thread.Posts[1].Regions[0].Author)
	assert.Equal(t, []string{"quill_9 said: /  / It is the pack, 99% sure."}, regionsOf(thread.Posts[1], ingest.RegionQuote))
}

func TestReadHTMLTablesAndCode(t *testing.T) {
	thread := readOne(t, "page.html", page(`<main><h2>Readings</h2><table><tr><th>Point</th><th>Value</th></tr><tr><td>coil</td><td>84&nbsp;&Omega;</td></tr></table><pre>P1B77 stored
 P0A3F pending</pre><p>R<sub>iso</sub> is&shy; low</p></main>`))
	post := thread.Posts[0]
	assert.Equal(t, []string{"Point | Value", "coil | 84 Ω"}, regionsOf(post, ingest.RegionCell))
	assert.Equal(t, []string{"P1B77 stored / P0A3F pending"}, regionsOf(post, ingest.RegionCode))
	assert.Contains(t, regionsOf(post, ingest.RegionHeading), "Readings")
	assert.True(t, strings.HasSuffix(post.Text, "Riso is low"), post.Text)
}

func TestReadHTMLRefusesDeepNesting(t *testing.T) {
	_, err := ingest.Read(ingest.File{Name: "deep.html", Data: []byte("<!doctype html><body>" + strings.Repeat("<div>", 300) + "text")}, ingest.Options{})
	assert.ErrorContains(t, err, "deep.html: elements nested more than 200 deep")
}

// checkThreads holds what is true of every write-up that was read: regions lie in their text, posts are numbered and
// hold text, and nothing is left to mask.
func checkThreads(t *testing.T, threads []ingest.Thread) {
	t.Helper()
	for _, thread := range threads {
		require.NotEmpty(t, thread.Key)
		require.NotEmpty(t, thread.Posts)
		for i, p := range thread.Posts {
			require.Equal(t, i+1, p.N)
			require.NotEmpty(t, strings.TrimSpace(p.Text))
			again, _ := ingest.Mask(p.Text)
			require.Equal(t, p.Text, again)
			last := 0
			for _, r := range p.Regions {
				require.True(t, r.Start >= last && r.Start < r.End && r.End <= len(p.Text), "%+v in %d bytes", r, len(p.Text))
				last = r.Start
			}
		}
	}
}

func FuzzReadHTML(f *testing.F) {
	f.Add(`<div><b>quill</b> <i>3 May 2020</i><p>text one here</p></div><div><b>nut</b> <i>4 May 2020</i><blockquote>text one</blockquote>two</div>`)
	f.Add(`<script type="application/ld+json">{"@type":"Question","text":"a b c","suggestedAnswer":[{"@type":"Answer","text":"<p>d"}]}</script>`)
	f.Add(`<div itemscope itemtype="schema.org/Comment"><p itemprop=text>x<p itemprop=author>y</div><style>.a .b{display:none}@media{`)
	f.Add(`<table><tr><td>1<td>2<tr><td hidden>3</table><pre>
 a`)
	f.Fuzz(func(t *testing.T, data string) {
		threads, err := ingest.Read(ingest.File{Name: "f.html", Data: []byte(data)}, ingest.Options{})
		if err == nil {
			checkThreads(t, threads)
		}
	})
}
