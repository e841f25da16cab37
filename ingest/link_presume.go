package ingest

import (
	"slices"

	"ruledout/kb"
)

// presumeCure takes the last repair of a story for its cure where no phrase says so outright, but the story says it as a whole: what was
// mended had been found bad, what follows sounds well, and nobody speaks of trouble, of a wait or of a question after it.
func (l *line) presumeCure() {
	if l.cured != nil || l.gone != nil || len(l.group) == 0 {
		return
	}
	last := l.group[len(l.group)-1]
	var fixes []*fixFound
	for _, fx := range l.group {
		if fx.sent.post == last.sent.post && !fx.trial && !fx.weak && slices.Contains([]kb.Action{kb.Replace, kb.Repair, kb.Clean, kb.Adjust, kb.Refit, kb.Reprogram}, fx.action) {
			fixes = append(fixes, fx)
		}
	}
	fixes = slices.DeleteFunc(fixes, func(fx *fixFound) bool { return !l.foundBad(fx) })
	if len(fixes) == 0 || l.p.starter && last.sent.post == l.p.sents[l.p.told].post && l.r.thread.Kind == KindThread || l.troubleAfter(last.index) {
		return
	}
	if e, ok := l.soundsWell(fixes[len(fixes)-1]); ok {
		l.settleGroup(fixes, kb.Fixed, e)
		l.cured, l.back = &e, nil
	}
}

// foundBad tells whether a check before a repair found its part bad, or the writer names it as the culprit.
func (l *line) foundBad(fx *fixFound) bool {
	return fx.credited || slices.ContainsFunc(l.tests, func(t *testFound) bool {
		return t.result == kb.Fail && t.index <= fx.index && l.x.near(t.comp, fx.comp)
	}) || slices.ContainsFunc(l.credits, func(e event) bool { return l.x.near(e.comp, fx.comp) })
}

// troubleAfter tells whether a sentence after the last repair speaks of trouble, of waiting, or asks.
func (l *line) troubleAfter(index int) bool {
	if l.back != nil && l.back.index >= index || l.open != nil && l.open.index >= index {
		return true
	}
	return slices.ContainsFunc(l.p.sents[index:], func(s *sentence) bool {
		if s.asked {
			return true
		}
		return slices.ContainsFunc(s.mentions, func(m mention) bool {
			return m.kind == termCue && slices.Contains([]string{cueNoChange, cueBack, cuePartial, cueOpenEnd, cueUnsolved}, m.name)
		})
	})
}

// soundsWell gives the first words after a repair that sound as if all were well.
func (l *line) soundsWell(fx *fixFound) (event, bool) {
	for i := fx.index; i < len(l.p.sents); i++ {
		s := l.p.sents[i]
		from := 0
		if i == fx.index {
			from = fx.to
		}
		if at := s.wellWord(from); at >= 0 {
			return event{class: cueFixed, sent: s, index: i, from: at, to: at + 1}, true
		}
		passed := slices.ContainsFunc(l.tests, func(t *testFound) bool {
			return t.index == i && t.result == kb.Pass && (i > fx.index || t.from >= fx.to) && t.sent.post == fx.sent.post
		})
		if passed {
			return event{class: cueFixed, sent: s, index: i, to: len(s.toks)}, true
		}
	}
	return event{}, false
}

// wellWord gives the first token from i on that sounds well, -1 if there is none.
func (s *sentence) wellWord(i int) int {
	if span := spanOf(s); span != nil && !s.tellsAge() && !shortTime(s.text[s.start:s.end]) {
		if at := tokenAt(s, s.start+span[0]); at >= i && s.clauseAt(at).kind == told {
			return at
		}
	}
	for ; i < len(s.toks); i++ {
		t := s.toks[i]
		if t.mark || s.clauseAt(i).kind != told {
			continue
		}
		next := ""
		if i+1 < len(s.toks) {
			next = s.toks[i+1].word
		}
		switch {
		case slices.Contains([]string{"smooth", "smoothly", "lovely", "sweet", "quiet", "steady", "history", "perfect", "perfectly", "happy", "strong", "normal", "fine", "great", "solid", "properly", "finally", "success", "hooray", "thank", "cheer", "wonderful", "brilliant"}, t.word):
			if !s.negated(max(i-3, 0), i) {
				return i
			}
		case t.word == "again" && i > 0 && !s.negated(max(i-4, 0), i), t.word == "now" && i > 0 && doesItsWork(s.toks[i-1].word):
			return i
		case (t.word == "out" || t.word == "off") && i > 1 && (s.toks[i-1].word == "is" || s.toks[i-1].word == "are") && showsFault(s.toks[i-2].word):
			return i
		case (t.word == "not" && (next == "a" || next == "one")) || t.word == "no" && s.noTrouble(i+1):
			return i
		}
	}
	return -1
}

// showsFault tells whether a word names a lamp or a message.
func showsFault(word string) bool {
	return slices.Contains([]string{"light", "lamp", "code", "warning", "message", "mil", "cel", "alarm"}, word)
}

// noTrouble tells whether what is denied at token i is trouble rather than something wanted: "no P-codes", not "no luck".
func (s *sentence) noTrouble(i int) bool {
	if i >= len(s.toks) {
		return false
	}
	w := s.toks[i].word
	return !isWanted(w) && !slices.Contains([]string{"luck", "joy", "change", "difference", "idea", "clue", "need", "doubt", "sign", "one", "power", "help", "money", "time", "way", "matter", "use", "signal", "reading", "fuel", "start", "cure", "fix", "better", "improvement", "answer"}, w)
}
