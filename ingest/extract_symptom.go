package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// symptomsOf gives what a person noticed of the machine, or noted as absent: what the vocabulary knows as a symptom, in
// sentences before the cure.
func (x *Extractor) symptomsOf(r *reading, p *person, l *line) []kb.Symptom {
	var out []kb.Symptom
	for i := p.told; i < len(p.sents); i++ {
		s := p.sents[i]
		if l.afterCure(i) || s.place == RegionHeading {
			continue
		}
		for _, m := range s.mentions {
			if m.kind != kb.TermSymptom {
				continue
			}
			c := s.clauseAt(m.from)
			if m.name == "fault code" && (len(r.titleCodes) > 0 || len(r.codes[s.post]) > 0) {
				continue // the code itself is kept
			}
			if m.to-m.from == 1 && l.covers(i, clause{from: m.from, to: m.to}) {
				continue // the state of a part that was looked at
			}
			if c.kind != told && c.kind != planned || s.asked && c.to >= len(s.toks)-1 {
				continue
			}
			sy := kb.Symptom{Symptom: m.name, Absent: m.absent != deniedBefore(s, c, m), Confidence: 0.7, Evidence: r.evidence(s, c.from, c.to)}
			out = addSymptom(out, sy)
		}
	}
	return x.complaints(r, p, l, out)
}

// complaintSure is the confidence in a symptom that is told in words which the vocabulary does not know.
const complaintSure = 0.4

// complaints adds what the person says of the fault in words that the vocabulary does not know, from their first post: clauses
// with a word that tells of trouble, in the writer's own words.
func (x *Extractor) complaints(r *reading, p *person, l *line, out []kb.Symptom) []kb.Symptom {
	const most = 5
	for i := p.told; i < len(p.sents) && p.sents[i].post == p.sents[p.told].post && !l.afterCure(i); i++ {
		s := p.sents[i]
		if s.place == RegionHeading || s.place == RegionCode {
			continue
		}
		for _, c := range s.clauses {
			if c.kind != told && c.kind != planned || s.asked || len(out) >= most || l.covers(i, c) || s.toks[c.from].mark && s.toks[c.from].raw == "(" || r.tellsCode(s, c) {
				continue
			}
			if name, absent, ok := complaintIn(s, c); ok && !coveredByEvidence(out, s, c) {
				out = addSymptom(out, kb.Symptom{Symptom: name, Absent: absent, Confidence: complaintSure, Evidence: r.evidence(s, skipMarks(s, c.from), c.to)})
			}
		}
	}
	return out
}

// tellsCode tells whether a clause only says that a code, or "the code", comes or went: that is the code's status, no symptom.
func (r *reading) tellsCode(s *sentence, c clause) bool {
	code, comes := false, false
	for i := c.from; i < c.to; i++ {
		code = code || r.isCode(s, s.toks[i]) || s.toks[i].word == "code" || s.toks[i].word == "dtc"
		comes = comes || slices.Contains([]string{"come", "came", "back", "return", "returned", "clear", "cleared", "stored", "again", "set", "throws", "threw", "shows", "no", "goes", "gone"}, s.toks[i].word)
	}
	return code && comes
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

func coveredByEvidence(out []kb.Symptom, s *sentence, c clause) bool {
	start, end := s.toks[c.from].start, s.toks[c.to-1].end
	return slices.ContainsFunc(out, func(o kb.Symptom) bool {
		return slices.ContainsFunc(o.Evidence, func(e kb.Evidence) bool { return e.Post == s.post+1 && e.Start < end && e.End > start })
	})
}

// complaintIn gives the words of a clause that tells of trouble, and whether it says that the trouble is not there.
func complaintIn(s *sentence, c clause) (name string, absent, ok bool) {
	trouble, bad := false, false
	for i := c.from; i < c.to; i++ {
		w := s.toks[i].word
		switch {
		case slices.Contains([]string{"wont", "doesnt", "cant", "refuse", "stop", "slip", "stopped", "quit", "die", "died", "cut", "stall", "trip", "tripped", "keep", "slow", "dead", "flash", "flashing", "blink",
			"blinking", "stuck", "hunt", "lost", "loses", "lose", "jerk", "shake", "shudder", "beep", "beeping", "noisy", "heavy", "limp", "derate", "lock", "locked", "flat", "hot", "overheat",
			"overheating", "cold", "weak", "drop", "jam", "hesitate", "click", "dim", "bog", "surge", "cranks", "crank", "drift", "creep", "rough", "rattle", "squeal", "grind", "fail", "goes", "throws",
			"came", "come", "shows", "won"}, w):
			trouble = true
			absent = absent || i > c.from && isNegation(s.toks[i-1].word) && !isNegation(w)
		case slices.Contains([]string{"smoke", "noise", "smell", "leak", "vibration", "hesitation", "misfire", "slipping", "steam", "warning", "alarm", "light", "lamp", "buzzer", "knock", "hiss", "crunch", "howl",
			"whine", "hum", "burning", "message", "overheating", "drain", "power"}, w):
			bad = true
			absent = absent || s.negated(max(c.from, i-3), i)
		}
	}
	start := skipMarks(s, c.from)
	if start >= c.to {
		return "", false, false
	}
	words := strings.Fields(s.words(start, c.to))
	if !trouble && !bad || len(words) < 2 || len(words) > 16 {
		return "", false, false
	}
	return strings.Join(words[:min(len(words), 10)], " "), absent, true
}

// afterCure tells whether a sentence comes after the fault was cured, where "no leak" tells of the cure.
func (l *line) afterCure(index int) bool {
	for _, fx := range l.fixes {
		if fx.outcome != "" && index > fx.index {
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
