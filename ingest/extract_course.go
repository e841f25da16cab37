package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// isTimed tells whether a span of time is how long the machine took for its work, which is a reading: "needs a quarter of an hour to get to pressure",
// "the ram comes out in 6 seconds".
func isTimed(s *sentence, m measured) bool {
	if m.Unit != "s" && m.Unit != "min" {
		return false
	}
	before := s.toks[max(m.from-7, 0):m.from]
	says := func(words ...string) bool {
		return slices.ContainsFunc(before, func(t token) bool { return slices.Contains(words, t.word) })
	}
	takes := says("take", "took", "taking", "need", "needed", "in", "within", "after")
	if m.to+1 < len(s.toks) && s.toks[m.to].word == "to" && takes {
		return slices.Contains([]string{"reach", "build", "get", "fill", "heat", "warm", "boil", "raise", "lift", "pump", "drain", "empty", "open", "close", "extend", "spool"}, s.toks[m.to+1].word)
	}
	measured := says("boom", "arm", "bucket", "build", "cycle", "raise", "fill", "drain", "swing", "lift", "stroke")
	return measured && !takes && m.from > 0 && slices.Contains([]string{"is", "was", "=", ":", "to", "now", "about"}, s.toks[m.from-1].word)
}

// isTarget tells whether a quantity is what was to be reached in a time that was measured.
func isTarget(s *sentence, m measured) bool {
	return m.from > 1 && slices.Contains([]string{"reach", "reaching", "hit"}, s.toks[m.from-1].word) && slices.ContainsFunc(s.toks[:m.from], func(t token) bool { return t.word == "minute" || t.word == "second" || t.word == "min" })
}

// heldFor tells whether a sentence says what a pressure had come to some minutes after the supply stopped.
func (s *sentence) heldFor(m measured) bool {
	for i := max(m.from-8, 0); i < min(m.to+7, len(s.toks)); i++ {
		if w := s.toks[i].word; w != "minute" && w != "min" && w != "hour" && w != "overnight" {
			continue
		}
		if s.toks[i].word == "overnight" || slices.ContainsFunc(s.toks[max(i-4, 0):i], func(t token) bool {
			return t.word == "in" || t.word == "after" || t.word == "within" || t.word == "for"
		}) {
			return true
		}
	}
	return false
}

// heldOf names a pressure that was watched over minutes with nothing driving it: the residual pressure of a fuel system, and of others
// the system that should hold it.
func (x *Extractor) heldOf(f *focus, s *sentence, np nounPhrase, q measured) nounPhrase {
	if methodByUnit(q.Unit) != "pressure" || !s.heldFor(q) {
		return np
	}
	name := ""
	switch own := np.name; {
	case slices.Contains([]string{"system pressure", "fuel pressure", "fuel system", "fuel rail pressure"}, own):
		if f.spokeOf("fuel", "petrol", "injector", "diesel", "accumulator") {
			name = "residual pressure"
		}
	case np.guess || slices.Contains([]string{"radiator", "coolant", "engine", "mains supply", "compressor"}, own):
		switch {
		case f.spokeOf("coolant", "radiator", "thermostat"):
			name = "cooling system"
		case f.spokeOf("dryer", "air", "governor"):
			name = "air system"
		}
	}
	if name == "" {
		return np
	}
	np.name, np.raw, np.known = name, name, true
	if known, ok := x.component(name); ok {
		np.name = known
	}
	return np
}

// spokeOf tells whether one of the words is in a name that was spoken of.
func (f *focus) spokeOf(words ...string) bool {
	return slices.ContainsFunc(slices.Concat(f.recent, f.heard), func(np nounPhrase) bool {
		return slices.ContainsFunc(strings.Fields(np.name), func(w string) bool { return slices.Contains(words, w) })
	})
}

// undecided reads a check whose writer could not tell: "half of the gear is hidden, so no guarantee". It is of the part
// named before the words, wherever it stands in the sentence.
func (x *Extractor) undecided(f *focus, s, _ *sentence) []*testFound {
	for _, m := range s.mentions {
		if m.kind != termCue || m.name != cueUnsure || m.to-m.from < 2 || !slices.Contains([]string{"cant", "couldnt", "cannot", "wouldnt", "couldn", "could", "hard"}, s.toks[m.from].word) {
			continue
		}
		c := s.clauseAt(m.from)
		if c.kind == advised || c.kind == foreignCase || s.asked || s.has(cueUnknowing, c.from, c.to) || m.to < len(s.toks) && slices.Contains([]string{"which", "why", "how", "you"}, s.toks[m.to].word) {
			continue
		}
		np, ok := nearestBefore(x.partsIn(s), 0, m.from)
		if !ok || !np.known {
			continue
		}
		return []*testFound{x.finding(s, f.complete(np, s), np.from, m.to, kb.Inconclusive, "visual inspection")}
	}
	return nil
}

// asBefore gives a reading that is said to be as it was the result of the one before it: "2.5 bar, so no difference", "still 24 V".
func (l *line) asBefore() {
	for i, t := range l.tests {
		if t.reading == nil || t.limited {
			continue
		}
		c := t.sent.clauseAt(t.from)
		same := t.sent.cueIn(cueNoChange, t.from, len(t.sent.toks)) >= 0 || slices.ContainsFunc(t.sent.toks[c.from:max(t.to, c.from)], func(w token) bool { return w.word == "still" })
		if !same || t.result == kb.Fail {
			continue
		}
		for _, o := range slices.Backward(l.tests[:i]) {
			if o.reading != nil && o.reading.Unit == t.reading.Unit && l.x.near(o.comp, t.comp) {
				if o.result == kb.Fail && closeTo(o.reading, t.reading) {
					t.result = kb.Fail
				}
				break
			}
		}
	}
}

// closeTo tells whether two readings differ by less than a fifth.
func closeTo(a, b *kb.Reading) bool {
	if a.Value == nil || b.Value == nil {
		return false
	}
	d := *a.Value - *b.Value
	if d < 0 {
		d = -d
	}
	big := max(*a.Value, *b.Value, -*a.Value, -*b.Value)
	return d <= 0.2*big
}
