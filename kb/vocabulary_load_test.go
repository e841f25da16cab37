package kb_test

import (
	"fmt"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/kb"
)

// small is a vocabulary that each error case below breaks in one place.
const small = `components:
  - system: fuel
    items:
      - {name: fuel pump, also: [petrol pump], fed_by: [fuse]}
      - {name: fuse, qualified: feeds}
kinds:
  - family: road
    items:
      - {name: car}
hazards:
  - {name: fuel, text: No flame., source: common practice of the trade}
`

func parse(files map[string]string) (*kb.Vocabulary, error) {
	fsys := fstest.MapFS{}
	for name, text := range files {
		fsys[name] = &fstest.MapFile{Data: []byte(text)}
	}
	return kb.ParseVocabulary(fsys)
}

func TestParseVocabularyRefuses(t *testing.T) {
	cases := map[string]struct {
		text  string
		line  int
		field string
		words string
	}{
		"unknown field":     {"components:\n  - system: x\n    items:\n      - {name: a b, colour: red}\n", 4, "", "colour"},
		"bad YAML":          {"components: [\n", 0, "", "no vocabulary"},
		"two documents":     {"kinds: []\n---\nkinds: []\n", 0, "", "more than one document"},
		"name twice":        {"components:\n  - system: x\n    items:\n      - {name: fuse}\n", 4, "fuse.name", "given twice"},
		"name not folded":   {"components:\n  - system: x\n    items:\n      - {name: Fuses}\n", 4, "Fuses.name", "folded"},
		"term twice":        {"components:\n  - system: x\n    items:\n      - {name: lamp, also: [bulb, bulbs]}\n", 4, "lamp.also", "given twice"},
		"term of another":   {"components:\n  - system: x\n    items:\n      - {name: lamp, also: [petrol-pump]}\n", 4, "lamp.also", `already belongs to "fuel pump"`},
		"no system":         {"components:\n  - items:\n      - {name: lamp}\n", 3, "lamp.system", "missing"},
		"dangling part_of":  {"components:\n  - system: x\n    items:\n      - {name: lamp, part_of: [car]}\n", 4, "lamp.part_of", `"car"`},
		"dangling fed_by":   {"components:\n  - system: x\n    items:\n      - {name: lamp, fed_by: [sun]}\n", 4, "lamp.fed_by", `"sun"`},
		"dangling drive":    {"components:\n  - system: x\n    items:\n      - {name: lamp, driven_by: [sun]}\n", 4, "lamp.driven_by", `"sun"`},
		"dangling hazard":   {"components:\n  - system: x\n    items:\n      - {name: lamp, hazards: [glare]}\n", 4, "lamp.hazards", `"glare"`},
		"dangling family":   {"components:\n  - system: x\n    items:\n      - {name: lamp, families: [space]}\n", 4, "lamp.families", `"space"`},
		"licence area":      {"components:\n  - system: x\n    items:\n      - {name: lamp, licensed: [magic]}\n", 4, "lamp.licensed", `"magic"`},
		"qualified":         {"components:\n  - system: x\n    items:\n      - {name: lamp, qualified: often}\n", 4, "lamp.qualified", `"often"`},
		"cycle of parts":    {"components:\n  - system: x\n    items:\n      - {name: lamp, part_of: [light]}\n      - {name: light, part_of: [lamp]}\n", 4, "lamp.part_of", "part of itself"},
		"method kind":       {"methods:\n  - kind: guess\n    items:\n      - {name: hunch, minutes: 1}\n", 4, "hunch.kind", `"guess"`},
		"method time":       {"methods:\n  - kind: look\n    items:\n      - {name: hunch}\n", 4, "hunch.minutes", "more than 0"},
		"method place":      {"methods:\n  - kind: look\n    items:\n      - {name: hunch, where: home, minutes: 1}\n", 4, "hunch.where", `"home"`},
		"method hazard":     {"methods:\n  - kind: look\n    items:\n      - {name: hunch, minutes: 1, hazards: [glare]}\n", 4, "hunch.hazards", `"glare"`},
		"symptom system":    {"symptoms:\n  - systems: [soul]\n    items:\n      - {name: grumpy}\n", 4, "grumpy.systems", `"soul"`},
		"symptom denial":    {"symptoms:\n  - items:\n      - {name: grumpy, absent: [smiles, smile]}\n", 3, "grumpy.absent", "given twice"},
		"action":            {"actions:\n  - {action: ponder, verbs: [pondered]}\n", 2, "ponder.action", "closed list"},
		"verb of another":   {"actions:\n  - {action: clean, verbs: [wiped]}\n  - {action: repair, verbs: [wiped]}\n", 3, "repair.verbs", `"clean"`},
		"kind twice":        {"kinds:\n  - family: road\n    items:\n      - {name: car}\n", 4, "car.name", "given twice"},
		"kind family":       {"kinds:\n  - items:\n      - {name: cart}\n", 3, "cart.family", "missing"},
		"hazard text":       {"hazards:\n  - {name: glare, text: Do not look.}\n", 2, "glare.text", "source"},
		"hazard licence":    {"hazards:\n  - {name: glare, text: Do not look., source: trade, licensed: magic}\n", 2, "glare.licensed", `"magic"`},
		"code component":    {"codes:\n  - {code: P0001, components: [sun]}\n", 2, "P0001.components", `"sun"`},
		"code source":       {"codes:\n  - {code: P0001, meaning: something}\n", 2, "P0001.source", "source"},
		"code letter case":  {"codes:\n  - {code: p0001}\n", 2, "p0001.code", "upper case"},
		"same action again": {"actions:\n  - {action: clean, verbs: [wiped, wiped]}\n", 2, "clean.verbs", "given twice"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			_, err := parse(map[string]string{"a.yaml": small, "b.yaml": c.text})
			var e *kb.Error
			require.ErrorAs(t, err, &e)
			assert.Equal(t, kb.Invalid, e.Kind)
			assert.Equal(t, "b.yaml", e.File)
			assert.Equal(t, c.field, e.Field)
			assert.Contains(t, err.Error(), c.words)
			if c.line > 0 {
				assert.Equal(t, c.line, e.Line)
			}
		})
	}
}

func TestParseVocabularyNeedsAFile(t *testing.T) {
	_, err := parse(nil)
	assert.Equal(t, kb.NotFound, kb.KindOf(err))
}

// Machines of different families may use one word for different things; those of one family may not.
func TestTermsAreSharedOnlyAcrossFamilies(t *testing.T) {
	const text = `components:
  - system: x
    items:
      - {name: engine thermostat, also: [stat], families: [road]}
      - {name: room thermostat, also: [stat], families: [%s]}
kinds:
  - {family: road, items: [{name: car}]}
  - {family: heating, items: [{name: boiler}]}
`
	v, err := parse(map[string]string{"a.yaml": fmt.Sprintf(text, "heating")})
	require.NoError(t, err)
	assert.Equal(t, "room thermostat", v.CanonicalComponentFor("stat", "heating"))
	assert.Equal(t, "engine thermostat", v.CanonicalComponentFor("stat", "road"))

	_, err = parse(map[string]string{"a.yaml": fmt.Sprintf(text, "road")})
	assert.ErrorContains(t, err, `"stat" already belongs to "engine thermostat"`)
}

func TestVersionFollowsTheData(t *testing.T) {
	first, err := parse(map[string]string{"a.yaml": small})
	require.NoError(t, err)
	again, err := parse(map[string]string{"a.yaml": small})
	require.NoError(t, err)
	other, err := parse(map[string]string{"a.yaml": small, "b.yaml": ""})
	require.NoError(t, err)
	assert.Equal(t, first.Version(), again.Version())
	assert.NotEqual(t, first.Version(), other.Version())
}

func FuzzParseVocabulary(f *testing.F) {
	f.Add(small)
	f.Add("components:\n  - system: x\n    items:\n      - {name: a b, part_of: [a b]}\n")
	f.Add("actions: [{action: clean, verbs: ['']}]")
	f.Add("codes:\n  - {code: \"U01*\", consequence: true}\n")
	f.Fuzz(func(t *testing.T, text string) {
		v, err := parse(map[string]string{"a.yaml": text})
		if err != nil {
			var e *kb.Error
			require.ErrorAs(t, err, &e)
			return
		}
		for _, c := range v.Components() {
			assert.Equal(t, c.Name, v.CanonicalComponent(c.Name))
			assert.NotContains(t, v.Wholes(c.Name), c.Name)
			v.Upstream(c.Name)
		}
		v.Phrases()
	})
}
