package vin

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Span is where a VIN stands in a text, as byte offsets.
type Span struct {
	VIN        VIN
	Start, End int
}

// mistyped are the letters that no VIN holds and the digits that people mean by them.
var mistyped = strings.NewReplacer("O", "0", "o", "0", "Q", "0", "q", "0", "I", "1", "i", "1")

// grouped is a VIN written in groups after a word that announces it.
var grouped = regexp.MustCompile(`(?i)\b(?:VIN|chassis|frame)(?:\s*(?:number|no\.?|nr\.?|code|is))*[\s:#=]*([0-9A-Z]{1,14}(?:[ -][0-9A-Z]{1,14}){1,8})`)

// Find returns everything in a text that could be a full VIN, for masking, so it errs on the safe side: seventeen
// letters and digits in one run or, after the word VIN, in groups, with the letters O, I and Q read as digits and the check
// digit right or not.
func Find(text string) []Span {
	var out []Span
	lower := strings.ToLower(text)
	announced := strings.Contains(lower, "vin") || strings.Contains(lower, "chassis") || strings.Contains(lower, "frame")
	for _, m := range groupedIn(text, announced) {
		if end := groupsEnd(text, m[2], m[3]); end > 0 {
			if v, ok := candidate(text[m[2]:end]); ok {
				out = append(out, Span{v, m[2], end})
			}
		}
	}
	for start := 0; start < len(text); {
		end := runEnd(text, start)
		if end == start {
			_, size := utf8.DecodeRuneInString(text[start:])
			start += size
			continue
		}
		if end-start == length { // of one byte each: anything else is no VIN
			if v, ok := candidate(text[start:end]); ok {
				out = append(out, Span{v, start, end})
			}
		}
		start = end
	}
	slices.SortFunc(out, func(a, b Span) int { return cmp.Compare(a.Start, b.Start) })
	return out
}

// groupedIn looks for groups where a word that can announce them stands in the text at all.
func groupedIn(text string, announced bool) [][]int {
	if !announced {
		return nil
	}
	return grouped.FindAllStringSubmatchIndex(text, -1)
}

// groupsEnd returns the place where seventeen characters of groups are complete at the end of a group, 0 if nowhere.
func groupsEnd(text string, start, end int) int {
	n := 0
	for i := start; i < end; i++ {
		if text[i] != ' ' && text[i] != '-' {
			n++
		}
		if n == length && runEnd(text, i) == i+1 {
			return i + 1
		}
	}
	return 0
}

func candidate(s string) (VIN, bool) {
	v, err := Parse(mistyped.Replace(s))
	return v, err == nil && plausible(v)
}

// runEnd returns the end of the run of letters and digits that begins at start.
func runEnd(text string, start int) int {
	for i, r := range text[start:] {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			return start + i
		}
	}
	return len(text)
}

// plausible asks for letters and digits, and for the serial part to end in digits as every scheme has it; seventeen
// letters are a word, seventeen digits an account or a part number.
func plausible(v VIN) bool {
	s := string(v)
	letters := strings.IndexFunc(s, unicode.IsLetter) >= 0
	return letters && strings.Trim(s[length-3:], "0123456789") == ""
}
