package code

import (
	"regexp"
	"sort"
	"strings"
)

// Context is what a whole write-up tells about its codes. People give a code its full name once and a short one
// afterwards, often in another post: a Context reads all of them first.
type Context struct {
	spns   map[uint32]map[uint8]bool // failure modes seen with each SPN
	spoken bool                      // SPN or FMI are spoken of at all
	obd    map[string]bool           // OBD codes seen in full
	maker  map[string]bool           // folded maker codes that a cue gave away
	main   map[string]string         // how each of those is mainly spelled
}

// Learn reads all texts of a write-up.
func Learn(texts ...string) *Context {
	c := &Context{spns: map[uint32]map[uint8]bool{}, obd: map[string]bool{}}
	plain := make([]string, len(texts))
	for i, t := range texts {
		plain[i] = clean(t).text
	}
	for _, t := range plain {
		c.spoken = c.spoken || spnWord.MatchString(t)
		for _, f := range spnExplicit(t) {
			c.learnSPN(f.Code)
		}
		for _, f := range findOBD(t, unreadable(t)) {
			c.obd[f.Code.Text] = true
		}
	}
	all := make([][]mention, len(plain))
	for i, t := range plain {
		all[i] = mentions(t, unreadable(t))
	}
	c.maker = learnMaker(plain, all)
	c.main = mainSpellings(plain, all)
	return c
}

func (c *Context) learnSPN(code Code) {
	if c.spns[code.SPN] == nil {
		c.spns[code.SPN] = map[uint8]bool{}
	}
	if code.HasFMI {
		c.spns[code.SPN][code.FMI] = true
	}
}

// Find returns the codes in one text of the write-up.
func (c *Context) Find(raw string) []Found {
	tidy := clean(raw)
	text := tidy.text
	skip := unreadable(text)
	all := c.findSPN(text)
	all = append(all, findOBD(text, skip)...)
	all = append(all, findBlinks(text, false)...)
	all = append(all, c.findMaker(text, skip)...)
	found := resolve(without(all, skip))
	lookAround(text, found)
	tidy.restore(found)
	return found
}

// span is a stretch of text.
type span struct{ start, end int }

var address = regexp.MustCompile(`(?i)://|www\.|\S@\S|\.(?:com|org|net|html?|php|example|jpe?g|png|pdf)\b`)

// unreadable returns the addresses and file names in text: words in them are nobody's statement.
func unreadable(text string) []span {
	var out []span
	for start := 0; start < len(text); {
		n := strings.IndexAny(text[start:], " \t\r\n<>\"")
		if n < 0 {
			n = len(text) - start
		}
		if address.MatchString(text[start : start+n]) {
			out = append(out, span{start, start + n})
		}
		start += n + 1
	}
	return out
}

// within reports whether a place lies in one of the spans, which are in order.
func within(start int, spans []span) bool {
	i := sort.Search(len(spans), func(i int) bool { return spans[i].end > start })
	return i < len(spans) && start >= spans[i].start
}

func without(found []Found, skip []span) []Found {
	var out []Found
	for _, f := range found {
		if !within(f.Start, skip) {
			out = append(out, f)
		}
	}
	return out
}
