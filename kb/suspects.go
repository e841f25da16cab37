package kb

import (
	"cmp"
	"maps"
	"slices"
)

// Suspect is a component that the structure of machines makes suspicious, with its share of the suspicion.
type Suspect struct {
	Component string
	Share     float64 // in (0, 1]; the shares of a list sum to 1
}

// Weights of what the structure says; judgement, no source.
const (
	tiedWeight   = 1.0 // a component tied to a code
	feedsWeight  = 0.3 // what drives or feeds such a component
	systemWeight = 1.0 // all components together of the systems that a symptom points to
)

// Suspects lists the components that the vocabulary ties to the codes, those that drive or feed them, and those of the systems that the
// symptoms point to, the most suspicious first. Components that do not occur on the kind of machine are left out. It is structure, and
// no case: the list says where to look when no case is known.
func (v *Vocabulary) Suspects(kind string, codes, symptoms []string) []Suspect {
	weight := map[string]float64{}
	for _, c := range codes {
		term, _ := v.CodeTerm(c)
		for _, component := range term.Components {
			weight[component] += tiedWeight
			s := v.structure(component)
			for _, up := range slices.Concat(s.DrivenBy, s.FedBy) {
				weight[up] += feedsWeight
			}
		}
	}
	for _, s := range symptoms {
		list := v.componentsOf(s)
		for _, component := range list {
			weight[component] += systemWeight / float64(len(list))
		}
	}
	return v.shares(kind, weight)
}

// componentsOf lists the components of the systems that a symptom points to.
func (v *Vocabulary) componentsOf(symptom string) []string {
	term, ok := v.Symptom(symptom)
	if !ok || len(term.Systems) == 0 {
		return nil
	}
	var out []string
	for _, c := range v.Components() {
		if slices.Contains(term.Systems, c.System) && !c.Quantity {
			out = append(out, c.Name)
		}
	}
	return out
}

func (v *Vocabulary) shares(kind string, weight map[string]float64) []Suspect {
	family := ""
	if k, ok := v.MachineKind(kind); ok {
		family = k.Family
	}
	var out []Suspect
	total := 0.0
	for _, name := range slices.Sorted(maps.Keys(weight)) {
		if c, ok := v.Component(name); ok && family != "" && len(c.Families) > 0 && !slices.Contains(c.Families, family) {
			continue
		}
		out = append(out, Suspect{name, weight[name]})
		total += weight[name]
	}
	for i := range out {
		out[i].Share /= total
	}
	slices.SortStableFunc(out, func(a, b Suspect) int { return cmp.Compare(b.Share, a.Share) })
	return out
}
