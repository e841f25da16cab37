package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// trialTests reads parts that were exchanged or taken out of the circuit to see what happens: "swapped the relay with a known good
// one, no difference" clears the relay, "swapped the coils, the misfire followed" convicts the coil. What the sentence, or the next
// one, says of the effect is spent by the test and is no outcome of a repair.
func (x *Extractor) trialTests(f *focus, s, next *sentence, fixes []*fixFound) []*testFound {
	if s.asked || s.place == RegionHeading {
		return nil
	}
	var out []*testFound
	for i := range s.toks {
		swap, isolate := s.swapVerb(i), s.isolatingVerb(i)
		bridge := s.bridgingVerb(i)
		isolate = isolate || bridge
		c := s.clauseAt(i)
		if !swap && !isolate || c.kind != told && c.kind != planned || s.negated(max(c.from, i-3), i) || !bridge && x.keptFix(fixes, i) {
			continue
		}
		np, end, ok := x.triedPart(s, c, i, isolate)
		if !ok || isolate && s.resets(c, np) {
			continue
		}
		result, where := s.effect(end, isolate), s
		if alone := !slices.ContainsFunc(fixes, func(fx *fixFound) bool { return !fx.trial }); result == "" && alone && next != nil && next.post == s.post && len(next.toks) <= 14 && !next.asked && len(x.partsIn(next)) == 0 {
			result, where = next.effect(0, isolate), next
		}
		if result == "" || isolate && result == kb.Fail && !s.whileOut(i, np) && !s.ranWithout(end) {
			continue
		}
		name, method := "known-good swap", "substitution"
		if isolate {
			name, method = "isolation", "isolation"
		}
		t := x.finding(s, f.complete(np, s), i, end, result, method)
		t.name, t.spends = name, where
		if bridge {
			t.name, t.spends = "bypass", nil // it may stay so, and the outcome be that of a repair
		}
		if m, known := x.v.Method(method); known {
			t.method = m.Name
		}
		if !slices.ContainsFunc(out, func(o *testFound) bool { return o.comp == t.comp }) {
			out = append(out, t)
		}
	}
	return out
}

// keptFix tells whether the verb at token i was read as a repair proper, which is no trial.
func (x *Extractor) keptFix(fixes []*fixFound, i int) bool {
	return slices.ContainsFunc(fixes, func(fx *fixFound) bool { return i >= fx.from && i < fx.to && !fx.trial })
}

// swapVerb tells whether token i is a verb of exchanging a part for a known-good or neighbouring one.
func (s *sentence) swapVerb(i int) bool {
	c := s.clauseAt(i)
	after := s.words(i+1, min(i+3, len(s.toks)))
	switch strings.ToLower(s.toks[i].raw) {
	case "swapped", "swapping", "interchanged", "exchanged":
		in := strings.HasPrefix(after, "in ") && !s.has(cueSwap, i, c.to) && !slices.ContainsFunc(s.toks[i:c.to], func(t token) bool { return t.word == "from" })
		return !in && !strings.HasPrefix(after, "out ") && !s.newFor(i, c)
	case "substituted", "borrowed", "lent":
		return true

	case "tried", "fitted", "put", "used":
		return s.has(cueSwap, i, c.to) && !strings.HasPrefix(after, "to ")
	}
	return false
}

// newFor tells whether what was swapped in is said to be new: that is a repair.
func (s *sentence) newFor(i int, c clause) bool {
	return slices.ContainsFunc(s.toks[i:c.to], func(t token) bool { return t.word == "new" || t.word == "reman" || t.word == "rebuilt" })
}

// isolatingVerb tells whether token i is a verb of taking a part out of its circuit.
func (s *sentence) isolatingVerb(i int) bool {
	switch strings.ToLower(s.toks[i].raw) {
	case "unplugged", "disconnected", "isolated", "unplugging", "disconnecting":
		return true
	case "pulled", "pulling":
		return slices.ContainsFunc(s.toks[i:min(i+6, len(s.toks))], func(t token) bool {
			return slices.Contains([]string{"plug", "connector", "sensor", "fuse", "wire", "lead"}, t.word)
		}) || s.pullsSensor(i)
	case "clamped", "blocked", "pinched":
		return i+1 < len(s.toks) && s.toks[i+1].word == "off"
	case "off", "loose", "out", "removed", "blanked", "open":
		return slices.ContainsFunc(s.toks[max(i-5, 0):i], func(t token) bool { return t.word == "with" })
	}
	return false
}

// bridgingVerb tells whether token i is a verb of joining what a switch or sensor parts, to see whether it is at fault.
func (s *sentence) bridgingVerb(i int) bool {
	switch strings.ToLower(s.toks[i].raw) {
	case "bypassed", "bridged", "jumped", "jumpered", "bypassing", "jumping", "bridging", "shorted":
		return slices.ContainsFunc(s.toks[i:min(i+6, len(s.toks))], func(t token) bool {
			return slices.Contains([]string{"switch", "sensor", "relay", "thermostat", "terminal", "contact", "contactor", "interlock", "plug", "pin", "fuse", "stat", "solenoid", "regulator", "resistor", "limiter", "probe", "float"}, t.word)
		})
	}
	return false
}

// ranWithout tells whether the words right after a part that was taken out or bridged say what the machine did then: "and it ran
// better", "and the boiler fired up".
func (s *sentence) ranWithout(i int) bool {
	for j := i; j < min(i+9, len(s.toks)); j++ {
		switch s.toks[j].word {
		case "ran", "run", "fired", "started", "start", "idled", "idle", "came", "worked", "work", "works", "smoothed", "cleared", "went", "stopped", "drove", "lit", "heated", "charged", "spun", "read", "jumped", "returned", "recovered":
			return !s.negated(max(j-3, i), j)
		}
	}
	return false
}

// pullsSensor tells whether "pulled" acts on a measured quantity named for its sensor: "pulled fuel pressure, still the same".
func (s *sentence) pullsSensor(i int) bool {
	return i+2 < len(s.toks) && slices.ContainsFunc(s.toks[i+1:min(i+5, len(s.toks))], func(t token) bool {
		return slices.Contains([]string{"pressure", "temp", "temperature", "position", "speed", "level", "flow"}, t.word)
	})
}

// resets tells whether a supply was only taken off for a while, to clear a memory.
func (s *sentence) resets(c clause, np nounPhrase) bool {
	return strings.Contains(np.name, "battery") || slices.ContainsFunc(s.toks[c.from:c.to], func(t token) bool {
		return slices.Contains([]string{"overnight", "hour", "minute", "min", "hr", "reset", "while"}, t.word)
	})
}

// whileOut tells whether a sentence says what was so while a part was out: "with the sensor unplugged it runs fine".
func (s *sentence) whileOut(i int, np nounPhrase) bool {
	return np.to <= i && slices.ContainsFunc(s.toks[max(np.from-3, 0):max(np.from, 0)], func(t token) bool { return t.word == "with" })
}

// triedPart gives the part that a verb of exchanging or isolating acts on, and the token after it.
func (x *Extractor) triedPart(s *sentence, c clause, i int, isolate bool) (nounPhrase, int, bool) {
	parts := x.partsIn(s)
	for _, np := range parts {
		if np.from > i && np.from-i <= 6 && np.to <= c.to+1 {
			if isolate {
				np = x.plugOwner(np)
				if x.isQuantity(np.name) {
					np.name, np.known = np.name+" sensor", true // one unplugs what measures it
				}
			}
			return np, np.to, true
		}
	}
	if np, ok := nearestBefore(parts, c.from, i); ok && i-np.to <= 2 {
		return np, i + 1, true
	}
	return nounPhrase{}, 0, false
}

// plugOwner gives the part whose plug was pulled: that takes the part out, not its plug.
func (x *Extractor) plugOwner(np nounPhrase) nounPhrase {
	words := strings.Fields(np.raw)
	if n := len(words) - 1; n > 0 && slices.Contains([]string{"plug", "connector", "wire", "lead", "terminal"}, words[n]) {
		np.raw = strings.Join(words[:n], " ")
		np.name, np.known = x.component(np.raw)
		np.name = x.called(nounPhrase{name: np.name, raw: np.raw, known: np.known})
	}
	return np
}

// effect tells by the words from token i on what a trial showed of the part: pass where the fault stayed, fail where it went or
// moved with the part.
func (s *sentence) effect(i int, isolated bool) kb.Result {
	for j := i; j < len(s.toks); j++ {
		w := s.toks[j].word
		after := ""
		if j+1 < len(s.toks) {
			after = s.toks[j+1].word
		}
		switch {
		case s.clauseAt(j).kind == supposed || s.clauseAt(j).kind == advised:
			continue
		case slices.Contains([]string{"followed", "follow", "transferred", "migrated"}, w), slices.Contains([]string{"moved", "went", "goes", "travelled", "traveled", "came"}, w) && (after == "with" || after == "to" || after == "over"):
			if s.negated(max(j-3, i), j) {
				return kb.Pass
			}
			return kb.Fail
		case w == "same" && !s.negated(max(j-3, i), j) && after != "time" && after != "as":
			return kb.Pass
		case (w == "stayed" || w == "stay" || w == "remained") && slices.Contains([]string{"on", "with", "at", "in", "put", "where", "the", "same"}, after), w == "still":
			return kb.Pass
		}
		for _, m := range s.mentions {
			if m.kind != termCue || m.from != j {
				continue
			}
			switch m.name {
			case cueNoChange:
				return kb.Pass
			case cuePartial:
				if isolated {
					return kb.Fail
				}
			case cueFixed:
				if !isolated && !s.onLoan(i) {
					return "" // a part that cured the fault and stayed in is a repair
				}
				if !s.negated(max(j-2, i), j) {
					return kb.Fail
				}
			}
		}
	}
	if isolated && s.ranWithout(i) || s.onLoan(i) && s.ranWithout(i) {
		return kb.Fail
	}
	return ""
}

// onLoan tells whether the part tried before token i was only lent.
func (s *sentence) onLoan(i int) bool {
	return slices.ContainsFunc(s.toks[:min(i+5, len(s.toks))], func(t token) bool {
		return t.word == "borrowed" || t.word == "loaner" || t.word == "loan" || t.word == "lent"
	})
}
