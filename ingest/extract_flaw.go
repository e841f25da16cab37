package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// flawsIn reads what is, or is not, wrong in a part that is named after it: "no cracks in the hose", "nothing wrong with the
// valve", "found corrosion in the plug", "there was oil inside the connector", "hairline crack in the housing".
func (x *Extractor) flawsIn(f *focus, s, _ *sentence) []*testFound {
	var out []*testFound
	for _, np := range x.partsIn(s) {
		at := s.prepositionBefore(np.from, "in", "on", "at", "inside", "with", "to", "from", "around", "under", "of", "through", "all")
		if at < 1 || x.isOutside(np) {
			continue
		}
		prep := s.toks[at].word
		inside := prep == "in" || prep == "inside"
		flaw := s.flawEnding(at, inside)
		c := s.clauseAt(at)
		if flaw < 0 || np.from >= c.to || flaw < c.from {
			continue
		}
		from := flaw
		for from > c.from && flaw-from < 4 && !isNegation(s.toks[from].word) && s.toks[from].word != "anything" && !isFindVerb(s.toks[from].word) {
			from--
		}
		denied := s.negated(max(from-3, c.from), at)
		whole := f.complete(x.knownOf(x.wholeOf(f, s, x.partsIn(s), np), ""), s)
		switch {
		case denied && !(prep == "to" && s.toks[at-1].word != "damage"):
			out = append(out, x.finding(s, whole, from, np.to, kb.Pass, "visual inspection"))
		case prep != "with" && prep != "to" && s.saysThere(c, flaw):
			out = append(out, x.finding(s, whole, from, np.to, kb.Fail, "visual inspection"))
		}
	}
	return out
}

// untold reads a check that told nothing: "could not tell whether the pump was priming", "the tester could not say if the sensor was good".
func (x *Extractor) untold(f *focus, s, _ *sentence) []*testFound {
	for _, m := range s.mentions {
		if m.kind != termCue || m.name != cueUnsure || m.to >= len(s.toks) || !slices.Contains([]string{"if", "whether"}, s.toks[m.to].word) {
			continue
		}
		for _, np := range x.partsIn(s) {
			if np.from > m.to && np.from-m.to <= 4 {
				t := x.finding(s, f.complete(np, s), m.from, np.to, kb.Inconclusive, "visual inspection")
				return []*testFound{t}
			}
		}
	}
	return nil
}

// isOutside tells whether a name is of a cause that is no part of the machine, such as water that got in.
func (x *Extractor) isOutside(np nounPhrase) bool {
	c, ok := x.v.Component(np.name)
	return ok && c.System == kb.SystemOutside
}

// flawEnding gives the first token of the words before the preposition at token at that name what is wrong: a noun for a flaw, a
// phrase of damage, or, for what is inside a part, a stuff that does not belong there; -1 if there are none.
func (s *sentence) flawEnding(at int, inside bool) int {
	if isFlaw(s.toks[at-1].word) || inside && isStray(s.toks[at-1].word) {
		return at - 1
	}
	for _, m := range s.mentions {
		if m.kind == termCue && m.name == cueBad && m.to == at && m.to-m.from > 1 && !isNegation(s.toks[m.from].word) {
			return m.from
		}
	}
	return -1
}

// saysThere tells whether a flaw at token i is told as there: after a verb of finding or having, after "there was", or at the beginning
// of its clause.
func (s *sentence) saysThere(c clause, i int) bool {
	for j := i - 1; j >= max(c.from, i-6); j-- {
		w := s.toks[j].word
		switch {
		case isFindVerb(w), slices.Contains([]string{"there", "had", "has", "got", "have", "having", "with"}, w):
			return true
		case s.toks[j].mark:
			return true
		}
	}
	return s.onlyDescribes(skipMarks(s, c.from), i)
}

// onlyDescribes tells whether nothing but articles, numbers and adjectives can stand between tokens: a short stretch without a verb.
func (s *sentence) onlyDescribes(from, to int) bool {
	if to-from > 3 {
		return false
	}
	for i := max(from, 0); i < to; i++ {
		t := s.toks[i]
		if isCopula(t.word) || isFirstPerson(t.word) || isPast(strings.ToLower(t.raw)) && !isDamage(t.word) || isConjunction(t.word) && t.word != "and" {
			return false
		}
	}
	return true
}

// flawsOf reads a part that has, or has not, a flaw: "the hose has a split", "connector had water in it", "the boot has no tears".
func (x *Extractor) flawsOf(f *focus, s, _ *sentence) []*testFound {
	var out []*testFound
	parts := x.partsIn(s)
	for i, t := range s.toks {
		if t.mark || !slices.Contains([]string{"has", "had", "have", "got", "shows", "showed", "show", "developed", "with"}, t.word) {
			continue
		}
		c := s.clauseAt(i)
		np, ok := nearestBefore(parts, c.from, i)
		if !ok || np.oblique || x.isOutside(np) || !s.onlyBetween(np.to, i) {
			continue
		}
		end, denied := s.flawFrom(i+1, c.to)
		if end == 0 {
			continue
		}
		np = f.complete(x.knownOf(x.wholeOf(f, s, parts, np), ""), s)
		out = append(out, x.finding(s, np, np.from, end, passIf(denied), "visual inspection"))
	}
	return out
}

// flawFrom gives the token after a noun for a flaw within five tokens of token i, 0 if there is none, and whether it is denied. A stuff
// counts only where it is said to be "in it".
func (s *sentence) flawFrom(i, limit int) (end int, denied bool) {
	for j := i; j < min(i+5, limit) && !s.toks[j].mark; j++ {
		w := s.toks[j].word
		if isNegation(w) {
			denied = true
		}
		within := j+1 < limit && (s.toks[j+1].word == "in" || s.toks[j+1].word == "inside")
		ofIt := within && j+2 < limit && slices.Contains([]string{"it", "them", "there"}, s.toks[j+2].word) || within && j+2 >= limit
		switch {
		case isStray(w) && (ofIt || isNegation(s.toks[max(j-1, 0)].word) && ofIt):
			return j + 2, denied
		case w == "wrong" || w == "anything" || w == "issue" || w == "problem" || w == "fault" || w == "sign" || w == "mark":
			if denied {
				return j + 1, true
			}
		case isFlaw(w) && !isStray(w):
			return j + 1, denied
		}
	}
	return 0, false
}

// isStray tells whether a word names a stuff that does not belong inside a part that it is found in.
func isStray(word string) bool {
	return slices.Contains([]string{"water", "oil", "coolant", "moisture", "condensation", "corrosion", "rust", "dirt", "mud", "sand", "sludge", "debris", "crud", "gunk", "swarf", "metal", "flake", "filing", "grit", "dust", "lint", "hair", "leaf", "nest",
		"ice", "salt", "scale", "limescale", "soot", "carbon", "fuel", "diesel", "grease", "glitter", "crystal", "fluff", "slime", "algae", "green", "verdigris", "rubbish"}, word)
}

// isFlaw tells whether a noun names what is wrong with a part.
func isFlaw(word string) bool {
	return slices.Contains([]string{"crack", "break", "leak", "corrosion", "damage", "play", "wear", "slack", "rust", "dirt", "debris", "blockage", "chafing", "chafe", "burn", "scorch", "split", "hole", "kink", "tear",
		"fault", "flaw", "defect", "problem", "issue", "wrong", "sign", "trace", "evidence", "mark", "drip", "bubble", "short", "moisture", "sludge", "scoring", "pitting", "rubbing", "swarf", "discoloration",
		"discolouration", "fray", "looseness", "water", "crud", "gunk", "condensation", "obstruction", "melting", "swelling", "bulge", "anything", "chip", "dent", "groove", "ridge", "pinhole", "puncture", "rip", "fracture", "slop",
		"restriction", "seepage", "verdigris", "arcing", "tracking", "joint", "rot", "wobble", "runout", "lip", "gash", "nick", "slit"}, word)
}
