package casebook_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

func drawFacts(t *rapid.T, who string) casebook.SheetFacts {
	f := casebook.SheetFacts{Name: rapid.SampledFrom([]string{"white van", "blue van"}).Draw(t, who+" name"), Case: kb.Case{V: kb.Version, Status: kb.Open}}
	f.Customer = rapid.SampledFrom([]string{"", "the bakery", "the dairy"}).Draw(t, who+" customer")
	for i := range rapid.IntRange(0, 3).Draw(t, who+" tests") {
		f.Case.Tests = append(f.Case.Tests, kb.Test{Test: rapid.SampledFrom([]string{"a", "b", "c", "d"}).Draw(t, fmt.Sprint(who, i)), Component: "heater relay", Result: kb.Pass})
	}
	f.Case.Tests = slices.CompactFunc(f.Case.Tests, func(x, y kb.Test) bool { return x.Test == y.Test })
	return f
}

func testNames(f casebook.SheetFacts) (out []string) {
	for _, x := range f.Case.Tests {
		out = append(out, x.Test)
	}
	return out
}

// Three-way joining: what only one side changed is that side's; of a list what either added is in; a field that both changed and nobody chose
// for is refused; and each choice gives that side's field.
func TestSettlingIsAThreeWayMerge(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		base, mine, theirs := drawFacts(t, "base"), drawFacts(t, "mine"), drawFacts(t, "theirs")
		onlyMine, err := mine.Settle(base, base, nil)
		require.NoError(t, err)
		require.Equal(t, mine, onlyMine)
		onlyTheirs, err := base.Settle(base, theirs, nil)
		require.NoError(t, err)
		require.Equal(t, theirs, onlyTheirs)

		list, err := mine.Differences(base, theirs)
		require.NoError(t, err)
		choose := map[string]casebook.SheetChoice{}
		open := false
		for _, d := range list {
			if d.Usual == "" {
				open = true
				choose[d.Field] = rapid.SampledFrom([]casebook.SheetChoice{casebook.TakeMine, casebook.TakeTheirs}).Draw(t, d.Field)
			}
		}
		if _, err := mine.Settle(base, theirs, nil); open {
			require.Equal(t, kb.Invalid, kb.KindOf(err))
		}
		out, err := mine.Settle(base, theirs, choose)
		require.NoError(t, err)
		for _, side := range []casebook.SheetFacts{mine, theirs} {
			for _, x := range testNames(side) {
				if !slices.Contains(testNames(base), x) {
					require.Contains(t, testNames(out), x, "nothing that was added is lost")
				}
			}
		}
		if choose["customer"] == casebook.TakeMine {
			require.Equal(t, mine.Customer, out.Customer)
		}
		again, err := out.Settle(theirs, theirs, nil) // saving the outcome over theirs is no conflict
		require.NoError(t, err)
		require.Equal(t, out, again)
	})
}

func TestSettlingRefusesWhatCannotBe(t *testing.T) {
	base := casebook.SheetFacts{Name: "a", Case: kb.Case{V: kb.Version, Status: kb.Open}}
	mine, theirs := base, base
	mine.Name, theirs.Name = "b", "c"
	_, err := mine.Settle(base, theirs, map[string]casebook.SheetChoice{"name": casebook.TakeBoth})
	require.Error(t, err)
	assert.Contains(t, err.Error(), "name")
	mine.Case.Machine.Year, theirs.Case.Machine.Year = 2019, 2020
	_, err = mine.Settle(base, theirs, map[string]casebook.SheetChoice{"name": casebook.TakeMine, "case.machine": "whatever"})
	require.Error(t, err)
}
