package casebook_test

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/kb"
)

var (
	vera = casebook.Actor{Name: "vera", Role: casebook.Moderator}
	anna = casebook.Actor{Name: "anna", Role: casebook.Contributor}
	rob  = casebook.Actor{Name: "rob", Role: casebook.Reader}
)

// open opens a book with a clock that goes on by a second at every look.
func open(t *testing.T, dir string) *casebook.Book {
	t.Helper()
	now := time.Date(2025, 3, 1, 8, 0, 0, 0, time.UTC)
	b, err := casebook.Open(t.Context(), casebook.Options{Dir: dir, Now: func() time.Time { now = now.Add(time.Second); return now }})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, b.Close()) })
	return b
}

func files(list ...ingest.File) iter.Seq2[ingest.File, error] {
	return func(yield func(ingest.File, error) bool) {
		for _, f := range list {
			if !yield(f, nil) {
				return
			}
		}
	}
}

func writeup(name, text string) ingest.File { return ingest.File{Name: name, Data: []byte(text)} }

const relayText = `---
title: P1B77 and a cold van
author: quillfeather
date: 2024-03-01
---
2019 Halden Brisk 3 with code P1B77 and no cabin heat. Replaced the heater relay and that fixed it.
`

// add reads write-ups and gives what became of each case.
func add(t *testing.T, b *casebook.Book, accept bool, list ...ingest.File) (out []casebook.Added) {
	t.Helper()
	err := b.Add(t.Context(), vera, files(list...), casebook.AddOptions{Accept: accept}, func(r casebook.FileReport) error {
		require.NoError(t, r.Err)
		out = append(out, r.Cases...)
		return nil
	})
	require.NoError(t, err)
	whole(t, b)
	return out
}

// whole checks every invariant; tests call it after each change.
func whole(t *testing.T, b *casebook.Book) {
	t.Helper()
	problems, err := b.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, problems)
}

func records(lines ...string) *strings.Reader { return strings.NewReader(strings.Join(lines, "\n")) }

func closedRecord(id, component string) string {
	return fmt.Sprintf(`{"v":1,"id":%q,"machine":{"kind":"van","make":"Halden","model":"Brisk 3","year":2019},"codes":["P1B77"],"fixes":[{"step":1,"action":"replace","component":%q,"outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"verified"}`, id, component)
}

func leader(t *testing.T, b *casebook.Book, q casebook.Question) string {
	t.Helper()
	c, err := b.Understand(q)
	require.NoError(t, err)
	a, err := b.Ask(t.Context(), c)
	require.NoError(t, err)
	if len(a.Fixes) == 0 {
		return ""
	}
	return a.Fixes[0].Component
}

var cold = casebook.Question{Words: "P1B77", Machine: "Halden Brisk 3 2019"}

func TestADraftDoesNotCountUntilAccepted(t *testing.T) {
	b := open(t, t.TempDir())
	got := add(t, b, false, writeup("a.md", relayText))
	require.Len(t, got, 1)
	assert.Equal(t, casebook.EffectNew, got[0].Effect)
	assert.Empty(t, leader(t, b, cold))
	_, err := b.Accept(t.Context(), anna, got[0].Case.ID, "")
	assert.Equal(t, kb.Forbidden, kb.KindOf(err))
	_, err = b.Accept(t.Context(), vera, got[0].Case.ID, "")
	require.NoError(t, err)
	whole(t, b)
	assert.Equal(t, "heater relay", leader(t, b, cold))
}

func TestReadingAgainDoublesNothing(t *testing.T) {
	b := open(t, t.TempDir())
	first := add(t, b, true, writeup("a.md", relayText))
	again := add(t, b, true, writeup("copy.md", relayText))
	require.Len(t, again, 1)
	assert.Equal(t, casebook.EffectSame, again[0].Effect)
	assert.Equal(t, first[0].Case.ID, again[0].Case.ID)
	n, err := b.Count(t.Context())
	require.NoError(t, err)
	assert.Equal(t, 1, n.Cases[kb.Published])
}

// What a later reading finds in a published case waits beside it; accepting takes it over and keeps what people added.
func TestALaterReadingWaitsBesideThePublishedCase(t *testing.T) {
	b := open(t, t.TempDir())
	// the address identifies the write-up, so that a changed text is the same write-up
	url := strings.Replace(relayText, "author:", "url: https://brisk.example/t/1\nauthor:", 1)
	id := add(t, b, true, writeup("a.md", url))[0].Case.ID
	_, err := b.FollowUp(t.Context(), anna, id, kb.FollowUp{Held: true})
	require.NoError(t, err)
	later := strings.Replace(url, "P1B77 and no cabin heat.", "P1B77 and no cabin heat. Fuse F4 tested good.", 1)
	got := add(t, b, false, writeup("a.md", later))
	require.Len(t, got, 1)
	require.Equal(t, casebook.EffectProposed, got[0].Effect)
	v, err := b.Show(t.Context(), id)
	require.NoError(t, err)
	require.NotNil(t, v.Waiting)
	assert.True(t, v.Counts)
	_, err = b.Accept(t.Context(), vera, id, "new post")
	require.NoError(t, err)
	whole(t, b)
	v, err = b.Show(t.Context(), id)
	require.NoError(t, err)
	assert.Nil(t, v.Waiting)
	assert.Len(t, v.Case.FollowUps, 1)
	assert.Equal(t, "2025-03-01", v.Case.FollowUps[0].Date)
	assert.Equal(t, casebook.EffectSame, add(t, b, false, writeup("a.md", later))[0].Effect)
}

func TestImportIsAllOrNothing(t *testing.T) {
	b := open(t, t.TempDir())
	_, err := b.Import(t.Context(), anna, records(closedRecord("a", "heater relay")), casebook.ImportOptions{})
	assert.Equal(t, kb.Forbidden, kb.KindOf(err))
	r, err := b.Import(t.Context(), vera, records(closedRecord("a", "heater relay"), `{"v":1,"bad":1}`), casebook.ImportOptions{File: "x.jsonl"})
	assert.Equal(t, kb.Invalid, kb.KindOf(err))
	require.Len(t, r.Bad, 1)
	assert.Equal(t, "x.jsonl:2: bad: this field is not known in a case record", r.Bad[0].Error())
	n, err := b.Count(t.Context())
	require.NoError(t, err)
	assert.Zero(t, n.Revisions)
	r, err = b.Import(t.Context(), vera, records(closedRecord("a", "heater relay"), `{"v":1,"bad":1}`), casebook.ImportOptions{KeepGoing: true})
	require.NoError(t, err)
	assert.Equal(t, 1, r.New)
	whole(t, b)
}

func TestExportThenImportIsTheIdentity(t *testing.T) {
	b := open(t, t.TempDir())
	add(t, b, true, writeup("a.md", relayText))
	_, err := b.Import(t.Context(), vera, records(closedRecord("a", "heater fuse"), `{"v":1,"id":"o","codes":["E6"],"status":"open","ext":{"bay":[1,2]}}`), casebook.ImportOptions{Trusted: true})
	require.NoError(t, err)
	var first, second strings.Builder
	n, err := b.Export(t.Context(), &first, casebook.ExportOptions{})
	require.NoError(t, err)
	assert.Equal(t, 3, n)
	other := open(t, t.TempDir())
	_, err = other.Import(t.Context(), vera, strings.NewReader(first.String()), casebook.ImportOptions{})
	require.NoError(t, err)
	_, err = other.Export(t.Context(), &second, casebook.ExportOptions{})
	require.NoError(t, err)
	assert.Equal(t, first.String(), second.String())
	whole(t, other)
}

// A second book on the same folder, as another process would be, follows what the first one changes.
func TestTwoBooksOnOneFolder(t *testing.T) {
	dir := t.TempDir()
	one, two := open(t, dir), open(t, dir)
	_, err := one.Import(t.Context(), vera, records(closedRecord("a", "heater relay")), casebook.ImportOptions{})
	require.NoError(t, err)
	assert.Equal(t, "heater relay", leader(t, two, cold))
	_, err = two.Withdraw(t.Context(), vera, "a", "")
	require.NoError(t, err)
	assert.Empty(t, leader(t, one, cold))
	_, err = two.Find(t.Context(), "relay", casebook.FindOptions{})
	assert.Equal(t, kb.Unavailable, kb.KindOf(err), "the index is held by the first")
}

func TestLostDerivedDataIsBuiltAgain(t *testing.T) {
	dir := t.TempDir()
	b := open(t, dir)
	add(t, b, true, writeup("a.md", relayText))
	require.NoError(t, b.Close())
	require.NoError(t, os.RemoveAll(filepath.Join(dir, "index")))
	b = openAgain(t, dir)
	found, err := b.Find(t.Context(), "relay", casebook.FindOptions{})
	require.NoError(t, err)
	assert.Equal(t, 1, found.Total)
	assert.Equal(t, []string{"replace heater relay"}, found.Hits[0].Cures)
	whole(t, b)
	require.NoError(t, b.Close())
}

func openAgain(t *testing.T, dir string) *casebook.Book {
	t.Helper()
	b, err := casebook.Open(t.Context(), casebook.Options{Dir: dir})
	require.NoError(t, err)
	return b
}

// The evidence snapshot of a big book gives the same answer as the table built afresh, and is not used for another log.
func TestTheSnapshotGivesTheSameAnswer(t *testing.T) {
	dir := t.TempDir()
	b := open(t, dir)
	var lines []string
	for i := range 2100 {
		lines = append(lines, closedRecord(fmt.Sprintf("c%04d", i), []string{"heater relay", "heater fuse", "wiring harness"}[i%3]))
	}
	_, err := b.Import(t.Context(), vera, records(lines...), casebook.ImportOptions{})
	require.NoError(t, err)
	q, err := b.Understand(cold)
	require.NoError(t, err)
	built, err := b.Ask(t.Context(), q)
	require.NoError(t, err)
	require.FileExists(t, filepath.Join(dir, "evidence.cache"))
	kept, err := open(t, dir).Ask(t.Context(), q)
	require.NoError(t, err)
	assert.Equal(t, built, kept)

	other := t.TempDir()
	c := open(t, other)
	_, err = c.Import(t.Context(), vera, records(closedRecord("z", "coolant pump")), casebook.ImportOptions{})
	require.NoError(t, err)
	data, err := os.ReadFile(filepath.Join(dir, "evidence.cache"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(other, "evidence.cache"), []byte("1"+string(data[strings.IndexByte(string(data), '\n'):])), 0o600))
	assert.NotEqual(t, "heater relay", leader(t, open(t, other), cold))
}

func TestAskBatchGoesOnAfterABadLine(t *testing.T) {
	b := open(t, t.TempDir())
	_, err := b.Import(t.Context(), vera, records(closedRecord("a", "heater relay")), casebook.ImportOptions{})
	require.NoError(t, err)
	var got []string
	in := records(`{"v":1,"id":"q1","codes":["P1B77"],"machine":{"make":"Halden"}}`, `{"v":1,"id":"q2","bad":1}`, `{"v":1,"codes":["P1B77"],"status":"done"}`, `{"v":1,"codes":["P1B77"]}`)
	err = b.AskBatch(t.Context(), in, "q.jsonl", func(r casebook.Reply) error {
		got = append(got, fmt.Sprintf("%s %v", r.ID, r.Err != nil))
		return nil
	})
	require.NoError(t, err)
	assert.Equal(t, []string{"q1 false", "q2 true", "3 true", "4 false"}, got)
	stop := errors.New("stop")
	err = b.AskBatch(t.Context(), records(`{"v":1}`, `{"v":1}`), "q", func(casebook.Reply) error { return stop })
	assert.ErrorIs(t, err, stop)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	assert.Error(t, b.AskBatch(ctx, records(`{"v":1}`), "q", func(casebook.Reply) error { return nil }))
}

// UN ECE R100: above 60 V DC or 30 V AC a circuit is high voltage. The reading alone raises the caution.
func TestAReadingRaisesTheHighVoltageCaution(t *testing.T) {
	b := open(t, t.TempDir())
	for reading, want := range map[string]bool{"59 V": false, "61 V": true, "400 V": true, "0.4 kV": true, "48 V": false, "12 ohm": false} {
		q, err := b.Understand(casebook.Question{Words: "P0AA6", Readings: []string{"voltage of fuse = " + reading}})
		require.NoError(t, err)
		q.Codes = nil // the code alone would raise it
		a, err := b.Ask(t.Context(), q)
		require.NoError(t, err)
		var because string
		for _, c := range a.Cautions {
			if c.Hazard == "high voltage" {
				because = strings.Join(c.Because, "; ")
			}
		}
		assert.Equal(t, want, strings.Contains(because, "a reading of"), reading)
	}
}

func TestQuestionsThatCannotBeRead(t *testing.T) {
	b := open(t, t.TempDir())
	for _, q := range []casebook.Question{{Passed: []string{"nonsense"}}, {Tried: []string{"relay"}}, {Readings: []string{"coil of relay"}}} {
		_, err := b.Understand(q)
		assert.Equal(t, kb.Invalid, kb.KindOf(err), "%v", q)
	}
}

func TestReadersMayOnlyRead(t *testing.T) {
	b := open(t, t.TempDir())
	_, err := b.Import(t.Context(), vera, records(closedRecord("a", "heater relay")), casebook.ImportOptions{})
	require.NoError(t, err)
	_, err = b.FollowUp(t.Context(), rob, "a", kb.FollowUp{Held: true})
	assert.Equal(t, kb.Forbidden, kb.KindOf(err))
	_, err = b.CloseCase(t.Context(), rob, "a", casebook.Closing{})
	assert.Equal(t, kb.Forbidden, kb.KindOf(err))
	_, err = b.SendBack(t.Context(), anna, "a", "x")
	assert.Equal(t, kb.Forbidden, kb.KindOf(err))
	_, err = b.Withdraw(t.Context(), anna, "a", "x")
	assert.Equal(t, kb.Forbidden, kb.KindOf(err))
	err = b.Add(t.Context(), rob, files(), casebook.AddOptions{}, nil)
	assert.Equal(t, kb.Forbidden, kb.KindOf(err))
}

func TestQuotesAreCutWithoutALicence(t *testing.T) {
	b := open(t, t.TempDir())
	long := strings.Replace(relayText, "Replaced the heater relay and that fixed it.", "Replaced the heater relay "+strings.Repeat("very carefully ", 40)+"and that fixed it.", 1)
	id := add(t, b, true, writeup("a.md", long))[0].Case.ID
	v, err := b.Show(t.Context(), id)
	require.NoError(t, err)
	for _, f := range v.Case.Fixes {
		for _, e := range f.Evidence {
			assert.LessOrEqual(t, len([]rune(e.Quote)), casebook.QuoteLimit)
		}
	}
	require.NotEmpty(t, v.History)
	assert.Equal(t, "vera", v.History[0].Actor)
}

// A vocabulary in the data folder takes the place of the built-in one; a broken one is named with file and line.
func TestTheVocabularyIsReplaceable(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "vocabulary"), 0o755))
	path := filepath.Join(dir, "vocabulary", "own.yaml")
	require.NoError(t, os.WriteFile(path, []byte("components:\n  - system: heating\n    items:\n      - {name: hot box, also: [heater relay]}\n"), 0o600))
	v, err := casebook.VocabularyIn(dir)
	require.NoError(t, err)
	assert.Equal(t, "hot box", v.CanonicalComponent("heater relay"))
	require.NoError(t, os.WriteFile(path, []byte("components:\n  - colour: red\n"), 0o600))
	_, err = casebook.Open(t.Context(), casebook.Options{Dir: dir})
	require.Error(t, err)
	assert.Contains(t, err.Error(), "own.yaml")
}
