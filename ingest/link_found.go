package ingest

import (
	"slices"

	"ruledout/kb"
)

// faultWindow is how many sentences before a repair the words may stand that tell what was found.
const faultWindow = 4

// foundFaults makes the failed check that stands behind a repair which helped: who renews a part that turns out to be the cause has
// found it bad, and the words that say so ("split right along the seam", "full of water") stand beside the repair, often without the
// part's name.
func (l *line) foundFaults() {
	for _, fx := range l.fixes {
		helped := fx.outcome == kb.Fixed || fx.outcome == kb.Partial || fx.outcome == kb.Returned
		if !helped || fx.shared || fx.action == kb.Other || l.failedBefore(fx) {
			continue
		}
		if t := l.namelessFault(fx); t != nil {
			t.comp, t.known, t.guess, t.culprit = fx.comp, fx.known, false, true
			continue
		}
		if t := l.toldFault(fx); t != nil {
			l.tests = append(l.tests, t)
		}
	}
	slices.SortStableFunc(l.tests, func(a, b *testFound) int {
		if a.index != b.index {
			return a.index - b.index
		}
		return a.from - b.from
	})
}

// failedBefore tells whether a check of the repaired part is there already that found it bad.
func (l *line) failedBefore(fx *fixFound) bool {
	return slices.ContainsFunc(l.tests, func(t *testFound) bool {
		return t.result == kb.Fail && !t.guess && t.index <= fx.index+2 && l.x.near(t.comp, fx.comp)
	})
}

// namelessFault gives the failed check just before a repair whose own words name no part that the vocabulary knows.
func (l *line) namelessFault(fx *fixFound) *testFound {
	for _, t := range slices.Backward(l.tests) {
		if t.result == kb.Fail && (t.guess || !t.known || t.beside || fx.index-t.index <= 4 && !l.repaired(t.comp)) && t.index <= fx.index+1 && fx.index-t.index <= faultWindow && t.sent.post == fx.sent.post {
			return t
		}
	}
	return nil
}

// repaired tells whether some repair was done on what a check names.
func (l *line) repaired(comp string) bool {
	return slices.ContainsFunc(l.fixes, func(fx *fixFound) bool { return l.x.near(comp, fx.comp) })
}

// toldFault reads the words of damage nearest to a repair: in the sentences before it, in its own, or in the two after it.
func (l *line) toldFault(fx *fixFound) *testFound {
	order := []int{fx.index}
	for n := 1; n <= faultWindow; n++ {
		order = append(order, fx.index-n)
		if n <= 2 {
			order = append(order, fx.index+n)
		}
	}
	for _, i := range order {
		if i < l.p.told || i >= len(l.p.sents) || l.p.sents[i].post != fx.sent.post {
			continue
		}
		if t := l.faultIn(l.p.sents[i], i, fx); t != nil {
			return t
		}
	}
	return nil
}

// faultIn gives a failed check of the repaired part from the words of damage in a sentence, nil if there are none that may speak of it.
func (l *line) faultIn(s *sentence, index int, fx *fixFound) *testFound {
	if s.asked || s.place == RegionHeading {
		return nil
	}
	for _, v := range append(s.verdicts(0, len(s.toks)), s.flawsSeen()...) {
		c := s.clauseAt(v.from)
		if v.result != kb.Fail || v.weak && !s.namesNothing(c, v) && !l.names(s, c, fx) || c.kind != told || l.x.isComplaint(s, v) || l.speaksOfOther(s, c, v, fx) {
			continue
		}
		if slices.ContainsFunc(l.tests, func(t *testFound) bool { return t.sent == s && v.from < t.to && t.from < v.to }) {
			continue
		}
		t := &testFound{sent: s, index: index, from: v.from, to: v.to, comp: fx.comp, known: fx.known, result: kb.Fail, culprit: true}
		t.name, t.method = l.x.methodIn(s, "visual inspection")
		return t
	}
	return nil
}

// flawsSeen gives the nouns for flaws that a sentence says are there, as judgements.
func (s *sentence) flawsSeen() []verdict {
	var out []verdict
	for i, t := range s.toks {
		if c := s.clauseAt(i); t.mark || !isFlaw(t.word) || isStray(t.word) || s.negated(max(c.from, i-4), i) || !s.saysThere(c, i) {
			continue
		}
		if !slices.Contains([]string{"problem", "issue", "fault", "sign", "wrong", "anything", "mark", "trace", "evidence", "short", "break", "leak", "burn", "tear"}, t.word) {
			out = append(out, verdict{result: kb.Fail, from: i, to: i + 1})
		}
	}
	return out
}

// names tells whether a clause names the repaired part.
func (l *line) names(s *sentence, c clause, fx *fixFound) bool {
	return slices.ContainsFunc(l.x.components(s), func(np nounPhrase) bool { return np.from >= c.from && np.to <= c.to && l.x.near(np.name, fx.comp) })
}

// isComplaint tells whether a word of judgement belongs to a symptom of the machine rather than to a part.
func (x *Extractor) isComplaint(s *sentence, v verdict) bool {
	return slices.ContainsFunc(s.mentions, func(m mention) bool {
		return m.kind == kb.TermSymptom && v.from < m.to && v.to > m.from && !m.absent && m.to-m.from > 1
	})
}

// speaksOfOther tells whether words of damage have a part of their own before them in their clause that is not the repaired one.
func (l *line) speaksOfOther(s *sentence, c clause, v verdict, fx *fixFound) bool {
	for _, np := range l.x.partsIn(s) {
		if np.from >= c.from && np.to <= v.from && !np.oblique && !isPiece(np.raw) && !l.x.near(np.name, fx.comp) {
			return true
		}
	}
	return false
}

// readAgain gives a reading after a repair the name under which the failed reading in the same unit before the repair stands, where its
// own name was not measured before: one measures again where one measured first.
func (l *line) readAgain() {
	for i, t := range l.tests {
		if t.reading == nil || t.reading.Unit == "" || t.result == kb.Fail {
			continue
		}
		if slices.ContainsFunc(l.tests[:i], func(o *testFound) bool { return l.x.near(o.comp, t.comp) }) {
			continue
		}
		for _, first := range slices.Backward(l.tests[:i]) {
			if first.reading == nil || first.reading.Unit != t.reading.Unit || first.result != kb.Fail {
				continue
			}
			if slices.ContainsFunc(l.fixes, func(fx *fixFound) bool {
				return fx.index > first.index && fx.index <= t.index && fx.outcome != kb.NoChange
			}) {
				t.comp, t.known, t.guess, t.culprit = first.comp, first.known, false, true
			}
			break
		}
	}
}
