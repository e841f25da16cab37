package kb_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb"
)

// full is a record with every field of version 1.
const full = `{"v":1,"id":"c1","title":"Heater blows cold, P1B77","reporter":"quillfeather","contributor":"anna","full_form":true,` +
	`"machine":{"kind":"van","make":"Halden","model":"Brisk 3","year":2019,"variant":"long wheelbase","odometer":{"value":81200,"unit":"km"},"hours":12.5,"cycles":3,` +
	`"vin":{"region":"Europe","model_year":2019,"check":"not used"},"evidence":[{"writeup":"w","post":1,"start":0,"end":6,"quote":"Halden"}],"confidence":0.9},` +
	`"codes":["P0420",{"code":"P1B77-13","scheme":"obd","issuer":"halden","status":"stored","set_again":true,"confidence":0.8}],` +
	`"symptoms":["no cabin heat",{"symptom":"12 V warning","present":false,"conditions":["cold"]}],` +
	`"tests":[{"step":1,"test":"coil resistance","method":"resistance","where":"bench","component":"heater relay","result":"pass","reading":{"value":84,"upper":86,"unit":"ohm","text":"84-86 ohm","bound":"=","accuracy":"1 %","limit":{"low":80,"high":90,"unit":"ohm","source":"book"}},"minutes":10},` +
	`{"step":1,"test":"continuity","component":"fuse","result":"fail","reading":{"text":"OL","bound":"open"}}],` +
	`"fixes":[{"step":2,"action":"replace","component":"heater fuse","outcome":"no change"},` +
	`{"step":3,"action":"repair","component":"heater wiring harness","outcome":"fixed","minutes":90,"part":{"number":"89661-47260","origin":"new","needs_coding":false},"parts_cost":{"amount":"12.50","currency":"EUR"}}],` +
	`"status":"closed","closed_as":"repaired","confirmation":"verified","status_evidence":[{"writeup":"w","post":2,"start":4,"end":8,"quote":"held"}],"state":"published",` +
	`"sources":[{"writeup":"w","kind":"thread","title":"t","url":"https://brisk.example/1","posted":"2024-03-01","licence":"CC BY 4.0","trusted":true}],` +
	`"follow_ups":[{"date":"2024-09-01","held":true,"odometer":{"value":92000,"unit":"km"},"note":"fine"}],` +
	`"doubts":[{"about":"fixes[0].outcome","question":"Which one did it?"}],"ext":{"x":{"y":[1,2]}}}`

func TestEncodeDecodeIsIdentity(t *testing.T) {
	c, err := kb.DecodeCase([]byte(full))
	require.NoError(t, err)
	require.NoError(t, c.CheckRecord())
	out, err := kb.EncodeCase(c)
	require.NoError(t, err)
	assert.JSONEq(t, full, string(out))
	again, err := kb.DecodeCase(out)
	require.NoError(t, err)
	assert.Equal(t, c, again)
}

func TestDecodeNamesTheField(t *testing.T) {
	tests := map[string]struct{ in, field, msg string }{
		"unknown field":            {`{"v":1,"colour":"red"}`, "colour", "not known"},
		"unknown field in a code":  {`{"v":1,"codes":[{"code":"P0420","colour":1}]}`, "codes.colour", "not known"},
		"unknown field in symptom": {`{"v":1,"symptoms":[{"symptom":"x","colour":1}]}`, "symptoms.colour", "not known"},
		"wrong type":               {`{"v":1,"machine":{"year":"old"}}`, "machine.year", "string"},
		"no version":               {`{"id":"x"}`, "v", "missing"},
		"other version":            {`{"v":2}`, "v", "version 2"},
		"broken":                   {`{"v":1,`, "", "ends too early"},
		"no JSON":                  {`hello`, "", "not JSON"},
		"two records":              {`{"v":1}{"v":1}`, "", "one JSON object a line"},
	}
	for name, tc := range tests {
		t.Run(name, func(t *testing.T) {
			_, err := kb.DecodeCase([]byte(tc.in))
			require.Error(t, err)
			var e *kb.Error
			require.ErrorAs(t, err, &e)
			assert.Equal(t, kb.Invalid, e.Kind)
			assert.Equal(t, tc.field, e.Field)
			assert.Contains(t, e.Msg, tc.msg)
		})
	}
}

func TestRecordsGoesOnAfterABadLine(t *testing.T) {
	in := "\xef\xbb\xbf{\"v\":1,\"id\":\"a\"}\n\n{\"v\":1,\"id\":\"b\",\"bad\":1}\n{\"v\":1,\"id\":\"c\"}\n"
	var got []string
	for line, err := range kb.Records(strings.NewReader(in), "f.jsonl") {
		got = append(got, fmt.Sprintf("%d %s %v", line.N, line.ID, err))
	}
	assert.Equal(t, []string{"1 a <nil>", `3 b f.jsonl:3: bad: this field is not known in a case record`, "4 c <nil>"}, got)
}

func TestValidateRefuses(t *testing.T) {
	tests := map[string]struct{ in, field string }{
		"status":             {`{"v":1,"status":"done"}`, "status"},
		"open but closed as": {`{"v":1,"status":"open","closed_as":"repaired"}`, "closed_as"},
		"closed, no reason":  {`{"v":1,"status":"closed"}`, "closed_as"},
		"year":               {`{"v":1,"machine":{"year":20190}}`, "machine.year"},
		"code":               {`{"v":1,"codes":[""]}`, "codes[0].code"},
		"j1939 code":         {`{"v":1,"codes":[{"code":"SPN 999999999 FMI 4","scheme":"j1939"}]}`, "codes[0].code"},
		"symptom":            {`{"v":1,"symptoms":[" "]}`, "symptoms[0].symptom"},
		"test component":     {`{"v":1,"tests":[{"test":"x","component":"","result":"pass"}]}`, "tests[0].component"},
		"test result":        {`{"v":1,"tests":[{"test":"x","component":"y","result":"good"}]}`, "tests[0].result"},
		"nothing measured":   {`{"v":1,"tests":[{"test":"x","component":"y"}]}`, "tests[0].result"},
		"reading no value":   {`{"v":1,"tests":[{"test":"x","component":"y","reading":{"unit":"V"}}]}`, "tests[0].reading.value"},
		"open with value":    {`{"v":1,"tests":[{"test":"x","component":"y","reading":{"value":1,"bound":"open"}}]}`, "tests[0].reading.value"},
		"limit":              {`{"v":1,"tests":[{"test":"x","component":"y","reading":{"value":1,"limit":{"low":2,"high":1}}}]}`, "tests[0].reading.limit"},
		"action":             {`{"v":1,"fixes":[{"action":"swap","component":"y"}]}`, "fixes[0].action"},
		"no action":          {`{"v":1,"fixes":[{"component":"y"}]}`, "fixes[0].action"},
		"outcome":            {`{"v":1,"fixes":[{"action":"replace","component":"y","outcome":"good"}]}`, "fixes[0].outcome"},
		"bypass as cure":     {`{"v":1,"fixes":[{"action":"bypass","component":"y","outcome":"fixed"}]}`, "fixes[0].outcome"},
		"origin":             {`{"v":1,"fixes":[{"action":"replace","component":"y","part":{"origin":"stolen"}}]}`, "fixes[0].part.origin"},
		"amount":             {`{"v":1,"fixes":[{"action":"replace","component":"y","parts_cost":{"amount":"1,50","currency":"EUR"}}]}`, "fixes[0].parts_cost.amount"},
		"currency":           {`{"v":1,"fixes":[{"action":"replace","component":"y","parts_cost":{"amount":"1.50","currency":"euro"}}]}`, "fixes[0].parts_cost.currency"},
		"confidence":         {`{"v":1,"symptoms":[{"symptom":"x","confidence":1.5}]}`, "symptoms[0].confidence"},
		"span and quote":     {`{"v":1,"symptoms":[{"symptom":"x","evidence":[{"writeup":"w","post":1,"start":0,"end":4,"quote":"abc"}]}]}`, "symptoms[0].evidence[0].quote"},
		"post":               {`{"v":1,"symptoms":[{"symptom":"x","evidence":[{"writeup":"w","post":0,"start":0,"end":3,"quote":"abc"}]}]}`, "symptoms[0].evidence[0].post"},
		"date":               {`{"v":1,"follow_ups":[{"held":true,"date":"yesterday"}]}`, "follow_ups[0].date"},
	}
	for name, tc := range tests {
		t.Run(name, func(t *testing.T) {
			c, err := kb.DecodeCase([]byte(tc.in))
			require.NoError(t, err)
			problems := c.Validate()
			require.Len(t, problems, 1)
			assert.Equal(t, tc.field, problems[0].Field)
			assert.Equal(t, kb.Invalid, kb.KindOf(c.CheckRecord()))
		})
	}
}

// validator is a real JSON Schema implementation that the shipped schema is held against.
func validator(t *testing.T) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(string(kb.Schema())))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	require.NoError(t, c.AddResource("urn:ruledout:case:1", doc))
	s, err := c.Compile("urn:ruledout:case:1")
	require.NoError(t, err)
	return s
}

func TestSchemaAgreesWithTheDecoder(t *testing.T) {
	s := validator(t)
	check := func(in string) error {
		v, err := jsonschema.UnmarshalJSON(strings.NewReader(in))
		require.NoError(t, err)
		return s.Validate(v)
	}
	require.NoError(t, check(full))
	require.NoError(t, check(`{"v":1}`))
	refused := []string{
		`{"v":2}`, `{}`, `{"v":1,"colour":"red"}`, `{"v":1,"status":"closed"}`, `{"v":1,"status":"open","closed_as":"repaired"}`,
		`{"v":1,"tests":[{"test":"x","component":"y"}]}`, `{"v":1,"fixes":[{"action":"bypass","component":"y","outcome":"fixed"}]}`,
		`{"v":1,"tests":[{"test":"x","component":"y","reading":{"value":1,"bound":"open"}}]}`, `{"v":1,"codes":[{"code":"P0420","colour":1}]}`,
		`{"v":1,"fixes":[{"action":"swap","component":"y"}]}`, `{"v":1,"symptoms":[{"present":true}]}`,
	}
	for _, in := range refused {
		assert.Error(t, check(in), in)
		c, err := kb.DecodeCase([]byte(in))
		if err == nil {
			err = c.CheckRecord()
		}
		assert.Error(t, err, in)
	}
}

func caseGen() *rapid.Generator[kb.Case] {
	return rapid.Custom(func(t *rapid.T) kb.Case {
		word := rapid.StringMatching(`[a-z]{1,8}( [a-z]{1,8})?`)
		c := kb.Case{V: 1, Title: rapid.String().Draw(t, "title"), Reporter: word.Draw(t, "reporter"), Status: kb.Open, State: kb.Published}
		for range rapid.IntRange(0, 3).Draw(t, "symptoms") {
			c.Symptoms = append(c.Symptoms, kb.Symptom{Symptom: word.Draw(t, "s"), Absent: rapid.Bool().Draw(t, "absent")})
		}
		for i := range rapid.IntRange(0, 3).Draw(t, "tests") {
			x := rapid.Float64Range(-1e6, 1e6).Draw(t, "value")
			c.Tests = append(c.Tests, kb.Test{Step: i + 1, Test: word.Draw(t, "test"), Component: word.Draw(t, "component"),
				Result: rapid.SampledFrom(kb.Results()).Draw(t, "result"), Reading: &kb.Reading{Value: &x, Unit: "V"}})
		}
		for range rapid.IntRange(0, 2).Draw(t, "fixes") {
			c.Fixes = append(c.Fixes, kb.Fix{Action: rapid.SampledFrom(kb.Actions()).Draw(t, "action"), Component: word.Draw(t, "part"), Outcome: kb.NoChange})
		}
		return c
	})
}

func TestRoundTripLaw(t *testing.T) {
	s := validator(t)
	rapid.Check(t, func(t *rapid.T) {
		c := caseGen().Draw(t, "case")
		out, err := kb.EncodeCase(c)
		require.NoError(t, err)
		again, err := kb.DecodeCase(out)
		require.NoError(t, err)
		twice, err := kb.EncodeCase(again)
		require.NoError(t, err)
		require.Equal(t, string(out), string(twice))
		require.NoError(t, again.CheckRecord())
		v, err := jsonschema.UnmarshalJSON(strings.NewReader(string(out)))
		require.NoError(t, err)
		require.NoError(t, s.Validate(v))
	})
}

func TestWithID(t *testing.T) {
	a, err := kb.Case{Title: "x"}.WithID()
	require.NoError(t, err)
	b, err := kb.Case{Title: "y"}.WithID()
	require.NoError(t, err)
	assert.Regexp(t, `^c[0-9a-z]{12}$`, a.ID)
	assert.NotEqual(t, a.ID, b.ID)
	own, err := kb.Case{ID: "mine"}.WithID()
	require.NoError(t, err)
	assert.Equal(t, kb.CaseID("mine"), own.ID)
	assert.Equal(t, kb.ReadCaseID("w", " Quill ", 1), kb.ReadCaseID("w", "quill", 1))
	assert.NotEqual(t, kb.ReadCaseID("w", "quill", 1), kb.ReadCaseID("w", "quill", 2))
	assert.NotEqual(t, kb.ReadCaseID("wq", "uill", 1), kb.ReadCaseID("w", "quill", 1))
}

func FuzzDecodeCase(f *testing.F) {
	f.Add([]byte(full))
	f.Add([]byte(`{"v":1,"codes":["P0420",{"code":"E6"}]}`))
	f.Add([]byte(`{"v":1,"codes":[null],"symptoms":[1]}`))
	f.Fuzz(func(t *testing.T, in []byte) {
		c, err := kb.DecodeCase(in)
		if err != nil {
			assert.Equal(t, kb.Invalid, kb.KindOf(err))
			return
		}
		out, err := kb.EncodeCase(c)
		require.NoError(t, err)
		again, err := kb.DecodeCase(out)
		require.NoError(t, err, string(out))
		twice, err := kb.EncodeCase(again)
		require.NoError(t, err)
		assert.Equal(t, string(out), string(twice))
		assert.True(t, json.Valid(out))
	})
}
