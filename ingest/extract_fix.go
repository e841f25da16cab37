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
	objects, end := x.objectsOf(f, s, c, m)
	var out []*fixFound
	for _, np := range objects {
		if isTool(np) || isConsumable(np.name) || foreignMatter(lastWord(np.raw)) && kb.Action(m.name) != kb.Clean {
			continue
		}
		np, ok := x.repairedPart(f, s, m, np)
		if !ok {
			continue
		}
		fx := &fixFound{sent: s, from: min(m.from, max(np.from, 0)), to: max(end, m.to), action: kb.Action(m.name), comp: np.name, known: np.known}
		fx.origin = originIn(s, m.from, end)
		fx.trial = fx.action == kb.Other || s.has(cueSwap, c.from, c.to)
		x.refineAction(s, m, fx)
		x.refinePart(f, s, np, fx)
		out = append(out, fx)
	}
	return out
}

// objectsOf gives what a verb acts on, and the token after it: what its words hold or what follows them; else the subject of a passive,
// the label of the line, what was just found bad, or what a pronoun stands for.
func (x *Extractor) objectsOf(f *focus, s *sentence, c clause, m mention) ([]nounPhrase, int) {
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
	if len(objects) > 0 {
		return objects, end
	}
	if np, ok := x.subjectBefore(s, c, m.from); ok {
		return []nounPhrase{np}, m.to
	}
	if np, ok := x.labelBefore(s, c, m.from); ok {
		return []nounPhrase{np}, m.to
	}
	if np, ok := x.remnantAfter(f, s, m); ok {
		return []nounPhrase{np}, m.to
	}
	if np, ok := x.justFound(f, s, m); ok {
		return []nounPhrase{np}, m.to
	}
	if all, ok := f.pronouns(s, x.components(s), m.from, at); ok && !s.clearsCode(m) {
		if np, blamed := x.blamedBefore(f, s, m.from); blamed {
			all = []nounPhrase{np}
		}
		return all, min(m.to+1, len(s.toks))
	}
	if kb.Action(m.name) == kb.Reprogram && strings.HasPrefix(s.words(m.from, m.to), "re") {
		return []nounPhrase{x.programmedPart(f, s, m.from, m.to)}, end
	}
	return nil, end
}

// repairedPart gives the part that a phrase behind a verb speaks of: the whole of a piece, the loom of a wire, the one that was taken apart
// or spoken of before; false if the words are a mere rest ("the other half") of nothing known.
func (x *Extractor) repairedPart(f *focus, s *sentence, m mention, np nounPhrase) (nounPhrase, bool) {
	np = f.complete(np, s)
	if !isConnector(np.raw) {
		np = x.wholeOf(f, s, x.components(s), np)
	}
	if isWireOnly(np.name) {
		np = x.wiringOf(f, s, x.components(s), np)
	}
	if whole, ok := x.takenApart(s, m.from); ok && !np.known && kb.Action(m.name) == kb.Repair {
		np.name, np.known = whole.name, whole.known
	}
	if !isRemnant(np.raw) {
		return np, true
	}
	whole, ok := nearestBefore(x.components(s), 0, m.from)
	if !ok {
		whole, ok = f.meant()
	}
	np.name, np.known = whole.name, whole.known
	return np, ok
}

// refinePart settles what an adjustment of a gap, and a repair with wire or terminals, was done to.
func (x *Extractor) refinePart(f *focus, s *sentence, np nounPhrase, fx *fixFound) {
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
	if verb == "swapped" && slices.ContainsFunc(s.toks[m.to:], func(t token) bool {
		return slices.Contains([]string{"sister", "neighbour", "neighbor", "donor", "scrap", "spare", "borrowed"}, t.word)
	}) {
		fx.trial = true
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
