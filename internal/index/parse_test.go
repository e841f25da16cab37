package index_test

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/index"
	"ruledout/kb"
)

func TestParseQuery(t *testing.T) {
	for text, want := range map[string][]index.Clause{
		"":                            nil,
		"  \t":                        nil,
		" - ":                         nil,
		"heater relay":                {{Text: "heater"}, {Text: "relay", At: 7}},
		`"blows cold" -fuse`:          {{Phrase: true, Text: "blows cold"}, {Not: true, Text: "fuse", At: 13}},
		`make:Halden model:"Brisk 3"`: {{Field: "make", Text: "Halden"}, {Field: "model", Phrase: true, Text: "Brisk 3", At: 12}},
		"Code: P0420":                 {{Field: "code", Text: "P0420"}},
		`-component:"heater relay"`:   {{Not: true, Field: "component", Phrase: true, Text: "heater relay"}},
		"U0293:00":                    {{Text: "U0293:00"}},
		"fault: none":                 {{Text: "fault:"}, {Text: "none", At: 7}},
		"https://example.org/a":       {{Text: "https://example.org/a"}},
		"SPN:3226 FMI:4":              {{Text: "SPN:3226"}, {Text: "FMI:4", At: 9}},
		"12:30":                       {{Text: "12:30"}},
		"year:2015..2018":             {{Field: "year", Text: "2015..2018"}},
		"--":                          nil,
		`pump"seal`:                   {{Text: `pump"seal`}},
	} {
		t.Run(text, func(t *testing.T) {
			got, err := index.ParseQuery(text)
			require.NoError(t, err)
			assert.Equal(t, want, got)
		})
	}
}

func TestParseQueryErrors(t *testing.T) {
	for text, want := range map[string]string{
		`relay "blows cold`:            `query: at character 7: this quotation mark has no partner`,
		`""`:                           `query: at character 1: nothing stands between the quotation marks`,
		"colour:red":                   `query: at character 1: there is no field "colour"; the fields are code, make,`,
		"relay make:":                  `query: at character 12: make: wants a value after it`,
		"pump \xff":                    `query: at character 1: the query is no valid text`,
		strings.Repeat("pump ", 201):   `query: at character 1001: more than 200 words`,
		strings.Repeat("pump ", 1_000): `query: at character 2001: the query is longer than 2000 characters`,
	} {
		_, err := index.ParseQuery(text)
		assert.ErrorContains(t, err, want)
		assert.Equal(t, kb.Invalid, kb.KindOf(err))
	}
}

func FuzzParseQuery(f *testing.F) {
	for _, seed := range []string{"heater relay", `"blows cold" -fuse`, `make:Halden -model:"Brisk 3"`, "year:2015..2018", "code:P0AA6-1A", "U0293:00", `"`, "-", "é:ü"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		clauses, err := index.ParseQuery(text)
		if err != nil {
			require.Equal(t, kb.Invalid, kb.KindOf(err))
			return
		}
		end := 0
		for _, c := range clauses {
			require.GreaterOrEqual(t, c.At, end, "clauses follow one another")
			require.NotEmpty(t, c.Text)
			require.Contains(t, text[c.At:], c.Text)
			end = c.At + len(c.Text)
		}
	})
}

func TestTerms(t *testing.T) {
	for text, want := range map[string][]string{
		"P0AA6-1A":              {"p0aa6-1a", "p0aa61a", "p0aa6", "1a"},
		"SPN 3226 FMI 4":        {"spn3226/4", "spn3226"},
		"spn3226/04":            {"spn3226/4", "spn3226"},
		"SPN 102, FMI: 0":       {"spn102/0", "spn102"},
		"SPN 3226 12 V":         {"spn3226", "12v", "12"},
		"spnning":               {"spnning"},
		"12 V":                  {"12v", "12"},
		"12V":                   {"12v", "12"},
		"2 a day":               {"2", "day"},
		"2 A fuse":              {"2a", "2", "fuse"},
		"CAN-H":                 {"canh", "can"},
		"A/C":                   {"ac"},
		"micro-switch":          {"microswitch", "micro", "switch"},
		"doesn't":               {"doesnt"},
		"pump's seals":          {"pump", "seal"},
		"1.5..2":                {"1.5", "2"},
		"no start at all":       {"no", "start", "all"},
		"...":                   nil,
		strings.Repeat("x", 65): nil,
	} {
		assert.Equal(t, want, index.Terms(text), text)
	}
}

func FuzzTerms(f *testing.F) {
	for _, seed := range []string{"P0AA6-1A", "SPN 3226 FMI 4", "12 V, 0,5 Ω", "A/C CAN-H café's", "ﬁ\u0301x", "spn", "1.", "\xff-\xfe"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		last := 0
		for _, token := range index.Tokens(text) {
			start, end, pos := token[0], token[1], token[2]
			require.True(t, 0 <= start && start < end && end <= len(text), "%q %v", text, token)
			require.GreaterOrEqual(t, pos, last, "positions do not go back")
			last = pos
		}
		for _, term := range index.Terms(text) {
			require.NotEmpty(t, term)
			require.LessOrEqual(t, len(term), 64)
			if utf8.ValidString(text) {
				require.True(t, utf8.ValidString(term))
			}
		}
	})
}
