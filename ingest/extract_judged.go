package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
	"ruledout/kb/quantity"
)

// onlyBefore tells whether "only" or "barely" shortly before a reading says that it is too little.
func (s *sentence) onlyBefore(c clause, at int) bool {
	return slices.ContainsFunc(s.toks[max(c.from, at-3):at], func(t token) bool {
		return t.word == "only" || t.word == "barely" || t.word == "just" && t.raw == "only"
	})
}

// fellTo tells whether the words before a reading say that it fell to it, of something that should hold: "dropped to 4.2 V", "was down
// to 11 psi in ten minutes".
func (s *sentence) fellTo(np nounPhrase, q measured) bool {
	if q.from < 2 || s.toks[q.from-1].word != "to" || slices.Contains([]string{"trim", "drop", "drain", "leak", "slip", "draw", "current", "temperature", "temp", "loss"}, lastWord(np.name)) || !(isElectric(q.Unit) || methodByUnit(q.Unit) == "pressure") || strings.HasSuffix(q.Unit, "ohm") {
		return false
	}
	if q.former != nil && q.Value < 0.8**q.former {
		return true
	}
	return slices.Contains([]string{"dropped", "drop", "dropping", "fell", "fall", "falling", "down", "sag", "sagged", "sagging", "sink", "sank", "dip", "dipped", "collapsed"}, s.toks[q.from-2].word)
}

// idles tells whether a clause that begins with "but" after a reading says that the part did nothing with what it was given: "gets 115 V
// but does not turn".
func (s *sentence) idles(at int) bool {
	for i := at; i < min(at+6, len(s.toks)); i++ {
		if s.toks[i].word != "but" && s.toks[i].word != "and" {
			continue
		}
		for j := i + 1; j < min(i+5, len(s.toks)); j++ {
			if isWorkingVerb(s.toks[j].word) || isWorkingVerb(strings.TrimSuffix(s.toks[j].word, "ing")) || isWorkingVerb(strings.TrimSuffix(s.toks[j].word, "ning")) || s.toks[j].word == "firing" {
				return s.negated(i, j)
			}
		}
	}
	return false
}

// suddenly tells whether a reading is what came of taking a part out: "unplugged the gauge and at once it jumped to 5 V".
func (s *sentence) suddenly(q measured) bool {
	jump := slices.ContainsFunc(s.toks[max(q.from-4, 0):min(q.to+1, len(s.toks))], func(t token) bool {
		return slices.Contains([]string{"bam", "bang", "boom", "suddenly", "instantly", "jumped", "returned", "immediately", "presto", "hey"}, t.word)
	})
	for i := range s.toks[:q.from] {
		if jump && s.isolatingVerb(i) {
			return true
		}
	}
	return false
}

// contrasts tells whether what follows a reading sets it against what it should be, without a figure: "31 ohms where a good one
// reads megohms", "0 V where the coil ought to get its supply", "12k instead of 5k".
func (s *sentence) contrasts(at int) bool {
	for i := at; i < min(at+9, len(s.toks)); i++ {
		next := ""
		if i+1 < len(s.toks) {
			next = s.toks[i+1].word
		}
		switch w := s.toks[i].word; {
		case w == "instead" && next == "of", w == "rather" && next == "than":
			return true
		case w == "should" || w == "supposed" || w == "ought", (w == "good" || w == "new" || w == "healthy") && next == "one":
			where := slices.ContainsFunc(s.toks[at:i], func(t token) bool {
				return t.word == "where" || t.word == "when" || t.word == "but" || t.word == "while" || t.word == "though" || t.word == "although"
			})
			met := i > at && s.toks[i-1].word == "as" || i > at+1 && s.toks[i-2].word == "as" || next == "have"
			ends := i+2 >= len(s.toks) || s.toks[i+2].mark || slices.Contains([]string{"and", "but", "so"}, s.toks[i+2].word)
			return where && !met && !(next == "be" && ends)
		}
	}
	return false
}

// tradeLimit judges a reading that nobody judges in words by the limits that are common practice of the trade: insulation to the
// case of a megohm or more, a path of less than an ohm, a drop of at most 0.2 V, and no feed where there is none.
func tradeLimit(s *sentence, q measured, np nounPhrase) kb.Result {
	value, unit, ok := q.SI()
	if !ok || q.Bound == quantity.Open {
		return ""
	}
	near := s.toks[max(q.from-12, 0):min(q.to+8, len(s.toks))]
	says := func(words ...string) bool {
		return slices.ContainsFunc(near, func(t token) bool { return slices.Contains(words, t.word) })
	}
	name := np.name
	switch {
	case strings.HasSuffix(name, "trim") && unit != "V":
		return passIf(value <= 0.1 && value >= -0.1 || value > 1 && value <= 10 || value < -1 && value >= -10)
	case (strings.HasPrefix(name, "can bus") || strings.HasPrefix(name, "can ")) && (unit == "Ω" || unit == "ohm") && value > 10 && value < 1000:
		return passIf(value > 50 && value < 70) // two ends of 120 ohm in parallel, ISO 11898-2
	case (strings.Contains(name, "parasitic") || strings.Contains(name, "drain") && unit == "A") && value < 5:
		return passIf(value <= 0.05)
	}
	if unit == "V" && (name == "charging voltage" || strings.HasSuffix(name, "alternator")) && value > 8 && value < 36 {
		return passIf(value >= 13.2 && value <= 15.2 || value >= 26.4 && value <= 30.4) // of a system of 12 or 24 V, common practice of the trade
	}
	insulation := slices.ContainsFunc(near, func(t token) bool {
		return slices.Contains([]string{"insulation", "isolation", "megger", "meggered", "riso"}, t.word)
	})
	toCase := says("to") && says("chassis", "case", "casing", "earth", "ground", "frame", "body", "metal", "pe")
	switch {
	case unit == "Ω" || unit == "ohm":
		switch {
		case (insulation || toCase) && q.Bound == quantity.Less:
			return passIf(value > 1e6)
		case insulation || toCase && q.Unit != "ohm":
			return passIf(value >= 1e6)
		case isPath(np) && (value < 1 || value > 1000):
			return passIf(value < 1)
		}
	case unit == "V" && (says("drop", "across", "loss", "lost") || strings.HasSuffix(np.name, " strap")) && value < 5:
		return passIf(value <= 0.2)
	case unit == "V" && strings.HasSuffix(np.name, " supply") && (value > 11.5 && value < 15 || value > 23 && value < 29 || value > 4.7 && value < 5.3):
		return kb.Pass
	case unit == "V" && value == 0 && !says("drop", "off", "should"):
		return kb.Fail
	}
	return ""
}

func passIf(ok bool) kb.Result {
	if ok {
		return kb.Pass
	}
	return kb.Fail
}

// isPath tells whether a part is there to conduct and nothing else.
func isPath(np nounPhrase) bool {
	return slices.Contains([]string{"wire", "wiring", "harness", "loom", "cable", "lead", "fuse", "link", "strap", "ground", "earth", "connection", "joint", "splice"}, lastWord(np.name))
}
