package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// builtEvents gives what a sentence says of an effect by how it is built, where no phrase of the tables stands: "neither the new pump
// nor the relay helped", "it works", "heat back".
func (x *Extractor) builtEvents(s *sentence, index int) []event {
	if s.asked || s.place == RegionHeading {
		return nil
	}
	var out []event
	if from, to := s.deniedHelp(); to > 0 {
		out = append(out, event{class: cueNoChange, sent: s, index: index, from: from, to: to})
	}
	for _, c := range s.clauses {
		if c.kind != told {
			continue
		}
		if x.heats && s.warm(c) {
			out = append(out, event{class: cueFixed, sent: s, index: index, from: c.from, to: c.to})
		} else if from, ok := s.bareWell(c); ok {
			out = append(out, event{class: cueFixed, sent: s, index: index, from: from, to: c.to})
		}
	}
	out = append(out, s.bareNothing(index)...)
	for i := range s.toks {
		if (s.toks[i].word == "have" || s.toks[i].word == "got") && s.clauseAt(i).kind == told && !s.negated(i-2, i+2) && s.wantedAfter(i) {
			out = append(out, event{class: cueFixed, sent: s, index: index, from: i, to: i + 2})
		}
	}
	for i := 1; i < len(s.toks); i++ {
		ends := i+1 == len(s.toks) || s.toks[i+1].mark || isConjunction(s.toks[i+1].word)
		if s.toks[i].word == "back" && ends && isWanted(s.toks[i-1].word) && s.clauseAt(i).kind == told {
			out = append(out, event{class: cueFixed, sent: s, index: index, from: i - 1, to: i + 1})
		}
	}
	return out
}

// wantedAfter tells whether "have" at token i goes on with what the user wants from the machine, and no more than "again": "I have heat".
func (s *sentence) wantedAfter(i int) bool {
	before := ""
	if i > 0 {
		before = s.toks[i-1].word
	}
	if before != "i" && before != "we" && before != "now" && before != "finally" && before != "she" && before != "it" {
		return false
	}
	j := i + 1
	for j < len(s.toks) && (s.toks[j].word == "full" || s.toks[j].word == "good" || s.toks[j].word == "proper" || s.toks[j].word == "got") {
		j++
	}
	if j >= len(s.toks) || !isWanted(s.toks[j].word) || s.toks[j].word == "air" || s.toks[j].word == "everything" {
		return false
	}
	next := j + 1
	return next == len(s.toks) || s.toks[next].mark || slices.Contains([]string{"again", "now", "back", "for", "at", "on", "everywhere", "and"}, s.toks[next].word)
}

// bareNothing reads a clause that is only "nothing": after a drive it is good news, after a repair it is none.
func (s *sentence) bareNothing(index int) []event {
	if words := s.wordsBefore(clause{to: len(s.toks)}, len(s.toks), 3); len(words) == 1 && slices.Contains([]string{"no", "nope", "nah", "nothing", "nada", "nowt", "zilch", "zip"}, words[0]) {
		return []event{{class: cueNoChange, sent: s, index: index, to: len(s.toks)}}
	}
	for _, c := range s.clauses[min(1, len(s.clauses)):] {
		words := s.wordsBefore(c, c.to, 6)
		if len(words) != 1 || words[0] != "nothing" && words[0] != "nowt" && words[0] != "nada" {
			continue
		}
		before := s.clauseBefore(c.from)
		drove := slices.ContainsFunc(s.toks[before.from:before.to], func(t token) bool {
			return slices.Contains([]string{"drove", "mile", "km", "hour", "day", "week", "ran", "driven", "cycle", "test"}, t.word)
		})
		did := slices.ContainsFunc(s.mentions, func(m mention) bool { return m.kind == kb.TermAction && m.to <= c.from })
		switch {
		case drove:
			return []event{{class: cueFixed, sent: s, index: index, from: c.from, to: c.to}}
		case did:
			return []event{{class: cueNoChange, sent: s, index: index, from: c.from, to: c.to}}
		}
	}
	return nil
}

// deniedHelp reads "neither ... nor ... helped", "none of the parts fixed it", "no amount of cleaning helped": a word that denies and, after
// it, a verb of helping.
func (s *sentence) deniedHelp() (from, to int) {
	for i, t := range s.toks {
		amount := t.word == "no" && i+1 < len(s.toks) && s.toks[i+1].word == "amount"
		if !amount && !slices.Contains([]string{"neither", "nor", "none", "nothing"}, t.word) {
			continue
		}
		for j := i + 1; j < min(i+16, len(s.toks)); j++ {
			w := s.toks[j].word
			if w == "but" || s.toks[j].mark && strings.ContainsAny(s.toks[j].raw, ".;:") {
				break
			}
			if k := s.clauseAt(j).kind; (k == told || k == planned) && slices.Contains([]string{"helped", "worked", "fixed", "cured", "changed", "solved", "sorted", "improved", "made"}, w) {
				return j, j + 1 // after the parts, which it speaks of
			}
		}
	}
	return 0, 0
}

// bareWell tells whether a clause says nothing but that the machine does its work: "works", "it runs now", "everything works again".
func (s *sentence) bareWell(c clause) (int, bool) {
	verb, words := false, 0
	for i := c.from; i < c.to; i++ {
		t := s.toks[i]
		switch {
		case t.mark:
		case doesItsWork(t.word) && (t.raw != t.word || t.word[len(t.word)-1] == 'd' || t.word == "ran" || t.word == "spun" || t.word == "lit" || t.word == "perfect" || strings.HasSuffix(t.word, "ing")):
			if verb {
				return 0, false
			}
			verb = true
		case slices.Contains([]string{"it", "she", "he", "all", "everything", "now", "again", "and", "just", "finally", "immediately", "instantly", "straight", "away", "so", "then", "yes", "yep"}, t.word):
		default:
			return 0, false
		}
		words++
	}
	if c.to < len(s.toks) && slices.Contains([]string{"after", "when", "since", "while", "until", "before", "where", "if"}, s.toks[c.to].word) {
		return 0, false // "it started after ..." speaks of the fault
	}
	return c.from, verb && words < 7
}

// warm reads "it is hot again", "now it blows hot", "she gets warm".
func (s *sentence) warm(c clause) bool {
	for i := c.from; i < c.to; i++ {
		if w := s.toks[i].word; (w == "hot" || w == "warm" || w == "toasty") && i > c.from && !s.negated(c.from, i) {
			verb := slices.Contains([]string{"get", "got", "blow", "blew", "is", "are", "come", "came", "run", "blowing", "getting"}, s.toks[i-1].word)
			return verb && slices.ContainsFunc(s.toks[c.from:c.to], func(t token) bool {
				return slices.Contains([]string{"now", "again", "it", "she", "all"}, t.word)
			}) && !slices.ContainsFunc(s.toks[c.from:c.to], func(t token) bool {
				return slices.Contains([]string{"still", "only", "until", "when", "too", "never", "sometimes"}, t.word)
			})
		}
	}
	return false
}

// doesItsWork tells whether a verb says that a machine does what it is for.
func doesItsWork(word string) bool {
	return slices.Contains([]string{"work", "worked", "working", "run", "ran", "running", "started", "start", "heat", "heated", "cool", "charge", "charged", "charging", "spin", "spun", "pump", "drain", "drained", "print",
		"printed", "fire", "fired", "cranked", "crank", "lit", "idled", "perfect", "sorted", "cured", "fixed", "solved"}, word)
}

// isWanted tells whether a word names what the user of a machine wants from it, so that it is good news when it is back.
func isWanted(word string) bool {
	return slices.Contains([]string{"heat", "heating", "power", "boost", "pressure", "cooling", "charge", "charging", "function", "drive", "idle", "ac", "air", "flow", "output", "everything", "hot",
		"water", "suction", "spark", "signal", "display", "voltage", "brake", "steering", "acceleration", "performance", "throttle", "lift", "hydraulic", "reverse", "gear", "cruise", "backlight", "picture", "sound"}, word)
}

// workedFirst tells whether the words between a repair and the news that the fault is there say that it was gone for a while: "fine for a
// week, then it came back". What lasted for less than a week is left to the words.
func (s *sentence) workedFirst(from, to int) bool {
	from, to = max(from, 0), min(to, len(s.toks))
	if from >= to {
		return false
	}
	for i := from; i < to; i++ {
		switch w := s.toks[i].word; {
		case w == "until" || w == "till" || w == "then" && i > from+1:
			return true
		case w == "for" && i+1 < to && slices.Contains([]string{"while", "bit", "time", "now"}, s.toks[min(i+1, to-1)].word), w == "for" && i+2 < to && slices.Contains([]string{"while", "bit", "time"}, s.toks[i+2].word):
			return true
		case w == "before" || w == "after":
			return slices.ContainsFunc(s.toks[from:i], func(t token) bool {
				return doesItsWork(t.word) || t.word == "fine" || t.word == "good" || t.word == "ok" || t.word == "lasted" || t.word == "held"
			})
		}
	}
	span := spanOf(s)
	return span != nil && s.start+span[0] >= s.toks[from].start && s.start+span[1] <= s.toks[to-1].end+1 &&
		slices.ContainsFunc(s.toks[from:to], func(t token) bool {
			return doesItsWork(t.word) || slices.Contains([]string{"fine", "good", "ok", "okay", "great", "perfect", "held", "lasted", "better", "for"}, t.word)
		})
}

// lastedLong tells whether a sentence says that a repair lasted for weeks or longer before the fault was back.
func (s *sentence) lastedLong(e event) bool {
	if s.toks[e.from].word != "lasted" && s.toks[e.to-1].word != "lasted" {
		return false
	}
	return slices.ContainsFunc(s.toks[e.from:min(e.to+7, len(s.toks))], func(t token) bool {
		return slices.Contains([]string{"week", "month", "year", "season", "winter", "summer", "fortnight"}, t.word)
	})
}

// comesBack gives the outcome of repairs that the news of the fault belongs to.
func comesBack(fx *fixFound, e event) kb.Outcome {
	switch {
	case e.sent.lastedLong(e), fx.index == e.index && e.sent.workedFirst(fx.to, e.from), fx.index != e.index && e.class == cueBack:
		return kb.Returned
	case fx.index != e.index && e.sent.workedFirst(0, e.from):
		return kb.Returned
	}
	return kb.NoChange
}
