package code

import (
	"slices"
	"strings"
	"unicode"
)

type mention struct {
	start, end int
	text       string // as it will be kept, upper case
	fold       string
	cue        string // why; "" for none
	strong     bool
	weak       bool
	named      bool // looks like the name of a machine here
	short      bool // a form that displays use: a letter and few digits, with a point, hexadecimal
	tied       bool // letters and digits tied by a hyphen, in capitals: the form of many makers' codes, and of some models
	direct     bool // stands right after a weak verb, no article between: "I get CHG-117"
}

// learnMaker returns the folded codes that some mention in the texts gives away, and those that stand in a list with one.
func learnMaker(all []*mined) map[string]bool {
	type sum struct {
		strong, weak, named, count int
		direct                     int // of a tied form
		short                      bool
	}
	sums := map[string]*sum{}
	for _, text := range all {
		for _, m := range text.marks {
			if sums[m.fold] == nil {
				sums[m.fold] = &sum{short: m.short}
			}
			s := sums[m.fold]
			s.count++
			s.strong += count(m.strong)
			s.weak += count(m.weak)
			s.named += count(m.named)
			s.direct += count(m.direct && m.tied)
			s.short = s.short || m.short
		}
	}
	known := map[string]bool{}
	for fold, s := range sums {
		switch {
		case everyday[strings.ToLower(fold)]:
			known[fold] = s.strong > s.named
		case s.direct > 0 && s.named == 0 && s.count > 1:
			known[fold] = true
		case s.strong > 0:
			known[fold] = s.short || s.strong > s.named
		default:
			usual := usualForm.MatchString(fold)
			known[fold] = s.short && (s.named == 0 && (s.weak > 0 || s.count > 1 && usual) || usual && s.weak > s.named)
		}
	}
	for _, text := range all {
		learnListed(known, text.tidy.text, text.marks)
	}
	return known
}

// learnListed takes what follows a known code in a list for a code: "F21 and now E14".
func learnListed(known map[string]bool, text string, all []mention) {
	for i := 1; i < len(all); i++ {
		last, m := all[i-1], all[i]
		if known[last.fold] && m.short && !everyday[strings.ToLower(m.fold)] && listed(text[last.end:m.start]) {
			known[m.fold] = true
		}
	}
}

// listed reports that a gap joins two codes; mere space does not, since a code often follows a machine's name.
func listed(gap string) bool { return strings.TrimSpace(gap) != "" && listJoin.MatchString(gap) }

func count(b bool) int {
	if b {
		return 1
	}
	return 0
}

// mainSpellings returns the most frequent spelling of each folded code, the first one among equals.
func mainSpellings(all []*mined) map[string]string {
	counts, best := map[string]int{}, map[string]string{}
	for _, text := range all {
		for _, m := range slices.Concat(text.marks, text.cued) {
			counts[m.text]++
			if old, ok := best[m.fold]; !ok || counts[m.text] > counts[old] {
				best[m.fold] = m.text
			}
		}
	}
	return best
}

// findMaker returns the maker codes of one text.
func (c *Context) findMaker(text *mined) []Found {
	var out []Found
	for _, m := range text.cued {
		f := c.found(m, 0.85, m.cue)
		if p := "P" + strings.Repeat("0", max(0, 4-len(m.text))) + m.text; c.obd[p] {
			f.Code, f.Cue = newOBD(p, 0), "digits of an OBD code named before"
		}
		out = append(out, f)
	}
	for _, m := range text.marks {
		switch {
		case !c.maker[m.fold]:
		case m.strong:
			out = append(out, c.found(m, 0.95, m.cue))
		case m.weak:
			out = append(out, c.found(m, 0.8, m.cue))
		default:
			out = append(out, c.found(m, 0.7, "cued elsewhere"))
		}
	}
	return out
}

func (c *Context) found(m mention, confidence float64, cue string) Found {
	text := m.text
	if main, ok := c.main[m.fold]; ok {
		text = main
	}
	return Found{Code: Code{Scheme: Maker, Text: text}, Start: m.start, End: m.end, Confidence: confidence, Cue: cue}
}

// around is the sentence that a token stands in.
type around struct {
	before, after string
	words         []string // the last words of before, the nearest first
}

func lookRound(text string, start, end int) around {
	a := around{before: sentenceBefore(text, start), after: sentenceAfter(text, end)}
	a.words = lastWords(a.before, 6)
	return a
}

// touches reports that nothing but space and quoting stands between the last word and the token.
func (a around) touches() bool {
	return len(a.words) > 0 && strings.HasSuffix(strings.TrimRight(a.before, " \t\n\"'“*`#"), a.words[0])
}

// mentions returns the tokens of text that could be maker codes, each with what speaks for it.
func mentions(text string, skip []span) []mention {
	var out []mention
	for _, at := range makerTokens(text) {
		start, end := at.start, at.end
		token := text[start:end]
		if within(start, skip) || !alone(text, start, end) || obdToken.MatchString(token) {
			continue
		}
		near := lookRound(text, start, end)
		if near.marksPart() {
			continue
		}
		m := mention{start: start, end: end, text: strings.ToUpper(token), short: shortToken.MatchString(token), tied: tiedForm.MatchString(token)}
		m.fold = foldMaker(m.text)
		m.weigh(near)
		if len(out) > 0 && !m.strong {
			last := out[len(out)-1]
			if last.strong && listed(text[last.end:m.start]) {
				m.strong, m.cue = true, "in a list with a cued code"
			}
		}
		m.named = !m.strong && near.namesMachine()
		m.weak = m.weak && !m.named
		out = append(out, m)
	}
	return out
}

// makerTokens finds the tokens; each holds a digit, and so does each word of one that holds a blank.
func makerTokens(text string) []span {
	var out []span
	for _, w := range digitWords(text) {
		for _, at := range makerToken.FindAllStringIndex(text[w.start:w.end], -1) {
			out = append(out, span{w.start + at[0], w.start + at[1]})
		}
	}
	return out
}

// marksPart is true for the mark of a fuse, pin or page, and for the ends of a range of codes, which report none.
func (a around) marksPart() bool {
	return a.touches() && partWords[strings.ToLower(a.words[0])] ||
		afterPart.MatchString(a.after) || rangeAfter.MatchString(a.after) || rangeBefore.MatchString(a.before)
}

// weigh sets what the sentence says for the token.
func (m *mention) weigh(near around) {
	after := near.after
	switch {
	case m.cueBefore(near.words):
	case quotedSense.MatchString(after), bookCalls.MatchString(after):
		m.strong, m.cue = true, "followed by its meaning"
	case afterStrong.MatchString(after) && !otherCode.MatchString(after):
		m.strong, m.cue = true, "followed by a word for a fault or display"
	case afterWeak.MatchString(after):
		m.weak, m.cue = true, "followed by what became of it"
	}
	if strings.HasPrefix(m.text, "ERR") || strings.HasPrefix(m.text, "0X") {
		m.weak = true
	}
}

// cueBefore looks at the words in front, over those that can stand in between, and reports a clear cue.
func (m *mention) cueBefore(words []string) bool {
	for i, w := range words[:min(5, len(words))] {
		low := strings.ToLower(w)
		switch {
		case owners[low]: // "same code on my T40" names the machine
			return false
		case nounCues[low]:
			if i+1 < len(words) && notFaultCodes[strings.ToLower(words[i+1])] {
				return false
			}
			m.strong, m.cue = true, "after "+low
			return true
		case verbCues[low]:
			m.strong, m.cue = true, "after "+low
			return true
		case weakVerbs[low] && m.cue == "":
			m.weak, m.cue = true, "after "+low
			m.direct = i == 0 && !strings.HasPrefix(low, "ha") // who has a thing with such a name has a machine
		}
		if !fillers[low] {
			return false
		}
	}
	return false
}

// namesMachine reports that the token stands where a machine's name does: after my, our or a year, or after a name.
func (a around) namesMachine() bool {
	if !a.touches() {
		return false
	}
	low := strings.ToLower(a.words[0])
	switch {
	case owners[low]:
		return true
	case len(low) == 4 && (strings.HasPrefix(low, "19") || strings.HasPrefix(low, "20")):
		return true
	case strings.ContainsAny(low, "0123456789"):
		return false // the name is what stands in front
	}
	opens := strings.TrimSpace(a.before) == a.words[0]
	return unicode.IsUpper(firstRune(a.words[0])) && !opens && !weakVerbs[low] && !a.shouts()
}

// shouts reports that the sentence is in capitals, where a capital names nothing.
func (a around) shouts() bool {
	s := a.before + a.after
	return strings.ToUpper(s) == s && len(s) > 12
}
