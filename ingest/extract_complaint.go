package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// complaintSure is the confidence in a symptom that is told in words which the vocabulary does not know.
const complaintSure = 0.4

// mostComplaints is how many symptoms in own words are kept of one person.
const mostComplaints = 5

// complaint gives what a sentence tells of the fault in words that the vocabulary does not know: the first clause with a word of trouble, in the
// writer's own words. What follows it in the sentence are its circumstances.
func (x *Extractor) complaint(r *reading, l *line, s *sentence, index int, have []kb.Symptom) (kb.Symptom, bool) {
	for i, c := range s.clauses {
		start := skipMarks(s, c.from)
		if start >= c.to || !s.mayTell(c) || l.covers(index, c) || s.toks[c.from].mark && s.toks[c.from].raw == "(" || r.tellsCode(s, c) || r.countsBlinks(s, start, c.to) || x.noComplaint(s, clause{from: start, to: c.to}) {
			continue
		}
		absent, ok := s.troubleIn(clause{from: start, to: c.to})
		if s.onlyWhen(i) {
			start, absent, ok = skipMarks(s, s.clauses[i-1].from), false, true
		} else if s.conditional(c) {
			continue
		}
		if !ok || coveredByEvidence(have, s, c) || c.linked && toldBefore(have, s, c) {
			continue
		}
		words := strings.Fields(s.words(start, c.to))
		if len(words) < 3 && c.linked && i > 0 && !l.covers(index, s.clauses[i-1]) { // "goes up a foot and quits"
			start = skipMarks(s, s.clauses[i-1].from)
			words = strings.Fields(s.words(start, c.to))
		}
		if len(words) < 2 || len(words) > 16 || alike(have, words) {
			continue
		}
		return kb.Symptom{Symptom: strings.Join(words[:min(len(words), 10)], " "), Absent: absent, Confidence: complaintSure, Evidence: r.evidence(s, start, c.to)}, true
	}
	return kb.Symptom{}, false
}

// noComplaint tells whether a clause tells of something else than what the machine does: of a reading, of what the writer did or cannot do, of
// another's machine or of a thing of the past that was well.
func (x *Extractor) noComplaint(s *sentence, c clause) bool {
	if s.has(cueNoChange, c.from, c.to) || s.has(cuePartial, c.from, c.to) || s.has(cueBack, c.from, c.to) || s.hasWord(c, "less") || s.ownPast(c) && slices.ContainsFunc(s.mentions, func(m mention) bool { return m.kind == kb.TermAction && m.from >= c.from && m.to <= c.to }) {
		return true
	}
	for i := c.from; i < c.to; i++ {
		t := s.toks[i]
		switch {
		case t.number() && i+1 < len(s.toks) && isMeasuredUnit(s.toks[i+1].word) && (i+2 >= c.to || s.toks[i+2].mark || x.stops[s.toks[i+2].word]):
			return true
		case (t.word == "i" || t.word == "we") && i+1 < c.to && isNegation(s.toks[i+1].word) && !s.hasWord(c, "get", "getting", "hear", "have", "move", "start"):
			return true
		case slices.Contains([]string{"same", "bothered", "told", "pattern", "idea", "thread", "post"}, t.word):
			return true
		}
	}
	words := s.words(c.from, c.to)
	return strings.HasPrefix(words, "cant ") || strings.HasPrefix(words, "cannot ") || strings.HasPrefix(words, "dont ") || strings.HasPrefix(words, "couldnt ")
}

// conditional tells whether a clause only says when: "when it is properly hot".
func (s *sentence) conditional(c clause) bool {
	return slices.Contains([]string{"when", "if", "whenever", "until", "unless", "after", "before", "where"}, s.toks[c.from].word)
}

// onlyWhen tells whether a clause gives the condition to a bare "only", "always", "worse" before it.
func (s *sentence) onlyWhen(i int) bool {
	if i == 0 || !s.conditional(s.clauses[i]) {
		return false
	}
	before := s.clauses[i-1]
	return s.clauses[i].from == before.to && before.to-before.from < 5 && s.hasWord(before, "only", "always", "mostly", "worse", "worst", "usually", "mainly", "never", "especially", "just")
}

// isMeasuredUnit tells whether a word is a unit in which parts are measured, not a circumstance such as time, speed or distance.
func isMeasuredUnit(word string) bool {
	return slices.Contains([]string{"v", "volt", "vdc", "vac", "mv", "ohm", "kohm", "mohm", "megohm", "amp", "ma", "bar", "mbar", "psi", "kpa", "hz", "ms", "uf", "percent", "rpm", "ml", "mm", "kw"}, word)
}

// troubleIn tells whether a clause tells of trouble, and whether it says that the trouble is not there.
func (s *sentence) troubleIn(c clause) (absent, ok bool) {
	for i := c.from; i < c.to; i++ {
		w := s.toks[i].word
		denied := deniesAt(s, c, i)
		switch {
		case s.byPerson(c, i):
		case isMisbehaviour(w) || isMisbehaviour(stem(w)) || (w == "keep" || w == "keeps" || w == "continue") && i+1 < c.to && (s.toks[i+1].word == "to" || strings.HasSuffix(s.toks[i+1].word, "ing")),
			(w == "cut" || w == "shut" || w == "go" || w == "goe" || w == "drop" || w == "lock" || w == "locked" || w == "locking" || w == "cutting" || w == "shutting" || w == "going" || w == "went") && i+1 < c.to && slices.Contains([]string{"out", "off", "down", "dead", "itself"}, s.toks[i+1].word):
			absent, ok = absent || denied, true
		case isFunction(w) && denied:
			return false, true
		}
	}
	return absent, ok || s.circumstance(c) || s.shown(c)
}

// byPerson tells whether token i is what a person does, or not a verb of its own at all: "I stopped at a red light", "a few stops", "to stop it".
func (s *sentence) byPerson(c clause, i int) bool {
	for j := i - 1; j >= max(c.from, i-2); j-- {
		switch s.toks[j].word {
		case "i", "im", "we", "you", "he", "she", "they", "ive", "weve", "id", "to", "few", "my":
			return !s.negated(j, i)
		case "it", "engine", "motor", "car", "which", "that":
			return false
		}
	}
	return false
}

// stem gives the plain form of a verb in -ing or -ed, as far as the spelling tells.
func stem(word string) string {
	base, ok := strings.CutSuffix(word, "ing")
	if !ok {
		base, ok = strings.CutSuffix(word, "ed")
	}
	n := len(base)
	switch {
	case !ok || n < 3:
		return word
	case base[n-1] == base[n-2]:
		return base[:n-1]
	case isMisbehaviour(base + "e"):
		return base + "e"
	}
	return base
}

// deniesAt tells whether a negation within three words before token i denies it.
func deniesAt(s *sentence, c clause, i int) bool {
	for j := max(c.from, i-3); j < i; j++ {
		if isNegation(s.toks[j].word) || s.toks[j].word == "dont" || s.toks[j].word == "hardly" || s.toks[j].word == "barely" {
			return true
		}
	}
	return false
}

// isMisbehaviour tells whether a word says what a machine does that it should not, or what is noticed of it.
func isMisbehaviour(word string) bool {
	switch word {
	case "refuse", "refuses", "stop", "stopped", "slip", "slipping", "quit", "quits", "die", "died", "dies", "stall", "stalled", "trip", "tripped", "slow", "sluggish", "dead", "flash", "flashing", "blink", "blinking", "stuck",
		"hunt", "hunting", "lost", "loses", "lose", "losing", "jerk", "jerking", "jerky", "shake", "shaking", "shudder", "judder", "beep", "beeping", "noisy", "limp", "derate", "derated", "lockout", "flat", "overheat",
		"overheating", "weak", "drop", "dropped", "jam", "jammed", "hesitate", "dim", "bog", "surge", "surging", "drift", "creep", "creeping", "rough", "rattle", "squeal", "grind", "grinding", "fail", "failed", "failing",
		"chatter", "chattered", "wobble", "vibrate", "flicker", "freeze", "hang", "reboot", "climb", "splutter", "cough", "stutter", "stink", "drip", "dripping", "leak", "leaking", "gurgle", "gurgling", "bang", "clunk",
		"groan", "whistle", "whine", "whining", "hum", "humming", "howl", "howling", "knock", "knocking", "hiss", "hissing", "screech", "squeak", "buzz", "buzzing", "crunch", "clatter", "countdown", "counting",
		"smoke", "smoking", "noise", "smell", "vibration", "hesitation", "misfire", "steam", "warning", "alarm", "buzzer", "burning", "message", "erratic", "jumpy", "intermittent", "lazy", "unresponsive", "inoperative", "kaput",
		"hot", "scorching", "lumpy", "gutless", "puddle", "sag", "sags", "fade", "fading", "kick", "lurch", "wander", "bounce", "empty":
		return true
	}
	return false
}

// isFunction tells whether a word names what a machine should do or give, of which "no" or "won't" is a complaint.
func isFunction(word string) bool {
	switch word {
	case "start", "run", "move", "work", "heat", "cool", "turn", "spin", "open", "close", "charge", "charging", "light", "respond", "response", "engage", "rev", "lift", "drain", "fill", "pump", "fire", "ignite", "latch", "lock",
		"unlock", "print", "feed", "connect", "go", "going", "idle", "shift", "crank", "catch", "build", "reach", "recognise", "recognised", "recognized", "detected", "hold", "drive", "travel", "boost", "spark", "hot_water", "water",
		"cold_air", "pressure", "flow", "display", "output", "voltage", "brake", "steering", "throttle", "picture", "sound", "signal", "communication", "movement", "reverse", "gear", "reaction", "life", "power", "ready", "level",
		"steer", "stay", "return", "retract", "extend", "swing", "slew", "cut", "mow", "bale", "knot", "grip", "weld", "arc", "wash", "dry", "brew", "grind", "steam", "freeze", "blow", "suck", "accelerate", "pull", "stop", "release",
		"register", "wake", "boot", "sync", "pair", "complete", "finish", "drop", "settle", "regenerate", "regen", "prime", "pick", "eject", "home", "index", "track", "balance", "warm":
		return true
	}
	return false
}

// circumstance tells whether a clause says only when or where the fault shows: "only on a cold morning", "worse uphill".
func (s *sentence) circumstance(c clause) bool {
	if s.hasWord(c, "i", "we", "he", "she", "you", "im", "id", "hed", "they", "people", "should", "would", "is", "are") {
		return false
	}
	when := false
	for i := c.from; i < c.to; i++ {
		switch s.toks[i].word {
		case "only", "worse", "worst", "always", "mostly", "every", "never", "especially", "mainly":
			when = true
		case "cold", "hot", "warm", "wet", "damp", "rain", "raining", "dewy", "dew", "frost", "frosty", "humid", "weather", "morning", "night", "winter", "summer", "bump", "bumpy", "hill", "uphill", "motorway", "highway", "load",
			"loaded", "idle", "corner", "cornering", "braking", "reverse", "reversing", "towing", "degree", "washing", "slope", "traffic", "startup", "road", "field", "corners":
			if when {
				return true
			}
		}
	}
	return false
}

// shown tells whether a clause gives what a display says, in capitals or quotation marks.
func (s *sentence) shown(c clause) bool {
	if !s.hasWord(c, "say", "says", "said", "show", "shows", "showing", "read", "reads", "display", "displays", "message", "warning", "dash", "screen", "red", "amber") || isShouting(s) {
		return false
	}
	shouted, long := 0, false
	for _, t := range s.toks[c.from:c.to] {
		if !t.mark && !t.hasDigit() && len(t.raw) > 1 && t.raw == strings.ToUpper(t.raw) {
			shouted++
			long = long || len(t.raw) > 2
		}
	}
	return shouted > 1 && long
}

// tellsCode tells whether a clause only says that a code, or "the code", comes or went: that is the code's status, no symptom.
func (r *reading) tellsCode(s *sentence, c clause) bool {
	code, comes := false, false
	for i := c.from; i < c.to; i++ {
		code = code || r.isCode(s, s.toks[i]) || s.toks[i].word == "code" || s.toks[i].word == "dtc"
		comes = comes || slices.Contains([]string{"come", "came", "back", "return", "returned", "clear", "stored", "again", "set", "throws", "threw", "shows", "no", "goes", "gone"}, s.toks[i].word)
	}
	return code && comes
}

func coveredByEvidence(out []kb.Symptom, s *sentence, c clause) bool {
	start, end := s.toks[c.from].start, s.toks[c.to-1].end
	return slices.ContainsFunc(out, func(o kb.Symptom) bool {
		return slices.ContainsFunc(o.Evidence, func(e kb.Evidence) bool { return e.Post == s.post+1 && e.Start < end && e.End > start })
	})
}

// toldBefore tells whether a symptom was read from the same sentence already and the clause adds few words to it.
func toldBefore(out []kb.Symptom, s *sentence, c clause) bool {
	return len(strings.Fields(s.words(c.from, c.to))) < 5 && slices.ContainsFunc(out, func(o kb.Symptom) bool {
		return slices.ContainsFunc(o.Evidence, func(e kb.Evidence) bool { return e.Post == s.post+1 && e.Start >= s.start && e.End <= s.end })
	})
}

// alike tells whether half of the words are those of a symptom that is there already.
func alike(have []kb.Symptom, words []string) bool {
	return slices.ContainsFunc(have, func(o kb.Symptom) bool {
		both := 0
		old := strings.Fields(o.Symptom)
		for _, w := range words {
			if slices.Contains(old, w) {
				both++
			}
		}
		return 2*both >= len(words)
	})
}
