package ingest

import (
	"slices"
	"strings"
)

// sayKind tells how a clause is meant.
type sayKind int

// The kinds of statement, from what counts as a fact to what does not.
const (
	told        sayKind = iota // the writer did or saw it
	asked                      // a question
	advised                    // what somebody should do
	supposed                   // a guess, a condition, how things are in general
	planned                    // not done yet
	hearsay                    // what somebody else says
	foreignCase                // somebody else's machine
)

// clause is a part of a sentence: tokens from..to (exclusive).
type clause struct {
	from, to int
	kind     sayKind
	linked   bool // joined to the clause before by "and" or a comma only
}

// analyse cuts a sentence into clauses and tells how each is meant.
func (s *sentence) analyse() {
	s.clauses = cutClauses(s.toks)
	conditional := false
	for i := range s.clauses {
		c := &s.clauses[i]
		c.kind = s.kindOf(*c)
		if s.has(cueIf, c.from, c.to) && !s.ownPast(*c) {
			conditional = conditional || i == 0
			c.kind = supposed
		}
		if conditional && !s.ownPast(*c) && c.kind == told {
			c.kind = supposed
		}
		if s.asked && i == len(s.clauses)-1 && c.kind == told {
			c.kind = asked
		}
	}
}

// kindOf tells how a clause is meant by the cues in it.
func (s *sentence) kindOf(c clause) sayKind {
	switch {
	case s.has(cueOther, c.from, c.to):
		return foreignCase
	case s.advises(c):
		return advised
	case s.has(cueGuess, c.from, c.to):
		return supposed
	case s.has(cuePlan, c.from, c.to):
		return planned
	case s.has(cueHearsay, c.from, c.to):
		return hearsay
	case s.has(cueGeneral, c.from, c.to):
		return supposed
	}
	return told
}

// advises tells whether a cue of advice stands in the clause; "could not find" is none.
func (s *sentence) advises(c clause) bool {
	return slices.ContainsFunc(s.mentions, func(m mention) bool {
		if m.kind != termCue || m.name != cueAdvice || m.from < c.from || m.to > c.to || s.insideOutcome(m) {
			return false
		}
		if s.seenByAll(m, c.to) {
			return false
		}
		if m.from > 1 && s.toks[m.from-1].word == "to" && slices.Contains([]string{"was", "had", "did", "is"}, s.toks[m.from-2].word) {
			return false // "the cure was to clean the contacts"
		}
		if s.toks[m.from].word == "put" && slices.ContainsFunc(s.toks[m.to:c.to], func(t token) bool {
			return t.word == "tonight" || t.word == "today" || t.word == "yesterday" || t.word == "morning"
		}) {
			return false // "put the new one in tonight" tells, though it has the form of advice
		}
		return !(s.toks[m.from].word == "could" && m.to < c.to && s.toks[m.to].word == "not") && !(s.toks[m.from].word == "could" && m.to-m.from == 1 && m.to < c.to && (s.toks[m.to].word == "see" || s.toks[m.to].word == "hear" || s.toks[m.to].word == "find"))
	})
}

// seenByAll tells whether "you can see" and the like only tell what was there to see.
func (s *sentence) seenByAll(m mention, limit int) bool {
	if s.toks[m.from].word != "you" {
		return false
	}
	for i := m.from + 1; i < min(m.to+2, limit); i++ {
		if slices.Contains([]string{"see", "hear", "feel", "smell", "watch", "wiggle", "rock", "spin", "turn", "move"}, s.toks[i].word) {
			return s.toks[m.from+1].word == "can" || s.toks[m.from+1].word == "could"
		}
	}
	return false
}

// insideOutcome tells whether a cue is a part of what is said of an effect: "works as it should".
func (s *sentence) insideOutcome(m mention) bool {
	return slices.ContainsFunc(s.mentions, func(k mention) bool {
		return k.kind == termCue && (k.name == cueFixed || k.name == cueNoChange || k.name == cuePartial) && k.from <= m.from && k.to >= m.to && k.to-k.from > m.to-m.from
	})
}

// ownPast tells whether the writer says "I did", "we had" in the clause.
func (s *sentence) ownPast(c clause) bool {
	for i := c.from; i+1 < c.to; i++ {
		if isFirstPerson(s.toks[i].word) && isPast(strings.ToLower(s.toks[i+1].raw)) {
			return true
		}
	}
	return false
}

// has tells whether a cue of the class begins in tokens from..to.
func (s *sentence) has(class string, from, to int) bool { return s.cueIn(class, from, to) >= 0 }

// cueIn gives the index of the first mention of the class that lies in tokens from..to, -1 if there is none.
func (s *sentence) cueIn(class string, from, to int) int {
	return slices.IndexFunc(s.mentions, func(m mention) bool {
		return m.kind == termCue && m.name == class && m.from >= from && m.to <= to
	})
}

// clauseAt gives the clause that holds a token, the whole sentence if it stands behind the last one.
func (s *sentence) clauseAt(tok int) clause {
	for _, c := range s.clauses {
		if tok < c.to {
			return c // a mark between two clauses counts with the one after it
		}
	}
	return clause{from: 0, to: len(s.toks)}
}

// clauseBefore gives the clause that ends at or before a token; an empty one at the start of the sentence.
func (s *sentence) clauseBefore(tok int) clause {
	for _, c := range slices.Backward(s.clauses) {
		if c.to <= tok {
			return c
		}
	}
	return clause{}
}

// cutClauses cuts at commas, semicolons, colons, dashes, brackets and conjunctions.
func cutClauses(toks []token) []clause {
	var out []clause
	from, linked := 0, false
	cut := func(to int, link bool) {
		if hasWord(toks[from:to]) {
			out = append(out, clause{from: from, to: to, linked: linked})
			linked = link
		}
		from = to
	}
	for i, t := range toks {
		switch {
		case t.mark && strings.ContainsAny(t.raw, ",;:()–—|/=") || t.mark && t.raw == "-":
			cut(i, t.raw == ",")
			from = i
		case i > from && !t.mark && isConjunction(t.word):
			cut(i, t.word == "and" || t.word == "then")
			from = i
		}
	}
	cut(len(toks), false)
	return out
}

func hasWord(toks []token) bool {
	return slices.ContainsFunc(toks, func(t token) bool { return !t.mark })
}

func isConjunction(word string) bool {
	return slices.Contains([]string{"and", "but", "so", "because", "since", "while", "although", "though", "which", "when", "until",
		"if", "unless", "then", "whereas", "before", "after", "where", "plus"}, word)
}

func isFirstPerson(word string) bool {
	return slices.Contains([]string{"i", "we", "ive", "weve", "id", "he", "they", "she", "my", "our"}, word)
}

// isPast tells whether a verb form, as written in small letters, may be a past tense or participle.
func isPast(verb string) bool {
	if strings.HasSuffix(verb, "ed") && len(verb) > 3 && !slices.Contains([]string{"need", "speed", "feed", "bleed", "seed", "red"}, verb) {
		return true
	}
	return slices.Contains([]string{"put", "cut", "set", "let", "fit", "rewound", "bled", "blew", "blown", "ran", "made", "bent", "rebuilt",
		"got", "had", "did", "done", "was", "were", "stuck", "threw", "thrown", "went", "took", "ground", "dug", "gave", "swapt", "been",
		"found", "felt", "saw", "read", "lit", "hung", "shot", "slid", "slung", "bought", "reset", "flung", "drove", "chucked", "wound",
		"relearnt", "built", "reground", "taken", "overrode", "wrote", "r&r", "shut", "left", "hit", "spent", "sent", "undid", "dove"}, verb)
}

// negated tells whether a negation stands in tokens from..to.
func (s *sentence) negated(from, to int) bool {
	for i := max(from, 0); i < min(to, len(s.toks)); i++ {
		if isNegation(s.toks[i].word) {
			return true
		}
	}
	return false
}

func isNegation(word string) bool {
	switch word {
	case "not", "no", "never", "isnt", "wasnt", "arent", "werent", "dont", "doesnt", "didnt", "havent", "hasnt", "hadnt", "cant", "cannot",
		"couldnt", "wont", "wouldnt", "without", "none", "neither", "nor", "nothing", "aint", "shouldnt", "zero":
		return true
	}
	return false
}
