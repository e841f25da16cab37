package store_test

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/store"
	"ruledout/internal/testkit"
	"ruledout/kb"
)

// raw opens the file of a casebook past the store.
func raw(t *testing.T, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	require.NoError(t, err)
	t.Cleanup(func() { db.Close() })
	return db
}

func TestAppendOnly(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	s := open(t, path)
	require.NoError(t, s.Update(t.Context(), func(tx *store.Tx) error {
		_, _, err := tx.PutWriteup(testkit.Thread("w1", "text"), testkit.When(0), "mira")
		return err
	}))
	db := raw(t, path)
	for _, change := range []string{"UPDATE revisions SET actor = 'x'", "DELETE FROM revisions", "UPDATE posts SET body = 'x'", "DELETE FROM posts",
		"DELETE FROM revisions WHERE pos = 1"} {
		_, err := db.Exec(change)
		require.ErrorContains(t, err, "append-only", change)
	}
	testkit.Sound(t, s)
}

// TestKilled copies the files of an open store, as they would stand on disk after the process was killed.
func TestKilled(t *testing.T) {
	dir, later := t.TempDir(), t.TempDir()
	s := open(t, filepath.Join(dir, "book.db"))
	for n := range 5 {
		testkit.Append(t, s, testkit.Entry(testkit.Case(kb.CaseID(fmt.Sprint("c", n))), "add"))
	}
	require.NoError(t, s.Update(t.Context(), func(tx *store.Tx) error {
		_, err := tx.Append(testkit.Entry(testkit.Case("c9"), "add"))
		require.NoError(t, err)
		return os.CopyFS(later, os.DirFS(dir)) // in the middle of a change
	}))
	for _, opt := range []store.Options{{ReadOnly: true}, {}} {
		again, err := store.Open(t.Context(), filepath.Join(later, "book.db"), opt)
		require.NoError(t, err)
		pos, err := again.Position(t.Context())
		require.NoError(t, err)
		assert.Equal(t, int64(5), pos)
		testkit.Sound(t, again)
		require.NoError(t, again.Close())
	}
}

func TestReopen(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a book #1?.db") // no character of a name may be taken for a setting
	for n := range 3 {
		s, err := store.Open(t.Context(), path, store.Options{})
		require.NoError(t, err)
		assert.Equal(t, int64(n+1), testkit.Append(t, s, testkit.Entry(testkit.Case("c1"), "add")))
		require.NoError(t, s.Close())
	}
	assert.FileExists(t, path)
	assert.NoFileExists(t, path+"-wal", "the last to close leaves one file")
}

func TestReadOnly(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	_, err := store.Open(t.Context(), path, store.Options{ReadOnly: true})
	assert.Equal(t, kb.NotFound, kb.KindOf(err))
	s := open(t, path)
	testkit.Append(t, s, testkit.Entry(testkit.Case("c1"), "add"))

	r, err := store.Open(t.Context(), path, store.Options{ReadOnly: true})
	require.NoError(t, err)
	defer r.Close()
	err = r.Update(t.Context(), func(*store.Tx) error { return nil })
	require.ErrorContains(t, err, "read only")
	assert.Equal(t, kb.Unavailable, kb.KindOf(err))
	testkit.Append(t, s, testkit.Entry(testkit.Case("c2"), "add"))
	_, err = r.Case(t.Context(), "c2")
	require.NoError(t, err, "it sees what others write")
	testkit.Sound(t, r)
}

// TestReadOnlyFolder has a store in a place that takes no files. Permissions do not bind the administrator.
func TestReadOnlyFolder(t *testing.T) {
	if os.Geteuid() == 0 {
		t.Skip("permissions do not bind this user")
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "book.db")
	s, err := store.Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	testkit.Append(t, s, testkit.Entry(testkit.Case("c1"), "add"))
	require.NoError(t, s.Close())
	require.NoError(t, os.Chmod(path, 0o400))
	require.NoError(t, os.Chmod(dir, 0o500))
	t.Cleanup(func() { os.Chmod(dir, 0o700) })

	_, err = store.Open(t.Context(), filepath.Join(dir, "new.db"), store.Options{})
	assert.Equal(t, kb.Unavailable, kb.KindOf(err), "%v", err)
	r, err := store.Open(t.Context(), path, store.Options{ReadOnly: true})
	require.NoError(t, err)
	defer r.Close()
	_, err = r.Case(t.Context(), "c1")
	require.NoError(t, err)
	w, err := store.Open(t.Context(), path, store.Options{})
	if err == nil {
		defer w.Close()
		err = w.Update(t.Context(), func(tx *store.Tx) error { _, err := tx.Append(testkit.Entry(testkit.Case("c2"), "add")); return err })
	}
	assert.Equal(t, kb.Unavailable, kb.KindOf(err), "%v", err)
}

func TestNoCasebook(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "letter.txt")
	require.NoError(t, os.WriteFile(text, []byte(strings.Repeat("Dear reader, this is no database.\n", 99)), 0o600))
	other := filepath.Join(dir, "other.db")
	db := raw(t, other)
	_, err := db.Exec("CREATE TABLE stamps (id INTEGER PRIMARY KEY)")
	require.NoError(t, err)
	before, err := os.ReadFile(other)
	require.NoError(t, err)

	for name, test := range map[string]struct {
		path, message string
		kind          kb.Kind
	}{
		"text":      {text, "no casebook", kb.Invalid},
		"other":     {other, "another program's database", kb.Invalid},
		"folder":    {dir, "this is a folder", kb.Invalid},
		"no folder": {filepath.Join(dir, "none", "book.db"), "no such folder", kb.NotFound},
	} {
		for _, readOnly := range []bool{false, true} {
			_, err := store.Open(t.Context(), test.path, store.Options{ReadOnly: readOnly})
			require.ErrorContains(t, err, test.message, name)
			assert.Equal(t, test.kind, kb.KindOf(err), name)
			assert.Contains(t, err.Error(), test.path, name)
		}
	}
	after, err := os.ReadFile(other)
	require.NoError(t, err)
	assert.Equal(t, before, after, "another program's file is not touched")
}

func TestNewerSchema(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	s, err := store.Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	_, err = raw(t, path).Exec("INSERT INTO goose_db_version (version_id, is_applied) VALUES (999, 1)")
	require.NoError(t, err)
	_, err = store.Open(t.Context(), path, store.Options{})
	require.ErrorContains(t, err, "a newer version of this program wrote this casebook (schema 999")
	assert.Equal(t, kb.Conflict, kb.KindOf(err))
}

// A casebook of the first schema is brought up to date when it is opened for writing, and keeps what it holds.
func TestOlderSchema(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	s, err := store.Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	testkit.Append(t, s, testkit.Entry(testkit.Case("c1"), "add"))
	require.NoError(t, s.Close())
	later := []string{"sheet_photos", "sheet_notes", "sheet_members", "sheet_revisions", "sheets", "sessions", "links", "accounts"}
	changes := []string{"DROP INDEX writeups_title", "DELETE FROM goose_db_version WHERE version_id > 1"}
	for _, table := range later {
		changes = append(changes, "DROP TABLE "+table)
	}
	for _, change := range changes {
		_, err = raw(t, path).Exec(change)
		require.NoError(t, err)
	}
	_, err = store.Open(t.Context(), path, store.Options{ReadOnly: true})
	require.ErrorContains(t, err, "open it for writing once")
	s = open(t, path)
	_, err = s.Case(t.Context(), "c1")
	require.NoError(t, err)
	testkit.Sound(t, s)
}

func TestOpenedByManyAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	var all sync.WaitGroup
	for range 6 {
		all.Go(func() {
			s, err := store.Open(t.Context(), path, store.Options{})
			if assert.NoError(t, err) {
				assert.NoError(t, s.Close())
			}
		})
	}
	all.Wait()
	testkit.Sound(t, open(t, path))
}

func TestBusy(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	open(t, path)
	db := raw(t, path)
	other, err := db.Conn(t.Context())
	require.NoError(t, err)
	defer other.Close()
	_, err = other.ExecContext(t.Context(), "BEGIN IMMEDIATE")
	require.NoError(t, err)

	s, err := store.Open(t.Context(), path, store.Options{BusyTimeout: time.Millisecond})
	require.NoError(t, err, "one can open and read while another writes")
	defer s.Close()
	err = s.Update(t.Context(), func(*store.Tx) error { return nil })
	require.ErrorContains(t, err, "another process is writing")
	assert.Equal(t, kb.Unavailable, kb.KindOf(err))
	_, err = other.ExecContext(context.Background(), "ROLLBACK")
	require.NoError(t, err)
	testkit.Append(t, s, testkit.Entry(testkit.Case("c1"), "add"))
}

func TestDiskFull(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "book.db"))
	testkit.Append(t, s, testkit.Entry(testkit.Case("c1"), "add"))
	require.NoError(t, s.LimitPages(40))
	long := testkit.Case("c2")
	long.Title = strings.Repeat("relay ", 100_000)
	err := s.Update(t.Context(), func(tx *store.Tx) error { _, err := tx.Append(testkit.Entry(long, "add")); return err })
	require.ErrorContains(t, err, "the disk is full")
	assert.Equal(t, kb.Unavailable, kb.KindOf(err))

	err = s.Update(t.Context(), func(tx *store.Tx) error {
		_, err := tx.Append(testkit.Entry(long, "add"))
		assert.Error(t, err)
		return nil // a caller that overlooks it
	})
	require.ErrorContains(t, err, "nothing of it was kept")
	assert.Equal(t, int64(2), testkit.Append(t, s, testkit.Entry(testkit.Case("c3"), "add")))
	testkit.Sound(t, s)
}

func TestBackup(t *testing.T) {
	dir := t.TempDir()
	s := open(t, filepath.Join(dir, "book.db"))
	testkit.Append(t, s, testkit.Entry(testkit.Case("c1"), "add"))
	testkit.Append(t, s, testkit.Entry(testkit.Case("c1"), "correct"))
	copied := filepath.Join(dir, "copy.db")
	require.NoError(t, s.Backup(t.Context(), copied))
	assert.Equal(t, kb.Conflict, kb.KindOf(s.Backup(t.Context(), copied)))
	assert.Equal(t, kb.NotFound, kb.KindOf(s.Backup(t.Context(), filepath.Join(dir, "none", "copy.db"))))

	c := open(t, copied)
	all, err := c.History(t.Context(), "c1")
	require.NoError(t, err)
	assert.Len(t, all, 2)
	testkit.Sound(t, c)
	assert.Equal(t, int64(3), testkit.Append(t, c, testkit.Entry(testkit.Case("c2"), "add")))
}

// TestDeletedIsOverwritten looks for the words of a deleted job sheet in the bytes of the file.
func TestDeletedIsOverwritten(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	s, err := store.Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	const words = "the customer at the end of the lane"
	sheet := store.Sheet{ID: "s1", Revision: 1, Body: []byte(`"` + words + `"`), Actor: "mira", Changed: testkit.When(0)}
	require.NoError(t, s.Update(t.Context(), func(tx *store.Tx) error {
		require.NoError(t, tx.AddSheet(sheet, "mira"))
		_, err := tx.AddPhoto("s1", store.Photo{Width: 1, Height: 1, Picture: []byte(strings.Repeat(words, 5000)), Small: []byte(words)})
		return err
	}))
	require.NoError(t, s.Close())
	holds := func() bool {
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		return strings.Contains(string(data), words)
	}
	require.True(t, holds(), "it is there in plain")

	s, err = store.Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	require.NoError(t, s.Update(t.Context(), func(tx *store.Tx) error { return tx.DropSheet("s1") }))
	require.NoError(t, s.Close())
	assert.False(t, holds())
	assert.NoFileExists(t, path+"-wal")
}
