package ingest

import (
	"slices"

	"ruledout/kb"
)

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

// recalls tells whether a verb only recalls a repair told before: "two tanks since we flushed the lines".
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
