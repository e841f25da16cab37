package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// focus remembers what a person's text spoke of last, so that "it", "both" and a short name ("the valve") find their part.
type focus struct {
	recent     []nounPhrase          // newest last
	heard      []nounPhrase          // what other people spoke of since the person's last post, while their own post has named nothing
	wanted     []wanted              // what other people asked to have measured since the person's last post
	measured   nounPhrase            // the device of the post that was read last with a meter
	here       []string              // units in which something was read in the post
	units      map[string]nounPhrase // what was last read in a unit
	unit       string                // of the last reading
	bad        nounPhrase            // what a check found bad last
	badAge     int                   // sentences since then
	gap        bool                  // the last sentence speaks of a gap or the like
	gapOf      nounPhrase            // the part that has it
	blocked    bool                  // the last sentence says that something was blocked
	littered   nounPhrase            // where something foreign was found last
	litterAge  int                   // sentences since then
	lastAction kb.Action             // of the repair told last
	lastFix    int                   // the index of its sentence
	two        []nounPhrase          // the components of the last sentence
	bads       []nounPhrase          // all that the same sentence found bad
}

// newPost takes up what other people spoke of since the person's last post: "changed it" at the start of an answer speaks of that.
func (f *focus) newPost(heard []nounPhrase) {
	f.heard, f.measured, f.here = heard, nounPhrase{}, nil
	if f.unit != "V" {
		f.unit = "" // only volts are so common that a bare number means them in a later post
	}
}

// note adds the components of a sentence, those that it speaks of after those that only tell a place.
func (f *focus) note(all []nounPhrase) {
	if len(all) > 0 {
		f.heard = nil
	}
	for _, oblique := range []bool{true, false} {
		for _, np := range all {
			if np.isolates {
				continue
			}
			if isGap(np.name) && len(all)+len(f.recent) > 1 {
				continue // it belongs to the other one
			}
			if np.name != "" && np.oblique == oblique && !isConsumable(np.name) && !((isPiece(np.raw) || isJoint(np.raw)) && len(f.recent) > 0) {
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
	for _, np := range slices.Backward(f.heard) {
		if !np.oblique && np.known {
			return nounPhrase{from: 1 << 20, name: np.name, known: np.known}, true
		}
	}
	if len(f.recent) == 0 {
		return nounPhrase{}, false
	}
	np := f.recent[len(f.recent)-1]
	return nounPhrase{from: 1 << 20, name: np.name, known: np.known}, true
}

// pronouns gives what "it", "them", "both" in or right after a verb's words (tokens from..at) stand for: a component earlier in the
// sentence, else what was found bad last, else the last one spoken of. "Both" and "them" may stand for two.
func (f *focus) pronouns(s *sentence, comps []nounPhrase, from, at int) ([]nounPhrase, bool) {
	start := max(min(from+1, at-2), 0)
	if from > 0 && s.toks[from-1].word == "both" {
		start = from - 1
	}
	for j := start; j < min(at+3, len(s.toks)); j++ {
		word := s.toks[j].word
		if !isPronoun(word) || j == at+2 && word != "one" && word != "ones" {
			continue
		}
		if word == "both" || word == "them" {
			if two := f.pair(); len(two) == 2 && !slices.ContainsFunc(comps, func(np nounPhrase) bool { return np.to <= from }) {
				two[0].from, two[0].to, two[1].from, two[1].to = j, j+1, j, j+1
				return two, true
			}
		}
		np, ok := nearestBefore(comps, 0, max(from, j-1))
		if !ok || isConsumable(np.name) {
			np, ok = f.last()
			if f.bad.name != "" && f.badAge == 0 {
				np, ok = f.bad, true // one mends what was just found bad
			}
		}
		if np.to == 0 || np.from >= len(s.toks) {
			np.from, np.to = j, j+1
		}
		return []nounPhrase{np}, ok
	}
	return nil, false
}

// pair gives the two components that the sentence before found bad together, or spoke of as its two subjects.
func (f *focus) pair() []nounPhrase {
	if f.badAge == 0 && len(f.bads) == 2 {
		return slices.Clone(f.bads)
	}
	if len(f.two) == 2 {
		return slices.Clone(f.two)
	}
	return nil
}

// notePair remembers the two components that a sentence speaks of, if they are two.
func (f *focus) notePair(comps []nounPhrase) {
	f.two, f.gap, f.gapOf = nil, false, nounPhrase{}
	for _, np := range comps {
		if isGap(np.name) {
			f.gap = true
		} else if f.gap && np.oblique {
			f.gapOf = np
		}
		if np.oblique || !np.known || isConsumable(np.name) || slices.ContainsFunc(f.two, func(o nounPhrase) bool { return o.name == np.name }) {
			continue
		}
		f.two = append(f.two, nounPhrase{name: np.name, known: true})
	}
}

// noteDamage remembers the part in which a sentence says that there is some damage.
func (f *focus) noteDamage(np nounPhrase, ok bool) {
	if ok && f.badAge > 0 {
		f.bad, f.badAge, f.bads = nounPhrase{name: np.name, known: np.known}, 0, nil
	}
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
	f.here = append(f.here, unit)
	if isElectric(unit) && np.known && !isConnecting(lastWord(np.name)) && !isQuantityWord(lastWord(np.name)) && !strings.HasSuffix(np.name, "supply") && !strings.HasSuffix(np.name, "battery") {
		f.measured = np
	}
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
		if first, _, _ := strings.Cut(old.name, " "); slices.Contains([]string{"slave", "loan", "donor", "test", "dummy", "spare"}, first) {
			continue
		}
		if device, ok := deviceOf(old.name); ok && strings.HasSuffix(device, " "+np.name) {
			np.name, np.known = device, old.known
			return np
		}
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

// noteLitter remembers where a sentence says that something foreign was found.
func (f *focus) noteLitter(np nounPhrase, ok bool) {
	f.litterAge++
	if ok {
		f.littered, f.litterAge = np, 1
	}
}

// damaged gives the component that a check found bad last.
func (f *focus) damaged() (nounPhrase, bool) { return f.bad, f.bad.name != "" }

// noteBad remembers what the checks of a sentence found bad.
func (f *focus) noteBad(s *sentence, tests []*testFound) {
	f.badAge++
	f.blocked = slices.ContainsFunc(s.toks, func(t token) bool {
		return slices.Contains([]string{"blocked", "clogged", "plugged", "choked", "full", "packed", "bunged", "restricted", "gummed", "jammed", "filled", "furred", "silted"}, t.word)
	})
	fresh := true
	for _, t := range tests {
		if t.result != "fail" || t.comp == "" || t.guess {
			continue
		}
		if fresh {
			f.bads, fresh = nil, false
		}
		f.bad, f.badAge = nounPhrase{name: t.comp, known: t.known}, 0
		f.bads = append(f.bads, f.bad)
	}
}

// meant gives what "a new one" stands for: the part found bad last, else the one spoken of last.
func (f *focus) meant() (nounPhrase, bool) {
	const fresh = 2 // sentences
	if last, ok := f.last(); ok && f.badAge > fresh {
		return last, true
	}
	if f.bad.name != "" {
		return f.bad, true
	}
	return f.last()
}

// deviceOf gives the device in the name of what feeds it or plugs into it: "coolant pump" of "coolant pump connector".
func deviceOf(name string) (string, bool) {
	head := lastWord(name)
	if !isConnector(head) && head != "supply" && head != "wiring" && head != "harness" {
		return "", false
	}
	return strings.CutSuffix(name, " "+head)
}
