package ingest

import (
	"strings"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// namedBlocks finds the posts of a page that shows no dates: around the names of their authors, which stand in elements of one shape
// that are marked as such by class, relation or attribute.
func (p *page) namedBlocks() []block {
	groups := map[string][]anchor{}
	var keys []string
	p.each(p.root, func(n *html.Node) bool {
		if unread(n) || n.DataAtom == atom.Blockquote || hasClassHint(n, quoteHint) && isBlock(n) && n.DataAtom != atom.Body {
			return false
		}
		if !p.namesAuthor(n) {
			return true
		}
		key := shape(n) + "<" + shape(n.Parent)
		if groups[key] == nil {
			keys = append(keys, key)
		}
		groups[key] = append(groups[key], anchor{node: n, key: key})
		return false
	})
	var best []block
	for _, key := range keys[:min(len(keys), maxSeries)] {
		if len(groups[key]) < 2 {
			continue
		}
		blocks := p.seriesBlocks(groups[key], groups[key])
		named := 0
		for i := range blocks {
			if blocks[i].author != "" {
				named++
			}
		}
		if named >= 2 && p.score(blocks) > p.score(best) {
			best = blocks
		}
	}
	return best
}

// namesAuthor tells an element that shows a name and nothing else, where the page says that it is somebody's.
func (p *page) namesAuthor(n *html.Node) bool {
	if !hasClassHint(n, authorHint) && !strings.Contains(attr(n, "rel"), "author") && !strings.Contains(attr(n, "itemprop"), "author") {
		return false
	}
	s, ok := shortText(n, maxNameLen)
	return ok && isName(strings.TrimPrefix(trimName(s), "@")) && !isNoise(s) && !metaLine.MatchString(s) && !advertText.MatchString(s)
}

// shownTitle gives the part of a document's title that the page shows on its own, without the name of the site: "topic - site" or
// "site | topic". Without such a part it is the title.
func (p *page) shownTitle(title string) string {
	var parts []string
	rest := title
	for _, sep := range []string{" | ", " - ", " – ", " — ", " :: ", " » ", " · "} {
		if head, tail, ok := strings.Cut(rest, sep); ok {
			parts = append(parts, head, tail)
		}
		if i := strings.LastIndex(rest, sep); i > 0 {
			parts = append(parts, rest[:i], rest[i+len(sep):])
		}
	}
	best := ""
	p.each(p.root, func(n *html.Node) bool {
		if s, ok := shortText(n, 2*maxBylineLen); ok && n.DataAtom != atom.A && n.DataAtom != atom.Title {
			for _, part := range parts {
				if strings.EqualFold(s, strings.TrimSpace(part)) && wordCount(part) > 1 && len(part) > len(best) {
					best = strings.TrimSpace(part)
				}
			}
		}
		return true
	})
	return first(best, title)
}
