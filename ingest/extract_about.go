package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// judged gives the component that a word of judgement speaks of: the nearest one before it in the clause that a verb ties to it, else
// the one after it ("a cracked seal"), else, where the clause names nothing itself, the one of a clause before; and how many words lie
// between.
func (x *Extractor) judged(f *focus, s *sentence, c clause, comps []nounPhrase, v verdict) (nounPhrase, int, bool) {
	if np, ok := nearestBefore(comps, c.from, v.from); ok && !(np.oblique && s.pronounIn(np.to, v.from)) {
		if s.tied(np.to, v.from, v.weak) {
			return np, s.gapTo(comps, np, v.from), v.from-np.to <= 7
		}
		return nounPhrase{}, 0, false
	}
	for _, np := range comps {
		if np.from >= v.to && np.from-v.to <= 1 && np.to <= c.to && v.result == kb.Fail && v.to-v.from == 1 && isDamage(s.toks[v.from].word) {
			return np, np.from - v.to, true
		}
	}
	if np, ok := x.oneOf(f, s, comps, c, v); ok {
		return np, 1, true
	}
	if v.weak && !s.pronounLeads(c, v) {
		return nounPhrase{}, 0, false
	}
	if s.namesNothing(c, v) {
		np, ok := priorPart(s, comps, c)
		if np.name != "" && !ok {
			return np, 0, false // of what is only advised or supposed
		}
		if ok {
			if s.pronounLeads(c, v) {
				return np, 1, true
			}
			return np, 3, true
		}
	}
	if v.to < len(s.toks) && s.toks[v.to].word == "it" && v.to-v.from >= 2 && v.result == kb.Fail {
		np, ok := f.last() // "could blow straight through it"
		return np, 4, ok
	}
	if first := s.toks[skipMarks(s, c.from)].word; first == "it" || first == "they" || first == "mine" {
		np, ok := f.last()
		return np, 4, ok && !v.weak && (v.result == kb.Fail || v.to-v.from == 1) && v.to-v.from < 3
	}
	return nounPhrase{}, 0, false
}

// pronounIn tells whether "it" or "they" begins a statement between two tokens: "behind the panel it had gone black".
func (s *sentence) pronounIn(from, to int) bool {
	for i := from; i+1 < to; i++ {
		if w := s.toks[i].word; (w == "it" || w == "they") && isCopula(s.toks[i+1].word) {
			return true
		}
	}
	return false
}

// priorPart gives the part that the clauses before c speak of: the nearest of those that the writer tells of.
func priorPart(s *sentence, comps []nounPhrase, c clause) (nounPhrase, bool) {
	for start, n := c.from, 0; start > 0 && n < 3; n++ {
		prior := s.clauseBefore(start)
		if np, ok := nearestBefore(comps, prior.from, prior.to); ok {
			return np, (prior.kind == told || prior.kind == planned) && !(np.oblique && s.pronounIn(np.to, prior.to))
		}
		if prior.to == 0 {
			break
		}
		start = prior.from
	}
	return nounPhrase{}, false
}

// pronounLeads tells whether a clause says its judgement straight of what was spoken of: "it is good", "they looked fine".
func (s *sentence) pronounLeads(c clause, v verdict) bool {
	i := skipMarks(s, c.from)
	if !slices.Contains([]string{"it", "they", "that", "those", "both", "all", "which", "these"}, s.toks[i].word) {
		return false
	}
	for j := i + 1; j < v.from; j++ {
		if w := s.toks[j].word; !isCopula(w) && !isAdverb(w) && !isNegation(w) && !slices.Contains([]string{"all", "both", "still", "also", "as", "very", "quite", "pretty", "in"}, w) {
			return false
		}
	}
	return true
}

// isRunningVerb tells whether a verb says that a part does its work, which a judgement then qualifies: "flows freely", "seals all round".
func isRunningVerb(word string) bool {
	return slices.Contains([]string{"work", "works", "seal", "seals", "flow", "flows", "slide", "slides", "rotate", "rotates", "swing", "swings", "spin", "spins", "turn", "turns", "pull", "pulls", "close", "closes", "click", "clicks", "pump", "pumps", "run", "runs", "moves", "move"}, word)
}

// isBackWord tells whether a small word points back to what was spoken of, or may stand beside such a word.
func isBackWord(word string) bool {
	return slices.Contains([]string{"number", "no", "it", "they", "which", "one", "ones", "all", "both", "these", "those", "still", "also", "as", "very", "quite", "pretty", "really", "so", "in", "of", "them", "there", "too", "just", "bit", "i", "we", "he", "could", "can", "see", "half", "right",
		"through", "out", "up", "off", "back", "inside", "down"}, word)
}

// namesNothing tells whether the words of a clause before its judgement name no other thing that it can speak of: pronouns, verbs and
// small words only ("and it was split", "which is bone dry", "since the old seal was cracked").
func (s *sentence) namesNothing(c clause, v verdict) bool {
	for i := skipMarks(s, c.from); i < v.from; i++ {
		t := s.toks[i]
		if t.word == "that" && i+1 < len(s.toks) && isCopula(s.toks[i+1].word) {
			continue
		}
		if t.word == "its" || t.word == "their" {
			for i+1 < v.from && !isCopula(s.toks[i+1].word) {
				i++ // what is of the part spoken of
			}
			continue
		}
		if t.mark || isCopula(t.word) || isAdverb(t.word) || isNegation(t.word) || kb.IsArticle(t.word) || isConjunction(t.word) || isStateWord(t.word) || isFlaw(t.word) || isPast(strings.ToLower(t.raw)) || isBackWord(t.word) || isRunningVerb(t.word) {
			continue
		}
		return false
	}
	return true
}

// tied tells whether the words between a component and a judgement tie the two: a verb of being or seeming, a colon, or
// nothing at all.
func (s *sentence) tied(from, to int, weak bool) bool {
	if from >= to {
		return !weak || s.place == RegionItem || s.place == RegionCell || to == len(s.toks)-1
	}
	if raw := s.toks[from-1].raw; strings.HasSuffix(raw, "'s") || strings.HasSuffix(raw, "’s") {
		return true
	}
	for i := from; i < to; i++ {
		t := s.toks[i]
		if t.raw == ":" || t.raw == "=" || isCopula(t.word) {
			return true
		}
	}
	return to-from <= 1 && !weak && !s.toks[from].mark
}

func isCopula(word string) bool {
	return slices.Contains([]string{"is", "was", "were", "are", "look", "looked", "has", "have", "had", "seem", "seemed", "feel", "felt", "got", "gone", "went", "came", "been", "be",
		"isnt", "wasnt", "arent", "werent", "read", "measure", "measured", "test", "tested", "turned", "move", "moves", "came", "showed", "show", "stay", "hasnt", "did", "does"}, word)
}

// isDamage tells whether a word for damage may stand before a part's name: "a cracked seal".
func isDamage(word string) bool {
	return slices.Contains([]string{"cracked", "split", "broken", "snapped", "bent", "burnt", "burned", "melted", "corroded", "rusted", "rusty", "worn", "chafed", "frayed", "torn",
		"perished", "leaking", "blocked", "clogged", "seized", "collapsed", "loose", "blown", "rotten", "punctured", "fouled", "shorted"}, word)
}

func skipMarks(s *sentence, i int) int {
	for i+1 < len(s.toks) && (s.toks[i].mark || isConjunction(s.toks[i].word)) {
		i++
	}
	return i
}
