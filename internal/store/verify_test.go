package store_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/store"
	"ruledout/internal/testkit"
	"ruledout/kb"
)

// TestVerifyFinds breaks a sound store past its guards, one way at a time: each must be found by the check made for it.
func TestVerifyFinds(t *testing.T) {
	for name, test := range map[string]struct{ damage, check, where string }{
		"an entry altered":          {"UPDATE revisions SET actor = 'somebody' WHERE pos = 2", "log", "position 2"},
		"a time altered":            {"UPDATE revisions SET at = at + 1 WHERE pos = 2", "log", "position 2"},
		"an entry lost":             {"DELETE FROM revisions WHERE pos = 4", "log", "position 5"},
		"the last entry lost":       {"DELETE FROM revisions WHERE pos = 6", "log", "position 6"},
		"the counter set back":      {"UPDATE log_position SET pos = 5", "log", "position 5"},
		"a hash forged":             {"UPDATE log_position SET hash = 'x'", "log", "position 6"},
		"an old revision current":   {"UPDATE cases SET pos = 2 WHERE id = 'c1'", "cases", "case c1"},
		"a proposal forgotten":      {"UPDATE cases SET proposal_pos = NULL WHERE id = 'c2'", "cases", "case c2"},
		"a wrong time":              {"UPDATE cases SET created = 0 WHERE id = 'c1'", "cases", "case c1"},
		"a case lost":               {"DELETE FROM cases WHERE id = 'c2'", "cases", "case c2"},
		"a state not that of it":    {"UPDATE cases SET state = 'draft' WHERE id = 'c2'", "contents", "case c2"},
		"a code lost":               {"DELETE FROM case_codes WHERE case_id = 'c1' AND code = 'P0420'", "contents", "case c1"},
		"a code of another":         {"UPDATE case_codes SET issuer = 'ostrand' WHERE case_id = 'c1' AND code = 'P1B77'", "contents", "case c1"},
		"a family":                  {"UPDATE case_codes SET family = 'P99' WHERE case_id = 'c1' AND code = 'P0420'", "contents", "case c1"},
		"a write-up of a case lost": {"DELETE FROM case_writeups", "contents", "case c1"},
		"a redirect lost":           {"DELETE FROM redirects", "redirects", "case c3"},
		"a redirect in a circle":    {"UPDATE redirects SET new_id = 'c3'", "redirects", "case c3"},
		"a redirect too many":       {"INSERT INTO redirects VALUES ('c1', 'c2', 1)", "redirects", "case c1"},
		"a title altered":           {"UPDATE writeups SET title = 'x'", "write-ups", "write-up w1"},
		"a post altered":            {"UPDATE posts SET body = 'the relay sticks' WHERE n = 1", "posts", "write-up w1, post 1, position 1"},
		"a post and its hash":       {"UPDATE posts SET hash = 'x' WHERE n = 1", "posts", "write-up w1, post 1, position 1"},
		"a post lost":               {"DELETE FROM posts WHERE n = 2", "write-ups", "write-up w1"},
		"a write-up lost":           {"DELETE FROM writeups", "write-ups", "write-up w1"},
		"evidence without words":    {"DELETE FROM posts WHERE n = 1", "evidence", "case c1"},
		"a row without its parent":  {"INSERT INTO case_codes VALUES ('c9', 'obd', '', '', '')", "database", "table case_codes"},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "book.db")
			s := open(t, path)
			fill(t, s)
			testkit.Sound(t, s)
			db := raw(t, path)
			for _, guard := range []string{"revisions_no_update", "revisions_no_delete", "posts_no_update", "posts_no_delete"} {
				_, err := db.Exec("DROP TRIGGER " + guard)
				require.NoError(t, err)
			}
			_, err := db.Exec(test.damage)
			require.NoError(t, err)

			problems, err := s.Verify(t.Context())
			require.NoError(t, err)
			var found []string
			for _, p := range problems {
				assert.NotEmpty(t, p.Detail)
				found = append(found, p.Check+" | "+p.Where)
			}
			assert.Contains(t, found, test.check+" | "+test.where, "%v", problems)
		})
	}
}

// fill makes six revisions of every kind that has a current state.
func fill(t *testing.T, s *store.Store) {
	c1, c2, c3 := testkit.Case("c1"), testkit.Case("c2"), testkit.Case("c3")
	c1.Fixes[0].Evidence = []kb.Evidence{{Writeup: "w1", Post: 1, Start: 4, End: 9, Quote: "relay"}, {Writeup: "elsewhere", Post: 1, Quote: "unknown"}}
	changed := c1
	changed.Title = "Heater relay sticks"
	proposal := testkit.Entry(c2, "propose")
	proposal.Kind = store.EntryProposal
	c3.State = kb.Merged
	merged := testkit.Entry(c3, "merge")
	merged.Target = "c2"
	require.NoError(t, s.Update(t.Context(), func(tx *store.Tx) error {
		_, _, err := tx.PutWriteup(testkit.Thread("w1", "the relay clicks", "so it does"), testkit.When(0), "mira")
		for _, e := range []store.Entry{testkit.Entry(c1, "add"), testkit.Entry(c2, "add"), testkit.Entry(changed, "correct"), proposal, merged} {
			if err == nil {
				_, err = tx.Append(e)
			}
		}
		return err
	}))
}

// TestVerifyDamagedFile overwrites pages in the middle of the file.
func TestVerifyDamagedFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	s, err := store.Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	fill(t, s)
	require.NoError(t, s.Close())
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	require.NoError(t, err)
	_, err = f.WriteAt(make([]byte, 8192), 4096*4)
	require.NoError(t, err)
	require.NoError(t, f.Close())

	s = open(t, path)
	problems, err := s.Verify(t.Context())
	require.NoError(t, err)
	require.NotEmpty(t, problems)
	assert.Contains(t, problems[0].String(), "database: file: ")
}
