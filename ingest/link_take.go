package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

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
		denied := parted && slices.ContainsFunc(e.sent.toks[last.to:e.from], func(t token) bool {
			return t.word == "not" || t.word == "no" || t.word == "never" || t.word == "without"
		})
		if !parted || !lasting && !(denied && !e.sent.has(cueNoChange, last.to, len(e.sent.toks))) {
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
