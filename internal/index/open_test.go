package index_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/index"
	"ruledout/kb"
)

func reopen(t *testing.T, dir string, voc *kb.Vocabulary) (*index.Index, bool) {
	t.Helper()
	x, fresh, err := index.Open(dir, voc)
	require.NoError(t, err)
	return x, fresh
}

func TestPositionStays(t *testing.T) {
	dir := t.TempDir()
	x, fresh := reopen(t, dir, vocabulary(t))
	assert.True(t, fresh)
	assert.Zero(t, x.Position())
	require.NoError(t, x.Apply(t.Context(), []index.Doc{{ID: "c1", Title: "relay", Pos: 3}}, nil, 0))
	assert.Zero(t, x.Position(), "a first step of several")
	require.NoError(t, x.Close())

	x, fresh = reopen(t, dir, vocabulary(t))
	assert.True(t, fresh, "it was not filled to the end")
	require.NoError(t, x.Apply(t.Context(), []index.Doc{{ID: "c2", Title: "fuse", Pos: 5}}, nil, 6))
	require.NoError(t, x.Close())

	x, fresh = reopen(t, dir, vocabulary(t))
	defer x.Close()
	assert.False(t, fresh)
	assert.Equal(t, int64(6), x.Position())
	assert.Equal(t, []string{"c1"}, find(t, x, "relay"))
	revisions, err := x.Revisions(t.Context())
	require.NoError(t, err)
	assert.Equal(t, map[string]int64{"c1": 3, "c2": 5}, revisions)
}

func TestOtherWordsMakeItAnew(t *testing.T) {
	dir := t.TempDir()
	x, _ := reopen(t, dir, vocabulary(t))
	require.NoError(t, x.Apply(t.Context(), []index.Doc{{ID: "c1", Title: "relay"}}, nil, 6))
	require.NoError(t, x.Close())

	x, fresh := reopen(t, dir, vocabulary(t, "symptoms: [{systems: [engine], items: [{name: stall}]}]"))
	defer x.Close()
	assert.True(t, fresh)
	assert.Zero(t, x.Position())
	n, err := x.Count()
	require.NoError(t, err)
	assert.Zero(t, n)
}

func TestHeldByAnother(t *testing.T) {
	dir := t.TempDir()
	x, _ := reopen(t, dir, vocabulary(t))
	require.NoError(t, x.Apply(t.Context(), []index.Doc{{ID: "c1", Title: "relay"}}, nil, 6))
	for _, voc := range []*kb.Vocabulary{vocabulary(t), vocabulary(t, "symptoms: [{systems: [engine], items: [{name: stall}]}]")} {
		_, _, err := index.Open(dir, voc)
		require.ErrorContains(t, err, "another process has the index open")
		assert.Equal(t, kb.Unavailable, kb.KindOf(err))
	}
	assert.Equal(t, []string{"c1"}, find(t, x, "relay"), "nothing was deleted")
	require.NoError(t, x.Close())
	x, fresh := reopen(t, dir, vocabulary(t))
	assert.False(t, fresh)
	require.NoError(t, x.Close())
}

// TestDamaged breaks every file of an index, one at a time, in several ways.
func TestDamaged(t *testing.T) {
	breaks := map[string]func(path string) error{
		"empty": func(path string) error { return os.WriteFile(path, nil, 0o600) },
		"short": func(path string) error { return os.Truncate(path, 200) },
		"garbage": func(path string) error {
			return os.WriteFile(path, []byte("this was a file once, and is none any more"), 0o600)
		},
		"gone": os.Remove,
	}
	for name, damage := range breaks {
		for _, pattern := range []string{"index_meta.json", "store/root.bolt", "store/*.zap"} {
			t.Run(name+" "+filepath.Base(pattern), func(t *testing.T) {
				dir := t.TempDir()
				require.NoError(t, os.WriteFile(filepath.Join(dir, "letter.txt"), []byte("mine"), 0o600))
				x, _ := reopen(t, dir, vocabulary(t))
				require.NoError(t, x.Apply(t.Context(), []index.Doc{{ID: "c1", Title: "relay"}}, nil, 6))
				require.NoError(t, x.Close())
				files, err := filepath.Glob(filepath.Join(dir, pattern))
				require.NoError(t, err)
				require.NotEmpty(t, files)
				for _, f := range files {
					require.NoError(t, damage(f))
				}

				x, fresh := reopen(t, dir, vocabulary(t))
				defer x.Close()
				assert.True(t, fresh)
				require.NoError(t, x.Apply(t.Context(), []index.Doc{{ID: "c2", Title: "relay"}}, nil, 7))
				assert.Equal(t, []string{"c2"}, find(t, x, "relay"))
				assert.FileExists(t, filepath.Join(dir, "letter.txt"), "only files of the index are deleted")
			})
		}
	}
}

func TestApply(t *testing.T) {
	x := open(t, t.TempDir())
	var docs []index.Doc
	for n := range 2500 { // more than two batches
		docs = append(docs, index.Doc{ID: fmt.Sprintf("c%04d", n), Title: "relay", Pos: int64(n)})
	}
	require.NoError(t, x.Apply(t.Context(), docs, nil, 2500))
	for range 2 { // the same again changes nothing
		require.NoError(t, x.Apply(t.Context(), []index.Doc{{ID: "c0001", Title: "fuse", Pos: 2501}}, []string{"c0002", "never"}, 2502))
		ids, err := x.IDs(t.Context())
		require.NoError(t, err)
		assert.Len(t, ids, 2499)
		assert.Equal(t, []string{"c0000", "c0001", "c0003"}, ids[:3])
		assert.Equal(t, []string{"c0001"}, find(t, x, "fuse"))
		r, err := x.Search(t.Context(), index.Query{Text: "relay"})
		require.NoError(t, err)
		assert.Equal(t, 2498, r.Total)
	}
	n, err := x.Count()
	require.NoError(t, err)
	assert.Equal(t, 2499, n)
	assert.Equal(t, int64(2502), x.Position())

	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	require.ErrorIs(t, x.Apply(ctx, docs, nil, 9999), context.Canceled)
	assert.Equal(t, int64(2502), x.Position())
}
