package ingest_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
	"ruledout/kb"
)

func TestUnderstandReadsAnAskersWords(t *testing.T) {
	v := words(t)
	c := ingest.Understand("Halden Brisk 3 2019 P1B77-13 no cabin heat, replaced heater fuse, no change", v)
	assert.Equal(t, kb.Open, c.Status)
	require.Len(t, c.Codes, 1)
	assert.Equal(t, "P1B77-13", c.Codes[0].Code)
	assert.Equal(t, "Halden", c.Machine.Make)
	assert.Equal(t, 2019, c.Machine.Year)
	require.Len(t, c.Fixes, 1)
	assert.Equal(t, "heater fuse", c.Fixes[0].Component)
	assert.Equal(t, kb.NoChange, c.Fixes[0].Outcome)
	assert.Empty(t, c.Validate())
}

func TestUnderstandKeepsTheRestAsASymptom(t *testing.T) {
	v := words(t)
	cases := []struct{ words, symptom string }{
		{"P0420 wobbly thingamajig", "wobbly thingamajig"},
		{"wobbly thingamajig", "wobbly thingamajig"},
		{"E47 and", ""},
		{"P0420", ""},
		{"", ""},
	}
	for _, tt := range cases {
		c := ingest.Understand(tt.words, v)
		if tt.symptom == "" {
			assert.Empty(t, c.Symptoms, tt.words)
			continue
		}
		require.Len(t, c.Symptoms, 1, tt.words)
		assert.Equal(t, tt.symptom, c.Symptoms[0].Symptom)
		assert.Empty(t, c.Validate())
	}
}

// A test put as the program's own forms have it is that test.
func TestUnderstandTakesAStatedTest(t *testing.T) {
	cases := []struct {
		words, test, component string
		result                 kb.Result
		value                  float64
	}{
		{"P1B77, coil resistance of heater relay 84 ohm", "coil resistance", "heater relay", "", 84},
		{"P1B77. Coil resistance of the heater relay: 84.5 ohm. No cabin heat", "coil resistance", "heater relay", "", 84.5},
		{"P1B77, insulation of PTC heater element 70 kohm", "insulation", "ptc heater element", "", 70},
		{"P1B77; coil resistance of heater relay = fail", "coil resistance", "heater relay", kb.Fail, 0},
	}
	for _, tt := range cases {
		c := ingest.Understand(tt.words, words(t))
		require.Len(t, c.Tests, 1, tt.words)
		got := c.Tests[0]
		assert.Equal(t, tt.component, got.Component, tt.words)
		assert.Equal(t, tt.test, got.Test, tt.words)
		assert.Equal(t, tt.result, got.Result, tt.words)
		if tt.value != 0 {
			require.NotNil(t, got.Reading, tt.words)
			assert.InDelta(t, tt.value, *got.Reading.Value, 0, tt.words)
		}
		assert.Equal(t, "P1B77", c.Codes[0].Code)
	}
	c := ingest.Understand("the sound of the bell is bad", words(t))
	assert.Empty(t, c.Tests, "nothing that the vocabulary knows")
}

// A distance and what a repair did not do are no symptoms.
func TestUnderstandTakesTheUseOfAMachine(t *testing.T) {
	c := ingest.Understand("P1B77 on a Halden Brisk 3 2019, 81200 km. No cabin heat. Replaced the heater relay, no change", words(t))
	require.NotNil(t, c.Machine.Odometer)
	assert.Equal(t, kb.Measure{Value: 81200, Unit: "km"}, *c.Machine.Odometer)
	require.Len(t, c.Symptoms, 1)
	assert.Equal(t, "no cabin heat", c.Symptoms[0].Symptom)
	c = ingest.Understand("E6, wobbly thingamajig since 20 km", words(t))
	assert.Nil(t, c.Machine.Odometer, "that says something else")
}

func TestParseTest(t *testing.T) {
	v := words(t)
	value := func(x float64) *float64 { return &x }
	cases := []struct {
		in, name, component string
		result              kb.Result
		value               *float64
		unit                string
		bound               kb.Bound
	}{
		{"coil resistance of heater relay", "coil resistance", "heater relay", "", nil, "", ""},
		{"coil resistance of heater relay = 84 ohm", "coil resistance", "heater relay", "", value(84), "ohm", kb.Equal},
		{"Coil resistance of the heater relay = pass", "coil resistance", "heater relay", kb.Pass, nil, "", ""},
		{"smoke test of intake manifold: fail", "smoke test", "intake manifold", kb.Fail, nil, "", ""},
		{"visual inspection of thermostat ok", "visual inspection", "thermostat", kb.Pass, nil, "", ""},
		{"resistance of heater relay = open", "resistance", "heater relay", "", nil, "", kb.BoundOpen},
	}
	for _, tt := range cases {
		t.Run(tt.in, func(t *testing.T) {
			got, err := ingest.ParseTest(tt.in, v)
			require.NoError(t, err)
			assert.Equal(t, tt.name, got.Test)
			assert.Equal(t, tt.component, got.Component)
			assert.Equal(t, tt.result, got.Result)
			if tt.bound == "" {
				assert.Nil(t, got.Reading)
				return
			}
			require.NotNil(t, got.Reading)
			assert.Equal(t, tt.bound, got.Reading.Bound)
			assert.Equal(t, tt.value, got.Reading.Value)
			assert.Equal(t, tt.unit, got.Reading.Unit)
		})
	}
	for _, bad := range []string{"", "heater relay", "of", "resistance of heater relay = banana"} {
		_, err := ingest.ParseTest(bad, v)
		require.Error(t, err, bad)
		assert.Equal(t, kb.Invalid, kb.KindOf(err))
	}
}

func TestParseFix(t *testing.T) {
	v := words(t)
	cases := []struct {
		in     string
		action kb.Action
		part   string
	}{
		{"replaced heater fuse", kb.Replace, "heater fuse"},
		{"replace heater fuse", kb.Replace, "heater fuse"},
		{"cleaned the drain pump", kb.Clean, "drain pump"},
		{"bypassed flow switch", kb.Bypass, "flow switch"},
	}
	for _, tt := range cases {
		got, err := ingest.ParseFix(tt.in, v)
		require.NoError(t, err, tt.in)
		assert.Equal(t, tt.action, got.Action)
		assert.Equal(t, tt.part, got.Component)
	}
	for _, bad := range []string{"", "heater fuse", "replaced", "danced around heater fuse"} {
		_, err := ingest.ParseFix(bad, v)
		require.Error(t, err, bad)
		assert.Equal(t, kb.Invalid, kb.KindOf(err))
	}
}

func TestParseMachine(t *testing.T) {
	v := words(t)
	cases := []struct {
		in   string
		want kb.Machine
	}{
		{"Halden Brisk 3 2019", kb.Machine{Make: "Halden", Model: "Brisk 3", Year: 2019}},
		{"2019 Halden Brisk 3 van", kb.Machine{Kind: "van", Make: "Halden", Model: "Brisk 3", Year: 2019}},
		{"excavator Orlund KX330, 2014", kb.Machine{Kind: "excavator", Make: "Orlund", Model: "KX330", Year: 2014}},
		{"Halden", kb.Machine{Make: "Halden"}},
		{"", kb.Machine{}},
	}
	for _, tt := range cases {
		assert.Equal(t, tt.want, ingest.ParseMachine(tt.in, v), tt.in)
	}
}

func TestParseMachineTakesOutWhatItHasRun(t *testing.T) {
	v := words(t)
	m := ingest.ParseMachine("Halden Brisk 3 2019, 79,800 km", v)
	assert.Equal(t, kb.Machine{Make: "Halden", Model: "Brisk 3", Year: 2019, Odometer: &kb.Measure{Value: 79800, Unit: "km"}}, m)
	m = ingest.ParseMachine("Grauwick GT 115 2017, 3,890 h", v)
	assert.Equal(t, "GT 115", m.Model)
	require.NotNil(t, m.Hours)
	assert.Equal(t, 3890.0, *m.Hours)
}
