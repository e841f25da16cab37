package ingest

import (
	"slices"

	"ruledout/kb"
)

// familyEvidence is how many different parts of one family of machines a write-up must name before the family is taken from them.
const familyEvidence = 2

// likelyFamily gives, where nobody says what kind of machine a write-up is about, the family in which most of the parts that it names
// occur; empty if there are too few, or two families that nothing parts. It serves to settle what a word means, and is no fact.
func (x *Extractor) likelyFamily(r *reading) string {
	seen := map[string]bool{}
	votes := map[string]int{}
	var order []string // families in the order met
	vote := func(s *sentence) {
		for _, m := range s.mentions {
			if m.kind != kb.TermComponent || seen[m.name] || m.to-m.from == 1 && m.abbr == "" && x.plainWord(s, m) {
				continue
			}
			seen[m.name] = true
			c, _ := x.v.Component(m.name)
			for _, family := range c.Families {
				if votes[family] == 0 {
					order = append(order, family)
				}
				votes[family]++
			}
		}
	}
	vote(r.title)
	for _, p := range r.people {
		for _, s := range p.sents {
			vote(s)
		}
	}
	slices.SortStableFunc(order, func(a, b string) int { return votes[b] - votes[a] })
	if len(order) == 0 || votes[order[0]] < familyEvidence {
		return ""
	}
	return order[0]
}
