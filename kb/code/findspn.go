package code

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
)

const (
	spnLabel = `(?:\bspns?|\bsuspect parameter(?: number)?)[\s:#=.-]*`
	fmiLabel = `(?:fmis?|failure mode(?: identifier)?)[\s:#=.-]*`
	between  = `[\s,;:/|(&+–-]*(?:and\s+|with\s+|an?\s+|both\s+|all\s+)*`
)

var (
	spnWord = regexp.MustCompile(`(?i)\b(?:spn|fmi)`)
	spnFull = regexp.MustCompile(`(?i)` + spnLabel + `(\d{1,6})` + between + fmiLabel + `(\d{1,2})\b`)
	spnDot  = regexp.MustCompile(`(?i)` + spnLabel + `(\d{1,6})\s?[/.-]\s?(\d{1,2})\b`)
	spnList = regexp.MustCompile(`(?i)` + spnLabel + `(\d{1,6}(?:(?:\s*[,/&+]\s*|\s+and\s+|\s*,\s*and\s+)\d{1,6})+)` + between + fmiLabel + `(\d{1,2})\b`)
	spnBack = regexp.MustCompile(`(?i)\b` + fmiLabel + `(\d{1,2})[\s,]*(?:on|for|of|at|with)\s+(?:the\s+)?(?:spn[\s:#=.-]*)?(\d{2,6})\b`)
	spnBare = regexp.MustCompile(`(?i)\b(\d{2,6})[\s,/-]*` + fmiLabel + `(\d{1,2})\b`)
	spnTiny = regexp.MustCompile(`(?i)\bs(\d{2,6})[\s/-]*f(\d{1,2})\b`)
	spnPair = regexp.MustCompile(`\b(\d{2,6})\s?[/|]\s?(\d{1,2})\b`)
	spnOnly = regexp.MustCompile(`(?i)` + spnLabel + `(\d{1,6})\b`)
	spnFar  = regexp.MustCompile(`(?i)\b(\d{2,6})\b[^.!?\n\d]{1,40}\b` + fmiLabel + `(\d{1,2})\b`)
	fmiMore = regexp.MustCompile(`(?i)^(?:\s*[,&+/]\s*|\s+and\s+|\s*,\s*and\s+)(` + fmiLabel + `)?(\d{1,2})\b`)
	// SAE J1587 also counts failure modes, under other numbers; its parameters are not SPNs.
	j1587  = regexp.MustCompile(`(?i)\b(?:[MPS]ID|PSID|PPID)[\s:#=.-]*$`)
	number = regexp.MustCompile(`\d+`)
)

// spnExplicit returns the codes that name themselves by SPN or FMI.
func spnExplicit(text string) []Found {
	var out []Found
	lower := strings.ToLower(text)
	if !speaksOf(lower, "spn", "suspect parameter", "fmi", "failure mode") && !tinyForm(lower) {
		return nil
	}
	for _, m := range spnList.FindAllStringSubmatchIndex(text, -1) {
		for _, n := range number.FindAllStringIndex(group(text, m, 1), -1) {
			at := m[2] + n[0]
			out = addSPN(out, at, m[2]+n[1], text[at:m[2]+n[1]], group(text, m, 2), 0.9, "SPN list")
		}
	}
	for _, m := range spnFull.FindAllStringSubmatchIndex(text, -1) {
		out = addSPN(out, m[0], m[1], group(text, m, 1), group(text, m, 2), 0.99, "SPN and FMI")
		out = append(out, moreFMI(text, m[1], group(text, m, 1))...)
	}
	for _, m := range spnBack.FindAllStringSubmatchIndex(text, -1) {
		out = addSPN(out, m[0], m[1], group(text, m, 2), group(text, m, 1), 0.95, "FMI on SPN")
	}
	for _, re := range []*regexp.Regexp{spnBare, spnDot, spnTiny} {
		for _, m := range re.FindAllStringSubmatchIndex(text, -1) {
			if !j1587.MatchString(text[max(0, m[0]-10):m[0]]) && (re != spnDot || !countsSomethingElse(text[m[1]:])) {
				out = addSPN(out, m[0], m[1], group(text, m, 1), group(text, m, 2), 0.9, "SPN and FMI")
			}
		}
	}
	return resolve(out)
}

func addSPN(out []Found, start, end int, spn, fmi string, confidence float64, cue string) []Found {
	c, err := j1939FromParts(spn, fmi)
	if err != nil {
		return out
	}
	return append(out, Found{Code: c, Start: start, End: end, Confidence: confidence, Cue: cue})
}

// moreFMI reads further failure modes of the same parameter: "SPN 3226 FMI 9 and FMI 4", "FMI 3, 4".
func moreFMI(text string, at int, spn string) []Found {
	var out []Found
	for {
		m := fmiMore.FindStringSubmatchIndex(text[at:])
		if m == nil || countsSomethingElse(text[at+m[1]:]) || spnBare.MatchString(text[at+m[4]:min(len(text), at+m[1]+12)]) {
			return out
		}
		out = addSPN(out, at+m[4], at+m[1], spn, group(text[at:], m, 2), 0.85, "further FMI")
		at += m[1]
	}
}

// findSPN returns the J1939 codes, also the short forms whose sense the write-up has made clear.
func (c *Context) findSPN(m *mined) []Found {
	text, out := m.tidy.text, slices.Clone(m.spns)
	if !c.spoken {
		return out
	}
	for _, m := range spnPair.FindAllStringSubmatchIndex(text, -1) {
		if !c.pairIsSPN(text, m) {
			continue
		}
		out = addSPN(out, m[0], m[1], group(text, m, 1), group(text, m, 2), 0.85, "pair of numbers after SPN")
	}
	for _, m := range spnFar.FindAllStringSubmatchIndex(text, -1) {
		if _, known := c.spns[atoSPN(group(text, m, 1))]; known {
			out = addSPN(out, m[0], m[1], group(text, m, 1), group(text, m, 2), 0.8, "known SPN with an FMI")
		}
	}
	return append(out, c.spnAlone(text)...)
}

func atoSPN(s string) uint32 {
	n, _ := strconv.ParseUint(s, 10, 32) // not a number: 0, which is no SPN
	return uint32(n)
}

// pairIsSPN tells "157/18" from a date, a size or a fraction: by an SPN known from elsewhere, else by four digits, or
// three and a word for a code before.
func (c *Context) pairIsSPN(text string, m []int) bool {
	spn := group(text, m, 1)
	if !alone(text, m[0], m[1]) || m[0] > 0 && text[m[0]-1] == '/' || strings.HasPrefix(text[m[1]:], "/") || countsSomethingElse(text[m[1]:]) {
		return false
	}
	if _, known := c.spns[atoSPN(spn)]; known {
		return true
	}
	return len(spn) >= 4 || len(spn) == 3 && codeWord.MatchString(sentenceBefore(text, m[0]))
}

// spnAlone reads an SPN without an FMI. Where the write-up knows just one failure mode for it, that one is meant.
func (c *Context) spnAlone(text string) []Found {
	var out []Found
	for _, m := range spnOnly.FindAllStringSubmatchIndex(text, -1) {
		code, err := j1939FromParts(group(text, m, 1), "")
		if err != nil {
			continue
		}
		f := Found{Code: code, Start: m[0], End: m[1], Confidence: 0.7, Cue: "SPN without FMI"}
		if modes := c.spns[code.SPN]; len(modes) == 1 {
			for fmi := range modes {
				f.Code = newSPNFMI(code.SPN, fmi)
			}
		}
		out = append(out, f)
	}
	return out
}
