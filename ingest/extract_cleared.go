package ingest

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// clearedParts reads what was taken out of a part where it did not belong: "pulled a sock out of the pump", "removed the leaves from the
// blower", "found a coin in the pump and fished it out". That is a cleaning of the part.
func (x *Extractor) clearedParts(f *focus, s *sentence, have []*fixFound) []*fixFound {
	if s.asked || s.place == RegionHeading {
		return nil
	}
	var out []*fixFound
	for i, t := range s.toks {
		c := s.clauseAt(i)
		if !isTakingOut(t) || c.kind != told || s.negated(max(c.from, i-3), i) || slices.ContainsFunc(s.wordsBefore(c, i, 3), blocksDoing) || keptAt(have, i) {
			continue
		}
		np, end, ok := x.clearedOf(f, s, i)
		if !ok || isConsumable(np.name) || isTool(np) {
			continue
		}
		np = f.complete(np, s)
		out = append(out, &fixFound{sent: s, from: i, to: min(end, len(s.toks)), action: kb.Clean, comp: np.name, known: np.known})
		break
	}
	return out
}

// keptAt tells whether a repair other than a mere taking off was read at a token.
func keptAt(fixes []*fixFound, i int) bool {
	return slices.ContainsFunc(fixes, func(fx *fixFound) bool { return i >= fx.from && i < fx.to && fx.action != kb.Other })
}

// isTakingOut tells whether a verb in the past says that something was taken out.
func isTakingOut(t token) bool {
	return slices.Contains([]string{"removed", "cleared", "pulled", "fished", "dug", "picked", "scooped", "got", "took", "tweezed", "extracted", "vacuumed", "hoovered", "blew", "washed", "flushed", "shook", "scraped",
		"emptied", "raked", "hooked", "pried", "prised", "teased", "cut"}, strings.ToLower(t.raw))
}

// clearedOf gives the part that the taking out at token i freed, and the token after its words.
func (x *Extractor) clearedOf(f *focus, s *sentence, i int) (nounPhrase, int, bool) {
	foreign := -1
	for j := i + 1; j < min(i+12, len(s.toks)); j++ {
		t := s.toks[j]
		switch {
		case foreignMatter(t.word):
			foreign = j
		case t.mark && strings.ContainsAny(t.raw, ".;:"):
			return nounPhrase{}, 0, false
		case foreign < 0 && j <= i+2 && (t.word == "it" || t.word == "them" || t.word == "that"):
			if np, ok := x.litteredIn(f, s, i); ok {
				return np, j + 1, true
			}
			return nounPhrase{}, 0, false
		case foreign >= 0 && slices.Contains([]string{"from", "of", "in", "inside", "off", "behind", "between", "around", "under"}, t.word):
			for _, np := range x.components(s) {
				if np.from > j && np.from-j <= 3 && !foreignMatter(np.raw) {
					return np, np.to, true
				}
			}
		}
	}
	if foreign >= 0 {
		if np, ok := x.litteredIn(f, s, i); ok {
			return np, foreign + 1, true
		}
	}
	return nounPhrase{}, 0, false
}

// litteredIn gives the part in which something foreign was found: earlier in the sentence, else in the one before.
func (x *Extractor) litteredIn(f *focus, s *sentence, i int) (nounPhrase, bool) {
	if np, ok := x.litterAt(s, i); ok {
		return np, true
	}
	return f.littered, f.littered.name != "" && f.litterAge <= 1
}

// litterAt gives the part of which tokens up to limit say that something foreign was in it: the first one that a preposition ties to it
// ("a sock in the pump"), else the nearest before it in its clause ("the pump was full of hair").
func (x *Extractor) litterAt(s *sentence, limit int) (nounPhrase, bool) {
	for j, t := range slices.Backward(s.toks[:limit]) {
		c := s.clauseAt(j)
		if !foreignMatter(t.word) || c.kind != told {
			continue
		}
		for _, np := range x.components(s) {
			if np.from > j && np.from-j <= 8 && np.to <= limit && np.oblique && !foreignMatter(np.raw) {
				return np, true
			}
		}
		for _, np := range slices.Backward(x.components(s)) {
			if np.to <= j && j-np.to <= 6 && np.from >= c.from && !np.oblique && !foreignMatter(np.raw) {
				return np, true
			}
		}
	}
	return nounPhrase{}, false
}

// damageAt gives the part that a sentence ties some damage to: "a chafed spot in the harness", "a crack in the housing".
func (x *Extractor) damageAt(s *sentence) (nounPhrase, bool) {
	for i, t := range s.toks {
		if !isDamage(t.word) && !isFlaw(t.word) || s.clauseAt(i).kind != told || s.negated(max(i-4, 0), i) {
			continue
		}
		if isDamage(t.word) && i > 0 && (isCopula(s.toks[i-1].word) || isAdverb(s.toks[i-1].word)) {
			if np, ok := nearestBefore(x.components(s), s.clauseAt(i).from, i); ok && np.known && !np.oblique {
				return np, true
			}
			continue
		}
		for j := i + 1; j < min(i+4, len(s.toks)); j++ {
			if !slices.Contains([]string{"in", "on", "of", "inside", "at"}, s.toks[j].word) {
				continue
			}
			for _, np := range x.components(s) {
				if np.from > j && np.from-j <= 3 && np.known {
					return np, true
				}
			}
		}
	}
	return nounPhrase{}, false
}

// foreignMatter tells whether a word names what does not belong into a machine.
func foreignMatter(word string) bool {
	return slices.Contains([]string{"sock", "coin", "lint", "fluff", "leaf", "leave", "nest", "mouse", "mice", "wasp", "toothpick", "glass", "paper", "label", "stone", "gravel", "grit", "sand", "swarf", "debris", "dirt", "muck", "gunk", "sludge",
		"mud", "scale", "limescale", "rag", "string", "twine", "bag", "pip", "seed", "cap", "hairpin", "nail", "twig", "grass", "weed", "straw", "chaff", "hair", "fur", "slime", "blockage", "crud", "rubbish", "trash", "button", "bra", "wire",
		"kibble", "bone", "plastic", "foam", "insulation", "cobweb", "spider", "web", "feather", "bird", "acorn", "nut", "rat", "rodent", "bug", "insect", "moth", "dust", "crumb", "grease", "soot", "carbon", "ice", "barnacle", "mussel", "rope",
		"fragment", "shard", "lump", "clump", "ball", "piece", "pin", "pen", "toy", "lego", "stick", "wood", "bark", "snow", "rock", "pebble", "filing", "shaving", "goo", "gum", "jam", "grip", "sawdust", "chip", "wool"}, word) && word != "wire" && word != "pin" && word != "nut" && word != "cap"
}
