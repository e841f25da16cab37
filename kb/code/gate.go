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

// letterBefore reports whether one of the letters stands before a digit, with at most gap bytes between.
func letterBefore(lower, letters string, gap int) bool {
	for i := range len(lower) {
		if !digit(lower[i]) && lower[i] != 'o' {
			continue
		}
		for back := 1; back <= gap+1 && back <= i; back++ {
			if strings.IndexByte(letters, lower[i-back]) >= 0 {
				return true
			}
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
