package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// programmed reads a change of software told with a noun: "the dealer did a software update", "latest firmware loaded on the inverter",
// "a relearn of the throttle body fixed it".
func (x *Extractor) programmed(f *focus, s *sentence, have []*fixFound) []*fixFound {
	if s.asked || s.place == RegionHeading {
		return nil
	}
	for i := range s.toks {
		from, to := s.programNoun(i)
		if to == 0 {
			continue
		}
		c := s.clauseAt(from)
		if c.kind != told && !(c.kind == advised && s.neededAndDone(from)) || !s.programDone(c, from, to) || keptAt(slices.DeleteFunc(slices.Clone(have), func(fx *fixFound) bool { return fx.action == kb.Replace || fx.action == kb.Reprogram }), from) {
			continue
		}
		np := x.programmedPart(f, s, from, to)
		return []*fixFound{{sent: s, from: max(min(from, np.from), 0), to: max(to, min(np.to, len(s.toks))), action: kb.Reprogram, comp: np.name, known: np.known}}
	}
	return nil
}

// programNoun gives the tokens from..to of a noun for a change of software that begins at token i.
func (s *sentence) programNoun(i int) (from, to int) {
	next := ""
	if i+1 < len(s.toks) {
		next = s.toks[i+1].word
	}
	switch w := s.toks[i].word; {
	case (w == "software" || w == "firmware" || w == "map" || w == "calibration") && slices.Contains([]string{"update", "updated", "upgrade", "upgraded", "reload", "reflash", "flash", "reset", "installed", "loaded", "flashed", "reloaded"}, next):
		return i, i + 2
	case (w == "factory" || w == "hard" || w == "master" || w == "parameter") && next == "reset":
		return i, i + 2
	case w == "software" || w == "firmware":
		if i > 0 && s.toks[i-1].word == "new" {
			return i - 1, i + 1
		}
		if slices.ContainsFunc(s.toks[max(i-3, 0):i], func(t token) bool {
			return slices.Contains([]string{"new", "latest", "newer", "newest", "updated", "update", "current", "reloaded", "loaded", "reinstalled", "installed"}, t.word)
		}) {
			return i, i + 1
		}
	case w == "reflash" || w == "relearn" || w == "recalibration" || w == "reprogram" || w == "recode" || w == "adaptation":
		return i, i + 1
	}
	return 0, 0
}

// programDone tells whether the clause says that the change of software was made: by a verb of doing in the past, or by its effect.
func (s *sentence) programDone(c clause, from, to int) bool {
	if slices.ContainsFunc(s.wordsBefore(c, from, 6), func(w string) bool { return blocksDoing(w) && w != "no" || w == "available" || w == "no" }) || s.wishedBefore(from) {
		return s.neededAndDone(from)
	}
	did := slices.ContainsFunc(s.toks[c.from:c.to], func(t token) bool {
		return slices.Contains([]string{"did", "done", "got", "had", "gave", "given", "performed", "carried", "ran", "loaded", "installed", "uploaded", "put", "made", "received", "applied", "updated", "flashed", "upgraded", "reloaded", "reinstalled", "forced", "pushed",
			"after", "following"}, t.word)
	})
	return did || s.effectAfter(to) || s.cureIs(from)
}

// neededAndDone tells whether a sentence goes from what was needed to its being done: "it needed a software update, done".
func (s *sentence) neededAndDone(i int) bool {
	past := slices.ContainsFunc(s.toks[max(i-5, 0):i], func(t token) bool { return t.raw == "needed" || t.raw == "wanted" || t.raw == "required" })
	return past && slices.ContainsFunc(s.toks[i:], func(t token) bool { return t.word == "done" || t.word == "now" })
}

// programmedPart gives what was programmed: the part after "on", "of", "for", the one right before the noun, else the controller or the
// like spoken of in the sentence, else the software itself.
func (x *Extractor) programmedPart(f *focus, s *sentence, from, to int) nounPhrase {
	comps := slices.DeleteFunc(x.components(s), func(np nounPhrase) bool {
		return np.from < to && from < np.to || isTool(np) || strings.Contains(np.raw, "software")
	})
	if to < len(s.toks) && slices.Contains([]string{"in", "into", "on", "of", "for", "to"}, s.toks[to].word) {
		if np, ok := x.unknownPhrase(s, to+1, len(s.toks)); ok && np.known {
			return np
		}
	}
	for _, np := range comps {
		if np.from >= to && np.from-to <= 5 && s.prepositionBefore(np.from, "on", "of", "for", "to", "in", "into", "onto") > 0 {
			return np
		}
	}
	if to < len(s.toks) && (s.toks[to].word == "of" || s.toks[to].word == "on" || s.toks[to].word == "for") {
		if np, ok := x.unknownPhrase(s, to+1, len(s.toks)); ok {
			return np
		}
	}
	if from > 0 && !s.toks[from-1].mark {
		if name, known := x.component(s.toks[from-1].word + " controller"); known && !x.stops[s.toks[from-1].word] {
			return nounPhrase{from: from - 1, to: to, name: name, known: true} // "the gearbox software"
		}
	}
	for _, np := range comps {
		if np.to <= from && from-np.to <= 1 {
			return np
		}
	}
	for _, np := range slices.Backward(append(slices.Clone(f.recent), comps...)) {
		if slices.Contains([]string{"controller", "ecu", "module", "unit", "inverter", "charger", "computer", "board", "display", "panel", "bms", "tcu", "tcm", "pcm", "ecm", "bcm"}, lastWord(np.name)) && len(f.recent) > 0 {
			np.from, np.to = from, to
			return np
		}
	}
	name, known := x.component("software")
	return nounPhrase{from: from, to: to, name: name, known: known}
}
