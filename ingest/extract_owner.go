package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
	"ruledout/kb/quantity"
)

// labelOf gives the part that a word of the trade right before a reading stands for though it does not name it: the windings of a
// resolver are called excitation, sine and cosine, what leaks back is the injector's, and so on. All are common usage of the trade.
func labelOf(word, before, unit string) string {
	pair := before + " " + word
	switch {
	case slices.Contains([]string{"excitation", "sine", "cosine", "sin", "cos"}, word) && unit != "mV" && (strings.HasSuffix(unit, "ohm") || unit == "V"):
		return "resolver"
	case (pair == "leak off" || word == "leakoff" || pair == "back leakage" || pair == "back leak") && methodByUnit(unit) == "flow":
		return "fuel injector"
	case (pair == "leak down" || word == "leakdown") && unit == "%":
		return "cylinder"
	}
	return ""
}

// labelled gives the part that the words right before a reading, or at the beginning of its sentence, stand for.
func (x *Extractor) labelled(s *sentence, m measured) (nounPhrase, bool) {
	for i := m.from - 1; i >= max(m.from-40, 0); i-- {
		t := s.toks[i]
		if t.mark && strings.ContainsAny(t.raw, ".;!?") {
			break
		}
		before := ""
		if i > 0 {
			before = s.toks[i-1].word
		}
		name := labelOf(t.word, before, m.Unit)
		heads := i <= 2 && i+1 < len(s.toks) && s.toks[i+1].mark
		if name == "" || name == "resolver" && m.from-i > 4 || m.from-i > 12 && !heads {
			continue
		}
		np := nounPhrase{from: i, to: i + 1, name: name, raw: name, known: true}
		if strings.HasPrefix(before, "leak") || before == "back" {
			np.from--
		}
		if known, ok := x.component(name); ok {
			np.name = known
		}
		return np, true
	}
	return nounPhrase{}, false
}

// setState tells whether a part's name is followed only by the state that it was in while something else was measured: "main switch
// off: 60 ohm", "unplugged at the pump", "with the fan on full it sits at 196".
func (s *sentence) setState(np nounPhrase) bool {
	if np.to >= len(s.toks) || slices.ContainsFunc(s.toks[max(np.from-6, 0):np.from], func(t token) bool {
		return slices.Contains([]string{"put", "fit", "fitted", "bolted", "screwed", "took", "pulled", "get", "got"}, t.word)
	}) {
		return false
	}
	w := s.toks[np.to].word
	if !slices.Contains([]string{"off", "on", "out", "unplugged", "disconnected", "removed", "running", "idling", "stopped", "closed", "shut", "pulled"}, w) {
		return false
	}
	ends := np.to+1 >= len(s.toks) || s.toks[np.to+1].mark
	next := ""
	if !ends {
		next = s.toks[np.to+1].word
	}
	with := s.prepositionBefore(np.from, "with") > 0 || np.from > 0 && s.toks[np.from-1].word == "with"
	place := (w == "off" || w == "out" || w == "unplugged" || w == "disconnected") && slices.Contains([]string{"at", "it", "i", "the", "and"}, next)
	return ends || with || place
}

// isFormer tells whether a quantity is what something went from: "from 27 V down to 9 V" reads 9 V.
func isFormer(s *sentence, all []measured, i int) bool {
	q := all[i]
	if i+1 >= len(all) || q.from == 0 || s.toks[q.from-1].word != "from" || q.Bound == quantity.Open {
		return false
	}
	next := all[i+1]
	return next.from-q.to <= 3 && next.from > q.to && slices.Contains([]string{"to", "down", "up"}, s.toks[q.to].word) && s.toks[next.from-1].word == "to"
}

// chargingOf names the voltage of a running engine's electrical system: what is read at the battery then is what charges it.
func (x *Extractor) chargingOf(s *sentence, np nounPhrase, q measured) nounPhrase {
	if q.Unit != "V" || !strings.HasSuffix(np.name, "battery") && !np.guess && np.name != "charging voltage" || !(q.Value > 10 && q.Value < 19 || q.Value > 21 && q.Value < 33) {
		return np
	}
	c := s.clauseAt(q.from)
	for i := max(c.from, q.from-6); i < min(q.to+7, len(s.toks)); i++ {
		w := s.toks[i].word
		if i >= q.to && s.toks[i].number() && (strings.Contains(w, ".") || len(w) < 3) {
			break // the next reading
		}
		revs := slices.Contains([]string{"rpm", "idling", "rev", "revving", "tickover"}, w)
		idle := w == "idle" && i > 0 && (s.toks[i-1].word == "at" || s.toks[i-1].word == "on")
		runs := w == "running" && i > 0 && s.toks[i-1].word == "engine"
		speed := i > q.to && s.toks[i].number() && s.toks[i-1].word == "at" && len(s.toks[i].word) == 4
		if revs || idle || runs || speed {
			np.name, np.raw, np.known = "charging voltage", "charging voltage", true
			if known, ok := x.component("charging voltage"); ok {
				np.name = known
			}
			return np
		}
	}
	return np
}

// isConnector tells whether a word names what plugs in.
func isConnector(word string) bool { return word == "connector" || word == "plug" }

// connectorName writes an electrical plug as a connector: "actuator plug" is the connector of the actuator. Plugs that close or
// ignite something keep their name.
func connectorName(own string) string {
	device, ok := strings.CutSuffix(own, " plug")
	if !ok || slices.Contains([]string{"spark", "glow", "drain", "sump", "service", "heater", "core", "freeze", "mains", "fill", "filler", "level", "oil", "welch", "hub", "wall", "charge", "charging", "power",
		"expansion", "blanking", "bleed", "magnetic", "wire", "three-pin", "pin", "type", "threaded", "gearbox", "diff", "transmission", "radiator", "breather", "kettle"}, lastWord(device)) {
		return own
	}
	return device + " connector"
}

// plugOf names a plug that only its place tells from others by the device that it is of: one tied to it in the sentence, else the
// device spoken of last.
func (x *Extractor) plugOf(f *focus, s *sentence, comps []nounPhrase, np nounPhrase) nounPhrase {
	if np = f.complete(np, s); strings.Contains(np.name, " ") {
		return np
	}
	whole, ok := s.holderOf(comps, np)
	if !ok || isConnector(lastWord(whole.raw)) || isPiece(whole.raw) {
		if whole, ok = f.measured, f.measured.name != ""; !ok {
			whole, ok = f.device()
		}
	}
	if !ok || whole.name == "" || lastWord(whole.name) == "battery" {
		return np
	}
	name := whole.name
	if !isConnector(lastWord(name)) {
		name += " connector"
	}
	if known, isKnown := x.component(name); isKnown && strings.HasSuffix(known, "connector") {
		np.name, np.known = known, true
		return np
	}
	np.name, np.known = name, false
	return np
}

// device gives the part spoken of last that is neither a small piece nor what joins parts.
func (f *focus) device() (nounPhrase, bool) {
	for _, list := range [][]nounPhrase{f.heard, f.recent} {
		for _, np := range slices.Backward(list) {
			head := lastWord(np.name)
			if np.name != "" && !isConnecting(head) && !isPiece(np.raw) && !isConnector(head) && !isQuantityWord(head) && head != "supply" && (np.known || len(list) > 0) {
				return nounPhrase{from: 1 << 20, name: np.name, raw: np.raw, known: np.known}, true
			}
		}
	}
	return nounPhrase{}, false
}

// eachTo reads "every lead to the case above 5 Mohm": the leads of a device measured one by one against its case test the device.
func (x *Extractor) eachTo(f *focus, s *sentence, m measured) (nounPhrase, bool) {
	if !strings.HasSuffix(m.Unit, "ohm") && m.Bound != quantity.Open {
		return nounPhrase{}, false
	}
	each, piece, against := false, -1, false
	for i := s.clauseAt(m.from).from; i < m.from; i++ {
		switch w := s.toks[i].word; {
		case slices.Contains([]string{"each", "every", "all", "both", "any"}, w):
			each = true
		case slices.Contains([]string{"winding", "wire", "lead", "phase", "leg", "pin", "terminal", "coil"}, w) && each:
			piece = i
		case w == "to" && piece >= 0:
			against = slices.ContainsFunc(s.toks[i:min(i+3, m.from)], func(t token) bool {
				return slices.Contains([]string{"earth", "ground", "housing", "case", "casing", "frame", "chassis", "body", "metal", "engine", "block"}, t.word)
			})
		}
	}
	if piece < 0 || !against {
		return nounPhrase{}, false
	}
	np, ok := f.answers(m)
	if !ok {
		np, ok = f.measured, f.measured.name != ""
	}
	if !ok {
		np, ok = f.device()
	}
	np.from, np.to, np.guess = piece, piece+1, false
	return np, ok
}

// isInnerPiece tells whether a word names a piece inside a device that nobody renews by itself: "pump rotor", "motor armature".
func isInnerPiece(word string) bool {
	return slices.Contains([]string{"rotor", "bush", "bushing", "armature", "plunger", "needle", "vane", "pintle", "spindle", "pin", "terminal", "winding", "tip", "contact"}, word)
}

// innerOf gives, for "pump rotor", the pump.
func (x *Extractor) innerOf(np nounPhrase) nounPhrase {
	words := strings.Fields(np.raw)
	n := len(words) - 1
	if n < 1 || !isInnerPiece(words[n]) {
		return np
	}
	raw := strings.Join(words[:n], " ")
	if name, known := x.component(raw); known && !isPiece(raw) && kb.Fold(raw) != "brake" {
		np.raw, np.known = raw, true
		np.name = x.called(nounPhrase{name: name, raw: raw, known: true})
	}
	return np
}

// readPiece gives the part of which a small piece was read: the one tied to it, one named before it, else the one spoken of last.
func (x *Extractor) readPiece(f *focus, s *sentence, np nounPhrase) nounPhrase {
	comps := slices.DeleteFunc(x.partsIn(s), func(o nounPhrase) bool { return isPiece(o.raw) || o.raw == "joint" || s.isReference(o) })
	whole, ok := s.holderOf(comps, np)
	if !ok {
		whole, ok = nearestBefore(comps, 0, np.from)
	}
	if !ok {
		whole, ok = f.last()
	}
	if ok {
		np.name, np.known, np.raw = whole.name, whole.known, whole.raw
	}
	return np
}
