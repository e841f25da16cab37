package ingest

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"

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
	l.nameCulprits()
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
		if !ok {
			continue
		}
		fx := &fixFound{sent: e.sent, index: e.index, from: e.from, to: e.to, action: l.actionNear(e), comp: e.comp, outcome: kb.Fixed, settled: well.sent, credited: true}
		l.fixes = append(l.fixes, fx)
		if l.cured == nil {
			l.cured, l.back = &well, nil
		}
	}
	slices.SortStableFunc(l.fixes, func(a, b *fixFound) int { return cmp.Or(a.index-b.index, a.from-b.from) })
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
		if g.index > e.index || g.index == e.index && g.from >= e.to {
			return g, true
		}
	}
	if l.cured != nil && (l.cured.index >= e.index || l.cured.sent.post == e.sent.post && e.index-l.cured.index < 6) {
		return *l.cured, true
	}
	for i := e.index; i < min(e.index+5, len(l.p.sents)); i++ {
		if s := l.p.sents[i]; spanOf(s) != nil && holds(s) && !s.asked {
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
	if names := distinct(fixed); len(names) > 1 {
		l.pointOut(fixed)
	}
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
	if slices.ContainsFunc(fixed, failed) {
		demote(fixed, failed)
		return
	}
	demote(fixed, func(fx *fixFound) bool { return fx.action != kb.Service && fx.action != kb.Other && !fx.trial })
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

var holdForm = regexp.MustCompile(`(?i)\b(\d[\d,. ]*k?|an?|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|fifteen|twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety|few|several|couple of|forty-odd|dozens? of|all|whole|the|every|over the|last|next|hundred|of)\s+(?:more |full |solid |good |straight |whole |print |engine |running )?(days?|weeks?|months?|years?|yrs?|winters?|summers?|seasons?|miles?|mi|km|kms|kilomet\w+|hours?|hrs?|h|washes|wash|cycles?|prints?|cups|coffees|loads?|trips?|charges?|starts?|nights?|drives?|rides?|lap|weekends?|services?|flights?|frosts?|mornings?|jobs|pages|copies|acres|tanks?|shifts?|running)\b`)

// holdEvent finds words that say that the cure held over time, distance or cycles, at or after the cure.
func (l *line) holdEvent() *event {
	if l.cured == nil {
		return nil
	}
	first := l.cured.index
	for _, fx := range l.fixes {
		if fx.outcome == kb.Fixed {
			first = min(first, fx.index)
		}
	}
	for i := first; i < len(l.p.sents); i++ {
		s := l.p.sents[i]
		text := s.text[s.start:s.end]
		long := spanOf(s) != nil && !shortTime(text)
		since := slices.ContainsFunc(s.toks, func(t token) bool { return t.word == "since" })
		if i == l.p.machine.at && i <= l.cured.index {
			continue
		}
		if (long || since) && (s.post > l.cured.sent.post || i >= l.cured.index-1) && holds(s) {
			return &event{class: cueHold, sent: s, index: i, from: 0, to: len(s.toks)}
		}
	}
	return nil
}

// holds tells whether a sentence with a duration says that all is well, rather than how long the work or the search took.
func holds(s *sentence) bool {
	for _, m := range s.mentions {
		if m.kind == termCue && (m.name == cueFixed || m.name == cueHold && s.toks[m.from].word != "now" && s.toks[m.from].word != "still") {
			return true
		}
	}
	return slices.ContainsFunc(s.toks, func(t token) bool {
		return slices.Contains([]string{"no", "not", "never", "without", "perfect", "fine", "good", "since", "later", "ago", "after"}, t.word)
	})
}

var workTime = regexp.MustCompile(`(?i)(two|three|four|\d+) hours?\b.{0,24}(labou?r|parts|work|job|laying|skinned)|labou?r \d|warranty|took (me|about)`)

// spanOf gives where a span of time, distance or cycles stands in a sentence, nil if none does.
func spanOf(s *sentence) []int {
	if !slices.ContainsFunc(s.toks, func(t token) bool { return spanUnits()[t.word] }) {
		return nil
	}
	return holdForm.FindStringIndex(s.text[s.start:s.end])
}

// spanUnits gives the units that holdForm knows, for a quick look before it.
var spanUnits = sync.OnceValue(func() map[string]bool {
	set := map[string]bool{}
	for _, w := range strings.Fields(`day week month year yr yrs hrs kms laps winter summer season mile mi km kilometer kilometre kilometers hour hr h wash washes washe cycle print cup coffee load trip charge
		start night drive ride lap weekend service flight frost morning job page copy acre tank shift running`) {
		set[w] = true
	}
	return set
})

func shortTime(text string) bool { return workTime.MatchString(text) }

// settle writes what was found into the case.
func (l *line) settle(c *kb.Case, solved bool) {
	l.useSwaps()
	l.concludeTests()
	l.tests = slices.DeleteFunc(l.tests, func(t *testFound) bool { return t.guess && !t.implied })
	l.dropTrials()
	l.dropRetold()
	steps := l.steps()
	for _, t := range l.tests {
		if t.result == "" && t.reading == nil {
			continue
		}
		if t.guess {
			c.Doubts = append(c.Doubts, kb.Doubt{About: fmt.Sprintf("tests[%d].component", len(c.Tests)), Question: "What was this reading taken of? The sentence does not say.",
				Evidence: l.r.evidence(t.sent, t.from, t.to)})
		}
		if t.implied {
			c.Doubts = append(c.Doubts, kb.Doubt{About: fmt.Sprintf("tests[%d].result", len(c.Tests)), Question: "Was this reading good? The text does not say so in words.",
				Evidence: l.r.evidence(t.sent, t.from, t.to)})
		}
		c.Tests = append(c.Tests, kb.Test{Step: steps[stepKey{t.index, t.from}], Test: t.name, Method: t.method, Component: t.comp, Result: t.result, Reading: t.reading,
			Evidence: l.r.evidence(t.sent, t.from, t.to), Confidence: testSure(t)})
	}
	for _, fx := range l.fixes {
		l.addFixTo(c, fx, steps[stepKey{fx.index, fx.from}])
	}
	l.writeSlashes(c)
	l.status(c, solved)
}

// writeSlashes gives names back the strokes that folding took: "a/c compressor", "run/tow switch".
func (l *line) writeSlashes(c *kb.Case) {
	written := map[string]string{}
	for _, s := range l.p.sents[l.p.told:] {
		for _, np := range l.x.components(s) {
			if name := s.slashed(np.from, np.to); strings.Contains(name, "/") {
				written[np.raw] = name
			}
		}
	}
	for i := range c.Tests {
		c.Tests[i].Component = cmp.Or(written[c.Tests[i].Component], c.Tests[i].Component)
	}
	for i := range c.Fixes {
		c.Fixes[i].Component = cmp.Or(written[c.Fixes[i].Component], c.Fixes[i].Component)
	}
}

// slashed gives the words of tokens from..to with the strokes between them, where letters stand on both sides.
func (s *sentence) slashed(from, to int) string {
	name := ""
	for i := from; i < to && i < len(s.toks); i++ {
		t := s.toks[i]
		if t.mark || kb.IsArticle(t.word) {
			continue
		}
		word := t.word
		if strings.Contains(t.raw, "/") && len(t.raw) > 2 {
			word = strings.ToLower(t.raw)
		}
		switch joined := i > from && s.text[s.toks[i-1].end:t.start] == "/"; {
		case name == "":
			name = word
		case joined:
			name += "/" + word
		default:
			name += " " + word
		}
	}
	return name
}

func (l *line) addFixTo(c *kb.Case, fx *fixFound, step int) {
	f := kb.Fix{Step: step, Action: fx.action, Component: fx.comp, Outcome: fx.outcome, Confidence: fixSure(fx), Evidence: l.r.evidence(fx.sent, fx.from, fx.to)}
	if f.Outcome == "" {
		f.Outcome = kb.UnknownOutcome
	}
	if f.Action == kb.Bypass && f.Outcome == kb.Fixed {
		f.Outcome = kb.UnknownOutcome
	}
	if fx.origin != "" {
		f.Part = &kb.Part{Origin: fx.origin}
	}
	if s := fx.settled; s != nil && s != fx.sent {
		f.Evidence = append(f.Evidence, l.r.evidence(s, 0, len(s.toks))...)
	}
	if question := l.doubtOf(fx, f.Outcome); question != "" {
		c.Doubts = append(c.Doubts, kb.Doubt{About: fmt.Sprintf("fixes[%d].outcome", len(c.Fixes)), Question: question, Evidence: f.Evidence})
	}
	c.Fixes = append(c.Fixes, f)
}

// doubtOf gives the question to the contributor about a fix, empty where the text settles it.
func (l *line) doubtOf(fx *fixFound, o kb.Outcome) string {
	switch {
	case fx.shared || o == kb.UnknownOutcome && l.doubt != "":
		return cmp.Or(l.doubt, "Several things were done at once: was it this one that cured the fault?")
	case o == kb.UnknownOutcome:
		return "Did this help? The text does not say."
	}
	return ""
}

type stepKey struct{ index, from int }

// steps numbers tests and fixes in the order told; fixes of one sentence that share an outcome are one step.
func (l *line) steps() map[stepKey]int {
	var keys []stepKey
	for _, t := range l.tests {
		keys = append(keys, stepKey{t.index, t.from})
	}
	for _, fx := range l.fixes {
		keys = append(keys, stepKey{fx.index, fx.from})
	}
	slices.SortFunc(keys, func(a, b stepKey) int { return cmp.Or(a.index-b.index, a.from-b.from) })
	keys = slices.Compact(keys)
	out := map[stepKey]int{}
	for i, k := range keys {
		out[k] = i + 1
	}
	return out
}

// useSwaps makes tests of exchanges with a known-good part.
func (l *line) useSwaps() {
	var keep []*fixFound
	for _, fx := range l.fixes {
		c := fx.sent.clauseAt(fx.from)
		if !fx.sent.has(cueSwap, c.from, c.to) || fx.outcome == kb.Fixed || fx.credited {
			keep = append(keep, fx)
			continue
		}
		t := &testFound{sent: fx.sent, index: fx.index, from: fx.from, to: fx.to, comp: fx.comp, known: fx.known, name: "known-good swap"}
		if m, ok := l.x.v.Method("substitution"); ok {
			t.method = m.Name
		}
		switch fx.outcome {
		case kb.NoChange:
			t.result = kb.Pass
		case kb.Partial, kb.Returned:
			t.result = kb.Fail
		default:
			continue
		}
		l.tests = append(l.tests, t)
	}
	l.fixes = keep
	slices.SortStableFunc(l.tests, func(a, b *testFound) int { return cmp.Or(a.index-b.index, a.from-b.from) })
}

// dropRetold leaves one of several cures of one part by one action in a post, and drops a repair without an outcome that speaks of a
// cure just told: the writer told of it twice.
func (l *line) dropRetold() {
	var keep []*fixFound
	for _, fx := range l.fixes {
		if !slices.ContainsFunc(keep, func(o *fixFound) bool {
			again := fx.outcome == kb.Fixed || (fx.outcome == "" || fx.outcome == kb.UnknownOutcome) && fx.index-o.index <= 2
			return o.comp == fx.comp && o.action == fx.action && o.outcome == kb.Fixed && again && o.sent.post == fx.sent.post
		}) {
			keep = append(keep, fx)
		}
	}
	l.fixes = keep
}

// dropTrials leaves out what was only taken off or isolated to see, unless its effect on the fault is told.
func (l *line) dropTrials() {
	l.fixes = slices.DeleteFunc(l.fixes, func(fx *fixFound) bool {
		if _, known := l.x.component(fx.comp); !known && (fx.outcome == "" || fx.outcome == kb.UnknownOutcome) && !fx.credited {
			return true // a thing that nobody knows, with an effect that nobody tells
		}
		return (fx.trial || fx.action == kb.Other) && !fx.credited && fx.outcome != kb.Fixed && (fx.outcome == "" || fx.outcome == kb.UnknownOutcome || fx.settled != fx.sent)
	})
}

// concludeTests gives readings without a judgement the result that follows from the story: a component that was found to be
// the culprit had failed, one that is read after the cure is good.
func (l *line) concludeTests() {
	for _, t := range l.tests {
		if t.result != "" {
			continue
		}
		if l.uselessFix(t) {
			t.result = kb.Fail
			continue
		}
		for _, fx := range l.fixes {
			if fx.outcome != kb.Fixed {
				continue
			}
			switch {
			case t.index > fx.index || t.index == fx.index && t.from > fx.from:
				t.result, t.implied = kb.Pass, true
			case l.x.v.Relation(t.comp, fx.comp) != kb.Unrelated || l.x.near(t.comp, fx.comp):
				t.result, t.implied = kb.Fail, true
			case t.result == "":
				t.result, t.implied = kb.Pass, true
			}
		}
		if t.result == "" && t.reading != nil && !l.x.isQuantity(t.comp) && !l.isCulprit(t.comp) {
			t.result, t.implied = kb.Pass, true // who finds a part bad says so
		}
	}
}

// isQuantity tells whether a name is of a measured quantity, which may well be what the complaint is about.
func (x *Extractor) isQuantity(name string) bool {
	c, ok := x.v.Component(name)
	if ok {
		return c.Quantity
	}
	words := strings.Fields(name)
	return len(words) > 0 && isQuantityWord(words[len(words)-1])
}

// isCulprit tells whether a fix was tried on what a check points to.
func (l *line) isCulprit(name string) bool {
	return slices.ContainsFunc(l.fixes, func(fx *fixFound) bool { return fx.outcome != kb.NoChange && l.x.near(name, fx.comp) })
}

// uselessFix tells whether a reading is told as the effect of a fix that changed nothing.
func (l *line) uselessFix(t *testFound) bool {
	return slices.ContainsFunc(l.fixes, func(fx *fixFound) bool {
		return fx.outcome == kb.NoChange && t.index >= fx.index && t.index-fx.index <= 1 && t.sent.post == fx.sent.post && (t.index > fx.index || t.from > fx.from) && fx.settled == t.sent
	})
}

// status tells whether the case is closed, how, and how well that is confirmed.
func (l *line) status(c *kb.Case, solved bool) {
	c.Status, c.Confirmation = kb.Open, kb.Unconfirmed
	if l.ends() {
		c.Status, c.ClosedAs = kb.Closed, kb.HandedOver
		if l.gone.class == cueScrapped {
			c.ClosedAs = kb.NotWorthRepairing
		}
		c.StatusEvidence = l.r.evidence(l.gone.sent, 0, len(l.gone.sent.toks))
		return
	}
	fixed := slices.ContainsFunc(l.fixes, func(fx *fixFound) bool { return fx.outcome == kb.Fixed })
	switch {
	case l.back != nil && !fixed:
		c.StatusEvidence = l.r.evidence(l.back.sent, 0, len(l.back.sent.toks))
		return
	case l.cured == nil && !fixed:
		if l.open != nil {
			c.StatusEvidence = l.r.evidence(l.open.sent, 0, len(l.open.sent.toks))
		}
		return
	}
	c.Status, c.ClosedAs, c.Confirmation = kb.Closed, kb.Repaired, kb.Reported
	if l.cured != nil {
		c.StatusEvidence = l.r.evidence(l.cured.sent, 0, len(l.cured.sent.toks))
	}
	if l.held != nil {
		c.Confirmation = kb.Verified
		c.StatusEvidence = append(c.StatusEvidence, l.r.evidence(l.held.sent, 0, len(l.held.sent.toks))...)
	} else if l.proved() {
		c.Confirmation = kb.Verified
	}
}

// ends tells whether the story ends with the machine given away uncured: nothing is told to have cured it, and nothing was done to it
// after.
func (l *line) ends() bool {
	const most = 4 // sentences after it
	if l.gone == nil || l.cured != nil || l.gone.index < len(l.p.sents)-1-most {
		return false
	}
	return !slices.ContainsFunc(l.fixes, func(fx *fixFound) bool { return fx.outcome == kb.Fixed || fx.index > l.gone.index }) &&
		!slices.ContainsFunc(l.tests, func(t *testFound) bool { return t.index > l.gone.index })
}

// proved tells whether a reading after the cure was good.
func (l *line) proved() bool {
	return slices.ContainsFunc(l.tests, func(t *testFound) bool {
		return t.reading != nil && t.result == kb.Pass && slices.ContainsFunc(l.fixes, func(fx *fixFound) bool {
			return fx.outcome == kb.Fixed && (t.index > fx.index || t.index == fx.index && t.from > fx.from)
		})
	})
}
