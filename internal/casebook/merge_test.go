package casebook_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// tellings are three tellings of one repair and one of another.
const tellings = `{"v":1,"id":"a","title":"Cold heater","machine":{"kind":"van","make":"Halden","model":"Brisk 3","year":2019},"codes":["P1B77"],"symptoms":["no cabin heat"],"tests":[{"step":1,"test":"coil resistance","component":"heater relay","result":"fail","reading":{"value":300,"unit":"ohm"}}],"fixes":[{"step":2,"action":"replace","component":"heater relay","outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"reported","state":"published","sources":[{"url":"https://sheds.example/1"}]}
{"v":1,"id":"b","machine":{"make":"Halden","model":"Brisk 3","odometer":{"value":84000,"unit":"km"}},"codes":["P1B77"],"symptoms":["no cabin heat","fan works"],"tests":[{"step":3,"test":"road test","component":"heater","result":"pass"}],"fixes":[{"step":1,"action":"replace","component":"heater fuse","outcome":"no change"},{"step":2,"action":"replace","component":"heater relay","outcome":"fixed","part":{"number":"HR-1","origin":"new"}}],"status":"closed","closed_as":"repaired","confirmation":"verified","state":"published","sources":[{"url":"https://barn.example/9"}]}
{"v":1,"id":"c","machine":{"make":"Halden","model":"Brisk 3","variant":"long wheelbase"},"codes":["P1B77"],"fixes":[{"step":1,"action":"replace","component":"heater relay","outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"reported","state":"draft","sources":[{"url":"https://yard.example/4"}]}
{"v":1,"id":"d","machine":{"make":"Halden","model":"Brisk 3"},"codes":["P1B77"],"fixes":[{"step":1,"action":"repair","component":"heater wiring harness","outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"reported","state":"published"}
`

func mergeBook(t *testing.T, dir string) *casebook.Book {
	t.Helper()
	b := open(t, dir)
	_, err := b.Import(t.Context(), fern, strings.NewReader(tellings), casebook.ImportOptions{})
	require.NoError(t, err)
	return b
}

// A merge keeps all that was told, counts once, redirects for ever, and is undone to the byte.
func TestMergingAndBack(t *testing.T) {
	b := mergeBook(t, t.TempDir())
	export := func() string {
		var out bytes.Buffer
		_, err := b.Export(t.Context(), &out, casebook.ExportOptions{})
		require.NoError(t, err)
		return out.String()
	}
	before, counted := export(), culprits(t, b)
	assert.Equal(t, 2, counted["heater relay"])
	_, err := b.Merge(t.Context(), quill, casebook.MergeWish{Into: "a", Others: []kb.CaseID{"b"}})
	assert.Equal(t, kb.Forbidden, kb.KindOf(err))
	c, err := b.Merge(t.Context(), fern, casebook.MergeWish{Into: "a", Others: []kb.CaseID{"b", "c"}, Reason: "one van, told three times"})
	require.NoError(t, err)
	assert.Equal(t, kb.Machine{Kind: "van", Make: "Halden", Model: "Brisk 3", Year: 2019, Variant: "long wheelbase", Odometer: &kb.Measure{Value: 84000, Unit: "km"}}, c.Machine)
	assert.Len(t, c.Sources, 3)
	assert.Len(t, c.Codes, 1)
	assert.Len(t, c.Symptoms, 2)
	assert.Equal(t, kb.Verified, c.Confirmation)
	require.Len(t, c.Fixes, 2)
	assert.Equal(t, []string{"heater relay"}, c.Culprits())
	require.Len(t, c.Proofs(), 1, "the road test still comes after the cure")
	assert.Equal(t, 1, culprits(t, b)["heater relay"], "it counts once")
	for _, id := range []kb.CaseID{"b", "c"} {
		v, err := b.Show(t.Context(), id)
		require.NoError(t, err)
		assert.Equal(t, kb.CaseID("a"), v.Case.ID)
		_, err = b.Merge(t.Context(), fern, casebook.MergeWish{Into: id, Others: []kb.CaseID{"a"}})
		assert.Equal(t, kb.Conflict, kb.KindOf(err), "no circles")
	}
	whole(t, b)
	_, err = b.Unmerge(t.Context(), fern, "b", "two vans")
	require.NoError(t, err)
	_, err = b.Unmerge(t.Context(), fern, "c", "")
	require.NoError(t, err)
	assert.Equal(t, before, export())
	assert.Equal(t, counted, culprits(t, b))
	_, err = b.Unmerge(t.Context(), fern, "c", "")
	assert.Equal(t, kb.Conflict, kb.KindOf(err))
	whole(t, b)
}

// What is edited after a merge stays when it is undone, unless it stands in the way: then the field and its editor are named.
func TestUndoingAfterEdits(t *testing.T) {
	b := mergeBook(t, t.TempDir())
	_, err := b.Merge(t.Context(), fern, casebook.MergeWish{Into: "a", Others: []kb.CaseID{"b"}})
	require.NoError(t, err)
	d := onDesk(t, b, fern, "a")
	d.Case.Title = "A cold heater, once"
	_, err = b.Correct(t.Context(), fern, "a", d.Seen, d.Case, "")
	require.NoError(t, err)
	_, err = b.Merge(t.Context(), fern, casebook.MergeWish{Into: "a", Others: []kb.CaseID{"c"}})
	require.NoError(t, err)
	_, err = b.Unmerge(t.Context(), fern, "b", "")
	require.NoError(t, err)
	v, err := b.Show(t.Context(), "a")
	require.NoError(t, err)
	assert.Equal(t, "A cold heater, once", v.Case.Title, "the edit stays")
	assert.Nil(t, v.Case.Machine.Odometer, "what the other told is gone")
	assert.Equal(t, "long wheelbase", v.Case.Machine.Variant)

	d = onDesk(t, b, fern, "a")
	d.Case.Machine.Year = 2018
	_, err = b.Correct(t.Context(), casebook.Actor{Name: "ash", Role: casebook.Moderator}, "a", d.Seen, d.Case, "")
	require.NoError(t, err)
	_, err = b.Unmerge(t.Context(), fern, "c", "")
	require.Equal(t, kb.Conflict, kb.KindOf(err))
	assert.Contains(t, err.Error(), "machine")
	assert.Contains(t, err.Error(), "ash")
	whole(t, b)
}

// A chosen field is that of the chosen case, and what the moderator has not seen is a conflict.
func TestMergingByChoice(t *testing.T) {
	b := mergeBook(t, t.TempDir())
	seen := map[kb.CaseID]int64{"a": onDesk(t, b, fern, "a").Seen, "b": onDesk(t, b, fern, "b").Seen}
	c, err := b.Merge(t.Context(), fern, casebook.MergeWish{Into: "a", Others: []kb.CaseID{"b"}, Take: map[string]kb.CaseID{"machine": "b", "symptoms": "a"}, Seen: seen})
	require.NoError(t, err)
	assert.Zero(t, c.Machine.Year)
	assert.Len(t, c.Symptoms, 1)
	_, err = b.Merge(t.Context(), fern, casebook.MergeWish{Into: "a", Others: []kb.CaseID{"c"}, Seen: seen})
	var stale *casebook.StaleCase
	require.ErrorAs(t, err, &stale)
	for _, bad := range []casebook.MergeWish{{Into: "a"}, {Into: "a", Others: []kb.CaseID{"a"}}, {Into: "a", Others: []kb.CaseID{"c", "c"}}, {Into: "a", Others: []kb.CaseID{"c"}, Take: map[string]kb.CaseID{"colour": "a"}},
		{Into: "a", Others: []kb.CaseID{"c"}, Take: map[string]kb.CaseID{"machine": "d"}}} {
		_, err := b.Merge(t.Context(), fern, bad)
		assert.Equal(t, kb.Invalid, kb.KindOf(err), "%+v", bad)
	}
	_, err = b.Merge(t.Context(), fern, casebook.MergeWish{Into: "a", Others: []kb.CaseID{"nothing"}})
	assert.Equal(t, kb.NotFound, kb.KindOf(err))
}

// A chain of merges is undone from its end; a follow-up of what was merged away reaches the case that stands for it.
func TestAChainOfMerges(t *testing.T) {
	b := mergeBook(t, t.TempDir())
	for _, w := range []casebook.MergeWish{{Into: "b", Others: []kb.CaseID{"c"}}, {Into: "a", Others: []kb.CaseID{"b"}}} {
		_, err := b.Merge(t.Context(), fern, w)
		require.NoError(t, err)
	}
	v, err := b.Show(t.Context(), "c")
	require.NoError(t, err)
	assert.Equal(t, kb.CaseID("a"), v.Case.ID)
	assert.Len(t, v.Case.Sources, 3)
	_, err = b.Unmerge(t.Context(), fern, "c", "")
	require.Equal(t, kb.Conflict, kb.KindOf(err))
	assert.Contains(t, err.Error(), "undo that first")
	for _, id := range []kb.CaseID{"b", "c"} {
		_, err = b.Unmerge(t.Context(), fern, id, "")
		require.NoError(t, err, id)
	}
	whole(t, b)
}

// Merging in any order, at once or one by one, gives the same case; counting is that of a book that is given the merged case alone; undoing in
// any order gives back what was, to the byte.
func TestMergeOrderDoesNotMatter(t *testing.T) {
	orders := [][]kb.CaseID{{"b", "c", "d"}, {"b", "d", "c"}, {"c", "b", "d"}, {"c", "d", "b"}, {"d", "b", "c"}, {"d", "c", "b"}}
	var once string
	for i, others := range orders {
		b := mergeBook(t, t.TempDir())
		export := func() string {
			var out bytes.Buffer
			_, err := b.Export(t.Context(), &out, casebook.ExportOptions{})
			require.NoError(t, err)
			return out.String()
		}
		before := export()
		for at := 0; at < len(others); {
			n := min(1+(i+at)%3, len(others)-at)
			_, err := b.Merge(t.Context(), fern, casebook.MergeWish{Into: "a", Others: others[at : at+n]})
			require.NoError(t, err)
			at += n
		}
		v, err := b.Show(t.Context(), "a")
		require.NoError(t, err)
		got, err := kb.EncodeCase(v.Case)
		require.NoError(t, err)
		if once == "" {
			once = string(got)
			again := open(t, t.TempDir())
			_, err = again.Import(t.Context(), fern, bytes.NewReader(append(got, '\n')), casebook.ImportOptions{})
			require.NoError(t, err)
			require.Equal(t, culprits(t, again), culprits(t, b))
		}
		require.Equal(t, once, string(got), others)
		for _, id := range orders[(i+4)%len(orders)] {
			_, err := b.Unmerge(t.Context(), fern, id, "")
			require.NoError(t, err)
		}
		require.Equal(t, before, export())
		whole(t, b)
	}
}
