package kb

import (
	"slices"
	"strings"
)

// Relation tells how one component stands to another.
type Relation int

// The relations between a tested component X and a possible culprit F.
const (
	Unrelated       Relation = iota
	Same                     // X is F
	CulpritInTested          // F is a part of X: testing X tests F
	TestedInCulprit          // X is a part of F
	CulpritUpstream          // F drives or feeds X
)

// upstreamSteps bounds how far a fault upstream is taken to show: further up, almost everything feeds everything.
const upstreamSteps = 3

// Relation tells how a tested component stands to a possible culprit, both by any of their terms.
func (v *Vocabulary) Relation(tested, culprit string) Relation {
	return v.relations.Of([2]string{tested, culprit}, func(q [2]string) Relation { return v.relate(q[0], q[1]) })
}

func (v *Vocabulary) relate(tested, culprit string) Relation {
	x, f := v.CanonicalComponent(tested), v.CanonicalComponent(culprit)
	if x == f {
		return Same
	}
	wholesOfF := v.wholes(f)
	switch {
	case slices.Contains(wholesOfF, x):
		return CulpritInTested
	case slices.Contains(v.wholes(x), f):
		return TestedInCulprit
	case v.feeds(append(wholesOfF, f), x), v.feedsByName(f, x):
		return CulpritUpstream
	}
	return Unrelated
}

// feedsByName is feeds for a culprit that the vocabulary does not know but that is named after what it feeds ("seat heater
// fuse"): it feeds that, its parts, and what that feeds.
func (v *Vocabulary) feedsByName(f, x string) bool {
	if _, known := v.components.items[f]; known {
		return false // the links of known components are in the data
	}
	fed, how := v.namedAfter(f)
	if how != QualifiedFeeds {
		return false
	}
	return fed == x || slices.Contains(v.wholes(x), fed) || v.feeds([]string{fed}, x)
}

// Wholes gives the names of all that a component is a part of, nearest first.
func (v *Vocabulary) Wholes(component string) []string {
	return v.wholes(v.CanonicalComponent(component))
}

// Upstream gives the names of what drives or feeds a component, itself or through a whole that it is a part of, nearest
// first.
func (v *Vocabulary) Upstream(component string) []string {
	var all []string
	v.walkUpstream(v.CanonicalComponent(component), func(name string) bool {
		all = append(all, name)
		return false
	})
	return all
}

// Cautions gives the hazards of a component and of the wholes that it is a part of.
func (v *Vocabulary) Cautions(component string) []Hazard {
	var found []Hazard
	for _, name := range v.inherited(component, func(c Component) []string { return c.Hazards }) {
		found = append(found, v.hazards[name])
	}
	return found
}

// Licensed gives the licence areas of work on a component: its own, those of the wholes that it is a part of and those of
// their hazards.
func (v *Vocabulary) Licensed(component string) []string {
	areas := v.inherited(component, func(c Component) []string { return c.Licensed })
	for _, h := range v.Cautions(component) {
		if h.Licensed != "" && !slices.Contains(areas, h.Licensed) {
			areas = append(areas, h.Licensed)
		}
	}
	slices.Sort(areas)
	return areas
}

func (v *Vocabulary) inherited(component string, of func(Component) []string) []string {
	var all []string
	name := v.CanonicalComponent(component)
	for _, part := range append([]string{name}, v.wholes(name)...) {
		for _, one := range of(v.structure(part)) {
			if !slices.Contains(all, one) {
				all = append(all, one)
			}
		}
	}
	return all
}

// feeds tells whether any of the names drives or feeds x.
func (v *Vocabulary) feeds(names []string, x string) bool {
	return v.walkUpstream(x, func(name string) bool { return slices.Contains(names, name) })
}

// walkUpstream visits what feeds or drives a component, step by step; visit returns true to stop. A whole is reached
// without a step: what feeds the whole feeds the part. The component and its wholes are never visited.
func (v *Vocabulary) walkUpstream(start string, visit func(string) bool) bool {
	own := append([]string{start}, v.wholes(start)...)
	seen := map[string]bool{}
	for _, name := range own {
		seen[name] = true
	}
	for frontier, step := own, 0; step < upstreamSteps; step++ {
		var next []string
		for _, name := range frontier {
			c := v.structure(name)
			for _, up := range append(slices.Clone(c.DrivenBy), c.FedBy...) {
				if seen[up] {
					continue
				}
				if visit(up) {
					return true
				}
				seen[up] = true
				next = append(next, up)
			}
		}
		frontier = v.withWholes(next, seen)
	}
	return false
}

func (v *Vocabulary) withWholes(names []string, seen map[string]bool) []string {
	all := slices.Clone(names)
	for _, name := range names {
		for _, whole := range v.wholes(name) {
			if !seen[whole] && !slices.Contains(all, whole) {
				all = append(all, whole)
			}
		}
	}
	return all
}

func (v *Vocabulary) wholes(name string) []string {
	var all []string
	for frontier := v.structure(name).PartOf; len(frontier) > 0; {
		var next []string
		for _, whole := range frontier {
			if !slices.Contains(all, whole) {
				all = append(all, whole)
				next = append(next, v.structure(whole).PartOf...)
			}
		}
		frontier = next
	}
	return all
}

// structure gives a component, or for a name that the vocabulary does not know what can be read off the name.
func (v *Vocabulary) structure(name string) Component {
	if c, ok := v.components.items[name]; ok {
		return c
	}
	c := Component{Name: name}
	whole, how := v.namedAfter(name)
	switch how {
	case QualifiedPart:
		c.PartOf = []string{whole}
	case QualifiedFeeds: // what feeds the thing comes to it through this
		c.FedBy = slices.Concat(v.components.items[whole].DrivenBy, v.components.items[whole].FedBy)
	}
	return c
}

// namedAfter reads a name such as "seat heater fuse": the known component that it begins with, and how what it ends with
// stands to that.
func (v *Vocabulary) namedAfter(name string) (string, Qualified) {
	words := strings.Fields(name)
	for at := len(words) - 1; at > 0; at-- {
		suffix, known := v.Component(strings.Join(words[at:], " "))
		if !known || suffix.Qualified == QualifiedNone {
			continue
		}
		whole := v.CanonicalComponent(strings.Join(words[:at], " "))
		if _, known := v.components.items[whole]; known && whole != name {
			return whole, suffix.Qualified
		}
	}
	return "", QualifiedNone
}
