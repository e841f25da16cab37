package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// remnantAfter gives what was mended where the verb only names the piece let in or cut out: "let a fresh length in", "cut the bad bit
// out". That is what was found bad last.
func (x *Extractor) remnantAfter(f *focus, s *sentence, m mention) (nounPhrase, bool) {
	if kb.Action(m.name) != kb.Repair {
		return nounPhrase{}, false
	}
	if !slices.ContainsFunc(s.toks[m.from:min(m.to+5, len(s.toks))], func(t token) bool {
		return slices.Contains([]string{"piece", "bit", "section", "length", "end", "half", "part", "wire", "terminal", "joint", "splice"}, t.word)
	}) {
		return nounPhrase{}, false
	}
	np, ok := f.meant()
	np.from, np.to = m.from, m.to
	return np, ok
}

// takenApart gives the part that the sentence says was taken off or apart before one of its pieces was worked on: "valve body off, bore
// reamed".
func (x *Extractor) takenApart(s *sentence, before int) (nounPhrase, bool) {
	for _, np := range x.components(s) {
		if np.to < before && np.to < len(s.toks) && np.from <= 3 && slices.Contains([]string{"off", "out", "apart", "open", "stripped"}, s.toks[np.to].word) && (np.to+1 == len(s.toks) || s.toks[np.to+1].mark) {
			return np, true
		}
	}
	return nounPhrase{}, false
}

// blamedBefore gives the part that the sentence names as the culprit before token i: what is done to "it" then is done to that.
func (x *Extractor) blamedBefore(f *focus, s *sentence, i int) (nounPhrase, bool) {
	for _, m := range s.mentions {
		if m.kind != termCue || m.name != cueCredit || m.to > i || s.clauseAt(m.from).kind != told {
			continue
		}
		name := x.creditedIn(f, s, m, x.components(s))
		for _, np := range x.components(s) {
			if np.name == name && np.to <= i {
				return np, true
			}
		}
	}
	return nounPhrase{}, false
}

// isWireOnly tells whether a name is of a wire that only its colour tells from others.
func isWireOnly(name string) bool {
	colour, rest, two := strings.Cut(name, " ")
	if name == "wire" || name == "lead wire" {
		return true
	}
	return two && rest == "wire" && slices.Contains([]string{"red", "black", "white", "green", "brown", "blue", "yellow", "orange", "pink", "purple", "grey", "gray", "violet", "striped", "bare", "chafed", "broken", "single"}, colour)
}

// justFound gives what a verb without any object was done to: what the same sentence, or the one before, found bad: "loose earth behind
// the box. Tightened, cured."
func (x *Extractor) justFound(f *focus, s *sentence, m mention) (nounPhrase, bool) {
	alone := m.to == len(s.toks) || s.toks[m.to].mark || isConjunction(s.toks[m.to].word) || slices.Contains([]string{"with", "now", "up", "properly", "again"}, s.toks[m.to].word)
	first := m.from == 0 || s.toks[m.from-1].mark || isConjunction(s.toks[m.from-1].word)
	if !alone || !first || !slices.Contains([]kb.Action{kb.Replace, kb.Repair, kb.Clean, kb.Adjust, kb.Refit}, kb.Action(m.name)) {
		return nounPhrase{}, false
	}
	if np, ok := x.damageAt(s); ok && np.to <= m.from {
		return np, true
	}
	if f.bad.name == "" || f.badAge > 0 || m.to < len(s.toks) && isPronoun(s.toks[m.to].word) {
		return nounPhrase{}, false
	}
	return nounPhrase{from: m.from, to: m.to, name: f.bad.name, known: f.bad.known}, true
}

// adjustWhole gives an adjustment of a gap, a tension, a setting or a set screw to the part that has it: "set the gap", "turned the
// pressure switch screw a quarter turn".
func (x *Extractor) adjustWhole(f *focus, s *sentence, np nounPhrase, fx *fixFound) {
	words := strings.Fields(np.raw)
	if len(words) == 0 || !slices.Contains([]string{"gap", "clearance", "alignment", "position", "tension", "setting", "screw", "angle", "height", "stop", "set-screw", "nut", "knob"}, words[len(words)-1]) {
		return
	}
	last := words[len(words)-1]
	if fx.action != kb.Adjust && !isGap(last) {
		return
	}
	fx.action, fx.trial = kb.Adjust, false
	if whole, ok := s.holderOf(x.components(s), np); ok {
		fx.comp, fx.known = whole.name, whole.known
		return
	}
	n := len(words) - 1
	for n > 0 && slices.Contains([]string{"air", "set", "adjusting", "adjustment", "adjuster", "grub", "belt", "lock"}, words[n-1]) && words[n-1] != "belt" {
		n--
	}
	if n > 0 {
		name, known := x.component(strings.Join(words[:n], " "))
		fx.comp, fx.known = x.called(nounPhrase{name: name, known: known, raw: strings.Join(words[:n], " ")}), known
	} else if whole, ok := f.last(); ok {
		fx.comp, fx.known = whole.name, whole.known
	}
}

// isGap tells whether a name is of a dimension that one sets on a part.
func isGap(name string) bool {
	return slices.Contains([]string{"gap", "clearance", "tension", "alignment", "play", "backlash"}, lastWord(name))
}

// chainEnd gives the token at which the object of a verb begins: after the verbs joined to it, "soldered and taped the wires".
func (x *Extractor) chainEnd(s *sentence, m mention) int {
	at := m.to
	for m.to-m.from == 1 && at+1 < len(s.toks) && (s.toks[at].word == "and" || s.toks[at].raw == "&") && isPast(strings.ToLower(s.toks[at+1].raw)) {
		at += 2
	}
	return at
}

// objectInside gives the component that stands between the words of a phrase: "put a vent on".
func (x *Extractor) objectInside(s *sentence, m mention) []nounPhrase {
	if m.to-m.from < 3 {
		return nil
	}
	for _, np := range x.components(s) {
		if np.from > m.from && np.to <= m.to {
			return []nounPhrase{np}
		}
	}
	if m.to-m.from > 3 || s.toks[m.to-1].word == "to" || s.toks[m.to-1].word == "out" {
		if np, ok := x.unknownPhrase(s, m.from+1, m.to-1); ok && !isPronoun(np.raw) {
			return []nounPhrase{np}
		}
	}
	return nil
}

// isPronoun tells whether a word stands for what was named before.
func isPronoun(word string) bool {
	return slices.Contains([]string{"it", "them", "that", "this", "one", "him", "her", "those", "both", "ones", "these"}, word)
}

// has2 tells whether one of the words stands at token i or just after it.
func (s *sentence) has2(i int, words ...string) bool {
	for j := i; j < min(i+2, len(s.toks)); j++ {
		if slices.Contains(words, s.toks[j].word) {
			return true
		}
	}
	return false
}

// objectsAfter gives the components that a verb acts on: the first after it in the same stretch, and those joined to it.
func (x *Extractor) objectsAfter(s *sentence, at int) ([]nounPhrase, int) {
	at = s.pastListHead(at)
	limit := at
	for limit < len(s.toks) && limit-at < 14 {
		t := s.toks[limit]
		if t.mark && strings.ContainsAny(t.raw, ",.;:!?()") || isConjunction(t.word) && t.word != "and" && t.word != "plus" {
			break
		}
		limit++
	}
	var out []nounPhrase
	end := at
	for _, np := range x.components(s) {
		if np.from < at || len(out) == 0 && np.from >= limit || isConsumable(np.name) {
			continue
		}
		if len(out) == 0 && np.from-at > 7 || len(out) > 0 && !(x.joined(s, end, np.from) && s.listGoesOn(np, limit)) {
			break
		}
		if len(out) == 0 && x.breaks(s, at, np.from) {
			break
		}
		out = append(out, np)
		end = np.to
	}
	if len(out) > 0 {
		return out, end
	}
	np, ok := x.unknownPhrase(s, at, limit)
	if !ok {
		return nil, at
	}
	return []nounPhrase{np}, np.to
}

// pastListHead gives the token after "so far:" or a colon with which a list of repairs begins.
func (s *sentence) pastListHead(at int) int {
	for i := at; i < min(at+4, len(s.toks)); i++ {
		if s.toks[i].raw == ":" {
			return i + 1
		}
		if !slices.Contains([]string{"so", "far", "already", "to", "date", "it", "this"}, s.toks[i].word) {
			break
		}
	}
	return at
}

// listGoesOn tells whether a further part belongs to the list before it: no verb follows that would make it the subject of something new.
func (s *sentence) listGoesOn(np nounPhrase, limit int) bool {
	if np.to >= len(s.toks) {
		return true
	}
	next := s.toks[np.to]
	if np.from < limit {
		return !isCopula(next.word)
	}
	return next.mark || next.word == "and" || next.word == "but" || next.word == "then" || next.word == "plus"
}

// joined tells whether only "and", commas, articles and words of state lie between two components.
func (x *Extractor) joined(s *sentence, from, to int) bool {
	and := false
	for i := from; i < to; i++ {
		t := s.toks[i]
		switch {
		case t.raw == "," || t.word == "and" || t.word == "then" || t.raw == "+" || t.raw == "&" || t.word == "plus":
			and = true
		case kb.IsArticle(t.word) || isStateWord(t.word) || t.number():
		default:
			return false
		}
	}
	return and
}

// breaks tells whether a word between verb and component parts the two: "fitted in the loom of the pump" does not.
func (x *Extractor) breaks(s *sentence, from, to int) bool {
	for i := from; i < to; i++ {
		if slices.Contains([]string{"from", "for", "like", "as", "until", "because", "with", "and", "at", "behind", "near", "under", "by", "when", "where", "it", "them"}, s.toks[i].word) {
			return true
		}
	}
	return false
}

// labelBefore gives the part that a line names before its verb: "valve: replaced", "valve - cleaned".
func (x *Extractor) labelBefore(s *sentence, c clause, verb int) (nounPhrase, bool) {
	if c.from == 0 || !s.toks[c.from].mark || s.toks[c.from].raw == "," || verb > c.from+2 {
		return nounPhrase{}, false
	}
	label := s.clauseBefore(c.from)
	for _, np := range x.components(s) {
		if np.from <= skipMark(s, label.from)+2 && np.to == label.to {
			return np, true
		}
	}
	return nounPhrase{}, false
}

// subjectBefore gives the component that a passive or a bare participle speaks of: "the pump was replaced", "sump seal done".
func (x *Extractor) subjectBefore(s *sentence, c clause, verb int) (nounPhrase, bool) {
	for _, np := range slices.Backward(x.components(s)) {
		if np.to > verb || np.from < c.from {
			continue
		}
		for i := np.to; i < verb; i++ {
			if !slices.Contains([]string{"was", "were", "been", "being", "got", "has", "have", "had", "is", "are", "then", "also", "all", "both", "now", "already", "finally", "and", "a", "kit", "i", "we", "just", "first", "set"}, s.toks[i].word) {
				return nounPhrase{}, false
			}
		}
		return np, true
	}
	return nounPhrase{}, false
}

func coveredBy(fixes []*fixFound, tok int) bool {
	return slices.ContainsFunc(fixes, func(f *fixFound) bool { return tok >= f.from && tok < f.to })
}
