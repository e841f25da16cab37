package ingest

import (
	"regexp"
	"slices"
	"strings"

	"ruledout/kb"
)

// tellsOwn tells whether a sentence says that the writer has, or looks after, a machine of the kind in question.
func (x *Extractor) tellsOwn(r *reading, s *sentence) bool {
	if s.has(cueOther, 0, len(s.toks)) {
		return false
	}
	if s.saysSame() {
		return true
	}
	if s.asked {
		return false
	}
	if hasSeveral.MatchString(s.lowerText()) && !s.imagined(0) {
		return true
	}
	for i, t := range s.toks {
		if x.possesses(r, s, i, t.word) || r.hadCode(s, i) {
			return true
		}
	}
	if distanceForm.MatchString(s.text[s.start:s.end]) && slices.ContainsFunc(x.nameRuns(r, s), func(run nameRun) bool { return run.year != 0 && r.kinship(run.fields) > 0 }) {
		return true // who gives year and distance speaks of one machine that they know
	}
	return slices.ContainsFunc(x.rowsOfNames(r, s), func(run nameRun) bool {
		if r.kinship(run.fields) == 0 {
			return false
		}
		x.scoreRun(r, s, &run)
		return x.ownedHere(s, run)
	})
}

// hasSeveral finds that the writer has several of the machine in question: "we run four of these", "got a couple of them here".
var hasSeveral = regexp.MustCompile(`\b(?:i|we)(?:['’]ve)?(?: have| run| own| got| look after| maintain| have got)* (?:\d{1,2}|two|three|four|five|six|eight|ten|a few|several|a couple|a fleet|both|loads|a pair) of (?:these|those|them|the same)\b`)

// hadCode reads "we had E6 on": a first person, had and a code.
func (r *reading) hadCode(s *sentence, i int) bool {
	if i == 0 && (s.toks[0].word == "had" || s.toks[0].word == "got") && len(s.toks) > 2 && !s.asked && (r.isCode(s, s.toks[1]) || r.isCode(s, s.toks[2])) {
		return true // "Had E6 come up on ..."
	}
	if w := s.toks[i].word; w != "i" && w != "we" || i+1 >= len(s.toks) {
		return false
	}
	if w := s.toks[i+1].word; w != "had" && w != "have" && w != "got" && w != "get" || s.negated(i, i+3) || s.imagined(i) {
		return false
	}
	for j := i + 2; j < min(i+5, len(s.toks)); j++ {
		if r.isCode(s, s.toks[j]) {
			return true
		}
	}
	return false
}

// saysSame tells whether the writer says that the same happened to them: "same here", "I had this", "mine did it too".
func (s *sentence) saysSame() bool {
	if i := s.cueIn(cueSame, 0, len(s.toks)); i >= 0 {
		m := s.mentions[i]
		if c := s.clauseAt(m.from); c.kind != supposed || !s.has(cueIf, c.from, c.to) {
			return !s.negated(m.from-2, m.from)
		}
	}
	return false
}

// possesses tells whether token i is a word of possession that speaks of a machine: "mine", "our 2016", "my van".
func (x *Extractor) possesses(r *reading, s *sentence, i int, word string) bool {
	if strings.EqualFold(s.toks[i].raw, "ours") {
		word = "ours" // folding takes the s off
	}
	switch word {
	case "mine", "ours":
		return !s.negated(i-2, i) && (i == 0 || s.toks[i-1].word != "of") && !s.imagined(i)
	case "my", "our":
	default:
		return false
	}
	if otherPeople(s, i+1) || s.negated(i-3, i) || s.imagined(i) {
		return false
	}
	for j := i + 1; j < min(i+5, len(s.toks)) && (!s.toks[j].mark || isApostrophe(s.toks[j].raw) || s.toks[j].raw == "("); j++ {
		if yearOf(s, j) != 0 && (len(s.toks[j].raw) >= 4 || j <= i+2) {
			return true
		}
		if x.isKindWord(s, j) || slices.Contains([]string{"machine", "one", "unit", "rig", "model"}, s.toks[j].word) {
			return true
		}
		if x.components1(s, j) {
			return false
		}
	}
	return false
}

func isApostrophe(raw string) bool { return raw == "'" || raw == "’" || raw == "‘" }

// imagined tells whether the clause of token i supposes or guesses.
func (s *sentence) imagined(i int) bool {
	c := s.clauseAt(i)
	return c.kind == supposed && (s.has(cueIf, c.from, c.to) || s.has(cueGuess, c.from, c.to))
}

// components1 tells whether a component's phrase covers token j.
func (x *Extractor) components1(s *sentence, j int) bool {
	return slices.ContainsFunc(s.mentions, func(m mention) bool { return m.kind == kb.TermComponent && j >= m.from && j < m.to })
}

// ownedHere tells whether the words around a name say that it is the writer's: "my", "our", "I have", "... here", "had E4 on
// the X", or a sentence that begins with it.
func (x *Extractor) ownedHere(s *sentence, run nameRun) bool {
	for i := max(run.from-7, 0); i < run.from; i++ {
		w := s.toks[i].word
		if (w == "my" || w == "our") && otherPeople(s, i+1) || s.negated(max(run.from-4, 0), run.from) {
			return false
		}
		switch w {
		case "my", "our", "ive", "weve", "mine", "ours":
			return true
		case "have", "had", "got", "own", "run", "bought", "fixed", "did", "repaired", "drive", "see", "saw":
			if i == 0 || slices.Contains([]string{"i", "we", "and", "also", "just", "only", "recently", "already", "too"}, s.toks[i-1].word) {
				return true
			}
		}
	}
	for i := run.to; i < min(run.to+6, len(s.toks)); i++ {
		if s.toks[i].word == "here" || s.toks[i].word == "owner" {
			return true
		}
	}
	begins := run.from <= 2 || run.from > 0 && s.toks[run.from-1].mark && run.from <= 4
	ends := run.to >= len(s.toks)-1
	return begins && (run.year != 0 || ends || s.toks[run.to].mark || slices.Contains([]string{"and", "with"}, s.toks[run.to].word)) && !s.negated(0, run.from) || ends && run.year != 0
}

// worthACase asks for a fault: a code, a symptom that is there, a test that failed or a fix that was tried for a reason; of
// a further reporter it is enough to have the same.
func worthACase(c *kb.Case, p *person) bool {
	present := slices.ContainsFunc(c.Symptoms, func(s kb.Symptom) bool { return !s.Absent && s.Confidence > complaintSure })
	complains := slices.ContainsFunc(c.Symptoms, func(s kb.Symptom) bool { return !s.Absent })
	failed := slices.ContainsFunc(c.Tests, func(t kb.Test) bool { return t.Result == kb.Fail })
	tried := slices.ContainsFunc(c.Fixes, func(f kb.Fix) bool { return f.Outcome != kb.UnknownOutcome })
	if len(c.Codes) > 0 || present || failed || tried {
		return true
	}
	if p.starter {
		return complains && len(c.Fixes)+len(c.Tests) > 1
	}
	return complains && p.machine.at >= 0 || len(c.Fixes) > 0 && c.Status == kb.Closed || slices.ContainsFunc(p.sents[p.told:], func(s *sentence) bool { return s.saysSame() })
}
