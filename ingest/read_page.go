package ingest

import (
	"net/url"
	"regexp"
	"strings"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// pager is what a saved page tells of its place among the pages of its thread; 0 is not told.
type pager struct {
	page, pages int
}

const (
	pageWord    = `(?:page|seite|página|pagina|side|sida|sivu|strona)`
	maxPageMark = 120 // bytes of an element or a line that can be the mark of a page
)

var (
	pageMark    = regexp.MustCompile(`(?i)^\W*` + pageWord + `\s+(\d{1,5})\s*(?:of|von|de|di|av|af|van|z|/)\s*(\d{1,5})\b`)
	pageInTitle = regexp.MustCompile(`(?i)\s*(?:[-–—|·:,]\s*` + pageWord + `\s+(\d{1,5})(?:\s*(?:of|von|de|di|av|van|/)\s*\d{1,5})?|[(\[]\s*` + pageWord + `\s+(\d{1,5})(?:\s*(?:of|von|de|di|av|van|/)\s*\d{1,5})?\s*[)\]])\s*($|[-–—|·])`)
	savedFrom   = regexp.MustCompile(`(?i)^\s*saved from url=\(\d+\)(https?://\S+)`)
)

// readMark reads a mark such as "Page 2 of 5".
func readMark(s string) (pager, bool) {
	m := pageMark.FindStringSubmatch(s)
	if m == nil || len(s) > maxPageMark {
		return pager{}, false
	}
	p := pager{number(m[1]), number(m[2])}
	return p, p.page >= 1 && p.page <= p.pages
}

// marks collects the marks of a page; they must not contradict each other.
type marks struct {
	found   pager
	unclear bool
}

func (m *marks) add(s string) {
	if p, ok := readMark(s); ok {
		m.unclear = m.unclear || m.found != (pager{}) && m.found != p
		m.found = p
	}
}

func (m *marks) pager() pager {
	if m.unclear {
		return pager{}
	}
	return m.found
}

// linePager reads the marks of a pasted text.
func linePager(text string) pager {
	var m marks
	for row := range strings.Lines(text) {
		if len(row) <= maxPageMark {
			m.add(strings.TrimRight(row, "\r\n"))
		}
	}
	return m.pager()
}

// bareTitle takes the page number out of a title.
func bareTitle(title string) (string, int) {
	m := pageInTitle.FindStringSubmatchIndex(title)
	if m == nil || m[0] == 0 {
		return title, 0
	}
	n := number(first(group(title, m, 1), group(title, m, 2)))
	return strings.TrimSpace(title[:m[0]] + " " + title[m[6]:]), n
}

// readPager finds out where a saved page stands among those of its thread: by its marks, its address and its links to other pages
// of the same thread.
func (p *page) readPager(d *draft) {
	var m marks
	own := readAddress(d.url)
	current, next, prev, last := 0, 0, 0, 0
	p.each(p.root, func(n *html.Node) bool {
		s, short := shortText(n, maxPageMark)
		if short {
			m.add(s)
		}
		if short && attr(n, "aria-current") == "page" { // WAI-ARIA 1.2
			current = max(current, number(digitsOnly(s)))
		}
		if n.DataAtom != atom.A && n.DataAtom != atom.Link || own.thread == "" {
			return true
		}
		to := readAddress(resolveURL(d.url, attr(n, "href")))
		if to.thread != own.thread {
			return true // "next" may also be the next thread
		}
		last = max(last, to.page)
		switch rel := " " + strings.ToLower(attr(n, "rel")) + " "; {
		case strings.Contains(rel, " next "):
			next = to.page
		case strings.Contains(rel, " prev "), strings.Contains(rel, " previous "):
			prev = max(to.page, 1)
		}
		return true
	})
	d.pager = m.pager()
	for _, n := range []int{own.page, current, max(next-1, 0)} {
		if d.pager.page == 0 {
			d.pager.page = n
		}
	}
	switch {
	case d.pager.page > 0:
	case prev > 0:
		d.pager.page = prev + 1
	case last > 1:
		d.pager.page = 1
	}
	if d.pager.pages == 0 {
		d.pager.pages = max(d.pager.page, last)
	}
}

func digitsOnly(s string) string {
	if s = strings.TrimSpace(s); len(s) <= 5 && strings.Trim(s, "0123456789") == "" {
		return s
	}
	return ""
}

// shortText is the text of an element if it is at most so long.
func shortText(n *html.Node, most int) (string, bool) {
	var b strings.Builder
	var walk func(n *html.Node) bool
	walk = func(n *html.Node) bool {
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			if c.Type == html.TextNode {
				if b.Len()+len(c.Data) > 2*most {
					return false
				}
				b.WriteString(c.Data)
			} else if c.Type == html.ElementNode && !unread(c) && !walk(c) {
				return false
			}
		}
		return true
	}
	if !walk(n) {
		return "", false
	}
	s := visible(b.String())
	return s, s != "" && len(s) <= most
}

// resolveURL gives the whole address of a link on a page.
func resolveURL(base, link string) string {
	b, err := url.Parse(strings.TrimSpace(base))
	if err != nil {
		return link
	}
	l, err := b.Parse(strings.TrimSpace(link))
	if err != nil {
		return ""
	}
	return l.String()
}

// savedAddress is the address that a browser wrote into a page when saving it.
func (p *page) savedAddress() string {
	for n := p.root.FirstChild; n != nil; n = n.NextSibling {
		for c := n; c != nil; c = c.FirstChild { // above the document, or first in its elements
			if c.Type == html.CommentNode {
				if m := savedFrom.FindStringSubmatch(c.Data); m != nil {
					return m[1]
				}
			}
		}
	}
	return ""
}
