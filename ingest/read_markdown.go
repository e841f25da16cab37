package ingest

import (
	"bytes"
	"regexp"
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/parser"
	mdhtml "github.com/yuin/goldmark/renderer/html"
	"go.abhg.dev/goldmark/frontmatter"
	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// matter is what the head of a Markdown file may tell of it.
type matter struct {
	Title    string `yaml:"title" toml:"title"`
	Author   string `yaml:"author" toml:"author"`
	Date     any    `yaml:"date" toml:"date"`
	URL      string `yaml:"url" toml:"url"`
	Link     string `yaml:"link" toml:"link"`
	Licence  string `yaml:"licence" toml:"licence"`
	License  string `yaml:"license" toml:"license"`
	Site     string `yaml:"site" toml:"site"`
	Source   string `yaml:"source" toml:"source"`
	Language string `yaml:"lang" toml:"lang"`
}

// mdBlock is a top-level block of a Markdown document, with the byline it opens with if it has one.
type mdBlock struct {
	node *html.Node
	by   byline
	form string // shape of the byline; those of all posts share it. Empty: no byline
	rest bool   // text follows the byline in the block
}

// readMarkdown reads a Markdown document: one article, or a thread whose posts are told apart by lines with name and date.
// The document is rendered and read like a page, so that raw HTML in it counts as far as a reader sees it.
func readMarkdown(f File, opt Options) ([]*draft, error) {
	p, m, err := markdownPage(f, opt)
	if err != nil {
		return nil, err
	}
	d := &draft{title: visible(m.Title), url: first(m.URL, m.Link), site: first(m.Site, m.Source), licence: first(m.Licence, m.License), language: m.Language}
	blocks := p.mdBlocks()
	blocks = dropFooter(p, blocks)
	form := usualForm(blocks)
	count := 0
	for i := range blocks {
		if blocks[i].form != form {
			blocks[i].form = ""
		}
		if blocks[i].form != "" {
			count++
		}
	}
	if count < 2 {
		if named := p.mdNamed(blocks); named != nil {
			p.mdThread(d, m, named)
			return []*draft{d}, nil
		}
		d.posts = []draftPost{p.mdArticle(d, m, blocks)}
		return []*draft{d}, nil
	}
	p.mdThread(d, m, blocks)
	return []*draft{d}, nil
}

func markdownPage(f File, opt Options) (*page, matter, error) {
	if quoteDepth(f.Data) > opt.MaxDepth {
		return nil, matter{}, failure(f, 0, "quotes nested more than %d deep", opt.MaxDepth)
	}
	if line := crowded(f.Data); line > 0 {
		return nil, matter{}, failure(f, line, "more than %d marks for emphasis and links in one paragraph", maxMarks)
	}
	renderOpts := []goldmark.Option{goldmark.WithExtensions(extension.Table, extension.Strikethrough, extension.TaskList, extension.DefinitionList, &frontmatter.Extender{})}
	unsafe := mdhtml.WithUnsafe() // read here only, never shown
	if wrapWidth(strings.Split(string(f.Data), "\n")) == 0 {
		renderOpts = append(renderOpts, goldmark.WithRendererOptions(unsafe, mdhtml.WithHardWraps()))
	} else {
		renderOpts = append(renderOpts, goldmark.WithRendererOptions(unsafe))
	}
	var m matter
	var out bytes.Buffer
	ctx := parser.NewContext()
	if err := goldmark.New(renderOpts...).Convert(f.Data, &out, parser.WithContext(ctx)); err != nil {
		return nil, m, failure(f, 0, "broken Markdown: %v", err)
	}
	if data := frontmatter.Get(ctx); data != nil {
		if err := data.Decode(&m); err != nil {
			return nil, m, failure(f, 1, "broken front matter: %v", err)
		}
	}
	root, err := html.Parse(&out)
	if err != nil {
		return nil, m, failure(f, 0, "broken HTML in Markdown: %v", err)
	}
	if depth(root, opt.MaxDepth) > opt.MaxDepth {
		return nil, m, failure(f, 0, "blocks nested more than %d deep", opt.MaxDepth)
	}
	p := &page{root: root}
	p.readStyles()
	return p, m, nil
}

// quoteDepth is the deepest run of quote marks at the start of a line.
func quoteDepth(data []byte) int {
	deepest, level, start := 0, 0, true
	for _, c := range data {
		switch {
		case c == '\n':
			start, level = true, 0
		case c == '>' && start:
			level++
			deepest = max(deepest, level)
		case c != ' ' && c != '\t':
			start = false
		}
	}
	return deepest
}

// maxMarks bounds the marks of one paragraph, whose pairing takes time with their square.
const maxMarks = 5000

// crowded gives the line of the first paragraph with too many marks, 0 if there is none.
func crowded(data []byte) int {
	marks, at := 0, 0
	for line := range bytes.Lines(data) {
		at++
		if len(bytes.TrimSpace(line)) == 0 {
			marks = 0
		}
		for _, c := range line {
			if c == '*' || c == '_' || c == '[' || c == '~' || c == '`' || c == '!' || c == '<' {
				marks++
			}
		}
		if marks > maxMarks {
			return at
		}
	}
	return 0
}

func (p *page) mdBlocks() []mdBlock {
	var body *html.Node
	p.each(p.root, func(n *html.Node) bool {
		if n.DataAtom == atom.Body {
			body = n
		}
		return body == nil
	})
	var out []mdBlock
	for n := body.FirstChild; n != nil; n = n.NextSibling {
		if n.Type == html.TextNode && strings.TrimSpace(n.Data) == "" || n.Type == html.ElementNode && p.hidden(n) || n.Type == html.CommentNode {
			continue
		}
		if items := p.listedPosts(n); items != nil {
			out = append(out, items...)
			continue
		}
		out = append(out, p.mdBlock(n))
	}
	return out
}

var spokenBy = regexp.MustCompile(`(?i)^\s*@?(.{1,40}?)\s+(?:wrote|said|says|replied|asked|answered|posted)\s*:`)

func (p *page) mdBlock(n *html.Node) mdBlock {
	b := mdBlock{node: n}
	if n.DataAtom != atom.P && n.DataAtom != atom.Li && !isHeading(n) {
		return b
	}
	text := p.blockText(n)
	line, rest, _ := strings.Cut(text, "\n")
	setOff := p.setOff(n)
	by, ok := parseByline(line, setOff)
	if !ok && len(setOff) > 0 && strings.HasPrefix(line, setOff[0]) && isName(setOff[0]) {
		if m := spokenBy.FindString(line); m != "" {
			by, ok = byline{author: setOff[0], end: len(m)}, true
		}
	}
	tail := strings.TrimSpace(line[min(by.end, len(line)):])
	inline := strings.HasSuffix(strings.TrimRight(line[:min(by.end, len(line))], " "), ":")
	if !ok || by.author == "" || !inline && wordCount(tail) > 10 || editNote.MatchString(line) {
		return b
	}
	if !inline {
		by.end = len(line)
	}
	b.by, b.rest = by, strings.TrimSpace(rest) != "" || inline && tail != ""
	b.form = n.Data
	if len(setOff) > 0 && setOff[0] == by.author {
		b.form += "+"
	}
	return b
}

func isHeading(n *html.Node) bool {
	switch n.DataAtom {
	case atom.H1, atom.H2, atom.H3, atom.H4, atom.H5, atom.H6:
		return true
	}
	return false
}

func (p *page) blockText(n *html.Node) string {
	var f flow
	p.render(&f, n)
	return f.done().text
}

// setOff lists the pieces of a block that stand out from it.
func (p *page) setOff(n *html.Node) []string {
	var out []string
	p.each(n, func(c *html.Node) bool {
		switch c.DataAtom {
		case atom.Strong, atom.Em, atom.A, atom.Code, atom.B, atom.I:
			if s := p.text(c); !hasChild(c, atom.Strong, atom.Em, atom.B) {
				out = append(out, strings.TrimPrefix(s, "@"))
			}
		}
		return true
	})
	return out
}

// usualForm is the shape that most bylines have, the earliest one if several do.
func usualForm(blocks []mdBlock) string {
	count := map[string]int{}
	best := ""
	for _, b := range blocks {
		if b.form != "" {
			count[b.form]++
		}
	}
	for _, b := range blocks {
		if b.form != "" && count[b.form] > count[best] {
			best = b.form
		}
	}
	return best
}

var footerHint = regexp.MustCompile(`(?i)\b(?:subscribe|report (?:a problem|this)|helpful|comments are|next:|previous:|locked by|closed by|copyright|all rights|permalink|share this|log in|sign up|\d+ (?:posts|replies|comments|users?|people|members?))\b`)

// dropFooter takes short notices of the site off the end.
func dropFooter(p *page, blocks []mdBlock) []mdBlock {
	for len(blocks) > 1 {
		last := blocks[len(blocks)-1]
		text := p.text(last.node)
		switch {
		case last.node.DataAtom == atom.Hr, text == "":
		case len(text) < 160 && last.form == "" && footerHint.MatchString(text) && (len(p.setOff(last.node)) > 0 || blocks[len(blocks)-2].node.DataAtom == atom.Hr):
		default:
			return blocks
		}
		blocks = blocks[:len(blocks)-1]
	}
	return blocks
}

// mdThread splits the blocks at the bylines. What stands above the first one is the topic, unless it is long enough to be
// the first post of an author that the head of the file names.
func (p *page) mdThread(d *draft, m matter, blocks []mdBlock) {
	start := 0
	for start < len(blocks) && blocks[start].form == "" {
		start++
	}
	intro := blocks[:start]
	d.title = first(d.title, p.mdTitle(intro))
	if m.Author != "" {
		if body := p.mdBody(dropTitle(p, intro, d.title)); len(body.text) > 200 {
			d.posts = append(d.posts, draftPost{author: m.Author, when: m.stamp(), body: body})
		}
	}
	for i := start; i < len(blocks); {
		end := i + 1
		for end < len(blocks) && blocks[end].form == "" {
			end++
		}
		d.posts = append(d.posts, draftPost{author: visible(blocks[i].by.author), when: blocks[i].by.when, body: p.mdBody(blocks[i:end])})
		i = end
	}
}

// mdBody renders the blocks of a post without its byline.
func (p *page) mdBody(blocks []mdBlock) passage {
	var f flow
	cut := 0
	for i, b := range blocks {
		if i == 0 && b.form != "" {
			if !b.rest {
				continue
			}
			cut = b.by.end
		}
		p.render(&f, b.node)
	}
	body := f.done()
	if cut > 0 {
		body = body.rewrite([]edit{{0, min(cut, len(body.text)), ""}})
	}
	return tidy(body)
}

var topicLabel = regexp.MustCompile(`(?i)^\s*(?:topic|thread|subject|title|thema|betreff)\s*:\s*`)

func (p *page) mdTitle(intro []mdBlock) string {
	for _, b := range intro {
		if isHeading(b.node) {
			return p.text(b.node)
		}
	}
	for _, b := range intro {
		if b.node.DataAtom != atom.P {
			continue
		}
		line, _, _ := strings.Cut(p.blockText(b.node), "\n")
		return topicLabel.ReplaceAllString(line, "")
	}
	return ""
}

func dropTitle(p *page, blocks []mdBlock, title string) []mdBlock {
	for i, b := range blocks {
		if isHeading(b.node) && p.text(b.node) == title {
			return append(append([]mdBlock{}, blocks[:i]...), blocks[i+1:]...)
		}
	}
	return blocks
}

var (
	authorCell  = regexp.MustCompile(`(?i)^\s*(?:posted|written|reported|submitted|prepared)?\s*(?:by|author|reporter|von)\s*$`)
	writtenLine = regexp.MustCompile(`(?i)\b(?:by|von|par)\s+@?$`)
)

// mdArticle reads a document by one person. The author comes from the head of the file, a byline near the top, or a table
// row such as "Posted by".
func (p *page) mdArticle(d *draft, m matter, blocks []mdBlock) draftPost {
	d.title = first(d.title, p.mdTitle(blocks[:min(3, len(blocks))]))
	blocks = dropTitle(p, blocks, d.title)
	post := draftPost{author: m.Author, when: m.stamp()}
	for i, b := range blocks[:min(4, len(blocks))] {
		if b.form == "" {
			post.author = first(post.author, p.bylineName(b.node))
			continue
		}
		post.author = first(post.author, b.by.author)
		if !post.when.known() {
			post.when = b.by.when
		}
		rest := append([]mdBlock{}, blocks[:i]...)
		if b.rest {
			b.form = ""
			rest = append(rest, b)
		}
		blocks = append(rest, blocks[i+1:]...)
		break
	}
	if post.author == "" {
		post.author = p.authorInTable(blocks)
	}
	for i := range blocks {
		blocks[i].form = ""
	}
	post.author = visible(post.author)
	post.body = p.mdBody(blocks)
	return post
}

// bylineName reads a name that is set off right after "by" in a line without a date.
func (p *page) bylineName(n *html.Node) string {
	text := p.text(n)
	if n.DataAtom != atom.P || len(text) > maxBylineLen*2 {
		return ""
	}
	for _, name := range p.setOff(n) {
		head, _, ok := strings.Cut(text, name)
		if ok && isName(name) && writtenLine.MatchString(head) {
			return name
		}
	}
	return ""
}

func (p *page) authorInTable(blocks []mdBlock) string {
	for _, b := range blocks {
		if b.node.DataAtom != atom.Table {
			continue
		}
		for row := range strings.SplitSeq(p.blockText(b.node), "\n") {
			label, value, ok := strings.Cut(row, " | ")
			if ok && authorCell.MatchString(label) && isName(value) {
				return value
			}
		}
	}
	return ""
}

func (m matter) stamp() stamp {
	switch date := m.Date.(type) {
	case string:
		when, _, _ := findDate(date)
		return when
	case interface{ Format(string) string }:
		when, _, _ := findDate(date.Format("2006-01-02T15:04:05Z07:00"))
		return when
	}
	return stamp{}
}
