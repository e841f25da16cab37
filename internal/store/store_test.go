package store_test

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ruledout/internal/store"
	"ruledout/internal/testkit"
)

func TestSQLite(t *testing.T) {
	testkit.StoreSuite(t, func(t *testing.T) func() *store.Store {
		path := filepath.Join(t.TempDir(), "book.db")
		return func() *store.Store { return open(t, path) }
	})
}

// open opens a store that is closed when the test ends. It waits long for other writers and short where a test wants a
// failure to come soon.
func open(t testing.TB, path string) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), path, store.Options{BusyTimeout: 2 * time.Second})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}
