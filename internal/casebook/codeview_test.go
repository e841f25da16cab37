package casebook_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// A code's tests come with what they tell, how long they take and who did them; each cell is what an answer says after that result.
func TestCodeView(t *testing.T) {
	b := open(t, t.TempDir())
	var lines []string
	for i := range 12 {
		culprit, result := "heater relay", "fail"
		if i%3 == 0 {
			culprit, result = "heater fuse", "pass"
		}
		lines = append(lines, fmt.Sprintf(`{"v":1,"id":"c%d","machine":{"kind":"van","make":"Halden","model":"Brisk 3"},"codes":["P1B77-13","P1B77"],"tests":[{"step":1,"test":"coil resistance","component":"heater relay","result":%q,"minutes":12}],`+
			`"fixes":[{"step":2,"action":"replace","component":%q,"outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"verified"}`, i, result, culprit))
	}
	_, err := b.Import(t.Context(), vera, records(lines...), casebook.ImportOptions{})
	require.NoError(t, err)
	v, err := b.CodeView(t.Context(), "P1B77", "halden")
	require.NoError(t, err)
	assert.Equal(t, "Halden", v.Issuer, "as people spell it")
	assert.Equal(t, 12, v.Cases)
	require.NotEmpty(t, v.Answer.Fixes)
	assert.Equal(t, "heater relay", v.Answer.Fixes[0].Component)
	assert.Equal(t, 8, v.Answer.Fixes[0].CaseCount, "a case with two spellings of the code counts once")
	require.NotEmpty(t, v.Tells)
	first := v.Tells[0]
	assert.Equal(t, 12.0, first.Minutes)
	assert.Positive(t, first.GainBits)
	assert.NotEmpty(t, first.Cases)
	for _, tell := range v.Tells {
		for _, result := range []kb.Result{kb.Pass, kb.Fail} {
			a, err := b.Ask(t.Context(), kb.Case{V: kb.Version, Status: kb.Open, Machine: kb.Machine{Make: "Halden"}, Codes: []kb.CodeEntry{{Code: "P1B77"}},
				Tests: []kb.Test{{Test: tell.Test, Component: tell.Component, Result: result}}})
			require.NoError(t, err)
			for _, c := range tell.Cells {
				got := c.Passed
				if result == kb.Fail {
					got = c.Failed
				}
				assert.Positive(t, got, "never quite impossible")
				for _, f := range a.Fixes {
					if f.Component == c.Component {
						assert.Equal(t, f.Probability, got)
					}
				}
			}
		}
	}
}
