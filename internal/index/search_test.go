package index_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/internal/index"
	"ruledout/kb"
)

func machines(t *testing.T) *index.Index {
	return filled(t,
		index.Doc{ID: "c1", Title: "Heater blows cold", Make: "Halden", Model: "Brisk 3", Kind: "van", Year: 2015, State: "published", Status: "closed",
			Confirmation: "verified", Codes: []string{"P1B77-13"}, Components: []string{"heater relay"}, Actions: []string{"replace"}, Pos: 4},
		index.Doc{ID: "c2", Title: "Heater dead", Make: "Halden", Model: "Brisk 3", Kind: "van", Year: 2017, State: "published", Status: "closed",
			Confirmation: "reported", Codes: []string{"P1B77"}, Components: []string{"heater relay", "mass air flow sensor"}, Actions: []string{"replace", "clean"}, Pos: 7},
		index.Doc{ID: "c3", Title: "Heater smells", Make: "Ostrand", Model: "T 40", Kind: "truck", Year: 2019, State: "draft", Status: "open",
			Codes: []string{"SPN 3226 FMI 4"}, Symptoms: []string{"no start"}, Pos: 9},
	)
}

func TestFields(t *testing.T) {
	x := machines(t)
	for query, want := range map[string][]string{
		"code:p1b77":                  {"c1", "c2"},
		"code:P1B77-13":               {"c1"},
		`code:"SPN 3226"`:             {"c3"},
		"code:spn3226/4":              {"c3"},
		"make:halden":                 {"c1", "c2"},
		`model:"brisk 3" year:2016..`: nil,
		`model:"BRISK 3" year:2017`:   {"c2"},
		"year:2015..2018":             {"c1", "c2"},
		"component:MAF":               {"c2"},
		`kind:"panel van"`:            {"c1", "c2"},
		"action:swapped":              {"c1", "c2"},
		"action:clean":                {"c2"},
		"state:draft":                 {"c3"},
		"status:open":                 {"c3"},
		"confirmation:verified":       {"c1"},
		"heater -make:halden":         {"c3"},
		"heater -code:P1B77 -dead":    {"c3"},
		"make:halden make:ostrand":    {},
		`"will not start"`:            {},
		"will not start":              {"c3"},
		"P1B77":                       {"c1", "c2"},
	} {
		r, err := x.Search(t.Context(), index.Query{Text: query, Size: 10})
		if want == nil {
			assert.Equal(t, kb.Invalid, kb.KindOf(err), query)
			continue
		}
		require.NoError(t, err, query)
		got := []string{}
		for _, h := range r.Hits {
			got = append(got, h.ID)
		}
		assert.ElementsMatch(t, want, got, query)
		assert.False(t, r.Loosened, query)
	}
}

func TestFacets(t *testing.T) {
	x := machines(t)
	r, err := x.Search(t.Context(), index.Query{Text: "heater", State: []string{"published"}, Size: 1, Facets: true})
	require.NoError(t, err)
	assert.Equal(t, 2, r.Total)
	assert.Len(t, r.Hits, 1)
	counts := map[string][]index.FacetValue{}
	var fields []string
	for _, f := range r.Facets {
		counts[f.Field] = f.Values
		fields = append(fields, f.Field)
	}
	assert.Equal(t, index.QueryFields(), fields)
	assert.Equal(t, []index.FacetValue{{Value: "P1B77", Count: 2}}, counts["code"])
	assert.Equal(t, []index.FacetValue{{Value: "Brisk 3", Count: 2}}, counts["model"])
	assert.Equal(t, []index.FacetValue{{Value: "heater relay", Count: 2}, {Value: "mass air flow sensor", Count: 1}}, counts["component"])
	assert.Equal(t, []index.FacetValue{{Value: "2015", Count: 1}, {Value: "2017", Count: 1}}, counts["year"])
	assert.Equal(t, []index.FacetValue{{Value: "published", Count: 2}}, counts["state"])
	r, err = x.Search(t.Context(), index.Query{Text: "nothing", Facets: true})
	require.NoError(t, err)
	for _, f := range r.Facets {
		assert.Equal(t, []index.FacetValue{}, f.Values, f.Field)
	}
}

func TestStatesRestrict(t *testing.T) {
	x := machines(t)
	for _, test := range []struct {
		states []string
		want   int
	}{{nil, 3}, {[]string{"draft"}, 1}, {[]string{"draft", "published"}, 3}, {[]string{"withdrawn"}, 0}} {
		for _, text := range []string{"heater", "", "-nothing"} {
			r, err := x.Search(t.Context(), index.Query{Text: text, State: test.states})
			require.NoError(t, err)
			assert.Equal(t, test.want, r.Total, "%q in %v", text, test.states)
		}
	}
}

func TestSynonyms(t *testing.T) {
	x := filled(t,
		index.Doc{ID: "name", Body: []string{"the mass air flow sensor was dirty"}},
		index.Doc{ID: "abbr", Body: []string{"MAF cleaned"}},
		index.Doc{ID: "other", Body: []string{"new air mass meter, and it starts fine"}},
		index.Doc{ID: "apart", Body: []string{"air flow to the sensor, mass of snow"}},
		index.Doc{ID: "start", Body: []string{"it will not start"}},
	)
	for query, want := range map[string][]string{
		"MAF":                        {"abbr", "name", "other"},
		"maf":                        {"abbr", "name", "other"},
		"air mass meter":             {"abbr", "name", "other"},
		"mass air flow sensor":       {"abbr", "name", "other", "apart"}, // apart has the words asked for
		"dirty mass air flow sensor": {"name"},
		"dirty MAF":                  {"name"},
		`"mass air flow sensor"`:     {"name"},
		"no start":                   {"start"},
		"-MAF":                       {"apart", "start"},
	} {
		assert.ElementsMatch(t, want, find(t, x, query), query)
	}
}

func TestLoosened(t *testing.T) {
	x := machines(t)
	r, err := x.Search(t.Context(), index.Query{Text: "heater cold smells", Size: 10})
	require.NoError(t, err)
	assert.True(t, r.Loosened)
	assert.Equal(t, 3, r.Total)
	r, err = x.Search(t.Context(), index.Query{Text: "heater cold make:ostrand", Size: 10})
	require.NoError(t, err)
	assert.Equal(t, 1, r.Total, "fields are never loosened")
	r, err = x.Search(t.Context(), index.Query{Text: "absent words", Size: 10})
	require.NoError(t, err)
	assert.False(t, r.Loosened)
	assert.Zero(t, r.Total)
}

func TestPlaces(t *testing.T) {
	title, body := "Relay sticks", []string{"the relay clicks", "no, the heater relay, a P0AA6-1A"}
	x := filled(t, index.Doc{ID: "c1", Title: title, Body: body})
	words := func(query string) (all []string) {
		r, err := x.Search(t.Context(), index.Query{Text: query, Size: 1, Places: true})
		require.NoError(t, err)
		require.Len(t, r.Hits, 1)
		for _, p := range r.Hits[0].Places {
			switch {
			case p.Item < 0:
				all = append(all, "title:"+title[p.Start:p.End])
			case p.Item < len(body):
				all = append(all, fmt.Sprint(p.Item, ":", body[p.Item][p.Start:p.End]))
			}
		}
		return all
	}
	assert.Equal(t, []string{"title:Relay", "0:relay", "1:relay"}, words("relays"))
	assert.Equal(t, []string{"1:heater", "1:relay"}, words(`"heater relay"`))
	assert.Equal(t, []string{"1:P0AA6-1A"}, words("p0aa6-1a"))
	r, err := x.Search(t.Context(), index.Query{Text: `"heater relay"`, Size: 1})
	require.NoError(t, err)
	assert.Empty(t, r.Hits[0].Places, "only where they are asked for")
}

func TestPages(t *testing.T) {
	var docs []index.Doc
	for n := range 30 {
		docs = append(docs, index.Doc{ID: fmt.Sprintf("c%02d", n), Title: "relay", Body: []string{strings.Repeat("pump ", n%4)}})
	}
	x := filled(t, docs...)
	all := find(t, x, "relay")
	require.Len(t, all, 30)
	var pages []string
	for from := 0; from < 30; from += 7 {
		r, err := x.Search(t.Context(), index.Query{Text: "relay", Size: 7, From: from})
		require.NoError(t, err)
		for _, h := range r.Hits {
			pages = append(pages, h.ID)
		}
	}
	assert.Equal(t, all, pages)
}

func TestSearchEndedContext(t *testing.T) {
	x := machines(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := x.Search(ctx, index.Query{Text: "heater"})
	require.ErrorIs(t, err, context.Canceled)
}

// TestWhatStandsThereIsFound takes any words of a text and looks for them, alone, together and as a phrase.
func TestWhatStandsThereIsFound(t *testing.T) {
	x := open(t, t.TempDir())
	word := rapid.SampledFrom([]string{"relay", "P0AA6-1A", "SPN 3226 FMI 4", "12 V", "0,5 Ω", "A/C", "CAN-H", "89661-47260", "micro-switch", "the", "no", "E-07", "café", "don't", "3/4", "x", "MAF", "pumps"})
	mark := rapid.SampledFrom([]string{" ", ", ", ". ", "\n", " - "})
	rapid.Check(t, func(rt *rapid.T) {
		words := rapid.SliceOfN(word, 1, 6).Draw(rt, "words")
		var text strings.Builder
		for _, w := range words {
			text.WriteString(w + mark.Draw(rt, "mark"))
		}
		require.NoError(rt, x.Apply(t.Context(), []index.Doc{{ID: "c1", Body: []string{text.String()}}}, nil, 1))
		some := slices.Clone(words[:rapid.IntRange(1, len(words)).Draw(rt, "count")])
		for _, query := range []string{strings.Join(some, " "), `"` + strings.Join(some, " ") + `"`} {
			r, err := x.Search(t.Context(), index.Query{Text: query, Size: 1})
			require.NoError(rt, err)
			require.Equal(rt, 1, r.Total, "%q in %q", query, text.String())
			require.False(rt, r.Loosened, "%q in %q", query, text.String())
		}
	})
}
