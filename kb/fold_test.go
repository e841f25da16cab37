package kb_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"ruledout/kb"
)

// The rules of Fold, by example.
func TestFold(t *testing.T) {
	for term, want := range map[string]string{
		"Fuses": "fuse", "batteries": "battery", "glass": "glass", "The Fuel Pump": "fuel pump", "switches": "switch",
		"  wheel-speed   sensors ": "wheel speed sensor", "A/C compressor": "ac compressor", "R.P.M.": "rpm",
		"12V": "12 v", "12 v": "12 v", "150A fuse": "150 a fuse", "pump A": "pump a", "P0AA6-1A": "p0aa6-1a",
		"89661-47260": "89661-47260", "removed & replaced": "removed and replaced", "R&R": "rr", "won’t start": "wont start",
		"DC/DC": "dc dc", "chassis": "chassis", "bus": "bus", "gas": "gas", "lens": "lens", "mains": "mains", "axes": "axis",
		"Ölfilter": "olfilter", "O₂ sensor": "o2 sensor", "B+ terminal": "b+ terminal", "1.5 mm": "1.5 mm", "#3 gasket": "3 gasket",
		"the": "", "": "", "relays": "relay", "boxes": "box", "valves": "valve", "pulleys": "pulley", "series": "series",
	} {
		assert.Equal(t, want, kb.Fold(term), term)
	}
}

func TestFoldWords(t *testing.T) {
	assert.Equal(t, []string{"the", "fuse", "of", "two", "glass", "door"}, kb.FoldWords("The fuses of two glass doors"))
	assert.Empty(t, kb.FoldWords(" -- "))
}

func terms() *rapid.Generator[string] {
	word := rapid.StringMatching(`[A-Za-z0-9ÄéΩµ'’+#]{1,7}(ies|ses|xes|s|es|)`)
	return rapid.Custom(func(t *rapid.T) string {
		words := rapid.SliceOfN(word, 0, 5).Draw(t, "words")
		return strings.Join(words, rapid.SampledFrom([]string{" ", "-", "/", " & ", ".", ", a ", " the "}).Draw(t, "joint"))
	})
}

func TestFoldIsIdempotent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		once := kb.Fold(rapid.OneOf(terms(), rapid.String()).Draw(t, "term"))
		assert.Equal(t, once, kb.Fold(once))
	})
}

func TestFoldIgnoresCaseAndSpacing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		term := terms().Draw(t, "term")
		assert.Equal(t, kb.Fold(term), kb.Fold("  "+strings.ReplaceAll(term, " ", " \t ")+"\n"))
		assert.Equal(t, kb.Fold(strings.ToLower(term)), kb.Fold(term))
	})
}

// Each word is folded on its own, so a text may be folded piece by piece.
func TestFoldWordsOfJoinedTexts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := terms().Draw(t, "a"), terms().Draw(t, "b")
		assert.Equal(t, append(kb.FoldWords(a), kb.FoldWords(b)...), kb.FoldWords(a+" "+b))
	})
}

func TestSplitPosition(t *testing.T) {
	for term, want := range map[string][2]string{
		"left front wheel speed sensor": {"left front", "wheel speed sensor"},
		"#3 intake gasket":              {"3", "intake gasket"},
		"bank 1 sensor 2 oxygen sensor": {"bank 1 sensor 2", "oxygen sensor"},
		"O2 sensor B1S2":                {"b1s2", "o2 sensor"},
		"injector no. 3":                {"no 3", "injector"},
		"fuse 14":                       {"14", "fuse"},
		"12 v battery":                  {"", "12 v battery"},
		"fuel pump":                     {"", "fuel pump"},
		"rear":                          {"rear", ""},
	} {
		position, rest := kb.SplitPosition(term)
		assert.Equal(t, want, [2]string{position, rest}, term)
	}
}

func TestSplitPositionLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(rapid.SampledFrom([]string{"left", "bank", "1", "fuel", "pump", "no", "k7", "b1s1", "v"}), 0, 6).Draw(t, "words")
		term := kb.Fold(strings.Join(words, " "))
		position, rest := kb.SplitPosition(term)
		assert.ElementsMatch(t, strings.Fields(term), append(strings.Fields(position), strings.Fields(rest)...))
	})
}

func FuzzFold(f *testing.F) {
	for _, seed := range []string{"Fuses", "A/C", "12V-5", "½ İ ß", "a.b&c/d", "the a an a", "&&", "R & R s", "b+s", "1.2.3V"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, term string) {
		once := kb.Fold(term)
		assert.Equal(t, once, kb.Fold(once))
		kb.FoldWords(term)
		kb.SplitPosition(term)
	})
}
