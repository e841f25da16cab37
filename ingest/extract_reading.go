package ingest

import (
	"regexp"
	"slices"
	"strings"

	"ruledout/kb"
	"ruledout/kb/quantity"
)

// measured is a number with a unit in a sentence, in tokens.
type measured struct {
	quantity.Found
	from, to int
	limit    bool
	former   *float64 // what it went from, in the same unit
}

// readingTests finds the readings of a sentence with what they were taken of and how they were judged.
func (x *Extractor) readingTests(f *focus, s, next *sentence) []*testFound {
	all := x.measuredIn(f, s)
	var out []*testFound
	for i, q := range all {
		c := s.clauseAt(q.from)
		if q.limit || c.kind == supposed && s.has(cueIf, c.from, c.to) || c.kind == foreignCase || s.asked && c.to == len(s.toks) || c.kind == supposed && s.has(cueGeneral, c.from, q.from) {
			continue
		}
		np, ok := x.readOf(f, s, q)
		if !ok || isFluidWord(np.name) {
			continue
		}
		np = x.knownOf(np, q.Unit)
		np = f.complete(measuredName(x.ownerOf(gaugeOf(np, q)), q), s)
		if np.raw == "joint" || isPiece(np.raw) && np.raw != "wire" && np.from < len(s.toks) && !np.guess {
			np = x.readPiece(f, s, np)
		}
		np = x.heldOf(f, s, x.chargingOf(s, x.innerOf(np), q), q)
		np = f.ofIts(np, s)
		f.noteReading(q.Unit, np)
		limit := len(s.toks)
		if i+1 < len(all) && !all[i+1].limit {
			limit = all[i+1].from
		}
		t := &testFound{sent: s, comp: np.name, known: np.known, reading: readingFrom(s, q)}
		t.takesUp = s.takesUp(q)
		t.guess, t.beside = np.guess, np.oblique || np.from < c.from
		t.near = !np.oblique && !np.guess && np.from < q.from && q.from-np.to <= 3 && np.from >= c.from && np.to <= q.from
		t.name, t.method = x.methodIn(s, methodByUnit(q.Unit))
		t.from, t.to = min(q.from, np.from), max(q.to, min(np.to, len(s.toks)))
		result, end := x.judge(s, next, t.from, t.to, limit)
		t.result = result
		x.judgeReading(f, t, all, i, np, next)
		if end > t.to && end-t.to < 10 {
			t.to = end
		}
		if s.place != RegionCell && oneCheck(out, t) {
			continue
		}
		out = append(out, t)
	}
	return out
}

// judgeReading judges the reading of all[i] where no word does: by the limit that the text states, by what it is set against, by what is
// common practice of the trade.
func (x *Extractor) judgeReading(f *focus, t *testFound, all []measured, i int, np nounPhrase, next *sentence) {
	s, q := t.sent, all[i]
	if q.Value != 0 && s.nothingAllowed() {
		t.result = passIf(q.Unit == "V" && q.Value <= 0.2)
	}
	if lim := x.limitFor(all, i, s, next); lim != nil {
		t.result = conform(t.reading, lim, t.result)
		t.limited = true
		if lim.Source == "" {
			t.reading.Limit = lim
		}
	}
	if t.result == "" && q.Bound == quantity.Open {
		t.result = kb.Fail // no path where one is measured for; a switch that should be open is said to be so
	}
	if t.result == "" && (s.onlyBefore(s.clauseAt(q.from), q.from) || s.contrasts(q.to) || s.fellTo(np, q) || q.Unit == "V" && s.idles(q.to) || s.suddenly(q)) {
		t.result = kb.Fail
	}
	if t.result == "" {
		if lim := f.askedLimit(q, np.name); lim != nil {
			t.result = conform(t.reading, lim, "")
		}
	}
	if t.result == "" {
		t.result = tradeLimit(s, q, np)
	}
}

// knownOf gives, for a name that the vocabulary does not know but whose first words it does, the part that those name: a "motor phase"
// is of the motor; resistance measured along "sensor wires" is of their wiring.
func (x *Extractor) knownOf(np nounPhrase, unit string) nounPhrase {
	head := lastWord(np.name)
	if np.known || isQuantityWord(head) || head == "supply" || unit == "" && isConnector(head) {
		return np
	}
	if words := strings.Fields(np.name); len(words) > 1 && (head == "wire" || head == "lead") && strings.HasSuffix(unit, "ohm") {
		np.name = strings.Join(words[:len(words)-1], " ") + " wiring"
		return np
	}
	for _, word := range []string{np.raw, np.name} {
		words := strings.Fields(word)
		for n := len(words) - 1; n > 0; n-- {
			if name, known := x.component(strings.Join(words[:n], " ")); known {
				np.raw, np.known = strings.Join(words[:n], " "), true
				np.name = x.called(nounPhrase{name: name, raw: np.raw, known: true})
				return np
			}
		}
	}
	return np
}

// oneCheck tells whether a reading is a further value of a check that is there already: the first stands for it.
func oneCheck(have []*testFound, t *testFound) bool {
	i := slices.IndexFunc(have, func(o *testFound) bool { return o.comp == t.comp && o.reading.Unit == t.reading.Unit })
	return i >= 0 && (have[i].result == t.result || t.result == "")
}

// measuredIn gives the quantities of a sentence that a meter can have shown, marked where they state a limit.
func (x *Extractor) measuredIn(f *focus, s *sentence) []measured {
	text := s.text[s.start:s.end]
	found := quantity.Find(text)
	found = append(found, openReadings(s, text)...)
	found = append(found, spelledNumbers(text)...)
	found = append(found, x.toldByUse(s, text, found)...)
	found = append(found, x.bareNumbers(f, s, text, found)...)
	found = append(found, x.partNumbers(s, found)...)
	slices.SortStableFunc(found, func(a, b quantity.Found) int { return a.Start - b.Start })
	var out []measured
	for _, q := range found {
		q.Start, q.End = q.Start+s.start, q.End+s.start
		m := measured{Found: q, from: tokenAt(s, q.Start), to: tokenAfter(s, q.End)}
		if q.Assumed && !f.wantsOhms() && !meterWords.MatchString(strings.ToLower(text)) || isWeather(s, q) {
			continue
		}
		if m.from >= m.to || !isMeter(q) && !isTimed(s, m) || isTarget(s, m) || x.isNominal(s, m) || isCondition(s, m) || isPace(s, m) {
			continue
		}
		m.limit = isLimit(s, m, len(out) > 0)
		out = append(out, m)
	}
	all := slices.Clone(out)
	for i := range out {
		if i > 0 && isFormer(s, all, i-1) && all[i-1].Unit == out[i].Unit {
			out[i].former = &all[i-1].Value
		}
	}
	return slices.DeleteFunc(out, func(m measured) bool {
		return isFormer(s, all, slices.IndexFunc(all, func(o measured) bool { return o.from == m.from }))
	})
}

func tokenAt(s *sentence, at int) int {
	i := slices.IndexFunc(s.toks, func(t token) bool { return t.end > at })
	return max(i, 0)
}

func tokenAfter(s *sentence, at int) int {
	i := slices.IndexFunc(s.toks, func(t token) bool { return t.start >= at })
	if i < 0 {
		return len(s.toks)
	}
	return i
}

// isMeter tells whether the unit is one that people read off an instrument when they look for a fault.
func isMeter(q quantity.Found) bool {
	if q.Bound == quantity.Open {
		return true
	}
	switch q.Unit {
	case "kW", "W", "g", "ohm", "mohm", "kohm", "Mohm", "Gohm", "V", "mV", "kV", "uV", "A", "mA", "uA", "Pa", "hPa", "kPa", "MPa", "bar", "mbar", "psi", "inHg", "mmHg", "inH2O",
		"°C", "°F", "%", "rpm", "km/h", "mph", "Hz", "kHz", "uF", "nF", "pF", "F", "mF", "l/min", "L/min", "ml", "mL", "ml/min", "mm", "ms", "dB", "gal/min", "g/s", "l/h":
		return true
	}
	return false
}

var meterWords = regexp.MustCompile(`\b(ohm|ohms|meter|multimeter|continuity|circuit|resistance|line|coil|winding|sensor|measured|loop|section|thermistor|probe|resistor|pot|potentiometer|element|solenoid|injector|wire|wiring|pin)\b`)

var spreadOpen = regexp.MustCompile(`\b(spread|bent|wide|propped|held|stuck|left|half|fully|pushed|wedged|jammed|forced|pried|prised|swung|splayed|opened) $`)

// openReadings gives open circuits where the words around speak of a meter or a circuit.
func openReadings(s *sentence, text string) []quantity.Found {
	lower := strings.ToLower(text)
	if !meterWords.MatchString(lower) && !strings.Contains(lower, "ω") {
		return nil
	}
	var out []quantity.Found
	for _, q := range quantity.FindOpen(text) {
		word := strings.ToLower(text[q.Start:q.End])
		rest := strings.TrimLeft(strings.ToLower(text[q.End:]), " ")
		if word == "open" && q.Start > 0 && spreadOpen.MatchString(strings.ToLower(text[:q.Start])) {
			continue // a shape or position, no circuit
		}
		if before := strings.TrimRight(strings.ToLower(text[:q.Start]), " "); strings.HasSuffix(before, " v") || strings.HasSuffix(before, "volts") {
			continue // a voltage of an open circuit
		}
		if word == "open" && !strings.HasPrefix(rest, "line") && !endsStatement(rest) {
			continue
		}
		out = append(out, q)
	}
	return out
}

func endsStatement(rest string) bool {
	return rest == "" || strings.ContainsRune(".,;)!", rune(rest[0]))
}

// isWeather tells whether a temperature speaks of the weather or the room.
func isWeather(s *sentence, q quantity.Found) bool {
	return (q.Unit == "°C" || q.Unit == "°F") && slices.ContainsFunc(s.toks, func(t token) bool {
		return slices.Contains([]string{"morning", "weather", "outside", "frost", "ambient", "winter", "night", "spell", "heatwave", "summer", "kitchen", "room", "day", "hour"}, t.word)
	})
}

// isNominal tells whether a quantity names a thing rather than a reading: "12 V battery", "150 A link".
func (x *Extractor) isNominal(s *sentence, m measured) bool {
	if m.Bound == quantity.Open {
		return false
	}
	if m.to < len(s.toks) && !s.toks[m.to].mark && s.toks[m.to].start-s.toks[m.to-1].end <= 1 {
		if slices.ContainsFunc(x.components(s), func(np nounPhrase) bool { return np.from == m.to && !s.obliqueAt(m.to) }) {
			return true
		}
		if slices.Contains([]string{"insulation", "tester", "supply", "adapter", "adaptor", "system", "battery", "feed", "rail", "fuse", "bulb", "relay", "dc", "ac", "charger", "side"}, s.toks[m.to].word) {
			return s.toks[m.to].word != "dc" && s.toks[m.to].word != "ac"
		}
	}
	return slices.ContainsFunc(s.mentions, func(c mention) bool { return c.kind == kb.TermComponent && c.from <= m.from && c.to >= m.to })
}

// isCondition tells whether a quantity says under what condition something was measured: "at 500 V", "pressed to 2 bar".
func isCondition(s *sentence, m measured) bool {
	if m.from == 0 {
		return false
	}
	prev := s.toks[m.from-1].word
	before := ""
	if m.from > 1 {
		before = s.toks[m.from-2].word
	}
	switch prev {
	case "on":
		return m.Unit == "V" && slices.Contains([]float64{12, 24, 48, 110, 115, 120, 230, 240, 400}, m.Value)
	case "at":
		if m.Unit == "uA" || strings.HasSuffix(m.Unit, "ohm") {
			return false // nobody sets those
		}
		if before == "set" || before == "rated" || before == "adjusted" {
			return false // a limit
		}
		insulation := m.Unit == "V" && m.Value >= 250 && slices.ContainsFunc(s.toks, func(t token) bool {
			return slices.Contains([]string{"insulation", "isolation", "megger", "meggered", "earth", "chassis"}, t.word)
		})
		return insulation || !isPast(before) && !slices.Contains([]string{"sit", "sitting", "sat", "stay", "out", "steady", "rock", "hold", "up", "read", "reading", "rest", "resting", "max", "was", "is", "it", "v", "voltage"}, before)
	case "to":
		if before == "up" && m.from > 2 {
			before = s.toks[m.from-3].word
		}
		return slices.Contains([]string{"torqued", "set", "charged", "tightened", "wound", "pumped", "heated", "warmed", "turned", "blown", "pressurised", "pressurized", "inflated", "cranked", "raised", "revved", "wind", "filled", "topped", "torque", "tighten", "pump", "heat", "inflate"}, before)
	case "within":
		return m.Unit == "°C" || m.Unit == "%" || m.Unit == "mm" // "within 8 mV of each other" tells how even they are
	case "torqued":
		return true
	}
	return false
}

// isPace tells whether a speed only says at what pace the machine ran, and is not the reading of a slip or of a speed sensor.
func isPace(s *sentence, m measured) bool {
	if m.Unit != "rpm" && m.Unit != "km/h" && m.Unit != "mph" {
		return false
	}
	return !slices.ContainsFunc(s.toks[max(m.from-6, 0):m.from], func(t token) bool {
		return slices.Contains([]string{"slip", "speed", "rpm", "sensor", "tach", "tacho", "tachometer", "shows", "showed", "showing", "rev"}, t.word)
	})
}

func readingFrom(s *sentence, m measured) *kb.Reading {
	r := &kb.Reading{Unit: m.Unit, Text: s.text[m.Start:m.End], Bound: kb.Bound(m.Bound)}
	if m.Bound == quantity.Open {
		r.Unit = ""
		return r
	}
	value := m.Value
	r.Value = &value
	if m.Upper != nil && *m.Upper >= value {
		upper := *m.Upper
		r.Upper = &upper
	}
	if r.Bound == "" {
		r.Bound = kb.Equal
	}
	return r
}

// methodByUnit names a measurement by the unit of its reading.
func methodByUnit(unit string) string {
	switch unit {
	case "ohm", "mohm", "kohm", "":
		return "resistance"
	case "Mohm", "Gohm":
		return "insulation resistance"
	case "V", "mV", "kV", "uV":
		return "voltage"
	case "A", "mA", "uA":
		return "current"
	case "°C", "°F":
		return "temperature"
	case "Hz", "kHz":
		return "frequency"
	case "uF", "nF", "pF", "F", "mF":
		return "capacitance"
	case "%":
		return "scan data"
	case "l/min", "L/min", "ml", "mL", "ml/min", "gal/min", "g/s", "l/h":
		return "flow"
	case "rpm", "km/h", "mph":
		return "scan data"
	case "s", "min":
		return "timing"
	case "mm":
		return "measurement"
	case "ms":
		return "pulse width"
	}
	return "pressure"
}
