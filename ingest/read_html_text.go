package ingest

import (
	"regexp"
	"slices"
	"strings"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name && a.Namespace == "" {
			return a.Val
		}
	}
	return ""
}

func hasAttr(n *html.Node, name string) bool {
	for _, a := range n.Attr {
		if a.Key == name {
			return true
		}
	}
	return false
}

// Hints in class names and ids, in words of several languages. They support what the structure says, never replace it.
var (
	signatureHint = regexp.MustCompile(`(?i)(?:^|[-_ ])(?:sg|sig|sign|signature|sigline|signatur|unterschrift|firma|handtekening|podpis)(?:$|[-_ ])|signature`)
	quoteHint     = regexp.MustCompile(`(?i)(?:^|[-_ ])(?:quote|quoted|quotebox|bbquote|bbcodequote|zitat|citation|cita|citaat|cytat)(?:$|[-_ ])|bbcode_?quote|quote_?block`)
	actionHint    = regexp.MustCompile(`(?i)(?:^|[-_ ])(?:act|acts|actions?|buttons?|bar|tools?|controls?|links?|lnk|votes?|share|likes?|footer|permalink|knopf|score)(?:$|[-_ ])`)
	advertHint    = regexp.MustCompile(`(?i)(?:^|[-_ ])(?:ad|ads|adv|advert|advertisement|adslot|ad-slot|sponsor|sponsored|promo|promoted|banner|bnr|werbung|anzeige|reklame|publicidad|pub)(?:$|[-_ ])`)
	advertText    = regexp.MustCompile(`(?i)^\W*(?:ads?\b\s*[:.–-]?|advert(?:isement)?\b|sponsored\b|promoted\b|anzeige\b|werbung\b|partner offer\b)`)
)

func hasClassHint(n *html.Node, re *regexp.Regexp) bool {
	return n.Type == html.ElementNode && (re.MatchString(attr(n, "class")) || re.MatchString(attr(n, "id")))
}

func isAdvert(n *html.Node, text string) bool {
	if hasClassHint(n, advertHint) || advertText.MatchString(text) {
		return true
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.Type == html.ElementNode && hasClassHint(c, advertHint) {
			return true
		}
	}
	return false
}

// each walks the elements that a reader can see; visit returns false to pass over what is inside.
func (p *page) each(n *html.Node, visit func(*html.Node) bool) {
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.Type == html.ElementNode && !p.hidden(c) && visit(c) {
			p.each(c, visit)
		}
	}
}

// eachText walks the pieces of text that a reader can see.
func (p *page) eachText(n *html.Node, visit func(*html.Node)) {
	if n.Type == html.TextNode {
		visit(n)
		return
	}
	if n.Type == html.ElementNode && (p.hidden(n) || unread(n)) {
		return
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		p.eachText(c, visit)
	}
}

// text is the visible text of a node on one line.
func (p *page) text(n *html.Node) string {
	var f flow
	p.render(&f, n)
	return strings.ReplaceAll(strings.ReplaceAll(f.done().text, "\n\n", " "), "\n", " ")
}

func innerText(n *html.Node) string {
	var b strings.Builder
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.Type == html.TextNode {
			b.WriteString(c.Data)
		}
	}
	return b.String()
}

// within tells whether n stands in an element of one of the kinds, looking no higher than top.
func within(n, top *html.Node, kinds ...atom.Atom) bool {
	for ; n != nil; n = n.Parent {
		for _, k := range kinds {
			if n.Type == html.ElementNode && n.DataAtom == k {
				return true
			}
		}
		if n == top {
			return false
		}
	}
	return false
}

// unread tells elements whose content is no text of the page.
func unread(n *html.Node) bool {
	switch n.DataAtom {
	case atom.Script, atom.Style, atom.Template, atom.Noscript, atom.Head, atom.Iframe, atom.Object, atom.Svg, atom.Math, atom.Img, atom.Canvas,
		atom.Audio, atom.Video, atom.Button, atom.Select, atom.Input, atom.Textarea, atom.Datalist, atom.Meta, atom.Link, atom.Title, atom.Nav:
		return true
	}
	return false
}

func isBlock(n *html.Node) bool {
	switch n.DataAtom {
	case atom.Address, atom.Article, atom.Aside, atom.Center, atom.Dd, atom.Details, atom.Dialog, atom.Div, atom.Dl, atom.Dt, atom.Fieldset, atom.Figcaption,
		atom.Figure, atom.Footer, atom.Form, atom.Header, atom.Hgroup, atom.Li, atom.Main, atom.Ol, atom.Section, atom.Summary, atom.Table, atom.Tbody,
		atom.Td, atom.Th, atom.Thead, atom.Tr, atom.Ul, atom.Body, atom.Caption, atom.Html:
		return true
	}
	return false
}

// render writes the visible text below a node.
func (p *page) render(f *flow, n *html.Node) {
	switch {
	case n.Type == html.TextNode:
		f.text(n.Data)
		return
	case n.Type != html.ElementNode:
		p.renderChildren(f, n)
		return
	case p.hidden(n) || unread(n):
		return
	}
	switch n.DataAtom {
	case atom.Br:
		if f.breaks > 0 {
			f.para()
		}
		f.line()
	case atom.Hr:
		f.para()
	case atom.Blockquote:
		p.renderQuote(f, n)
	case atom.H1, atom.H2, atom.H3, atom.H4, atom.H5, atom.H6:
		p.renderAs(f, n, RegionHeading, f.para)
	case atom.Li:
		p.renderAs(f, n, RegionItem, f.line)
	case atom.Pre:
		f.pre++
		p.renderAs(f, n, RegionCode, f.para)
		f.pre--
	case atom.Tr:
		p.renderRow(f, n)
	case atom.P:
		f.para()
		p.renderChildren(f, n)
		f.para()
	default:
		p.renderOther(f, n)
	}
}

func (p *page) renderOther(f *flow, n *html.Node) {
	switch {
	case hasClassHint(n, signatureHint) && isBlock(n):
		p.renderAs(f, n, RegionSignature, f.para)
	case hasClassHint(n, quoteHint) && isBlock(n) && !hasChild(n, atom.Blockquote) && !f.inside(RegionQuote):
		p.renderQuote(f, n)
	case isBlock(n):
		f.line()
		p.renderChildren(f, n)
		f.line()
	default:
		p.renderChildren(f, n)
	}
}

func (p *page) renderAs(f *flow, n *html.Node, kind RegionKind, brk func()) {
	brk()
	r := f.begin(kind)
	p.renderChildren(f, n)
	f.end(r)
	brk()
}

func (p *page) renderChildren(f *flow, n *html.Node) {
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		p.render(f, c)
	}
}

// renderRow writes a table row: its cells on one line if there are several, else as the block a layout table makes of it.
func (p *page) renderRow(f *flow, n *html.Node) {
	var cells []*html.Node
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if (c.DataAtom == atom.Td || c.DataAtom == atom.Th) && !p.hidden(c) {
			cells = append(cells, c)
		}
	}
	layout := len(cells) < 2
	for _, c := range cells {
		layout = layout || hasChild(c, atom.P, atom.Blockquote, atom.Table, atom.Div, atom.Ul, atom.Ol)
	}
	if layout {
		f.line()
		p.renderChildren(f, n)
		f.line()
		return
	}
	texts := make([]string, len(cells))
	for i, c := range cells {
		texts[i] = p.text(c)
	}
	if strings.Join(texts, "") != "" {
		writeRow(f, texts)
	}
}

// writeRow writes the cells of a table row as a region named after its first cell.
func writeRow(f *flow, cells []string) {
	f.line()
	r := f.begin(RegionCell)
	f.text(strings.Join(cells, " | "))
	f.regions[r].Name = visible(cells[0])
	f.end(r)
	f.line()
}

func hasChild(n *html.Node, kinds ...atom.Atom) bool {
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.Type != html.ElementNode {
			continue
		}
		for _, k := range kinds {
			if c.DataAtom == k {
				return true
			}
		}
		if hasChild(c, kinds...) {
			return true
		}
	}
	return false
}

// renderQuote writes a quote; who is quoted is told by an attribute, a citation element or the first line.
func (p *page) renderQuote(f *flow, n *html.Node) {
	f.para()
	r := f.begin(RegionQuote)
	from := f.b.Len()
	p.renderChildren(f, n)
	f.end(r)
	f.para()
	text := strings.TrimSpace(f.b.String()[from:])
	f.regions[r].Author = visible(attr(n, "data-author"))
	if f.regions[r].Author == "" {
		f.regions[r].Author = p.quoteAuthor(n, text)
	}
}

func (p *page) quoteAuthor(n *html.Node, text string) string {
	row, _, _ := strings.Cut(text, "\n")
	if author, _, ok := quotedBy(row); ok {
		return author
	}
	lead := ""
	p.each(n, func(c *html.Node) bool {
		switch c.DataAtom {
		case atom.Cite, atom.B, atom.Strong:
			if s := p.text(c); lead == "" && (c.DataAtom == atom.Cite || strings.HasPrefix(text, s) && strings.HasPrefix(strings.TrimSpace(text[len(s):]+":"), ":") || strings.HasSuffix(s, ":")) {
				lead = s
			}
		}
		return lead == ""
	})
	if author, _, ok := quotedBy(lead); ok {
		return author
	}
	if name := strings.TrimSpace(strings.TrimSuffix(lead, ":")); isName(name) {
		return name
	}
	return ""
}

// maxSignature is the length beyond which the text below a rule is a part of the post and no signature.
const maxSignature = 600

// tidy takes lines of the page's machinery out of a post and marks edit notes, rules above signatures and the like.
func tidy(p passage) passage {
	var edits []edit
	rows := lines(p.text)
	for i, row := range rows {
		line := strings.TrimSpace(p.text[row.start:row.end])
		switch {
		case line == "":
		case isSignatureRule(line) && i+1 < len(rows) && len(p.text)-row.end < maxSignature && !inRegion(p.regions, RegionSignature, row.start):
			p.regions = append(p.regions, Region{Start: rows[i+1].start, End: len(p.text), Kind: RegionSignature})
			edits = append(edits, edit{row.start, row.end + 1, ""})
		case (isNoise(line) || quoteLabel.MatchString(line) && len(line) < 12) && !onlyText(p.text, line):
			edits = append(edits, edit{row.start, min(row.end+1, len(p.text)), ""})
		case editNote.MatchString(line) && !inRegion(p.regions, RegionEdit, row.start):
			p.regions = append(p.regions, Region{Start: row.start, End: row.end, Kind: RegionEdit})
		}
	}
	sortRegions(p.regions)
	return p.rewrite(edits).trimmed()
}

func onlyText(text, line string) bool { return strings.TrimSpace(text) == line }

func isSignatureRule(line string) bool {
	return line == "--" || len(line) >= 3 && strings.Trim(line, "_") == ""
}

// trimmed is the passage without blanks around it and without runs of empty lines.
func (p passage) trimmed() passage {
	var edits []edit
	if lead := len(p.text) - len(strings.TrimLeft(p.text, " \n")); lead > 0 {
		edits = append(edits, edit{0, lead, ""})
	}
	for _, m := range emptyLines.FindAllStringIndex(p.text, -1) {
		if m[0] > 0 && m[1] < len(p.text) {
			edits = append(edits, edit{m[0], m[1], "\n\n"})
		}
	}
	if end := len(strings.TrimRight(p.text, " \n")); end < len(p.text) && end > 0 {
		edits = append(edits, edit{end, len(p.text), ""})
	}
	p = p.rewrite(edits)
	for i := range p.regions {
		r := &p.regions[i]
		r.Start += len(p.text[r.Start:r.End]) - len(strings.TrimLeft(p.text[r.Start:r.End], " \n"))
		r.End = r.Start + len(strings.TrimRight(p.text[r.Start:r.End], " \n"))
	}
	p.regions = slices.DeleteFunc(p.regions, func(r Region) bool { return r.Start >= r.End })
	sortRegions(p.regions)
	return p
}

var emptyLines = regexp.MustCompile(`\n{3,}`)
