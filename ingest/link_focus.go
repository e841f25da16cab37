package ingest

import (
	"slices"
	"strings"
)

// focus remembers what a person's text spoke of last, so that "it", "both" and a short name ("the valve") find their part.
type focus struct {
	recent []nounPhrase          // newest last
	units  map[string]nounPhrase // what was last read in a unit
	unit   string                // of the last reading
	bad    nounPhrase            // what a check found bad last
	badAge int                   // sentences since then
}

// note adds the components of a sentence, those that it speaks of after those that only tell a place.
func (f *focus) note(all []nounPhrase) {
	for _, oblique := range []bool{true, false} {
		for _, np := range all {
			if np.name != "" && np.oblique == oblique && !isConsumable(np.name) && !(isPiece(np.raw) && len(f.recent) > 0) {
				f.recent = append(f.recent, np)
			}
		}
	}
	if n := len(f.recent); n > 40 {
		f.recent = slices.Clone(f.recent[n-40:])
	}
}

// last gives the component spoken of last.
func (f *focus) last() (nounPhrase, bool) {
	if len(f.recent) == 0 {
		return nounPhrase{}, false
	}
	np := f.recent[len(f.recent)-1]
	return nounPhrase{from: 1 << 20, name: np.name, known: np.known}, true
}

// pronoun gives what "it", "them", "that" at token i stands for: a component earlier in the sentence, else the last one
// spoken of.
func (f *focus) pronoun(s *sentence, comps []nounPhrase, i int) (nounPhrase, bool) {
	for j := max(i-2, 0); j < min(i+2, len(s.toks)); j++ {
		if !slices.Contains([]string{"it", "them", "that", "this", "one", "him", "her", "those", "both", "ones"}, s.toks[j].word) {
			continue
		}
		np, ok := nearestBefore(comps, 0, i)
		if !ok || isConsumable(np.name) {
			np, ok = f.last()
			if f.bad.name != "" && f.badAge == 0 {
				np, ok = f.bad, true // one mends what was just found bad
			}
		}
		np.from, np.to = j, j+1
		return np, ok
	}
	return nounPhrase{}, false
}

// readIn gives what was last read in a unit.
func (f *focus) readIn(unit string) (nounPhrase, bool) {
	np, ok := f.units[unit]
	return np, ok && unit != ""
}

// noteReading remembers what was read in a unit.
func (f *focus) noteReading(unit string, np nounPhrase) {
	if f.units == nil {
		f.units = map[string]nounPhrase{}
	}
	f.units[unit] = np
	if unit != "" {
		f.unit = unit
	}
}

// complete gives a short name ("valve", "link") the longer one with the same last word that was spoken of before.
func (f *focus) complete(np nounPhrase, _ *sentence) nounPhrase {
	if strings.Contains(np.name, " ") && strings.Contains(np.raw, " ") {
		return np
	}
	for _, old := range slices.Backward(f.recent) {
		if strings.HasSuffix(old.name, " "+np.name) || np.raw != "" && strings.HasSuffix(old.raw, " "+np.raw) {
			np.name, np.known = old.name, old.known
			return np
		}
	}
	return np
}

// ofIts gives "its switch" at the beginning of a sentence the name of what it belongs to: "float switch" after the float was spoken of.
func (f *focus) ofIts(np nounPhrase, s *sentence) nounPhrase {
	if whole, ok := f.last(); ok && np.from > 0 && np.from < 4 && s.toks[np.from-1].word == "its" && !strings.Contains(np.raw, " ") && isPartHead(np.raw) {
		np.name = lastWord(whole.name) + " " + np.raw
	}
	return np
}

// damaged gives the component that a check found bad last.
func (f *focus) damaged() (nounPhrase, bool) { return f.bad, f.bad.name != "" }

// noteBad remembers what the checks of a sentence found bad.
func (f *focus) noteBad(tests []*testFound) {
	f.badAge++
	for _, t := range tests {
		if t.result == "fail" && t.comp != "" && !t.guess {
			f.bad, f.badAge = nounPhrase{name: t.comp, known: t.known}, 0
		}
	}
}

// meant gives what "a new one" stands for: the part found bad last, else the one spoken of last.
func (f *focus) meant() (nounPhrase, bool) {
	if f.bad.name != "" {
		return f.bad, true
	}
	return f.last()
}
