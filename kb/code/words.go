package code

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

const reach = 120 // bytes on either side that can belong to a mention

var (
	stop = regexp.MustCompile(`[.!?]["')\]]*\s|\n\s*[\n#|*>-]|\|`)
	word = regexp.MustCompile(`[\p{L}\p{N}]+(?:['’][\p{L}]+)?`)
)

// sentenceBefore returns what stands before a place in the same sentence, at most reach bytes.
func sentenceBefore(text string, at int) string {
	from := max(0, at-reach)
	for from > 0 && !utf8.RuneStart(text[from]) {
		from--
	}
	s := text[from:at]
	if all := stop.FindAllStringIndex(s, -1); all != nil {
		s = s[all[len(all)-1][1]:]
	}
	return s
}

// sentenceAfter returns what follows a place in the same sentence, at most reach bytes.
func sentenceAfter(text string, at int) string {
	to := min(len(text), at+reach)
	for to < len(text) && !utf8.RuneStart(text[to]) {
		to++
	}
	s := text[at:to]
	if m := stop.FindStringIndex(s); m != nil {
		s = s[:m[0]]
	}
	return s
}

// lastWords returns the last n words of s, the nearest first, as written.
func lastWords(s string, n int) []string {
	all := word.FindAllString(s, -1)
	slices.Reverse(all)
	return all[:min(n, len(all))]
}

// alone reports whether text[start:end] is not a part of a longer word or number.
func alone(text string, start, end int) bool {
	before, _ := utf8.DecodeLastRuneInString(text[:start])
	after, size := utf8.DecodeRuneInString(text[end:])
	next, _ := utf8.DecodeRuneInString(text[end+size:])
	if wordRune(before) || wordRune(after) {
		return false
	}
	if strings.ContainsRune(".,-'’:", after) && size > 0 && (unicode.IsDigit(next) || after != ',' && after != '.' && wordRune(next)) {
		return plural(text[end:])
	}
	return true
}

// plural reports an apostrophe s: "two E47's".
func plural(rest string) bool {
	return (strings.HasPrefix(rest, "'s") || strings.HasPrefix(rest, "’s")) && !wordRune(firstRune(strings.TrimLeft(rest, "'’s")))
}

func firstRune(s string) rune {
	r, _ := utf8.DecodeRuneInString(s)
	return r
}

func wordRune(r rune) bool {
	return r != utf8.RuneError && (unicode.IsLetter(r) || unicode.IsDigit(r))
}

// units follow a number that counts or measures something and so is no code. Single letters are units only in capitals
// or joined to the number, since "a" and others are words.
var units = regexp.MustCompile(`^(?:[vamskhlcfwg]\b|\s*[VAWCFKL]\b|\s*-?(?:%|°|Ω|(?i:(?:times|x|days?|weeks?|months?|years?|yrs?|hours?|hrs?|min(?:ute)?s?|sec(?:ond)?s?|ms|kms?|miles?|mi|mm|cm|ft|feet|inch(?:es)?|volts?|mv|kv|amps?|ma|ohms?|kohm|mohm|watts?|kw|hp|bar|psi|kpa|mpa|nm|deg(?:rees)?|rpm|hz|khz|mhz|lit(?:re|er)s?|ml|kg|lbs?|gal|percent|of|or \d+|th|st|nd|rd|more|long|short|people|others|ways|places|wires?|pins?|units?|euros?|eur|dollars?|quid|bucks|pounds)\b)))`)

// countsSomethingElse reports that a number is followed by a unit or a thing counted.
func countsSomethingElse(rest string) bool { return units.MatchString(rest) }
