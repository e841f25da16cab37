package index

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/blevesearch/snowballstem"
	"github.com/blevesearch/snowballstem/english"
	"golang.org/x/text/unicode/norm"
)

// maxTerm is the longest term, in bytes, that is worth finding; longer ones are no words.
const maxTerm = 64

// chunk is what stands between two spaces and means one thing: a word, a code, a part number, a value with its unit.
type chunk struct {
	start, end int
	whole      []string // terms for all of it
	parts      []part   // the words it is made of; empty if only the whole means something
}

// part is one word of a chunk.
type part struct {
	start, end int
	text       string // lower case, accents folded
}

// spnForm reads a suspect parameter number with its failure mode, in the spellings of tools and people.
var spnForm = regexp.MustCompile(`^(?i:spn)[\s:#=.-]*(\d{1,7})(?:\s?[/.|-]\s?(\d{1,2})\b|[\s,;:/-]*(?i:fmi)[\s:#=.-]*(\d{1,2})\b)?`)

// scan cuts a text into chunks.
func scan(text string, visit func(chunk)) {
	for at := 0; at < len(text); {
		r, size := utf8.DecodeRuneInString(text[at:])
		if !isWordRune(r) {
			at += size
			continue
		}
		c := scanChunk(text, at)
		visit(c)
		at = c.end
	}
}

func scanChunk(text string, at int) chunk {
	if (text[at] == 's' || text[at] == 'S') && len(text) > at+3 {
		if m := spnForm.FindStringSubmatch(text[at:]); m != nil {
			return spnChunk(at, m)
		}
	}
	c := chunk{start: at, end: at}
	for c.end < len(text) {
		begin, end := scanPart(text, c.end, len(c.parts) > 0)
		if begin < 0 {
			break
		}
		c.parts = append(c.parts, part{begin, end, plain(text[begin:end])})
		c.end = end
	}
	switch {
	case len(c.parts) == 1:
		return withUnit(text, c)
	default:
		return compound(c)
	}
}

func spnChunk(at int, m []string) chunk {
	fmi := strings.TrimLeft(m[2]+m[3], "0")
	if fmi == "" && m[2]+m[3] != "" {
		fmi = "0"
	}
	spn := "spn" + strings.TrimLeft(m[1], "0")
	c := chunk{start: at, end: at + len(m[0]), whole: []string{spn}}
	if fmi != "" {
		c.whole = append([]string{spn + "/" + fmi}, c.whole...)
	}
	return c
}

// scanPart finds the next word of a chunk: after the first only where a single joining mark leads to it.
func scanPart(text string, at int, joined bool) (begin, end int) {
	begin = at
	if joined {
		r, size := utf8.DecodeRuneInString(text[at:])
		begin += size
		next, _ := utf8.DecodeRuneInString(text[begin:])
		if !strings.ContainsRune("-‐‑/.:&_+,", r) || begin >= len(text) || !isWordRune(next) {
			return -1, 0
		}
	}
	for end = begin; end < len(text); {
		r, size := utf8.DecodeRuneInString(text[end:])
		if !isWordRune(r) && !insideWord(text, end, size, r) {
			break
		}
		end += size
	}
	return begin, end
}

func isWordRune(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) || unicode.IsMark(r) }

// insideWord tells whether a mark belongs to the word around it: the point of a number, an apostrophe.
func insideWord(text string, at, size int, r rune) bool {
	if at == 0 || at+size >= len(text) {
		return false
	}
	before, _ := utf8.DecodeLastRuneInString(text[:at])
	after, _ := utf8.DecodeRuneInString(text[at+size:])
	switch r {
	case '.', ',':
		return unicode.IsDigit(before) && unicode.IsDigit(after)
	case '\'', '’':
		return unicode.IsLetter(before) && unicode.IsLetter(after)
	}
	return false
}

// plain gives a word in lower case, without accents, compatibility forms, possessive and apostrophes; a decimal comma is
// a point.
func plain(word string) string {
	if !isASCII(word) {
		word = strings.ReplaceAll(word, "’", "'")
		word = norm.NFC.String(strings.Map(dropMark, norm.NFKD.String(word)))
	}
	word = strings.ToLower(word)
	word = strings.TrimSuffix(word, "'s")
	word = strings.ReplaceAll(word, "'", "")
	return strings.ReplaceAll(word, ",", ".")
}

func dropMark(r rune) rune {
	if unicode.Is(unicode.Mn, r) {
		return -1
	}
	return r
}

func isASCII(s string) bool {
	for i := range len(s) {
		if s[i] >= utf8.RuneSelf {
			return false
		}
	}
	return true
}

// withUnit joins a number and the unit after it: "12 V", "12V" and "12 volts" are one term. The number alone is found too.
func withUnit(text string, c chunk) chunk {
	word := c.parts[0].text
	digits := numberAt(word)
	if digits == 0 {
		return c
	}
	number, unit := word[:digits], word[digits:]
	if unit != "" {
		if u := unitOf(unit); u != "" {
			c.whole = []string{number + u}
			c.parts[0].text = number
		}
		return c
	}
	at := c.end
	if at < len(text) && text[at] == ' ' {
		at++
	}
	end := at
	for end < len(text) && end-at < 12 {
		r, size := utf8.DecodeRuneInString(text[end:])
		if !unicode.IsLetter(r) {
			break
		}
		end += size
	}
	if u := unitOf(plain(text[at:end])); u != "" && (u != "a" || text[at:end] != "a") { // "2 a day"
		c.whole, c.end = []string{number + u}, end
	}
	return c
}

// numberAt gives the length of the number that a word starts with.
func numberAt(word string) int {
	n := 0
	for n < len(word) && (word[n] >= '0' && word[n] <= '9' || word[n] == '.' && n > 0) {
		n++
	}
	return n
}

// unitOf gives the one spelling of a unit, empty if it is none.
func unitOf(word string) string {
	switch word {
	case "v", "volt", "volts", "vdc":
		return "v"
	case "vac":
		return "vac"
	case "mv", "millivolt", "millivolts":
		return "mv"
	case "a", "amp", "amps", "ampere", "amperes":
		return "a"
	case "ma", "milliamp", "milliamps":
		return "ma"
	case "ohm", "ohms", "ω":
		return "ohm"
	case "kohm", "kohms", "kω":
		return "kohm"
	case "psi", "bar", "kpa", "mbar", "hz", "khz", "rpm", "nm", "mm", "km", "kw", "ah":
		return word
	case "w", "watt", "watts":
		return "w"
	}
	return ""
}

// compound gives the terms of a chunk that marks hold together. With a digit in it ("P0AA6-1A", a part number, "3/4") it is
// a term of its own, whatever the marks, and so are its parts. Single letters ("A/C", "CAN-H") mean nothing alone. All are
// also found written in one ("micro-switch").
func compound(c chunk) chunk {
	var texts []string
	digit, letter := false, false
	for _, p := range c.parts {
		texts = append(texts, p.text)
		digit = digit || strings.ContainsAny(p.text, "0123456789")
		letter = letter || utf8.RuneCountInString(p.text) == 1
	}
	squashed := strings.Join(texts, "")
	switch {
	case digit:
		c.whole = []string{strings.Join(texts, "-"), squashed}
	case letter:
		c.whole = []string{stem(squashed)}
		c.parts = slices.DeleteFunc(c.parts, func(p part) bool { return utf8.RuneCountInString(p.text) == 1 })
	default:
		c.whole = []string{stem(squashed)}
	}
	return c
}

// stem reduces a word to its stem (Porter's second English stemmer). Words with digits stay.
func stem(word string) string {
	if strings.ContainsAny(word, "0123456789") {
		return word
	}
	env := snowballstem.NewEnv(word)
	english.Stem(env)
	return env.Current()
}

// isStopWord tells whether a word is in nearly every text. Words that say where or that something is not ("no", "on",
// "off", "out") are kept: "no start" is not "start".
func isStopWord(word string) bool {
	switch word {
	case "a", "an", "and", "are", "as", "at", "be", "been", "but", "by", "for", "from", "had", "has", "have", "he", "her", "his", "i", "if",
		"im", "in", "into", "is", "it", "its", "ive", "me", "my", "of", "or", "our", "she", "so", "such", "than", "that", "the", "their", "them",
		"then", "there", "these", "they", "this", "those", "to", "was", "we", "were", "which", "will", "with", "would", "you", "your":
		return true
	}
	return false
}

// words gives the stems of the parts of a chunk, empty strings where a stop word stands.
func (c chunk) words() []string {
	var out []string
	for _, p := range c.parts {
		switch {
		case isStopWord(p.text) || len(p.text) > maxTerm:
			out = append(out, "")
		default:
			out = append(out, stem(p.text))
		}
	}
	return out
}
