package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// symptomsOf gives what a person noticed of the machine, or noted as absent, in sentences before the cure: what the vocabulary knows as a
// symptom, and from their first post what they tell of the fault in words of their own.
func (x *Extractor) symptomsOf(r *reading, p *person, l *line) []kb.Symptom {
	var out []kb.Symptom
	told, said := p.told, 0 // where the telling began, and how many complaints in own words
	for i := p.told; i < len(p.sents); i++ {
		s := p.sents[i]
		if l.afterCure(i, s.post == p.sents[told].post) || s.place == RegionHeading || s.place == RegionCode {
			continue
		}
		states := x.serviceStates(r, l, s, i)
		for _, sy := range x.namedSymptoms(r, l, s, i) {
			if sy.Symptom != "not working" || len(states) == 0 {
				out = addSymptom(out, sy)
			}
		}
		if s.post != p.sents[told].post || s.asked {
			continue
		}
		for _, sy := range states {
			if !sameService(out, sy) {
				out = addSymptom(out, sy)
			}
		}
		if sy, ok := x.complaint(r, l, s, i, out); ok && said < mostComplaints {
			out, said = addSymptom(out, sy), said+1
		}
	}
	return r.inherited(p, out)
}

// namedSure is the confidence in a symptom that the vocabulary knows.
const namedSure = 0.7

// namedSymptoms gives the symptoms of a sentence that the vocabulary knows.
func (x *Extractor) namedSymptoms(r *reading, l *line, s *sentence, index int) []kb.Symptom {
	var out []kb.Symptom
	for _, m := range s.mentions {
		if m.kind != kb.TermSymptom {
			continue
		}
		c := s.clauseAt(m.from)
		switch {
		case m.name == "fault code" && (len(r.titleCodes) > 0 || len(r.codes[s.post]) > 0): // the code itself is kept
		case m.to-m.from == 1 && l.covers(index, clause{from: m.from, to: m.to}): // the state of a part that was looked at
		case isFinding(m.name) && index > l.p.told+2: // what was found on the way, not what is complained of
		case !s.mayTell(c) || s.asked && c.to >= len(s.toks)-1:
		case r.countsBlinks(s, m.from, m.to+2), s.personBefore(m), s.partOfName(m), s.hasWord(c, "told", "diagnosed", "less"), s.has(cueNoChange, c.from, c.to):
		case m.absent && !s.negated(m.from, m.to): // that it "drives fine" tells little
		case m.absent && slices.ContainsFunc(out, func(o kb.Symptom) bool { return o.Absent }): // a row of what is not there counts once
		case strings.HasSuffix(m.name, "idle") && m.from > 0 && s.toks[m.from-1].word == "at", strings.HasSuffix(m.name, "smoke") && r.smokeTested(l.p, s.post): // what was tested how
		default:
			out = append(out, kb.Symptom{Symptom: m.name, Absent: m.absent != deniedBefore(s, c, m), Confidence: namedSure, Evidence: r.evidence(s, skipMarks(s, c.from), c.to)})
		}
	}
	return out
}

// smokeTested tells whether a person speaks of a test with smoke in a post.
func (r *reading) smokeTested(p *person, post int) bool {
	return slices.ContainsFunc(p.sents, func(s *sentence) bool {
		return s.post == post && slices.ContainsFunc(s.mentions, func(m mention) bool { return m.kind == kb.TermMethod && m.name == "smoke test" })
	})
}

// isFinding tells whether a symptom of the vocabulary is the state of a part, which is more often found than complained of.
func isFinding(name string) bool {
	return slices.Contains([]string{"crack", "broken part", "worn part", "chafing", "screw loose", "stuck", "blocked", "melted connector", "gasket leaking", "intake leaking", "leaks water"}, name)
}

// countsBlinks tells whether tokens from..to only say again how often a lamp blinks, which is kept as a code.
func (r *reading) countsBlinks(s *sentence, from, to int) bool {
	blink, number := false, false
	for i := from; i < min(to, len(s.toks)); i++ {
		w := s.toks[i].word
		blink = blink || strings.HasPrefix(w, "blink") || strings.HasPrefix(w, "flash")
		number = number || s.toks[i].number() || slices.Contains([]string{"one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "once", "twice"}, w)
	}
	return blink && number && (len(r.codes[s.post]) > 0 || len(r.titleCodes) > 0)
}

// personBefore tells whether a symptom's verb is what a person does: "I switch off".
func (s *sentence) personBefore(m mention) bool {
	if m.from == 0 || slices.Contains([]string{"lost", "lose", "no", "had", "have"}, s.toks[m.from].word) {
		return false
	}
	return slices.Contains([]string{"i", "we", "you"}, s.toks[m.from-1].word)
}

// partOfName tells whether the words of a symptom are a piece of a component's longer name: "overflow tank", "leak detection pump".
func (s *sentence) partOfName(m mention) bool {
	return slices.ContainsFunc(s.mentions, func(k mention) bool {
		return k.kind == kb.TermComponent && k.from <= m.from && k.to >= m.to && k.to-k.from > m.to-m.from
	})
}

// mayTell tells whether a clause may tell of what the machine does: the writer's own telling, what it does as a habit ("if I let go it stalls"),
// and what its display says.
func (s *sentence) mayTell(c clause) bool {
	switch c.kind {
	case told:
		return true
	case planned: // "won't", "hasn't yet"
		return s.negated(c.from, c.to) && !s.hasWord(c, "will", "want", "going", "if")
	case supposed:
		habit := s.hasWord(c, "if", "when", "whenever", "unless", "until", "once") || s.has(cueGeneral, c.from, c.to) || !s.has(cueIf, c.from, c.to)
		return s.displayed(c) || habit && !s.has(cueGuess, c.from, c.to) && !s.has(cueAdvice, c.from, c.to) && !s.hasWord(c, "you", "your", "they", "these", "people", "everybody")
	case hearsay:
		return s.displayed(c)
	case advised: // "motor dont even hum"
		from := skipMarks(s, c.from)
		return s.toks[from].word != "dont" && s.toks[from].word != "do" && s.hasWord(c, "dont") && !s.hasWord(c, "i", "you", "we", "should", "would", "could", "need", "must", "please", "try", "check", "want")
	}
	return false
}

// displayed tells whether a clause gives what the machine's display says.
func (s *sentence) displayed(c clause) bool {
	return s.hasWord(c, "dash", "display", "screen", "panel", "message", "cluster", "dashboard", "console", "readout", "monitor") && !s.hasWord(c, "he", "she", "dealer", "garage", "told", "guy", "mate")
}

// hasWord tells whether one of the words stands in a clause.
func (s *sentence) hasWord(c clause, words ...string) bool {
	for _, t := range s.toks[c.from:c.to] {
		if slices.Contains(words, t.word) {
			return true
		}
	}
	return false
}

// inherited gives a person who says that theirs "did the same" what the starter of the thread complains of, if they tell nothing else.
func (r *reading) inherited(p *person, have []kb.Symptom) []kb.Symptom {
	if p.starter {
		if i := slices.IndexFunc(have, func(s kb.Symptom) bool { return !s.Absent }); i >= 0 {
			r.complaint = have[i].Symptom
		}
		return have
	}
	if r.complaint == "" || slices.ContainsFunc(have, func(s kb.Symptom) bool { return !s.Absent }) {
		return have
	}
	for i := p.told; i < len(p.sents) && p.sents[i].post == p.sents[p.told].post; i++ {
		s := p.sents[i]
		for j := 0; j+1 < len(s.toks) && !s.asked; j++ {
			c := s.clauseAt(j)
			if c.kind != advised && c.kind != foreignCase && s.doesTheSame(j) {
				return addSymptom(have, kb.Symptom{Symptom: r.complaint, Confidence: complaintSure, Evidence: r.evidence(s, skipMarks(s, c.from), c.to)})
			}
		}
	}
	return have
}

// doesTheSame reads "did the same", "does exactly this", "doing that too" from token i.
func (s *sentence) doesTheSame(i int) bool {
	if !slices.Contains([]string{"did", "does", "do", "doing", "done"}, s.toks[i].word) || s.negated(i-2, i) {
		return false
	}
	for _, t := range s.toks[i+1 : min(i+4, len(s.toks))] {
		switch t.word {
		case "same", "this", "that", "identical":
			return true
		case "the", "exact", "exactly", "just", "a", "very":
		default:
			return false
		}
	}
	return false
}

// sameService tells whether a symptom that is there already names the same thing: "horn does not work" beside "horn inoperative".
func sameService(have []kb.Symptom, sy kb.Symptom) bool {
	thing := lastWord(strings.TrimSuffix(sy.Symptom, " inoperative"))
	return slices.ContainsFunc(have, func(o kb.Symptom) bool { return o.Absent == sy.Absent && strings.HasPrefix(o.Symptom, thing+" ") })
}

// covers tells whether a fix or a test was read from a clause.
func (l *line) covers(index int, c clause) bool {
	for _, fx := range l.fixes {
		if fx.index == index && fx.from < c.to && fx.to > c.from {
			return true
		}
	}
	return slices.ContainsFunc(l.tests, func(t *testFound) bool { return t.index == index && t.from < c.to && t.to > c.from })
}

// afterCure tells whether a sentence comes after the fault was cured, where "no leak" tells of the cure, or after what did not help, where the
// writer only says again what was said in the first post.
func (l *line) afterCure(index int, first bool) bool {
	for _, fx := range l.fixes {
		if fx.outcome != "" && !(first && fx.outcome == kb.NoChange) && index > fx.index {
			return true
		}
	}
	return l.cured != nil && index >= l.cured.index
}

// deniedBefore tells whether a negation in the clause denies the symptom.
func deniedBefore(s *sentence, c clause, m mention) bool {
	for i := max(c.from, m.from-4); i < m.from; i++ {
		if isNegation(s.toks[i].word) && !isNegation(s.toks[m.from].word) {
			return true
		}
	}
	return false
}

func addSymptom(out []kb.Symptom, s kb.Symptom) []kb.Symptom {
	if slices.ContainsFunc(out, func(o kb.Symptom) bool { return strings.EqualFold(o.Symptom, s.Symptom) }) || len(s.Evidence) == 0 {
		return out
	}
	return append(out, s)
}
