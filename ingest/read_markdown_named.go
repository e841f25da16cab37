package ingest

import (
	"regexp"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// mdNamed gives the blocks with bylines that are names alone: headings such as "Post 2 by ann" or "ann", paragraphs that begin with
// "**ann:**". They count where at least three of one form are there and a name comes twice; nil where they do not. Headings of
// sections and labels ("Test:", "Result:") look the same and are told by their words.
func (p *page) mdNamed(blocks []mdBlock) []mdBlock {
	forms := map[string]int{}
	named := make([]mdBlock, len(blocks))
	for i, b := range blocks {
		named[i] = p.namedBlock(b)
		if named[i].form != "" {
			forms[named[i].form]++
		}
	}
	best := ""
	for _, b := range named {
		if b.form != "" && forms[b.form] > forms[best] {
			best = b.form
		}
	}
	count := map[string]int{}
	handles := 0
	for i := range named {
		if named[i].form != best {
			named[i].form = ""
			continue
		}
		name := strings.ToLower(named[i].by.author)
		if count[name]++; count[name] == 1 && isHandle(named[i].by.author) {
			handles++
		}
	}
	if best == "" || forms[best] < 3 || len(count) == forms[best] || len(count) < 2 || best != "#" && handles*2 < len(count) {
		return nil
	}
	return named
}

// namedBlock reads the name that a block begins with.
func (p *page) namedBlock(b mdBlock) mdBlock {
	b.form = ""
	text := p.blockText(b.node)
	line, rest, _ := strings.Cut(text, "\n")
	set := func(form, name string, end int) {
		if name = trimName(name); isName(name) && !isLabel(name) {
			b.form, b.by = form, byline{author: name, end: end}
			b.rest = strings.TrimSpace(line[min(end, len(line)):]+rest) != ""
		}
	}
	if isHeading(b.node) {
		if m := postOf.FindStringSubmatch(line); m != nil {
			set("#", m[1]+m[2], len(line))
		} else if isHandle(strings.TrimSpace(line)) || wordCount(line) <= 3 {
			set(b.node.Data, line, len(line))
		}
		return b
	}
	if setOff := p.setOff(b.node); b.node.DataAtom == atom.P && len(setOff) > 0 {
		name := strings.TrimSuffix(strings.TrimSpace(setOff[0]), ":")
		if after, ok := strings.CutPrefix(line, name); ok && strings.HasPrefix(after, ":") {
			set("p:", name, len(name)+1)
		}
	}
	return b
}

// postOf are headings such as "Post 2 by ann", "#2 ann" and "ann #2".
var postOf = regexp.MustCompile(`(?i)^(?:(?:#|post|reply|answer|comment|no\.?)\s*#?\d{1,5}[.:)]?\s*(?:by|from|[-–—|·])?\s+@?(.{2,40})|@?(.{2,40}?)\s*[-–—|·(]?\s*#\d{1,5}\)?)$`)

// isHandle tells names that people go by on a site from words: a digit or a mark in it, or small letters from the start.
func isHandle(name string) bool {
	return !strings.Contains(name, " ") && (strings.ContainsAny(name, "_.-0123456789") || name != "" && unicode.IsLower(firstRune(name)))
}

// labels are words that head a section or a line of a write-up and are nobody's name.
const labels = " symptom symptoms test tests result results fix fixes problem problems cause causes machine vehicle code codes note notes step steps part parts " +
	"summary background history introduction intro tools diagnosis finding findings repair repairs conclusion solution outcome reading readings measurement " +
	"question answer q a tip tips warning caution cost costs time labour details description action actions status update updates edit "

func isLabel(name string) bool {
	word := strings.ToLower(strings.TrimRight(strings.Fields(name)[0], "0123456789.:"))
	return strings.Contains(labels, " "+word+" ")
}

// listedPosts gives the items of a list as blocks of their own where most begin with a name and a date.
func (p *page) listedPosts(n *html.Node) []mdBlock {
	var out []mdBlock
	dated := 0
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.DataAtom != atom.Li {
			continue
		}
		b := p.mdBlock(c)
		if b.form != "" {
			dated++
		}
		out = append(out, b)
	}
	if dated < 2 || dated*2 <= len(out) {
		return nil
	}
	return slices.Clip(out)
}
