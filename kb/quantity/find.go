package quantity

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Found is a quantity in running text.
type Found struct {
	Quantity
	Start, End int // byte offsets
	// Assumed says that only a lone k or M is written, taken for kilohms or megohms; it may be thousands of anything.
	Assumed bool
}

var (
	boundBefore = regexp.MustCompile(`(?i)(?:>=?|≥|<=?|≤|\b(?:over|above|more than|greater than|at least|under|below|less than|at most))\s*$`)
	thousandsBy = regexp.MustCompile(`^\d{1,3}(?:[ \x{00a0}\x{202f}]\d{3})+`)
	openInText  = regexp.MustCompile(`\b(?:O\.?L\b\.?|(?i:open[ -]circuit(?:ed)?|open|infinit[ey]|overload|no continuity))`)
)

// Find returns the numbers with units in running text, in order. Open circuits are left to FindOpen.
func Find(text string) []Found {
	var out []Found
	for at := 0; at < len(text); {
		start := nextNumber(text, at)
		if start < 0 {
			break
		}
		f, ok := quantityAt(text, start)
		if ok {
			out = append(out, f)
			at = f.End
			continue
		}
		at = numberEnd(text, start)
	}
	return out
}

// nextNumber returns where the next number that is not part of a word begins, its sign included, -1 when none is left.
func nextNumber(text string, from int) int {
	for i := from; i < len(text); i++ {
		if text[i] < '0' || text[i] > '9' {
			continue
		}
		start := i
		if start > from && (text[start-1] == '.' || text[start-1] == ',') && (start-1 == 0 || !digit(text[start-2])) && clear(text, start-1) {
			start--
		}
		if clear(text, start) {
			return withSign(text, start, from)
		}
		i = numberEnd(text, i) - 1
	}
	return -1
}

func digit(b byte) bool { return b >= '0' && b <= '9' }

// clear reports that a number may begin here: not inside a word, a part number, a fraction or a longer number.
func clear(text string, start int) bool {
	before, _ := utf8.DecodeLastRuneInString(text[:start])
	switch {
	case start == 0:
		return true
	case unicode.IsLetter(before), unicode.IsDigit(before), strings.ContainsRune("/_$£€#", before):
		return false
	case before == '.' || before == ',' || before == ':' || before == '-' || before == '\'':
		prev, _ := utf8.DecodeLastRuneInString(text[:start-1])
		return start == 1 || !unicode.IsLetter(prev) && !unicode.IsDigit(prev)
	}
	return true
}

func withSign(text string, start, from int) int {
	for _, sign := range []string{"+", "-", "−"} {
		if strings.HasSuffix(text[from:start], sign) {
			return start - len(sign)
		}
	}
	return start
}

// numberEnd returns the end of the run of letters and digits around a number.
func numberEnd(text string, start int) int {
	end := start + 1
	for end < len(text) {
		r, n := utf8.DecodeRuneInString(text[end:])
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			break
		}
		end += n
	}
	return end
}

func quantityAt(text string, start int) (Found, bool) {
	body := text[start:min(len(text), start+maxLength)]
	if m := thousandsBy.FindString(body); m != "" {
		joined := joinThousands(m)
		if p, err := read(joined+body[len(m):], true); err == nil && groupsThousands(p.unit) && p.upper == nil {
			return found(text, start, p, len(m)-len(joined)), true
		}
	}
	p, err := read(body, true)
	if err != nil || p.unit == "" || !believable(p, body[p.size:]) {
		return Found{}, false
	}
	return found(text, start, p, 0), true
}

func joinThousands(s string) string {
	return strings.NewReplacer(" ", "", "\u00a0", "", "\u202f", "").Replace(s)
}

// groupsThousands holds for units that are counted in thousands: "11 000 km" is one number, "pins 3 120 ohm" are two.
func groupsThousands(symbol string) bool {
	return symbol == "km" || symbol == "mi" || symbol == "h" || symbol == "rpm"
}

func found(text string, start int, p parsed, more int) Found {
	f := Found{Quantity: Quantity{Value: p.value, Upper: p.upper, Unit: p.unit, Bound: Equal}, Start: start, End: start + p.size + more, Assumed: p.assumed}
	if m := boundBefore.FindString(text[max(0, start-16):start]); m != "" && p.upper == nil {
		f.Bound = boundOf(m)
	}
	return f
}

// believable keeps letters that are words from being units: "gave it 5 a day", "3 in the box".
func believable(p parsed, rest string) bool {
	switch p.written {
	case "a", "v", "c", "f", "w", "r", "n m":
		return !p.spaced
	case "deg", "degs", "degree", "degrees", "º", "°": // of what, the words do not say: mostly a temperature
		return false
	case "in":
		next := strings.TrimSpace(rest)
		return !p.spaced || next == "" || strings.ContainsRune(".,;)", rune(next[0]))
	}
	return true
}

// FindOpen returns the words for an open circuit, each as an open quantity. Whether "open" is a reading or a door is for the
// caller to judge.
func FindOpen(text string) []Found {
	var out []Found
	for _, m := range openInText.FindAllStringIndex(text, -1) {
		out = append(out, Found{Quantity: Quantity{Bound: Open}, Start: m[0], End: m[1]})
	}
	return out
}
