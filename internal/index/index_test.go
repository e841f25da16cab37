package index_test

import (
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/index"
	"ruledout/kb"
)

// words is a small vocabulary of its own, so that these tests stand whatever the built-in one says.
const words = `
components:
  - system: engine
    items:
      - {name: mass air flow sensor, abbr: [MAF], also: [air mass meter]}
      - {name: heater relay}
symptoms:
  - systems: [engine]
    items:
      - {name: no start, also: [will not start], absent: [starts fine]}
actions:
  - {action: replace, verbs: [replace, replaced, swapped]}
kinds:
  - family: road vehicle
    items:
      - {name: van, also: [panel van]}
`

func vocabulary(t testing.TB, more ...string) *kb.Vocabulary {
	t.Helper()
	files := fstest.MapFS{"words.yaml": {Data: []byte(words)}}
	for _, text := range more {
		files["more.yaml"] = &fstest.MapFile{Data: []byte(text)}
	}
	voc, err := kb.ParseVocabulary(files)
	require.NoError(t, err)
	return voc
}

func open(t testing.TB, dir string) *index.Index {
	t.Helper()
	x, _, err := index.Open(dir, vocabulary(t))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, x.Close()) })
	return x
}

// filled gives an index that holds the documents.
func filled(t testing.TB, docs ...index.Doc) *index.Index {
	t.Helper()
	x := open(t, t.TempDir())
	require.NoError(t, x.Apply(t.Context(), docs, nil, int64(len(docs))))
	return x
}

func find(t testing.TB, x *index.Index, text string) []string {
	t.Helper()
	r, err := x.Search(t.Context(), index.Query{Text: text, Size: 100})
	require.NoError(t, err)
	ids := []string{}
	for _, h := range r.Hits {
		ids = append(ids, h.ID)
	}
	assert.Len(t, ids, r.Total)
	return ids
}

func TestWordsAndCodes(t *testing.T) {
	x := filled(t,
		index.Doc{ID: "hybrid", Title: "Battery fan, no start", Body: []string{"Found P0AA6-1A stored. Insulation of the HV loop is 0.5 ohm to body, pack at 12 V aux. Part 89661-47260 on CAN-H."}},
		index.Doc{ID: "truck", Title: "Derates", Body: []string{"It shows SPN 3226 FMI 4 on the dash."}},
		index.Doc{ID: "tractor", Title: "Derates too", Body: []string{"spn3226/4, then SPN 3226 FMI 13"}},
		index.Doc{ID: "boiler", Title: "Boiler lockout", Body: []string{"Lockout with the fan running"}, Codes: []string{"E-07"}},
		index.Doc{ID: "van", Title: "Stalls", Body: []string{"The mass air flow sensor was dirty; A/C works. The microswitch clicks."}},
		index.Doc{ID: "café", Title: "Espresso", Body: []string{"Le café n’est pas chaud, the thermostat's contacts"}},
	)
	for name, test := range map[string]struct {
		query string
		want  []string
	}{
		"a code without its failure type":  {"P0AA6", []string{"hybrid"}},
		"a code with it":                   {"p0aa6-1a", []string{"hybrid"}},
		"with another mark":                {"P0AA6:1A", []string{"hybrid"}},
		"with another failure type":        {"P0AA6-1B", []string{}},
		"half a code is none":              {"0AA6", []string{}},
		"SPN and FMI":                      {"SPN 3226 FMI 4", []string{"tractor", "truck"}},
		"SPN and FMI, short":               {"spn3226/4", []string{"tractor", "truck"}},
		"SPN and another FMI":              {"SPN:3226, FMI:13", []string{"tractor"}},
		"SPN alone":                        {"spn 3226", []string{"tractor", "truck"}},
		"a maker's code in other spelling": {"E7", []string{"boiler"}},
		"a value with its unit":            {"12V", []string{"hybrid"}},
		"another unit":                     {"12 A", []string{}},
		"the number alone":                 {"12", []string{"hybrid"}},
		"a decimal":                        {"0.5 ohms", []string{"hybrid"}},
		"a decimal comma":                  {"0,5 Ω", []string{"hybrid"}},
		"a part number":                    {"89661-47260", []string{"hybrid"}},
		"a part number written in one":     {"8966147260", []string{"hybrid"}},
		"the first half of a part number":  {"89661", []string{"hybrid"}},
		"an abbreviation with a mark":      {"can-h", []string{"hybrid"}},
		"A/C":                              {"AC", []string{"van"}},
		"written apart":                    {"micro-switch", []string{"van"}},
		"stems":                            {"starting fans", []string{"hybrid"}},
		"an abbreviation for a name":       {"MAF", []string{"van"}},
		"accents":                          {"CAFE", []string{"café"}},
		"possessive":                       {"thermostat contact", []string{"café"}},
		"all words":                        {"fan lockout", []string{"boiler"}},
		"stop words do not count":          {"the fan with a lockout", []string{"boiler"}},
		"no is a word":                     {`"no start"`, []string{"hybrid"}},
		"phrase":                           {`"fan running"`, []string{"boiler"}},
		"phrase, other order":              {`"running fan"`, []string{}},
		"phrase with a stop word in it":    {`"lockout with the fan"`, []string{"boiler"}},
		"phrase over two texts":            {`"lockout lockout"`, []string{}},
		"without":                          {"fan -boiler", []string{"hybrid"}},
		"only without":                     {"-fan -derates", []string{"café", "van"}},
	} {
		t.Run(name, func(t *testing.T) { assert.ElementsMatch(t, test.want, find(t, x, test.query), test.query) })
	}
}
