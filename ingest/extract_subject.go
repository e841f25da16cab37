package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// isFluidWord tells whether a name is a mere stuff or place that no reading is taken of.
func isFluidWord(name string) bool {
	return slices.Contains([]string{"air", "water", "gas", "engine speed", "ambient temperature", "weather", "bin", "house", "garage", "foreign object", "road"}, name)
}

// readOf gives what a reading was taken of: the component or measured quantity before it in its clause, the one after "at",
// "on", "across", the nearest in the clauses before, or what was spoken of last.
func (x *Extractor) readOf(f *focus, s *sentence, m measured) (nounPhrase, bool) {
	if np, ok := x.groundBetween(s, m); ok {
		return np, true
	}
	if np, ok := x.labelled(s, m); ok {
		f.recent = append(f.recent, np)
		return np, true
	}
	if np, ok := x.eachTo(f, s, m); ok {
		return np, true
	}
	if np, ok := x.fromFarEnd(s, m); ok {
		return np, true
	}
	np, ok := x.readOfPart(f, s, m)
	if ok && isBareQuantity(np.name) {
		if part, found := x.quantityOf(s, np, m); found {
			return part, true
		}
		if part, found := f.device(); found && (np.raw == "air gap" || np.raw == "gap") {
			part.from, part.to, part.guess = np.from, np.to, true
			return part, true
		}
	}
	return np, ok
}

// readOfPart gives what the words around a reading name.
func (x *Extractor) readOfPart(f *focus, s *sentence, m measured) (nounPhrase, bool) {
	comps := slices.DeleteFunc(x.components(s), func(np nounPhrase) bool {
		return isConsumable(np.name) || isTool(np) || showsReadings(np.raw) || isRating(np.raw) || s.isReference(np) || s.heldBy(np) || s.setState(np) || isElectric(m.Unit) && carriesNoCurrent(np) || methodByUnit(m.Unit) == "pressure" && carriesNoPressure(np)
	})
	c := s.clauseAt(m.from)
	if np, ok := s.concluded(x.partsOrGauges(s), c); ok {
		return np, true
	}
	if first := s.toks[c.from]; c.from > 0 && first.mark && (first.raw == ":" || first.raw == "=" || first.raw == "(") {
		c.from = s.clauseBefore(c.from).from
	}
	named, ok := nearestBefore(comps, c.from, m.from)
	if !ok || named.oblique {
		if np, again := f.readIn(m.Unit); again && s.takesUp(m) && np.name != "" {
			np.from, np.to = m.from, m.to
			return np, true
		}
		if np, ok := x.supplyAt(s, comps, m, c); ok {
			return np, true
		}
	}
	if np, ok := nearestBefore(comps, c.from, m.from); ok && !np.oblique {
		return np, true
	}
	if np, ok := x.quantityPhrase(s, c.from, m.from); ok {
		return np, true
	}
	if np, ok := x.subjectOf(s, c, m); ok {
		return np, true
	}
	for _, np := range comps {
		if np.from >= m.to && np.to <= c.to && np.from-m.to <= 6 && prepositionIn(s, m.to, np.from) {
			return np, true
		}
	}
	return x.readFarther(f, s, m, c, comps)
}

// readFarther gives what a reading was taken of where its own clause does not say: a place in the clause, a label, what was read before
// in the unit, the clauses before, the heading of a table's column, what was spoken of last.
func (x *Extractor) readFarther(f *focus, s *sentence, m measured, c clause, comps []nounPhrase) (nounPhrase, bool) {
	if np, ok := nearestBefore(comps, c.from, m.from); ok {
		return np, true
	}
	if np, ok := x.labelPhrase(s, m); ok {
		return np, true
	}
	if np, ok := f.readIn(m.Unit); ok && speaksAgain(s) {
		np.from, np.to = m.from, m.to
		return np, true
	}
	if np, ok := nearestBefore(comps, 0, m.from); ok {
		return np, true
	}
	if np, ok := x.quantityPhrase(s, 0, m.from); ok {
		return np, true
	}
	if s.place == RegionCell && s.label != "" {
		if name, ok := x.component(s.label); ok {
			return nounPhrase{from: m.from, to: m.to, name: name, known: true}, true
		}
	}
	if methodByUnit(m.Unit) == "capacitance" {
		cap := nounPhrase{name: "capacitor", raw: "capacitor", known: true, from: m.from, to: m.to}
		return f.complete(cap, s), true
	}
	if np, ok := x.pressureHere(m); ok {
		return np, true
	}
	if np, ok := f.answers(m); ok {
		return np, true
	}
	np, ok := f.last()
	if again, found := f.readIn(m.Unit); found && methodByUnit(m.Unit) == "pressure" && (!ok || carriesNoPressure(np)) {
		np, ok = again, true
	}
	ok = ok && !(isElectric(m.Unit) && carriesNoCurrent(np)) && !(methodByUnit(m.Unit) == "pressure" && carriesNoPressure(np))
	np.from, np.to, np.guess = m.from, m.to, true
	return np, ok
}

// pressureHere gives the pressure that a reading without a name is of: the gas at a burner where it is in mbar.
func (x *Extractor) pressureHere(m measured) (nounPhrase, bool) {
	if m.Unit != "mbar" || m.Value > 100 || x.family != "heating" && x.family != "domestic" {
		return nounPhrase{}, false
	}
	return nounPhrase{name: "gas pressure", raw: "gas pressure", known: true, from: m.from, to: m.to, guess: true}, true
}

// isElectric tells whether a unit is one of a meter's electrical ranges.
func isElectric(unit string) bool {
	return slices.Contains([]string{"V", "mV", "kV", "A", "mA", "uA", "ohm", "kohm", "mohm", "uF", "nF"}, unit)
}

// carriesNoCurrent tells whether a name is of something on which no electrical reading is taken.
func carriesNoCurrent(np nounPhrase) bool {
	return slices.Contains([]string{"fluid", "oil", "coolant", "fuel", "tank", "hose", "pipe", "filter", "belt", "gasket", "seal", "radiator", "reservoir", "impeller", "shield", "tyre", "tire", "piston", "pulley", "wheel", "windscreen", "window", "door", "bolt", "bearing", "rim", "tooth", "tray", "hull"}, lastWord(np.name))
}

// carriesNoPressure tells whether a name is of something on which no pressure is read.
func carriesNoPressure(np nounPhrase) bool {
	return slices.Contains([]string{"window", "windscreen", "lead", "cable", "wire", "wiring", "harness", "loom", "fuse", "relay", "bracket", "door", "seat", "plug", "connector", "battery", "ecu", "module", "lamp", "light", "motor", "coil", "bolt"}, lastWord(np.name))
}

// isReference tells whether a name only says against what was measured: "to earth", "to the casing".
func (s *sentence) isReference(np nounPhrase) bool {
	return slices.Contains([]string{"earth", "ground", "chassis", "case", "casing", "frame", "body", "metal"}, np.raw) && s.prepositionBefore(np.from, "to") > 0
}

// heldBy tells whether a piece is one of what was spoken of before: "its HV pins".
func (s *sentence) heldBy(np nounPhrase) bool {
	owned := np.from > 0 && (s.toks[np.from-1].word == "its" || s.toks[np.from-1].word == "their")
	return owned && (isPiece(np.raw) || isPiece(lastWord(np.raw)))
}

// supplyAt reads a voltage measured at a consumer or its plug: that tests the supply of it, not the consumer.
func (x *Extractor) supplyAt(s *sentence, comps []nounPhrase, m measured, c clause) (nounPhrase, bool) {
	if m.Unit != "V" || m.Value < 1 {
		return nounPhrase{}, false
	}
	c = s.withGround(c)
	for _, np := range comps {
		if np.to > c.to || np.from < c.from || np.from >= m.to && np.from-m.to > 8 {
			continue
		}
		at := np.from - 1
		for at > c.from && (kb.IsArticle(s.toks[at].word) || isStateWord(s.toks[at].word)) {
			at--
		}
		if at < c.from || s.toks[at].word != "at" && s.toks[at].word != "to" && !(s.toks[at].word == "across" && isConnecting(lastWord(np.raw))) || at > c.from && s.toks[at-1].word == "up" {
			continue
		}
		words := strings.Fields(np.raw)
		for len(words) > 1 && slices.Contains([]string{"plug", "connector", "terminal", "pin", "socket"}, words[len(words)-1]) {
			words = words[:len(words)-1]
		}
		if len(words) == 0 || slices.Contains([]string{"battery", "terminal", "post", "stud", "outlet", "socket", "plug", "connector", "alternator", "fuse", "link", "ground", "earth", "supply", "charger",
			"generator", "relay", "panel", "breaker", "stator", "box", "contactor", "solenoid", "pin", "chassis", "idle"}, words[len(words)-1]) {
			continue
		}
		np.name, np.known = strings.Join(words, " ")+" supply", false
		if c, ok := x.v.Component(np.name); ok {
			np.name, np.known = c.Name, true
		}
		return np, true
	}
	return nounPhrase{}, false
}

// withGround gives the clause of a voltage with the next one where that only adds the ground: "12.2 V and a clean earth at the plug".
func (s *sentence) withGround(c clause) clause {
	if c.to >= len(s.toks) || s.toks[c.to].word != "and" {
		return c
	}
	next := s.clauseAt(c.to)
	if slices.ContainsFunc(s.toks[next.from:min(next.from+5, next.to)], func(t token) bool { return t.word == "ground" || t.word == "earth" }) {
		c.to = next.to
	}
	return c
}

// takesUp tells whether the reading at m is of what was read before: "2.8 bar there now", "still 4.2 V".
func (s *sentence) takesUp(m measured) bool {
	c := s.clauseAt(m.from)
	again := func(t token) bool { return slices.Contains([]string{"now", "still", "again"}, t.word) }
	back := m.from > c.from+1 && s.toks[m.from-2].word == "back" && (s.toks[m.from-1].word == "to" || s.toks[m.from-1].word == "at" || s.toks[m.from-1].word == "up")
	return back || slices.ContainsFunc(s.toks[max(m.from-3, c.from):m.from], again) || slices.ContainsFunc(s.toks[m.to:max(m.to, min(m.to+6, c.to))], again)
}

// speaksAgain tells whether a sentence takes up an earlier measurement: "now 14.3 V", "still 12.4".
func speaksAgain(s *sentence) bool {
	return slices.ContainsFunc(s.toks, func(t token) bool {
		return slices.Contains([]string{"now", "still", "again", "after", "afterward", "warm", "hot", "cold", "then", "new", "back", "since", "update", "finally"}, t.word)
	})
}

// gaugeOf turns "filter gauge" into what it measures, the filter pressure.
func gaugeOf(np nounPhrase, m measured) nounPhrase {
	owner, ok := strings.CutSuffix(np.raw, " gauge")
	if ok && methodByUnit(m.Unit) == "pressure" && owner != "pressure" {
		np.name, np.known = strings.TrimSuffix(owner, " pressure")+" pressure", false
	}
	return np
}

// measuredName names what was read where the part's own word says less: the pressure in a rail or line, a capacitor called a cap.
func measuredName(np nounPhrase, m measured) nounPhrase {
	switch head := lastWord(np.raw); {
	case methodByUnit(m.Unit) == "pressure" && slices.Contains([]string{"rail", "line", "manifold", "filter", "hose", "pipe", "gallery", "circuit"}, head):
		np.name, np.known = np.name+" pressure", false
	case (m.Unit == "km/h" || m.Unit == "mph") && head == "wheel":
		np.name, np.known = np.name+" speed", false
	case m.Unit == "ohm" && strings.HasPrefix(np.raw, "can ") && (head == "high" || head == "low" || head == "h" || head == "l"):
		np.name, np.known = "can bus wiring", true
	case methodByUnit(m.Unit) == "pressure" && np.raw == "cap":
		np.name, np.known = "pressure cap", true
	case methodByUnit(m.Unit) == "capacitance" && head == "cap":
		np.name, np.known = strings.TrimSuffix(np.raw, "cap")+"capacitor", np.raw == "cap"
	}
	return np
}

// ownerOf turns "pump current" and "converter stud" into the pump and the converter: what was measured there is of them.
func (x *Extractor) ownerOf(np nounPhrase) nounPhrase {
	words := strings.Fields(np.raw)
	if len(words) < 2 {
		words = strings.Fields(np.name)
	}
	if n := len(words) - 1; n > 0 && (!x.isKnownQuantity(np.name) || words[n] == "voltage" && words[0] != "supply" || words[n] == "slip" || words[n] == "gap") && slices.Contains([]string{"current", "resistance", "voltage", "drop", "output", "stud", "terminal", "post", "plus", "winding", "duty", "slip", "signal", "output", "gap"}, words[n]) {
		raw := strings.Join(words[:n], " ")
		if name, known := x.component(raw); known && !isPiece(raw) {
			np.raw, np.known = raw, known
			np.name = x.called(nounPhrase{name: name, raw: raw, known: true})
		}
	}
	return np
}

func (x *Extractor) isKnownQuantity(name string) bool {
	c, ok := x.v.Component(name)
	return ok && c.Quantity
}

// concluded gives the component that the next clause draws its conclusion on: "the socket showed 12.4 V, so the loom is fine"
// is a test of the wiring.
func (s *sentence) concluded(comps []nounPhrase, c clause) (nounPhrase, bool) {
	if c.to >= len(s.toks) {
		return nounPhrase{}, false
	}
	next := s.clauseAt(c.to)
	start := skipMarks(s, next.from)
	if s.toks[next.from].word != "so" && (start == 0 || s.toks[start-1].word != "so") || len(s.verdicts(next.from, next.to)) == 0 {
		return nounPhrase{}, false
	}
	verdict := s.verdicts(next.from, next.to)[0]
	if s.negated(next.from, min(next.from+3, next.to, verdict.from)) {
		return nounPhrase{}, false
	}
	for _, np := range comps {
		if np.from >= next.from && np.to <= next.to && !np.oblique {
			return np, true
		}
	}
	return nounPhrase{}, false
}

// partsOrGauges gives the parts of a sentence and the gauges of the machine, which a comparison can clear.
func (x *Extractor) partsOrGauges(s *sentence) []nounPhrase {
	return slices.DeleteFunc(x.components(s), func(np nounPhrase) bool {
		return isConsumable(np.name) || isTool(np) && np.raw != "gauge" || isRating(np.raw)
	})
}

// showsReadings tells whether a name is of what a reading was seen on, not of what it was taken of.
func showsReadings(raw string) bool {
	words := strings.Fields(raw)
	return len(words) > 0 && slices.Contains([]string{"screen", "display", "app", "dash", "dashboard", "readout", "panel", "monitor"}, words[len(words)-1])
}

// nearestBefore gives the component nearest before a token that has no preposition of place before it, else the first of the
// others: "on the loom behind the tank" speaks of the loom.
func nearestBefore(comps []nounPhrase, from, to int) (nounPhrase, bool) {
	found := nounPhrase{}
	for _, np := range slices.Backward(comps) {
		if np.from < from || np.to > to {
			continue
		}
		if !np.oblique {
			return np, true
		}
		found = np
	}
	return found, found.name != ""
}

// quantityPhrase reads a measured quantity that the vocabulary need not know: "pilot pressure", "isolation".
func (x *Extractor) quantityPhrase(s *sentence, from, to int) (nounPhrase, bool) {
	for i := to - 1; i >= from; i-- {
		if !isQuantityWord(s.toks[i].word) {
			continue
		}
		first := i
		for first > from && i-first < 3 && x.inName(s.toks[first-1]) {
			first--
		}
		if first == i && s.toks[i].word != "isolation" {
			continue
		}
		name, known := x.component(s.words(first, i+1))
		return nounPhrase{from: first, to: i + 1, name: name, known: known}, true
	}
	return nounPhrase{}, false
}

// subjectOf reads an unknown name at the beginning of a clause right before the verb of its reading: "flame sense was 0.4 uA".
func (x *Extractor) subjectOf(s *sentence, c clause, m measured) (nounPhrase, bool) {
	first := skipMarks(s, c.from)
	np, ok := x.unknownPhrase(s, first, m.from)
	if ok && isNoName(np.raw) {
		return nounPhrase{}, false
	}
	if !ok || np.to >= m.from || np.from > first+2 || !slices.Contains([]string{"read", "reads", "was", "is", "measured", "measures", "showed", "shows", "were", "are", "at", ":", "="}, s.toks[np.to].word) {
		return nounPhrase{}, false
	}
	if m.from-np.to > 5 || slices.Contains([]string{"sit", "stay", "hold", "read", "hover", "hang", "float", "idle", "rest", "settle"}, np.raw) || isTool(np) || showsReadings(np.raw) || isPast(strings.ToLower(s.toks[np.from].raw)) || strings.HasSuffix(s.toks[np.from].word, "ing") {
		return nounPhrase{}, false
	}
	return np, true
}

// isNoName tells whether the words at the beginning of a statement cannot name what was read: a condition, a pronoun, letters.
func isNoName(raw string) bool {
	words := strings.Fields(raw)
	if len(words) == 0 || !slices.ContainsFunc(words, func(w string) bool { return len(w) > 3 }) {
		return true
	}
	return len(words) == 1 && slices.Contains([]string{"mine", "ours", "yours", "warm", "cold", "idle", "idling", "running", "standing", "working", "flashed", "loaded", "unloaded", "open", "closed", "before", "after", "rest", "total", "actual", "result",
		"reading", "value", "book", "spec", "meter", "gauge", "tester", "cranking", "charging", "start", "stopped", "parked", "normal", "maximum", "minimum", "average", "half", "somebody", "someone", "nobody", "everybody", "weather", "ambient"}, raw) ||
		isPast(words[0]) && len(words) == 1
}

func (x *Extractor) inName(t token) bool {
	return !t.mark && !t.number() && !x.stops[t.word] && !isPast(strings.ToLower(t.raw)) && !isStateWord(t.word) && !isAdverb(t.word)
}

// isQuantityWord tells whether a word names a kind of quantity.
func isQuantityWord(word string) bool {
	return slices.Contains([]string{"pressure", "voltage", "current", "resistance", "trim", "temperature", "temp", "flow", "gap", "signal", "level", "isolation", "insulation", "drop", "vacuum",
		"compression", "duty", "frequency", "drain", "output", "concentration"}, word)
}

// labelPhrase reads an unknown name at the beginning of a list item: "thingummy 104k".
func (x *Extractor) labelPhrase(s *sentence, m measured) (nounPhrase, bool) {
	if s.place != RegionItem && s.place != RegionCell && (m.from == 0 || m.from > 5) {
		return nounPhrase{}, false
	}
	np, ok := x.unknownPhrase(s, skipMarks(s, 0), m.from)
	return np, ok && !isNoName(np.raw) && (s.place == RegionItem || s.place == RegionCell)
}

func prepositionIn(s *sentence, from, to int) bool {
	for _, t := range s.toks[from:to] {
		if slices.Contains([]string{"at", "on", "across", "from", "to", "of", "for", "in", "through", "into", "between"}, t.word) {
			return true
		}
	}
	return false
}
