package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// eventsIn gives the phrases of outcome, credit and duration in a sentence, in order.
func (x *Extractor) eventsIn(f *focus, s *sentence, index int, comps []nounPhrase) []event {
	var out []event
	for _, m := range s.mentions {
		if m.kind != termCue || !isOutcomeCue(m.name) {
			continue
		}
		c := s.clauseAt(m.from)
		if s.asked && c.to >= len(s.toks)-1 || c.kind == foreignCase || c.kind == supposed && s.has(cueIf, c.from, c.to) && !s.ownPast(c) || x.outdone(s, m) {
			continue
		}
		if m.name == cueFixed && (s.wishedBefore(m.from) || s.limitedCure(m) || c.kind != told && c.kind != planned && !s.ownPast(c)) {
			continue
		}
		e := event{class: m.name, sent: s, index: index, from: m.from, to: m.to}
		if m.name == cueFixed && s.onlyFor(m) {
			e.class, e.from = cueBack, min(m.to+1, len(s.toks)-1)
		}
		if (m.name == cueBack || m.name == cueNoChange) && s.welcomeBack(m) {
			e.class = cueFixed
		}
		if m.name == cueCredit || m.name == cueClear {
			if c.kind == supposed || c.kind == advised {
				continue
			}
			e.comp = x.creditedIn(f, s, m, comps)
			if e.comp == "" {
				continue
			}
		}
		out = append(out, e)
	}
	out = append(out, x.goneCodes(s, index)...)
	out = append(out, x.heldWords(s, index)...)
	out = append(out, x.builtEvents(s, index)...)
	slices.SortStableFunc(out, func(a, b event) int { return a.from - b.from })
	return out
}

// onlyFor tells whether a cure is said to have lasted for some time only: "which fixed it for a month".
func (s *sentence) onlyFor(m mention) bool {
	cured := slices.ContainsFunc(s.toks[m.from:m.to], func(t token) bool {
		return slices.Contains([]string{"fixed", "cured", "sorted", "solved", "helped"}, t.word)
	})
	if !cured || m.to >= len(s.toks) || s.toks[m.to].word != "for" {
		return false
	}
	span := spanOf(s)
	while := slices.ContainsFunc(s.toks[m.to:min(m.to+4, len(s.toks))], func(t token) bool { return t.word == "while" || t.word == "bit" })
	return (while || span != nil && tokenAt(s, s.start+span[0])-m.to <= 3) && !slices.ContainsFunc(s.toks[m.to:], func(t token) bool { return t.word == "now" || t.word == "far" || t.word == "counting" })
}

// limitedCure tells whether words of cure speak of some condition, or of the rest of the machine only: "works fine when cold", "runs well
// in the morning but not at night", "everything else works".
func (s *sentence) limitedCure(m mention) bool {
	c := s.clauseAt(m.from)
	rest := s.toks[m.to:]
	for i, t := range rest {
		if slices.Contains([]string{"now", "again", "even", "since", "and"}, t.word) || t.mark && t.raw != "," {
			break
		}
		if i <= 2 && slices.Contains([]string{"when", "while", "if", "unless", "except", "apart", "only", "otherwise", "provided"}, t.word) && !s.has2(m.to-1, "now", "again") {
			return true
		}
		if (t.word == "but" || t.word == "though") && s.negated(m.to+i, min(m.to+i+4, len(s.toks))) {
			return true
		}
	}
	return slices.ContainsFunc(s.toks[c.from:m.from], func(t token) bool {
		return slices.Contains([]string{"else", "otherwise", "rest", "apart", "used", "before", "normally", "usually", "sometimes"}, t.word) && t.word != "before"
	}) || s.userThing(c, m)
}

// userThing tells whether the words of cure speak of a lamp, the radio or the like: "the lights work fine".
func (s *sentence) userThing(c clause, m mention) bool {
	if m.from == c.from || m.from == 0 {
		return false
	}
	w := s.toks[m.from-1].word
	works := slices.Contains([]string{"work", "worked", "working", "run", "fine", "ok", "good"}, s.toks[m.from].word)
	return works && (w == "light" || w == "radio" || w == "horn" || w == "wiper" || w == "headlight" || w == "indicator") && !s.has2(m.to-1, "now", "again")
}

// welcomeBack tells whether what is back is what the user wants: "the heat is back".
func (s *sentence) welcomeBack(m mention) bool {
	if m.from == 0 || s.toks[m.to-1].word != "back" {
		return false
	}
	if s.has2(m.to, "where") && slices.ContainsFunc(s.toks[m.to:min(m.to+5, len(s.toks))], func(t token) bool { return t.word == "should" || t.word == "belong" || t.word == "normal" }) {
		return true
	}
	w := s.toks[m.from].word
	if w == "is" || w == "are" || w == "was" || w == "came" {
		w = s.toks[m.from-1].word
	}
	return isWanted(w)
}

func isOutcomeCue(class string) bool {
	return slices.Contains([]string{cueNoChange, cueFixed, cuePartial, cueBack, cueBoth, cueCredit, cueClear, cueOpenEnd, cueUnsolved, cueUnknowing, cueHanded, cueScrapped}, class)
}

// outdone tells whether a cue of outcome lies inside a longer one of another class, or is turned round by a word before it.
func (x *Extractor) outdone(s *sentence, m mention) bool {
	if slices.ContainsFunc(s.mentions, func(k mention) bool {
		return k.kind == termCue && k.name != m.name && isOutcomeCue(k.name) && k.from <= m.from && k.to >= m.to && k.to-k.from > m.to-m.from
	}) {
		return true
	}
	if m.name == cueBack && slices.ContainsFunc(s.mentions, func(k mention) bool {
		return k.kind == kb.TermAction && k.from <= m.from && k.to >= m.to
	}) || m.name == cueBack && m.to < len(s.toks) && (s.toks[m.to].word == "from" || s.toks[m.to].word == "home") {
		return true
	}
	if (m.name == cueBack || m.name == cueNoChange) && s.personBack(m) || m.name == cueNoChange && s.toks[m.from].word == "returned" && s.negated(m.from-3, m.from) {
		return true
	}
	reach := 2
	if m.name == cueFixed && m.to-m.from == 1 {
		reach = 4 // "I cannot say it is cured"
	}
	return (m.name == cueFixed || m.name == cueBack) && !isNegation(s.toks[m.from].word) && s.negated(max(m.from-reach, s.clauseAt(m.from).from), m.from)
}

// personBack tells whether it is somebody who came back, not the fault: "the customer came back for a service".
func (s *sentence) personBack(m mention) bool {
	if m.from == 0 || s.toks[m.from].word != "came" && s.toks[m.from].word != "come" && s.toks[m.from].word != "is" && s.toks[m.from].word != "was" {
		return false
	}
	return slices.Contains([]string{"owner", "customer", "i", "he", "they", "we", "guy", "man", "mechanic", "engineer", "technician", "van", "parts", "driver", "fitter", "id", "ive", "car", "just", "has", "have"}, s.toks[m.from-1].word) && !s.has2(m.to, "with", "again")
}

// creditedIn gives the component that a phrase of credit or of clearing speaks of: the one after it, else before it.
func (x *Extractor) creditedIn(f *focus, s *sentence, m mention, comps []nounPhrase) string {
	c := s.clauseAt(m.from)
	first := s.toks[m.from].word
	backward := m.to-m.from > 1 && (first == "was" || first == "were" || first == "is" || first == "are")
	for _, np := range comps {
		if !backward && np.from >= m.to-1 && np.from-m.to <= 6 && np.to > m.to-1 {
			return x.wholeOf(f, s, comps, np).name
		}
	}
	for _, np := range slices.Backward(comps) {
		if np.to <= m.from && np.from >= c.from {
			return x.wholeOf(f, s, comps, np).name
		}
	}
	return ""
}

// goneCodes gives "no P0420", "not one E47" as the fault gone, and "P0420 again", "still E47" as the fault there.
func (x *Extractor) goneCodes(s *sentence, index int) []event {
	var out []event
	for i, t := range s.toks {
		code := x.codeToken(s, i)
		symptom := slices.ContainsFunc(s.mentions, func(m mention) bool { return m.from == i && m.kind == kb.TermSymptom && !m.absent })
		if i > 0 && strings.HasSuffix(t.word, "ing") && (s.toks[i-1].word == "quit" || s.toks[i-1].word == "stopped") && s.clauseAt(i).kind == told {
			out = append(out, event{class: cueFixed, sent: s, index: index, from: i - 1, to: i + 1})
		}
		if t.mark || !code && !symptom {
			continue
		}
		prev := ""
		if i > 0 {
			prev = s.toks[i-1].word
		}
		next := ""
		if i+1 < len(s.toks) {
			next = s.toks[i+1].word
		}
		switch {
		case code && (next == "gone" || next == "free" || next == "away") && !s.negated(i, i+3):
			out = append(out, event{class: cueFixed, sent: s, index: index, from: i, to: i + 2})
		case prev == "no" || prev == "not" || prev == "never" || prev == "without" || prev == "one" && i > 1 && s.toks[i-2].word == "not" || prev == "single":
			if c := s.clauseAt(i); c.kind == told {
				out = append(out, event{class: cueFixed, sent: s, index: index, from: i - 1, to: i + 1})
			}
		case prev == "again":
			out = append(out, event{class: cueBack, sent: s, index: index, from: i - 1, to: i + 1})
		case prev == "still" || i+1 < len(s.toks) && (s.toks[i+1].word == "again" || s.toks[i+1].word == "back"):
			class := cueBack
			if prev == "still" {
				class = cueNoChange
			}
			out = append(out, event{class: class, sent: s, index: index, from: i - 1, to: i + 1})
		}
	}
	return out
}

// positive tells whether a sentence says that all is well.
func positive(s *sentence) bool {
	if s.has(cueFixed, 0, len(s.toks)) {
		return true
	}
	return slices.ContainsFunc(s.toks, func(t token) bool {
		return slices.Contains([]string{"perfect", "perfectly", "fine", "good", "great", "dry", "happy", "solid", "faultless", "sweet", "held", "holding", "strong", "trouble", "problem", "thought", "counting"}, t.word)
	}) && !s.has(cueGuess, 0, len(s.toks))
}

// heldWords gives what says by its build that the fault stayed away: a negation with "since" or "again" after it ("hasn't
// tripped since"), a lone "done", a span of time or distance without a word of trouble.
func (x *Extractor) heldWords(s *sentence, index int) []event {
	if s.asked {
		return nil
	}
	for _, c := range s.clauses {
		if c.kind != told && c.kind != planned {
			continue
		}
		words := s.wordsBefore(c, c.to, 40)
		alone := len(words) == 1 && slices.Contains([]string{"done", "sorted", "fixed", "closed", "cured", "result"}, words[0]) && s.place != RegionHeading && (c.to >= len(s.toks)-1 || s.toks[c.to].raw == ".")
		if alone || len(s.clauses) == 1 && len(words) == 1 && slices.Contains([]string{"run", "work", "start", "perfect", "gone", "success"}, words[0]) {
			return []event{{class: cueFixed, sent: s, index: index, from: c.from, to: c.to}}
		}
	}
	for i, t := range s.toks {
		if !slices.Contains([]string{"hasnt", "havent", "not", "never", "no", "hasn", "haven"}, t.word) || s.clauseAt(i).kind == supposed || s.clauseAt(i).kind == advised {
			continue
		}
		for j := i + 1; j < min(i+11, len(s.toks)); j++ {
			if (s.toks[j].word == "since" || s.toks[j].word == "again") && !slices.ContainsFunc(s.toks, func(t token) bool { return t.word == "still" || t.word == "same" }) {
				return []event{{class: cueFixed, sent: s, index: index, from: i, to: j + 1}}
			}
		}
	}
	text := s.text[s.start:s.end]
	trouble := s.has(cueNoChange, 0, len(s.toks)) || s.has(cueBack, 0, len(s.toks)) || s.has(cuePartial, 0, len(s.toks)) || s.has(cueIf, 0, len(s.toks)) || s.has(cueOpenEnd, 0, len(s.toks))
	trouble = trouble || slices.ContainsFunc(s.mentions, func(m mention) bool {
		return m.kind == termCue && m.name == cueFixed && (s.limitedCure(m) || s.onlyFor(m))
	})
	span := spanOf(s)
	if !trouble && span != nil && !shortTime(text) && positive(s) {
		return []event{{class: cueFixed, sent: s, index: index, from: len(s.toks) - 1, to: len(s.toks)}}
	}
	if i := slices.IndexFunc(s.toks, func(t token) bool { return t.word == "since" }); !trouble && span == nil && i > 0 && (s.toks[i-1].word == "ever" || i+1 == len(s.toks) || s.toks[i+1].mark) &&
		s.clauseAt(i-1).kind == told && !slices.ContainsFunc(s.mentions, func(m mention) bool { return m.kind == kb.TermSymptom && !m.absent }) {
		return []event{{class: cueHold, sent: s, index: index, from: i, to: i + 1}}
	}
	if !trouble && span != nil && !shortTime(text) && s.place != RegionHeading {
		at := tokenAt(s, s.start+span[0])
		return []event{{class: cueHold, sent: s, index: index, from: at, to: at + 1}}
	}
	return nil
}

// codeToken tells whether a token begins a code or stands for one: "no code", "no error".
func (x *Extractor) codeToken(s *sentence, i int) bool {
	w := s.toks[i].word
	if slices.Contains([]string{"code", "light", "lamp", "error", "fault", "warning", "alarm", "leak", "misfire", "turtle", "triangle", "buzzer", "blink"}, w) {
		return true
	}
	return len(w) >= 2 && s.toks[i].hasDigit() && s.toks[i].capital() && !s.toks[i].number()
}
