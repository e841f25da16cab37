package casebook_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/kb"
)

// said is one post of a saved page: who, when (the clock of 1 March 2024, or a whole date), what.
type said struct{ who, when, what string }

const threadAddress = "https://brisk.example/t/cold-van"

// page saves posts as a page of the thread: its address tells which.
func page(n int, posts ...said) ingest.File {
	address := threadAddress
	if n > 1 {
		address += fmt.Sprintf("?page=%d", n)
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<!DOCTYPE html><html><head><title>Cold van, P1B77</title><link rel="canonical" href="%s"></head><body><h1>Cold van, P1B77</h1>`, address)
	for _, p := range posts {
		when := p.when
		if !strings.Contains(when, "T") {
			when = "2024-03-01T" + when + ":00Z"
		}
		fmt.Fprintf(&b, `<article class="post"><h4 class="author">%s</h4><time datetime="%s">%s</time><div class="body"><p>%s</p></div></article>`, p.who, when, when, p.what)
	}
	b.WriteString("</body></html>")
	return writeup(fmt.Sprintf("page-%d.html", n), b.String())
}

var (
	asks    = said{"quillfeather", "09:00", "2019 Halden Brisk 3 with code P1B77 stored and no cabin heat at all. The heater fuse is good, I checked it."}
	advises = said{"larch_lane", "10:00", "You could look at the heater relay, it sits behind the glove box and is easy to reach."}
	tries   = said{"quillfeather", "11:00", "Replaced the heater fuse anyway, no change whatsoever."}
	cures   = said{"quillfeather", "12:00", "Replaced the heater relay and that fixed it. Heat is back and the code stays away."}
	thanks  = said{"larch_lane", "13:00", "Good to hear that, thank you for telling us how it went."}
)

// kept gives the texts of a stored thread in order.
func kept(t *testing.T, b *casebook.Book, key string) (texts []string) {
	t.Helper()
	w, err := b.Writeup(t.Context(), kb.WriteupKey(key))
	require.NoError(t, err)
	for _, p := range w.Posts {
		texts = append(texts, p.Text)
	}
	return texts
}

func wordsOf(posts ...said) (texts []string) {
	for _, p := range posts {
		texts = append(texts, p.what)
	}
	return texts
}

// A thread may come in pieces and in any order: no post is lost or doubled, and its case is read from all of them.
func TestPagesOfOneThreadReadOneAfterTheOther(t *testing.T) {
	one, two := page(1, asks, advises, tries), page(2, cures, thanks)
	tests := []struct {
		name  string
		files []ingest.File
	}{
		{"page 2 after page 1", []ingest.File{one, two}},
		{"page 1 after page 2", []ingest.File{two, one}},
		{"overlapping pages", []ingest.File{one, page(2, tries, cures, thanks)}},
		{"overlapping pages, last first", []ingest.File{page(2, tries, cures, thanks), one}},
		{"each page twice", []ingest.File{one, one, two, two, one}},
		{"longer version later", []ingest.File{one, page(1, asks, advises, tries, cures, thanks)}},
		{"shorter version later", []ingest.File{page(1, asks, advises, tries, cures, thanks), one}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := open(t, t.TempDir())
			for _, f := range tt.files {
				add(t, b, false, f)
			}
			assert.Equal(t, wordsOf(asks, advises, tries, cures, thanks), kept(t, b, threadAddress))
			n, err := b.Count(t.Context())
			require.NoError(t, err)
			require.Equal(t, 1, n.Cases[kb.Draft])
			again := add(t, b, false, tt.files...)
			for _, a := range again {
				assert.Equal(t, casebook.EffectSame, a.Effect)
				assert.Equal(t, kb.Closed, a.Case.Status)
				assert.Len(t, a.Case.Fixes, 2)
			}
		})
	}
}

// An outcome that is added later closes the case that was open; the history keeps both readings.
func TestALongerVersionClosesTheCase(t *testing.T) {
	b := open(t, t.TempDir())
	first := add(t, b, false, page(1, asks, advises, tries))
	require.Len(t, first, 1)
	require.Equal(t, kb.Open, first[0].Case.Status)
	later := add(t, b, false, page(1, asks, advises, tries, cures))
	require.Len(t, later, 1)
	assert.Equal(t, casebook.EffectUpdated, later[0].Effect)
	assert.Equal(t, first[0].Case.ID, later[0].Case.ID)
	assert.Equal(t, kb.Closed, later[0].Case.Status)
	v, err := b.Show(t.Context(), first[0].Case.ID)
	require.NoError(t, err)
	assert.Len(t, v.History, 2)
}

// Of an edited post the new words count; the old ones stay in the log.
func TestAnEditedPostKeepsItsFormerText(t *testing.T) {
	b := open(t, t.TempDir())
	add(t, b, false, page(1, asks, advises, tries))
	edited := tries
	edited.what = "Replaced the heater fuse anyway, no change whatsoever. Edit: the relay was it, replaced the heater relay and that fixed it."
	got := add(t, b, false, page(1, asks, advises, edited))
	require.Len(t, got, 1)
	assert.Equal(t, kb.Closed, got[0].Case.Status)
	assert.Equal(t, wordsOf(asks, advises, edited), kept(t, b, threadAddress))
	n, err := b.Count(t.Context())
	require.NoError(t, err)
	assert.Equal(t, 4, n.Posts, "three posts, one of them in two versions")
}

// Without an address a thread is known again by its title and its posts, even when the first one was edited.
func TestAnEditedWriteupWithoutAnAddressIsTheSameOne(t *testing.T) {
	b := open(t, t.TempDir())
	first := add(t, b, false, writeup("a.md", relayText))
	later := strings.Replace(relayText, "no cabin heat.", "no cabin heat. Fuse F4 tested good.", 1)
	got := add(t, b, false, writeup("a.md", later))
	require.Len(t, got, 1)
	assert.Equal(t, first[0].Case.ID, got[0].Case.ID)
	assert.Equal(t, casebook.EffectUpdated, got[0].Effect)
	assert.Equal(t, casebook.EffectSame, add(t, b, false, writeup("b.md", later))[0].Effect)
	n, err := b.Count(t.Context())
	require.NoError(t, err)
	assert.Equal(t, 1, n.Writeups)

	other := strings.Replace(relayText, "quillfeather", "larch_lane", 1)
	assert.Equal(t, casebook.EffectNew, add(t, b, false, writeup("c.md", other))[0].Effect, "another writer's under the same title stays apart")
}

// Pages given in one call are joined before their cases are read: one case, one revision, in any order of the files.
func TestPagesOfOneThreadReadTogether(t *testing.T) {
	one, two, three := page(1, asks, advises), page(2, tries, cures), page(3, cures, thanks)
	one.Data = []byte(strings.Replace(string(one.Data), "</body>", `<a href="?page=3">3</a></body>`, 1))
	other := writeup("other.md", strings.Replace(relayText, "quillfeather", "larch_lane", 1))
	for _, list := range [][]ingest.File{{one, two, other, three}, {three, other, one, two}, {two, two, other, three, one}} {
		b := open(t, t.TempDir())
		var reports []casebook.FileReport
		err := b.Add(t.Context(), vera, files(list...), casebook.AddOptions{}, func(r casebook.FileReport) error {
			require.NoError(t, r.Err)
			reports = append(reports, r)
			return nil
		})
		require.NoError(t, err)
		require.Len(t, reports, 2)
		require.Len(t, reports[1].Cases, 1)
		assert.Equal(t, casebook.EffectNew, reports[1].Cases[0].Effect)
		assert.Equal(t, kb.Closed, reports[1].Cases[0].Case.Status)
		assert.Len(t, reports[1].More, len(list)-2)
		assert.Equal(t, list[0].Name, reports[1].File)
		assert.Equal(t, wordsOf(asks, advises, tries, cures, thanks), kept(t, b, threadAddress))
		v, err := b.Show(t.Context(), reports[1].Cases[0].Case.ID)
		require.NoError(t, err)
		assert.Len(t, v.History, 1)
		whole(t, b)
	}
}

// A fault of the program while one file is read is that file's error and stops nothing else.
func TestAFaultWhileReadingIsTheFilesError(t *testing.T) {
	r := casebook.ReadFile(ingest.File{Name: "a.md", Data: []byte(relayText)}, ingest.Options{}, nil)
	require.Error(t, r.Err)
	assert.Equal(t, kb.Internal, kb.KindOf(r.Err))
	assert.ErrorContains(t, r.Err, "a.md")
	assert.Empty(t, r.Drafts)
}
