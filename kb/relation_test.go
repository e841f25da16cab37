package kb_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"ruledout/kb"
)

// How the things hang together is common knowledge of the trade.
func TestRelation(t *testing.T) {
	v := vocabulary(t)
	cases := []struct {
		tested, culprit string
		want            kb.Relation
	}{
		{"relay", "Relays", kb.Same},
		{"maf", "air flow meter", kb.Same},
		{"relay", "relay coil", kb.CulpritInTested},
		{"relay coil", "relay", kb.TestedInCulprit},
		{"engine", "exhaust valve", kb.CulpritInTested}, // by way of the cylinder head
		{"control board", "electrolytic capacitor", kb.CulpritInTested},
		{"fuel trim", "pcv hose", kb.CulpritUpstream},
		{"fuel trim", "fuel pump relay", kb.CulpritUpstream}, // three steps
		{"rail pressure", "fuel pickup screen", kb.CulpritUpstream},
		{"water flow", "strainer", kb.CulpritUpstream},
		{"isolation resistance", "ptc heater", kb.CulpritUpstream},
		{"isolation resistance", "battery module", kb.CulpritUpstream}, // a part of what feeds it
		{"wheel speed", "tone ring", kb.CulpritUpstream},
		{"boost pressure", "vgt nozzle ring", kb.CulpritUpstream},
		{"charging voltage", "stator", kb.CulpritUpstream},
		{"pcv hose", "fuel trim", kb.Unrelated},
		{"spark plug", "drain pump", kb.Unrelated},
		{"seat heater", "seat heater fuse", kb.CulpritUpstream}, // not known: read off the name
		{"drain pump", "drain pump bearing", kb.CulpritInTested},
		{"drain pump bearing", "drain pump", kb.TestedInCulprit},
		{"flux capacitor lid", "drain pump", kb.Unrelated},
	}
	for _, c := range cases {
		assert.Equal(t, c.want, v.Relation(c.tested, c.culprit), "%s, %s", c.tested, c.culprit)
	}
}

func TestRelationLaws(t *testing.T) {
	v := vocabulary(t)
	components := v.Components()
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.SampledFrom(components).Draw(t, "a").Name
		b := rapid.SampledFrom(components).Draw(t, "b").Name
		assert.Equal(t, kb.Same, v.Relation(a, a))
		there, back := v.Relation(a, b), v.Relation(b, a)
		assert.Equal(t, there == kb.CulpritInTested, back == kb.TestedInCulprit, "%s, %s", a, b)
		assert.Equal(t, slices.Contains(v.Wholes(b), a), there == kb.CulpritInTested, "%s, %s", a, b)
	})
}

func TestUpstreamStaysClearOfTheComponent(t *testing.T) {
	v := vocabulary(t)
	for _, c := range v.Components() {
		up := v.Upstream(c.Name)
		assert.NotContains(t, up, c.Name)
		for _, whole := range v.Wholes(c.Name) {
			assert.NotContains(t, up, whole, c.Name)
		}
	}
}

func TestCautionsComeFromWholes(t *testing.T) {
	v := vocabulary(t)
	for component, want := range map[string]struct {
		hazard, area string
	}{
		"main contactor coil": {"high voltage", "hv"}, "gas valve": {"gas", "gas"}, "airbag": {"restraint", "restraint"},
		"compressor": {"refrigerant", "refrigerant"}, "drain pump": {"mains", "mains"}, "battery module": {"lithium cells", "hv"},
		"turbocharger": {"hot parts", ""}, "torsion spring": {"spring tension", ""}, "airbag bearing": {"restraint", "restraint"},
	} {
		names := []string{}
		for _, h := range v.Cautions(component) {
			names = append(names, h.Name)
		}
		assert.Contains(t, names, want.hazard, component)
		if want.area == "" {
			assert.Empty(t, v.Licensed(component), component)
		} else {
			assert.Contains(t, v.Licensed(component), want.area, component)
		}
	}
	assert.Empty(t, v.Cautions("flux capacitor lid"))
}
