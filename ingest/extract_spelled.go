package ingest

import (
	"regexp"
	"slices"
	"strings"

	"ruledout/kb/quantity"
)

var (
	spelledForm = regexp.MustCompile(`(?i)\b(zero|nought|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|thirteen|fourteen) point (zero|oh|one|two|three|four|five|six|seven|eight|nine)(?: (zero|oh|one|two|three|four|five|six|seven|eight|nine))? (volts?|ohms?|amps?|bar|psi|millivolts?|kilohms?)\b`)
	frostForm   = regexp.MustCompile(`(?i)\b(?:good|protected|safe|ok|fine|tests|tested|reads|freezes|freezing) (?:for|to|down to|at) (?:about |around )?(-\d+(?:[.,]\d+)?)\b`)
	opensForm   = regexp.MustCompile(`(?i)\b(?:opens?|opened|lifts?|lifted|pops?|popped|cracks|blows off|blew off|vents?|vented) at (?:about |around )?(\d+(?:[.,]\d+)?)(?:[\s,;.)]|$)`)
)

// spelledNumbers gives readings written in words: "one point nine volts".
func spelledNumbers(text string) []quantity.Found {
	var out []quantity.Found
	for _, m := range spelledForm.FindAllStringSubmatchIndex(text, -1) {
		number := digitOf(text[m[2]:m[3]]) + "." + digitOf(text[m[4]:m[5]])
		if m[6] >= 0 {
			number += digitOf(text[m[6]:m[7]])
		}
		if q, err := quantity.Parse(number + " " + strings.ToLower(text[m[8]:m[9]])); err == nil {
			out = append(out, quantity.Found{Quantity: q, Start: m[0], End: m[1]})
		}
	}
	return out
}

func digitOf(word string) string {
	word = strings.ToLower(word)
	if word == "oh" || word == "nought" {
		return "0"
	}
	i := slices.Index([]string{"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen", "fourteen"}, word)
	return []string{"0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11", "12", "13", "14"}[max(i, 0)]
}

// toldByUse gives numbers without a unit whose use tells it: the frost that a coolant stands, the pressure at which a cap opens.
func (x *Extractor) toldByUse(s *sentence, text string, have []quantity.Found) []quantity.Found {
	var out []quantity.Found
	add := func(from, to int, unit string) {
		taken := slices.ContainsFunc(have, func(q quantity.Found) bool { return q.Start < to && from < q.End })
		if q, err := quantity.Parse(text[from:to] + " " + unit); err == nil && !taken {
			out = append(out, quantity.Found{Quantity: q, Start: from, End: to})
		}
	}
	names := func(words ...string) bool {
		return slices.ContainsFunc(s.toks, func(t token) bool { return slices.Contains(words, t.word) })
	}
	if names("coolant", "glycol", "antifreeze", "brine", "mix") {
		for _, m := range frostForm.FindAllStringSubmatchIndex(text, -1) {
			add(m[2], m[3], "°C")
		}
	}
	if names("cap", "valve", "thermostat", "stat") {
		for _, m := range opensForm.FindAllStringSubmatchIndex(text, -1) {
			v, ok := parseNumber(strings.ReplaceAll(text[m[2]:m[3]], ",", "."))
			switch {
			case !ok:
			case names("thermostat", "stat") && v > 50 && v < 110:
				add(m[2], m[3], "°C")
			case names("cap") && v < 3:
				add(m[2], m[3], "bar")
			case names("cap") && v < 31:
				add(m[2], m[3], "psi")
			}
		}
	}
	return out
}

// fromFarEnd reads a resistance measured from the control unit's end of the loom: that tests the loom with what hangs on it.
func (x *Extractor) fromFarEnd(s *sentence, m measured) (nounPhrase, bool) {
	if !strings.HasSuffix(m.Unit, "ohm") && m.Unit != "" {
		return nounPhrase{}, false
	}
	for i := 0; i+2 < len(s.toks); i++ {
		if s.toks[i].word != "from" {
			continue
		}
		unit, end := false, -1
		for j := i + 1; j < min(i+6, len(s.toks)) && !s.toks[j].mark; j++ {
			switch w := s.toks[j].word; {
			case slices.Contains([]string{"module", "ecu", "ecm", "pcm", "tcm", "controller", "board", "inverter", "computer", "panel"}, w):
				unit = true
			case unit && slices.Contains([]string{"plug", "connector", "end", "side"}, w):
				end = j + 1
			}
		}
		if end > 0 {
			return nounPhrase{from: i, to: end, name: "wiring harness", raw: "wiring harness", known: true}, true
		}
	}
	return nounPhrase{}, false
}

// wantsOhms tells whether somebody asked for a resistance, so that a bare "k" is one of ohms.
func (f *focus) wantsOhms() bool {
	return slices.ContainsFunc(f.wanted, func(w wanted) bool { return strings.HasSuffix(w.unit, "ohm") })
}
