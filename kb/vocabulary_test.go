package kb_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/kb"
)

func vocabulary(t testing.TB) *kb.Vocabulary {
	t.Helper()
	v, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	return v
}

func TestBuiltinVocabularySize(t *testing.T) {
	v := vocabulary(t)
	assert.GreaterOrEqual(t, len(v.Components()), 400)
	assert.GreaterOrEqual(t, len(v.Methods()), 80)
	assert.GreaterOrEqual(t, len(v.Symptoms()), 200)
}

func TestEveryActionHasVerbs(t *testing.T) {
	v := vocabulary(t)
	terms := v.ActionTerms()
	require.Len(t, terms, len(kb.Actions()))
	for i, action := range kb.Actions() {
		assert.Equal(t, action, terms[i].Action)
		assert.NotEmpty(t, terms[i].Verbs, action)
		for _, verb := range terms[i].Verbs {
			found, ok := v.Action(verb)
			assert.True(t, ok, verb)
			assert.Equal(t, action, found, verb)
		}
	}
}

// Every term of every item leads back to that item or, where machines of another family use the word for another item, to
// that one; the preferred name always leads to its own.
func TestTermsLeadBack(t *testing.T) {
	v := vocabulary(t)
	for _, c := range v.Components() {
		assert.Equal(t, c.Name, v.CanonicalComponent(c.Name))
		assert.Equal(t, kb.Fold(c.Name), c.Name)
		for _, term := range slices.Concat(c.Synonyms, c.Abbr) {
			if len(c.Families) == 0 {
				assert.Equal(t, c.Name, v.CanonicalComponent(term), term)
				continue
			}
			found, ok := v.ComponentFor(term, c.Families[0])
			assert.True(t, ok, term)
			assert.Equal(t, c.Name, found.Name, term)
		}
	}
	for _, m := range v.Methods() {
		for _, term := range slices.Concat([]string{m.Name}, m.Synonyms, m.Cues) {
			assert.Equal(t, m.Name, v.CanonicalMethod(term), term)
		}
	}
	for _, s := range v.Symptoms() {
		for _, term := range append([]string{s.Name}, s.Synonyms...) {
			assert.Equal(t, s.Name, v.CanonicalSymptom(term), term)
		}
		for _, phrase := range s.Absent {
			assert.Contains(t, v.Denies(phrase), s.Name)
		}
	}
	for _, k := range v.MachineKinds() {
		for _, term := range append([]string{k.Name}, k.Synonyms...) {
			found, ok := v.MachineKind(term)
			assert.True(t, ok, term)
			assert.Equal(t, k.Name, found.Name, term)
		}
	}
}

// Abbreviations of SAE J1930, from memory.
func TestJ1930Abbreviations(t *testing.T) {
	v := vocabulary(t)
	for abbr, name := range map[string]string{
		"MAF": "mass air flow sensor", "MAP": "manifold absolute pressure sensor", "IAT": "intake air temperature sensor",
		"ECT": "coolant temperature sensor", "CKP": "crankshaft position sensor", "CMP": "camshaft position sensor",
		"TP": "throttle position sensor", "HO2S": "oxygen sensor", "IAC": "idle air control valve", "KS": "knock sensor",
		"ECM": "engine control module", "PCM": "engine control module", "TCM": "transmission control module",
		"VSS": "vehicle speed sensor", "DLC": "diagnostic connector", "MIL": "malfunction indicator lamp",
		"PCV": "pcv valve", "EGR": "egr valve", "TWC": "catalytic converter", "ICM": "ignition module",
		"BARO": "barometric pressure sensor", "TCC": "torque converter clutch", "EVAP": "evap system", "GEN": "alternator",
		"CAC": "charge air cooler", "APP": "accelerator pedal position sensor",
	} {
		c, ok := v.Component(abbr)
		require.True(t, ok, abbr)
		assert.Equal(t, name, c.Name, abbr)
		assert.Contains(t, c.Abbr, abbr)
	}
}

// Words of the trade, common practice.
func TestCanonicalComponent(t *testing.T) {
	v := vocabulary(t)
	for term, want := range map[string]string{
		"maf": "mass air flow sensor", "cat": "catalytic converter", "lambda probe": "oxygen sensor",
		"O2 sensors": "oxygen sensor", "hpfp": "high pressure fuel pump", "coolant temp sensor": "coolant temperature sensor",
		"main board": "control board", "micro-switch": "microswitch", "DC/DC converter": "dc dc converter",
		"left front wheel speed sensor": "wheel speed sensor", "bank 1 o2 sensor": "oxygen sensor",
		"cylinder 2 spark plug": "spark plug", "#3 intake gasket": "intake manifold gasket",
		"a new lift pump": "lift pump", "fuse 14": "fuse", "relay K7": "relay", "12V battery": "12 v battery",
		"left flux capacitors": "left flux capacitor", // not known: own identity, position kept
	} {
		assert.Equal(t, want, v.CanonicalComponent(term), term)
	}
}

func TestComponentForSettlesTermsByFamily(t *testing.T) {
	v := vocabulary(t)
	for family, want := range map[string]string{"road": "engine thermostat", "domestic": "thermostat", "heating": "thermostat"} {
		assert.Equal(t, want, v.CanonicalComponentFor("thermostat", family), family)
	}
}

func TestCanonicalMethodFindsTheLongestTerm(t *testing.T) {
	v := vocabulary(t)
	for term, want := range map[string]string{
		"ohmed out": "resistance measurement", "swapped with a known good": "swap with known good",
		"supply voltage at plug after repair":        "supply voltage",
		"insulation resistance to chassis, at 500 V": "insulation resistance test",
		"Jumpered it for test":                       "bridging", "reading of the tea leaf": "reading of tea leaf",
	} {
		assert.Equal(t, want, v.CanonicalMethod(term), term)
	}
}

func TestAction(t *testing.T) {
	v := vocabulary(t)
	for verb, want := range map[string]kb.Action{
		"R&R": kb.Replace, "REMOVED & REPLACED": kb.Replace, "swapped in": kb.Replace, "fitted a new": kb.Replace,
		"bunged in": kb.Replace, "put in a": kb.Replace, "threw a at it": kb.Replace, "resoldered": kb.Repair,
		"re-crimped": kb.Repair, "patched": kb.Repair, "welded": kb.Repair, "reseated": kb.Refit, "topped up": kb.Service,
		"flushed": kb.Service, "flashed": kb.Reprogram, "updated the firmware": kb.Reprogram, "bridged": kb.Bypass,
		"jumpered": kb.Bypass, "tightened": kb.Adjust, "torqued": kb.Adjust, "cleaned": kb.Clean,
	} {
		got, ok := v.Action(verb)
		assert.True(t, ok, verb)
		assert.Equal(t, want, got, verb)
	}
	_, ok := v.Action("contemplated")
	assert.False(t, ok)
}

func TestDenies(t *testing.T) {
	v := vocabulary(t)
	assert.Contains(t, v.Denies("Starts fine"), "no start")
	assert.Contains(t, v.Denies("no hesitation"), "hesitation")
	assert.Empty(t, v.Denies("the cat sat on the mat"))
}

func TestCodeTerm(t *testing.T) {
	v := vocabulary(t)

	isolation, ok := v.CodeTerm("P0AA6-1A") // meaning: SAE J2012 as several public tables give it
	require.True(t, ok)
	assert.Contains(t, isolation.Meaning, "insulation")
	assert.False(t, isolation.Consequence)

	for code, tied := range map[string]string{"U0155": "can bus", "U0100": "engine control module", "P0562": "supply voltage"} {
		term, ok := v.CodeTerm(code)
		require.True(t, ok, code)
		assert.True(t, term.Consequence, code)
		assert.Contains(t, term.Components, tied, code)
	}
	nox, ok := v.CodeTerm("SPN 3226 FMI 4")
	require.True(t, ok)
	assert.Contains(t, nox.Components, "outlet nox sensor")
	_, ok = v.CodeTerm("E47")
	assert.False(t, ok)
}

// The limits of high voltage are those of UN ECE R100: above 60 V DC or 30 V AC.
func TestHighVoltageCautionNamesItsLimits(t *testing.T) {
	h, ok := vocabulary(t).Hazard("high voltage")
	require.True(t, ok)
	assert.Contains(t, h.Text, "60 V DC")
	assert.Contains(t, h.Text, "30 V AC")
	assert.Contains(t, h.Source, "R100")
	assert.Equal(t, "hv", h.Licensed)
}

func TestPhrases(t *testing.T) {
	v := vocabulary(t)
	phrases := v.Phrases()
	require.NotEmpty(t, phrases)
	assert.Equal(t, phrases, vocabulary(t).Phrases(), "the order depends on the data only")
	kinds := map[kb.TermKind]int{}
	for i, p := range phrases {
		kinds[p.Kind]++
		require.NotEmpty(t, p.Words, p.Written)
		assert.NotContains(t, p.Words, "the", p.Written)
		if i > 0 {
			assert.LessOrEqual(t, slices.Compare(phrases[i-1].Words, p.Words), 0, p.Written)
		}
	}
	for _, kind := range []kb.TermKind{kb.TermComponent, kb.TermMethod, kb.TermSymptom, kb.TermAction, kb.TermMachine} {
		assert.Positive(t, kinds[kind], kind)
	}
	at := slices.IndexFunc(phrases, func(p kb.Phrase) bool { return p.Written == "HO2S" })
	require.GreaterOrEqual(t, at, 0)
	assert.True(t, phrases[at].Abbr)
	assert.Equal(t, "oxygen sensor", phrases[at].Name)
}

func TestEveryMethodHasTime(t *testing.T) {
	for _, m := range vocabulary(t).Methods() {
		assert.Positive(t, m.Minutes, m.Name)
		assert.Contains(t, kb.MethodKinds(), m.Kind, m.Name)
	}
}

func TestMeaningsNameTheirSource(t *testing.T) {
	v := vocabulary(t)
	for _, code := range []string{"P0AA6", "P0A80", "P0A93", "P0A94", "U0100", "P0300", "P0420", "P0700"} {
		term, ok := v.CodeTerm(code)
		require.True(t, ok, code)
		assert.True(t, strings.HasPrefix(term.Source, "SAE J2012"), code)
	}
}

func BenchmarkBuiltinVocabulary(b *testing.B) {
	for b.Loop() {
		vocabulary(b)
	}
}
