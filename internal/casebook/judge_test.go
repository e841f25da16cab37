package casebook_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/kb/limit"
)

func judge(t *testing.T, q casebook.JudgeQuestion) kb.Judgement {
	t.Helper()
	voc, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	j, err := casebook.Judge(q, voc)
	require.NoError(t, err)
	return j
}

// UN R100, 5.1.3: 400 V asks for 40 kohm (DC buses) or 200 kohm (AC and connected ones), by topology.
func TestJudgeAgainstThePublishedInsulation(t *testing.T) {
	j := judge(t, casebook.JudgeQuestion{Words: "insulation 38 kohm", Limit: "400 V pack", Accuracy: "1 %"})
	require.Len(t, j.Verdicts, 2)
	assert.Equal(t, 40.0, *j.Verdicts[0].Low)
	assert.Equal(t, string(limit.Exceeds), j.Verdicts[0].Decision)
	assert.Equal(t, 200.0, *j.Verdicts[1].Low)
	assert.Contains(t, strings.Join(j.Notes, " "), "several limits may apply")
	require.NotEmpty(t, j.Cautions)
	assert.Equal(t, "high voltage", j.Cautions[0].Hazard)
	assert.Contains(t, j.Cautions[0].Text, "class 00", "750 V DC cover a 400 V pack (ASTM D120, IEC 60903)")
	j = judge(t, casebook.JudgeQuestion{Words: "insulation 38 kohm", Limit: "400 V pack DC"})
	require.Len(t, j.Verdicts, 1)
	assert.Equal(t, string(limit.Undecided), j.Verdicts[0].Decision, "5 % below with an accuracy of 1 % and two digits")
	assert.True(t, j.Verdicts[0].Assumed)
	j = judge(t, casebook.JudgeQuestion{Words: "insulation 38 kohm", Limit: "800 V pack DC"})
	assert.Contains(t, j.Cautions[0].Text, "class 0 at least")
}

// The high-voltage caution is raised by the reading itself: above 60 V DC or 30 V AC (UN R100, 2.17).
func TestTheReadingRaisesTheCaution(t *testing.T) {
	for words, raised := range map[string]bool{
		"voltage at connector 380 V": true, "voltage at connector 48 V": false, "voltage at connector 61 V": true, "voltage at connector 48 V AC": true, "voltage at connector 24 V AC": false,
	} {
		j := judge(t, casebook.JudgeQuestion{Words: words})
		found := false
		for _, c := range j.Cautions {
			found = found || c.Hazard == "high voltage"
		}
		assert.Equal(t, raised, found, words)
	}
}

func TestJudgeReadsWhatPeopleWrite(t *testing.T) {
	for _, tc := range []struct{ words, limit, component, decision string }{
		{"resistance of flow switch OL", "max 2 ohm", "flow switch", "does not conform"},
		{"coil resistance of heater relay = 84R", "75-95 ohm", "heater relay", "conforms"},
		{"hv isolation resistance >20M", "min 1 Mohm", "isolation resistance", "conforms"},
		{"insulation 22 Mohm", "min 1 Mohm", "insulation resistance", "conforms"},
		{"lambda 1.00", "lambda", "", "conforms"},
		{"supply voltage 12,4 V", "12 to 15 V, key on", "", "conforms"},
		{"pt100 109.7 ohm", "pt100 at 25 °C", "", "cannot tell"},
		{"sensor 4k7", "ntc 10 kohm beta 3950 at 43 °C ± 15 %", "", "conforms"},
		{"sensor 1.3 kohm", "table 0 °C 5.8 kohm, 20 °C 2.5 kohm, 80 °C 0.32 kohm at 38 °C ± 25 %", "", "conforms"},
	} {
		t.Run(tc.words, func(t *testing.T) {
			j := judge(t, casebook.JudgeQuestion{Words: tc.words, Limit: tc.limit})
			require.Len(t, j.Verdicts, 1)
			assert.Equal(t, tc.decision, j.Verdicts[0].Decision)
			if tc.component != "" {
				assert.Equal(t, tc.component, j.Understood.Component)
			}
		})
	}
}

func TestJudgeRefusesWhatItCannotRead(t *testing.T) {
	voc, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	for _, tc := range []struct{ words, limit, accuracy, message string }{
		{"4.7 bananas", "", "", `"bananas" is no unit`},
		{"1e999 V", "", "", "out of range"},
		{"12 V and 5 A", "", "", "want one quantity, there are 2"},
		{"insulation", "", "", "want a number"},
		{"voltage 12 V", "pack", "", "is a limit of resistance"},
		{"insulation 38 kohm", "pack", "", "want the working voltage"},
		{"insulation 38 kohm", "nonsense", "", "no published limit"},
		{"voltage 12 V", "max 5 A", "", "the limit is one of current"},
		{"voltage 12 V", "max 15 V", "good", "want a share of the reading"},
		{"sensor 1 kohm", "table 0 °C 5.8 kohm, 20 °C 2.5 kohm at 90 °C", "", "outside the table"},
		{"sensor 1 kohm", "table 0 °C 5.8 kohm, 20 °C 2.5 V at 10 °C", "", "want values in kohm"},
	} {
		_, err := casebook.Judge(casebook.JudgeQuestion{Words: tc.words, Limit: tc.limit, Accuracy: tc.accuracy}, voc)
		require.ErrorContains(t, err, tc.message, tc.words)
		assert.Equal(t, kb.Invalid, kb.KindOf(err))
	}
}

// Without a limit the published one is taken where it plainly applies, in an answer as well, and is told apart from the record's own.
func TestThePublishedLimitIsTakenUnasked(t *testing.T) {
	b := open(t, t.TempDir())
	_, err := b.Import(t.Context(), vera, records(
		closedRecord("r1", "heater relay"),
		`{"v":1,"id":"bus","machine":{"kind":"van","make":"Halden","model":"Brisk 3"},"codes":["U0100"],"tests":[{"step":1,"test":"bus resistance","method":"bus resistance measurement","component":"can bus","reading":{"value":120,"unit":"ohm"}}],"fixes":[{"step":2,"action":"repair","component":"can bus wiring","outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"verified"}`,
	), casebook.ImportOptions{})
	require.NoError(t, err)
	v, err := b.Show(t.Context(), "bus")
	require.NoError(t, err)
	require.NotNil(t, v.Case.Tests[0].Reading.Limit)
	assert.Contains(t, v.Case.Tests[0].Reading.Limit.Source, "ISO 11898-2")
	verdict, ok := v.Case.Tests[0].Reading.Judge()
	require.True(t, ok)
	assert.Equal(t, limit.Exceeds, verdict.Decision)
	q, err := b.Understand(casebook.Question{Words: "U0100", Readings: []string{"bus resistance measurement of can bus = 60 ohm"}})
	require.NoError(t, err)
	a, err := b.Ask(t.Context(), q)
	require.NoError(t, err)
	require.NotNil(t, a.Understood.Tests[0].Reading.Limit)
	j, err := b.Judge(t.Context(), casebook.JudgeQuestion{Words: "bus resistance measurement of can bus 60 ohm"})
	require.NoError(t, err)
	require.Len(t, j.Verdicts, 1)
	assert.Equal(t, string(limit.Conforms), j.Verdicts[0].Decision)
	require.NotNil(t, j.Measured)
	assert.Equal(t, kb.CaseID("bus"), j.Measured.Groups[0].Points[0].Case)
}

// A limit that goes with the reading in a question judges it.
func TestAReadingWithItsLimitInAQuestion(t *testing.T) {
	b := open(t, t.TempDir())
	q, err := b.Understand(casebook.Question{Words: "P1B77", Readings: []string{"coil resistance of heater relay = 84 ohm limit 75 to 95 ohm"}})
	require.NoError(t, err)
	p, ok := q.Tests[0].Conformity()
	require.True(t, ok)
	assert.Greater(t, p, limit.Sure)
	_, err = b.Understand(casebook.Question{Words: "P1B77", Readings: []string{"insulation of traction battery = 84 kohm limit 400 V pack"}})
	require.ErrorContains(t, err, "say which")
}

// Every published limit names components and hazards of the vocabulary, so that it can be found by them.
func TestPublishedLimitsAreInTheVocabulary(t *testing.T) {
	voc, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	for _, p := range limit.All() {
		for _, c := range p.Components {
			got, ok := voc.Component(c)
			assert.True(t, ok && got.Name == c, "%s: %q is no preferred name", p.Name, c)
		}
		for _, h := range p.Hazards {
			_, ok := voc.Hazard(h)
			assert.True(t, ok, "%s: %q", p.Name, h)
		}
	}
}

// The readings of an open case come beside what others measured in the same test, in the unit of the reading, and never beside the case's own.
func TestMeasuredBesideOnesOwn(t *testing.T) {
	b := open(t, t.TempDir())
	line := func(id, ohms, culprit string) string {
		return `{"v":1,"id":"` + id + `","machine":{"kind":"van","make":"Halden","model":"Brisk 3"},"codes":["P1B77"],"tests":[{"step":1,"test":"coil resistance","component":"heater relay","result":"pass","reading":` +
			ohms + `}],"fixes":[{"step":2,"action":"replace","component":"` + culprit + `","outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"verified"}`
	}
	_, err := b.Import(t.Context(), vera, records(line("good1", `{"value":84,"unit":"ohm"}`, "heater fuse"), line("good2", `{"value":0.09,"unit":"kohm"}`, "heater fuse"),
		line("bad", `{"bound":"open"}`, "heater relay")), casebook.ImportOptions{})
	require.NoError(t, err)
	q, err := b.Understand(casebook.Question{Words: "P1B77", Machine: "Halden Brisk 3", Readings: []string{"coil resistance of heater relay = 300 ohm", "voltage of heater relay = 12 V"},
		Passed: []string{"wiggle test of heater wiring harness"}})
	require.NoError(t, err)
	own, err := b.Measured(t.Context(), q)
	require.NoError(t, err)
	require.Len(t, own, 1, "nobody measured the voltage")
	assert.Equal(t, 300.0, *own[0].Test.Reading.Value)
	m := own[0].Measured
	assert.Equal(t, "ohm", m.Unit)
	require.Len(t, m.Groups, 2)
	assert.Equal(t, kb.MeasuredFaulty, m.Groups[0].Group)
	assert.Equal(t, 1, m.Groups[0].Open)
	require.Len(t, m.Groups[1].Points, 2)
	assert.InDelta(t, 90, *m.Groups[1].Points[1].Value, 1e-9)
	assert.Equal(t, "model", m.Groups[1].Points[0].Near)

	q.ID = "good1"
	own, err = b.Measured(t.Context(), q)
	require.NoError(t, err)
	require.Len(t, own[0].Measured.Groups[1].Points, 1, "a case never counts itself")
	none, err := b.Measured(t.Context(), kb.Case{V: kb.Version, Status: kb.Open})
	require.NoError(t, err)
	assert.Empty(t, none)
}
