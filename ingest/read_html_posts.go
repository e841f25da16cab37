package ingest

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// anchor is an element that shows when a post was written; posts are found around such dates, because every kind of site
// shows one beside each post.
type anchor struct {
	node *html.Node
	when stamp
	key  string // shape of the place it stands in; the dates of all posts share it
}

const (
	maxAnchorText = 120
	maxSeries     = 24 // shapes of dates that are tried, and single dates beside the best series
)

var (
	notPosted = regexp.MustCompile(`(?i)\b(?:joined|registered|member since|last (?:edit|visit|seen|activ|modified|post)|edited|moved|the time now|expires?|beigetreten|registriert|inscrit|bearbeitet|closed|locked)\b`)
	digits    = regexp.MustCompile(`\d+`)
)

// postBlocks finds the posts of a page by its structure: the series of dates that yields most text by named authors,
// and single posts of another shape beside it (the first post often has one).
func (p *page) postBlocks() []block {
	anchors := p.anchors()
	groups := map[string][]anchor{}
	var keys []string
	for _, a := range anchors {
		if groups[a.key] == nil {
			keys = append(keys, a.key)
		}
		groups[a.key] = append(groups[a.key], a)
	}
	// Most dates first: of a page with very many shapes only those are tried that can be the posts.
	slices.SortStableFunc(keys, func(a, b string) int { return len(groups[b]) - len(groups[a]) })
	var best []block
	var bestAnchors []anchor
	bestScore := 0
	for _, key := range keys[:min(len(keys), maxSeries)] {
		blockers := groups[key]
		if usual := groups[keys[0]]; len(blockers) == 1 && len(usual) > 1 {
			blockers = append(blockers[:1:1], usual...) // one date alone: its post must not take in the others
		}
		blocks := p.seriesBlocks(groups[key], blockers)
		if score := p.score(blocks); score > bestScore {
			best, bestAnchors, bestScore = blocks, groups[key], score
		}
	}
	if len(bestAnchors) < 2 {
		return best
	}
	return p.withOthers(best, bestAnchors, anchors)
}

// withOthers adds posts around dates of another shape that stand outside the posts of the best series.
func (p *page) withOthers(best []block, bestAnchors, anchors []anchor) []block {
	taken := map[*html.Node]bool{}
	for _, b := range best {
		for _, n := range slices.Concat(b.body, b.after) {
			taken[n] = true
		}
	}
	for _, a := range bestAnchors {
		taken[a.node] = true
	}
	var firsts []block
	for _, a := range anchors[:min(len(anchors), maxSeries)] {
		if a.key == bestAnchors[0].key || !before(a.node, bestAnchors[0].node) || holdsAny(a.node, taken) {
			continue
		}
		extra := p.seriesBlocks([]anchor{a}, append([]anchor{a}, bestAnchors...))
		if len(extra) == 1 && extra[0].author != "" && !holdsAny(extra[0].body[0], taken) && p.score(extra) > 40 {
			firsts = append(firsts, extra[0])
			break
		}
	}
	return append(firsts, best...)
}

func holdsAny(n *html.Node, set map[*html.Node]bool) bool {
	for up := n; up != nil; up = up.Parent {
		if set[up] {
			return true
		}
	}
	return false
}

// before tells whether a stands before b in the document.
func before(a, b *html.Node) bool {
	pa, pb := pathTo(a), pathTo(b)
	for i := 0; i < len(pa) && i < len(pb); i++ {
		if pa[i] == pb[i] {
			continue
		}
		for s := pa[i].NextSibling; s != nil; s = s.NextSibling {
			if s == pb[i] {
				return true
			}
		}
		return false
	}
	return len(pa) < len(pb)
}

func pathTo(n *html.Node) []*html.Node {
	var path []*html.Node
	for ; n != nil; n = n.Parent {
		path = append(path, n)
	}
	slices.Reverse(path)
	return path
}

func (p *page) score(blocks []block) int {
	score := 0
	for _, b := range blocks {
		if b.author == "" {
			continue
		}
		length := 0
		for _, n := range b.body {
			length += len(p.text(n))
		}
		score += min(length, 1500)
	}
	return score
}

// anchors collects the dates that can belong to posts.
func (p *page) anchors() []anchor {
	var out []anchor
	p.each(p.root, func(n *html.Node) bool {
		switch {
		case unread(n) || n.DataAtom == atom.Blockquote || hasClassHint(n, quoteHint) && isBlock(n) && n.DataAtom != atom.Body:
			return false
		}
		when, ok := p.dateOf(n)
		if !ok {
			return true
		}
		out = append(out, anchor{n, when, shape(n) + "<" + shape(n.Parent) + "<" + shapeUp(n.Parent)})
		return false
	})
	return out
}

func shapeUp(n *html.Node) string {
	if n == nil {
		return ""
	}
	return shape(n.Parent)
}

// shape is the kind of an element: its tag and the first word of its class, without numbers.
func shape(n *html.Node) string {
	if n == nil || n.Type != html.ElementNode {
		return ""
	}
	class := ""
	if words := strings.Fields(attr(n, "class")); len(words) > 0 {
		class = digits.ReplaceAllString(words[0], "")
	}
	return n.Data + "." + class
}

// dateOf reads the date that an element shows in its own text or carries in an attribute.
func (p *page) dateOf(n *html.Node) (stamp, bool) {
	own := visible(innerText(n))
	if n.DataAtom == atom.Time {
		own = p.text(n)
		if when, _, ok := findDate(attr(n, "datetime")); ok && !notPosted.MatchString(p.lead(n)) {
			return when, true
		}
	}
	if own == "" || len(own) > maxAnchorText {
		return stamp{}, false
	}
	for _, name := range []string{"title", "datetime", "data-time", "data-timestamp", "data-date"} {
		if when, ok := dateAttr(attr(n, name)); ok && !notPosted.MatchString(own) && len(own) < 40 {
			return when, true
		}
	}
	when, at, ok := findDate(own)
	if !ok || notPosted.MatchString(own) || notPosted.MatchString(p.lead(n)) {
		return stamp{}, false
	}
	rest := own[:at.start] + " " + own[at.end:]
	if wordCount(rest) > 8 || proseMark.MatchString(rest) {
		return stamp{}, false
	}
	return when, true
}

func dateAttr(s string) (stamp, bool) {
	if n, err := strconv.ParseInt(s, 10, 64); err == nil && (len(s) == 10 || len(s) == 13) {
		if len(s) == 13 {
			n /= 1000
		}
		t := time.Unix(n, 0).UTC()
		return stamp{year: t.Year(), month: int(t.Month()), day: t.Day(), hour: t.Hour(), min: t.Minute(), sec: t.Second(), clock: true}, true
	}
	when, _, ok := findDate(s)
	return when, ok && when.year > 0
}

// lead is the text right before an element in its parent.
func (p *page) lead(n *html.Node) string {
	if n.PrevSibling != nil && n.PrevSibling.Type == html.TextNode {
		return n.PrevSibling.Data
	}
	return ""
}

// seriesBlocks makes a post of each date of a series. A post is the widest element that holds its date and no other one
// of the blockers; where such elements hold only the headers of posts, it is the run of siblings up to the next header.
func (p *page) seriesBlocks(series, blockers []anchor) []block {
	count := map[*html.Node]int{}
	for _, a := range blockers {
		for n := a.node; n != nil; n = n.Parent {
			count[n]++
		}
	}
	tops := make([]*html.Node, len(series))
	for i, a := range series {
		tops[i] = p.widest(a.node, count, len(blockers))
	}
	if len(series) >= 3 {
		alignTops(series, tops)
	}
	runs := p.runs(tops, count)
	return p.blocksOf(series, runs)
}

// widest climbs from a date as long as no other date is inside. A lone date stops at the first element with enough text.
func (p *page) widest(n *html.Node, count map[*html.Node]int, all int) *html.Node {
	top := n
	for up := n; up != nil && up.Type == html.ElementNode && up.DataAtom != atom.Body && count[up] == 1; up = up.Parent {
		top = up
		if all == 1 && len(p.text(up)) > maxAnchorText && p.hasAuthorHint(up) {
			break
		}
	}
	return top
}

func (p *page) hasAuthorHint(n *html.Node) bool {
	found := authorOfAttr(n) != ""
	p.each(n, func(c *html.Node) bool {
		found = found || hasClassHint(c, authorHint) || strings.Contains(attr(c, "rel"), "author")
		return !found
	})
	if !found {
		_, found = p.lineAuthor(n)
	}
	return found
}

// alignTops narrows an element that is wider than those of most posts (the first post often shares one with the page's
// head) to the one inside it that has their shape.
func alignTops(series []anchor, tops []*html.Node) {
	votes := map[string]int{}
	usual := ""
	for _, t := range tops {
		votes[shape(t)]++
		if votes[shape(t)] > votes[usual] {
			usual = shape(t)
		}
	}
	for i, a := range series {
		if shape(tops[i]) == usual {
			continue
		}
		for n := a.node; n != tops[i] && n != nil; n = n.Parent {
			if shape(n) == usual {
				tops[i] = n
				break
			}
		}
	}
}

// runs gives the nodes of each post: one element, or the siblings after a header element up to the next header.
func (p *page) runs(tops []*html.Node, count map[*html.Node]int) [][]*html.Node {
	out := make([][]*html.Node, len(tops))
	alone, together := 0, 0
	longest := 0
	for i, top := range tops {
		out[i] = []*html.Node{top}
		size := len(p.text(top))
		alone += size
		together += size
		for s := top.NextSibling; s != nil && count[s] == 0; s = s.NextSibling {
			out[i] = append(out[i], s)
			if i < len(tops)-1 || len(tops) == 1 {
				together += len(p.text(s))
			}
		}
		if i < len(tops)-1 {
			longest = max(longest, len(out[i]))
		}
	}
	if alone*2 >= together {
		for i := range out {
			out[i] = out[i][:1]
		}
		return out
	}
	if last := len(out) - 1; last > 0 && len(out[last]) > longest {
		out[last] = out[last][:longest]
	}
	return out
}

// blocksOf finds author and body in each post of a series.
func (p *page) blocksOf(series []anchor, runs [][]*html.Node) []block {
	authors := p.authorsOf(runs)
	out := make([]block, len(series))
	parts := make([][]*html.Node, len(series))
	weight := map[string]int{}
	usual := ""
	for i, a := range series {
		out[i] = block{author: authors[i].name, when: a.when}
		parts[i] = p.partsOf(runs[i], []*html.Node{a.node, authors[i].node})
		key := p.largest(parts[i])
		if key != "" {
			weight[key]++
			if weight[key] > weight[usual] {
				usual = key
			}
		}
	}
	for i := range out {
		out[i].body, out[i].after = p.splitParts(parts[i], usual)
	}
	return slices.DeleteFunc(out, func(b block) bool { return len(b.body) == 0 })
}

// partsOf gives the outermost nodes of a post that hold neither its date nor its author.
func (p *page) partsOf(run, header []*html.Node) []*html.Node {
	holds := map[*html.Node]bool{}
	for _, h := range header {
		for n := h; n != nil; n = n.Parent {
			holds[n] = true
		}
	}
	var out []*html.Node
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		switch {
		case slices.Contains(header, n):
		case n.Type == html.ElementNode && (p.hidden(n) || unread(n)) || n.Type == html.CommentNode:
		case holds[n]:
			for c := n.FirstChild; c != nil; c = c.NextSibling {
				walk(c)
			}
		case besideHeader(n, header) && wordCount(p.text(n)) <= 3:
		case strings.TrimSpace(p.text(n)) != "":
			out = append(out, n)
		}
	}
	for _, n := range run {
		walk(n)
	}
	return out
}

// besideHeader tells words such as "answered" that stand on one line with the date or the author.
func besideHeader(n *html.Node, header []*html.Node) bool {
	if n.Type == html.ElementNode && (isBlock(n) || n.DataAtom == atom.P) {
		return false
	}
	return slices.ContainsFunc(header, func(h *html.Node) bool { return h != nil && h.Parent == n.Parent && !isBlock(h) })
}

func (p *page) largest(parts []*html.Node) string {
	key, size := "", 0
	for _, n := range parts {
		if s := len(p.text(n)); s > size && !isAdvert(n, "") {
			key, size = partKey(n), s
		}
	}
	return key
}

func partKey(n *html.Node) string {
	if n.Type != html.ElementNode {
		return "#text"
	}
	return shape(n) + "<" + shape(n.Parent)
}

// splitParts tells the body of a post from what follows it. Bodies of loose paragraphs take the blocks between them along.
func (p *page) splitParts(parts []*html.Node, usual string) (body, after []*html.Node) {
	key := usual
	if !slices.ContainsFunc(parts, func(n *html.Node) bool { return partKey(n) == key }) {
		key = p.largest(parts)
	}
	loose := key == "#text" || strings.HasPrefix(key, "p.<")
	for _, n := range parts {
		switch {
		case partKey(n) == key && !(len(body) > 0 && hasClassHint(n, signatureHint)):
			body = append(body, n)
		case loose && (len(body) > 0 || isProse(n)) && isLoosePart(n) && !p.isMachinery(n):
			body = append(body, n)
		case isAdvert(n, p.text(n)):
		case len(body) > 0:
			after = append(after, n)
		case n.DataAtom == atom.Blockquote || hasClassHint(n, quoteHint):
			body = append(body, n)
		}
	}
	return body, after
}

func isProse(n *html.Node) bool {
	return n.DataAtom == atom.P || n.DataAtom == atom.Blockquote || n.DataAtom == atom.Ul || n.DataAtom == atom.Ol
}

func isLoosePart(n *html.Node) bool {
	if n.Type == html.TextNode {
		return wordCount(n.Data) > 0 && strings.ContainsFunc(n.Data, isAlnum)
	}
	return !hasClassHint(n, signatureHint) && !hasClassHint(n, actionHint) && !hasClassHint(n, advertHint)
}
