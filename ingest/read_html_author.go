package ingest

import (
	"regexp"
	"strings"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// named is an author and the element that shows the name.
type named struct {
	name string
	node *html.Node
}

// authorHint are words in class names that stand for a person, in several languages.
var authorHint = regexp.MustCompile(`(?i)(?:^|[-_ ])(?:author|autor|auteur|autore|user|username|nick|nickname|poster|member|name|who|by|fn|handle|sender|pseudo|forfatter|u)(?:$|[-_ ])|username|autor|nickname|author`)

// candidate collects what stands at one place of all posts and could be the author's name.
type candidate struct {
	values map[int]named // by post
	hint   bool
	tag    bool
	order  int
}

// authorsOf finds who wrote each post: the place in the posts' structure whose short texts look like names, come in most
// posts, differ between posts and are set off as names usually are.
func (p *page) authorsOf(runs [][]*html.Node) []named {
	places := map[string]*candidate{}
	var keys []string
	for i, run := range runs {
		for _, top := range run {
			p.collectNames(top, func(key string, value named) {
				c := places[key]
				if c == nil {
					c = &candidate{values: map[int]named{}, order: len(keys)}
					places[key] = c
					keys = append(keys, key)
				}
				if _, ok := c.values[i]; !ok {
					c.values[i] = value
				}
				c.hint = c.hint || hasClassHint(value.node, authorHint) || hasClassHint(value.node.Parent, authorHint) || strings.Contains(attr(value.node, "rel"), "author")
				c.tag = c.tag || isNameTag(value.node)
			})
		}
	}
	var best *candidate
	bestScore := 0.0
	for _, key := range keys {
		if score := places[key].score(len(runs)); best == nil || score > bestScore {
			best, bestScore = places[key], score
		}
	}
	out := make([]named, len(runs))
	for i, run := range runs {
		if best != nil && bestScore > 0.9 {
			out[i] = best.values[i]
		}
		for _, top := range run {
			if name, ok := p.lineAuthor(top); ok && out[i].name == "" {
				out[i].name = name
			}
			if name := p.dataAuthor(top); name != "" {
				out[i].name = name
			}
		}
	}
	return out
}

func (c *candidate) score(posts int) float64 {
	distinct := map[string]bool{}
	length := 0
	for _, v := range c.values {
		distinct[v.name] = true
		length += len(v.name)
	}
	score := float64(len(c.values)) / float64(posts)
	if c.hint {
		score += 0.6
	}
	if c.tag {
		score += 0.3
	}
	if posts > 2 && len(distinct) == 1 {
		score -= 0.7
	}
	return score - float64(c.order)*0.001 - float64(length/len(c.values))*0.002
}

func isNameTag(n *html.Node) bool {
	switch n.DataAtom {
	case atom.A, atom.Strong, atom.B, atom.H3, atom.H4, atom.H5, atom.H6, atom.Cite, atom.Address:
		return true
	}
	return false
}

// collectNames visits the elements of a post whose whole text could be a name.
func (p *page) collectNames(top *html.Node, visit func(string, named)) {
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		if n.Type != html.ElementNode || p.hidden(n) || unread(n) || n.DataAtom == atom.Blockquote || n.DataAtom == atom.Li && n != top && isBlock(n) && hasChild(n, atom.P) {
			return
		}
		text := p.text(n)
		if text != "" && len(text) <= 60 {
			_, _, dated := findDate(text)
			name := strings.TrimPrefix(trimName(text), "@")
			single := n.FirstChild != nil && n.FirstChild == n.LastChild && n.FirstChild.Type == html.ElementNode
			if !dated && !single && isName(name) && !isNoise(text) && !metaLine.MatchString(text) && !advertText.MatchString(text) {
				visit(shape(n)+"<"+shape(n.Parent), named{name, n})
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(top)
}

func authorOfAttr(n *html.Node) string {
	for _, name := range []string{"data-author", "data-username", "data-user-name", "data-poster"} {
		if v := attr(n, name); isName(v) {
			return v
		}
	}
	return ""
}

// dataAuthor reads a name that a post's element carries as an attribute; quotes carry that of somebody else.
func (p *page) dataAuthor(top *html.Node) string {
	if top.Type != html.ElementNode {
		return ""
	}
	name := authorOfAttr(top)
	p.each(top, func(n *html.Node) bool {
		if n.DataAtom == atom.Blockquote || hasClassHint(n, quoteHint) {
			return false
		}
		name = first(name, authorOfAttr(n))
		return name == ""
	})
	return name
}

// lineAuthor reads the author from a line such as "Posted by X on 3 May 2020".
func (p *page) lineAuthor(top *html.Node) (string, bool) {
	var f flow
	p.render(&f, top)
	text := f.done().text
	for _, row := range lines(text) {
		line := text[row.start:row.end]
		if len(line) > maxBylineLen || notPosted.MatchString(line) {
			continue
		}
		if by, ok := parseByline(line, nil); ok && by.author != "" && wordCount(line) <= 16 {
			return by.author, true
		}
	}
	return "", false
}
