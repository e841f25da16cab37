package ingest

import (
	"regexp"
	"slices"
	"strings"

	"ruledout/kb"
	"ruledout/kb/quantity"
)

var bareForm = regexp.MustCompile(`(?:^|[\s(,/~])([+-]\d{1,2}(?:[.,]\d)?)(?:[\s),./]|$)`)

// bareNumbers gives signed numbers without a unit where fuel trims are spoken of: those are per cent.
func (x *Extractor) bareNumbers(f *focus, s *sentence, text string, have []quantity.Found) []quantity.Found {
	lower := strings.ToLower(text)
	unit := soleUnit(have)
	if len(have) == 0 {
		unit = f.unit
		if unit != "" && s.ohms() {
			unit = "ohm"
		}
	}
	trims := strings.Contains(lower, "trim") || strings.Contains(lower, "ltft") || strings.Contains(lower, "stft")
	if unit != "" && unit != "%" && (!trims || len(have) > 0) {
		spoken := spokenNumbers(text, unit, have)
		return append(spoken, s.sharedNumbers(unit, append(slices.Clone(have), spoken...))...)
	}
	if !trims {
		return nil
	}
	var out []quantity.Found
	for _, m := range bareForm.FindAllStringSubmatchIndex(text, -1) {
		taken := slices.ContainsFunc(have, func(q quantity.Found) bool { return q.Start < m[3] && m[2] < q.End })
		if n, err := quantity.Parse(text[m[2]:m[3]] + " %"); err == nil && !taken {
			out = append(out, quantity.Found{Quantity: n, Start: m[2], End: m[3]})
		}
	}
	return out
}

// soleUnit gives the unit of a sentence's quantities if they share one that a meter shows.
func soleUnit(have []quantity.Found) string {
	unit := ""
	for _, q := range have {
		if q.Bound == quantity.Open || !isMeter(q) || q.Assumed {
			continue
		}
		if unit != "" && unit != q.Unit {
			return ""
		}
		unit = q.Unit
	}
	return unit
}

var spokenForm = regexp.MustCompile(`(?i)(?:\b(?:reads?|measured|measures|shows?|showed|got|dropped to|down to|sags? to|up to|sitting at|sits at|stays at|back to|still|steady at|holds|held|now|is now|it is|get)\s+(?:only |about |around |just )?|^|[(,]\s*)(\d+[.,]\d+|\.\d+)(?:[\s,.;)]|$)|(?:\b(?:reads?|measured|showed|dropped to|down to|sags? to|sitting at|sits at|stays at)\s+(?:only |about |around |just )?)(\d+)(?:[\s,.;)]|$)`)

// spokenNumbers gives numbers that a verb of reading introduces, in the unit of the sentence: "marked 25-31 uF, this one shows
// 28".
func spokenNumbers(text, unit string, have []quantity.Found) []quantity.Found {
	var out []quantity.Found
	for _, m := range spokenForm.FindAllStringSubmatchIndex(text, -1) {
		if m[2] < 0 {
			m[2], m[3] = m[4], m[5]
		}
		if countsThings(text[m[3]:]) {
			continue
		}
		taken := slices.ContainsFunc(have, func(q quantity.Found) bool { return q.Start < m[3] && m[2] < q.End })
		if n, err := quantity.Parse(text[m[2]:m[3]] + " " + unit); err == nil && !taken {
			out = append(out, quantity.Found{Quantity: n, Start: m[2], End: m[3]})
		}
	}
	return out
}

var thingAfter = regexp.MustCompile(`(?i)^\s*(?:[a-z]+s\b|mm|cm|m\b|k\b|litres?|liters?|diesel|petrol|turbo|hp|per|x\b|times|and\b|to\b|-|–|inch|foot|ft|v\d)`)

// countsThings tells whether what follows a number is what it counts: "2 caps".
func countsThings(rest string) bool { return thingAfter.MatchString(rest) }

// sharedNumbers gives the bare numbers of a sentence that share the unit of the quantities in it: joined to one ("0.6 and 0.7 ohm"), or
// led in by a verb of reading ("the other shows 31").
func (s *sentence) sharedNumbers(unit string, have []quantity.Found) []quantity.Found {
	var out []quantity.Found
	if len(have) == 0 {
		return nil
	}
	for i, t := range s.toks {
		if t.mark || t.word == "" || !t.number() || i == 0 && len(s.toks) > 1 && !s.joinsQuantity(0, have) {
			continue
		}
		start, end := s.signed(t)
		if countsThings(s.text[end:s.end]) && !s.joinsQuantity(i, have) || labelsNumber(s, i) || len(t.word) == 4 && !strings.Contains(t.word, ".") && unit != "bar" && unit != "kPa" {
			continue
		}
		if s.inRange(i) {
			continue
		}
		if !strings.Contains(t.word, ".") && !s.readingLead(i) && !s.joinsQuantity(i, have) {
			continue
		}
		start, end = start-s.start, end-s.start
		if slices.ContainsFunc(have, func(q quantity.Found) bool { return q.Start < end && start < q.End }) {
			continue
		}
		if n, err := quantity.Parse(s.text[start+s.start:end+s.start] + " " + unit); err == nil {
			out = append(out, quantity.Found{Quantity: n, Start: start, End: end})
		}
	}
	return out
}

// inRange tells whether the number at token i is one end of a range, which states a limit: "11 to 13".
func (s *sentence) inRange(i int) bool {
	dash := func(t token) bool { return t.word == "to" || t.mark && (t.raw == "-" || t.raw == "–") }
	after := i+2 < len(s.toks) && dash(s.toks[i+1]) && s.toks[i+2].hasDigit()
	before := i >= 2 && dash(s.toks[i-1]) && s.toks[i-2].hasDigit() && !(i >= 3 && s.toks[i-3].word == "from")
	return after && !(i >= 1 && s.toks[i-1].word == "from") || before
}

// joinsQuantity tells whether the number at token i is joined to a quantity right after it: "0.6 and 0.7 ohm", "1.1 / 1.1 / 1.2 ohm".
func (s *sentence) joinsQuantity(i int, have []quantity.Found) bool {
	joiner := func(t token) bool {
		return t.mark && (t.raw == "," || t.raw == "/" || t.raw == "&") || !t.mark && (t.word == "and" || t.word == "or" || t.word == "then")
	}
	for j := i + 1; j+1 < len(s.toks) && joiner(s.toks[j]); j += 2 {
		k := j + 1
		if joiner(s.toks[k]) && k+1 < len(s.toks) {
			k, j = k+1, j+1
		}
		if !s.toks[k].hasDigit() {
			return false
		}
		at := s.toks[k].start - s.start
		if slices.ContainsFunc(have, func(q quantity.Found) bool { return q.Start <= at && at < q.End }) {
			return true
		}
	}
	return false
}

// labelsNumber tells whether the number at token i is a name: "cylinder 3", "pin 14", "fuse no. 6".
func labelsNumber(s *sentence, i int) bool {
	if i == 0 {
		return false
	}
	switch s.toks[i-1].word {
	case "number", "no", "cylinder", "cyl", "pin", "bank", "fuse", "terminal", "step", "phase", "string", "cell", "zone", "gear", "relay", "injector", "coil", "module", "group", "#", "mark", "stage", "channel", "pos", "position", "code", "error":
		return true
	}
	return false
}

// partNumbers gives numbers without a unit that a verb of reading ties to a part of which everybody knows what is read there: "battery
// was 12.6", "coolant temperature shows 92", "got 11.9 at the pump", "compression 150 on all four".
func (x *Extractor) partNumbers(s *sentence, have []quantity.Found) []quantity.Found {
	var out []quantity.Found
	for i, t := range s.toks {
		if t.mark || t.word == "" || t.word[0] < '0' || t.word[0] > '9' || i == 0 {
			continue
		}
		start, end := s.signed(t)
		taken := slices.ContainsFunc(have, func(q quantity.Found) bool { return q.Start < end-s.start && start-s.start < q.End })
		if taken || !s.readingLead(i) && !x.followsPart(s, i) || countsThings(s.text[end:s.end]) && !goesOn(s, i) {
			continue
		}
		unit := x.unitOfPart(s, i)
		if unit == "" || unit == "V" && !voltsAlone(s.text[start:end], s, i) {
			continue
		}
		if n, err := quantity.Parse(s.text[start:end] + " " + unit); err == nil {
			out = append(out, quantity.Found{Quantity: n, Start: start - s.start, End: end - s.start})
		}
	}
	return out
}

// goesOn tells whether a number is followed by a further statement: "climbs to 88 and stays there".
func goesOn(s *sentence, i int) bool {
	return i+2 < len(s.toks) && s.toks[i+1].word == "and" && (isCopula(s.toks[i+2].word) || slices.Contains([]string{"stay", "stays", "hold", "holds", "no", "then", "it", "the", "that"}, s.toks[i+2].word))
}

// followsPart tells whether a number stands right behind what was read, with "at", "still" or "now" between: "intake temperature at -38".
func (x *Extractor) followsPart(s *sentence, i int) bool {
	if w := s.toks[i-1].word; w != "at" && w != "still" && w != "now" && w != "only" {
		return false
	}
	return slices.ContainsFunc(x.components(s), func(np nounPhrase) bool { return np.to == i-1 && x.isQuantity(np.name) })
}

// signed gives the bytes of a number with its sign.
func (s *sentence) signed(t token) (start, end int) {
	start = t.start
	if start > s.start && (s.text[start-1] == '-' || s.text[start-1] == '+') && (start-1 == s.start || s.text[start-2] == ' ') {
		start--
	}
	return start, t.start + len(strings.TrimRight(t.raw, ".,;:"))
}

// readingLead tells whether the words before the number at token i introduce what an instrument shows.
func (s *sentence) readingLead(i int) bool {
	if i == 0 {
		return false
	}
	j := i - 1
	if j < 0 {
		return false
	}
	for j > 0 && (isAbout(s.toks[j].word) || s.toks[j].raw == "~" || s.toks[j].raw == "+") {
		j--
	}
	before := ""
	if j > 0 {
		before = s.toks[j-1].word
	}
	switch s.toks[j].word {
	case "read", "reading", "say", "said", "show", "showed", "showing", "measure", "measured", "measuring", "is", "was", "are", "were", "got", "get", "getting", "have", "had", "has", "see", "seeing", "saw", "make", "made", "making",
		"hold", "held", "hit", "reached", "give", "gave", "giving", "stayed", "stay", ":", "=", "metered", "charging":
		return true
	case "at":
		return slices.Contains([]string{"sitting", "sat", "sit", "steady", "charging", "charge", "stuck", "still", "stay", "stayed", "is", "was", "held", "hold", "holding", "running", "out", "up", "resting", "idling", "pegged", "level", "levelled"}, before)
	case "to":
		return slices.Contains([]string{"dropped", "drop", "dropping", "fell", "fall", "down", "up", "sag", "sagged", "went", "go", "climbed", "climb", "rose", "back", "only", "get", "got", "came"}, before)
	case "out":
		return slices.Contains([]string{"putting", "put", "coming", "pumping", "giving"}, before)
	}
	return false
}

// isAbout tells whether a word only says how exact a number is.
func isAbout(word string) bool {
	return slices.Contains([]string{"about", "around", "roughly", "only", "just", "like", "steady", "solid", "nearly", "almost", "maybe", "approx", "approximately", "exactly", "barely", "constant", "full", "good"}, word) || kb.IsArticle(word)
}

// unitOfPart gives the unit of what everybody reads at the part that the number at token i speaks of, empty if it is not clear.
func (x *Extractor) unitOfPart(s *sentence, i int) string {
	c := s.clauseAt(i)
	parts := x.components(s)
	np, ok := nearestBefore(parts, c.from, i)
	if !ok || np.oblique {
		for _, after := range parts {
			if after.from > i && after.from-i <= 4 && s.prepositionBefore(after.from, "at", "on", "across", "to") > i {
				np, ok = after, true
				if slices.Contains([]string{"got", "have", "had", "get", "getting", "see", "only"}, s.toks[i-1].word) && isFedPart(after) {
					return "V"
				}
				break
			}
		}
	}
	if !ok {
		return ""
	}
	words := strings.Fields(np.name + " " + np.raw)
	has := func(list ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return slices.Contains(list, w) })
	}
	switch {
	case has("trim"):
		return "%"
	case has("flame", "ionisation", "ionization") && has("current", "signal", "sense"):
		return "uA"
	case np.oblique && isFedPart(np) && s.metered() && np.to < i:
		return "V"
	case has("temp", "temperature"), has("coolant") && has("sensor", "gauge"), s.speaksOfHeat() && has("thermostat", "housing", "gauge", "head", "sensor", "probe", "oven", "radiator", "pipe", "flow", "exhaust", "bearing", "engine", "motor", "heatsink", "coolant"):
		return "°C"
	case has("voltage", "battery", "alternator", "pack"), lastWord(np.name) == "supply" && !has("fuel", "gas", "water", "air", "oil"):
		return "V"
	case has("compression"):
		return "psi"
	case s.ohms():
		return "ohm"
	}
	return ""
}

// ohms tells whether a sentence says that resistance was measured.
func (s *sentence) ohms() bool {
	return slices.ContainsFunc(s.toks, func(t token) bool {
		return t.word == "ohm" || t.word == "ohmed" || t.word == "resistance" || t.word == "ohmmeter"
	})
}

// speaksOfHeat tells whether a sentence says with what a temperature was taken.
func (s *sentence) speaksOfHeat() bool {
	for i, t := range s.toks {
		switch t.word {
		case "temp", "temperature", "thermometer", "infrared", "pyrometer", "thermocouple", "degree":
			return true
		case "gun":
			if i > 0 && slices.Contains([]string{"ir", "heat", "laser", "temp"}, s.toks[i-1].word) {
				return true
			}
		}
	}
	return false
}

// metered tells whether a sentence says that a voltmeter was used, or how the supply stood.
func (s *sentence) metered() bool {
	for i, t := range s.toks {
		switch t.word {
		case "meter", "multimeter", "voltmeter", "volt", "voltage", "probe", "dmm":
			return true
		case "key", "ignition":
			return i+1 < len(s.toks) && s.toks[i+1].word == "on"
		}
	}
	return false
}

// isFedPart tells whether a name is of a place where one measures whether power arrives.
func isFedPart(np nounPhrase) bool {
	return slices.Contains([]string{"plug", "connector", "terminal", "pin", "socket", "relay", "fuse", "motor", "coil", "solenoid", "element", "battery", "pump", "fan", "starter", "switch", "outlet", "lamp", "bulb", "heater", "contactor", "box", "module"}, lastWord(np.name))
}

// voltsAlone tells whether a number without a unit, said of a battery or supply, is one that a voltmeter shows there: written with a
// decimal, or a whole number in the range of the usual systems that nothing is counted with.
func voltsAlone(number string, s *sentence, i int) bool {
	v, ok := parseNumber(number)
	if !ok || v < 0 || v > 900 {
		return false
	}
	if strings.ContainsAny(number, ".,") {
		return true
	}
	alone := i+1 >= len(s.toks) || s.toks[i+1].mark || isConjunction(s.toks[i+1].word) || slices.Contains([]string{"at", "on", "with", "across", "in", "out", "cold", "hot", "now", "again"}, s.toks[i+1].word)
	return alone && v >= 5
}
