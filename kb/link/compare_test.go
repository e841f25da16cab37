package link_test

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/kb"
	"ruledout/kb/link"
)

func seconds(f func()) float64 {
	begin := time.Now()
	f()
	return time.Since(begin).Seconds()
}

// told makes a case from JSON over one that is told in full.
func told(t *testing.T, id, over string) kb.Case {
	t.Helper()
	c := kb.Case{ID: kb.CaseID(id), Title: "Misfire at idle when cold", Reporter: "ann", Machine: kb.Machine{Make: "Halden", Model: "Brisk 3", Year: 2019, Odometer: &kb.Measure{Value: 81200, Unit: "km"}},
		Codes: []kb.CodeEntry{{Code: "P0300"}}, Fixes: []kb.Fix{{Action: kb.Replace, Component: "injector", Outcome: kb.Fixed}}, Status: kb.Closed, ClosedAs: kb.Repaired,
		Sources: []kb.Source{{Writeup: kb.WriteupKey("w" + id), Posted: "2024-03-01"}}}
	require.NoError(t, json.Unmarshal([]byte("{"+over+"}"), &c))
	return c
}

// among gives the records of two cases in a book of thirty others, who say nothing of what these two say.
func among(k *link.Maker, a, b kb.Case) (x, y *link.Record) {
	records := []link.Record{k.Record(&a), k.Record(&b)}
	for i := range 30 {
		records = append(records, k.Record(&kb.Case{ID: kb.CaseID(fmt.Sprint("other", i))}))
	}
	link.Weigh(records)
	return &records[0], &records[1]
}

// levels gives the level of each told field of a pair in words.
func levels(k *link.Maker, a, b kb.Case) map[string]string {
	x, y := among(k, a, b)
	out := map[string]string{}
	for _, w := range link.Start().Explain(link.Compare(x, y)) {
		out[w.Field] = w.Level
	}
	return out
}

func TestLevels(t *testing.T) {
	k := maker(t)
	for _, c := range []struct{ name, a, b, field, want string }{
		{"a code spelled otherwise", ``, `"codes":["p0300"]`, "code", "the same"},
		{"another subtype", `"codes":["P0300-13"]`, `"codes":["P0300-11"]`, "code", "some in common"},
		{"one code more", ``, `"codes":["P0300","P0171"]`, "code", "some in common"},
		{"the next code", ``, `"codes":["P0302"]`, "code", "of one family"},
		{"no code told", ``, `"codes":[]`, "code", ""},
		{"a model spelled otherwise", ``, `"machine":{"make":"HALDEN","model":"Brisk3"}`, "machine", "the same model"},
		{"a number decides", ``, `"machine":{"make":"Halden","model":"Brisk 4"}`, "machine", "different"},
		{"the make alone", ``, `"machine":{"make":"Halden","model":""}`, "machine", "alike or less told"},
		{"a slip", ``, `"machine":{"make":"Haldn","model":"Brisk 3"}`, "machine", "alike or less told"},
		{"another make", ``, `"machine":{"make":"Torvel","model":"Brisk 3"}`, "machine", "different"},
		{"the next year", ``, `"machine":{"year":2020}`, "year and variant", "nearly the same"},
		{"in miles", ``, `"machine":{"odometer":{"value":50455,"unit":"mi"}}`, "odometer or hours", "the same"},
		{"rounded", ``, `"machine":{"odometer":{"value":81000,"unit":"km"}}`, "odometer or hours", "the same when rounded"},
		{"rounded in miles", ``, `"machine":{"odometer":{"value":50000,"unit":"mi"}}`, "odometer or hours", "the same when rounded"},
		{"two months on", ``, `"machine":{"odometer":{"value":84900,"unit":"km"}}`, "odometer or hours", "different"},
		{"hours are no kilometres", ``, `"machine":{"odometer":null,"hours":81200}`, "odometer or hours", ""},
		{"a week later", ``, `"sources":[{"posted":"2024-03-08"}]`, "date", "within a week"},
		{"the same teller after a year", ``, `"title":"It started to shake at traffic lights","sources":[{"posted":"2025-03-01"}],"machine":{"odometer":null}`, "date", "one teller, another time"},
		{"posted again in the same words", ``, `"sources":[{"posted":"2025-03-01"}]`, "date", "within a year"},
		{"another teller after a year", ``, `"reporter":"bob","title":"shakes","sources":[{"posted":"2026-03-01"}]`, "date", "years apart"},
		{"a name spelled otherwise", `"reporter":"quillfeather"`, `"reporter":"Quill_Feather"`, "teller", "the same"},
		{"a name with a number", `"reporter":"quillfeather2"`, `"reporter":"quillfeather3"`, "teller", "different"},
		{"another action", ``, `"fixes":[{"action":"clean","component":"injector","outcome":"fixed"}]`, "culprit and action", "the same culprit"},
		{"a synonym and a place", ``, `"fixes":[{"action":"replace","component":"#3 fuel injector","outcome":"fixed"}]`, "culprit and action", "the same"},
		{"another culprit", ``, `"fixes":[{"action":"replace","component":"door seal","outcome":"fixed"}]`, "culprit and action", "different"},
		{"another culprit that the text names", `"title":"Not the door seal"`, `"fixes":[{"action":"replace","component":"door seal","outcome":"fixed"}]`, "culprit and action", "named by the other"},
		{"the engine named with the model", ``, `"machine":{"make":"Halden","model":"Brisk 3 2.2"}`, "machine", "alike or less told"},
		{"a machine that only the text names", `"machine":{"make":"","model":""},"title":"My Brisk 3 stutters"`, ``, "machine", "alike or less told"},
		{"a little further on", ``, `"machine":{"odometer":{"value":81660,"unit":"km"}}`, "odometer or hours", "a little different"},
		{"an odometer that only the text names", `"machine":{"odometer":null},"title":"Misfire at 81,000 km"`, ``, "odometer or hours", "the same when rounded"},
		{"another place", `"symptoms":["misfire on cylinder 2"]`, `"symptoms":["misfire on cylinder 4"]`, "place", "different"},
		{"the place of the cure goes first", `"fixes":[{"action":"replace","component":"injector 2","outcome":"fixed"}],"symptoms":["misfire on cylinder 4"]`,
			`"fixes":[{"action":"replace","component":"injector 4","outcome":"fixed"}]`, "place", "different"},
		{"readings", `"tests":[{"test":"resistance","component":"injector","reading":{"value":14.2,"unit":"ohm"}}]`, `"tests":[{"test":"resistance","component":"injector","reading":{"value":14.2,"unit":"ohm"}}]`, "readings", "some in common"},
		{"readings in other units", `"tests":[{"test":"resistance","component":"injector","reading":{"value":1420,"unit":"ohm"}}]`, `"tests":[{"test":"resistance","component":"injector","reading":{"value":1.42,"unit":"kohm"}}]`, "readings", "some in common"},
		{"another reading of one test", `"tests":[{"test":"resistance","component":"injector","reading":{"value":14.2,"unit":"ohm"}}]`, `"tests":[{"test":"resistance","component":"injector","reading":{"value":9,"unit":"ohm"}}]`, "readings", "different in one test"},
		{"the same words", `"title":"Shakes and stalls every morning until warmed through, then drives smoothly again on the motorway"`, `"title":"Shakes and stalls every morning until warmed through, then drives smoothly again on the motorway"`, "words", "word for word"},
		{"other words", `"title":"Shakes and stalls every morning until warmed through, then drives smoothly again on the motorway"`, `"title":"Misfire at idle speed while cold, smells of petrol, exhaust pops twice after starting uphill"`, "words", "different"},
		{"too few words", ``, ``, "words", ""},
		{"the make left out", ``, `"machine":{"make":"Brisk","model":"3"}`, "machine", "alike or less told"},
	} {
		a, b := told(t, "a", c.a), told(t, "b", c.b)
		assert.Equal(t, c.want, levels(k, a, b)[c.field], c.name)
		assert.Equal(t, c.want, levels(k, b, a)[c.field], c.name+", the other way")
	}
}

// However alike two repairs are told, numbers and places part them; and what is told twice in every respect is one.
func TestNumbersAndPlacesDecide(t *testing.T) {
	k := maker(t)
	l := link.NewLinker(link.Start(), link.DefaultErrors())
	verdict := func(a, b kb.Case) link.Scored {
		x, y := among(k, a, b)
		return l.Score(x, y, link.Compare(x, y))
	}
	full := `"tests":[{"test":"resistance","component":"injector","result":"fail","reading":{"value":14.2,"unit":"ohm"}},{"test":"compression","component":"engine","result":"pass","reading":{"value":11,"unit":"bar"}}],`
	base := told(t, "a", full+`"symptoms":["misfire on cylinder 2"]`)
	assert.Equal(t, link.Duplicate, verdict(base, told(t, "b", full+`"symptoms":["misfire on cylinder 2"]`)).Verdict)
	for name, over := range map[string]string{
		"another cylinder":             `"symptoms":["misfire on cylinder 4"]`,
		"another odometer":             `"symptoms":["misfire on cylinder 2"],"machine":{"odometer":{"value":99000,"unit":"km"}}`,
		"another odometer, a year on":  `"symptoms":["misfire on cylinder 2"],"machine":{"odometer":{"value":99000,"unit":"km"}},"sources":[{"posted":"2025-03-01"}]`,
		"a year on, in other words":    `"title":"Again it shakes","symptoms":["shaking on cylinder 2"],"machine":{"odometer":null},"sources":[{"posted":"2025-03-01"}]`,
		"another cylinder of the cure": `"fixes":[{"action":"replace","component":"injector 4","outcome":"fixed"}],"symptoms":["misfire on cylinder 4"]`,
	} {
		got := verdict(base, told(t, "b", full+over))
		assert.Equal(t, link.Apart, got.Verdict, "%s: %.3f %+v", name, got.Probability, got.Weights)
	}
}

// A score names the lesser id first, whichever record comes first.
func TestScoresAreOrderedById(t *testing.T) {
	k := maker(t)
	a, b := told(t, "a", ""), told(t, "b", `"title":"Shakes"`)
	x, y := k.Record(&a), k.Record(&b)
	l := link.NewLinker(link.Start(), link.DefaultErrors())
	one, other := l.Score(&x, &y, link.Compare(&x, &y)), l.Score(&y, &x, link.Compare(&y, &x))
	assert.Equal(t, one, other)
	assert.Equal(t, kb.CaseID("a"), one.A)
}
