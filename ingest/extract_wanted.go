package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
	"ruledout/kb/quantity"
)

// wanted is what somebody else asked to have measured: who answers gives the reading and often nothing more.
type wanted struct {
	base string // SI unit
	unit string // as asked
	np   nounPhrase
	lim  *kb.Limit
}

// wantedBetween gives what other people asked to have measured in the posts between two of one person, newest last.
func (x *Extractor) wantedBetween(r *reading, who *person, from, to int) []wanted {
	var out []wanted
	for post := from + 1; post < to; post++ {
		for _, p := range r.people {
			if p == who {
				continue
			}
			spoken := nounPhrase{}
			for _, s := range p.sents {
				if s.post == post {
					out = append(out, x.wantedIn(s, &spoken)...)
				}
			}
		}
	}
	return out
}

// wantedIn gives what a sentence of advice wants measured: the quantities that it states, each with the part named before it, else after
// it, else in the sentences before; or, without a figure, what it says to measure with which unit. What is named is kept in spoken.
func (x *Extractor) wantedIn(s *sentence, spoken *nounPhrase) []wanted {
	comps := slices.DeleteFunc(x.partsIn(s), func(np nounPhrase) bool {
		return isPiece(np.raw) || isConnector(np.raw) || isWholeMachine(np.name) || np.name == "motor" || showsReadings(np.raw) || s.isReference(np) || s.setState(np)
	})
	var out []wanted
	for _, m := range x.measuredIn(&focus{}, s) {
		_, base, ok := m.SI()
		if !ok {
			continue
		}
		w := wanted{base: base, unit: m.Unit, np: *spoken}
		if np, found := nearestBefore(comps, 0, m.from); found {
			w.np = np
		} else if len(comps) > 0 {
			w.np = comps[0]
		}
		if m.limit || m.Upper != nil {
			w.lim = limitFrom(s, m, m.Unit)
		}
		out = append(out, w)
	}
	for _, np := range comps {
		if np.known && !x.isQuantity(np.name) && !isWholeMachine(np.name) && np.name != "motor" {
			*spoken = np
		}
	}
	if len(out) == 0 {
		if unit := s.unitAsked(); unit != "" && spoken.name != "" {
			if q, err := quantity.Parse("1 " + unit); err == nil {
				_, base, _ := q.SI()
				out = append(out, wanted{base: base, unit: unit, np: *spoken})
			}
		}
	}
	return out
}

// unitAsked gives the unit of what a sentence without figures says to measure: "measure the AC volts", "ohm it out".
func (s *sentence) unitAsked() string {
	for _, t := range s.toks {
		switch t.word {
		case "volt", "voltage":
			return "V"
		case "ohm", "resistance":
			return "ohm"
		case "amp", "current":
			return "A"
		case "vacuum":
			return "inHg"
		}
	}
	return ""
}

// wantedFor gives what was asked for in the unit of a reading, the newest first.
func (f *focus) wantedFor(q measured) (wanted, bool) {
	_, base, ok := q.SI()
	if !ok {
		return wanted{}, false
	}
	for _, w := range slices.Backward(f.wanted) {
		if w.base == base && w.np.known && !(isElectric(q.Unit) && carriesNoCurrent(w.np)) {
			return w, true
		}
	}
	return wanted{}, false
}

// answers gives the part of a reading that only answers what was asked for.
func (f *focus) answers(m measured) (nounPhrase, bool) {
	w, ok := f.wantedFor(m)
	if !ok || slices.Contains(f.here, m.Unit) {
		return nounPhrase{}, false
	}
	np := w.np
	np.from, np.to, np.oblique = m.from, m.to, false
	return np, true
}

// askedLimit gives the limit that was stated when a reading was asked for, where the reading is of the same part.
func (f *focus) askedLimit(q measured, name string) *kb.Limit {
	_, base, ok := q.SI()
	if !ok {
		return nil
	}
	for _, w := range slices.Backward(f.wanted) {
		if w.base == base && w.lim != nil && (w.np.name == name || lastWord(w.np.name) == lastWord(name) || strings.HasPrefix(w.np.name, name) || strings.HasPrefix(name, w.np.name)) {
			return w.lim
		}
	}
	return nil
}
