package memo_test

import (
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"ruledout/internal/memo"
)

func TestAnswersAreKeptUpToTheirNumber(t *testing.T) {
	asked := map[int]int{}
	m := memo.New[int, string](2)
	for range 3 {
		for n := range 4 {
			require.Equal(t, strconv.Itoa(n), m.Of(n, func(n int) string { asked[n]++; return strconv.Itoa(n) }))
		}
	}
	require.Equal(t, map[int]int{0: 1, 1: 1, 2: 3, 3: 3}, asked)
}

func TestZeroMemoKeepsNothing(t *testing.T) {
	var m memo.Memo[string, int]
	for i := range 2 {
		require.Equal(t, i, m.Of("a", func(string) int { return i }))
	}
}
