package ingest_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/charmap"

	"ruledout/ingest"
)

// told are the posts of one made-up thread, which the tests put into many forms.
var told = []struct{ who, when, iso, what string }{
	{"ann_k", "12 Mar 2021, 09:14", "2021-03-12T09:14:00Z", "2017 Halden Brisk 3, P1B77 and no cabin heat since Monday. Any ideas what to look at next?"},
	{"bolt99", "12 Mar 2021, 10:40", "2021-03-12T10:40:00Z", "Check the heater relay, it sits behind the glove box. Mine clicked but never passed any current."},
	{"Cy the Welder", "13 Mar 2021, 07:02", "2021-03-13T07:02:00Z", "Same here on my 2016 Brisk 2. It was the ground strap for me, cleaned it and all good for a year."},
	{"ann_k", "14 Mar 2021, 18:55", "2021-03-14T18:55:00Z", "Replaced the heater relay and the heat is back. Thanks bolt99!"},
}

const toldTitle = "Brisk 3 no heat P1B77"

// each writes all posts by a pattern with the verbs who, when, iso, what and n in braces.
func each(pattern string) string {
	var b strings.Builder
	for i, p := range told {
		b.WriteString(strings.NewReplacer("{who}", p.who, "{when}", p.when, "{iso}", p.iso, "{what}", p.what, "{n}", fmt.Sprint(i+1)).Replace(pattern))
	}
	return b.String()
}

func htmlPage(body string) string {
	return "<html><head><title>" + toldTitle + " - Van Talk</title></head><body><div><a href=/>Home</a> &gt; <a href=/f>Heating</a></div>" + body + "<div>Powered by boards</div></body></html>"
}

// requireTold holds what was read against the thread.
func requireTold(t *testing.T, name string, data []byte, dated bool) {
	t.Helper()
	got, err := ingest.Read(ingest.File{Name: name, Data: data}, ingest.Options{})
	require.NoError(t, err)
	require.Len(t, got, 1)
	assert.Equal(t, toldTitle, got[0].Title)
	require.Len(t, got[0].Posts, len(told))
	for i, p := range got[0].Posts {
		assert.Equal(t, told[i].who, p.Author)
		assert.Equal(t, told[i].what, p.Text)
		if dated {
			assert.Equal(t, told[i].iso[:10], p.Time.Format("2006-01-02"))
		}
	}
}

// Pages without markup, as the programs behind boards have laid them out over the years.
func TestPagesWithoutMarkup(t *testing.T) {
	h1 := "<h1>" + toldTitle + "</h1>"
	tests := []struct {
		name, body string
		dated      bool
	}{
		{"table, author beside the text", h1 + "<table>" + each("<tr><td><b>{who}</b><br>Member<br>Joined: Jan 2015<br>Posts: 212</td><td><small>Posted: {when}</small><hr>{what}</td></tr>") + "</table>", true},
		{"a table for each post", "<table><tr><td><font size=5>" + toldTitle + "</font></td></tr></table>" +
			each("<table><tr><td colspan=2>{when}</td><td>#{n}</td></tr><tr><td><a>{who}</a><br>Senior Member<br>Location: Averholm</td><td colspan=2>{what}</td></tr></table>"), true},
		{"definition list", h1 + "<dl>" + each("<dt>{who} <i>({when})</i></dt><dd>{what}</dd>") + "</dl>", true},
		{"loose paragraphs", h1 + each("<p><strong>{who}</strong> said on {when}:</p><p>{what}</p><hr>"), true},
		{"author below the text", h1 + each("<div class=c><p>{what}</p><p class=m>&mdash; {who}, {when}</p></div>"), true},
		{"sections", "<main>" + h1 + each("<section><header><h3>{who}</h3><p>{when}</p></header><p>{what}</p><footer>Was this helpful? Yes No</footer></section>") + "</main>", true},
		{"relative dates", h1 + "<ul>" + each("<li><div><a href=/u>{who}</a> <span>{n} days ago</span></div><div>{what}</div><div><a href=#>Reply</a></div></li>") + "</ul>", false},
		{"question and answers of other shapes", h1 + "<div class=question><div>Asked by ann_k on Mar 12, 2021</div><div class=q>" + told[0].what + "</div></div><h2>3 Answers</h2>" +
			strings.Replace(each("<div class=answer><div class=t><p>{what}</p></div><div class=s>answered {when} by {who}</div></div>"),
				"<div class=answer><div class=t><p>"+told[0].what+"</p></div><div class=s>answered 12 Mar 2021, 09:14 by ann_k</div></div>", "", 1), true},
		{"no dates", h1 + each("<div class=msg><div class=user>{who}</div><div class=txt>{what}</div></div>"), false},
		{"numbers for dates", h1 + each("<div class=row><a class=nick href=/m>{who}</a><span>#{n}</span><div class=b>{what}</div></div>"), false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { requireTold(t, "a.html", []byte(htmlPage(tt.body)), tt.dated) })
	}
}

// JSON-LD 1.1 (W3C 2020): objects nested, in lists, in a graph and by reference; and as pages really hold it.
func TestLinkedDataForms(t *testing.T) {
	type object = map[string]any
	post := func(n int, kind string, more object) object {
		o := object{"@type": kind, "text": told[n].what, "datePublished": told[n].iso, "author": object{"@type": "Person", "name": told[n].who}}
		for k, v := range more {
			o[k] = v
		}
		return o
	}
	ref := func(id string) object { return object{"@id": id} }
	id := func(id string) object { return object{"@id": id} }
	write := func(v any) string {
		data, err := json.Marshal(v)
		require.NoError(t, err)
		return string(data)
	}
	nested := post(0, "DiscussionForumPosting", object{"headline": toldTitle, "comment": []any{post(1, "Comment", nil), post(2, "Comment", object{"comment": post(3, "Comment", nil)})}})
	page := object{"@type": "WebPage", "@id": "#x", "name": "Van Talk", "url": "/x", "inLanguage": "en", "isPartOf": object{"@type": "WebSite", "name": "Van Talk"}}
	page["mainEntity"] = post(0, "DiscussionForumPosting", object{"@id": "#x", "headline": toldTitle, "comment": []any{post(1, "Comment", nil), post(2, "Comment", nil), post(3, "Comment", nil)}})
	byRef := object{"@context": "https://schema.org", "@graph": []any{
		post(0, "DiscussionForumPosting", object{"headline": toldTitle, "author": ref("#ann"), "comment": []any{ref("#c1"), ref("#c2"), post(3, "Comment", id("#c3"))}}),
		object{"@id": "#ann", "@type": "Person", "name": "ann_k"}, post(1, "Comment", id("#c1")), post(2, "Comment", id("#c2")), post(3, "Comment", id("#c3")),
	}}
	question := object{"@type": []string{"QAPage", "WebPage"}, "mainEntity": post(0, "https://schema.org/Question", object{"name": toldTitle, "author": []any{object{"name": []string{"ann_k"}}},
		"acceptedAnswer": post(1, "Answer", nil), "suggestedAnswer": []any{post(2, "Answer", nil), post(3, "Answer", nil)}})}
	tests := []struct{ name, json string }{
		{"nested", write(nested)},
		{"in a list beside others", write([]any{object{"@type": "BreadcrumbList"}, question})},
		{"graph with references", write(byRef)},
		{"page and post of one identifier", write(page)},
		{"CDATA section", "\n//<![CDATA[\n" + write(nested) + "\n//]]>\n"},
		{"comment and semicolon", "<!--\n" + write(nested) + ";\n-->"},
		{"line end in a string", strings.Replace(write(nested), "no cabin heat", "no cabin\nheat", 1)},
		{"quotes as entities", strings.ReplaceAll(write(nested), `"`, "&quot;")},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			requireTold(t, "a.html", []byte(`<html><head><script type="application/ld+json">`+tt.json+`</script></head><body><p>Open the app.</p></body></html>`), true)
		})
	}
}

// Microdata of the HTML standard, section 5: items inside items, and properties elsewhere on the page (itemref).
func TestMicrodataForms(t *testing.T) {
	tests := []struct{ name, body string }{
		{"items", "<h1>" + toldTitle + "</h1>" + each(`<div itemscope itemtype="https://schema.org/Comment"><span itemprop=author itemscope itemtype="https://schema.org/Person"><b itemprop=name>{who}</b></span><meta itemprop=datePublished content="{iso}"><div itemprop=text>{what}</div></div>`)},
		{"properties elsewhere", "<h1>" + toldTitle + "</h1>" + each(`<div itemscope itemtype="https://schema.org/Comment" itemref="a{n}"><div itemprop=text>{what}</div></div><div id=a{n}><span itemprop=author>{who}</span> <time itemprop=datePublished datetime="{iso}">then</time></div>`)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { requireTold(t, "a.html", []byte("<html><body>"+tt.body+"</body></html>"), true) })
	}
}

func utf16Bytes(s string, mark, big bool) []byte {
	units := utf16.Encode([]rune(s))
	if mark {
		units = append([]uint16{0xFEFF}, units...)
	}
	var out []byte
	for _, u := range units {
		if big {
			out = append(out, byte(u>>8), byte(u))
		} else {
			out = append(out, byte(u), byte(u>>8))
		}
	}
	return out
}

func TestEncodings(t *testing.T) {
	page := htmlPage("<h1>" + toldTitle + "</h1>" + each("<div class=post><b class=author>{who}</b> <i>{when}</i><p>{what}</p></div>"))
	pasted := toldTitle + "\n\n" + each("{who}\n{when}\n{what}\n\n")
	for _, form := range []struct{ name, text string }{{"a.html", page}, {"a.txt", pasted}} {
		for _, mark := range []bool{true, false} {
			for _, big := range []bool{true, false} {
				requireTold(t, form.name, utf16Bytes(form.text, mark, big), true)
			}
		}
		requireTold(t, form.name, []byte("\ufeff"+form.text), true)
	}
	legacy := func(enc *charmap.Charmap, s string) []byte {
		out, err := enc.NewEncoder().String(s)
		require.NoError(t, err)
		return []byte(out)
	}
	tests := []struct {
		name string
		data []byte
		want string
	}{
		{"a.txt", legacy(charmap.Windows1252, "Düse – ‘zu’, 5 µm"), "Düse – ‘zu’, 5 µm"},
		{"a.html", legacy(charmap.Windows1252, "<html><body><p>Düse – ‘zu’</p></body></html>"), "Düse – ‘zu’"},
		{"a.html", legacy(charmap.KOI8R, `<html><head><meta charset="koi8-r"></head><body><p>реле печки</p></body></html>`), "реле печки"},
		{"a.html", legacy(charmap.ISO8859_2, `<html><head><meta http-equiv="content-type" content="text/html; charset=iso-8859-2"></head><body><p>přehřívá se</p></body></html>`), "přehřívá se"},
		{"a.md", legacy(charmap.Windows1252, "Düse – zu"), "Düse – zu"},
	}
	for _, tt := range tests {
		got, err := ingest.Read(ingest.File{Name: tt.name, Data: tt.data}, ingest.Options{})
		require.NoError(t, err)
		assert.Equal(t, tt.want, got[0].Posts[0].Text)
	}
	_, err := ingest.Read(ingest.File{Name: "a.txt", Data: []byte("a\x00b\x00\x00\x00\x01\x02")}, ingest.Options{})
	require.Error(t, err, "zero bytes alone make no UTF-16")
}

func TestMarkdownForms(t *testing.T) {
	h1 := "# " + toldTitle + "\n\n"
	tests := []struct {
		name, text string
		dated      bool
	}{
		{"headings with dates", h1 + each("### {who} — {when}\n\n{what}\n\n"), true},
		{"set off", h1 + each("**{who}** ({when}):\n{what}\n\n"), true},
		{"posted by", h1 + each("*Posted by [{who}](https://brisk.example/u) on {when}*\n\n{what}\n\n---\n\n"), true},
		{"items", h1 + each("- **{who}**, {when}: {what}\n"), true},
		{"names before the words", h1 + each("**{who}:** {what}\n\n"), false},
		{"names as headings", h1 + each("## {who}\n\n{what}\n\n"), false},
		{"numbered headings", h1 + each("### Post {n} by {who}\n\n{what}\n\n"), false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { requireTold(t, "a.md", []byte(tt.text), tt.dated) })
	}
}

// Headings and labels of one person's write-up are nobody's names.
func TestMarkdownSectionsAreNoPosts(t *testing.T) {
	for _, text := range []string{
		"# Cold van\n\n## Symptoms\n\nIt is cold.\n\n## Test\n\nThe fuse is good.\n\n## Test\n\nThe relay is bad.\n\n## Fix\n\nNew relay.\n",
		"# Cold van\n\n**Test:** the fuse\n\n**Result:** good\n\n**Test:** the relay\n\n**Result:** bad\n",
		"# Cold van\n\n**Heater relay:** bad\n\n**Heater fuse:** good\n\n**Heater relay:** new one in\n",
		"# Cold van\n\n## Heater relay\n\nIt was bad.\n\n## Heater fuse\n\nIt was good.\n\n## Heater relay\n\nNew one in.\n",
	} {
		got, err := ingest.Read(ingest.File{Name: "a.md", Data: []byte(text)}, ingest.Options{})
		require.NoError(t, err)
		assert.Len(t, got[0].Posts, 1, text)
	}
}

// A mail that carries another below it without marks: those words are the other's. Lines escaped for the mailbox (RFC 4155) are
// the writer's own.
func TestMailBelowAMail(t *testing.T) {
	for _, mark := range []string{"-----Original Message-----\nFrom: bolt99 <b@brisk.example>\n", "From: bolt99 [mailto:b@brisk.example]\nSent: Friday\nTo: list\nSubject: cold\n",
		"-------- Weitergeleitete Nachricht --------\nVon: bolt99\n", "Begin forwarded message:\n\nFrom: bolt99\n"} {
		box := "From a@brisk.example Fri Mar 12 09:00:00 2021\nFrom: ann_k <a@brisk.example>\nSubject: cold\nDate: Fri, 12 Mar 2021 09:00:00 +0000\n\n" +
			">From the start it was cold.\n\n" + mark + "\nIt was the relay here.\n"
		got, err := ingest.Read(ingest.File{Name: "a.mbox", Data: []byte(box)}, ingest.Options{})
		require.NoError(t, err)
		require.Len(t, got[0].Posts, 1)
		p := got[0].Posts[0]
		assert.True(t, strings.HasPrefix(p.Text, "From the start it was cold."), p.Text)
		quoted := ""
		for _, r := range p.Regions {
			if r.Kind == ingest.RegionQuote {
				assert.Equal(t, "bolt99", r.Author, mark)
				quoted += p.Text[r.Start:r.End]
			}
		}
		assert.Contains(t, quoted, "It was the relay here.", mark)
		assert.NotContains(t, quoted, "From the start")
	}
}

// Texts pasted without lines of name and date.
func TestPastedWithoutBylines(t *testing.T) {
	tests := []struct {
		name, text string
		dated      bool
	}{
		{"chat with dates", "Subject: re: " + toldTitle + "\n\n" + each("[{when}] {who}: {what}\n"), true},
		{"chat with times", toldTitle + "\n\n" + each("0{n}:14 - {who}: {what}\n"), false},
		{"numbers and names", toldTitle + "\n\n" + each("#{n} {who}\n{what}\n\n"), false},
		{"names and numbers", toldTitle + "\n\n" + each("{who} #{n}\n{what}\n\n"), false},
		{"posted by", toldTitle + "\n\n" + each("Posted by {who}\n{what}\n\n"), false},
		{"wrote", toldTitle + "\n\n" + each("{who} wrote:\n{what}\n\n"), false},
		{"name fields", toldTitle + "\n\n" + each("User: {who}\n{what}\n\n"), false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { requireTold(t, "a.txt", []byte(tt.text), tt.dated) })
	}
}

func TestWriterOfATextWithoutPosts(t *testing.T) {
	const body = "Brisk 3 stays cold, code P1B77.\nIt was the heater relay, new one in and it is warm.\n"
	tests := []struct{ text, author string }{
		{"Notes of the evening, 12 Jan 2023\ntaken by elm_hollow\n\n" + body, "elm_hollow"},
		{"From my notebook\nBy quillfeather, March 2024\n\n" + body, "quillfeather"},
		{"Author: Larch Lane\n\n" + body, "Larch Lane"},
		{body + "\ncheers all, pilchard_tin, march 2023", "pilchard_tin"},
		{body + "\nThanks,\nPilchard", "Pilchard"},
		{body + "\n-- pilchard_tin", "pilchard_tin"},
		{body + "\nThanks, sorted", ""},
		{body + "\nThanks all!", ""},
		{body + "\nCheers, guys", ""},
		{"By the way, the fuse was good\n" + body, ""},
		{"From new, 2019, it was cold\n" + body, ""},
		{body, ""},
	}
	for _, tt := range tests {
		got, err := ingest.Read(ingest.File{Name: "a.txt", Data: []byte(tt.text)}, ingest.Options{})
		require.NoError(t, err)
		require.Len(t, got[0].Posts, 1)
		assert.Equal(t, tt.author, got[0].Posts[0].Author, tt.text)
	}
	got, err := ingest.Read(ingest.File{Name: "a.txt", Data: []byte(body + "\nLicence: CC BY 4.0\n")}, ingest.Options{})
	require.NoError(t, err)
	assert.Equal(t, "CC BY 4.0", got[0].Licence)
	assert.NotContains(t, got[0].Posts[0].Text, "Licence")
}

// What is known of a write-up beside its text is taken where the text says nothing itself.
func TestAddressAndLicenceFromOutside(t *testing.T) {
	opt := ingest.Options{URL: "https://sheds.example/a?utm_source=x", Licence: "CC BY 4.0"}
	got, err := ingest.Read(ingest.File{Name: "a.txt", Data: []byte("P1B77 on my Halden Brisk 3. Replaced the heater relay, fixed.")}, opt)
	require.NoError(t, err)
	assert.Equal(t, "https://sheds.example/a", got[0].URL)
	assert.Equal(t, "CC BY 4.0", got[0].Licence)
	got, err = ingest.Read(ingest.File{Name: "a.md", Data: []byte("---\nurl: https://other.example/b\nlicence: CC0-1.0\n---\nP1B77, replaced the heater relay, fixed.")}, opt)
	require.NoError(t, err)
	assert.Equal(t, "https://other.example/b", got[0].URL)
	assert.Equal(t, "CC0-1.0", got[0].Licence)
}
