package casebook_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/kb/rank"
)

// stock imports n closed cases of one code with four culprits.
func stock(t *testing.T, b *casebook.Book, n int) {
	t.Helper()
	parts := []string{"heater relay", "heater fuse", "heater relay", "heater wiring harness", "coolant pump"}
	var lines []string
	for i := range n {
		lines = append(lines, closedRecord(fmt.Sprintf("c%04d", i), parts[i%7%len(parts)]))
	}
	_, err := b.Import(t.Context(), vera, records(lines...), casebook.ImportOptions{})
	require.NoError(t, err)
}

// first gives the probability of the first answer to the usual question.
func first(t *testing.T, b *casebook.Book) float64 {
	t.Helper()
	c, err := b.Understand(cold)
	require.NoError(t, err)
	a, err := b.Ask(t.Context(), c)
	require.NoError(t, err)
	require.NotEmpty(t, a.Fixes)
	return a.Fixes[0].Probability
}

// strongly is a record of constants under which the level above counts as a hundred cases.
func strongly(t *testing.T) string {
	t.Helper()
	p := rank.DefaultParams()
	for l := range p.K {
		p.K[l] = 100
	}
	data, err := rank.EncodeParams(p)
	require.NoError(t, err)
	return `{"v":1,"date":"2025-01-01","constants":` + string(data) + `}`
}

func value(t *testing.T, m casebook.ModelInfo, name string) float64 {
	t.Helper()
	for _, c := range m.Constants {
		if c.Name == name {
			return c.Value
		}
	}
	require.Fail(t, "no constant "+name)
	return 0
}

func TestRefitPutsConstantsIntoForceForEveryFollower(t *testing.T) {
	dir := t.TempDir()
	b, other := open(t, dir), open(t, dir)
	stock(t, b, 40)
	before, err := b.ModelInfo(t.Context())
	require.NoError(t, err)
	assert.True(t, before.BuiltIn)
	assert.Len(t, before.Constants, len(rank.Constants()))
	_, err = b.Refit(t.Context(), anna, casebook.RefitOptions{})
	assert.Equal(t, kb.Forbidden, kb.KindOf(err))
	first(t, other)

	got, err := b.Refit(t.Context(), vera, casebook.RefitOptions{})
	require.NoError(t, err)
	whole(t, b)
	assert.False(t, got.BuiltIn)
	assert.Equal(t, "vera", got.By)
	assert.Equal(t, "2025-03-01", got.Date)
	assert.Equal(t, []int{40, 40}, []int{got.Cases, got.Questions})
	assert.Equal(t, []int64{40, 41}, []int64{got.LogPosition, got.Revision})
	assert.True(t, got.Nested)
	require.Len(t, got.Changes, 1)
	change := got.Changes[0]
	assert.Equal(t, []any{"P1B77", 40, "heater relay"}, []any{change.Code, change.Cases, change.Leader})
	assert.Positive(t, change.Before)
	assert.Positive(t, change.After)

	info, err := other.ModelInfo(t.Context())
	require.NoError(t, err)
	assert.Equal(t, got.ModelInfo, info)
	assert.InDelta(t, first(t, b), first(t, other), 1e-12)
	assert.InDelta(t, first(t, b), first(t, open(t, dir)), 1e-12, "opened afresh")
	again, err := b.Refit(t.Context(), vera, casebook.RefitOptions{})
	require.NoError(t, err)
	assert.Equal(t, got.Constants, again.Constants, "a refit depends on nothing but the cases")
}

func TestRefitNeedsCases(t *testing.T) {
	b := open(t, t.TempDir())
	_, err := b.Refit(t.Context(), vera, casebook.RefitOptions{})
	assert.Equal(t, kb.Conflict, kb.KindOf(err))
	info, err := b.ModelInfo(t.Context())
	require.NoError(t, err)
	assert.True(t, info.BuiltIn)
}

// Constants that this program cannot use leave those before in force, for whoever follows and whoever opens; Verify tells.
func TestUnusableConstantsStopNothing(t *testing.T) {
	for name, body := range map[string]string{
		"a newer version": `{"v":2,"constants":{}}`,
		"a new constant":  `{"v":1,"constants":{"delta":1}}`,
		"out of range":    `{"v":1,"constants":{"lambda":7}}`,
		"another shape":   `[1,2]`,
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			b := open(t, dir)
			stock(t, b, 10)
			usual := first(t, b)
			require.NoError(t, casebook.PutModel(t.Context(), b, strongly(t)))
			strong := first(t, b)
			assert.Less(t, strong, usual)
			whole(t, b)
			require.NoError(t, casebook.PutModel(t.Context(), b, body))
			for _, b := range []*casebook.Book{b, open(t, dir)} {
				assert.InDelta(t, strong, first(t, b), 1e-12)
				info, err := b.ModelInfo(t.Context())
				require.NoError(t, err)
				assert.InDelta(t, 100, value(t, info, "K code"), 0)
			}
			problems, err := b.Verify(t.Context())
			require.NoError(t, err)
			require.Len(t, problems, 1)
			assert.Equal(t, "model", problems[0].Part)
			assert.Contains(t, problems[0].What, "revision 12 cannot be used")
			require.NoError(t, casebook.PutModel(t.Context(), b, strongly(t)))
			whole(t, b)
		})
	}
}

// A kept evidence table that was made under other constants is not taken over.
func TestKeptEvidenceFollowsTheConstants(t *testing.T) {
	dir := t.TempDir()
	b := open(t, dir)
	stock(t, b, 2100) // enough to be kept
	usual := first(t, b)
	require.NoError(t, casebook.PutModel(t.Context(), b, strongly(t)))
	afresh := first(t, open(t, dir)) // meets the table that was kept before
	strong := first(t, b)
	assert.NotEqual(t, usual, strong)
	assert.InDelta(t, strong, afresh, 1e-12)
	assert.InDelta(t, strong, first(t, open(t, dir)), 1e-12)
}
