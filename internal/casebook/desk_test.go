package casebook_test

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/kb"
)

var (
	quill = casebook.Actor{Name: "quill", Role: casebook.Contributor}
	reed  = casebook.Actor{Name: "reed", Role: casebook.Contributor}
	fern  = casebook.Actor{Name: "fern", Role: casebook.Moderator}
)

const story = "---\nurl: https://sheds.example/p1b77\n---\n# P1B77 on my van\n\nHalden Brisk 3 2019, code P1B77, no cabin heat. Replaced the heater relay and the heat is back.\n"

// handIn hands in a story for quill and gives its case.
func handIn(t *testing.T, b *casebook.Book, text string) kb.CaseID {
	t.Helper()
	var id kb.CaseID
	files := func(yield func(ingest.File, error) bool) {
		yield(ingest.File{Name: "story.md", Data: []byte(text)}, nil)
	}
	opt := casebook.AddOptions{Contributor: "quill", Read: ingest.Options{Licence: "CC BY-SA 4.0"}}
	require.NoError(t, b.Add(t.Context(), quill, files, opt, func(r casebook.FileReport) error {
		require.NoError(t, r.Err)
		require.Len(t, r.Cases, 1)
		id = r.Cases[0].Case.ID
		return nil
	}))
	return id
}

func onDesk(t *testing.T, b *casebook.Book, by casebook.Actor, id kb.CaseID) casebook.Draft {
	t.Helper()
	d, err := b.Draft(t.Context(), by, id)
	require.NoError(t, err)
	return d
}

// A draft is seen by its contributor and moderators, and by nobody else.
func TestWhoSeesADraft(t *testing.T) {
	b := open(t, t.TempDir())
	id := handIn(t, b, story)
	for _, by := range []casebook.Actor{reed, {}, {Name: "quill"}} {
		_, err := b.Draft(t.Context(), by, id)
		assert.Equal(t, kb.NotFound, kb.KindOf(err), by)
		_, err = b.Correct(t.Context(), by, id, 1, kb.Case{}, "")
		assert.Contains(t, []kb.Kind{kb.NotFound, kb.Forbidden, kb.Conflict}, kb.KindOf(err), by)
	}
	d := onDesk(t, b, quill, id)
	assert.True(t, d.Corrects)
	assert.False(t, d.Decides)
	assert.Equal(t, "quill", d.Case.Contributor)
	assert.Equal(t, "CC BY-SA 4.0", d.Case.Sources[0].Licence)
	require.NotEmpty(t, d.Texts[0].Posts)
	assert.True(t, onDesk(t, b, fern, id).Decides)
	mine, err := b.Mine(t.Context(), quill)
	require.NoError(t, err)
	require.Len(t, mine, 1)
	assert.Equal(t, kb.Draft, mine[0].State)
	others, err := b.Mine(t.Context(), reed)
	require.NoError(t, err)
	assert.Empty(t, others)
}

// Correcting changes facts and nothing else; what a person said has no confidence of a reading, and keeps the words beside it.
func TestCorrectingADraft(t *testing.T) {
	b := open(t, t.TempDir())
	id := handIn(t, b, story)
	d := onDesk(t, b, quill, id)
	facts := d.Case
	facts.Machine.Variant = "long wheelbase"
	facts.ID, facts.State, facts.Contributor, facts.Sources = "x", kb.Published, "reed", nil
	c, err := b.Correct(t.Context(), quill, id, d.Seen, facts, "")
	require.NoError(t, err)
	assert.Equal(t, id, c.ID)
	assert.Equal(t, kb.Draft, c.State, "nobody publishes by correcting")
	assert.Equal(t, "quill", c.Contributor)
	assert.Len(t, c.Sources, 1)
	assert.Zero(t, c.Machine.Confidence)
	assert.NotEmpty(t, c.Machine.Evidence)
	require.NotEmpty(t, c.Fixes)
	assert.Equal(t, d.Case.Fixes[0].Confidence, c.Fixes[0].Confidence, "what stayed keeps it")
	_, err = b.Correct(t.Context(), quill, id, d.Seen, facts, "")
	var stale *casebook.StaleCase
	require.ErrorAs(t, err, &stale)
	d = onDesk(t, b, quill, id)
	_, err = b.Correct(t.Context(), quill, id, d.Seen, d.Case, "")
	assert.Equal(t, kb.Conflict, kb.KindOf(err), "nothing was changed")
	whole(t, b)
}

// A case goes back with a reason, comes again, and is published: from then on moderators alone put it right.
func TestThereAndBackAgain(t *testing.T) {
	b := open(t, t.TempDir())
	id := handIn(t, b, story)
	_, err := b.Decide(t.Context(), quill, id, onDesk(t, b, quill, id).Seen, casebook.DecideAccept, "")
	assert.Equal(t, kb.Forbidden, kb.KindOf(err))
	seen := onDesk(t, b, fern, id).Seen
	_, err = b.Decide(t.Context(), fern, id, seen, casebook.DecideSendBack, " ")
	assert.Equal(t, kb.Invalid, kb.KindOf(err), "a reason is wanted")
	_, err = b.Decide(t.Context(), fern, id, seen, "burn", "")
	assert.Equal(t, kb.Invalid, kb.KindOf(err))
	_, err = b.Decide(t.Context(), fern, id, seen, casebook.DecideSendBack, "which relay?")
	require.NoError(t, err)
	mine, err := b.Mine(t.Context(), quill)
	require.NoError(t, err)
	assert.Contains(t, mine[0].Doubts, "which relay?")
	d := onDesk(t, b, quill, id)
	d.Case.Doubts = nil
	_, err = b.Correct(t.Context(), quill, id, d.Seen, d.Case, "the one by the fuse box")
	require.NoError(t, err)
	_, err = b.Decide(t.Context(), fern, id, onDesk(t, b, fern, id).Seen, casebook.DecideAccept, "")
	require.NoError(t, err)
	d = onDesk(t, b, quill, id)
	assert.False(t, d.Corrects)
	d.Case.Machine.Variant = "short"
	_, err = b.Correct(t.Context(), quill, id, d.Seen, d.Case, "")
	assert.Equal(t, kb.Forbidden, kb.KindOf(err))
	c, err := b.Correct(t.Context(), fern, id, d.Seen, d.Case, "as the photo shows")
	require.NoError(t, err)
	assert.Equal(t, kb.Published, c.State)
	whole(t, b)
}

// Of two moderators at once one decides, and the other is told; nothing is lost.
func TestTwoModeratorsAtOnce(t *testing.T) {
	b := open(t, t.TempDir())
	id := handIn(t, b, story)
	seen := onDesk(t, b, fern, id).Seen
	done := make(chan error, 2)
	go func() { _, err := b.Decide(t.Context(), fern, id, seen, casebook.DecideAccept, ""); done <- err }()
	go func() {
		_, err := b.Decide(t.Context(), casebook.Actor{Name: "ash", Role: casebook.Moderator}, id, seen, casebook.DecideWithdraw, "told twice")
		done <- err
	}()
	first, second := <-done, <-done
	var stale *casebook.StaleCase
	assert.True(t, (first == nil) != (second == nil), "exactly one")
	assert.True(t, errors.As(first, &stale) || errors.As(second, &stale))
	whole(t, b)
}

// A later reading of a published case is put right like a draft, and no longer waits then.
func TestALaterReadingIsPutRight(t *testing.T) {
	b := open(t, t.TempDir())
	id := handIn(t, b, story)
	_, err := b.Accept(t.Context(), fern, id, "")
	require.NoError(t, err)
	require.Equal(t, id, handIn(t, b, story+"\nThe coil of the heater relay had 300 ohm, bad.\n"))
	d := onDesk(t, b, fern, id)
	require.True(t, d.Later)
	d.Case.Machine.Variant = "long wheelbase"
	c, err := b.Correct(t.Context(), fern, id, d.Seen, d.Case, "")
	require.NoError(t, err)
	assert.Equal(t, kb.Published, c.State)
	q, err := b.Queue(t.Context(), 0, 0)
	require.NoError(t, err)
	assert.Empty(t, q.Waiting)
	whole(t, b)
}

// Of cases with as many doubts those come first whose contributor was corrected more often.
func TestTheOftenCorrectedComeFirst(t *testing.T) {
	b := open(t, t.TempDir())
	id := handIn(t, b, story)
	other := casebook.AddOptions{Contributor: "reed"}
	files := func(yield func(ingest.File, error) bool) {
		yield(ingest.File{Name: "b.md", Data: []byte("---\nurl: https://sheds.example/other\n---\n# P1B78 on my van\n\nHalden Brisk 3 2018, code P1B78, no cabin heat. Replaced the heater relay and the heat is back.\n")}, nil)
	}
	require.NoError(t, b.Add(t.Context(), reed, files, other, func(r casebook.FileReport) error { return r.Err }))
	q, err := b.Queue(t.Context(), 0, 0)
	require.NoError(t, err)
	require.Len(t, q.Waiting, 2)
	require.Equal(t, q.Waiting[0].Doubts, q.Waiting[1].Doubts)
	first := q.Waiting[0].ID
	behind := q.Waiting[1]
	d := onDesk(t, b, fern, behind.ID)
	d.Case.Machine.Variant = "long wheelbase"
	_, err = b.Correct(t.Context(), fern, behind.ID, d.Seen, d.Case, "")
	require.NoError(t, err)
	q, err = b.Queue(t.Context(), 0, 0)
	require.NoError(t, err)
	assert.Equal(t, behind.ID, q.Waiting[0].ID)
	assert.Equal(t, 1, q.Waiting[0].Corrected)
	assert.NotEqual(t, first, q.Waiting[0].ID)
	assert.NotEmpty(t, id)
}
