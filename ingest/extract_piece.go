package ingest

import (
	"slices"
	"strings"
)

// isPiece tells whether a name is of a small piece of something, which only that something tells from others.
func isPiece(raw string) bool {
	for {
		first, rest, ok := strings.Cut(raw, " ")
		if !ok || !isDamage(first) && !slices.Contains([]string{"male", "female", "single", "green", "middle", "centre", "center", "outer", "inner", "bad", "bent", "furry", "ceramic", "bronze", "plastic", "brass", "tiny", "little", "small"}, first) {
			break
		}
		raw = rest
	}
	return slices.Contains([]string{"pin", "terminal", "nut", "bolt", "screw", "seat", "ring", "o-ring", "oring", "wire", "tooth", "teeth", "contact", "clip", "vane", "groove", "leg", "stud", "core", "strand", "conductor", "finger", "bush", "bushing", "rotor", "plunger", "armature", "winding", "stem"}, raw)
}

// isLimb tells whether a name is of a limb of something, which says little without it: "the arm on the switch".
func isLimb(raw string) bool {
	return slices.Contains([]string{"arm", "lever", "tab", "tip", "blade", "foot", "edge", "corner", "pivot", "spindle", "hinge", "lip"}, lastWord(raw))
}

// isJoint tells whether a name is of a soldered joint or of a bore, seat or pin that only its holder tells from others: "dry joint",
// "cracked solder joint".
func isJoint(raw string) bool {
	words := strings.Fields(raw)
	if len(words) == 0 {
		return false
	}
	switch words[len(words)-1] {
	case "joint", "solder":
		return len(words) > 1 && slices.ContainsFunc(words, func(w string) bool {
			return slices.Contains([]string{"solder", "soldered", "dry", "cold", "cracked", "bad", "broken"}, w)
		})
	}
	return false
}

// wholeOf gives, for a small piece without a name of its own ("pin", "seat", "nut"), the part spoken of before it, to which it
// belongs.
func (x *Extractor) wholeOf(f *focus, s *sentence, comps []nounPhrase, np nounPhrase) nounPhrase {
	if isConnector(np.raw) {
		return x.plugOf(f, s, comps, np)
	}
	if !isPiece(np.raw) {
		np = x.innerOf(np)
		if whole, ok := s.holderOf(comps, np); ok && isLimb(np.raw) {
			np.name, np.known = whole.name, whole.known
			return np
		}
		if whole, ok := s.holderOf(comps, np); ok && isJoint(np.raw) {
			np.name, np.known = whole.name, whole.known
		} else if last, ok := f.last(); ok && isJoint(np.raw) {
			np.name, np.known = last.name, last.known
		}
		return np
	}
	if np.raw == "wire" {
		return x.wiringOf(f, s, comps, np)
	}
	if whole, ok := s.holderOf(comps, np); ok {
		np.name, np.known = whole.name, whole.known
		return np
	}
	if whole, ok := nearestBefore(comps, 0, np.from); ok && whole.name != np.name {
		np.name, np.known = whole.name, whole.known
		return np
	}
	if whole, ok := nearestBefore(comps, 0, np.from); ok && isConnector(lastWord(whole.raw)) {
		np.name, np.known = whole.name, whole.known
		return np
	}
	if np.raw == "pin" || np.raw == "terminal" {
		plug := np
		plug.name, plug.raw = "plug", "plug"
		if plug = x.plugOf(f, s, comps, plug); plug.name != "plug" {
			np.name, np.known = plug.name, plug.known
			return np
		}
	}
	if f.bad.name != "" && f.badAge <= 2 {
		np.name, np.known = f.bad.name, f.bad.known
	} else if whole, ok := f.last(); ok {
		np.name, np.known = whole.name, whole.known
	}
	return np
}

// holderOf gives the part that a preposition right after a piece ties it to: "wires in the tailgate loom".
func (s *sentence) holderOf(comps []nounPhrase, np nounPhrase) (nounPhrase, bool) {
	at := np.to
	for at < len(s.toks) && (s.toks[at].number() || slices.Contains([]string{"end", "and", "&"}, s.toks[at].word) || s.toks[at].word == "number") {
		at++
	}
	if at >= len(s.toks) || !slices.Contains([]string{"in", "on", "of", "inside", "to", "from", "for", "at"}, s.toks[at].word) {
		return nounPhrase{}, false
	}
	for _, whole := range comps {
		if whole.from > at && whole.to+1 < len(s.toks) && slices.Contains([]string{"side", "end", "half"}, s.toks[whole.to].word) && s.toks[whole.to+1].word == "of" {
			at = whole.to + 1 // "on the loom side of the plug"
			continue
		}
		if whole.from > at && whole.from-at <= 4 && whole.oblique && !isPiece(whole.raw) {
			return whole, true
		}
	}
	return nounPhrase{}, false
}

// wiringOf gives the loom or cable that a wire belongs to: one named after it in the sentence, else the one spoken of last; else it is
// just wiring.
func (x *Extractor) wiringOf(f *focus, s *sentence, comps []nounPhrase, np nounPhrase) nounPhrase {
	if whole, ok := s.holderOf(comps, np); ok {
		np.name, np.known = whole.name, whole.known
		return np
	}
	for _, whole := range slices.Backward(append(slices.Clone(f.recent), comps...)) {
		if slices.Contains([]string{"loom", "harness", "wiring", "cable"}, lastWord(whole.name)) {
			np.name, np.known = whole.name, whole.known
			return np
		}
	}
	np.name, np.known = "wiring", true
	return np
}
