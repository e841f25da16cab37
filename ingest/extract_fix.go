package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// fixFound is a maintenance action that the writer says was done.
type fixFound struct {
	sent     *sentence
	index    int // of the sentence in the person's own
	from, to int // tokens
	action   kb.Action
	comp     string
	known    bool
	trial    bool // isolating or exchanging to see what happens: a fix only if it cured
	outcome  kb.Outcome
	origin   kb.Origin
	settled  *sentence // where the outcome stands
	credited bool
	weak     bool // told by a word that alone does not say that it was done: a fix only if its effect is told
	shared   bool // done together with others, of which nothing tells it apart but the order
}

// fixesIn finds the actions done in a sentence, in order.
func (x *Extractor) fixesIn(f *focus, s *sentence, index int) []*fixFound {
	var out []*fixFound
	for _, m := range s.mentions {
		if m.kind == kb.TermAction && !x.insideComponent(s, m) && !s.insideCue(m) {
			out = append(out, x.actionAt(f, s, m)...)
		}
	}
	if cleared := x.clearedParts(f, s, out); len(cleared) > 0 {
		out = append(slices.DeleteFunc(out, func(fx *fixFound) bool { return fx.action == kb.Other }), cleared...)
	}
	if set := x.programmed(f, s, out); len(set) > 0 {
		out = append(slices.DeleteFunc(out, func(fx *fixFound) bool {
			return fx.from < set[0].to && set[0].from < fx.to || fx.action == kb.Reprogram
		}), set...)
	}
	out = append(out, x.newParts(f, s, out)...)
	out = append(out, x.doneParts(f, s, out)...)
	out = append(out, x.listedParts(s, out)...)
	out = append(out, x.boughtParts(s, out)...)
	out = append(out, x.boughtOne(f, s, out)...)
	out = append(out, x.continued(f, s, out)...)
	out = slices.DeleteFunc(out, func(fx *fixFound) bool { return !fx.known && !x.headKnown(fx.comp) && !isPartHead(lastWord(fx.comp)) })
	slices.SortStableFunc(out, func(a, b *fixFound) int { return a.from - b.from })
	for _, fx := range out {
		fx.index = index
		f.lastAction, f.lastFix = fx.action, index
	}
	return out
}

// continued reads "then the coolant pump, same result": a further repair by the verb of the sentence before.
func (x *Extractor) continued(f *focus, s *sentence, have []*fixFound) []*fixFound {
	if len(have) > 0 || f.lastAction != kb.Replace || s.asked || !s.effectAfter(0) {
		return nil
	}
	i := skipMark(s, 0)
	if !slices.Contains([]string{"then", "next", "also", "followed", "finally", "and", "after"}, s.toks[i].word) {
		return nil
	}
	for _, np := range x.components(s) {
		if np.from <= i+4 && np.known && !np.oblique && s.clauseAt(np.from).kind == told && (np.to == len(s.toks) || s.toks[np.to].mark) {
			return []*fixFound{{sent: s, from: np.from, to: np.to, action: kb.Replace, comp: np.name, known: true}}
		}
	}
	return nil
}

// insideCue tells whether an action word is a part of what is said of an effect: "it changed nothing".
func (s *sentence) insideCue(m mention) bool {
	return m.to-m.from == 1 && slices.ContainsFunc(s.mentions, func(k mention) bool {
		return k.kind == termCue && k.name == cueNoChange && k.from <= m.from && k.to > m.to
	})
}

// listedParts reads a part that a list of repairs names first without a verb: "spark plugs - no difference".
func (x *Extractor) listedParts(s *sentence, have []*fixFound) []*fixFound {
	if len(have) > 0 || !s.reportsWork() || !s.has(cueNoChange, 0, len(s.toks)) && !s.has(cuePartial, 0, len(s.toks)) && !s.has(cueFixed, 0, len(s.toks)) {
		return nil
	}
	for _, np := range x.components(s) {
		if np.from <= skipMarks(s, 0) && np.known {
			return []*fixFound{{sent: s, from: np.from, to: np.to, action: kb.Replace, comp: np.name, known: true}}
		}
	}
	return nil
}

// insideComponent tells whether an action word is a part of a component's name ("seal", "brake cleaner").
func (x *Extractor) insideComponent(s *sentence, m mention) bool {
	return slices.ContainsFunc(s.mentions, func(c mention) bool {
		return c.kind == kb.TermComponent && c.from <= m.from && c.to >= m.to && c.to-c.from >= m.to-m.from && !isPast(strings.ToLower(s.toks[m.from].raw))
	})
}

// actionAt reads what one verb says was done: to what stands after it, else, for a passive, to what stands before it.
func (x *Extractor) actionAt(f *focus, s *sentence, m mention) []*fixFound {
	c := s.clauseAt(m.from)
	if !x.wasDone(s, c, m) || s.shiftsGear(m) || s.blowTest(m) || s.toks[m.from].word == "cleared" && !x.clearsPart(f, s, m) {
		return nil
	}
	at := x.chainEnd(s, m)
	objects, end := x.objectsAfter(s, at)
	if s.toks[m.to-1].word == "by" || at < len(s.toks) && s.toks[at].word == "by" {
		objects, end = nil, at // "was replaced by our fitter"
	}
	if inside := x.objectInside(s, m); len(inside) > 0 {
		objects, end = inside, m.to
	}
	if len(objects) == 1 && !objects[0].known && objects[0].to < len(s.toks) && s.toks[objects[0].to].word == "one" {
		objects = nil // "an inline one"
	}
	if len(objects) == 0 {
		if np, ok := x.subjectBefore(s, c, m.from); ok {
			objects, end = []nounPhrase{np}, m.to
		} else if np, ok := x.labelBefore(s, c, m.from); ok {
			objects, end = []nounPhrase{np}, m.to
		} else if np, ok := x.remnantAfter(f, s, m); ok {
			objects, end = []nounPhrase{np}, m.to
		} else if np, ok := x.justFound(f, s, m); ok {
			objects, end = []nounPhrase{np}, m.to
		} else if all, ok := f.pronouns(s, x.components(s), m.from, at); ok && !s.clearsCode(m) {
			objects, end = all, min(m.to+1, len(s.toks))
			if np, blamed := x.blamedBefore(f, s, m.from); blamed {
				objects = []nounPhrase{np}
			}
		}
	}
	if len(objects) == 0 && kb.Action(m.name) == kb.Reprogram && strings.HasPrefix(s.words(m.from, m.to), "re") {
		objects = []nounPhrase{x.programmedPart(f, s, m.from, m.to)}
	}
	var out []*fixFound
	for _, np := range objects {
		if isTool(np) || isConsumable(np.name) || foreignMatter(lastWord(np.raw)) && kb.Action(m.name) != kb.Clean {
			continue
		}
		np = f.complete(np, s)
		if !isConnector(np.raw) {
			np = x.wholeOf(f, s, x.components(s), np)
		}
		if whole, ok := x.takenApart(s, m.from); ok && !np.known && kb.Action(m.name) == kb.Repair {
			np.name, np.known = whole.name, whole.known
		}
		if isRemnant(np.raw) {
			whole, ok := nearestBefore(x.components(s), 0, m.from)
			if !ok {
				whole, ok = f.meant()
			}
			if !ok {
				continue
			}
			np.name, np.known = whole.name, whole.known
		}
		fx := &fixFound{sent: s, from: min(m.from, max(np.from, 0)), to: max(end, m.to), action: kb.Action(m.name), comp: np.name, known: np.known}
		fx.origin = originIn(s, m.from, end)
		fx.trial = fx.action == kb.Other || s.has(cueSwap, c.from, c.to)
		x.refineAction(s, m, fx)
		if f.gap && (fx.action == kb.Refit || fx.action == kb.Other) {
			fx.action, fx.trial = kb.Adjust, false
		}
		if f.gapOf.name != "" && isGap(fx.comp) && np.raw == "" {
			fx.comp, fx.known = f.gapOf.name, f.gapOf.known
		}
		if fx.action == kb.Adjust || fx.action == kb.Refit || fx.action == kb.Other {
			x.adjustWhole(f, s, np, fx)
		}
		if whole, ok := x.mendedWhole(f, s, np); ok && (fx.action == kb.Replace || fx.action == kb.Repair) {
			fx.action, fx.comp, fx.known, fx.origin = kb.Repair, whole.name, whole.known, ""
		}
		out = append(out, fx)
	}
	return out
}

// remnantAfter gives what was mended where the verb only names the piece let in or cut out: "soldered in a new piece", "cut the bad bit
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

// blowTest tells whether somebody blew through a part to see whether it is open: "blew through it both ways".
func (s *sentence) blowTest(m mention) bool {
	return strings.HasPrefix(s.words(m.from, m.to), "blew") && slices.ContainsFunc(s.toks[m.to:min(m.to+4, len(s.toks))], func(t token) bool {
		return t.word == "both" || t.word == "either" || t.word == "freely" || t.word == "easily"
	})
}

// clearsPart tells whether "cleared" speaks of a part that was blocked, not of a code.
func (x *Extractor) clearsPart(f *focus, s *sentence, m mention) bool {
	if s.clearsCode(m) {
		return false
	}
	if m.to < len(s.toks) && isPronoun(s.toks[m.to].word) {
		return f.bad.name != "" && f.badAge == 0 && f.blocked || f.littered.name != "" && f.litterAge <= 1
	}
	objects, _ := x.objectsAfter(s, m.to)
	if len(objects) > 0 && objects[0].from > m.to && !isDeterminer(s.toks[m.to].word) || len(objects) > 0 && objects[0].from == m.to && m.from+1 == m.to && s.toks[m.to].word == objects[0].name {
		return false
	}
	return len(objects) > 0 && objects[0].known && !foreignMatter(objects[0].raw) && !foreignMatter(lastWord(objects[0].name)) && objects[0].name != "foreign object"
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
	if f.bad.name == "" || f.badAge > 0 {
		return nounPhrase{}, false
	}
	return nounPhrase{from: m.from, to: m.to, name: f.bad.name, known: f.bad.known}, true
}

// clearsCode tells whether an action only takes a code out of a memory.
func (s *sentence) clearsCode(m mention) bool {
	return slices.ContainsFunc(s.toks[m.from:min(m.to+2, len(s.toks))], func(t token) bool {
		return slices.Contains([]string{"code", "fault", "dtc", "error", "light", "memory", "lamp", "warning"}, t.word)
	}) && (kb.Action(m.name) == kb.Other || s.toks[m.from].word == "cleared")
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

// shiftsGear tells whether "put it in" goes on with where: "put it in reverse" is how a machine is driven.
func (s *sentence) shiftsGear(m mention) bool {
	return m.to < len(s.toks) && s.words(m.from, m.to) == "put it in" && !s.toks[m.to].mark && !isConjunction(s.toks[m.to].word) &&
		(len(s.toks[m.to].word) == 1 || slices.Contains([]string{"gear", "reverse", "forward", "drive", "neutral", "park", "first", "low"}, s.toks[m.to].word))
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

// refineAction settles verbs that mean more than one action.
func (x *Extractor) refineAction(s *sentence, m mention, fx *fixFound) {
	verb := strings.ToLower(s.toks[m.from].raw)
	if slices.Contains([]string{"rewound", "rebuilt", "reconditioned", "refurbished", "recon"}, verb) && !s.ownBefore(m.from) {
		fx.action, fx.origin = kb.Replace, kb.RebuiltPart
	}
	if (verb == "moved" || verb == "shifted") && s.has2(fx.to, "to", "closer", "away", "back") {
		fx.action, fx.trial = kb.Adjust, false
	}
	if slices.Contains([]string{"swapped", "swopped", "swapping", "swap"}, verb) {
		fx.trial = fx.trial && !s.newFor(m.from, s.clauseAt(m.from)) || m.to-m.from == 1 && !s.newFor(m.from, s.clauseAt(m.from))
	}
	if verb == "tried" || verb == "put" && slices.Contains([]string{"in", "on"}, s.toks[m.to-1].word) && s.toks[m.from+1].word == "the" {
		fx.weak = true
	}
	if slices.Contains([]string{"loosened", "slackened", "raised", "lowered"}, verb) {
		fx.weak = true // often a step on the way to something else
	}
	if fx.action == kb.Bypass && (verb == "shorted" || verb == "unplugged") {
		fx.action, fx.trial = kb.Other, true
	}
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

// ownBefore tells whether somebody who acts stands before token i: "I rebuilt", "they rewound".
func (s *sentence) ownBefore(i int) bool {
	for j := max(i-3, 0); j < i; j++ {
		if isFirstPerson(s.toks[j].word) && s.toks[j].word != "my" && s.toks[j].word != "our" {
			return true
		}
	}
	return false
}

// wasDone tells whether the verb of a mention states a thing done, by its form and by what stands before it.
func (x *Extractor) wasDone(s *sentence, c clause, m mention) bool {
	if s.asked && c.to >= len(s.toks)-2 || c.kind == foreignCase {
		return false
	}
	if s.cureIs(m.from) {
		return true
	}
	for _, k := range []string{cueIf, cueAdvice, cueGuess, cueHearsay} {
		if i := s.cueIn(k, c.from, c.to); i >= 0 && s.mentions[i].from <= m.from {
			if k != cueHearsay && k != cueGuess || !s.ownPast(c) {
				return false
			}
		}
	}
	if i := s.cueIn(cuePlan, c.from, c.to); i >= 0 && s.mentions[i].from < m.from+1 && !s.has(cueNoChange, c.to, len(s.toks)) {
		return false
	}
	verb := s.verbAt(m.from)
	before := s.wordsBefore(c, m.from, 4)
	if s.gerundSubject(c, m) {
		return true
	}
	if slices.ContainsFunc(before, blocksDoing) {
		return false
	}
	prev := ""
	if len(before) > 0 {
		prev = before[len(before)-1]
	}
	if (prev == "it" || prev == "she") && slices.Contains([]string{"drained", "emptied", "filled", "charged", "primed", "bled", "cleaned", "cleared"}, verb) && m.to-m.from == 1 {
		return false // what the machine did
	}
	if slices.Contains([]string{"soldered", "sealed", "crimped", "sleeved", "taped", "welded"}, verb) && m.to < len(s.toks) && isJoiningWord(s.toks[m.to].word) && slices.ContainsFunc(s.toks[max(m.from-5, 0):m.from], func(t token) bool { return t.word == "with" || t.word == "and" }) {
		return false // "repaired it with soldered joints and sealed sleeves"
	}
	if verb == "welded" && slices.Contains([]string{"was", "were", "is", "are", "had"}, prev) {
		return false // what was found: "the contacts were welded"
	}
	if verb == "stuck" && !slices.Contains([]string{"", "i", "we", "he", "they", "and", "then", "just", "she", "dealer", "shop", "garage"}, prev) {
		return false // "a leaf was stuck in the fan"
	}
	switch {
	case strings.HasSuffix(verb, "ing"):
		return slices.Contains([]string{"after", "by", "tried", "finished", "started"}, prev) || strings.HasPrefix(s.words(max(m.from-2, 0), m.from), "ended up")
	case isPast(verb):
		return prev != "be" && prev != "get" && prev != "being"
	}
	return x.baseDone(s, m, before, prev)
}

// isJoiningWord tells whether a word in the singular names a joint or what one joins with.
func isJoiningWord(word string) bool {
	return word == "joint" || word == "connection" || isMaterial(word)
}

// verbAt gives the verb at token i in small letters; of "re-attached" the second half, which shows its form.
func (s *sentence) verbAt(i int) string {
	if s.toks[i].word == "re" && i+1 < len(s.toks) {
		i++
	}
	return strings.ToLower(s.toks[i].raw)
}

// gerundSubject tells whether the verb is what the sentence says had an effect: "replacing the valve cured it", "neither cleaning nor
// replacing it helped", "fixed by replacing the valve".
func (s *sentence) gerundSubject(c clause, m mention) bool {
	if !strings.HasSuffix(s.toks[m.from].word, "ing") || m.from > 0 && isModal(s.toks[m.from-1].word) {
		return false
	}
	opens := true
	for i := c.from; i < m.from; i++ {
		t := s.toks[i]
		opens = opens && (t.mark || isConjunction(t.word) || slices.Contains([]string{"neither", "nor", "just", "simply", "even", "not", "then", "so", "in", "end", "the", "also", "only", "first", "by"}, t.word))
	}
	neither := slices.ContainsFunc(s.toks[:m.from], func(t token) bool { return t.word == "neither" || t.word == "nor" })
	return (opens || neither) && s.effectAfter(m.to)
}

// effectAfter tells whether the sentence goes on after token i to say, as a fact, what effect something had.
func (s *sentence) effectAfter(i int) bool {
	if _, to := s.deniedHelp(); to > i {
		return true
	}
	return slices.ContainsFunc(s.mentions, func(m mention) bool {
		if m.kind != termCue || m.from < i || !slices.Contains([]string{cueNoChange, cueFixed, cuePartial, cueBack}, m.name) {
			return false
		}
		k := s.clauseAt(m.from).kind
		return (k == told || k == planned && m.name == cueNoChange) && !s.wishedBefore(m.from)
	})
}

// cureIs tells whether "the cure was (to)" or "fixed by" stands right before token i.
func (s *sentence) cureIs(i int) bool {
	for i > 0 && (kb.IsArticle(s.toks[i-1].word) || isStateWord(s.toks[i-1].word) || slices.Contains([]string{"to", "simply", "just", ":"}, s.toks[i-1].word)) {
		i--
	}
	return slices.ContainsFunc(s.mentions, func(m mention) bool {
		if m.kind != termCue || m.to != i || m.name != cueFixed && m.name != cueCredit {
			return false
		}
		first, last := s.toks[m.from].word, s.toks[m.to-1].word
		named := slices.Contains([]string{"solution", "fix", "cure", "answer", "remedy"}, first) && !s.negated(m.from-2, m.to)
		return (named && (last == "was" || last == "is") || last == "by") && !s.wishedBefore(m.from) && !s.asked
	})
}

// wishedBefore tells whether a word shortly before token i says that what follows is only wished, expected or possible.
func (s *sentence) wishedBefore(i int) bool {
	from := s.clauseAt(i).from
	return slices.ContainsFunc(s.toks[max(from, i-5):i], func(t token) bool {
		return isModal(t.word) || slices.Contains([]string{"hope", "hoped", "hoping", "hopefully", "wish", "expect", "expected", "expecting", "supposed", "thought", "assume", "assumed", "thinking", "want", "wanted", "maybe", "perhaps"}, t.word)
	})
}

// isModal tells whether a word makes a statement one of what may or ought to be.
func isModal(word string) bool {
	return slices.Contains([]string{"should", "would", "will", "might", "could", "may", "shall", "ought", "ll", "d", "wont", "wouldnt"}, word)
}

// baseDone tells whether a verb in its base form tells of a thing done: "did replace", and the present tense that people use
// who write in a language that is not their own: "I change the filter".
func (x *Extractor) baseDone(s *sentence, m mention, before []string, prev string) bool {
	if prev == "did" || prev == "i" || prev == "we" {
		return true
	}
	if slices.Contains(before, "had") && slices.Contains([]string{"them", "him", "her", "it", "shop", "garage", "dealer"}, prev) {
		return true
	}
	if len(before) > 1 && slices.Contains([]string{"already", "also", "then", "have", "just", "first"}, prev) && slices.ContainsFunc(before, func(w string) bool { return w == "i" || w == "we" }) {
		return true
	}
	if s.reportsWork() && !s.asked && m.from <= skipMarks(s, 0)+1 {
		return true
	}
	if m.to < len(s.toks) && s.toks[m.to].word == "of" && s.has(cueFixed, m.to, len(s.toks)) {
		return true // "a flush of the heating circuit fixed it"
	}
	after := m.to < len(s.toks) && slices.Contains([]string{"done", "did", "carried"}, s.toks[m.to].word)
	return after || prev == "done" || prev == "ran"
}

// reportsWork tells whether a sentence stands under a heading that says what was done.
func (s *sentence) reportsWork() bool {
	return slices.ContainsFunc(strings.Fields(s.section), func(w string) bool {
		return slices.Contains([]string{"repair", "work", "done", "did", "fix", "remedy", "action", "cure", "attempt", "tried"}, w)
	}) && !strings.Contains(s.section, "check") && !strings.Contains(s.section, "test")
}

// wordsBefore gives the folded words of the clause before token i, at most n.
func (s *sentence) wordsBefore(c clause, i, n int) []string {
	var out []string
	for j := max(c.from, i-n); j < i; j++ {
		if !s.toks[j].mark {
			out = append(out, s.toks[j].word)
		}
	}
	return out
}

// blocksDoing tells whether a word before a verb says that it was not, or not yet, done.
func blocksDoing(w string) bool {
	return isNegation(w) || slices.Contains([]string{"should", "could", "would", "might", "must", "can", "will", "shall", "may", "to", "need", "if", "ill", "id",
		"youd", "your", "you", "let", "lets", "instead", "than", "before", "want", "gonna", "wants", "needs", "please", "when", "whoever", "who", "try", "wont", "avoid",
		"just", "ever"}, w) && w != "just"
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
