package demo_test

import (
	"bytes"
	"encoding/json"
	"html"
	"io/fs"
	"os"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/demo"
)

// expectedCase is what a careful person reads from one write-up about one
// reporter's machine.
type expectedCase struct {
	File     string   `json:"file"`
	Reporter string   `json:"reporter"`
	Make     string   `json:"make"`
	Model    string   `json:"model"`
	Codes    []string `json:"codes"`
	Fixed    []string `json:"fixed"`
	Status   string   `json:"status"`
	Note     string   `json:"note"`
}

// personalItem is a piece of personal data that a reader has to mask.
type personalItem struct {
	File  string `json:"file"`
	Kind  string `json:"kind"`
	Text  string `json:"text"`
	Check *bool  `json:"check"`
}

func readLines[T any](t *testing.T, file string) []T {
	t.Helper()
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	var out []T
	for dec.More() {
		var v T
		require.NoError(t, dec.Decode(&v), "record %d of %s", len(out)+1, file)
		out = append(out, v)
	}
	require.NotEmpty(t, out)
	return out
}

func text(t *testing.T, file string) string {
	t.Helper()
	data, err := fs.ReadFile(demo.Files(), file)
	require.NoError(t, err)
	return string(data)
}

func names(t *testing.T) []string {
	t.Helper()
	entries, err := fs.ReadDir(demo.Files(), ".")
	require.NoError(t, err)
	var out []string
	for _, e := range entries {
		require.False(t, e.IsDir(), e.Name())
		out = append(out, e.Name())
	}
	return out
}

func TestWriteUpsInEveryFormat(t *testing.T) {
	all := names(t)
	assert.GreaterOrEqual(t, len(all), 66)
	byExt := map[string]int{}
	for _, n := range all {
		byExt[path.Ext(n)]++
		assert.NotEmpty(t, strings.TrimSpace(text(t, n)), n)
	}
	assert.Len(t, byExt, 5)
	for _, ext := range []string{".md", ".html", ".txt", ".mbox", ".csv"} {
		assert.GreaterOrEqual(t, byExt[ext], 2, ext)
	}
}

func TestEveryKindOfPage(t *testing.T) {
	kinds := map[string]*regexp.Regexp{
		"thread as JSON-LD":   regexp.MustCompile(`"@type": "DiscussionForumPosting"`),
		"question as JSON-LD": regexp.MustCompile(`"@type": "QAPage"`),
		"microdata":           regexp.MustCompile(`itemtype="https://schema.org/DiscussionForumPosting"`),
		"hidden text":         regexp.MustCompile(`display:none`),
		"quoted mail":         regexp.MustCompile(`(?m)^Content-Transfer-Encoding: quoted-printable$`),
	}
	found := map[string]int{}
	plainPages := 0
	for _, n := range names(t) {
		s := text(t, n)
		for kind, re := range kinds {
			if re.MatchString(s) {
				found[kind]++
			}
		}
		if path.Ext(n) == ".html" && !strings.Contains(s, "schema.org") {
			plainPages++
		}
	}
	for kind := range kinds {
		assert.Positive(t, found[kind], kind)
	}
	assert.GreaterOrEqual(t, plainPages, 5, "pages without any markup")
}

func TestLongThreads(t *testing.T) {
	cases := readLines[expectedCase](t, "testdata/expected.jsonl")
	for _, tc := range []struct{ file, post string }{
		{"p1b77-long.html", `<article class="post"`},
		{"p0299-long.html", `<div class="msg"`},
		{"p0087-long.html", `class="entry`},
		{"p0aa6-list.mbox", "\nMessage-ID: "},
		{"e6-long.md", "\n## "},
	} {
		t.Run(tc.file, func(t *testing.T) {
			assert.GreaterOrEqual(t, strings.Count(text(t, tc.file), tc.post), 15, "posts")
			reporters := 0
			for _, c := range cases {
				if c.File == tc.file {
					reporters++
				}
			}
			assert.GreaterOrEqual(t, reporters, 5, "people with a machine of their own")
		})
	}
}

// visible folds what a reader sees enough to find a name in it.
func visible(s string) string {
	s = strings.ReplaceAll(s, "=\n", "") // soft line breaks of quoted-printable mail
	return strings.ToLower(strings.Join(strings.Fields(html.UnescapeString(s)), " "))
}

func TestExpectedCasesAreInTheWriteUps(t *testing.T) {
	all := names(t)
	seen := map[string]bool{}
	for _, c := range readLines[expectedCase](t, "testdata/expected.jsonl") {
		require.Contains(t, all, c.File)
		seen[c.File] = true
		assert.Contains(t, []string{"open", "closed"}, c.Status, c.File)
		if c.Status == "open" {
			assert.Empty(t, c.Fixed, "%s, %s: an open case names no culprit", c.File, c.Reporter)
		}
		words := []string{c.Reporter, c.Make, c.Model}
		words = append(words, c.Fixed...)
		for _, code := range c.Codes {
			if !strings.HasPrefix(code, "BLINK ") { // written as "5 blinks", "blinks 5 times"
				words = append(words, code)
			}
		}
		page := visible(text(t, c.File))
		for _, w := range words {
			assert.Contains(t, page, strings.ToLower(w), "%s, %s", c.File, c.Reporter)
		}
	}
	for _, n := range all {
		assert.True(t, seen[n], "%s has no expected case", n)
	}
}

// codeKey ties a code to its make unless a standard controls it.
func codeKey(c expectedCase, code string) string {
	base, _, _ := strings.Cut(code, "-")
	if regexp.MustCompile(`^([PCBU][02]|SPN \d{1,5} )`).MatchString(base) {
		return base
	}
	return c.Make + " " + base
}

func TestCasesPerCodeLetRankingMeanSomething(t *testing.T) {
	count := map[string]int{}
	culprits := map[string]map[string]bool{}
	open := 0
	for _, c := range readLines[expectedCase](t, "testdata/expected.jsonl") {
		if strings.HasPrefix(c.Note, "duplicate of ") {
			continue
		}
		if c.Status == "open" {
			open++
		}
		for _, code := range c.Codes {
			k := codeKey(c, code)
			count[k]++
			if culprits[k] == nil {
				culprits[k] = map[string]bool{}
			}
			for _, f := range c.Fixed {
				culprits[k][f] = true
			}
		}
	}
	rich, single := 0, 0
	for k, n := range count {
		if n >= 4 && len(culprits[k]) >= 2 {
			rich++
		}
		if n == 1 {
			single++
		}
	}
	assert.GreaterOrEqual(t, rich, 8, "codes with four or more cases and two or more culprits")
	assert.GreaterOrEqual(t, single, 5, "codes with exactly one case")
	assert.GreaterOrEqual(t, open, 5, "cases without a cure")
}

func TestDuplicatesNameTheirOriginal(t *testing.T) {
	cases := readLines[expectedCase](t, "testdata/expected.jsonl")
	duplicates := 0
	for _, c := range cases {
		rest, ok := strings.CutPrefix(c.Note, "duplicate of ")
		if !ok {
			continue
		}
		duplicates++
		file, _, _ := strings.Cut(rest, ",")
		i := slices.IndexFunc(cases, func(o expectedCase) bool {
			return o.File == file && o.Reporter == c.Reporter
		})
		require.GreaterOrEqual(t, i, 0, "%s points to %s", c.File, file)
		assert.Equal(t, cases[i].Codes, c.Codes)
		assert.Equal(t, cases[i].Fixed, c.Fixed)
	}
	assert.GreaterOrEqual(t, duplicates, 3)
}

// checkDigit is the rule of 49 CFR 565.15, table III to V (ISO 3779 leaves the
// position free; the same rule is used where a check digit is present).
func checkDigit(vin string) byte {
	const letters, values = "ABCDEFGHJKLMNPRSTUVWXYZ", "12345678123457923456789"
	weights := []int{8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2}
	sum := 0
	for i, w := range weights {
		c := vin[i]
		if at := strings.IndexByte(letters, c); at >= 0 {
			c = values[at]
		}
		sum += int(c-'0') * w
	}
	return "0123456789X"[sum%11]
}

func TestPersonalDataIsThereToBeMasked(t *testing.T) {
	kinds := map[string]bool{}
	vins := map[bool]int{}
	for _, p := range readLines[personalItem](t, "testdata/personal.jsonl") {
		assert.Contains(t, text(t, p.File), p.Text, p.File)
		kinds[p.Kind] = true
		if p.Kind == "vin" {
			require.Len(t, p.Text, 17)
			require.NotNil(t, p.Check)
			good := checkDigit(p.Text) == p.Text[8]
			assert.Equal(t, *p.Check, good, p.Text)
			vins[good]++
		}
	}
	assert.Len(t, kinds, 6)
	assert.Equal(t, map[bool]int{true: 1, false: 1}, vins)
}

func TestLicences(t *testing.T) {
	with := 0
	licence := regexp.MustCompile(`(?i)licen[cs]e.{0,30}CC ?(BY|0)|\(?CC BY 4\.0`)
	all := names(t)
	for _, n := range all {
		if licence.MatchString(text(t, n)) {
			with++
		}
	}
	assert.Greater(t, with, len(all)*2/3, "most write-ups state a licence")
	assert.Less(t, with, len(all), "some do not")
}

func TestQuestions(t *testing.T) {
	flags := []string{"--machine", "--symptom", "--absent", "--passed", "--failed", "--reading", "--tried", "--plan", "--rate", "--handover", "--have"}
	used := map[string]bool{}
	titles := map[string]bool{}
	qs := demo.Questions()
	assert.GreaterOrEqual(t, len(qs), 6)
	assert.LessOrEqual(t, len(qs), 9)
	for _, q := range qs {
		assert.False(t, titles[q.Title], q.Title)
		titles[q.Title] = true
		require.NotEmpty(t, q.Args, q.Title)
		for i := 0; i < len(q.Args); i++ {
			if !strings.HasPrefix(q.Args[i], "--") {
				assert.NotEmpty(t, strings.TrimSpace(q.Args[i]), q.Title)
				continue
			}
			flag := q.Args[i]
			assert.Contains(t, flags, flag, q.Title)
			used[flag] = true
			if flag == "--plan" { // takes no value
				continue
			}
			i++
			require.Less(t, i, len(q.Args), "%s: %s has no value", q.Title, flag)
			checkValue(t, flag, q.Args[i])
		}
	}
	assert.Len(t, used, len(flags), "every flag is shown once")
}

func checkValue(t *testing.T, flag, value string) {
	t.Helper()
	switch flag {
	case "--passed", "--failed":
		assert.Regexp(t, `^.+ of .+$`, value)
	case "--reading":
		assert.Regexp(t, `^.+ of .+ = [\d.]+ \S+$`, value)
	case "--tried":
		assert.Regexp(t, `^(replace|repair|adjust|refit|clean|service|reprogram|modify|other) .+$`, value)
	default:
		assert.NotEmpty(t, value)
		assert.False(t, strings.HasPrefix(value, "--"), value)
	}
}
