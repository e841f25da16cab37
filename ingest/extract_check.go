package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// testFound is a check that the writer made or tells of.
type testFound struct {
	sent     *sentence
	index    int // of the sentence in the person's own
	from, to int // tokens
	name     string
	method   string
	comp     string
	known    bool
	result   kb.Result
	reading  *kb.Reading
	implied  bool      // the result was concluded from what follows
	near     bool      // the component stands right before its reading
	limited  bool      // the text gives the limit
	culprit  bool      // the part is that of the repair beside it
	takesUp  bool      // the reading is said to be as before
	beside   bool      // the component only stands somewhere before or after the reading
	guess    bool      // nothing in the sentence names the component
	spends   *sentence // whose words of outcome tell the result of this test, not of a repair
	relative int       // tokens between component and verdict, for choosing among several
}

// testsIn finds the checks in a sentence: readings first, then what was seen of a part.
func (x *Extractor) testsIn(f *focus, s *sentence, next *sentence, index int, fixes []*fixFound) []*testFound {
	if s.place == RegionHeading || strings.Contains(s.lowerText(), "freeze frame") {
		return nil
	}
	out := x.readingTests(f, s, next)
	trials := x.trialTests(f, s, next, fixes)
	if len(trials) > 0 {
		out = slices.DeleteFunc(out, func(t *testFound) bool { return t.takesUp }) // the reading tells what the trial did
	}
	out = append(out, trials...)
	out = append(out, x.stateTests(f, s, out, fixes)...)
	for _, t := range x.inAndOut(f, s, next) {
		for _, o := range out {
			if o.comp == t.comp && o.reading != nil {
				o.result = t.result // what goes in should come out
			}
		}
	}
	out = append(out, x.findings(f, s, next, out, fixes)...)
	out = x.withoutOthers(s, s.withoutEnds(out))
	slices.SortStableFunc(out, func(a, b *testFound) int { return a.from - b.from })
	out = slices.DeleteFunc(out, func(t *testFound) bool {
		return t.reading == nil && (!t.known && !x.headKnown(t.comp) || isWholeMachine(t.comp))
	})
	for _, t := range out {
		t.index = index
	}
	return out
}

// withoutEnds leaves out what a test of a path says of its ends: "no continuity between pin 3 and the control unit" is about the wiring.
func (s *sentence) withoutEnds(list []*testFound) []*testFound {
	at := slices.IndexFunc(list, func(t *testFound) bool { return t.name == "continuity test" && t.comp == "wiring" })
	if at < 0 {
		return list
	}
	path := list[at]
	c := s.clauseAt(path.from)
	return slices.DeleteFunc(list, func(t *testFound) bool {
		open := t.reading == nil || t.reading.Bound == kb.BoundOpen
		return t != path && open && t.from >= c.from && t.to <= c.to
	})
}

// withoutOthers leaves out a fault put on a part spoken of before where the sentence names the part that is at fault: the "sludge" of "the
// strainer was full of sludge" is no fault of the pump of the sentence before.
func (x *Extractor) withoutOthers(s *sentence, list []*testFound) []*testFound {
	parts := x.components(s)
	named := func(t *testFound) bool {
		return slices.ContainsFunc(parts, func(np nounPhrase) bool { return np.name == t.comp || x.sameThing(np.name, t.comp) })
	}
	at := slices.IndexFunc(list, func(t *testFound) bool { return t.result == kb.Fail && t.reading == nil && named(t) })
	if at < 0 {
		return list
	}
	return slices.DeleteFunc(list, func(t *testFound) bool {
		return t.result == kb.Fail && t.reading == nil && !named(t) && t.name != "continuity test"
	})
}

// isWholeMachine tells whether a name is of the machine as such, whose failing is the complaint and no check.
func isWholeMachine(name string) bool {
	return slices.Contains([]string{"engine", "car", "machine", "vehicle", "truck", "van", "bike", "tractor", "boat", "boiler", "motor vehicle"}, name)
}

// headKnown tells whether the last word of a name is one of the vocabulary's, or one that names parts.
func (x *Extractor) headKnown(name string) bool {
	_, ok := x.component(lastWord(name))
	if words := strings.Fields(name); !ok && len(words) > 2 {
		_, ok = x.component(strings.Join(words[len(words)-2:], " ")) // "outdoor heat exchanger"
	}
	return ok
}

// verdict is what the words of a stretch say of the part they speak of.
type verdict struct {
	result   kb.Result
	from, to int
	weak     bool // says good or bad only together with a reading or a word for testing
}

// verdicts gives the words of judgement in tokens from..to. A longer phrase goes before one inside it ("not blocked" before
// "blocked"), a negation before a plain word turns it round.
func (s *sentence) verdicts(from, to int) []verdict {
	var cues []mention
	for _, m := range s.mentions {
		if m.kind == termCue && (m.name == cueGood || m.name == cueBad || m.name == cueUnsure) && m.from >= from && m.to <= to {
			cues = append(cues, m)
		}
	}
	var out []verdict
	for _, m := range cues {
		inside := slices.ContainsFunc(cues, func(k mention) bool {
			return k.from <= m.from && k.to >= m.to && k.to-k.from > m.to-m.from
		})
		if inside || s.inName(m) || s.judgesNot(m) {
			continue
		}
		v := verdict{from: m.from, to: m.to, weak: m.to-m.from == 1 && isWeakVerdict(s.toks[m.from].word)}
		v.result = map[string]kb.Result{cueGood: kb.Pass, cueBad: kb.Fail, cueUnsure: kb.Inconclusive}[m.name]
		if v.result != kb.Inconclusive && !isNegation(s.toks[m.from].word) && s.negated(max(m.from-3, from), m.from) {
			v.result = flip(v.result)
		}
		out = append(out, v)
	}
	return out
}

// inName tells whether a word of judgement is a part of a component's name: "CAN low", "clean air hose".
func (s *sentence) inName(v mention) bool {
	return slices.ContainsFunc(s.mentions, func(m mention) bool {
		return m.kind == kb.TermComponent && m.to-m.from > v.to-v.from && m.from <= v.from && m.to >= v.to
	})
}

// judgesNot tells whether words of judgement mean something else here: "open" that only says in which position something was read
// ("0.4 ohm pressed, open when released"), or words that go on.
func (s *sentence) judgesNot(v mention) bool {
	if last := s.toks[v.to-1].word; (last == "it" && s.toks[v.from].word == "had" || v.to-v.from == 1 && last == "soaked" && s.has2(v.to, "in")) && v.to < len(s.toks) && !s.toks[v.to].mark {
		return true // "the charger had it full", "soaked in cleaner"
	}
	if v.to-v.from == 1 && s.toks[v.from].word == "plugged" && s.toks[max(v.from-1, 0)].mark && (v.to >= len(s.toks) || slices.Contains([]string{"in", "up", "back", "it", "them", "together"}, s.toks[v.to].word)) {
		return true // what somebody did
	}
	if v.from > 2 && s.toks[v.from-3].word == "when" && isBackWord(s.toks[v.from-2].word) && isCopula(s.toks[v.from-1].word) || v.from > 1 && s.toks[v.from-2].word == "when" && slices.Contains([]string{"its", "theyre", "hes", "shes"}, s.toks[v.from-1].word) {
		return true // "24 V when it is stuck" tells when
	}
	if w := s.toks[v.to-1].word; (w == "unplugged" || w == "disconnected" || w == "removed") && slices.ContainsFunc(s.toks[max(v.from-4, 0):v.from], func(t token) bool { return t.word == "with" }) {
		return true // the condition of another check
	}
	if v.to-v.from == 1 && v.to < len(s.toks) && (s.toks[v.to].word == "one" || s.toks[v.to].word == "ones") {
		return true // "where a good one reads more"
	}
	return s.toks[v.from].word == "open" && v.to-v.from == 1 && v.to < len(s.toks) && slices.Contains([]string{"when", "with", "if", "door", "throttle", "valve", "at"}, s.toks[v.to].word)
}

func flip(r kb.Result) kb.Result {
	if r == kb.Pass {
		return kb.Fail
	}
	return kb.Pass
}

// isWeakVerdict tells whether a single word judges a part only where it is clear that it was tested.
func isWeakVerdict(word string) bool {
	return slices.Contains([]string{"good", "great", "right", "still", "nothing", "working", "work", "running", "held", "holding", "correct", "even", "normal", "pass", "clear",
		"same", "open", "low", "high", "slow", "flat", "gone", "play", "leak", "missing", "short", "dropped", "drop", "fell", "fall", "brown", "black", "green", "hole", "rough", "wet",
		"weak", "empty", "tired", "should", "reached", "strong", "solid", "plenty", "steady", "healthy", "happy", "bright", "lovely", "mint", "textbook", "beautiful", "beautifully", "expected", "match", "equal", "removed", "passing", "broke",
		"jumped", "jump", "click", "worked", "works", "passe", "passed", "unplugged", "disconnected", "hanging", "leaking", "leaks", "dead", "bad", "intermittent", "noisy", "dirty", "faulty", "failed", "fail"}, word)
}

// judge gives the verdict on what stands at tokens from..to: in its clauses, then in a short sentence that follows.
func (x *Extractor) judge(s, next *sentence, from, to, limit int) (kb.Result, int) {
	c := s.clauseAt(from)
	for _, v := range s.verdicts(from, min(limit, len(s.toks))) {
		if v.from >= to && x.ofOther(s, v, c, to) {
			break
		}
		if v.from >= to || v.to <= from {
			if s.clauseAt(v.from).kind != advised || v.from < c.to {
				return v.result, v.to
			}
		}
	}
	for _, v := range s.verdicts(c.from, from) {
		if !v.weak && !slices.ContainsFunc(s.toks[max(v.from-4, c.from):v.from], func(t token) bool { return t.word == "with" }) {
			return v.result, to
		}
	}
	if next != nil && next.post == s.post && limit >= len(s.toks) && len(next.toks) <= 6 && len(x.components(next)) == 0 && !hasDigits(next.toks) {
		if vs := next.verdicts(0, len(next.toks)); len(vs) > 0 {
			return vs[0].result, to
		}
	}
	return "", to
}

// ofOther tells whether a judgement stands in a clause of its own that names another part before it: "241 V at the terminals, fuse on
// the board is good".
func (x *Extractor) ofOther(s *sentence, v verdict, c clause, to int) bool {
	vc := s.clauseAt(v.from)
	if vc.from < c.to {
		return false
	}
	return slices.ContainsFunc(x.partsIn(s), func(np nounPhrase) bool {
		return np.from >= max(vc.from, to) && np.from <= skipMarks(s, vc.from)+1 && np.to <= v.from && !np.oblique && !x.isQuantity(np.name)
	}) && s.toks[skipMarks(s, vc.from)].word != "so" && s.toks[vc.from].word != "so"
}

// hasDigits tells whether a number stands among the tokens.
func hasDigits(toks []token) bool { return slices.ContainsFunc(toks, token.hasDigit) }

// stateTests finds parts of which the writer says how they were found: "the elbow has split", "plug's not melted".
func (x *Extractor) stateTests(f *focus, s *sentence, have []*testFound, fixes []*fixFound) []*testFound {
	var out []*testFound
	comps := slices.DeleteFunc(x.components(s), func(np nounPhrase) bool { return isConsumable(np.name) || isTool(np) })
	testing := x.testingVerb(s)
	for _, v := range s.verdicts(0, len(s.toks)) {
		c := s.clauseAt(v.from)
		if c.kind != told || s.asked || x.inSymptom(s, v) || takenTest(have, v) || takenTest(out, v) || s.doneWith(fixes, c, v) {
			continue
		}
		if v.result == kb.Fail && !testing && s.onlyFails(v) {
			continue
		}
		np, gap, ok := x.judged(f, s, c, comps, v)
		if ok && s.setBy(np, v) {
			continue
		}
		np = x.withoutBox(s.ownerBefore(comps, np))
		np = f.complete(np, s)
		if v.result == kb.Pass && (isUserLamp(np.raw) || s.onlyClears(v)) {
			continue
		}
		if whole := x.wholeOf(f, s, comps, np); whole.name != np.name {
			np = f.complete(whole, s)
		}
		if !ok || isFluidWord(np.name) || v.weak && !testing && gap > 2 || v.weak && !testing && v.result == kb.Fail && gap > 1 && s.toks[v.from].word != "open" {
			continue
		}
		if slices.ContainsFunc(fixes, func(fx *fixFound) bool {
			return fx.comp == np.name && fx.sent == s && fx.from < v.from && !s.triedOld(fx)
		}) && v.result == kb.Pass {
			continue
		}
		if i := slices.IndexFunc(out, func(t *testFound) bool { return t.comp == np.name }); i >= 0 {
			if v.result == kb.Fail && !v.weak {
				out[i].result, out[i].to = kb.Fail, max(out[i].to, v.to)
			} else if s.toks[c.from].word == "but" && v.result == kb.Pass {
				out[i].result, out[i].to = kb.Pass, max(out[i].to, v.to) // "dirty but moved fine"
			}
			continue
		}
		t := &testFound{sent: s, from: min(v.from, np.from), to: max(v.to, np.to), comp: np.name, known: np.known, result: v.result, relative: gap}
		t.name, t.method = x.methodIn(s, "visual inspection")
		if np.from > len(s.toks) {
			t.from, t.to = v.from, v.to
		}
		out = append(out, t)
		out = append(out, x.listed(f, s, c, comps, np, t)...)
	}
	return out
}

// doneWith tells whether a judgement lies within the words of a repair, and not in a clause of its own before the verb of it.
func (s *sentence) doneWith(fixes []*fixFound, c clause, v verdict) bool {
	return slices.ContainsFunc(fixes, func(fx *fixFound) bool {
		return v.from >= fx.from && v.from < fx.to && !(v.result == kb.Pass && v.to <= c.to && s.clauseAt(fx.to-1).from >= c.to)
	})
}

// listed gives the same judgement for the other parts of a list that the judged part ends: "fuses, relays and grounds all check out".
func (x *Extractor) listed(f *focus, s *sentence, c clause, comps []nounPhrase, np nounPhrase, t *testFound) []*testFound {
	if np.from >= len(s.toks) || np.to > t.to || t.from != np.from {
		return nil
	}
	var out []*testFound
	for _, more := range x.listEnding(s, comps, np) {
		if more.from == np.from || more.oblique || x.isQuantity(more.name) || isPiece(more.raw) {
			continue
		}
		o := *t
		more = f.complete(more, s)
		o.comp, o.known, o.from, o.relative = more.name, more.known, more.from, 2
		out = append(out, &o)
	}
	return out
}

// onlyFails tells whether a judgement says no more than that something does not work, which is a complaint unless it was tested.
func (s *sentence) onlyFails(v verdict) bool {
	words := s.words(v.from, v.to)
	return slices.Contains([]string{"packed up", "packed in"}, words)
}

// setBy tells whether a judgement only says in which state a part was put for another check: "with the lid open it drops to 2 V".
func (s *sentence) setBy(np nounPhrase, v verdict) bool {
	if np.from >= len(s.toks) {
		return false // named in another sentence
	}
	i := np.from - 1
	for i > 0 && (kb.IsArticle(s.toks[i].word) || isStateWord(s.toks[i].word)) && !s.toks[i].mark {
		i--
	}
	return i >= 0 && s.toks[i].word == "with" && v.from-np.to <= 1 && v.from >= np.to && !slices.Contains([]string{"missing", "cracked", "corroded", "burnt", "melted"}, s.toks[v.from].word)
}

// withoutBox gives, for the case that an unknown name puts around a known part ("isolator box", "pump housing"), the part.
func (x *Extractor) withoutBox(np nounPhrase) nounPhrase {
	if np.known || !slices.Contains([]string{"box", "housing", "casing", "body", "assembly", "unit", "case", "shell", "enclosure", "block"}, lastWord(np.name)) {
		return np
	}
	return x.knownOf(np, "")
}

// ownerBefore gives, for "the hose and its connections", the hose.
func (s *sentence) ownerBefore(comps []nounPhrase, np nounPhrase) nounPhrase {
	if np.from < 2 || np.from > len(s.toks) || s.toks[np.from-1].word != "its" && s.toks[np.from-1].word != "their" || s.toks[np.from-2].word != "and" {
		return np
	}
	if i := compEndingAt(comps, np.from-2); i >= 0 {
		return comps[i]
	}
	return np
}

// triedOld tells whether a repair only put an old part back, which tests it.
func (s *sentence) triedOld(fx *fixFound) bool {
	return fx.action == kb.Refit && slices.ContainsFunc(s.toks[fx.from:min(fx.to+1, len(s.toks))], func(t token) bool { return t.word == "original" || t.word == "old" })
}

// onlyClears tells whether a judgement takes the blame from a part ("so not the pump") rather than telling of its state.
func (s *sentence) onlyClears(v verdict) bool {
	first := s.toks[v.from].word
	return first == "so" || isNegation(first) && v.to-v.from == 2 && slices.Contains([]string{"the", "my", "that"}, s.toks[v.to-1].word)
}

// isUserLamp tells whether a part is one that shows or gives something to the user: that it works is no test of the machine.
func isUserLamp(raw string) bool {
	words := strings.Fields(raw)
	return len(words) > 0 && slices.Contains([]string{"light", "lamp", "radio", "horn", "wiper", "display", "dash", "dashboard", "buzzer", "headlight", "con"}, words[len(words)-1])
}

// gapTo counts the words between a part and a judgement on it, without those that only say where the part is: "the fuse on the board is
// good".
func (s *sentence) gapTo(comps []nounPhrase, np nounPhrase, to int) int {
	if np.to < len(s.toks) && slices.Contains([]string{"on", "in", "of", "at", "for", "to", "from", "behind", "under"}, s.toks[np.to].word) {
		for _, place := range comps {
			if place.from > np.to && place.from-np.to <= 3 && place.to <= to && place.oblique {
				return to - place.to
			}
		}
	}
	return to - np.to
}

func takenTest(tests []*testFound, v verdict) bool {
	return slices.ContainsFunc(tests, func(t *testFound) bool { return v.from < t.to && v.to > t.from })
}

// inSymptom tells whether a word of judgement is only a piece of a symptom's phrase.
func (x *Extractor) inSymptom(s *sentence, v verdict) bool {
	return slices.ContainsFunc(s.mentions, func(m mention) bool {
		return m.kind == kb.TermSymptom && m.to-m.from > v.to-v.from && v.from < m.to && v.to > m.from
	})
}

// testingVerb tells whether a word of the sentence says that something was tested.
func (x *Extractor) testingVerb(s *sentence) bool {
	return slices.ContainsFunc(s.mentions, func(m mention) bool { return m.kind == kb.TermMethod }) || slices.ContainsFunc(s.toks, func(t token) bool {
		return slices.Contains([]string{"checked", "tested", "measured", "inspected", "look", "looked", "metered", "check", "meter", "read", "verified", "found", "scoped", "felt",
			"ohmed", "examined", "confirmed"}, t.word) || slices.Contains([]string{"opened", "unplugged", "stripped", "dismantled"}, strings.ToLower(t.raw))
	})
}

// methodIn gives the name and method of a test by the method that the sentence names.
func (x *Extractor) methodIn(s *sentence, otherwise string) (name, method string) {
	best := mention{}
	for _, m := range s.mentions {
		if m.kind == kb.TermMethod && m.to-m.from > best.to-best.from {
			best = m
		}
	}
	if best.to > 0 {
		return best.name, best.name
	}
	if m, ok := x.v.Method(otherwise); ok {
		return otherwise, m.Name
	}
	return otherwise, ""
}

// lowerText gives the words of a sentence as written, in small letters.
func (s *sentence) lowerText() string { return strings.ToLower(s.text[s.start:s.end]) }
