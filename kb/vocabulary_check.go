package kb

import (
	"maps"
	"slices"
	"strings"
)

func (l *loader) checkComponents() error {
	for _, name := range l.v.components.names {
		c, p := l.v.components.items[name], l.places[string(TermComponent)+"/"+name]
		links := []struct {
			field string
			names []string
		}{{"part_of", c.PartOf}, {"driven_by", c.DrivenBy}, {"fed_by", c.FedBy}}
		for _, link := range links {
			for _, target := range link.names {
				if _, ok := l.v.components.items[target]; !ok || target == name {
					return p.errorf(link.field, "no other component is called %q", target)
				}
			}
		}
		if err := l.checkHazards(p, c.Hazards); err != nil {
			return err
		}
		for _, area := range c.Licensed {
			if !slices.Contains(LicenceAreas(), area) {
				return p.errorf("licensed", "%q is no licence area", area)
			}
		}
		for _, family := range c.Families {
			if !slices.Contains(l.families, family) {
				return p.errorf("families", "no kind of machine is of family %q", family)
			}
		}
	}
	return nil
}

func (l *loader) checkHazards(p place, names []string) error {
	for _, name := range names {
		if _, ok := l.v.hazards[name]; !ok {
			return p.errorf("hazards", "no hazard is called %q", name)
		}
	}
	return nil
}

func (l *loader) checkMethods() error {
	for _, name := range l.v.methods.names {
		if err := l.checkHazards(l.places[string(TermMethod)+"/"+name], l.v.methods.items[name].Hazards); err != nil {
			return err
		}
	}
	return nil
}

func (l *loader) checkSymptoms() error {
	systems := map[string]bool{}
	for _, c := range l.v.components.items {
		systems[c.System] = true
	}
	for _, name := range l.v.symptoms.names {
		for _, system := range l.v.symptoms.items[name].Systems {
			if !systems[system] {
				return l.places[string(TermSymptom)+"/"+name].errorf("systems", "no component is of system %q", system)
			}
		}
	}
	return nil
}

func (l *loader) checkCodes() error {
	for _, code := range slices.Sorted(maps.Keys(l.v.codes)) {
		for _, name := range l.v.codes[code].Components {
			if _, ok := l.v.components.items[name]; !ok {
				return l.places["code/"+code].errorf("components", "no component is called %q", name)
			}
		}
	}
	return nil
}

// linkNamesakes links components whose names begin with the name of another ("fuel pump relay" feeds the fuel pump) and
// that are a part of nothing, so that the data need not say the obvious.
func (l *loader) linkNamesakes() {
	items := l.v.components.items
	for _, name := range l.v.components.names {
		c := items[name]
		other, how := l.v.namedAfter(name)
		fed := items[other]
		if len(c.PartOf) > 0 || !strings.HasPrefix(name, other+" ") || !shareFamily(c, fed) {
			continue
		}
		linked := slices.Contains(fed.FedBy, name) || slices.Contains(fed.DrivenBy, name)
		switch {
		case how == QualifiedPart && !slices.Contains(l.v.wholes(other), name):
			c.PartOf = []string{other}
			items[name] = c
		case how == QualifiedFeeds && !linked:
			fed.FedBy = append(slices.Clone(fed.FedBy), name)
			items[other] = fed
		}
	}
}

func (l *loader) checkCycles() error {
	for _, name := range l.v.components.names {
		if slices.Contains(l.v.wholes(name), name) {
			return l.places[string(TermComponent)+"/"+name].errorf("part_of", "the component is a part of itself")
		}
	}
	return nil
}
