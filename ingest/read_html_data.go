package ingest

import (
	"encoding/json"
	"regexp"
	"strings"
	"time"
	"unicode"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// linkedData is what a page's JSON-LD tells of it.
type linkedData struct {
	title, url, site, licence string
	posts                     []ldPost
	byID                      map[string]map[string]any // objects that others refer to
	seen                      map[string]bool           // posts with an "@id" that were added
}

type ldPost struct {
	author string
	when   stamp
	text   string
}

// passage is the post's text, which may be plain or hold HTML.
func (l *ldPost) passage() passage {
	if !strings.Contains(l.text, "</") && !strings.Contains(l.text, "<br") && !strings.Contains(l.text, "<p>") {
		return readLines(plainLines(html.UnescapeString(l.text)))
	}
	return htmlFragment(l.text)
}

// htmlFragment reads a piece of HTML as one text.
func htmlFragment(s string) passage {
	root, err := html.Parse(strings.NewReader(s))
	if err != nil {
		return readLines(plainLines(s))
	}
	p := &page{root: root}
	p.readStyles()
	var f flow
	p.render(&f, root)
	return tidy(f.done())
}

// postTypes are the schema.org types that stand for something a person wrote.
const postTypes = " discussionforumposting socialmediaposting question answer comment article blogposting newsarticle techarticle report review message howto "

func isPostType(name string) bool {
	name = strings.TrimPrefix(strings.TrimPrefix(strings.TrimPrefix(name, "https://"), "http://"), "schema.org/")
	return name != "" && strings.Contains(postTypes, " "+strings.ToLower(name)+" ")
}

// linkedData reads the page's JSON-LD; broken blocks are passed over, as the visible page is there to be read.
func (p *page) linkedData(maxDepth int) *linkedData {
	out := &linkedData{byID: map[string]map[string]any{}, seen: map[string]bool{}}
	var all []any
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		if n.DataAtom == atom.Script && strings.Contains(strings.ToLower(attr(n, "type")), "ld+json") {
			if v, ok := lenientJSON(innerText(n)); ok {
				all = append(all, v)
				out.index(v, maxDepth)
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(p.root)
	for _, v := range all {
		out.add(v, maxDepth)
	}
	return out
}

var cdata = regexp.MustCompile(`^\s*(?:(?://|/\*)?\s*<!\[CDATA\[\s*(?:\*/)?|<!--)|;?\s*(?:(?://|/\*)?\s*\]\]>\s*(?:\*/)?|-->)?\s*;?\s*$`)

// lenientJSON reads JSON as pages hold it: in a CDATA section or a comment, with line ends inside strings, with a semicolon at the
// end, or with its quotes as entities.
func lenientJSON(s string) (v any, ok bool) {
	if json.Unmarshal([]byte(s), &v) == nil {
		return v, true
	}
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, cdata.ReplaceAllString(s, ""))
	if json.Unmarshal([]byte(s), &v) == nil {
		return v, true
	}
	return v, json.Unmarshal([]byte(html.UnescapeString(s)), &v) == nil
}

// index notes the objects that have an identifier and say more than that.
func (l *linkedData) index(v any, depth int) {
	if depth <= 0 {
		return
	}
	switch v := v.(type) {
	case []any:
		for _, item := range v {
			l.index(item, depth-1)
		}
	case map[string]any:
		if id, ok := v["@id"].(string); ok && len(v) > len(l.byID[id]) && len(v) > 1 {
			l.byID[id] = v
		}
		for _, item := range v {
			l.index(item, depth-1)
		}
	}
}

// add reads a value: an object, a list or a graph of them.
func (l *linkedData) add(v any, depth int) {
	if depth <= 0 {
		return
	}
	switch v := v.(type) {
	case []any:
		for _, item := range v {
			l.add(item, depth-1)
		}
	case map[string]any:
		l.addObject(v, depth-1)
	}
}

func (l *linkedData) addObject(o map[string]any, depth int) {
	id, _ := o["@id"].(string)
	if len(o) == 1 && l.byID[id] != nil {
		o = l.byID[id] // told elsewhere
	}
	isPost := false
	for _, t := range textList(o["@type"]) {
		isPost = isPost || isPostType(t)
		if t == "WebSite" || t == "Organization" {
			if name := ldText(o["name"]); len(name) > 1 {
				l.site = first(l.site, name)
			}
		}
	}
	if isPost && id != "" {
		if l.seen[id] {
			return
		}
		l.seen[id] = true
	}
	if isPost {
		l.title = first(l.title, first(ldText(o["headline"]), ldText(o["name"])))
		l.url = first(l.url, first(ldText(o["url"]), ldText(o["@id"])))
		l.licence = first(l.licence, ldText(o["license"]))
		l.site = first(l.site, ldText(o["publisher"]))
		text := first(ldText(o["text"]), ldText(o["articleBody"]))
		if text != "" {
			posted, _, _ := findDate(first(ldText(o["datePublished"]), ldText(o["dateCreated"])))
			l.posts = append(l.posts, ldPost{author: visible(first(l.personName(o["author"]), l.personName(o["creator"]))), when: posted, text: text})
		}
	}
	for _, name := range []string{"@graph", "mainEntity", "mainEntityOfPage", "itemListElement", "item", "comment", "acceptedAnswer", "suggestedAnswer", "hasPart", "isPartOf"} {
		l.add(o[name], depth)
	}
}

// personName reads who wrote a post: a name, a person, the first of several, or a reference to one.
func (l *linkedData) personName(v any) string {
	switch v := v.(type) {
	case []any:
		if len(v) > 0 {
			return l.personName(v[0])
		}
	case map[string]any:
		if id, ok := v["@id"].(string); ok && len(v) == 1 {
			v = l.byID[id]
		}
		return first(ldText(v["name"]), ldText(v["alternateName"]))
	}
	return ldText(v)
}

// ldText reads a value that may be a string, a list or an object with a name.
func ldText(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case []any:
		if len(v) > 0 {
			return ldText(v[0])
		}
	case map[string]any:
		if s := ldText(v["name"]); s != "" {
			return s
		}
		if s, ok := v["@value"].(string); ok {
			return s
		}
		s, _ := v["@id"].(string)
		return s
	}
	return ""
}

func textList(v any) []string {
	switch v := v.(type) {
	case string:
		return []string{v}
	case []any:
		var out []string
		for _, item := range v {
			if s, ok := item.(string); ok {
				out = append(out, s)
			}
		}
		return out
	}
	return nil
}

// matchLinkedData joins the posts seen on the page with those that JSON-LD tells of: what is seen gives structure, the
// metadata gives author and time. Metadata posts that are not seen come from the metadata alone.
func (p *page) matchLinkedData(seen []block, told []ldPost) []block {
	squeezed := make([]string, len(seen))
	for i, b := range seen {
		squeezed[i] = squeeze(p.post(b).body.text)
	}
	used := make([]bool, len(seen))
	matches := make([]int, len(told))
	matched := 0
	for i := range told {
		matches[i] = bestMatch(&told[i], seen, squeezed, used)
		if matches[i] >= 0 {
			used[matches[i]] = true
			matched++
		}
	}
	if matched*2 < len(told) {
		seen = nil
	}
	var out []block
	out = append(out, seen...)
	for i := range told {
		if m := matches[i]; m >= 0 && seen != nil {
			out[m].author = first(told[i].author, out[m].author)
			if told[i].when.known() {
				out[m].when = told[i].when
			}
			continue
		}
		out = append(out, block{author: told[i].author, when: told[i].when, ld: &told[i]})
	}
	return out
}

// bestMatch finds the seen post whose text holds, or is held by, the beginning of a told one; -1 if there is none.
func bestMatch(told *ldPost, seen []block, squeezed []string, used []bool) int {
	text := squeeze(told.passage().text)
	best, bestScore := -1, 0
	for i, s := range squeezed {
		if used[i] {
			continue
		}
		score := 0
		if strings.EqualFold(seen[i].author, told.author) && told.author != "" {
			score += 2
		}
		if told.when.known() && sameMoment(seen[i].when, told.when) {
			score++
		}
		if overlaps(s, text) {
			score += 4
		}
		if score > bestScore && score >= 4 {
			best, bestScore = i, score
		}
	}
	return best
}

func sameMoment(a, b stamp) bool {
	return a.known() && a.time(true).Truncate(time.Minute).Equal(b.time(true).Truncate(time.Minute))
}

// overlaps tells whether two squeezed texts share their beginning or their end.
func overlaps(a, b string) bool {
	const enough = 48
	if a == "" || b == "" {
		return false
	}
	head, tail := b[:min(len(b), enough)], b[max(0, len(b)-enough):]
	return strings.Contains(a, head) || strings.Contains(a, tail) || strings.Contains(b, a)
}

// microdataBlocks reads posts that are marked up as schema.org items.
func (p *page) microdataBlocks() []block {
	var scopes []*html.Node
	p.each(p.root, func(n *html.Node) bool {
		if hasAttr(n, "itemscope") && isPostType(attr(n, "itemtype")) {
			scopes = append(scopes, n)
		}
		return true
	})
	var out []block
	for _, s := range scopes {
		if b, ok := p.microdataBlock(s); ok {
			out = append(out, b)
		}
	}
	return out
}

func (p *page) microdataBlock(scope *html.Node) (block, bool) {
	var b block
	var byline []*html.Node
	p.eachProp(scope, func(n *html.Node, prop string) {
		switch prop {
		case "text", "articlebody":
			b.body = append(b.body, n)
		case "author", "creator":
			byline = append(byline, n)
			b.author = first(b.author, p.personName(n))
		case "datepublished", "datecreated":
			byline = append(byline, n)
			if when, _, ok := findDate(first(attr(n, "datetime"), first(attr(n, "content"), p.text(n)))); ok && !b.when.known() {
				b.when = when
			}
		}
	})
	if len(b.body) == 0 {
		return b, false
	}
	b.after = p.tailOf(b.body[len(b.body)-1], scope, byline)
	return b, true
}

// eachProp visits the properties of an item itself, not those of items inside it.
func (p *page) eachProp(scope *html.Node, visit func(*html.Node, string)) {
	for c := scope.FirstChild; c != nil; c = c.NextSibling {
		if c.Type != html.ElementNode || p.hidden(c) {
			continue
		}
		for prop := range strings.FieldsSeq(strings.ToLower(attr(c, "itemprop"))) {
			visit(c, prop)
		}
		if !hasAttr(c, "itemscope") {
			p.eachProp(c, visit)
		}
	}
	for id := range strings.FieldsSeq(attr(scope, "itemref")) {
		if c := p.byID(id); c != nil && c != scope {
			p.eachReferred(c, visit)
		}
	}
}

// eachReferred visits the properties of an element that an item refers to (itemref), which may be one itself.
func (p *page) eachReferred(c *html.Node, visit func(*html.Node, string)) {
	for prop := range strings.FieldsSeq(strings.ToLower(attr(c, "itemprop"))) {
		visit(c, prop)
	}
	if !hasAttr(c, "itemscope") && !hasAttr(c, "itemref") {
		p.eachProp(c, visit)
	}
}

func (p *page) byID(id string) *html.Node {
	var found *html.Node
	p.each(p.root, func(n *html.Node) bool {
		if found == nil && attr(n, "id") == id {
			found = n
		}
		return found == nil
	})
	return found
}

func (p *page) personName(n *html.Node) string {
	name := ""
	p.eachProp(n, func(c *html.Node, prop string) {
		if prop == "name" {
			name = first(name, first(attr(c, "content"), p.text(c)))
		}
	})
	return first(name, first(attr(n, "content"), p.text(n)))
}

// tailOf collects what follows a post's body up to the next item or the end of the item: signature, edit note, buttons.
func (p *page) tailOf(body, scope *html.Node, byline []*html.Node) []*html.Node {
	var out []*html.Node
	for n := body; n != nil && n != scope; n = n.Parent {
		for s := n.NextSibling; s != nil; s = s.NextSibling {
			if s.Type == html.ElementNode && (hasItem(s) || s.DataAtom == atom.H2) {
				return out
			}
			out = append(out, p.withoutByline(s, byline)...)
		}
		if n.Parent != nil && hasItemBeside(n) {
			break
		}
	}
	return out
}

func hasItemBeside(n *html.Node) bool {
	for s := n.Parent.FirstChild; s != nil; s = s.NextSibling {
		if s != n && s.Type == html.ElementNode && hasItem(s) {
			return true
		}
	}
	return false
}

// hasItem tells whether an element is or holds an item that is a post.
func hasItem(n *html.Node) bool {
	if n.Type != html.ElementNode {
		return false
	}
	if hasAttr(n, "itemscope") && isPostType(attr(n, "itemtype")) {
		return true
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if hasItem(c) {
			return true
		}
	}
	return false
}

// withoutByline gives the node, or nothing if it holds the author or the date of the post.
func (p *page) withoutByline(n *html.Node, byline []*html.Node) []*html.Node {
	if n.Type != html.ElementNode {
		return nil
	}
	for _, b := range byline {
		for up := b; up != nil; up = up.Parent {
			if up == n {
				return nil
			}
		}
	}
	return []*html.Node{n}
}
