package casebook_test

import (
	"bufio"
	"encoding/json"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/internal/demo"
	"ruledout/kb"
)

// expected is what a careful person reads from a write-up of the demo about one machine.
type expected struct {
	File     string    `json:"file"`
	Reporter string    `json:"reporter"`
	Make     string    `json:"make"`
	Model    string    `json:"model"`
	Codes    []string  `json:"codes"`
	Fixed    []string  `json:"fixed"`
	Status   kb.Status `json:"status"`
	Note     string    `json:"note"`
}

func lines[T any](t *testing.T, path string) []T {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	var out []T
	for s := bufio.NewScanner(f); s.Scan(); {
		var x T
		require.NoError(t, json.Unmarshal(s.Bytes(), &x))
		out = append(out, x)
	}
	return out
}

// demoReadings reads every write-up of the demo with the code that reads any write-up.
func demoReadings(t *testing.T, voc *kb.Vocabulary) map[string]casebook.Reading {
	t.Helper()
	out, reader := map[string]casebook.Reading{}, ingest.NewExtractor(voc)
	names, err := fs.Glob(demo.Files(), "*")
	require.NoError(t, err)
	for _, name := range names {
		data, err := fs.ReadFile(demo.Files(), name)
		require.NoError(t, err)
		r := casebook.ReadFile(ingest.File{Name: name, Data: data}, ingest.Options{}, reader)
		require.NoError(t, r.Err)
		out[name] = r
	}
	return out
}

func allDrafts(r casebook.Reading) []kb.Case { return slices.Concat(r.Drafts...) }

// Every draft of the demo is a valid record by the validation and by the JSON Schema, and every quote stands where its evidence says.
func TestDemoDraftsAreValidRecords(t *testing.T) {
	voc, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(string(kb.Schema())))
	require.NoError(t, err)
	compiler := jsonschema.NewCompiler()
	require.NoError(t, compiler.AddResource("urn:ruledout:case:1", doc))
	schema, err := compiler.Compile("urn:ruledout:case:1")
	require.NoError(t, err)
	for name, r := range demoReadings(t, voc) {
		for _, c := range allDrafts(r) {
			require.NoError(t, c.CheckRecord(), name)
			line, err := kb.EncodeCase(c)
			require.NoError(t, err)
			v, err := jsonschema.UnmarshalJSON(strings.NewReader(string(line)))
			require.NoError(t, err)
			require.NoError(t, schema.Validate(v), "%s: %s", name, line)
		}
	}
}

// How well the demo is read, against what a careful person reads from it (written down with the write-ups). The demo is invented, so this
// guards against regress; the annotated threads measure quality.
func TestReadingTheDemo(t *testing.T) {
	voc, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	readings := demoReadings(t, voc)
	var found, codes, status, culprits, wrong, closed int
	want := lines[expected](t, filepath.Join("..", "demo", "testdata", "expected.jsonl"))
	for _, w := range want {
		c, ok := draftOf(w, allDrafts(readings[w.File]))
		if !ok {
			t.Logf("%s: no case of %q", w.File, w.Reporter)
			continue
		}
		found++
		if sameCodes(w.Codes, c.Codes) {
			codes++
		}
		if c.Status == w.Status {
			status++
		}
		if len(w.Fixed) == 0 {
			continue
		}
		closed++
		switch got := folded(voc, c.Culprits()); {
		case slices.Equal(folded(voc, w.Fixed), got):
			culprits++
		case len(got) > 0:
			wrong++
			t.Logf("%s %s: want %v got %v", w.File, w.Reporter, w.Fixed, c.Culprits())
		default:
			t.Logf("%s %s: want %v got nothing", w.File, w.Reporter, w.Fixed)
		}
	}
	t.Logf("demo: %d of %d cases found; codes right %d, status right %d; culprits right %d, other %d, of %d with one", found, len(want), codes, status, culprits, wrong, closed)
	assert.Greater(t, float64(found)/float64(len(want)), 0.85)
	assert.Greater(t, float64(culprits)/float64(closed), 0.60)
	assert.Less(t, float64(wrong)/float64(closed), 0.20)
}

func draftOf(w expected, drafts []kb.Case) (kb.Case, bool) {
	for _, d := range drafts {
		row := w.Reporter == "" && strings.HasPrefix(w.Note, "row ") && len(d.Sources) > 0 && strings.HasSuffix(string(d.Sources[0].Writeup), "/"+strings.Fields(w.Note)[1])
		if row || w.Reporter != "" && strings.EqualFold(d.Reporter, w.Reporter) {
			return d, true
		}
	}
	if len(drafts) == 1 {
		return drafts[0], true
	}
	return kb.Case{}, false
}

func sameCodes(want []string, got []kb.CodeEntry) bool {
	key := func(s string) string { e := kb.CodeEntry{Code: s}; k, _ := e.Key("x"); return k.String() }
	var a, b []string
	for _, s := range want {
		a = append(a, key(s))
	}
	for _, e := range got {
		b = append(b, key(e.Code))
	}
	slices.Sort(a)
	slices.Sort(b)
	return slices.Equal(a, b)
}

func folded(voc *kb.Vocabulary, names []string) []string {
	var out []string
	for _, n := range names {
		out = append(out, voc.CanonicalComponent(n))
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Personal data of the demo does not come out of reading.
func TestPersonalDataOfTheDemoIsMasked(t *testing.T) {
	voc, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	readings := demoReadings(t, voc)
	type personal struct {
		File string `json:"file"`
		Text string `json:"text"`
	}
	list := lines[personal](t, filepath.Join("..", "demo", "testdata", "personal.jsonl"))
	require.NotEmpty(t, list)
	for _, p := range list {
		require.NotEmpty(t, p.Text)
		out, err := json.Marshal(readings[p.File])
		require.NoError(t, err)
		assert.NotContains(t, string(out), p.Text, p.File)
	}
}
