package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// findings reads checks whose result stands apart from the part, by how the sentence is built: "checked the fuse, good",
// "fuse ok", "no cracks in the hose", "no power at the pump", "the pump runs off a battery".
func (x *Extractor) findings(f *focus, s, next *sentence, have []*testFound, fixes []*fixFound) []*testFound {
	if s.asked || s.place == RegionHeading {
		return nil
	}
	var out []*testFound
	for _, read := range []func(*focus, *sentence, *sentence) []*testFound{x.checkedThenSaid, x.bareVerdicts, x.flawsIn, x.flawsOf, x.untold, x.tooParts, x.blownThrough, x.ranOut, x.supplies, x.continuities, x.driven, x.ruledOut, x.disturbed, x.inAndOut} {
		for _, t := range read(f, s, next) {
			if x.findingStands(s, t, have, fixes) && x.findingStands(s, t, out, nil) {
				out = append(out, t)
			}
		}
	}
	return out
}

// findingStands tells whether a finding says something that no other test or fix of the sentence says already.
func (x *Extractor) findingStands(s *sentence, t *testFound, have []*testFound, fixes []*fixFound) bool {
	if c := s.clauseAt(t.from); c.kind != told && t.result != kb.Inconclusive || isFluidWord(t.comp) || isConsumable(t.comp) {
		return false
	}
	if slices.ContainsFunc(have, func(o *testFound) bool { return o.comp == t.comp || x.sameThing(o.comp, t.comp) }) {
		return false
	}
	return !slices.ContainsFunc(fixes, func(fx *fixFound) bool { return fx.from < t.to && t.from < fx.to && !fx.trial })
}

// finding builds the test that a reader found, named after the method that the sentence tells of.
func (x *Extractor) finding(s *sentence, np nounPhrase, from, to int, r kb.Result, otherwise string) *testFound {
	t := &testFound{sent: s, from: max(min(from, np.from), 0), to: min(max(to, np.to), len(s.toks)), comp: np.name, known: np.known, result: r}
	if np.from > len(s.toks) {
		t.from, t.to = from, to
	}
	t.name, t.method = x.methodIn(s, otherwise)
	return t
}

// partsIn gives the components of a sentence that a check can be of.
func (x *Extractor) partsIn(s *sentence) []nounPhrase {
	return slices.DeleteFunc(x.components(s), func(np nounPhrase) bool {
		return isConsumable(np.name) || isTool(np) || isFluidWord(np.name) || isRating(np.raw)
	})
}

// isRating tells whether a name is a mere rating: "12 v".
func isRating(raw string) bool {
	number, unit, ok := strings.Cut(raw, " ")
	return ok && (unit == "v" || unit == "a" || unit == "volt" || unit == "amp") && strings.Trim(number, "0123456789.") == ""
}

// checkedThenSaid reads a verb of testing with its objects and what is said of them after it: "checked fuse and relay, all
// fine", "looked at the belt and it is cracked", "inspected the hoses, found no cracks".
func (x *Extractor) checkedThenSaid(f *focus, s, next *sentence) []*testFound {
	var out []*testFound
	for i := range s.toks {
		verbEnd := s.checkVerb(i)
		if verbEnd == 0 || s.clauseAt(i).kind != told || s.negated(max(s.clauseAt(i).from, i-3), i) {
			continue
		}
		objects, end := x.checkedParts(s, verbEnd)
		if np, ok := x.hadChecked(s, i); ok && len(objects) == 0 {
			objects, end = []nounPhrase{np}, verbEnd
		}
		if len(objects) == 0 {
			continue
		}
		result, to := s.saidOfIt(end, len(objects) > 1)
		if result == "" && s.onlyMarks(end) && next != nil && next.post == s.post && len(next.toks) <= 7 && !next.asked && len(x.partsIn(next)) == 0 {
			result, _ = next.saidOfIt(0, len(objects) > 1)
			to = len(s.toks)
		}
		if result == "" {
			continue
		}
		for _, np := range objects {
			out = append(out, x.finding(s, f.complete(np, s), i, to, result, "visual inspection"))
		}
	}
	return out
}

// hadChecked gives the part of "had the battery tested", where the verb of testing stands after it.
func (x *Extractor) hadChecked(s *sentence, verb int) (nounPhrase, bool) {
	np, ok := nearestBefore(x.partsIn(s), s.clauseAt(verb).from, verb)
	if !ok || np.to != verb {
		return np, false
	}
	i := np.from - 1
	for i > 0 && isDeterminer(s.toks[i].word) {
		i--
	}
	return np, i >= 0 && slices.Contains([]string{"had", "got", "have", "having"}, s.toks[i].word)
}

// tooParts reads a part that shares the judgement before it: "battery tested good, alternator too".
func (x *Extractor) tooParts(f *focus, s, _ *sentence) []*testFound {
	var out []*testFound
	parts := x.partsIn(s)
	for i, c := range s.clauses {
		if i == 0 {
			continue
		}
		last := c.to - 1
		for last > c.from && s.toks[last].mark {
			last--
		}
		if w := s.toks[last].word; w != "too" && w != "likewise" && w != "ditto" && !(w == "well" && s.toks[last-1].word == "as") {
			continue
		}
		before := s.verdicts(s.clauses[i-1].from, s.clauses[i-1].to)
		np, ok := nearestBefore(parts, c.from, last)
		if len(before) == 0 || !ok || np.oblique || last-np.to > 1 || !s.onlyOpens(c.from, np.from) {
			continue
		}
		if _, named := nearestBefore(parts, s.clauses[i-1].from, before[0].from); named {
			out = append(out, x.finding(s, f.complete(np, s), np.from, last+1, before[0].result, "visual inspection"))
		}
	}
	return out
}

// blownThrough reads where smoke or bubbles of a leak test came out, and what spraying a joint did: "smoke came out of the boot", "sprayed
// cleaner round the manifold and the revs went up". A spray that changes nothing may have missed the leak, so that it tells nothing.
func (x *Extractor) blownThrough(f *focus, s, _ *sentence) []*testFound {
	for i, t := range s.toks {
		smoke := slices.Contains([]string{"smoke", "bubble", "bubbling", "hissing", "fizzing"}, t.word)
		spray := slices.Contains([]string{"sprayed", "squirted", "misted"}, strings.ToLower(t.raw))
		if !smoke && !spray {
			continue
		}
		for _, np := range x.partsIn(s) {
			at := s.prepositionBefore(np.from, "of", "from", "at", "round", "around", "over", "on", "along")
			if at <= i || at-i > 6 || np.from >= s.clauseAt(at).to || isTailPipe(np.name) {
				continue
			}
			part := f.complete(x.knownOf(np, ""), s)
			if smoke && s.toks[at].word != "round" {
				return []*testFound{x.finding(s, part, i, np.to, passIf(s.negated(max(i-4, 0), i)), "smoke test")}
			}
			if r, end := s.sprayed(np.to); spray && r != "" {
				return []*testFound{x.finding(s, part, i, end, r, "spray test")}
			}
		}
	}
	return nil
}

// isTailPipe tells whether smoke or bubbles from something are a symptom rather than the result of a leak test.
func isTailPipe(name string) bool {
	return slices.Contains([]string{"exhaust", "tailpipe", "exhaust pipe", "engine", "engine bay", "bonnet", "hood", "dashboard", "vent"}, name)
}

// sprayed gives what the words after a spray say of its effect.
func (s *sentence) sprayed(i int) (kb.Result, int) {
	for j := i; j < len(s.toks); j++ {
		switch s.toks[j].word {
		case "nothing", "no", "never", "didnt", "same":
			return kb.Inconclusive, j + 1
		case "rose", "climbed", "changed", "smoothed", "jumped", "surged", "dropped", "stumbled", "up":
			return kb.Fail, j + 1
		}
	}
	return "", i
}

// checkVerb gives the token after a verb in the past that tells of a check beginning at token i, 0 if there is none.
func (s *sentence) checkVerb(i int) int {
	next := ""
	if i+1 < len(s.toks) {
		next = s.toks[i+1].word
	}
	raw := strings.ToLower(s.toks[i].raw)
	switch raw {
	case "checked", "tested", "inspected", "examined", "verified", "metered", "ohmed", "scoped", "rechecked", "retested", "measured", "checking", "testing", "probed", "meggered":
		if next == "out" || next == "over" || next == "on" {
			return i + 2
		}
		return i + 1
	case "looked":
		if slices.Contains([]string{"at", "over", "in", "inside"}, next) {
			return i + 2
		}
	case "went", "gone":
		if slices.Contains([]string{"over", "through"}, next) {
			return i + 2
		}
	}
	return 0
}

// checkedParts gives what a verb of testing acts on: the components after it, or, for "checked for leaks at the pump", the one
// after the preposition.
func (x *Extractor) checkedParts(s *sentence, at int) ([]nounPhrase, int) {
	parts := x.partsIn(s)
	objects, end := x.objectsAfter(s, at)
	objects = slices.DeleteFunc(objects, func(np nounPhrase) bool {
		return !slices.ContainsFunc(parts, func(p nounPhrase) bool { return p.from <= np.from && p.to >= np.to })
	})
	if len(objects) > 0 || at >= len(s.toks) || s.toks[at].word != "for" {
		return objects, end
	}
	for _, np := range parts {
		if np.from > at && s.prepositionBefore(np.from, "in", "at", "on", "around", "from", "inside", "under") > at && np.to <= s.clauseAt(at).to && np.from-at <= 7 {
			return []nounPhrase{np}, np.to
		}
	}
	return nil, at
}

// onlyMarks tells whether nothing but marks stands from token i to the end.
func (s *sentence) onlyMarks(i int) bool { return !hasWord(s.toks[min(i, len(s.toks)):]) }

// saidOfIt gives the judgement that begins at token i and speaks of what was named before it: a bare word of judgement, one tied by
// a pronoun ("and it is cracked"), or what was (not) found. Of several parts only "all", "both", "they" or a bare word speaks.
func (s *sentence) saidOfIt(i int, several bool) (kb.Result, int) {
	i = s.pastPlace(i)
	j := i
	single := false
	for j < len(s.toks) && j-i < 8 && isLeadIn(s.toks[j]) {
		single = single || s.toks[j].word == "it" || s.toks[j].word == "that"
		j++
	}
	if j >= len(s.toks) || several && single {
		return "", i
	}
	if r, to := s.foundWords(j); r != "" {
		return r, to
	}
	for _, v := range s.verdicts(i, len(s.toks)) {
		if v.from >= i && v.from <= j && v.to > j {
			if w := s.toks[v.from].word; v.to-v.from == 1 && (w == "same" || w == "nothing" || w == "still" || w == "even") {
				return "", i
			}
			return v.result, v.to
		}
	}
	return "", i
}

// pastPlace gives the end of the clause where token i goes on with "from the switch to the pump", which only tells a place.
func (s *sentence) pastPlace(i int) int {
	if i < len(s.toks) && slices.Contains([]string{"from", "on", "in", "at", "between", "behind", "under", "to", "of", "for", "with", "by", "while", "when"}, s.toks[i].word) {
		if c := s.clauseAt(i); c.to < len(s.toks) {
			return c.to
		}
	}
	return i
}

// isLeadIn tells whether a token may stand between what was checked and the judgement on it.
func isLeadIn(t token) bool {
	if t.mark {
		return strings.ContainsAny(t.raw, ",;:()–—-…=")
	}
	return isCopula(t.word) || isAdverb(t.word) || slices.Contains([]string{"and", "but", "so", "it", "they", "all", "both", "everything", "that", "which", "these", "those", "each", "out", "to", "be", "still",
		"also", "just", "as", "far", "i", "can", "tell", "a", "bit", "very", "quite", "pretty", "really", "came", "come", "back", "turned", "nice", "totally", "said", "reported", "told", "me", "us", "too", "every", "one", "of", "them"}, t.word)
}

// foundWords reads "found none", "no cracks", "nothing wrong", "couldn't see any damage", "found a crack" at token i.
func (s *sentence) foundWords(i int) (kb.Result, int) {
	j, finds, denied := i, false, false
	for ; j < len(s.toks) && j-i < 5 && !s.toks[j].mark; j++ {
		w := s.toks[j].word
		switch {
		case slices.Contains([]string{"found", "find", "saw", "see", "spot", "spotted", "noticed", "with", "had", "showed", "there"}, w):
			finds = true
		case slices.Contains([]string{"couldnt", "didnt", "cant", "could", "did", "can", "not"}, w):
			denied = denied || isNegation(w)
		case slices.Contains([]string{"none", "nothing", "nowt"}, w):
			return kb.Pass, j + 1
		case w == "no" || w == "zero" || (w == "any" || w == "anything") && denied:
			if at := s.flawAfter(j + 1); at > 0 || w == "anything" {
				return kb.Pass, max(at, j+1)
			}
			return "", i
		case w == "i" || w == "we" || kb.IsArticle(w) || w == "some" || w == "was" || w == "were":
		case finds && isFlaw(w):
			return passIf(denied), j + 1
		default:
			return "", i
		}
	}
	return "", i
}

// flawAfter gives the token after a word for a flaw within three words of token i, 0 if there is none.
func (s *sentence) flawAfter(i int) int {
	for j := i; j < min(i+4, len(s.toks)) && !s.toks[j].mark; j++ {
		if isFlaw(s.toks[j].word) {
			return j + 1
		}
	}
	return 0
}

// bareVerdicts reads a part and a word of judgement that make a clause of their own, without a verb: "fuse ok, relay ok".
func (x *Extractor) bareVerdicts(f *focus, s, _ *sentence) []*testFound {
	parts := x.partsIn(s)
	var out []*testFound
	for _, v := range s.verdicts(0, len(s.toks)) {
		c := s.clauseAt(v.from)
		if v.to-v.from > 3 || !isPlainJudgement(s.toks[v.to-1].word) || !s.endsAt(v.to, c) {
			continue
		}
		np, ok := nearestBefore(parts, c.from, v.from)
		if !ok || !s.onlyBetween(np.to, v.from) || isUserLamp(np.raw) && v.result == kb.Pass {
			continue
		}
		list := x.listEnding(s, parts, np)
		if !s.onlyOpens(c.from, list[0].from) {
			continue
		}
		for _, part := range list {
			out = append(out, x.finding(s, x.wholeOf(f, s, parts, f.complete(part, s)), part.from, v.to, v.result, "visual inspection"))
		}
	}
	return out
}

// isPlainJudgement tells whether a word alone says that a part is good or bad, whatever it does.
func isPlainJudgement(word string) bool {
	return slices.Contains([]string{"ok", "okay", "fine", "good", "perfect", "great", "normal", "alright", "bad", "dead", "faulty", "shot", "toast", "healthy", "intact", "sound", "clean", "dry", "tight", "solid", "blown",
		"cracked", "broken", "burnt", "melted", "corroded", "worn", "seized", "blocked", "clogged", "split", "loose", "spec", "clicks", "clicking", "click", "works", "work", "working", "undamaged"}, word)
}

// endsAt tells whether a clause ends at token i but for a trailing "too" or "as well".
func (s *sentence) endsAt(i int, c clause) bool {
	for ; i < min(c.to, len(s.toks)); i++ {
		if t := s.toks[i]; !t.mark && !slices.Contains([]string{"too", "as", "well", "also", "now", "so", "far", "to", "me"}, t.word) {
			return false
		}
	}
	return true
}

// onlyBetween tells whether nothing but adverbs, "all" and the like stands between tokens.
func (s *sentence) onlyBetween(from, to int) bool {
	for i := from; i < to; i++ {
		if t := s.toks[i]; !isAdverb(t.word) && !t.hasDigit() && !slices.Contains([]string{"still", "also", "all", "both", "itself", "themselves", "is", "are", "was", "were", "look", "looks", "looked", "seem", "seems", "seemed", "too", "-", ":", "="}, t.word) {
			return false
		}
	}
	return true
}

// onlyOpens tells whether nothing but articles, joining words and numbers stands between tokens.
func (s *sentence) onlyOpens(from, to int) bool {
	for i := from; i < to; i++ {
		t := s.toks[i]
		if !t.mark && !kb.IsArticle(t.word) && !isConjunction(t.word) && !isStateWord(t.word) && !t.number() && !isDeterminer(t.word) && !slices.Contains([]string{"my", "mine", "our", "both", "is", "are", "well", "main", "no"}, t.word) {
			return false
		}
	}
	return true
}

// listEnding gives the components joined to np before it by commas and a last "and", in order; np alone if there are none.
func (x *Extractor) listEnding(s *sentence, parts []nounPhrase, np nounPhrase) []nounPhrase {
	list := []nounPhrase{np}
	for _, prior := range slices.Backward(parts) {
		if prior.to > list[0].from || !x.joined(s, prior.to, list[0].from) {
			continue
		}
		if len(list) == 1 && !slices.ContainsFunc(s.toks[prior.to:np.from], func(t token) bool { return t.word == "and" || t.raw == "&" || t.raw == "+" }) {
			break
		}
		list = append([]nounPhrase{prior}, list...)
	}
	return list
}
