package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// oneOf gives the part that "the reverse one" or "the other one" stands for before a judgement: one like the part spoken of last.
func (x *Extractor) oneOf(f *focus, s *sentence, comps []nounPhrase, c clause, v verdict) (nounPhrase, bool) {
	at := slices.IndexFunc(s.toks[c.from:v.from], func(t token) bool { return t.word == "one" || t.word == "ones" }) + c.from
	if at <= c.from || at+1 >= len(s.toks) || !(isCopula(s.toks[at+1].word) || at+1 == v.from) {
		return nounPhrase{}, false
	}
	which := s.toks[at-1].word
	if !tellsApart(which) && !slices.Contains([]string{"other", "left", "right", "front", "rear", "first", "second", "third", "same"}, which) {
		return nounPhrase{}, false
	}
	np, ok := nearestBefore(comps, 0, at)
	if !ok {
		np, ok = f.last()
	}
	if !ok {
		return nounPhrase{}, false
	}
	if tellsApart(which) {
		head := lastWord(np.name)
		np.raw = which + " " + head
		np.name, np.known = x.component(np.raw)
		if !np.known {
			np.name, np.known = np.raw, true
		}
	}
	np.from, np.to = at-1, at+1
	return np, true
}

// tellsApart tells whether a word before "one" is a part of the name of one of several like parts.
func tellsApart(word string) bool {
	return slices.Contains([]string{"reverse", "forward", "inlet", "outlet", "intake", "exhaust", "main", "pilot", "primary", "secondary", "high", "low", "supply", "return", "upper", "lower", "inner", "outer", "upstream", "downstream"}, word)
}

// ranOut reads what ran out of a part that was opened: "pulled the plug apart, green water ran out".
func (x *Extractor) ranOut(f *focus, s, _ *sentence) []*testFound {
	for i, t := range s.toks {
		if !slices.Contains([]string{"ran", "came", "poured", "dripped", "fell", "dribbled", "spilled", "gushed", "trickled"}, t.word) || i+1 >= len(s.toks) || s.toks[i+1].word != "out" || i < 1 || !isStray(s.toks[i-1].word) {
			continue
		}
		c := s.clauseAt(i)
		prior := s.clauseBefore(c.from)
		opened := slices.ContainsFunc(s.toks[prior.from:c.from], func(t token) bool {
			return slices.Contains([]string{"pulled", "opened", "undid", "removed", "unplugged", "disconnected", "took", "unscrewed", "split", "popped", "lifted"}, strings.ToLower(t.raw))
		})
		if !opened || s.negated(c.from, i) {
			continue
		}
		np, ok := nearestBefore(x.partsIn(s), prior.from, c.from)
		if !ok {
			np, ok = f.last()
		}
		if ok {
			return []*testFound{x.finding(s, f.complete(np, s), i-1, i+2, kb.Fail, "visual inspection")}
		}
	}
	return nil
}
