package ingest

import (
	"slices"
	"strings"
)

// isBareQuantity tells whether a name says only what was measured, not of what: "voltage drop", "insulation".
func isBareQuantity(name string) bool {
	return slices.Contains([]string{"voltage", "voltage drop", "resistance", "insulation", "isolation", "insulation resistance", "isolation resistance", "current", "current draw", "continuity", "drop", "output", "output voltage", "winding resistance",
		"capacitance", "supply voltage", "leakage", "leakage current", "signal", "vacuum", "suction", "backlash", "clearance", "gap", "temperature", "flow", "duty", "draw", "case drain", "case drain flow", "case leakage"}, name)
}

// quantityOf gives the part that a bare quantity is of: the one after "of", "on", "across", "at", "through", else one named before it in
// the clause.
func (x *Extractor) quantityOf(s *sentence, quantity nounPhrase, m measured) (nounPhrase, bool) {
	c := s.clauseAt(m.from)
	parts := slices.DeleteFunc(x.partsIn(s), func(np nounPhrase) bool {
		return np.from == quantity.from || x.isQuantity(np.name) || s.isReference(np) || showsReadings(np.raw)
	})
	for _, np := range parts {
		if np.from >= quantity.to && np.to <= c.to && s.prepositionBefore(np.from, "of", "on", "across", "at", "through", "in", "for", "from", "over") >= quantity.to {
			return np, true
		}
	}
	for _, np := range parts {
		if np.to <= quantity.from && np.from >= c.from && quantity.from-np.to <= 3 && !np.oblique {
			return np, true
		}
	}
	return nounPhrase{}, false
}

// groundBetween reads a voltage or resistance between the metal of the machine and the battery's negative pole: that is the drop over
// the earth connection, whatever the two ends are called.
func (x *Extractor) groundBetween(s *sentence, m measured) (nounPhrase, bool) {
	if m.Unit != "V" && m.Unit != "mV" && m.Unit != "ohm" && m.Unit != "mohm" || m.Unit == "V" && m.Value > 5 {
		return nounPhrase{}, false
	}
	metal, pole := -1, -1
	for i, t := range s.toks {
		switch t.word {
		case "block", "engine", "gearbox", "head", "housing", "manifold", "starter", "alternator", "case", "casing":
			metal = i
		case "chassis", "body", "frame", "shell", "bodywork", "wing":
			metal = i
		case "negative", "neg", "minus", "battery":
			if i+1 < len(s.toks) && slices.Contains([]string{"negative", "neg", "minus", "post", "-"}, s.toks[i+1].word) || t.word != "battery" {
				pole = i
			}
		}
	}
	if metal < 0 || pole < 0 {
		return nounPhrase{}, false
	}
	from, to := min(metal, pole), max(metal, pole)
	joined := slices.ContainsFunc(s.toks[from:to], func(t token) bool { return t.word == "to" || t.word == "and" }) && to-from <= 6
	if !joined {
		return nounPhrase{}, false
	}
	name := "engine earth strap"
	if slices.Contains([]string{"chassis", "body", "frame", "shell", "bodywork", "wing"}, s.toks[metal].word) {
		name = "body earth strap"
	}
	np := nounPhrase{from: from, to: to + 1, name: name, raw: name}
	if known, ok := x.component(name); ok {
		np.name, np.known = known, true
		if !strings.HasSuffix(known, "strap") {
			np.name = "earth strap"
		}
	}
	return np, true
}
