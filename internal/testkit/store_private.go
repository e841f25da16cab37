package testkit

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/store"
	"ruledout/kb"
)

// change makes one change that must go well.
func change(t *testing.T, s *store.Store, do func(tx *store.Tx) error) {
	t.Helper()
	require.NoError(t, s.Update(t.Context(), do))
}

// refused makes one change that must be refused with a kind.
func refused(t *testing.T, s *store.Store, want kb.Kind, do func(tx *store.Tx) error) {
	t.Helper()
	err := s.Update(t.Context(), do)
	require.Equal(t, want, kb.KindOf(err), "%v", err)
}

func accountsKept(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	mira := store.Account{Name: "mira", Role: "contributor", Stamp: 1, Created: When(0), Changed: When(0)}
	tove := store.Account{Name: "tove", Role: "administrator", Password: "$x", Stamp: 3, Disabled: true, Created: When(1), Changed: When(1)}
	change(t, s, func(tx *store.Tx) error {
		require.NoError(t, tx.AddAccount(tove))
		return tx.AddAccount(mira)
	})
	refused(t, s, kb.Conflict, func(tx *store.Tx) error { return tx.AddAccount(mira) })
	all, err := s.Accounts(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []store.Account{mira, tove}, all)

	mira.Role, mira.Password, mira.Stamp, mira.Changed = "moderator", "$y", 2, When(5)
	change(t, s, func(tx *store.Tx) error { return tx.SetAccount(mira) })
	got, err := s.Account(t.Context(), "mira")
	require.NoError(t, err)
	assert.Equal(t, mira, got)
	_, err = s.Account(t.Context(), "nobody")
	assert.Equal(t, kb.NotFound, kb.KindOf(err))
	refused(t, s, kb.NotFound, func(tx *store.Tx) error { return tx.SetAccount(store.Account{Name: "nobody"}) })
	assert.Zero(t, position(t, s), "accounts are no part of the log")
	Sound(t, s)
}

func linksAreUsedOnce(t *testing.T, fresh Fresh) {
	open := fresh(t)
	s := open()
	link := store.Link{Hash: "h1", Kind: "invitation", Name: "mira", MadeBy: "tove", Created: When(0), Expires: When(60)}
	other := link
	other.Hash, other.Name = "h2", ""
	change(t, s, func(tx *store.Tx) error {
		require.NoError(t, tx.AddLink(other))
		return tx.AddLink(link)
	})
	got, err := s.Link(t.Context(), "h1")
	require.NoError(t, err)
	assert.Equal(t, link, got)

	var all sync.WaitGroup
	results := make(chan error, 4)
	for range 4 { // four processes at once
		own := open()
		all.Go(func() {
			results <- own.Update(t.Context(), func(tx *store.Tx) error { return tx.UseLink("h1", When(9)) })
		})
	}
	all.Wait()
	close(results)
	used := 0
	for err := range results {
		if err == nil {
			used++
			continue
		}
		assert.Equal(t, kb.Conflict, kb.KindOf(err))
	}
	assert.Equal(t, 1, used)
	change(t, s, func(tx *store.Tx) error {
		require.NoError(t, tx.DropLinks("mira"))
		return tx.DropLinks("")
	})
	got, err = s.Link(t.Context(), "h1")
	require.NoError(t, err, "a used one stays known")
	assert.Equal(t, When(9), got.Used)
	_, err = s.Link(t.Context(), "h2")
	assert.Equal(t, kb.NotFound, kb.KindOf(err))
}

func sessionsExpire(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	put := func(hash, data string, expires, now time.Time) {
		change(t, s, func(tx *store.Tx) error { return tx.PutSession(hash, []byte(data), expires, now) })
	}
	find := func(hash string, now time.Time) string {
		data, found, err := s.Session(t.Context(), hash, now)
		require.NoError(t, err)
		if !found {
			return "none"
		}
		return string(data)
	}
	put("a", "one\x00\xff", When(10), When(0))
	put("a", "two\x00\xff", When(20), When(0))
	put("b", "", When(5), When(0))
	assert.Equal(t, "two\x00\xff", find("a", When(19)))
	assert.Equal(t, "none", find("a", When(20)))
	assert.Empty(t, find("b", When(4)))
	put("c", "x", When(99), When(6))
	assert.Equal(t, "none", find("b", When(4)), "the expired one was swept")
	assert.Equal(t, "two\x00\xff", find("a", When(6)))
	for range 2 {
		change(t, s, func(tx *store.Tx) error { return tx.DropSession("a") })
	}
	assert.Equal(t, "none", find("a", When(6)))
}

func sheet(id, body string, n int) store.Sheet {
	return store.Sheet{ID: id, Revision: 1, Body: []byte(body), Actor: "mira", Changed: When(n), Created: When(n)}
}

func sheetsKept(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	first, second := sheet("s1", `{"n":1}`, 0), sheet("s2", `{}`, 1)
	change(t, s, func(tx *store.Tx) error {
		require.NoError(t, tx.AddSheet(first, "mira"))
		return tx.AddSheet(second, "mira")
	})
	got, err := s.Sheet(t.Context(), "s1")
	require.NoError(t, err)
	assert.Equal(t, first, got)

	next := first
	next.Body, next.Actor, next.Changed = []byte(`{"n":2}`), "tove", When(9)
	change(t, s, func(tx *store.Tx) error {
		revision, err := tx.SaveSheet(next)
		assert.Equal(t, int64(2), revision)
		return err
	})
	refused(t, s, kb.Conflict, func(tx *store.Tx) error { _, err := tx.SaveSheet(next); return err })
	refused(t, s, kb.NotFound, func(tx *store.Tx) error { _, err := tx.SaveSheet(sheet("s9", "{}", 0)); return err })
	next.Revision = 2
	all, err := s.SheetRevisions(t.Context(), "s1")
	require.NoError(t, err)
	assert.Equal(t, []store.Sheet{first, next}, all)
	of, err := s.SheetsOf(t.Context(), "mira")
	require.NoError(t, err)
	assert.Equal(t, []store.Sheet{next, second}, of, "the last changed first")

	change(t, s, func(tx *store.Tx) error { return tx.SubmitSheet("s1", "c1") })
	got, err = s.Sheet(t.Context(), "s1")
	require.NoError(t, err)
	assert.Equal(t, kb.CaseID("c1"), got.CaseID)
	assert.Zero(t, position(t, s), "job sheets are no part of the log")
	Sound(t, s)
}

func sheetMembers(t *testing.T, fresh Fresh) {
	s := fresh(t)()
	change(t, s, func(tx *store.Tx) error {
		require.NoError(t, tx.AddSheet(sheet("s1", "{}", 0), "mira"))
		require.NoError(t, tx.AddMember("s1", "tove"))
		return tx.AddMember("s1", "tove")
	})
	members := func() []string {
		all, err := s.Members(t.Context(), "s1")
		require.NoError(t, err)
		return all
	}
	assert.Equal(t, []string{"mira", "tove"}, members())
	change(t, s, func(tx *store.Tx) error { return tx.RemoveMember("s1", "mira") })
	assert.Equal(t, []string{"tove"}, members())
	of, err := s.SheetsOf(t.Context(), "mira")
	require.NoError(t, err)
	assert.Empty(t, of)
	assert.Error(t, s.Update(t.Context(), func(tx *store.Tx) error { return tx.AddMember("s9", "mira") }), "no such sheet")
	Sound(t, s)
	change(t, s, func(tx *store.Tx) error { return tx.RemoveMember("s1", "tove") })
	problems, err := s.Verify(t.Context())
	require.NoError(t, err)
	assert.Len(t, problems, 1, "nobody can open it")
}

func sheetNotesAndPhotos(t *testing.T, fresh Fresh) {
	open := fresh(t)
	s := open()
	change(t, s, func(tx *store.Tx) error { return tx.AddSheet(sheet("s1", "{}", 0), "mira") })
	var all sync.WaitGroup
	for w := range 2 {
		own := open()
		all.Go(func() {
			for n := range 10 {
				assert.NoError(t, own.Update(t.Context(), func(tx *store.Tx) error {
					_, err := tx.AddNote("s1", store.Note{At: When(n), Author: "mira", Text: fmt.Sprint(w, " ", n)})
					return err
				}))
			}
		})
	}
	all.Wait()
	notes, err := s.Notes(t.Context(), "s1")
	require.NoError(t, err)
	require.Len(t, notes, 20)
	texts := map[string]bool{}
	for i, n := range notes {
		assert.Equal(t, i+1, n.N)
		texts[n.Text] = true
	}
	assert.Len(t, texts, 20, "none lost, none twice")

	photo := store.Photo{At: When(0), Author: "mira", Caption: "fuse", Width: 4, Height: 3, Picture: []byte("\xff\x00big"), Small: []byte("\xffsmall")}
	add := func() (n int) {
		change(t, s, func(tx *store.Tx) (err error) { n, err = tx.AddPhoto("s1", photo); return err })
		return n
	}
	assert.Equal(t, 1, add())
	assert.Equal(t, 2, add())
	got, err := s.Photo(t.Context(), "s1", 2)
	require.NoError(t, err)
	photo.N = 2
	assert.Equal(t, photo, got)
	change(t, s, func(tx *store.Tx) error { return tx.DropPhoto("s1", 2) })
	refused(t, s, kb.NotFound, func(tx *store.Tx) error { return tx.DropPhoto("s1", 2) })
	_, err = s.Photo(t.Context(), "s1", 2)
	assert.Equal(t, kb.NotFound, kb.KindOf(err))
	assert.Equal(t, 3, add(), "a number is not given again")
	list, err := s.Photos(t.Context(), "s1")
	require.NoError(t, err)
	require.Len(t, list, 2)
	assert.Empty(t, list[0].Picture)

	change(t, s, func(tx *store.Tx) error { return tx.DropSheet("s1") })
	_, err = s.Sheet(t.Context(), "s1")
	assert.Equal(t, kb.NotFound, kb.KindOf(err))
	_, err = s.SheetRevisions(t.Context(), "s1")
	assert.Equal(t, kb.NotFound, kb.KindOf(err))
	notes, err = s.Notes(t.Context(), "s1")
	require.NoError(t, err)
	assert.Empty(t, notes)
	Sound(t, s)
}
