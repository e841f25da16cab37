package ingest

import "slices"

// answered reads a plain yes or no at the start of a post to a question of somebody else: "did it hold?", "it did!".
func (l *line) answered(index int) (event, bool) {
	s := l.p.sents[index]
	first := index == 0 || l.p.sents[index-1].post != s.post
	if !first || index <= l.p.told || s.asked || !l.askedBefore(s.post) {
		return event{}, false
	}
	words := s.wordsBefore(clause{to: len(s.toks)}, min(len(s.toks), 5), 5)
	switch said := answerOf(words); said {
	case "":
		return event{}, false
	default:
		return event{class: said, sent: s, index: index, from: 0, to: 1}, true
	}
}

// answerOf gives what the first words of an answer say of the effect of a repair: that it cured, or did not; empty if neither.
func answerOf(words []string) string {
	if len(words) == 0 {
		return ""
	}
	second := ""
	if len(words) > 1 {
		second = words[1]
	}
	switch w := words[0]; {
	case slices.Contains([]string{"yes", "yep", "yup", "yeah", "aye"}, w), (w == "it" || w == "that" || w == "they") && (second == "did" || second == "has" || second == "is") && (len(words) == 2 || words[2] != "not"),
		w == "sure" && second == "did", w == "indeed":
		return cueFixed
	case slices.Contains([]string{"no", "nope", "nah", "sadly", "negative"}, w) && second != "code" && second != "problem", w == "afraid" && second == "not", w == "unfortunately" && (second == "not" || second == "no"),
		(w == "it" || w == "that") && (second == "didnt" || second == "hasnt"), w == "not" && (second == "really" || second == "yet" || second == "at"):
		return cueNoChange
	}
	return ""
}

// askedBefore tells whether the last post before this one asks somebody whether a repair helped or held.
func (l *line) askedBefore(post int) bool {
	if post == 0 {
		return false
	}
	for _, p := range l.r.people {
		if p == l.p {
			continue
		}
		for _, s := range p.sents {
			if s.post == post-1 && s.asked && asksOutcome(s) {
				return true
			}
		}
	}
	return false
}

// asksOutcome tells whether a question is about the effect of a repair.
func asksOutcome(s *sentence) bool {
	return slices.ContainsFunc(s.toks, func(t token) bool {
		return slices.Contains([]string{"help", "helped", "work", "worked", "fix", "fixed", "cure", "cured", "hold", "held", "sort", "sorted", "solve", "solved", "result", "outcome", "update", "still", "better", "ok", "okay"}, t.word)
	}) || len(s.toks) <= 3 && s.toks[0].word == "and"
}
