package ingest

import (
	"bytes"
	"strings"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// page is a parsed HTML document with what its own style sheets hide.
type page struct {
	root  *html.Node
	hides []hideRule
}

// block is one post as it stands on a page.
type block struct {
	author string
	when   stamp
	body   []*html.Node
	after  []*html.Node // what follows the body inside the post: signature, edit note, buttons
	ld     *ldPost      // set if the post's text is known from metadata only
}

// readHTML reads a saved page. Posts come from the page's structure as a reader sees it; schema.org metadata (JSON-LD,
// microdata) tells authors, times and which parts are posts.
func readHTML(f File, opt Options) ([]*draft, error) {
	root, err := html.Parse(bytes.NewReader(f.Data))
	if err != nil {
		return nil, failure(f, 0, "broken HTML: %v", err)
	}
	if depth(root, opt.MaxDepth) > opt.MaxDepth {
		return nil, failure(f, 0, "elements nested more than %d deep", opt.MaxDepth)
	}
	p := &page{root: root}
	p.readStyles()
	d := &draft{}
	ld := p.linkedData(opt.MaxDepth)
	p.describe(d, ld)
	p.readPager(d)
	blocks := p.microdataBlocks()
	if len(blocks) == 0 {
		if blocks = p.postBlocks(); len(blocks) == 0 {
			blocks = p.namedBlocks()
		}
		if len(ld.posts) > 0 {
			blocks = p.matchLinkedData(blocks, ld.posts)
		}
	}
	if len(blocks) == 0 {
		d.posts = []draftPost{p.article(ld)}
		return []*draft{d}, nil
	}
	for _, b := range blocks {
		d.posts = append(d.posts, p.post(b))
	}
	return []*draft{d}, nil
}

func depth(n *html.Node, limit int) int {
	deepest := 0
	var walk func(n *html.Node, level int)
	walk = func(n *html.Node, level int) {
		deepest = max(deepest, level)
		if level > limit {
			return
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c, level+1)
		}
	}
	walk(n, 0)
	return deepest
}

func (p *page) post(b block) draftPost {
	out := draftPost{author: visible(b.author), when: b.when}
	if b.ld != nil && b.body == nil {
		out.body = b.ld.passage()
		return out
	}
	var f flow
	for _, n := range b.body {
		p.render(&f, n)
	}
	for _, n := range b.after {
		p.renderAfter(&f, n)
	}
	out.body = tidy(f.done())
	return out
}

// renderAfter writes what follows a post's body: an edit note, or a signature unless it is buttons and counters.
func (p *page) renderAfter(f *flow, n *html.Node) {
	text := p.text(n)
	switch {
	case text == "" || isNoise(text) || p.isMachinery(n):
	case editNote.MatchString(text):
		f.para()
		r := f.begin(RegionEdit)
		p.render(f, n)
		f.end(r)
	case metaLine.MatchString(text) || isAdvert(n, text):
	default:
		f.para()
		r := f.begin(RegionSignature)
		p.render(f, n)
		f.end(r)
	}
}

// isMachinery tells buttons, counters and links from words: most of its text stands in links or buttons, or it has no word.
func (p *page) isMachinery(n *html.Node) bool {
	total, linked, words := 0, 0, 0
	p.eachText(n, func(t *html.Node) {
		s := visible(t.Data)
		total += len(s)
		words += wordCount(s)
		if within(t, n, atom.A, atom.Button, atom.Form, atom.Label) {
			linked += len(s)
		}
	})
	return linked*2 > total || words == 1 && total < 4 || hasClassHint(n, actionHint) && total < 80
}

// describe fills in what the page tells about itself.
func (p *page) describe(d *draft, ld *linkedData) {
	d.title, d.url, d.site, d.licence = ld.title, ld.url, ld.site, ld.licence
	meta := map[string]string{}
	var h1, h2, title string
	p.each(p.root, func(n *html.Node) bool {
		switch n.DataAtom {
		case atom.Html:
			d.language = attr(n, "lang")
		case atom.Title:
			title = first(title, visible(innerText(n)))
		case atom.H1:
			h1 = first(h1, p.text(n))
		case atom.H2, atom.H3:
			if !p.isMachinery(n) {
				h2 = first(h2, p.text(n))
			}
		case atom.Meta:
			name := strings.ToLower(attr(n, "property") + attr(n, "name") + attr(n, "itemprop"))
			meta[name] = first(meta[name], attr(n, "content"))
		case atom.Link, atom.A:
			rel := " " + strings.ToLower(attr(n, "rel")) + " "
			if strings.Contains(rel, " canonical ") || n.DataAtom == atom.Link && attr(n, "itemprop") == "url" {
				d.url = first(d.url, attr(n, "href"))
			}
			if strings.Contains(rel, " license ") {
				d.licence = first(d.licence, first(p.text(n), attr(n, "href")))
			}
		}
		return true
	})
	d.url = first(d.url, first(meta["og:url"], p.savedAddress()))
	d.licence = first(d.licence, first(meta["license"], meta["dcterms.license"]))
	heading := first(h1, h2)
	d.site = first(d.site, first(meta["og:site_name"], siteInTitle(title, first(d.title, heading))))
	if h1 == "" && h2 == "" {
		title = p.topicOf(title)
	}
	d.title = first(d.title, first(meta["headline"], headingOf(title, h1, h2)))
}

// headingOf prefers a heading that the document's title repeats.
func headingOf(title, h1, h2 string) string {
	switch {
	case h1 != "":
		return h1
	case h2 != "" && strings.Contains(title, h2):
		return h2
	}
	return first(title, h2)
}

// siteInTitle reads the site's name off a document title such as "topic | site".
func siteInTitle(title, topic string) string {
	if topic == "" || !strings.HasPrefix(title, topic) {
		return ""
	}
	return strings.Trim(title[len(topic):], " |-–—:·»")
}

func first(a, b string) string {
	if a = strings.TrimSpace(a); a != "" {
		return a
	}
	return strings.TrimSpace(b)
}

// article reads a page without posts as one text.
func (p *page) article(ld *linkedData) draftPost {
	if len(ld.posts) == 1 {
		return p.post(block{author: ld.posts[0].author, when: ld.posts[0].when, ld: &ld.posts[0]})
	}
	n := p.mainPart()
	var f flow
	p.render(&f, n)
	out := draftPost{body: tidy(f.done())}
	for _, row := range lines(out.body.text) {
		if by, ok := parseByline(out.body.text[row.start:row.end], nil); ok && by.author != "" {
			out.author, out.when = by.author, by.when
			break
		}
	}
	return out
}

func (p *page) mainPart() *html.Node {
	var main, article, body *html.Node
	p.each(p.root, func(n *html.Node) bool {
		switch {
		case n.DataAtom == atom.Main || attr(n, "role") == "main":
			main = firstNode(main, n)
		case n.DataAtom == atom.Article:
			article = firstNode(article, n)
		case n.DataAtom == atom.Body:
			body = firstNode(body, n)
		}
		return true
	})
	return firstNode(firstNode(article, main), firstNode(body, p.root))
}

func firstNode(a, b *html.Node) *html.Node {
	if a != nil {
		return a
	}
	return b
}
