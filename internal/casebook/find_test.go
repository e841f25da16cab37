package casebook_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
)

// A search tells its demands on fields, each with the search that is left without it, and whether it had to be loosened.
func TestFindTellsItsDemands(t *testing.T) {
	b := open(t, t.TempDir())
	_, err := b.Import(t.Context(), vera, records(closedRecord("r1", "heater relay"), closedRecord("r2", "heater fuse")), casebook.ImportOptions{})
	require.NoError(t, err)
	found, err := b.Find(t.Context(), `heater  make: halden "heater relay" -component:"heater fuse"`, casebook.FindOptions{})
	require.NoError(t, err)
	assert.Equal(t, []casebook.Demand{
		{Field: "make", Value: "halden", Without: `heater  "heater relay" -component:"heater fuse"`},
		{Field: "component", Value: "heater fuse", Not: true, Without: `heater  make: halden "heater relay"`},
	}, found.Demands)
	assert.False(t, found.Loosened)
	found, err = b.Find(t.Context(), "heater turbocharger", casebook.FindOptions{})
	require.NoError(t, err)
	assert.True(t, found.Loosened)
	assert.NotEmpty(t, found.Hits)
	assert.Empty(t, found.Demands)
}
