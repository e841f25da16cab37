package ingest_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/ingest"
)

func sentences(text string) []string {
	var out []string
	for _, s := range ingest.SentencesOf(text) {
		out = append(out, text[s[0]:s[1]])
	}
	return out
}

func TestSentencesEndWhereAReaderEndsThem(t *testing.T) {
	cases := []struct {
		text string
		want []string
	}{
		{"It shows P0420. It stalls.", []string{"It shows P0420.", "It stalls."}},
		{"It shows 12 V. That is fine.", []string{"It shows 12 V.", "That is fine."}},
		{"Measured 4.7 ohm and 0.02 V.", []string{"Measured 4.7 ohm and 0.02 V."}},
		{"Takes approx. 5 bar, e.g. when cold.", []string{"Takes approx. 5 bar, e.g. when cold."}},
		{"Cylinder no. 3 is dead.", []string{"Cylinder no. 3 is dead."}},
		{"Is it no? No. It is not.", []string{"Is it no?", "No.", "It is not."}},
		{"no change. new filter then", []string{"no change.", "new filter then"}},
		{"Really?! Yes...", []string{"Really?!", "Yes..."}},
		{"one line\nanother line", []string{"one line", "another line"}},
		{"This line is long enough to have been broken by a mail program in\nthe middle of its sentence.",
			[]string{"This line is long enough to have been broken by a mail program in\nthe middle of its sentence."}},
		{" \n ", nil},
		{"", nil},
	}
	for _, tt := range cases {
		assert.Equal(t, tt.want, sentences(tt.text), "%q", tt.text)
	}
}

// Sentences lie in order, do not overlap and leave out nothing but blanks.
func TestSentencesLoseNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		checkSentences(t, rapid.StringOfN(rapid.SampledFrom([]rune("ab.!? \nÄ3,")), 0, 80, -1).Draw(t, "text"))
	})
}

func FuzzSentences(f *testing.F) {
	for _, s := range []string{"It shows P0420. It stalls.", "approx. 5", "a\n\nb", "…", "ends.\"", "x.)y"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) { checkSentences(t, text) })
}

func checkSentences(t require.TestingT, text string) {
	at := 0
	for _, s := range ingest.SentencesOf(text) {
		require.LessOrEqual(t, at, s[0])
		require.Less(t, s[0], s[1])
		require.Empty(t, strings.Trim(text[at:s[0]], " \n\t\r"))
		at = s[1]
	}
	require.Empty(t, strings.Trim(text[at:], " \n\t\r"))
}
