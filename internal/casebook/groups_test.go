package casebook_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// grouped makes a case from JSON over one that shares nothing with others.
func grouped(t *testing.T, id, over string) kb.Case {
	t.Helper()
	c := kb.Case{ID: kb.CaseID(id), Machine: kb.Machine{Make: "halden", Model: "brisk 3", Year: 2019}, Codes: []kb.CodeEntry{{Code: "P1B77"}},
		Fixes: []kb.Fix{{Action: kb.Replace, Component: "heater relay", Outcome: kb.Fixed}}, Status: kb.Closed, ClosedAs: kb.Repaired}
	require.NoError(t, json.Unmarshal([]byte("{"+over+"}"), &c))
	return c
}

func TestGroups(t *testing.T) {
	const (
		run      = `"machine":{"make":"halden","model":"brisk 3","odometer":{"value":81200,"unit":"km"}}`
		shorter  = `"machine":{"kind":"van","make":"halden","model":"brisk 3","variant":"long","odometer":{"value":81.2,"unit":"km"}}`
		reading  = `"tests":[{"test":"coil resistance","component":"heater relay","result":"fail","reading":{"value":84,"unit":"ohm"}}]`
		judged   = `"tests":[{"test":"coil resistance","component":"heater relay","result":"fail"}]`
		otherFix = `"fixes":[{"action":"repair","component":"heater fuse","outcome":"fixed"}]`
	)
	for name, c := range map[string]struct {
		a, b string
		same bool
	}{
		"nothing but a common repair":                 {``, ``, false},
		"the same tests too, without a figure":        {judged, judged, false},
		"one write-up, different repairs":             {`"sources":[{"writeup":"w1"}]`, `"sources":[{"writeup":"w2"},{"writeup":"w1"}],` + otherFix, true},
		"different write-ups at one address":          {`"sources":[{"writeup":"w1","url":"https://a.example"}]`, `"sources":[{"writeup":"w2","url":"https://a.example"}]`, false},
		"one address, no write-up kept":               {`"sources":[{"url":"https://a.example/1"}]`, `"sources":[{"url":"https://a.example/1/"}],` + otherFix, true},
		"one odometer":                                {run, run, true},
		"one odometer, told by another in more words": {run + `,"reporter":"anna","contributor":"x"`, `"machine":{"kind":"van","make":"halden","model":"brisk 3","year":2019,"odometer":{"value":81200,"unit":"km"}}`, true},
		"another odometer":                            {run, shorter, false},
		"one odometer, another culprit":               {run, run + "," + otherFix, false},
		"one reading":                                 {reading, reading, true},
		"one reading, another culprit":                {reading, reading + "," + otherFix, false},
		"one title and content":                       {`"title":"Cold van"`, `"title":"cold  van"`, true},
		"titles differ":                               {`"title":"Cold van"`, `"title":"Cold feet"`, false},
	} {
		got := casebook.Groups([]kb.Case{grouped(t, "a", c.a), grouped(t, "b", c.b)})
		assert.Equal(t, c.same, got[0] == got[1], name)
	}
}

// What joins one to another joins in chains, also over ids that are no case any more.
func TestGroupsAreChains(t *testing.T) {
	list := []kb.Case{grouped(t, "a", `"sources":[{"writeup":"w1"}]`), grouped(t, "b", ``), grouped(t, "c", `"sources":[{"writeup":"w1"},{"writeup":"w2"}]`),
		grouped(t, "d", ``), grouped(t, "e", `"sources":[{"writeup":"w2"}]`), grouped(t, "f", ``)}
	assert.Equal(t, []int{0, 1, 0, 2, 0, 3}, casebook.Groups(list))
	assert.Equal(t, []int{0, 1, 0, 1, 0, 0}, casebook.Groups(list, [2]kb.CaseID{"gone", "b"}, [2]kb.CaseID{"d", "gone"}, [2]kb.CaseID{"f", "e"}))
	assert.Empty(t, casebook.Groups(nil))
}

// Who is together does not depend on the order of the cases, and everything that shares a write-up is together.
func TestGroupsWhateverTheOrder(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var list []kb.Case
		for i := range rapid.IntRange(1, 12).Draw(rt, "cases") {
			c := grouped(t, fmt.Sprint("c", i), "")
			for _, w := range rapid.SliceOfN(rapid.IntRange(0, 8), 0, 2).Draw(rt, "write-ups") {
				c.Sources = append(c.Sources, kb.Source{Writeup: kb.WriteupKey(fmt.Sprint("w", w))})
			}
			list = append(list, c)
		}
		order := rapid.Permutation(list).Draw(rt, "order")
		got, other := casebook.Groups(list), casebook.Groups(order)
		at := func(c kb.Case) int { return slices.IndexFunc(order, func(o kb.Case) bool { return o.ID == c.ID }) }
		for i, a := range list {
			for j, b := range list {
				if (got[i] == got[j]) != (other[at(a)] == other[at(b)]) {
					rt.Fatalf("%s and %s: together in one order only", a.ID, b.ID)
				}
				for _, s := range a.Sources {
					if slices.Contains(b.Sources, s) && got[i] != got[j] {
						rt.Fatalf("%s and %s share %s and are apart", a.ID, b.ID, s.Writeup)
					}
				}
			}
		}
	})
}
