package code

import "strings"

// The patterns of this package are searched for in every post of a write-up, and most posts hold none of what they ask for.
// The gates here tell so at the cost of a glance; a text that passes one is still read by the pattern.

// speaksOf reports whether a text in small letters holds any of the words, as part of a longer one too.
func speaksOf(lower string, words ...string) bool {
	for _, w := range words {
		if strings.Contains(lower, w) {
			return true
		}
	}
	return false
}

// tinyForm reports whether an S stands right before a digit, as in "S157F18".
func tinyForm(lower string) bool {
	for i := 1; i < len(lower); i++ {
		if digit(lower[i]) && lower[i-1] == 's' {
			return true
		}
	}
	return false
}

// obdForm reports whether anything has the outline of obdToken: four of its digits, with its letter at most three bytes before.
func obdForm(lower string) bool {
	run := 0 // digits of the token's second to fourth place that end here
	for i := len(lower) - 1; i > 0; i-- {
		c := lower[i]
		if run >= 3 && (c >= '0' && c <= '3' || c == 'o') && strings.ContainsAny(lower[max(0, i-4):i], "pcbu") {
			return true
		}
		if digit(c) || c >= 'a' && c <= 'f' || c == 'o' {
			run++
		} else {
			run = 0
		}
	}
	return false
}

func digit(b byte) bool { return b >= '0' && b <= '9' }

// digitWords returns the stretches of words that hold a digit: runs between blanks, neighbours of one kind joined.
func digitWords(text string) []span {
	var out []span
	for start := 0; start < len(text); {
		end := start
		has := false
		for end < len(text) && text[end] != ' ' && text[end] != '\n' {
			has = has || digit(text[end])
			end++
		}
		switch last := len(out) - 1; {
		case !has:
		case last >= 0 && out[last].end+1 == start:
			out[last].end = end
		default:
			out = append(out, span{start, end})
		}
		start = end + 1
	}
	return out
}
