package pattern

import (
	"regexp"
	"strings"
	"sync"
	"unicode/utf8"
)

// Pattern is a regular expression that is searched for in one pass. It may be used by many goroutines at once.
type Pattern struct {
	re      *regexp.Regexp        // the expression itself: for what is left to package regexp
	atStart func() *regexp.Regexp // a match that begins where the text does
	after   func() *regexp.Regexp // a match that begins after the first character of the text
	forward func() *machine       // finds where the first match ends
	back    func() *machine       // finds where a match begins, from its end
}

// MustCompile makes the pattern of an expression in the syntax of package regexp. It panics if there is a mistake in it, so that it
// is for expressions that stand in the program.
func MustCompile(expr string) *Pattern {
	return &Pattern{
		re:      regexp.MustCompile(expr),
		atStart: sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\A(?:` + expr + `)`) }),
		after:   sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\A(?s:.)(?:` + expr + `)`) }),
		forward: sync.OnceValue(func() *machine { return newMachine(expr, false) }),
		back:    sync.OnceValue(func() *machine { return newMachine(expr, true) }),
	}
}

// String gives the expression.
func (p *Pattern) String() string { return p.re.String() }

// MatchString reports whether the text holds a match.
func (p *Pattern) MatchString(text string) bool {
	end, ok := p.forward().search(text, 0, true)
	if !ok {
		return p.re.MatchString(text)
	}
	return end >= 0
}

// FindStringIndex gives start and end of the first match; nil if there is none.
func (p *Pattern) FindStringIndex(text string) []int {
	start, end := p.first(text, 0)
	if start < 0 {
		return nil
	}
	return []int{start, end}
}

// FindString gives the text of the first match; empty if there is none.
func (p *Pattern) FindString(text string) string {
	start, end := p.first(text, 0)
	if start < 0 {
		return ""
	}
	return text[start:end]
}

// FindStringSubmatchIndex gives start and end of the first match and of each of its groups (-1 for one without a match); nil if
// there is none.
func (p *Pattern) FindStringSubmatchIndex(text string) []int {
	start, end := p.first(text, 0)
	if start < 0 {
		return nil
	}
	return p.groups(text, start, end)
}

// FindStringSubmatch gives the texts of the first match and of each of its groups; nil if there is none.
func (p *Pattern) FindStringSubmatch(text string) []string {
	return texts(text, p.FindStringSubmatchIndex(text))
}

// FindAllStringIndex gives start and end of up to n matches, of all if n is below 0.
func (p *Pattern) FindAllStringIndex(text string, n int) [][]int {
	var out [][]int
	p.each(text, n, func(start, end int) { out = append(out, []int{start, end}) })
	return out
}

// FindAllString gives the texts of up to n matches, of all if n is below 0.
func (p *Pattern) FindAllString(text string, n int) []string {
	var out []string
	p.each(text, n, func(start, end int) { out = append(out, text[start:end]) })
	return out
}

// FindAllStringSubmatchIndex gives start and end of up to n matches and of their groups, of all if n is below 0.
func (p *Pattern) FindAllStringSubmatchIndex(text string, n int) [][]int {
	var out [][]int
	p.each(text, n, func(start, end int) { out = append(out, p.groups(text, start, end)) })
	return out
}

// FindAllStringSubmatch gives the texts of up to n matches and of their groups, of all if n is below 0.
func (p *Pattern) FindAllStringSubmatch(text string, n int) [][]string {
	var out [][]string
	p.each(text, n, func(start, end int) { out = append(out, texts(text, p.groups(text, start, end))) })
	return out
}

// ReplaceAllString gives the text with the replacement in place of each match; $1 in it stands for a group.
func (p *Pattern) ReplaceAllString(text, replacement string) string {
	if !p.MatchString(text) {
		return text
	}
	if strings.Contains(replacement, "$") {
		return p.re.ReplaceAllString(text, replacement)
	}
	var b strings.Builder
	kept := 0
	p.each(text, -1, func(start, end int) {
		b.WriteString(text[kept:start])
		b.WriteString(replacement)
		kept = end
	})
	b.WriteString(text[kept:])
	return b.String()
}

func texts(text string, places []int) []string {
	if places == nil {
		return nil
	}
	out := make([]string, len(places)/2)
	for i := range out {
		if places[2*i] >= 0 {
			out[i] = text[places[2*i]:places[2*i+1]]
		}
	}
	return out
}

// first gives start and end of the first match that begins at byte from or later; -1, -1 if there is none.
func (p *Pattern) first(text string, from int) (start, end int) {
	end, ok := p.forward().search(text, from, false)
	if ok && end < 0 {
		return -1, -1
	}
	if ok {
		if start, ok = p.back().begins(text, from, end); ok && start >= 0 {
			return start, end
		}
	}
	return p.slow(text, from)
}

// slow leaves the search to package regexp, where there were too many states to keep. What stands before the place where the search
// begins counts, so that the matches are taken from the start.
func (p *Pattern) slow(text string, from int) (start, end int) {
	if from == 0 {
		if m := p.re.FindStringIndex(text); m != nil {
			return m[0], m[1]
		}
		return -1, -1
	}
	_, size := utf8.DecodeLastRuneInString(text[:from])
	for at := from; at <= len(text); {
		if m := p.after().FindStringIndex(text[at-size:]); m != nil {
			return at, at - size + m[1]
		}
		_, size = utf8.DecodeRuneInString(text[at:])
		at += max(size, 1)
	}
	return -1, -1
}

// groups gives the places of the groups of the match start..end.
func (p *Pattern) groups(text string, start, end int) []int {
	if p.re.NumSubexp() == 0 {
		return []int{start, end}
	}
	_, size := utf8.DecodeRuneInString(text[end:])
	if m := p.groupsIn(text[:end+size], start); m != nil && m[1] == end {
		return m
	}
	return p.groupsIn(text, start) // what follows the next character counts
}

// groupsIn gives the places of the groups of the match that begins at start.
func (p *Pattern) groupsIn(text string, start int) []int {
	if start == 0 {
		return p.atStart().FindStringSubmatchIndex(text)
	}
	_, size := utf8.DecodeLastRuneInString(text[:start])
	m := p.after().FindStringSubmatchIndex(text[start-size:])
	for i := range m {
		if m[i] >= 0 {
			m[i] += start - size
		}
	}
	if m != nil {
		m[0] = start
	}
	return m
}

// each visits up to n matches that do not overlap, as package regexp counts them: an empty one right behind another is none.
func (p *Pattern) each(text string, n int, visit func(start, end int)) {
	last := -1
	for at := 0; n != 0 && at <= len(text); {
		start, end := p.first(text, at)
		if start < 0 {
			return
		}
		counts := true
		if end == at {
			counts = start != last
			_, size := utf8.DecodeRuneInString(text[at:])
			at += max(size, 1)
		} else {
			at = end
		}
		last = end
		if counts {
			visit(start, end)
			n--
		}
	}
}
