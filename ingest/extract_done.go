package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// blowTest tells whether somebody blew through a part to see whether it is open: "blew through it both ways".
func (s *sentence) blowTest(m mention) bool {
	return strings.HasPrefix(s.words(m.from, m.to), "blew") && slices.ContainsFunc(s.toks[m.to:min(m.to+4, len(s.toks))], func(t token) bool {
		return t.word == "both" || t.word == "either" || t.word == "freely" || t.word == "easily"
	})
}

// clearsPart tells whether "cleared" speaks of a part that was blocked, not of a code.
func (x *Extractor) clearsPart(f *focus, s *sentence, m mention) bool {
	if s.clearsCode(m) {
		return false
	}
	if m.to < len(s.toks) && isPronoun(s.toks[m.to].word) {
		return f.bad.name != "" && f.badAge == 0 && f.blocked || f.littered.name != "" && f.litterAge <= 1
	}
	objects, _ := x.objectsAfter(s, m.to)
	if len(objects) > 0 && objects[0].from > m.to && !isDeterminer(s.toks[m.to].word) || len(objects) > 0 && objects[0].from == m.to && m.from+1 == m.to && s.toks[m.to].word == objects[0].name {
		return false
	}
	return len(objects) > 0 && objects[0].known && !foreignMatter(objects[0].raw) && !foreignMatter(lastWord(objects[0].name)) && objects[0].name != "foreign object"
}

// clearsCode tells whether an action only takes a code out of a memory.
func (s *sentence) clearsCode(m mention) bool {
	return slices.ContainsFunc(s.toks[m.from:min(m.to+2, len(s.toks))], func(t token) bool {
		return slices.Contains([]string{"code", "fault", "dtc", "error", "light", "memory", "lamp", "warning"}, t.word)
	}) && (kb.Action(m.name) == kb.Other || s.toks[m.from].word == "cleared")
}

// shiftsGear tells whether "put it in" goes on with where: "put it in reverse" is how a machine is driven.
func (s *sentence) shiftsGear(m mention) bool {
	return m.to < len(s.toks) && s.words(m.from, m.to) == "put it in" && !s.toks[m.to].mark && !isConjunction(s.toks[m.to].word) &&
		(len(s.toks[m.to].word) == 1 || slices.Contains([]string{"gear", "reverse", "forward", "drive", "neutral", "park", "first", "low"}, s.toks[m.to].word))
}

// ownBefore tells whether somebody who acts stands before token i: "I rebuilt", "they rewound".
func (s *sentence) ownBefore(i int) bool {
	for j := max(i-3, 0); j < i; j++ {
		if isFirstPerson(s.toks[j].word) && s.toks[j].word != "my" && s.toks[j].word != "our" {
			return true
		}
	}
	return false
}

// wasDone tells whether the verb of a mention states a thing done, by its form and by what stands before it.
func (x *Extractor) wasDone(s *sentence, c clause, m mention) bool {
	if s.asked && c.to >= len(s.toks)-2 || c.kind == foreignCase {
		return false
	}
	if s.cureIs(m.from) {
		return true
	}
	for _, k := range []string{cueIf, cueAdvice, cueGuess, cueHearsay} {
		if i := s.cueIn(k, c.from, c.to); i >= 0 && s.mentions[i].from <= m.from {
			if k != cueHearsay && k != cueGuess || !s.ownPast(c) {
				return false
			}
		}
	}
	if i := s.cueIn(cuePlan, c.from, c.to); i >= 0 && s.mentions[i].from < m.from+1 && !s.has(cueNoChange, c.to, len(s.toks)) {
		return false
	}
	verb := s.verbAt(m.from)
	before := s.wordsBefore(c, m.from, 4)
	if s.gerundSubject(c, m) {
		return true
	}
	if slices.ContainsFunc(before, blocksDoing) {
		return false
	}
	prev := ""
	if len(before) > 0 {
		prev = before[len(before)-1]
	}
	if (prev == "it" || prev == "she") && slices.Contains([]string{"drained", "emptied", "filled", "charged", "primed", "bled", "cleaned", "cleared"}, verb) && m.to-m.from == 1 {
		return false // what the machine did
	}
	if slices.Contains([]string{"soldered", "sealed", "crimped", "sleeved", "taped", "welded"}, verb) && m.to < len(s.toks) && isJoiningWord(s.toks[m.to].word) && slices.ContainsFunc(s.toks[max(m.from-5, 0):m.from], func(t token) bool { return t.word == "with" || t.word == "and" }) {
		return false // "repaired it with soldered joints and sealed sleeves"
	}
	if verb == "welded" && slices.Contains([]string{"was", "were", "is", "are", "had"}, prev) {
		return false // what was found: "the contacts were welded"
	}
	if verb == "stuck" && !slices.Contains([]string{"", "i", "we", "he", "they", "and", "then", "just", "she", "dealer", "shop", "garage"}, prev) {
		return false // "a leaf was stuck in the fan"
	}
	switch {
	case strings.HasSuffix(verb, "ing"):
		return slices.Contains([]string{"after", "by", "tried", "finished", "started"}, prev) || strings.HasPrefix(s.words(max(m.from-2, 0), m.from), "ended up")
	case isPast(verb):
		return prev != "be" && prev != "get" && prev != "being"
	}
	return x.baseDone(s, m, before, prev)
}

// isJoiningWord tells whether a word in the singular names a joint or what one joins with.
func isJoiningWord(word string) bool {
	return word == "joint" || word == "connection" || isMaterial(word)
}

// verbAt gives the verb at token i in small letters; of "re-attached" the second half, which shows its form.
func (s *sentence) verbAt(i int) string {
	if s.toks[i].word == "re" && i+1 < len(s.toks) {
		i++
	}
	return strings.ToLower(s.toks[i].raw)
}

// gerundSubject tells whether the verb is what the sentence says had an effect: "replacing the valve cured it", "neither cleaning nor
// replacing it helped", "fixed by replacing the valve".
func (s *sentence) gerundSubject(c clause, m mention) bool {
	if !strings.HasSuffix(s.toks[m.from].word, "ing") || m.from > 0 && isModal(s.toks[m.from-1].word) {
		return false
	}
	opens := true
	for i := c.from; i < m.from; i++ {
		t := s.toks[i]
		opens = opens && (t.mark || isConjunction(t.word) || slices.Contains([]string{"neither", "nor", "just", "simply", "even", "not", "then", "so", "in", "end", "the", "also", "only", "first", "by"}, t.word))
	}
	neither := slices.ContainsFunc(s.toks[:m.from], func(t token) bool { return t.word == "neither" || t.word == "nor" })
	return (opens || neither) && s.effectAfter(m.to)
}

// effectAfter tells whether the sentence goes on after token i to say, as a fact, what effect something had.
func (s *sentence) effectAfter(i int) bool {
	if _, to := s.deniedHelp(); to > i {
		return true
	}
	return slices.ContainsFunc(s.mentions, func(m mention) bool {
		if m.kind != termCue || m.from < i || !slices.Contains([]string{cueNoChange, cueFixed, cuePartial, cueBack}, m.name) {
			return false
		}
		k := s.clauseAt(m.from).kind
		return (k == told || k == planned && m.name == cueNoChange) && !s.wishedBefore(m.from)
	})
}

// cureIs tells whether "the cure was (to)" or "fixed by" stands right before token i.
func (s *sentence) cureIs(i int) bool {
	for i > 0 && (kb.IsArticle(s.toks[i-1].word) || isStateWord(s.toks[i-1].word) || slices.Contains([]string{"to", "simply", "just", ":"}, s.toks[i-1].word)) {
		i--
	}
	return slices.ContainsFunc(s.mentions, func(m mention) bool {
		if m.kind != termCue || m.to != i || m.name != cueFixed && m.name != cueCredit {
			return false
		}
		first, last := s.toks[m.from].word, s.toks[m.to-1].word
		named := slices.Contains([]string{"solution", "fix", "cure", "answer", "remedy"}, first) && !s.negated(m.from-2, m.to)
		return (named && (last == "was" || last == "is") || last == "by") && !s.wishedBefore(m.from) && !s.asked
	})
}

// wishedBefore tells whether a word shortly before token i says that what follows is only wished, expected or possible.
func (s *sentence) wishedBefore(i int) bool {
	from := s.clauseAt(i).from
	return slices.ContainsFunc(s.toks[max(from, i-5):i], func(t token) bool {
		return isModal(t.word) || slices.Contains([]string{"hope", "hoped", "hoping", "hopefully", "wish", "expect", "expected", "expecting", "supposed", "thought", "assume", "assumed", "thinking", "want", "wanted", "maybe", "perhaps"}, t.word)
	})
}

// isModal tells whether a word makes a statement one of what may or ought to be.
func isModal(word string) bool {
	return slices.Contains([]string{"should", "would", "will", "might", "could", "may", "shall", "ought", "ll", "d", "wont", "wouldnt"}, word)
}

// baseDone tells whether a verb in its base form tells of a thing done: "did replace", and the present tense that people use
// who write in a language that is not their own: "I change the filter".
func (x *Extractor) baseDone(s *sentence, m mention, before []string, prev string) bool {
	if prev == "did" || prev == "i" || prev == "we" {
		return true
	}
	if slices.Contains(before, "had") && slices.Contains([]string{"them", "him", "her", "it", "shop", "garage", "dealer"}, prev) {
		return true
	}
	if len(before) > 1 && slices.Contains([]string{"already", "also", "then", "have", "just", "first"}, prev) && slices.ContainsFunc(before, func(w string) bool { return w == "i" || w == "we" }) {
		return true
	}
	if s.reportsWork() && !s.asked && m.from <= skipMarks(s, 0)+1 {
		return true
	}
	if m.to < len(s.toks) && s.toks[m.to].word == "of" && s.has(cueFixed, m.to, len(s.toks)) {
		return true // "a flush of the heating circuit fixed it"
	}
	after := m.to < len(s.toks) && slices.Contains([]string{"done", "did", "carried"}, s.toks[m.to].word)
	return after || prev == "done" || prev == "ran"
}

// reportsWork tells whether a sentence stands under a heading that says what was done.
func (s *sentence) reportsWork() bool {
	return slices.ContainsFunc(strings.Fields(s.section), func(w string) bool {
		return slices.Contains([]string{"repair", "work", "done", "did", "fix", "remedy", "action", "cure", "attempt", "tried"}, w)
	}) && !strings.Contains(s.section, "check") && !strings.Contains(s.section, "test")
}

// wordsBefore gives the folded words of the clause before token i, at most n.
func (s *sentence) wordsBefore(c clause, i, n int) []string {
	var out []string
	for j := max(c.from, i-n); j < i; j++ {
		if !s.toks[j].mark {
			out = append(out, s.toks[j].word)
		}
	}
	return out
}

// blocksDoing tells whether a word before a verb says that it was not, or not yet, done.
func blocksDoing(w string) bool {
	return isNegation(w) || slices.Contains([]string{"should", "could", "would", "might", "must", "can", "will", "shall", "may", "to", "need", "if", "ill", "id",
		"youd", "your", "you", "let", "lets", "instead", "than", "before", "want", "gonna", "wants", "needs", "please", "when", "whoever", "who", "try", "wont", "avoid",
		"just", "ever"}, w) && w != "just"
}
