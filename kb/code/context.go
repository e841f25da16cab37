package code

import (
	"regexp"
	"slices"
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
	read   map[string]*mined         // the texts that were learned from
}

// mined is what one text holds, read before it is known what the write-up as a whole tells of it.
type mined struct {
	tidy      cleaned
	skip      []span
	spns, obd []Found
	marks     []mention // tokens that could be a maker's codes
	cued      []mention // numbers and letters right after a word for a code
}

func mine(raw string) *mined {
	m := &mined{tidy: clean(raw)}
	t := m.tidy.text
	m.skip = unreadable(t)
	m.spns, m.obd = spnExplicit(t), findOBD(t, m.skip)
	m.marks, m.cued = mentions(t, m.skip), cuedNumbers(t)
	return m
}

// Learn reads all texts of a write-up.
func Learn(texts ...string) *Context {
	c := &Context{spns: map[uint32]map[uint8]bool{}, obd: map[string]bool{}, read: map[string]*mined{}}
	all := make([]*mined, len(texts))
	for i, t := range texts {
		m := mine(t)
		all[i], c.read[t] = m, m
		c.spoken = c.spoken || spnWord.MatchString(m.tidy.text)
		for _, f := range m.spns {
			c.learnSPN(f.Code)
		}
		for _, f := range m.obd {
			c.obd[f.Code.Text] = true
		}
	}
	c.maker = learnMaker(all)
	c.main = mainSpellings(all)
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
	m := c.read[raw]
	if m == nil {
		m = mine(raw)
	}
	text := m.tidy.text
	all := slices.Concat(c.findSPN(m), m.obd, findBlinks(text, false), c.findMaker(m))
	found := resolve(without(all, m.skip))
	lookAround(text, found)
	m.tidy.restore(found)
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
		if token := text[start : start+n]; strings.ContainsAny(token, ".@/") && address.MatchString(token) {
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
