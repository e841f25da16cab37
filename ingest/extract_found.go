package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// isFindVerb tells whether a verb says that something was seen to be there.
func isFindVerb(word string) bool {
	return slices.Contains([]string{"found", "find", "discovered", "spotted", "saw", "noticed", "showed", "revealed", "see"}, word)
}

// prepositionBefore gives the token of one of the prepositions that stands before the phrase at token i, but for articles and words
// of state or place; 0 if none does.
func (s *sentence) prepositionBefore(i int, words ...string) int {
	for j := i - 1; j > 0 && i-j < 4; j-- {
		w := s.toks[j].word
		if slices.Contains(words, w) && !s.toks[j].mark {
			return j
		}
		if !kb.IsArticle(w) && !isStateWord(w) && !isDeterminer(w) && !slices.Contains([]string{"my", "our", "either", "both", "front", "rear", "left", "right"}, w) {
			return 0
		}
	}
	return 0
}

// supplies reads whether power arrives at a part: "no voltage at the pump", "got battery voltage at the relay". That is a test of
// what feeds the part.
func (x *Extractor) supplies(f *focus, s, _ *sentence) []*testFound {
	var out []*testFound
	for _, np := range x.partsIn(s) {
		at := s.prepositionBefore(np.from, "at", "to", "on", "reaching", "into")
		if at > 2 && s.presentBefore(at) {
			c := s.clauseAt(at)
			out = append(out, x.finding(s, x.supplyOf(f.complete(np, s)), max(c.from, at-5), np.to, passIf(!s.negated(max(c.from, at-6), at)), "supply voltage"))
			continue
		}
		if at < 1 || !slices.Contains([]string{"power", "voltage", "feed", "supply", "volt", "v", "juice", "12v", "24v"}, s.toks[at-1].word) {
			continue
		}
		c := s.clauseAt(at)
		if np.from >= c.to {
			continue
		}
		before := s.toks[max(c.from, at-5):at]
		has := func(words ...string) bool {
			return slices.ContainsFunc(before, func(t token) bool { return slices.Contains(words, t.word) })
		}
		numbered := slices.ContainsFunc(before, func(t token) bool { return t.hasDigit() })
		result := kb.Result("")
		switch {
		case has("no", "without", "zero") || s.negated(max(c.from, at-5), at):
			result = kb.Fail
		case !numbered && has("got", "get", "have", "had", "battery", "full", "good", "constant", "is", "was", "confirmed", "see", "found"):
			result = kb.Pass
		default:
			continue
		}
		out = append(out, x.finding(s, x.supplyOf(f.complete(np, s)), max(c.from, at-3), np.to, result, "supply voltage"))
	}
	return out
}

// presentBefore tells whether the words before the preposition at token at say that power is there: "power and ground are both there at".
func (s *sentence) presentBefore(at int) bool {
	if !slices.Contains([]string{"there", "present", "good", "ok", "arriving"}, s.toks[at-1].word) {
		return false
	}
	return slices.ContainsFunc(s.toks[max(at-7, 0):at-1], func(t token) bool { return slices.Contains([]string{"power", "voltage", "feed", "12v", "24v"}, t.word) })
}

// supplyOf names what feeds a part: "pump supply" of the pump or its plug.
func (x *Extractor) supplyOf(np nounPhrase) nounPhrase {
	words := strings.Fields(np.name)
	for len(words) > 1 && slices.Contains([]string{"plug", "connector", "terminal", "pin", "socket"}, words[len(words)-1]) {
		words = words[:len(words)-1]
	}
	if len(words) == 0 || words[len(words)-1] == "supply" {
		return np
	}
	np.name = strings.Join(words, " ") + " supply"
	_, np.known = x.v.Component(np.name)
	return np
}

// ruledOut reads "ruled out the valve": whatever the method, the part was found good.
func (x *Extractor) ruledOut(f *focus, s, _ *sentence) []*testFound {
	var out []*testFound
	for i, t := range s.toks {
		if raw := strings.ToLower(t.raw); raw != "ruled" && raw != "eliminated" || s.negated(max(i-3, 0), i) || !x.ownOrBare(s, i) {
			continue
		}
		objects, end := x.objectsAfter(s, i+1)
		for _, np := range objects {
			if slices.ContainsFunc(x.partsIn(s), func(p nounPhrase) bool { return p.from == np.from }) {
				out = append(out, x.finding(s, f.complete(np, s), i, end, kb.Pass, "visual inspection"))
			}
		}
	}
	return out
}

// ownOrBare tells whether a verb at token i has the writer, or nobody, before it.
func (x *Extractor) ownOrBare(s *sentence, i int) bool {
	c := s.clauseAt(i)
	return skipMarks(s, c.from) == i || s.ownBefore(i)
}

// continuities reads a test of a path: "no continuity through the fuse", "continuity from pin 3 to the module is good". Between two
// ends it is the wiring that was tested.
func (x *Extractor) continuities(f *focus, s, _ *sentence) []*testFound {
	i := slices.IndexFunc(s.toks, func(t token) bool { return t.word == "continuity" })
	if i < 0 {
		return nil
	}
	c := s.clauseAt(i)
	result := kb.Result("")
	switch {
	case s.negated(max(c.from, i-4), i):
		result = kb.Fail
	case i > 0 && slices.Contains([]string{"has", "have", "had", "got", "good", "full", "perfect", "is"}, s.toks[i-1].word):
		result = kb.Pass
	default:
		for _, v := range s.verdicts(i+1, c.to) {
			result = v.result
		}
	}
	if result == "" {
		return nil
	}
	between := slices.ContainsFunc(s.toks[i:c.to], func(t token) bool { return t.word == "between" || t.word == "from" })
	var inside []nounPhrase
	for _, np := range x.partsIn(s) {
		if np.from >= c.from && np.to <= c.to {
			inside = append(inside, np)
		}
	}
	np, ok := nounPhrase{name: "wiring", from: i, to: i + 1, known: true}, between
	if !between && len(inside) > 0 {
		np, ok = f.complete(inside[0], s), true
	}
	if !ok {
		return nil
	}
	return []*testFound{x.finding(s, np, i, i+1, result, "continuity test")}
}

// driven reads a part that was driven from outside to see whether it works: "put 12 V on the pump and it ran", "the fan spins when
// fed straight from the battery", "I can hear the valve click".
func (x *Extractor) driven(f *focus, s, _ *sentence) []*testFound {
	parts := x.partsIn(s)
	for i, t := range s.toks {
		heard := i > 1 && s.heardBefore(i)
		if !isWorkingVerb(t.word) || !heard && !s.drivenBy() || s.clauseAt(i).kind != told {
			continue
		}
		np, ok := nearestBefore(parts, 0, i)
		if !ok || s.toks[i].mark {
			continue
		}
		if np.oblique { // "put 12 V on the pump", not "off the battery"
			if first, found := firstDriven(parts, i); found {
				np = first
			}
		}
		if c, known := x.v.Component(np.name); strings.HasSuffix(np.name, "battery") || known && c.System == kb.SystemOutside || isUserLamp(np.raw) {
			continue
		}
		result := kb.Pass
		if s.negated(max(i-3, np.to), i) {
			result = kb.Fail
		}
		return []*testFound{x.finding(s, f.complete(np, s), np.from, i+1, result, "bench supply test")}
	}
	return nil
}

// firstDriven gives the first part before token i that is no source of power.
func firstDriven(parts []nounPhrase, i int) (nounPhrase, bool) {
	for _, np := range parts {
		if np.to <= i && !strings.HasSuffix(np.name, "battery") && !strings.HasSuffix(np.name, "supply") {
			return np, true
		}
	}
	return nounPhrase{}, false
}

// isWorkingVerb tells whether a verb says that a part does what it is there for.
func isWorkingVerb(word string) bool {
	return slices.Contains([]string{"run", "ran", "running", "spin", "spun", "spins", "turn", "work", "worked", "works", "move", "moved", "click", "clicks", "clicked", "clicking", "pump", "pumped", "buzz", "buzzed", "whirred", "started",
		"prime", "primed", "priming", "fired", "heated", "open", "opened", "closed", "glowed", "lit"}, word)
}

// drivenBy tells whether the sentence tells of a supply or command from outside.
func (s *sentence) drivenBy() bool {
	for i, t := range s.toks {
		prev := ""
		if i > 0 {
			prev = s.toks[i-1].word
		}
		switch t.word {
		case "direct", "directly", "straight":
			if i+1 < len(s.toks) && slices.Contains([]string{"to", "from", "off", "on", "onto", "at", "with"}, s.toks[i+1].word) || i+1 >= len(s.toks) || s.toks[i+1].mark {
				return true
			}
		case "bench", "jumpered", "jumper", "energised", "energized", "actuated", "commanded", "hotwired":
			return true
		case "battery":
			for j := max(i-4, 0); j < i; j++ {
				if w := s.toks[j].word; (w == "from" || w == "off" || w == "with") && j > 0 {
					return true
				}
			}
		case "tool", "scanner", "tester":
			if prev == "scan" || prev == "the" || prev == "a" {
				return slices.ContainsFunc(s.toks, func(u token) bool {
					return slices.Contains([]string{"driven", "drive", "command", "activate", "activated", "actuate", "triggered", "trigger"}, u.word)
				})
			}
		case "fed", "applied", "applying", "boiled", "kettle", "saucepan":
			return true
		case "water":
			if prev == "hot" || prev == "boiling" {
				return true
			}
		}
		if (t.word == "v" || t.word == "volt" || t.word == "12v") && slices.ContainsFunc(s.toks[:i], func(u token) bool {
			return slices.Contains([]string{"put", "gave", "feed", "fed", "apply", "ran", "stuck", "hooked"}, u.word)
		}) {
			return true
		}
	}
	return false
}

// heardBefore tells whether "hear" and its object stand just before the verb at token i.
func (s *sentence) heardBefore(i int) bool {
	for j := max(i-5, 0); j < i; j++ {
		if w := s.toks[j].word; (w == "hear" || w == "heard" || w == "feel" || w == "felt") && !s.negated(max(j-3, 0), j) {
			return true
		}
	}
	return false
}

// disturbed reads a part that was moved or tapped and what that did: "wiggled the harness and the engine died", "when I tap the relay
// the pump starts". Whatever changes convicts the part.
func (x *Extractor) disturbed(f *focus, s, _ *sentence) []*testFound {
	for i := range s.toks {
		if !isDisturbing(strings.ToLower(s.toks[i].raw)) && !s.heatsOrCools(i) || s.negated(max(i-3, s.clauseAt(i).from), i) {
			continue
		}
		objects, end := x.objectsAfter(s, i+1)
		if them, ok := f.pronouns(s, x.partsIn(s), i, i+1); ok && len(them) == 1 && len(objects) == 0 && i+1 < len(s.toks) && (s.toks[i+1].word == "it" || s.toks[i+1].word == "them") {
			return x.disturbedIt(s, them[0], i)
		}
		if len(objects) == 0 {
			objects, end = x.partNear(s, i+1)
		}
		if len(objects) == 0 || !slices.ContainsFunc(x.partsIn(s), func(p nounPhrase) bool { return p.from == objects[0].from }) {
			continue
		}
		for j := end; j < len(s.toks); j++ {
			switch w := s.toks[j].word; {
			case w == "no" || w == "nothing" || w == "same" || w == "didnt" || w == "never":
				if w != "never" && !s.has(cueNoChange, end, len(s.toks)) && w != "nothing" {
					return nil
				}
				return []*testFound{x.finding(s, f.complete(objects[0], s), i, end, kb.Pass, "wiggle test")}
			case changesState(w):
				return []*testFound{x.finding(s, f.complete(objects[0], s), i, j+1, kb.Fail, "wiggle test")}
			}
		}
	}
	return nil
}

// disturbedIt reads what came of moving a part that only a pronoun names: "grabbed the cable and shook it: open".
func (x *Extractor) disturbedIt(s *sentence, np nounPhrase, i int) []*testFound {
	for j := i + 2; j < min(i+12, len(s.toks)); j++ {
		w := s.toks[j].word
		if isNegation(w) || w == "same" {
			return nil
		}
		if changesState(w) {
			return []*testFound{x.finding(s, np, i, j+1, kb.Fail, "wiggle test")}
		}
	}
	return nil
}

// partNear gives the part within four words of token i, as a list of one.
func (x *Extractor) partNear(s *sentence, i int) ([]nounPhrase, int) {
	for _, np := range x.partsIn(s) {
		if np.from >= i && np.from-i <= 4 {
			return []nounPhrase{np}, np.to
		}
	}
	return nil, i
}

// heatsOrCools tells whether token i ends the name of what one heats or cools a part with to see whether it minds.
func (s *sentence) heatsOrCools(i int) bool {
	switch s.toks[i].word {
	case "gun":
		return i > 0 && s.toks[i-1].word == "heat"
	case "hairdryer", "hairdrier", "dryer":
		return i > 0 && (s.toks[i].word != "dryer" || s.toks[i-1].word == "hair")
	case "cooled", "heated", "warmed", "chilled", "froze":
		return slices.ContainsFunc(s.toks[i:], func(t token) bool {
			return t.word == "spray" || t.word == "gun" || t.word == "hairdryer" || t.word == "freezer"
		})
	}
	return false
}

// isDisturbing tells whether a verb says that a part was moved to see what happens.
func isDisturbing(raw string) bool {
	return slices.Contains([]string{"wiggled", "wiggle", "wiggling", "waggled", "waggle", "waggling", "jiggled", "jiggle", "jiggling", "shook", "shake", "flexed", "flex", "flexing", "bent", "bend", "tapped", "tap", "tapping", "leaned", "pressed",
		"tugged", "tug", "twisted", "touched", "moved", "move", "moving", "pushed", "pushing", "squeezed", "squeezing"}, raw)
}

// changesState tells whether a verb says that something came, went or moved.
func changesState(word string) bool {
	return slices.Contains([]string{"died", "die", "dies", "cut", "stalled", "stall", "stop", "stopped", "drop", "dropped", "jump", "jumped", "flicker", "flickered", "came", "come", "start", "started", "started", "went", "go", "goes", "lost", "tripped",
		"dips", "dip", "dipped", "fell", "changed", "changes", "wakes", "woke", "dead", "returned", "worked", "fired", "appeared", "vanished", "run", "ran", "lit", "blinked", "ol", "open"}, word)
}

// inAndOut reads a switch or fuse that passes on what comes in, or does not: "12 in and 12 out", "24 at one side and none at the other".
func (x *Extractor) inAndOut(f *focus, s, _ *sentence) []*testFound {
	var value [2]string // at the way in, at the way out
	var at [2]int
	for i, t := range s.toks {
		side := slices.Index([]string{"in", "out", "into"}, t.word) % 2
		if side < 0 {
			continue
		}
		for j := i - 1; j >= max(i-3, 0); j-- {
			if w := s.toks[j].word; s.toks[j].number() || w == "nothing" || w == "none" || w == "zero" {
				value[side], at[side] = w, j
				break
			}
		}
	}
	np, ok := nearestBefore(x.partsIn(s), 0, at[0])
	for _, after := range x.partsIn(s) {
		if !ok && after.from > at[0] && after.to < at[1] {
			np, ok = after, true // "240 V going into the timer"
		}
	}
	if value[0] == "" || value[1] == "" || at[1] < at[0] || at[1]-at[0] > 8 || !ok {
		return nil
	}
	return []*testFound{x.finding(s, f.complete(np, s), np.from, at[1]+2, passIf(value[0] == value[1]), "voltage in and out")}
}
