package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// newParts reads "New X in", "a new X as well", "with the refurbished X": a part fitted without a verb for it.
func (x *Extractor) newParts(f *focus, s *sentence, have []*fixFound) []*fixFound {
	var out []*fixFound
	for i, t := range s.toks {
		if t.mark || !isNewWord(t.word) || coveredBy(have, i) || coveredBy(out, i) {
			continue
		}
		c := s.clauseAt(i)
		if s.asked || c.kind == foreignCase || s.disclaimed(c, i) || x.newBlocked(s, c, i) && !s.cureIs(i) && !s.neitherNew(c, i) {
			continue
		}
		if i > 0 && s.toks[i-1].word == "with" && slices.ContainsFunc(have, func(fx *fixFound) bool { return fx.to <= i && i-fx.to <= 2 && fx.from < i }) {
			continue // what a part was rebuilt with
		}
		np, ok := x.partAt(s, i+1)
		if one := s.oneAfter(i); one > 0 {
			if one+1 < len(s.toks) && slices.Contains([]string{"is", "are", "was", "were", "cost", "would"}, s.toks[one+1].word) {
				continue
			}
			if np, ok = nearestBefore(x.components(s), 0, i); !ok {
				np, ok = f.meant()
			}
			np.from, np.to = i, one+1
		}
		if !ok || isTool(np) || isConsumable(np.name) {
			continue
		}
		if np.from >= i && s.dies(np.to, c) {
			continue
		}
		if laidAside(s, np.to) || np.to < len(s.toks) && np.from >= i && isModal(s.toks[np.to].word) || s.hopedFor(c, i) {
			continue
		}
		np = f.complete(np, s)
		fx := &fixFound{sent: s, from: i, to: np.to, action: kb.Replace, comp: np.name, known: np.known, origin: originIn(s, i, np.to)}
		if whole, ok := x.mendedWhole(f, s, np); ok {
			fx.action, fx.comp, fx.known, fx.origin = kb.Repair, whole.name, whole.known, ""
		}
		out = append(out, fx)
		for _, more := range x.components(s) {
			if more.from >= np.to && x.joined(s, np.to, more.from) {
				out = append(out, &fixFound{sent: s, from: more.from, to: more.to, action: kb.Replace, comp: more.name, known: more.known})
				np = more
			}
		}
	}
	return out
}

// dies tells whether a verb in the present after a new part says what becomes of such parts in general, or what they cost.
func (s *sentence) dies(i int, c clause) bool {
	return slices.ContainsFunc(s.toks[min(i, len(s.toks)):max(c.to, i)], func(t token) bool {
		return slices.Contains([]string{"dies", "costs", "fails", "lasts"}, strings.ToLower(t.raw))
	})
}

// neitherNew tells whether only "neither" or "nor" stands against a new part, which then was fitted and did not help.
func (s *sentence) neitherNew(c clause, i int) bool {
	pair := slices.ContainsFunc(s.toks[max(c.from, i-3):i], func(t token) bool { return t.word == "neither" || t.word == "nor" })
	_, helped := s.deniedHelp()
	return pair && (helped > i || s.has(cueNoChange, c.from, len(s.toks))) && !s.wishedBefore(i)
}

// hopedFor tells whether the clause hopes for what a new part will do.
func (s *sentence) hopedFor(c clause, i int) bool {
	return slices.ContainsFunc(s.toks[c.from:i], func(t token) bool {
		return slices.Contains([]string{"hope", "hoping", "hopefully", "wish", "expect", "expecting", "wonder", "assuming", "thinking"}, t.word)
	})
}

// disclaimed tells whether a cue before token i says that the clause states no fact; what follows the token does not count.
func (s *sentence) disclaimed(c clause, i int) bool {
	for _, m := range s.mentions {
		if m.kind != termCue || m.from < c.from || m.from > i {
			continue
		}
		switch m.name {
		case cueIf, cueAdvice, cueGuess, cueHearsay, cueOther, cueGeneral:
			if !s.ownPast(c) {
				return true
			}
		case cuePlan:
			return !s.has(cueNoChange, c.from, len(s.toks))
		}
	}
	return false
}

// laidAside tells whether a new part was not fitted but lies somewhere: "in the basket", "still in its box".
func laidAside(s *sentence, at int) bool {
	for i := at; i < min(at+5, len(s.toks)); i++ {
		if slices.Contains([]string{"basket", "cart", "box", "shelf", "drawer", "post", "way"}, s.toks[i].word) && !s.toks[i].mark {
			return true
		}
	}
	return false
}

// oneAfter gives the token of "one" or "ones" that stands for a part after token i, 0 if there is none.
func (s *sentence) oneAfter(i int) int {
	if i+1 < len(s.toks) && (s.toks[i+1].word == "one" || s.toks[i+1].word == "ones") {
		return i + 1
	}
	return 0
}

// partAt gives the component that begins within two words of token i, else an unknown noun phrase there.
func (x *Extractor) partAt(s *sentence, i int) (nounPhrase, bool) {
	for i+1 < len(s.toks) && (isMakeWord(s.toks[i].word) || s.toks[i].word == "high" && isMakeWord(s.toks[i+1].word)) {
		i++
	}
	for _, np := range x.components(s) {
		if np.from >= i && np.from <= i+2 || np.from < i && np.to > i {
			if np.from < i {
				np.from = i
			}
			return np, true
		}
	}
	return x.unknownPhrase(s, i, min(i+5, len(s.toks)))
}

// isRemnant tells whether a phrase only speaks of a piece of what was spoken of before.
func isRemnant(raw string) bool {
	words := strings.Fields(raw)
	return len(words) > 0 && slices.Contains([]string{"half", "halve", "end", "side", "face", "surface", "part", "lot", "pair", "set", "bad", "bad bit", "rest", "other"}, words[len(words)-1])
}

// isMaterial tells whether a new part is what one mends another with: wire, terminals.
func isMaterial(raw string) bool {
	words := strings.Fields(raw)
	return len(words) > 0 && slices.Contains([]string{"wire", "terminal", "crimp", "splice", "spade", "lug", "eyelet", "ferrule", "pigtail", "solder", "length", "section", "bit", "piece", "end", "tape", "loom", "shrink", "sleeve"}, words[len(words)-1])
}

// mendedWhole gives the part that was mended where a verb or "new" speaks of the material only: "a new pigtail on the sensor plug", "new
// terminals". It is the one that the words tie the material to, else what was found bad last.
func (x *Extractor) mendedWhole(f *focus, s *sentence, np nounPhrase) (nounPhrase, bool) {
	if !isMaterial(np.raw) {
		return nounPhrase{}, false
	}
	if whole, ok := s.holderOf(x.components(s), np); ok && !isConsumable(whole.name) {
		return whole, true
	}
	return f.damaged()
}

func isNewWord(word string) bool {
	return slices.Contains([]string{"new", "replacement", "reconditioned", "refurbished", "secondhand", "rewound", "rebuilt", "used"}, word)
}

// newBlocked tells whether "new" does not speak of a part that was fitted.
func (x *Extractor) newBlocked(s *sentence, c clause, i int) bool {
	if s.toks[i].word == "used" && (i == 0 || !slices.Contains([]string{"a", "an", "another", "good", "cheap", "decent", "of", "with", "the", "fitted", "one"}, s.toks[i-1].word)) {
		return true // "I used vinegar" is no part
	}
	if i+1 < len(s.toks) && slices.Contains([]string{"to", "in", "here", "year", "member", "owner", "guy", "with", "for"}, s.toks[i+1].word) {
		return true
	}
	for j := max(c.from, i-5); j < i; j++ {
		w := s.toks[j].word
		if w == "bought" && s.has(cueNoChange, c.from, len(s.toks)) {
			continue
		}
		if (w == "come" || w == "came" || w == "passed" || w == "sold" || w == "delivered") && slices.ContainsFunc(s.toks[j:i], func(t token) bool { return t.word == "with" }) {
			return true // "returned from the painter with another door" tells what was so before
		}
		if isNegation(w) || slices.Contains([]string{"want", "wants", "need", "needs", "order", "ordered", "buy", "price", "quote", "quoted", "bought", "before",
			"than", "said", "says", "talking", "almost", "nearly", "wont", "cost"}, w) {
			return true
		}
	}
	if i > c.from+1 && isDoingWord(s.toks[i-1].word) && slices.Contains([]string{"to", "will", "would", "ll", "ill", "gonna", "should", "can", "could"}, s.toks[i-2].word) {
		return true // "never got round to fitting the brushes"
	}
	near := i - 1
	if near > c.from && kb.IsArticle(s.toks[near].word) {
		near--
	}
	return near >= c.from && slices.Contains([]string{"as", "like", "for", "since", "from", "is", "was", "are", "were", "when", "to", "after", "about", "it", "good"}, s.toks[near].word) && !(s.toks[near].word == "it" && s.toks[near].raw != "it")
}

func isDoingWord(word string) bool {
	return slices.Contains([]string{"put", "fit", "get", "buy", "install", "try", "replace", "order", "have", "use"}, word)
}

// boughtParts reads a part and its price at the beginning of a sentence without any verb: "diode set from a rewinder, 64 euro".
func (x *Extractor) boughtParts(s *sentence, have []*fixFound) []*fixFound {
	start := skipMarks(s, 0)
	if len(have) > 0 || s.asked || s.clauseAt(start).kind != told || !priceForm.MatchString(s.text[s.start:s.end]) {
		return nil
	}
	var out []*fixFound
	end := start
	for _, np := range x.components(s) {
		if len(out) == 0 && np.from > start+1 || len(out) > 0 && !x.joined(s, end, np.from) {
			break
		}
		out = append(out, &fixFound{sent: s, from: np.from, to: np.to, action: kb.Replace, comp: np.name, known: np.known})
		end = np.to
	}
	from := end < len(s.toks) && (s.toks[end].raw == "," || s.toks[end].word == "from" || s.toks[end].word == "off")
	if !from {
		return nil
	}
	return out
}

// boughtOne reads "suspected the relay, got one, no better": a part bought and, by what is said of its effect, fitted.
func (x *Extractor) boughtOne(f *focus, s *sentence, have []*fixFound) []*fixFound {
	if len(have) > 0 || s.asked {
		return nil
	}
	for i := range s.toks {
		if w := s.toks[i].word; w != "bought" && w != "got" || i+1 >= len(s.toks) || s.toks[i+1].word != "one" && !(i+2 < len(s.toks) && s.toks[i+2].word == "one") || s.negated(max(i-3, 0), i) {
			continue
		}
		effect := s.cueIn(cueNoChange, i, len(s.toks)) >= 0 || s.cueIn(cueFixed, i, len(s.toks)) >= 0
		np, ok := nearestBefore(x.components(s), 0, i)
		if !ok {
			np, ok = f.last()
		}
		if ok && effect && !isConsumable(np.name) {
			return []*fixFound{{sent: s, from: i, to: i + 2, action: kb.Replace, comp: np.name, known: np.known}}
		}
	}
	return nil
}

// doneParts reads "sump seal done", "purge kit in", "did the bearing": everyday ways to say that a part was renewed.
func (x *Extractor) doneParts(f *focus, s *sentence, have []*fixFound) []*fixFound {
	var out []*fixFound
	comps := x.components(s)
	for i, t := range s.toks {
		c := s.clauseAt(i)
		if t.mark || c.kind != told || s.asked || coveredBy(have, i) {
			continue
		}
		switch t.word {
		case "did", "done":
			if np, ok := x.didWhat(f, s, c, comps, i); ok && !slices.ContainsFunc(have, func(fx *fixFound) bool { return np.from < fx.to && fx.from < np.to }) {
				out = append(out, &fixFound{sent: s, from: min(i, np.from), to: max(i+1, np.to), action: kb.Replace, comp: np.name, known: np.known})
			}
		case "are", "is", "were":
			if i+1 < len(s.toks) && s.toks[i+1].word == "new" && (i+2 == len(s.toks) || s.toks[i+2].word != "to") {
				out = append(out, joinedBefore(x, s, comps, i)...)
			}
		case "in", "on":
			ends := i+1 == len(s.toks) || s.toks[i+1].mark || isConjunction(s.toks[i+1].word)
			if j := compEndingAt(comps, i); j >= 0 && ends && c.from >= comps[j].from-3 && !coveredBy(have, comps[j].from) && t.word == "in" {
				np := comps[j]
				out = append(out, &fixFound{sent: s, from: np.from, to: i + 1, action: kb.Replace, comp: np.name, known: np.known})
			}
		}
	}
	return out
}

// joinedBefore reads "hoses, belt and tensioner are new": every component of the row before the verb.
func joinedBefore(x *Extractor, s *sentence, comps []nounPhrase, verb int) []*fixFound {
	var out []*fixFound
	end := verb
	for _, np := range slices.Backward(comps) {
		if np.to != end && !(len(out) > 0 && x.joined(s, np.to, end)) {
			continue
		}
		out = append(out, &fixFound{sent: s, from: np.from, to: np.to, action: kb.Replace, comp: np.name, known: np.known})
		end = np.from
	}
	return out
}

func compEndingAt(comps []nounPhrase, at int) int {
	return slices.IndexFunc(comps, func(np nounPhrase) bool { return np.to == at })
}

// didWhat reads "did the X" and "X done".
func (x *Extractor) didWhat(f *focus, s *sentence, c clause, comps []nounPhrase, i int) (nounPhrase, bool) {
	if s.toks[i].word == "done" {
		if j := compEndingAt(comps, i); j >= 0 && !s.negated(c.from, i) {
			return comps[j], true
		}
		return nounPhrase{}, false
	}
	if s.negated(c.from, i+2) || i+1 >= len(s.toks) || !kb.IsArticle(s.toks[i+1].word) && s.toks[i+1].word != "both" {
		return nounPhrase{}, false
	}
	for _, np := range comps {
		if np.from > i && np.from <= i+5 && !x.breaks(s, i+1, np.from) {
			return np, true
		}
	}
	if s.toks[i+1].word == "both" {
		return f.last()
	}
	return nounPhrase{}, false
}

// originIn tells where a part came from by the words between from and to.
func originIn(s *sentence, from, to int) kb.Origin {
	for _, t := range s.toks[from:min(to, len(s.toks))] {
		switch t.word {
		case "new":
			return kb.NewPart
		case "used", "secondhand":
			return kb.UsedPart
		case "reconditioned", "rebuilt", "refurbished", "rewound", "reman", "remanufactured":
			return kb.RebuiltPart
		}
	}
	return ""
}

// isConsumable tells whether a name is of what one works with: nothing that is mended itself.
func isConsumable(name string) bool {
	words := strings.Fields(name)
	if len(words) == 0 {
		return true
	}
	switch words[len(words)-1] {
	case "cleaner", "spray", "vinegar", "soda", "compound", "solvent", "descaler", "tape", "sealant", "shrink", "pad", "brush", "cloth", "rag", "kettle", "heat", "toothbrush", "soap", "water", "tie":
		return words[0] != "cooling" && name != "coolant water" && name != "carbon brush" && name != "motor brush" && !(words[len(words)-1] == "brush" && !slices.Contains([]string{"wire", "soft", "paint", "nylon", "brass", "steel", "stiff", "old"}, words[0])) && !(words[len(words)-1] == "pad" && words[0] == "brake")
	}
	return false
}

// isTool tells whether what was put somewhere is an instrument, or nothing of the machine at all.
func isTool(np nounPhrase) bool {
	name := np.raw
	if name == "" {
		name = np.name
	}
	words := strings.Fields(name)
	if len(words) == 0 {
		return true
	}
	switch words[len(words)-1] {
	case "meter", "ohmmeter", "multimeter", "tester", "scope", "oscilloscope", "tool", "scanner", "scan", "reader", "torch", "megger", "clamp", "gun", "app", "code", "card", "camera", "smoke", "towel",
		"title", "post", "picture", "photo", "question", "video", "lot", "thing", "job", "work", "it", "stuff", "mile", "money", "bill", "dashboard", "page", "thread", "forum", "name", "answer",
		"reply", "test", "time", "house", "day", "fault", "problem", "error", "noise", "leak", "way", "bit", "gallon", "quart", "litre", "liter", "pint", "warranty", "car", "vehicle",
		"truck", "bike", "machine", "sort":
		return true
	case "gauge", "light", "lamp", "key", "engine", "tank":
		return len(words) == 1 && words[0] == "gauge"
	}
	return false
}
