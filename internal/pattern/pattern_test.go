package pattern_test

import (
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/internal/pattern"
)

// same holds every search of a pattern against package regexp, which defines what an expression means.
func same(t require.TestingT, expr, text string) {
	want, got := regexp.MustCompile(expr), pattern.MustCompile(expr)
	at := fmt.Sprintf("%q in %q", expr, text)
	require.Equal(t, want.MatchString(text), got.MatchString(text), at)
	require.Equal(t, want.FindString(text), got.FindString(text), at)
	require.Equal(t, want.FindStringIndex(text), got.FindStringIndex(text), at)
	require.Equal(t, want.FindStringSubmatch(text), got.FindStringSubmatch(text), at)
	require.Equal(t, want.FindStringSubmatchIndex(text), got.FindStringSubmatchIndex(text), at)
	for _, n := range []int{-1, 0, 2} {
		require.Equal(t, want.FindAllString(text, n), got.FindAllString(text, n), at)
		require.Equal(t, want.FindAllStringIndex(text, n), got.FindAllStringIndex(text, n), at)
		require.Equal(t, want.FindAllStringSubmatch(text, n), got.FindAllStringSubmatch(text, n), at)
		require.Equal(t, want.FindAllStringSubmatchIndex(text, n), got.FindAllStringSubmatchIndex(text, n), at)
	}
	require.Equal(t, want.ReplaceAllString(text, "<x>"), got.ReplaceAllString(text, "<x>"), at)
	require.Equal(t, want.ReplaceAllString(text, "<$0>"), got.ReplaceAllString(text, "<$0>"), at)
}

// expressions of any make: letters, classes, conditions, groups, repetition of both kinds.
func expressions() *rapid.Generator[string] {
	leaf := rapid.SampledFrom([]string{"a", "b", "ab", "ba", "é", "1", `\d`, `\w`, `\W`, `\s`, ".", "[ab]", "[^a]", `\p{L}`, `\p{Lu}`, `\b`, `\B`, "^", "$", `\A`,
		`\z`, "(?i:a)", "(?i:K)", "(?s:.)", "(?m:^)", "(?m:$)", "", "(?:ab|a)", "(a|ab)(b|)", `[\x{80}-\x{10FFFF}]`})
	return rapid.Custom(func(t *rapid.T) string {
		var b strings.Builder
		for range rapid.IntRange(1, 5).Draw(t, "pieces") {
			piece := leaf.Draw(t, "piece")
			switch rapid.IntRange(0, 4).Draw(t, "kind") {
			case 0:
				piece = "(" + piece + ")" + rapid.SampledFrom([]string{"*", "+", "?", "*?", "+?", "??", "{2}", "{1,3}", "{0,2}?"}).Draw(t, "times")
			case 1:
				piece = "(?:" + piece + "|" + leaf.Draw(t, "other") + ")"
			case 2:
				piece = "(" + piece + leaf.Draw(t, "next") + ")"
			}
			b.WriteString(piece)
		}
		if rapid.Bool().Draw(t, "halves") {
			return b.String() + "|" + leaf.Draw(t, "half")
		}
		return b.String()
	})
}

func TestAnyExpressionIsFoundAsPackageRegexpFindsIt(t *testing.T) {
	texts := rapid.StringOfN(rapid.SampledFrom([]rune("aabbAk1 \n.é÷ſK_漢")), 0, 14, -1)
	rapid.Check(t, func(t *rapid.T) {
		same(t, expressions().Draw(t, "expression"), texts.Draw(t, "text")+rapid.SampledFrom([]string{"", "\xff", "\xe2\x82", "a\xffb"}).Draw(t, "broken"))
	})
}

func FuzzPattern(f *testing.F) {
	f.Add(`(?i)\b(?:P|C)(\d{4})(?:-(\d\d))?\b`, "p0420-13, then C0035.")
	f.Add(`a*?$|(b)|`, "ab\nba")
	f.Add(`(?m)^\s*>+ ?`, "> one\n >> two")
	f.Fuzz(func(t *testing.T, expr, text string) {
		if _, err := regexp.Compile(expr); err != nil || len(expr) > 200 || len(text) > 2000 {
			return
		}
		same(t, expr, text)
	})
}

// TestManyStates asks for more states than are kept: the answers stay, whoever gives them.
func TestManyStates(t *testing.T) {
	const expr = `(a|b)*a(?:a|b){14}c`
	var b strings.Builder
	x := uint32(1)
	for range 60000 {
		x = x*1664525 + 1013904223 // Numerical Recipes' generator: any bits will do
		b.WriteByte("ab"[x>>31])
	}
	text := b.String()
	require.Nil(t, pattern.MustCompile(expr).FindStringIndex(text))
	short := text[:200] + "a" + text[300:314] + "c"
	same(t, expr, short)
}

// BenchmarkMatch reports how many times faster than package regexp a search without a match is.
func BenchmarkMatch(b *testing.B) {
	const expr = `(?i)\b(?:reads?|measured|shows?|gives) (?:about |only )?(\d+(?:\.\d+)?)\b`
	text := strings.Repeat("I replaced the relay and drove home, and the heater stayed cold all the way. ", 100)
	p, re := pattern.MustCompile(expr), regexp.MustCompile(expr)
	p.MatchString(text)
	begin := time.Now()
	for range 20 {
		re.MatchString(text)
	}
	bare := time.Since(begin).Seconds() / 20
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		p.MatchString(text)
	}
	b.ReportMetric(bare/(b.Elapsed().Seconds()/float64(b.N)), "x-faster")
}
