package ingest

import (
	"regexp"
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

// siteWord are words in the names of sites.
var siteWord = regexp.MustCompile(`(?i)\b(?:boards?|forums?|foren|foros?|community|talk|answers|club|help|support|net|com|org|site|portal|corner|exchange)\b`)

// topicOf gives the part of a document's title that is the topic, without the name of the site: "topic | site" or "site | topic". The
// page shows the topic on its own, or the name of the site. Without either it is the whole title.
func (p *page) topicOf(title string) string {
	shown := map[string]bool{}
	p.each(p.root, func(n *html.Node) bool {
		if s, ok := shortText(n, 2*maxBylineLen); ok {
			shown[strings.ToLower(s)] = true
		}
		return true
	})
	for _, sep := range []string{" | ", " :: ", " » ", " · ", " – ", " — ", " - "} {
		i := strings.LastIndex(title, sep)
		if i <= 0 {
			continue
		}
		head, tail := strings.TrimSpace(title[:i]), strings.TrimSpace(title[i+len(sep):])
		switch {
		case shown[strings.ToLower(head)] && !siteWord.MatchString(head):
			return head
		case shown[strings.ToLower(tail)] && (siteWord.MatchString(tail) || strings.ToUpper(tail) == tail):
			return head
		case shown[strings.ToLower(tail)] && wordCount(tail) > 2:
			return tail
		}
	}
	return title
}
