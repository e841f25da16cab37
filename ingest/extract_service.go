package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// serviceStates reads which of the things that a user uses are dead and which still work: "rear wiper and both bulbs packed up", "horn works".
func (x *Extractor) serviceStates(r *reading, l *line, s *sentence, index int) []kb.Symptom {
	var out []kb.Symptom
	from := 0
	for i := 0; i < len(s.toks); i++ {
		if s.toks[i].mark && strings.ContainsAny(s.toks[i].raw, ".;:(") || s.toks[i].word == "but" {
			from = i + 1
			continue
		}
		size, dead := s.stateAt(i)
		if size == 0 {
			continue
		}
		c := s.clauseAt(i)
		span := clause{from: skipMarks(s, from), to: min(i+size, len(s.toks))}
		if s.mayTell(c) && c.kind != hearsay && !s.doubtful(span) && !l.covers(index, span) {
			names := x.serviceNames(s, span.from, i)
			if !dead && len(names) > 1 {
				names = []string{strings.Join(names, " ")} // what still works counts once
			}
			for _, name := range names {
				out = append(out, kb.Symptom{Symptom: name + " inoperative", Absent: !dead, Confidence: namedSure, Evidence: r.evidence(s, span.from, span.to)})
			}
		}
		i += size - 1
		from = i + 1
	}
	return out
}

// doubtful tells whether the words of a span speak of the time before the fault or after a cure, or of another's machine.
func (s *sentence) doubtful(c clause) bool {
	return s.hasWord(c, "was", "were", "until", "yesterday", "before", "used", "new", "should", "would", "once", "now", "your", "his", "their", "if", "when")
}

// stateAt tells whether a word of service begins at token i: how many tokens it has, and whether it says that the thing is dead.
func (s *sentence) stateAt(i int) (size int, dead bool) {
	rest := s.toks[i:min(i+3, len(s.toks))]
	two, three := "", ""
	if len(rest) > 1 {
		two = rest[0].word + " " + rest[1].word
	}
	if len(rest) > 2 {
		three = two + " " + rest[2].word
	}
	switch three {
	case "have packed up", "has packed up", "all packed up", "do not work", "is not working", "are not working", "have stopped working", "has stopped working", "wont come on", "doe not work", "doe not come":
		return 3, true
	}
	switch two {
	case "packed up", "not working", "stopped working", "doesnt work", "dont work", "wont work", "quit working", "gone dead", "went dead", "all dead", "given up", "not work":
		return 2, true
	case "still work", "work fine", "still ok", "still fine", "all work", "all fine", "all ok", "still working", "is fine", "are fine", "stay on", "come on", "all good", "is ok", "are ok":
		return 2, false
	}
	switch rest[0].word {
	case "inoperative", "dead", "inop", "unserviceable":
		return 1, true
	case "work", "working", "fine", "ok", "okay":
		return 1, false
	}
	return 0, false
}

// serviceNames gives the things of use that are named in a row of words.
func (x *Extractor) serviceNames(s *sentence, from, to int) []string {
	var out []string
	last := from
	for i := from; i < to; i++ {
		t := s.toks[i]
		if t.mark || t.word == "and" || t.word == "or" || t.word == "nor" {
			last = i + 1
			continue
		}
		if !isServiceHead(t.word) || i+1 < to && isServiceHead(s.toks[i+1].word) {
			continue
		}
		begin := i
		for begin > max(last, i-3) && !x.stops[s.toks[begin-1].word] && !kb.IsArticle(s.toks[begin-1].word) && !isStateWord(s.toks[begin-1].word) {
			begin--
		}
		if name := s.words(begin, i+1); name != "" && !slices.Contains(out, name) {
			out = append(out, name)
		}
		last = i + 1
	}
	return out
}

// isServiceHead tells whether a word names a thing that the user of a machine uses and sees at once whether it works.
func isServiceHead(word string) bool {
	switch word {
	case "light", "lamp", "bulb", "headlight", "headlamp", "indicator", "wiper", "washer", "horn", "radio", "window", "locking", "release", "mirror", "display", "screen", "gauge", "speedo", "tacho", "clock", "heater", "blower", "aircon",
		"camera", "siren", "buzzer", "speaker", "sunroof", "cruise", "blinker", "beacon", "steering", "remote", "socket", "keypad", "doorbell", "oven", "grill", "hob", "dash", "cluster", "electric", "hydraulic", "winch", "winche", "pto":
		return true
	}
	return false
}
