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

// ranOut reads what ran out of a part that was opened: "opened the motor and rusty water ran out".
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

// strangers reads a thing found where it does not belong: "there was a coin in it", "the pump had a sock stuck in it".
func (x *Extractor) strangers(f *focus, s, _ *sentence) []*testFound {
	for i := 2; i+1 < len(s.toks); i++ {
		if s.toks[i].word != "in" || s.toks[i+1].word != "it" && s.toks[i+1].word != "there" || i+2 < len(s.toks) && !s.toks[i+2].mark && !isConjunction(s.toks[i+2].word) {
			continue
		}
		thing := i - 1
		for thing > 0 && slices.Contains([]string{"stuck", "jammed", "lodged", "wedged", "caught", "wrapped", "inside"}, s.toks[thing].word) {
			thing--
		}
		c := s.clauseAt(i)
		there := slices.ContainsFunc(s.toks[c.from:thing], func(t token) bool { return slices.Contains([]string{"there", "had", "found", "was"}, t.word) })
		article := thing > c.from && (kb.IsArticle(s.toks[thing-1].word) || thing < i-1 || thing > c.from+1 && kb.IsArticle(s.toks[thing-2].word))
		if !there || !article || s.negated(c.from, i) || isConsumable(s.toks[thing].word) || x.headKnown(s.toks[thing].word) && x.v.CanonicalComponent(s.toks[thing].word) != "foreign object" {
			continue
		}
		np, ok := nearestBefore(x.partsIn(s), 0, thing)
		if !ok {
			np, ok = f.last()
		}
		if ok {
			return []*testFound{x.finding(s, f.complete(np, s), thing-1, i+2, kb.Fail, "visual inspection")}
		}
	}
	return nil
}

// openedAndFound reads a part that was opened or taken off with what was found in it: "cut the filter open and found glitter", "stripped
// the pump, found a broken vane".
func (x *Extractor) openedAndFound(f *focus, s *sentence, i int) *testFound {
	if !slices.Contains([]string{"opened", "cut", "stripped", "split", "pulled", "removed", "dismantled", "took", "dropped", "unbolted", "popped", "undid", "lifted"}, strings.ToLower(s.toks[i].raw)) || s.clauseAt(i).kind != told {
		return nil
	}
	objects, end := x.objectsAfter(s, i+1)
	if len(objects) != 1 || !slices.ContainsFunc(x.partsIn(s), func(p nounPhrase) bool { return p.from == objects[0].from }) {
		return nil
	}
	for j := end; j < min(end+5, len(s.toks)); j++ {
		if w := s.toks[j].word; w != "found" && w != "saw" && w != "discovered" || s.negated(end, j) {
			continue
		}
		for k := j + 1; k < min(j+6, len(s.toks)) && !s.toks[k].mark; k++ {
			if w := s.toks[k].word; isFlaw(w) || isStray(w) || isDamage(w) {
				return x.finding(s, f.complete(objects[0], s), i, k+1, kb.Fail, "visual inspection")
			}
		}
	}
	return nil
}
