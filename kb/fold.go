package kb

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Fold gives the plain form of a term: lower case, Unicode compatibility forms and accents folded, spacing and
// punctuation made single spaces, articles dropped, the last word in the singular. It is idempotent.
//
// A hyphen stays where both sides hold a digit ("p0aa6-1a", part numbers); single letters that a slash, dot or ampersand
// joins become one word ("A/C" is "ac"); a number and its unit are two words ("12V" is "12 v").
func Fold(term string) string {
	words := dropArticles(splitWords(term))
	if n := len(words); n > 0 {
		words[n-1] = singular(words[n-1])
	}
	return strings.Join(words, " ")
}

// FoldWords folds a text word by word, each word on its own and in the singular ("glass" stays). Articles are kept, so
// that the words of two texts put together are the words of each.
func FoldWords(text string) []string {
	words := splitWords(text)
	for i, w := range words {
		words[i] = singular(w)
	}
	return words
}

// FoldWord is FoldWords for a text that is one word of ASCII letters; it reports false for any other.
func FoldWord(text string) (string, bool) {
	for i := range len(text) {
		if c := text[i] | 0x20; c < 'a' || c > 'z' {
			return "", false
		}
	}
	return singular(strings.ToLower(text)), text != ""
}

// IsArticle tells whether a folded word is an article, which phrases of the vocabulary leave out.
func IsArticle(word string) bool { return word == "the" || word == "a" || word == "an" }

// termKey is what terms are looked up by: every word folded, articles dropped, and no spaces, since people write
// "microswitch", "micro switch" and "micro-switch" for one thing.
func termKey(term string) string { return strings.Join(phraseWords(term), "") }

// phraseWords gives the words by which a term is found in running text.
func phraseWords(term string) []string { return dropArticles(FoldWords(term)) }

// dropArticles leaves an "a" that is a name ("pump a") or a unit ("150 a fuse").
func dropArticles(words []string) []string {
	kept := words[:0]
	for i, w := range words {
		afterNumber := len(kept) > 0 && isNumber(kept[len(kept)-1])
		name := w == "a" && (i == len(words)-1 || afterNumber)
		if !IsArticle(w) || name {
			kept = append(kept, w)
		}
	}
	return kept
}

// splitWords gives the lower-case words of a text.
func splitWords(text string) []string {
	words := make([]string, 0, len(text)/6+1)
	for field := range strings.FieldsSeq(normalise(text)) {
		words = appendField(words, field)
	}
	return words
}

func normalise(text string) string {
	if isASCII(text) {
		return strings.ToLower(text)
	}
	text = norm.NFKD.String(strings.ToLower(norm.NFKD.String(text)))
	text = strings.Map(func(r rune) rune {
		if r >= 0x0300 && r <= 0x036F { // combining accents
			return -1
		}
		return r
	}, text)
	return norm.NFC.String(text)
}

func isASCII(s string) bool {
	for i := range len(s) {
		if s[i] >= 0x80 {
			return false
		}
	}
	return true
}

// piece is a run of letters and digits with the separator that stood before it.
type piece struct {
	text string
	sep  rune
}

func appendField(words []string, field string) []string {
	if isPlainWord(field) {
		return append(words, field)
	}
	start := len(words)
	for _, p := range cut(field) {
		joins := len(words) > start
		last := len(words) - 1
		switch {
		case joins && p.sep == '-' && hasDigit(words[last]) && hasDigit(p.text):
			words[last] += "-" + p.text
		case joins && strings.ContainsRune("/.&", p.sep) && isLetter(p.text) && isInitials(words[last], field):
			words[last] += p.text
		case p.sep == '&':
			words = append(words, "and")
			if p.text != "" {
				words = appendUnit(words, p.text)
			}
		case p.text != "":
			words = appendUnit(words, p.text)
		}
	}
	return words
}

// isInitials tells whether a word so far is made of single letters that stand joined in the field ("a", or "rp" of "r.p.m").
func isInitials(word, field string) bool {
	if !isPlainWord(word) {
		return false
	}
	spelled := strings.Join(strings.Split(word, ""), ".")
	plain := strings.NewReplacer("/", ".", "&", ".").Replace(field)
	return strings.Contains(plain, spelled)
}

func isPlainWord(field string) bool {
	for _, r := range field {
		if !unicode.IsLetter(r) {
			return false
		}
	}
	return true
}

// cut splits a field at everything that is no letter, digit or mark; an apostrophe inside a word is dropped, a point
// inside a number stays. A final separator gives an empty last piece only for "&", which is a word.
func cut(field string) []piece {
	var pieces []piece
	var text []rune
	sep := rune(0)
	runes := []rune(field)
	flush := func(next rune) {
		if len(text) > 0 || sep == '&' {
			pieces = append(pieces, piece{string(text), sep})
			sep = next
		} else if sep != '&' {
			sep = next
		}
		text = text[:0]
	}
	for i, r := range runes {
		switch {
		case isWordRune(r), r == '+' && len(text) == 1 && unicode.IsLetter(text[0]), r == '.' && insideNumber(runes, i):
			text = append(text, r)
		case isApostrophe(r) && len(text) > 0:
		default:
			flush(r)
		}
	}
	flush(0)
	return pieces
}

func isWordRune(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) || unicode.IsMark(r) }

func isApostrophe(r rune) bool { return strings.ContainsRune("'’‘ʼ`´", r) }

func insideNumber(runes []rune, i int) bool {
	return i > 0 && i+1 < len(runes) && unicode.IsDigit(runes[i-1]) && unicode.IsDigit(runes[i+1])
}

func hasDigit(s string) bool { return strings.ContainsFunc(s, unicode.IsDigit) }

func isNumber(s string) bool {
	return s != "" && strings.IndexFunc(s, func(r rune) bool { return !unicode.IsDigit(r) && r != '.' }) < 0
}

func isLetter(s string) bool { return utf8.RuneCountInString(s) == 1 && isPlainWord(s) }

// appendUnit parts a number from the unit written against it.
func appendUnit(words []string, text string) []string {
	end := strings.IndexFunc(text, func(r rune) bool { return !unicode.IsDigit(r) && r != '.' })
	if end > 0 && slices.Contains(joinedUnits(), text[end:]) {
		return append(words, text[:end], text[end:])
	}
	return append(words, text)
}

func joinedUnits() []string {
	return []string{"v", "volt", "volts", "vdc", "vac", "a", "amp", "amps", "ah", "w", "kw", "mm", "psi", "bar", "hz", "ohm", "ohms"}
}

// singular folds a regular plural. It leaves short words, words with digits and words that only look like a plural.
func singular(word string) string {
	if len(word) < 4 || word[len(word)-1] != 's' || hasDigit(word) {
		return word
	}
	if single, known := irregular(word); known {
		return single
	}
	switch {
	case hasAnySuffix(word, "ss", "us", "is"):
		return word
	case strings.HasSuffix(word, "ies") && len(word) > 4:
		return word[:len(word)-3] + "y"
	case hasAnySuffix(word, "sses", "shes", "ches", "xes", "zzes"):
		return word[:len(word)-2]
	}
	if stem := word[:len(word)-1]; !IsArticle(stem) {
		return stem
	}
	return word
}

func hasAnySuffix(s string, suffixes ...string) bool {
	return slices.ContainsFunc(suffixes, func(x string) bool { return strings.HasSuffix(s, x) })
}

// irregular holds plurals that the rules get wrong, and words in -s that are no plurals.
func irregular(word string) (string, bool) {
	switch word {
	case "series", "lens", "always", "perhaps", "sometimes", "afterwards", "towards", "bias", "does", "mains", "tpms", "canvas", "atlas":
		return word, true
	case "axes":
		return "axis", true
	case "buses", "busses":
		return "bus", true
	case "gases":
		return "gas", true
	case "lenses":
		return "lens", true
	case "biases":
		return "bias", true
	case "shelves":
		return "shelf", true
	case "knives":
		return "knife", true
	case "ecus":
		return "ecu", true
	case "tcus":
		return "tcu", true
	}
	return word, false
}
