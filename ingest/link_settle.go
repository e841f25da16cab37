package ingest

import (
	"cmp"
	"regexp"
	"slices"
	"strings"

	"ruledout/kb"
)

// sameThing tells whether two names may mean one component: equal, or the same last word and one name within the other, or
// one a part of the other by the vocabulary.
func (x *Extractor) sameThing(a, b string) bool {
	if a == b {
		return true
	}
	p, q := strings.Fields(a), strings.Fields(b)
	if len(p) == 0 || len(q) == 0 {
		return false
	}
	if p[len(p)-1] == q[len(q)-1] && (contains(p, q) || contains(q, p)) {
		return true
	}
	rel := x.v.Relation(a, b)
	return rel == kb.Same
}

// contains tells whether all words of part are among those of whole.
func contains(whole, part []string) bool {
	return !slices.ContainsFunc(part, func(w string) bool { return !slices.Contains(whole, w) })
}

// finish settles what the whole story tells: groups cured together, credit, and what nobody spoke of again.
func (l *line) finish() {
	l.useHeadlines()
	l.bothNeeded()
	l.presumeCure()
	l.nameCulprits()
	l.mergeSteps()
	l.partGroups()
	for _, fx := range l.fixes {
		if fx.outcome != "" {
			continue
		}
		if l.cured != nil && fx.sent.post < l.cured.sent.post && !fx.credited {
			fx.outcome = kb.NoChange
		}
	}
	l.held = cmp.Or(l.held, l.holdEvent())
}

// useHeadlines ties a cure that a post announces first ("Sorted.", "Found it!") to the fixes that the same post tells of after it.
func (l *line) useHeadlines() {
	for _, g := range l.good {
		var waiting []*fixFound
		for _, fx := range l.group {
			if fx.sent.post == g.sent.post && fx.index >= g.index && !fx.trial {
				waiting = append(waiting, fx)
			}
		}
		later := slices.ContainsFunc(l.fixes, func(fx *fixFound) bool { return fx.settled != nil && fx.settled.post > g.sent.post })
		if len(waiting) == 0 || later || l.p.starter && g.sent.post == 0 || l.back != nil && l.back.index > g.index || l.open != nil && l.open.class == cueUnsolved && l.open.index > g.index {
			continue
		}
		l.settleGroup(waiting, kb.Fixed, g)
		if l.cured == nil {
			l.cured, l.back = &g, nil
		}
	}
}

// nameCulprits adds, where the writer names a culprit and says that all is well but not what was done to it, the repair of that
// culprit: replaced if a new one or its price is spoken of, else left open.
func (l *line) nameCulprits() {
	for _, e := range l.credits {
		if slices.ContainsFunc(l.fixes, func(fx *fixFound) bool { return l.x.sameThing(fx.comp, e.comp) || l.followsUp(fx, e) }) {
			continue
		}
		well, ok := l.wellAfter(e)
		action := l.actionNear(e)
		if !ok || !e.blames() || action == kb.Other && well.index-e.index > 3 {
			continue
		}
		fx := &fixFound{sent: e.sent, index: e.index, from: e.from, to: e.to, action: action, comp: e.comp, outcome: kb.Fixed, settled: well.sent, credited: true}
		if strings.Contains(e.comp, "software") || strings.Contains(e.comp, "firmware") {
			fx.action = kb.Reprogram
		}
		l.fixes = append(l.fixes, fx)
		if l.cured == nil {
			l.cured, l.back = &well, nil
		}
	}
	slices.SortStableFunc(l.fixes, func(a, b *fixFound) int { return cmp.Or(a.index-b.index, a.from-b.from) })
}

// blames tells whether a naming of the culprit speaks of what was found on one machine, rather than of what such faults come from.
func (e event) blames() bool {
	found := func(t token) bool {
		return slices.Contains([]string{"was", "were", "turned", "turn", "ended", "traced", "tracked", "found", "narrowed", "chased", "pinned", "credit", "saying", "down", "nailed", "isolated"}, t.word)
	}
	toks := e.sent.toks[e.from:e.to]
	return slices.ContainsFunc(toks, found) && !slices.ContainsFunc(toks, func(t token) bool { return t.word == "due" || t.word == "caused" || t.word == "which" })
}

// followsUp tells whether a fix told right after a naming of the culprit is the repair of it, by another name.
func (l *line) followsUp(fx *fixFound, e event) bool {
	near := fx.sent.post == e.sent.post && fx.index >= e.index && fx.index-e.index <= 3
	return near && !fx.trial && (fx.outcome == kb.Fixed || l.cured != nil && (fx.outcome == "" || fx.outcome == kb.UnknownOutcome))
}

// wellAfter gives the first word of cure after a naming of the culprit, if the fault did not come back after it.
func (l *line) wellAfter(e event) (event, bool) {
	if l.back != nil && l.back.index >= e.index {
		return event{}, false
	}
	for _, g := range l.good {
		if (g.index > e.index || g.index == e.index || g.sent.post == e.sent.post && e.index-g.index <= 3 && outright(g)) && (g.sent.post > e.sent.post || g.index-e.index <= 8) {
			return g, true
		}
	}
	if l.cured != nil && (l.cured.index >= e.index || l.cured.sent.post == e.sent.post && e.index-l.cured.index < 6) {
		return *l.cured, true
	}
	for i := e.index; i < min(e.index+5, len(l.p.sents)); i++ {
		if s := l.p.sents[i]; s.post == e.sent.post && spanOf(s) != nil && holds(s) && positive(s) && !s.asked && !s.tellsAge() {
			return event{class: cueFixed, sent: s, index: i, from: 0, to: len(s.toks)}, true
		}
	}
	return event{}, false
}

var priceForm = regexp.MustCompile(`(?i)[$£€]\s?\d|\d\s?(?:euros?|eur|bucks|dollars|quid|pounds|cents|pence)\b`)

// actionNear tells what was done to a named culprit by the words that follow.
func (l *line) actionNear(e event) kb.Action {
	for i := e.index; i < min(e.index+3, len(l.p.sents)); i++ {
		s := l.p.sents[i]
		if s.post != e.sent.post {
			break
		}
		if priceForm.MatchString(s.text[s.start:s.end]) {
			return kb.Replace
		}
		for _, t := range s.toks {
			if isNewWord(t.word) || t.word == "replaced" {
				return kb.Replace
			}
		}
	}
	return kb.Other
}

// partGroups finds, where several fixes were cured at once, the one that the writer credits, else the one that a failing
// check points to; if there is none, it cannot be told.
func (l *line) partGroups() {
	var fixed []*fixFound
	for _, fx := range l.fixes {
		if fx.outcome == kb.Fixed {
			fixed = append(fixed, fx)
		}
	}
	credited := false
	for _, fx := range l.fixes {
		if fx.credited && (fx.outcome == "" || fx.outcome == kb.Fixed || fx.outcome == kb.UnknownOutcome) {
			credited = credited || l.cured != nil || fx.outcome != "" || l.r.solved || slices.ContainsFunc(l.good, func(g event) bool { return g.index >= fx.index-1 })
		}
	}
	if credited {
		l.applyCredit()
		return
	}
	if names := distinct(fixed); len(names) > 1 && !l.allTookPart(fixed) {
		l.pointOut(fixed)
	}
}

// bothNeeded takes "both were needed" for a cure by the two repairs of its post that wait for an outcome.
func (l *line) bothNeeded() {
	needed := func(t token) bool {
		return slices.Contains([]string{"needed", "took", "required", "together", "combination", "without"}, t.word)
	}
	if l.both == nil || l.cured != nil || !slices.ContainsFunc(l.both.sent.toks, needed) {
		return
	}
	var waiting []*fixFound
	for _, fx := range l.group {
		if fx.sent.post == l.both.sent.post && fx.index <= l.both.index && !fx.trial {
			waiting = append(waiting, fx)
		}
	}
	if len(distinct(waiting)) == 2 {
		l.settleGroup(waiting, kb.Fixed, *l.both)
		l.cured, l.back = l.both, nil
	}
}

// allTookPart tells whether the writer says that both of two repairs were needed.
func (l *line) allTookPart(fixed []*fixFound) bool {
	return l.both != nil && len(distinct(fixed)) == 2 && l.both.sent.post >= fixed[0].sent.post
}

func (l *line) applyCredit() {
	for _, fx := range l.fixes {
		switch {
		case fx.credited:
			fx.outcome = kb.Fixed
		case fx.outcome == kb.Fixed:
			fx.outcome = kb.UnknownOutcome
		}
	}
}

func distinct(fixes []*fixFound) []string {
	var out []string
	for _, fx := range fixes {
		if !slices.Contains(out, fx.comp) {
			out = append(out, fx.comp)
		}
	}
	return out
}

// pointOut leaves the cure with the fixes whose component failed a check; without any, none of them is named.
func (l *line) pointOut(fixed []*fixFound) {
	failed := func(fx *fixFound) bool {
		return slices.ContainsFunc(l.tests, func(t *testFound) bool {
			return t.result == kb.Fail && t.index <= fx.index && l.x.near(t.comp, fx.comp)
		})
	}
	one, two := fixed[0], fixed[len(fixed)-1]
	apart := one.from != two.from && !isAccessory(two.comp) && !isAccessory(one.comp) || failed(one) && failed(two)
	if len(distinct(fixed)) == 2 && apart && unlike(one.comp, two.comp) && fixed[0].index == fixed[len(fixed)-1].index && !slices.ContainsFunc(fixed, func(fx *fixFound) bool { return fx.trial || fx.action == kb.Service || fx.action == kb.Other }) {
		for _, fx := range fixed {
			fx.shared = !failed(fx)
		}
		l.doubt = "Two things were done at once: did both take part in the cure?"
		return
	}
	if slices.ContainsFunc(fixed, failed) {
		proper := func(fx *fixFound) bool { return failed(fx) && fx.action != kb.Service } // a service goes with the repair
		if slices.ContainsFunc(fixed, proper) {
			demote(fixed, proper)
			return
		}
		demote(fixed, failed)
		return
	}
	proper := func(fx *fixFound) bool { return fx.action != kb.Service && fx.action != kb.Other && !fx.trial }
	if slices.ContainsFunc(fixed, proper) {
		demote(fixed, proper)
	}
	fixed = slices.DeleteFunc(fixed, func(fx *fixFound) bool { return fx.outcome != kb.Fixed })
	if len(distinct(fixed)) < 2 {
		return
	}
	lastIndex := fixed[len(fixed)-1].index // the cure was noticed after the last of them
	demote(fixed, func(fx *fixFound) bool { return fx.index == lastIndex })
	fixed = slices.DeleteFunc(fixed, func(fx *fixFound) bool { return fx.outcome != kb.Fixed })
	first := fixed[0]
	together := !slices.ContainsFunc(fixed, func(fx *fixFound) bool { return fx.index != first.index })
	demote(fixed, func(fx *fixFound) bool { return together && l.x.sameThing(fx.comp, first.comp) })
	first.shared = true
	if len(fixed) > 1 {
		l.doubt = "Several things were done at once: which of them cured the fault?"
	}
}

// isAccessory tells whether a part is one that is renewed along with another as a matter of course.
func isAccessory(name string) bool {
	return slices.Contains([]string{"gasket", "seal", "o-ring", "oring", "ring", "grommet", "clip", "clamp", "cap", "fluid", "oil", "coolant", "filter", "bolt", "nut", "screw", "washer", "joint", "terminal", "bracket", "kit", "cover", "boot", "gaiter", "hose", "plug"}, lastWord(name))
}

// unlike tells whether two names share no word: one of them is no part of the other, nor a step of its repair.
func unlike(a, b string) bool {
	words := strings.Fields(b)
	return !slices.ContainsFunc(strings.Fields(a), func(w string) bool { return slices.Contains(words, w) })
}

// near tells whether a check of one component points to another: the same, a part or a whole of it.
func (x *Extractor) near(tested, fixed string) bool {
	if x.sameThing(tested, fixed) {
		return true
	}
	rel := x.v.Relation(tested, fixed)
	return rel == kb.CulpritInTested || rel == kb.TestedInCulprit
}

// demote makes the outcome of fixes unknown except of those to keep.
func demote(fixes []*fixFound, keep func(*fixFound) bool) {
	for _, fx := range fixes {
		if !keep(fx) {
			fx.outcome = kb.UnknownOutcome
		}
	}
}
