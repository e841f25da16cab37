package ingest

import (
	"regexp"
	"strings"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// hideRule is a rule of the page's own style sheet that hides elements or shows them again.
type hideRule struct {
	compounds []compound // outermost first; the last one is the element itself
	hide      bool
}

type compound struct {
	tag     string
	id      string
	classes []string
}

var (
	cssComment = regexp.MustCompile(`(?s)/\*.*?\*/`)
	cssRule    = regexp.MustCompile(`([^{}]+)\{([^{}]*)\}`)
	hideStyle  = regexp.MustCompile(`(?i)(?:^|[;\s])(?:display\s*:\s*none|visibility\s*:\s*(?:hidden|collapse)|opacity\s*:\s*0(?:\.0+)?\s*(?:[;!]|$)|font-size\s*:\s*0+(?:\.0+)?(?:px|pt|em|rem|%)?\s*(?:[;!]|$)|` +
		`(?:left|top|right|bottom|text-indent|margin-left|margin-top)\s*:\s*-\d{3,}(?:\.\d+)?(?:px|em|rem|pt|vw|%)?|clip\s*:\s*rect\(\s*0|clip-path\s*:\s*inset\(\s*(?:50|100)%|color\s*:\s*transparent|transform\s*:\s*scale\(\s*0\s*\))`)
	zeroBox   = regexp.MustCompile(`(?i)(?:^|[;\s])(?:max-)?(?:height|width)\s*:\s*[01](?:px)?\s*(?:[;!]|$)`)
	cutOff    = regexp.MustCompile(`(?i)overflow\s*:\s*(?:hidden|clip)`)
	showStyle = regexp.MustCompile(`(?i)(?:^|[;\s])(?:display\s*:\s*(?:block|inline|flex|grid|table)|visibility\s*:\s*visible)`)
	selector  = regexp.MustCompile(`^([a-zA-Z][\w-]*|\*)?((?:[.#][\w-]+)*)$`)
	selPart   = regexp.MustCompile(`[.#][\w-]+`)
)

func hidesByStyle(style string) bool {
	return hideStyle.MatchString(style) || zeroBox.MatchString(style) && cutOff.MatchString(style)
}

// readStyles collects the rules of the page's style elements that hide something. Selectors of simple parts joined by
// blanks or ">" are understood; others are left alone, as are rules inside conditions such as @media print.
func (p *page) readStyles() {
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode && n.DataAtom == atom.Style && !strings.Contains(attr(n, "media"), "print") {
			p.addRules(innerText(n))
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(p.root)
}

const maxHideRules = 500

func (p *page) addRules(css string) {
	css = dropConditional(cssComment.ReplaceAllString(css, ""))
	for _, m := range cssRule.FindAllStringSubmatch(css, -1) {
		hide, show := hidesByStyle(m[2]), showStyle.MatchString(m[2])
		if !hide && !show || len(p.hides) >= maxHideRules {
			continue
		}
		for sel := range strings.SplitSeq(m[1], ",") {
			if parts := parseSelector(sel); parts != nil {
				p.hides = append(p.hides, hideRule{parts, hide})
			}
		}
	}
}

// dropConditional takes out the blocks of @media print and other at-rules that hold rules; @media screen and all stay.
func dropConditional(css string) string {
	var b strings.Builder
	for {
		at := strings.IndexByte(css, '@')
		if at < 0 {
			b.WriteString(css)
			return b.String()
		}
		b.WriteString(css[:at])
		css = css[at:]
		open, semi := strings.IndexByte(css, '{'), strings.IndexByte(css, ';')
		if open < 0 || semi >= 0 && semi < open {
			if semi < 0 {
				return b.String()
			}
			css = css[semi+1:]
			continue
		}
		end := closingBrace(css, open)
		head := strings.ToLower(css[:open])
		if strings.HasPrefix(head, "@media") && !strings.Contains(head, "print") && !strings.Contains(head, "(") {
			b.WriteString(css[open+1 : max(open+1, end-1)])
		}
		css = css[end:]
	}
}

func closingBrace(css string, open int) int {
	level := 0
	for i := open; i < len(css); i++ {
		switch css[i] {
		case '{':
			level++
		case '}':
			if level--; level == 0 {
				return i + 1
			}
		}
	}
	return len(css)
}

func parseSelector(sel string) []compound {
	var out []compound
	for part := range strings.FieldsSeq(strings.ReplaceAll(sel, ">", " ")) {
		m := selector.FindStringSubmatch(part)
		if m == nil {
			return nil
		}
		c := compound{tag: strings.ToLower(strings.Trim(m[1], "*"))}
		for _, s := range selPart.FindAllString(m[2], -1) {
			if s[0] == '#' {
				c.id = s[1:]
			} else {
				c.classes = append(c.classes, s[1:])
			}
		}
		out = append(out, c)
	}
	return out
}

func (c compound) matches(n *html.Node) bool {
	if n.Type != html.ElementNode || c.tag != "" && c.tag != n.Data || c.id != "" && c.id != attr(n, "id") {
		return false
	}
	have := " " + strings.Join(strings.Fields(attr(n, "class")), " ") + " "
	for _, class := range c.classes {
		if !strings.Contains(have, " "+class+" ") {
			return false
		}
	}
	return true
}

func (r hideRule) matches(n *html.Node) bool {
	last := len(r.compounds) - 1
	if last < 0 || !r.compounds[last].matches(n) {
		return false
	}
	for n = n.Parent; n != nil && last > 0; n = n.Parent {
		if r.compounds[last-1].matches(n) {
			last--
		}
	}
	return last == 0
}

// hidden tells whether a reader of the page does not see an element: by attribute, its own style or the page's style sheet.
func (p *page) hidden(n *html.Node) bool {
	if hasAttr(n, "hidden") || strings.EqualFold(attr(n, "aria-hidden"), "true") {
		return true
	}
	hide := false
	for _, r := range p.hides {
		if r.hide != hide && r.matches(n) {
			hide = r.hide
		}
	}
	if style := attr(n, "style"); style != "" {
		hide = hidesByStyle(style) || hide && !showStyle.MatchString(style)
	}
	return hide
}
