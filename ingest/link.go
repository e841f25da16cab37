package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// line is what one person did, saw and concluded, in the order told, with outcomes tied to the fixes they belong to.
type line struct {
	x       *Extractor
	r       *reading
	p       *person
	fixes   []*fixFound
	tests   []*testFound
	cured   *event      // what said last that the fault is gone; nil once it came back
	held    *event      // what said that the cure held
	back    *event      // the last return of the fault
	open    *event      // what says that the repair is not finished
	both    *event      // what says that each of several repairs took part
	gone    *event      // what says that the machine went to somebody else, or to scrap
	credits []event     // what names a culprit
	good    []event     // what says that all is well while no fix waits
	group   []*fixFound // fixes without an outcome yet, in order
	last    []*fixFound // the fixes that the last outcome was tied to
	doubt   string      // question about a group that nobody could part
}

// event is a phrase of outcome in a sentence.
type event struct {
	class    string
	sent     *sentence
	index    int
	from, to int
	comp     string // of credit and clear
}

// lineOf reads a person's sentences in order and ties outcomes to fixes.
func (x *Extractor) lineOf(r *reading, p *person) *line {
	l := &line{x: x, r: r, p: p}
	f := &focus{}
	f.note(x.components(r.title))
	for i, s := range p.sents[:p.told] {
		if p.told < len(p.sents) && s.post == p.sents[p.told].post && i >= p.told-3 {
			f.note(x.components(s))
		}
	}
	var spent []*testFound // of the sentence before
	for i := p.told; i < len(p.sents); i++ {
		s := p.sents[i]
		var next *sentence
		if i+1 < len(p.sents) {
			next = p.sents[i+1]
		}
		if i > p.told && s.post != p.sents[i-1].post {
			f.newPost(x.saidBetween(r, p.sents[i-1].post, s.post))
			f.wanted = x.wantedBetween(r, p, p.sents[i-1].post, s.post)
		}
		fixes := x.fixesIn(f, s, i)
		tests := x.testsIn(f, s, next, i, fixes)
		comps := x.components(s)
		fixes = slices.DeleteFunc(fixes, func(fx *fixFound) bool { return fx.trial && testedBy(tests, fx) })
		events := unspent(append(slices.Clone(spent), tests...), s, x.eventsIn(f, s, i, comps))
		if e, ok := l.answered(i); ok {
			events = append([]event{e}, events...)
		}
		if l.cured != nil && s.reproduces(events) {
			l.reproduced(event{class: cueBack, sent: s, index: i, from: 0, to: len(s.toks)})
			fixes, events = nil, nil
		}
		spent = tests
		f.note(comps)
		f.noteBad(s, tests)
		f.noteDamage(x.damageAt(s))
		f.notePair(comps)
		f.noteLitter(x.litterAt(s, len(s.toks)))
		f.note(namesOf(fixes, comps))
		l.takeSentence(i, fixes, tests, events)
	}
	l.finish()
	return l
}

// saidBetween gives the components that other people spoke of in the posts between two of one person, those of the last post only.
func (x *Extractor) saidBetween(r *reading, from, to int) []nounPhrase {
	var out []nounPhrase
	last := -1
	for _, p := range r.people {
		for _, s := range p.sents {
			if s.post <= from || s.post >= to || s.post < last {
				continue
			}
			if comps := x.components(s); len(comps) > 0 {
				if s.post > last {
					out, last = nil, s.post
				}
				out = append(out, comps...)
			}
		}
	}
	return out
}

// testedBy tells whether a trial is told as a test already.
func testedBy(tests []*testFound, fx *fixFound) bool {
	return slices.ContainsFunc(tests, func(t *testFound) bool { return t.spends != nil && t.from < fx.to && fx.from < t.to })
}

// unspent leaves out the outcomes of a sentence that tell the result of a test.
func unspent(tests []*testFound, s *sentence, events []event) []event {
	return slices.DeleteFunc(events, func(e event) bool {
		return slices.Contains([]string{cueNoChange, cueFixed, cuePartial, cueBack, cueHold}, e.class) && slices.ContainsFunc(tests, func(t *testFound) bool {
			return t.spends == s && !speaksOfAll(s) && (t.sent != s || e.from >= t.from)
		})
	})
}

// namesOf gives the parts of fixes that are not among the sentence's components, since the vocabulary does not know them.
func namesOf(fixes []*fixFound, comps []nounPhrase) []nounPhrase {
	var out []nounPhrase
	for _, fx := range fixes {
		if !slices.ContainsFunc(comps, func(np nounPhrase) bool { return np.name == fx.comp }) {
			out = append(out, nounPhrase{name: fx.comp, known: fx.known})
		}
	}
	return out
}

// takeSentence adds a sentence's findings in the order of their words.
func (l *line) takeSentence(index int, fixes []*fixFound, tests []*testFound, events []event) {
	l.tests = append(l.tests, tests...)
	fi := 0
	for _, e := range events {
		for fi < len(fixes) && (fixes[fi].from <= e.from || announces(e, fixes[fi])) {
			l.addFix(fixes[fi])
			fi++
		}
		l.take(e)
	}
	for ; fi < len(fixes); fi++ {
		l.addFix(fixes[fi])
	}
}

// announces tells whether a phrase of cure stands right before the repair that it speaks of: "fixed by replacing the valve", "solved:
// valve replaced".
func announces(e event, fx *fixFound) bool {
	if e.class != cueFixed || fx.from < e.to || fx.from-e.to > 4 {
		return false
	}
	between := e.sent.toks[e.to:fx.from]
	last := e.sent.toks[e.to-1].word
	return last == "by" || last == "was" || last == "is" || slices.ContainsFunc(between, func(t token) bool {
		return t.raw == ":" || t.raw == "-" || t.raw == "–" || t.word == "by" || t.word == "after" || t.word == "with"
	})
}

// addFix adds a fix, unless it only speaks again of one that is there.
func (l *line) addFix(fx *fixFound) {
	for _, old := range l.fixes {
		if old.comp == fx.comp && old.action == fx.action && old.sent.post == fx.sent.post && fx.index-old.index <= 1 && old.outcome == "" {
			return
		}
	}
	if l.accessory(fx) || l.recalls(fx) || l.refitsToSee(fx) || l.beforeFault(fx) {
		return
	}
	l.fixes = append(l.fixes, fx)
	l.group = append(l.group, fx)
}

// beforeFault tells whether a repair was done before the fault began, so that it was no attempt to cure it: "it started after I replaced
// the radio", "did the brakes last week and now the lamp is on".
func (l *line) beforeFault(fx *fixFound) bool {
	s := fx.sent
	c := s.clauseAt(fx.from)
	begins := func(toks []token) bool {
		return slices.ContainsFunc(toks, func(t token) bool {
			return slices.Contains([]string{"started", "began", "begun", "appeared", "developed"}, t.word)
		})
	}
	opener := s.toks[skipMark(s, c.from)].word
	if (opener == "after" || opener == "since" || opener == "ever") && len(l.fixes) == 0 && (begins(s.toks) || opener != "after" && l.complains(s, c)) {
		return true
	}
	if s.post != l.p.sents[l.p.told].post || !l.p.starter || len(l.fixes) > 0 || s.has(cueNoChange, 0, len(s.toks)) {
		return false
	}
	return l.nowFaulty(s, fx.to) || fx.index+1 < len(l.p.sents) && l.p.sents[fx.index+1].post == s.post && l.nowFaulty(l.p.sents[fx.index+1], 0)
}

// complains tells whether the sentence outside a clause tells of a fault.
func (l *line) complains(s *sentence, c clause) bool {
	return slices.ContainsFunc(s.mentions, func(m mention) bool {
		return m.kind == kb.TermSymptom && !m.absent && (m.to <= c.from || m.from >= c.to)
	})
}

// nowFaulty reads "and now it whistles", "but now I have the lamp on" from token i on.
func (l *line) nowFaulty(s *sentence, i int) bool {
	for ; i < len(s.toks); i++ {
		if s.toks[i].word != "now" || i == 0 {
			continue
		}
		linked := slices.ContainsFunc(s.toks[max(i-2, 0):i], func(t token) bool { return t.word == "and" || t.word == "but" || t.raw == "," })
		if !linked || s.cueIn(cueFixed, i, len(s.toks)) >= 0 || s.negated(i, len(s.toks)) {
			continue
		}
		if slices.ContainsFunc(s.mentions, func(m mention) bool { return m.from > i && m.kind == kb.TermSymptom && !m.absent }) ||
			slices.ContainsFunc(s.toks[i:], func(t token) bool {
				return slices.Contains([]string{"light", "lamp", "code", "warning", "whistle", "noise", "error", "fault", "leak", "knock", "rattle", "misfire"}, t.word)
			}) {
			return true
		}
	}
	return false
}

// skipMark gives the first word of a clause.
func skipMark(s *sentence, i int) int {
	for i+1 < len(s.toks) && s.toks[i].mark {
		i++
	}
	return i
}

// recalls tells whether a verb only recalls a repair told before: "96 hours since we cleaned that tank out".
func (l *line) recalls(fx *fixFound) bool {
	since := slices.ContainsFunc(fx.sent.toks[max(fx.from-4, 0):fx.from], func(t token) bool { return t.word == "since" || t.word == "after" })
	return since && slices.ContainsFunc(l.fixes, func(old *fixFound) bool { return l.x.sameThing(old.comp, fx.comp) })
}

// refitsToSee tells whether an old part was put back after the cure to see whether it was at fault.
func (l *line) refitsToSee(fx *fixFound) bool {
	has := func(words ...string) bool {
		return slices.ContainsFunc(fx.sent.toks, func(t token) bool { return slices.Contains(words, t.word) })
	}
	told := l.cured != nil || len(l.credits) > 0 && l.credits[len(l.credits)-1].sent.post == fx.sent.post
	return told && fx.action == kb.Refit && has("original", "old") && has("see", "check", "prove", "experiment", "still", "sure", "back", "spare")
}

// accessory tells whether a fix is only a step of another on the same part: coded, bled, moved after it was replaced.
func (l *line) accessory(fx *fixFound) bool {
	if slices.Contains([]kb.Action{kb.Replace, kb.Repair, kb.Clean, kb.Bypass}, fx.action) {
		return false
	}
	return slices.ContainsFunc(l.fixes, func(old *fixFound) bool {
		return old.outcome == "" && fx.index-old.index <= 1 && old.sent.post == fx.sent.post && l.x.sameThing(old.comp, fx.comp)
	})
}

// take ties one outcome to the fixes that it belongs to.
func (l *line) take(e event) {
	switch e.class {
	case cueNoChange:
		l.takeNoChange(e)
	case cuePartial:
		l.takePartial(e)
	case cueFixed:
		if l.stillAsks(e) {
			return
		}
		l.takeFixed(e)
	case cueHold:
		l.takeSpan(e)
	case cueBack:
		l.takeBack(e)
	case cueCredit:
		l.credits = append(l.credits, e)
		l.credit(e)
	case cueClear:
		for _, fx := range l.fixes {
			if fx.outcome == "" && l.x.sameThing(fx.comp, e.comp) {
				l.settleGroup([]*fixFound{fx}, kb.NoChange, e)
			}
		}
	case cueBoth:
		l.both = &e
	case cueOpenEnd:
		l.open = &e
	case cueUnsolved:
		l.open = &e
		l.uncure(e)
	case cueHanded, cueScrapped:
		if k := e.sent.clauseAt(e.from).kind; (k == told || k == planned && e.class == cueScrapped && !e.sent.wishedBefore(e.from)) && (l.p.starter || l.p.machine.at >= 0) {
			l.gone = &e
		}
	case cueUnknowing:
		if len(l.last) > 1 {
			for _, fx := range l.last {
				fx.outcome = kb.UnknownOutcome
			}
			l.doubt = "Which of these repairs cured the fault, or did each take part?"
		}
	}
}

// near gives the fixes without an outcome that an outcome at e can belong to: those of its own sentence, else those of the
// sentences just before in the same post.
func (l *line) near(e event, sentences int) []*fixFound {
	var same, before []*fixFound
	for _, fx := range l.group {
		switch {
		case fx.trial && e.class == cueFixed && len(l.group) > 1:
		case fx.index == e.index:
			same = append(same, fx)
		case fx.trial && e.class != cueFixed && (len(e.sent.toks) > 5 || e.index-fx.index > 1):
		case fx.sent.post == e.sent.post && e.index-fx.index <= sentences:
			before = append(before, fx)
		}
	}
	if len(same) > 0 {
		return same
	}
	if len(before) > 1 && !speaksOfAll(e.sent) {
		lastIndex := before[len(before)-1].index
		before = slices.DeleteFunc(before, func(fx *fixFound) bool { return fx.index < lastIndex-1 })
	}
	return before
}

func speaksOfAll(s *sentence) bool {
	return slices.ContainsFunc(s.toks, func(t token) bool {
		return slices.Contains([]string{"none", "nothing", "all", "both", "neither", "either", "any"}, t.word)
	})
}

// settleGroup gives fixes their outcome and takes them out of those that wait for one.
func (l *line) settleGroup(fixes []*fixFound, o kb.Outcome, e event) {
	for _, fx := range fixes {
		fx.outcome, fx.settled = o, e.sent
	}
	l.group = slices.DeleteFunc(l.group, func(fx *fixFound) bool { return slices.Contains(fixes, fx) })
	if len(fixes) > 0 {
		l.last = fixes
	}
}

// stillAsks tells whether an outcome stands in a first post that asks for help, or that others answer and its writer never
// comes back to: what worked before the question is no cure of it. A later edit ("update: ...") and an outright "fixed it" are.
func (l *line) stillAsks(e event) bool {
	first := l.p.sents[l.p.told].post
	if e.sent.post != first || !l.p.starter {
		return false
	}
	last := l.p.sents[len(l.p.sents)-1].post
	asks, update := l.r.title.asked && !l.r.solved || l.r.thread.Kind == KindThread && len(l.r.people) > 1 && last == first && !l.r.solved && !l.tellsOnly(first), false
	for i, s := range l.p.sents {
		if s.post != first {
			continue
		}
		asks = asks || s.asked && i > e.index
		w := s.toks[0].word
		update = update || i <= e.index && i > l.p.told && (w == "update" || w == "edit" || w == "solved" || w == "fixed" || w == "updated")
	}
	return asks && !update && !outright(e)
}

// tellsOnly tells whether a post tells a story that ends well some time ago, and asks nothing.
func (l *line) tellsOnly(post int) bool {
	past := slices.ContainsFunc(l.p.sents, func(s *sentence) bool {
		return s.post == post && spanOf(s) != nil && positive(s) && slices.ContainsFunc(s.toks, func(t token) bool { return t.word == "ago" || t.word == "since" || t.word == "later" })
	})
	return past && !slices.ContainsFunc(l.p.sents, func(s *sentence) bool {
		return s.post == post && (s.asked || slices.ContainsFunc(s.toks, func(t token) bool {
			return slices.Contains([]string{"help", "idea", "suggestion", "advice", "thought", "wondering", "anyone", "anybody", "stuck", "clue", "where", "input", "pointer"}, t.word)
		}))
	})
}

// outright tells whether a phrase says plainly that the fault is cured.
func outright(e event) bool {
	words := e.sent.words(e.from, e.to)
	return slices.Contains([]string{"fixed it", "that fixed", "problem solved", "solved", "that was it", "sorted", "cured it", "cured", "fixed that", "did the trick", "sorted it", "job done", "has fixed", "fixed", "all sorted", "sorted it out"}, words)
}

// takeNoChange ties "no difference" to the fixes done last; after words of some time without the fault it says that it came back. Where
// an old part was put back on purpose it proves the cure.
func (l *line) takeNoChange(e event) {
	if l.cured != nil && e.sent.has(cueReproduce, 0, len(e.sent.toks)) {
		l.reproduced(e)
		return
	}
	fixes := l.near(e, 2)
	if len(fixes) == 0 && l.opensPost(e) {
		fixes = l.waitingBefore(e)
	}
	if len(fixes) > 0 {
		l.settleGroup(fixes, comesBack(fixes[len(fixes)-1], e), e)
	}
}

// opensPost tells whether an outcome stands in the first two sentences of a post.
func (l *line) opensPost(e event) bool {
	return e.index < 2 || l.p.sents[e.index-1].post != e.sent.post || l.p.sents[e.index-2].post != e.sent.post
}

// waitingBefore gives the repairs of the person's post before that of an outcome, which still wait for one.
func (l *line) waitingBefore(e event) []*fixFound {
	var out []*fixFound
	for _, fx := range l.group {
		if fx.sent.post < e.sent.post && !fx.trial && fx.sent.post == l.group[len(l.group)-1].sent.post {
			out = append(out, fx)
		}
	}
	return out
}

// takePartial ties "better, not cured" to the fixes done last; of one that the fault came back after it says the same.
func (l *line) takePartial(e event) {
	fixes := l.near(e, 2)
	if len(fixes) == 0 && len(l.last) > 0 && l.last[0].outcome == kb.Returned && l.last[0].settled != nil && l.last[0].settled.post == e.sent.post {
		fixes = l.last
	}
	l.settleGroup(fixes, kb.Partial, e)
}

// takeFixed ties a cure to the fixes done last. Without any that wait, it confirms the last ones.
func (l *line) takeFixed(e event) {
	if turnsBad(e) || e.sent.toks[e.from].word == "still" && e.sent.has(cueNoChange, 0, e.from) {
		return // "no change, it still works but ..."
	}
	fixes := l.near(e, 6)
	if len(fixes) == 0 && len(l.group) > 0 && (l.back == nil || l.back.index < l.group[len(l.group)-1].index) {
		lastPost := l.group[len(l.group)-1].sent.post
		for _, fx := range l.group {
			if fx.sent.post == lastPost {
				fixes = append(fixes, fx)
			}
		}
	}
	if len(fixes) > 0 {
		l.settleGroup(fixes, kb.Fixed, e)
		l.cured, l.back = &e, nil
		return
	}
	l.good = append(l.good, e)
	if l.cured != nil && e.sent.post > l.cured.sent.post {
		l.held = &e
	}
}

// turnsBad tells whether the sentence goes on to say that it did not last: "worked fine for a week, but now ...".
func turnsBad(e event) bool {
	but := false
	rest := e.sent.toks[e.to:]
	if e.from == len(e.sent.toks)-1 {
		rest = e.sent.toks // what the whole sentence says
	}
	for _, t := range rest {
		but = but || t.word == "but" || t.word == "however" || t.word == "until"
		if but && slices.Contains([]string{"problem", "issue", "again", "back", "returned", "started", "worse", "stopped", "dead", "same", "wont"}, t.word) {
			return true
		}
	}
	return false
}

// takeSpan takes a mere span of time or distance, told right after a repair without any word of trouble, for a sign that the
// repair held: "replaced the pump. Three months, 4,000 km."
func (l *line) takeSpan(e event) {
	if l.stillAsks(e) || len(l.group) == 0 {
		return
	}
	last := l.group[len(l.group)-1]
	if last.sent.post != e.sent.post || e.index-last.index > 2 || last.trial {
		return
	}
	if e.index == last.index {
		parted := e.from > last.to && slices.ContainsFunc(e.sent.toks[last.to:e.from], func(t token) bool { return t.mark || t.word == "and" })
		lasting := slices.ContainsFunc(e.sent.toks[e.from:], func(t token) bool {
			return slices.Contains([]string{"ago", "now", "since", "far", "later", "until", "on", "been"}, t.word)
		})
		if !parted || !lasting {
			return
		}
	} else if slices.ContainsFunc(e.sent.toks, func(t token) bool {
		return slices.Contains([]string{"took", "spent", "before", "old", "labour", "labor", "bought", "warranty", "when", "last"}, t.word)
	}) {
		return
	}
	l.takeFixed(e)
}

// takeBack ties a return of the fault: of a cure it takes back the cure; of a fix that waits it says that it did not help.
func (l *line) takeBack(e event) {
	if l.cured != nil && e.sent.has(cueReproduce, 0, len(e.sent.toks)) {
		l.reproduced(e)
		return
	}
	if fixes := l.near(e, 1); len(fixes) > 0 {
		l.settleGroup(fixes, comesBack(fixes[len(fixes)-1], e), e)
		return
	}
	if l.cured != nil {
		for _, fx := range l.fixes {
			if fx.outcome == kb.Fixed {
				fx.outcome, fx.settled = kb.Returned, e.sent
			}
		}
		l.cured, l.held, l.back = nil, nil, &e
		return
	}
	if len(l.group) > 0 && l.group[len(l.group)-1].sent.post < e.sent.post {
		l.settleGroup(slices.Clone(l.group), kb.Returned, e)
		l.back = &e
	}
}

// reproduces tells whether a sentence says that the fault came back when the old part was put in, or the new one taken out, on purpose.
func (s *sentence) reproduces(events []event) bool {
	out := s.has(cueReproduce, 0, len(s.toks))
	for i, t := range s.toks {
		undone := slices.Contains([]string{"unplugged", "disconnected", "swapped", "refitted", "removed"}, strings.ToLower(t.raw))
		redone := slices.ContainsFunc(s.toks[i:], func(t token) bool {
			return slices.Contains([]string{"plugged", "reconnected", "refitted", "old", "original"}, t.word)
		})
		out = out || undone && redone && i < 4
	}
	again := slices.ContainsFunc(events, func(e event) bool { return e.class == cueBack || e.class == cueNoChange }) ||
		slices.ContainsFunc(s.toks, func(t token) bool { return t.word == "again" || t.word == "returned" })
	return out && again && !s.asked
}

// reproduced takes a fault that the writer brought back on purpose for what it is: a test that proves the cure.
func (l *line) reproduced(e event) {
	l.held = &e
	if slices.ContainsFunc(l.tests, func(t *testFound) bool { return t.sent == e.sent && t.from == 0 && t.to == len(e.sent.toks) }) {
		return // told in several words of one sentence
	}
	for _, fx := range slices.Backward(l.fixes) {
		if fx.outcome == kb.Fixed {
			l.tests = append(l.tests, &testFound{sent: e.sent, index: e.index, from: 0, to: len(e.sent.toks), name: "reconnect to reproduce", comp: fx.comp, known: fx.known, result: kb.Fail})
			return
		}
	}
}

// uncure takes a cure back where the writer says outright that there is none.
func (l *line) uncure(e event) {
	for _, fx := range l.fixes {
		if fx.outcome == kb.Fixed {
			fx.outcome, fx.settled = kb.Returned, e.sent
		}
	}
	l.cured, l.held = nil, nil
}

// credit gives the cure to the fixes of the component that the writer names, and takes it from the others of its group.
func (l *line) credit(e event) {
	for _, fx := range slices.Backward(l.fixes) {
		if !l.x.sameThing(fx.comp, e.comp) || fx.outcome == kb.NoChange || fx.outcome == kb.Returned {
			continue
		}
		fx.credited = true
		return
	}
}
