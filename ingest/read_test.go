package ingest_test

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
	"ruledout/kb"
)

func TestFormatOf(t *testing.T) {
	tests := []struct {
		name, data string
		want       ingest.Format
	}{
		{"a.md", "# x", ingest.FormatMarkdown},
		{"a.htm", "<p>x", ingest.FormatHTML},
		{"a.txt", "<!DOCTYPE html><p>x", ingest.FormatHTML},
		{"noname", "\n<html><body>x", ingest.FormatHTML},
		{"a.txt", "x", ingest.FormatText},
		{"a.log", "From a Mon\nFrom: a\n\nx", ingest.FormatMail},
		{"a", "Received: x\n y\nFrom: a\nSubject: b\n\nx", ingest.FormatMail},
		{"a.txt", "Subject: to change\nI think so\n", ingest.FormatText},
		{"a.tsv", "a\tb", ingest.FormatTable},
		{"a.md", "x\x00y", ingest.FormatBinary},
		{"a.md", " \n\t", ingest.FormatEmpty},
		{"a.txt", "\xff\xfex\x00", ingest.FormatText},
	}
	for _, tt := range tests {
		assert.Equal(t, tt.want, ingest.FormatOf(ingest.File{Name: tt.name, Data: []byte(tt.data)}), "%s %q", tt.name, tt.data)
	}
}

func TestReadErrors(t *testing.T) {
	tests := []struct {
		name, data, want string
	}{
		{"empty.md", " \n", "empty.md: the file is empty"},
		{"image.md", "line\nPNG\x00\x01", "image.md:2: binary data, not text"},
		{"big.txt", strings.Repeat("x", 200), "big.txt: too big: 200 bytes, the limit is 100"},
		{"odd.txt", "\xff\xfea\x00b", "odd.txt: cannot be decoded: UTF-16 with an odd number of bytes"},
		{"none.html", "<html><body><script>x</script></body></html>", "none.html: no readable text in it"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := ingest.Read(ingest.File{Name: tt.name, Data: []byte(tt.data)}, ingest.Options{MaxBytes: 100})
			require.EqualError(t, err, tt.want)
			var e *kb.Error
			require.True(t, errors.As(err, &e))
			assert.Equal(t, kb.Invalid, e.Kind)
			assert.Equal(t, tt.name, e.File)
		})
	}
}

func TestReadTooManyPosts(t *testing.T) {
	data := strings.Repeat("quill_9\n3 May 2020 #1\nSome text here.\n\nReply  Quote\n\n", 4)
	_, err := ingest.Read(ingest.File{Name: "t.txt", Data: []byte(data)}, ingest.Options{MaxPosts: 3})
	assert.ErrorContains(t, err, "t.txt: too many posts: the limit is 3")
}

func TestReadEncodings(t *testing.T) {
	const text = "Lüfter läuft, 39 °C – “gut” für 5 €"
	wide := func(order func(uint16) []byte, mark []byte) []byte {
		out := mark
		for _, u := range utf16.Encode([]rune(text)) {
			out = append(out, order(u)...)
		}
		return out
	}
	tests := map[string]ingest.File{
		"UTF-8":                  {Name: "a.txt", Data: []byte(text)},
		"UTF-8 with a mark":      {Name: "a.txt", Data: []byte("\ufeff" + text)},
		"UTF-16 little end":      {Name: "a.txt", Data: wide(func(u uint16) []byte { return []byte{byte(u), byte(u >> 8)} }, []byte{0xff, 0xfe})},
		"UTF-16 big end":         {Name: "a.txt", Data: wide(func(u uint16) []byte { return []byte{byte(u >> 8), byte(u)} }, []byte{0xfe, 0xff})},
		"windows-1252, unstated": {Name: "a.txt", Data: []byte("L\xfcfter l\xe4uft, 39 \xb0C \x96 \x93gut\x94 f\xfcr 5 \x80")},
		"stated in the page":     {Name: "a.html", Data: []byte("<html><head><meta charset=iso-8859-15></head><body>L\xfcfter l\xe4uft, 39 \xb0C &ndash; &ldquo;gut&rdquo; f\xfcr 5 \xa4</body></html>")},
	}
	for name, f := range tests {
		t.Run(name, func(t *testing.T) {
			threads, err := ingest.Read(f, ingest.Options{})
			require.NoError(t, err)
			assert.Equal(t, text, threads[0].Posts[0].Text)
		})
	}
}

// posted reads a pasted thread with a post for each date.
func posted(t *testing.T, dates ...string) []time.Time {
	t.Helper()
	var b strings.Builder
	for _, d := range dates {
		b.WriteString("quill_9 » " + d + "\nSome text for this post.\n\n")
	}
	thread := readOne(t, "dates.txt", b.String())
	require.Len(t, thread.Posts, len(dates), "%q", dates)
	var out []time.Time
	for _, p := range thread.Posts {
		out = append(out, p.Time)
	}
	return out
}

func TestReadDates(t *testing.T) {
	day := func(h, m, s int) time.Time { return time.Date(2020, 5, 13, h, m, s, 0, time.UTC) }
	tests := map[string]time.Time{
		"2020-05-13T16:05:09Z":            day(16, 5, 9),
		"2020-05-13T16:05:09+02:00":       day(14, 5, 9),
		"2020-05-13 16:05":                day(16, 5, 0),
		"2020/05/13":                      day(0, 0, 0),
		"Wed 13 May 2020 16:05":           day(16, 5, 0),
		"Wednesday, May 13, 2020 4:05 PM": day(16, 5, 0),
		"May 13, 2020 at 12:05 AM":        day(0, 5, 0),
		"13th of May 2020":                day(0, 0, 0),
		"13.05.2020, 16:05":               day(16, 5, 0),
		"05-13-2020, 04:05 PM":            day(16, 5, 0),
		"13/05/2020 at 16:05":             day(16, 5, 0),
		"13-05-20, 16:05":                 day(16, 5, 0),
		"13. Mai 2020 um 16:05 Uhr":       day(16, 5, 0),
		"13 mei 2020 om 16:05":            day(16, 5, 0),
		"13 mai 2020 à 16:05":             day(16, 5, 0),
		"13 de mayo de 2020 a las 16:05":  day(16, 5, 0),
		"13 May 20":                       day(0, 0, 0),
		"16:05, 13 May 2020":              day(16, 5, 0),
		"Wed, 13 May 2020 16:05:09 +0200": day(14, 5, 9),
	}
	for text, want := range tests {
		got := posted(t, text)[0]
		assert.True(t, want.Equal(got), "%q: %v", text, got)
	}
}

func TestReadAmbiguousDates(t *testing.T) {
	date := func(y, m, d int) time.Time { return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC) }
	assert.Equal(t, []time.Time{{}}, posted(t, "03/04/2020"), "nothing tells the order")
	assert.Equal(t, []time.Time{date(2020, 4, 3), date(2020, 4, 13)}, posted(t, "03/04/2020", "13/04/2020"), "another date tells")
	assert.Equal(t, []time.Time{date(2020, 3, 4), date(2020, 3, 13)}, posted(t, "03/04/2020", "03/13/2020"), "another date tells")
	assert.Equal(t, []time.Time{date(2020, 1, 12), date(2020, 2, 5)}, posted(t, "12/01/2020", "05/02/2020"), "posts follow one another")
	assert.Equal(t, []time.Time{date(2020, 4, 4)}, posted(t, "04/04/2020"), "either way the same day")
}

func TestReadKeyWithoutAddress(t *testing.T) {
	data := "quill_9 » 3 May 2020 06:51\nRuns dry after ten minutes.\n"
	key := readOne(t, "a.txt", data).Key
	assert.Regexp(t, `^post:quill_9:2020-05-03T06:51:00Z:[0-9a-f]{16}$`, key)
	assert.Equal(t, key, readOne(t, "b.txt", data+"\nbrassnut » 4 May 2020 06:51\nFoot valve.\n").Key, "an answer changes nothing")
	assert.NotEqual(t, key, readOne(t, "a.txt", strings.Replace(data, "ten", "two", 1)).Key)
}

func TestReadCanonicalAddress(t *testing.T) {
	tests := map[string]string{
		"https://Board.Example/t/7?utm_source=a&page=3#post-2": "https://board.example/t/7",
		"https://board.example/viewtopic?t=5502&start=20":      "https://board.example/viewtopic?t=5502",
		"https://board.example/t/7/page-4":                     "https://board.example/t/7",
		"http://board.example:80/?p=12":                        "http://board.example?p=12",
		"javascript:alert(1)":                                  "",
	}
	for raw, want := range tests {
		thread := readOne(t, "n.md", "---\nurl: \""+raw+"\"\n---\n\nRelay replaced.\n")
		assert.Equal(t, want, thread.URL, raw)
	}
}

// annotated is what the annotation of a write-up says that readers and masking can be held against.
type annotated struct {
	dir, file string
	data      []byte
	Posts     int
	Masked    []string
	Cases     []struct{ Reporter string }
}

// annotatedThreads loads the annotated write-ups that lie beside the repository; a test without them is skipped.
func annotatedThreads(t *testing.T) []annotated {
	t.Helper()
	files, err := filepath.Glob(filepath.Join("..", "..", "shared", "data", "threads", "*", "thread.*"))
	require.NoError(t, err)
	if len(files) == 0 {
		t.Skip("no annotated write-ups in ../shared/data/threads beside the repository")
	}
	var out []annotated
	for _, name := range files {
		var a annotated
		gold, err := os.ReadFile(filepath.Join(filepath.Dir(name), "gold.json"))
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(gold, &a))
		a.dir, a.file = filepath.Base(filepath.Dir(name)), filepath.Base(name)
		a.data, err = os.ReadFile(name)
		require.NoError(t, err)
		out = append(out, a)
	}
	return out
}

func TestAnnotatedThreadsAreReadWhole(t *testing.T) {
	right, all := 0, annotatedThreads(t)
	for _, a := range all {
		thread := readOne(t, a.file, string(a.data))
		checkThreads(t, []ingest.Thread{thread})
		if len(thread.Posts) == a.Posts {
			right++
		} else {
			t.Logf("%s: %d posts, annotated %d", a.dir, len(thread.Posts), a.Posts)
		}
		for _, c := range a.Cases {
			assert.True(t, slices.ContainsFunc(thread.Posts, func(p ingest.Post) bool { return p.Author == c.Reporter }), "%s: no post by %s", a.dir, c.Reporter)
		}
	}
	t.Logf("number of posts right in %d of %d", right, len(all))
	assert.Equal(t, len(all), right)
}

func TestAnnotatedPersonalDataIsMasked(t *testing.T) {
	text, tooMuch := 0, 0
	for _, a := range annotatedThreads(t) {
		thread := readOne(t, a.file, string(a.data))
		out, err := json.Marshal(thread)
		require.NoError(t, err)
		clean := string(a.data)
		for _, secret := range a.Masked {
			assert.NotContains(t, string(out), secret, a.dir)
			if !strings.Contains(secret, "@") { // addresses stand in headers that have to stay
				clean = strings.ReplaceAll(clean, secret, "somebody")
			}
		}
		for _, p := range readOne(t, a.file, clean).Posts { // what is still masked was masked for nothing
			text += len(p.Text)
			for _, r := range p.Regions {
				if r.Kind == ingest.RegionMasked && r.Name != ingest.MaskedEmail {
					tooMuch += 20
					t.Logf("%s: a %s masked in %q", a.dir, r.Name, p.Text[max(0, r.Start-30):min(len(p.Text), r.End+30)])
				}
			}
		}
	}
	t.Logf("about %d of %d bytes masked without need (20 a place)", tooMuch, text)
	assert.LessOrEqual(t, tooMuch*1000, text*2)
}

func TestQuestionsAreReadAsText(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("..", "..", "shared", "data", "qa", "questions.json"))
	if err != nil {
		t.Skip("no questions in ../shared/data/qa beside the repository")
	}
	var questions []map[string]any
	require.NoError(t, json.Unmarshal(data, &questions))
	read := 0
	for _, q := range questions {
		for _, value := range q {
			text, ok := value.(string)
			if !ok || strings.TrimSpace(text) == "" {
				continue
			}
			for _, name := range []string{"q.txt", "q.md", "q.html"} {
				threads, err := ingest.Read(ingest.File{Name: name, Data: []byte(text)}, ingest.Options{})
				if err == nil {
					checkThreads(t, threads)
					read++
				}
			}
		}
	}
	assert.Greater(t, read, len(questions))
}
