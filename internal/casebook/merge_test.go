package casebook_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

func mergeLine(id, component string, n int) string {
	return fmt.Sprintf(`{"v":1,"id":%q,"title":"cold %s","machine":{"make":"Halden","model":"Brisk 3","year":%d},"codes":["P1B77"],"tests":[{"step":1,"test":"resistance","component":"heater relay","result":"fail"}],`+
		`"fixes":[{"step":%d,"action":"replace","component":%q,"outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"reported","state":"published","sources":[{"url":"https://a%d.example/x"}]}`,
		id, id, 2015+n, n+2, component, n)
}

func mergeBook(t *testing.T) *casebook.Book {
	b := open(t, t.TempDir())
	lines := []string{mergeLine("a", "heater relay", 1), mergeLine("b", "heater relay", 2), mergeLine("c", "heater relay", 3), mergeLine("d", "fuse", 4)}
	_, err := b.Import(t.Context(), vera, records(lines...), casebook.ImportOptions{})
	require.NoError(t, err)
	return b
}

func exported(t require.TestingT, b *casebook.Book) string {
	var out bytes.Buffer
	_, err := b.Export(context.Background(), &out, casebook.ExportOptions{})
	require.NoError(t, err)
	return out.String()
}

func mergeInto(t *testing.T, b *casebook.Book, into kb.CaseID, others ...kb.CaseID) kb.Case {
	c, err := b.Merge(t.Context(), vera, into, others, nil, nil, "the same repair")
	require.NoError(t, err)
	whole(t, b)
	return c
}

func TestMergedCasesCountOnceAndLeadToOne(t *testing.T) {
	b := mergeBook(t)
	c := mergeInto(t, b, "a", "b", "c")
	assert.Len(t, c.Sources, 3)
	assert.Len(t, c.Fixes, 1)
	mergeInto(t, b, "d", "a")
	for _, id := range []kb.CaseID{"a", "b", "c", "d"} {
		v, err := b.Show(t.Context(), id)
		require.NoError(t, err)
		assert.Equal(t, kb.CaseID("d"), v.Case.ID)
	}
	n, err := b.Count(t.Context())
	require.NoError(t, err)
	assert.Equal(t, 1, n.Closed)
	f, err := b.FollowUp(t.Context(), anna, "b", kb.FollowUp{Held: true})
	require.NoError(t, err)
	assert.Equal(t, kb.CaseID("d"), f.ID)
	_, err = b.Merge(t.Context(), vera, "b", []kb.CaseID{"d"}, nil, nil, "")
	assert.Equal(t, kb.Invalid, kb.KindOf(err), "a loop")
	_, err = b.Merge(t.Context(), vera, "d", []kb.CaseID{"a"}, nil, nil, "")
	assert.Equal(t, kb.Conflict, kb.KindOf(err))
	_, err = b.Merge(t.Context(), anna, "d", []kb.CaseID{"a"}, nil, nil, "")
	assert.Equal(t, kb.Forbidden, kb.KindOf(err))
	whole(t, b)
}

func TestUnmergeIsExactInAnyOrder(t *testing.T) {
	b := mergeBook(t)
	before := exported(t, b)
	for _, order := range [][]kb.CaseID{{"b", "c", "d"}, {"d", "c", "b"}, {"c", "b", "d"}} {
		mergeInto(t, b, "a", "b", "c")
		mergeInto(t, b, "a", "d")
		for _, id := range order {
			_, err := b.Unmerge(t.Context(), vera, id, "")
			require.NoError(t, err)
			whole(t, b)
		}
		assert.Equal(t, before, exported(t, b))
	}
}

func TestUnmergeWithoutOneIsAMergeOfTheOthers(t *testing.T) {
	b, other := mergeBook(t), mergeBook(t)
	mergeInto(t, b, "a", "b", "c")
	mergeInto(t, b, "a", "d")
	_, err := b.Unmerge(t.Context(), vera, "b", "")
	require.NoError(t, err)
	mergeInto(t, other, "a", "c", "d")
	assert.Equal(t, exported(t, other), exported(t, b))
}

func TestUnmergeKeepsLaterEditsOrNamesTheOneInTheWay(t *testing.T) {
	b := mergeBook(t)
	mergeInto(t, b, "a", "b")
	_, err := b.FollowUp(t.Context(), anna, "a", kb.FollowUp{Held: true, Date: "2025-02-01"})
	require.NoError(t, err)
	c, err := b.Unmerge(t.Context(), vera, "b", "")
	require.NoError(t, err)
	assert.Equal(t, kb.CaseID("b"), c.ID)
	v, err := b.Show(t.Context(), "a")
	require.NoError(t, err)
	assert.Len(t, v.Case.FollowUps, 1)
	assert.Len(t, v.Case.Sources, 1)

	joined := mergeInto(t, b, "a", "c")
	joined.Fixes[0].Minutes = 90
	line, err := kb.EncodeCase(joined)
	require.NoError(t, err)
	_, err = b.Import(t.Context(), vera, records(string(line)), casebook.ImportOptions{})
	require.NoError(t, err)
	_, err = b.Unmerge(t.Context(), vera, "c", "")
	require.Equal(t, kb.Conflict, kb.KindOf(err))
	assert.ErrorContains(t, err, "fixes: the edit of revision")
	assert.ErrorContains(t, err, "change by vera at 2025-03-01")
	whole(t, b)
}

func TestUnmergeOfAChainStartsAtItsEnd(t *testing.T) {
	b := mergeBook(t)
	before := exported(t, b)
	mergeInto(t, b, "b", "a")
	mergeInto(t, b, "c", "b")
	_, err := b.Unmerge(t.Context(), vera, "a", "")
	require.Equal(t, kb.Conflict, kb.KindOf(err))
	assert.ErrorContains(t, err, "was itself merged into c")
	for _, id := range []kb.CaseID{"b", "a"} {
		_, err = b.Unmerge(t.Context(), vera, id, "")
		require.NoError(t, err)
	}
	assert.Equal(t, before, exported(t, b))
}

func TestOfTwoModeratorsOneIsToldWhatTheOtherDid(t *testing.T) {
	b := mergeBook(t)
	seen := casebook.Seen{}
	cmp, err := b.Compare(t.Context(), "a", "b")
	require.NoError(t, err)
	for _, c := range cmp.Cases {
		seen[c.Case.ID] = c.Pos
	}
	var wait sync.WaitGroup
	errs := make([]error, 2)
	for i := range errs {
		wait.Go(func() {
			_, errs[i] = b.Merge(t.Context(), vera, "a", []kb.CaseID{kb.CaseID("bc"[i : i+1])}, nil, seen, "")
		})
	}
	wait.Wait()
	lost := errors.Join(errs...)
	require.True(t, (errs[0] == nil) != (errs[1] == nil), "%v", errs)
	var stale *casebook.StaleCase
	require.ErrorAs(t, lost, &stale)
	assert.Equal(t, kb.Conflict, kb.KindOf(lost))
	assert.Equal(t, "vera", stale.By)
	assert.Contains(t, stale.Differs, "sources")
}

func TestAMergedBookIsTheSameAfterExportAndImport(t *testing.T) {
	b := mergeBook(t)
	mergeInto(t, b, "b", "a")
	mergeInto(t, b, "c", "b")
	out := exported(t, b)
	again := open(t, t.TempDir())
	_, err := again.Import(t.Context(), vera, strings.NewReader(out), casebook.ImportOptions{})
	require.NoError(t, err)
	whole(t, again)
	assert.Equal(t, out, exported(t, again))
	q := kb.Case{V: 1, Codes: []kb.CodeEntry{{Code: "P1B77"}}, Machine: kb.Machine{Make: "Halden", Model: "Brisk 3"}}
	x, err := b.Ask(t.Context(), q)
	require.NoError(t, err)
	y, err := again.Ask(t.Context(), q)
	require.NoError(t, err)
	x.LogPosition, y.LogPosition = 0, 0
	assert.Equal(t, x, y)
	_, err = again.Unmerge(t.Context(), vera, "a", "")
	assert.Equal(t, kb.Conflict, kb.KindOf(err), "how it was merged is not in an export")
	r, err := b.Import(t.Context(), vera, records(mergeLine("a", "heater relay", 1)), casebook.ImportOptions{})
	require.NoError(t, err)
	assert.Equal(t, 1, r.Kept)
}

func TestNoSequenceOfMergesBreaksTheBook(t *testing.T) {
	ids := []kb.CaseID{"a", "b", "c", "d"}
	rapid.Check(t, func(r *rapid.T) {
		b := mergeBook(t)
		for range rapid.IntRange(1, 8).Draw(r, "steps") {
			id, other := rapid.SampledFrom(ids).Draw(r, "id"), rapid.SampledFrom(ids).Draw(r, "other")
			var err error
			switch rapid.IntRange(0, 3).Draw(r, "what") {
			case 0, 1:
				before := exported(r, b)
				if _, err = b.Merge(t.Context(), vera, id, []kb.CaseID{other}, nil, nil, ""); err == nil && rapid.Bool().Draw(r, "back") {
					_, err = b.Unmerge(t.Context(), vera, other, "")
					require.NoError(r, err)
					require.Equal(r, before, exported(r, b))
				}
			case 2:
				_, err = b.Unmerge(t.Context(), vera, id, "")
			case 3:
				_, err = b.FollowUp(t.Context(), anna, id, kb.FollowUp{Held: true, Date: "2025-01-01"})
			}
			if err != nil {
				require.Contains(r, []kb.Kind{kb.Conflict, kb.Invalid}, kb.KindOf(err), "%v", err)
			}
		}
		whole(t, b)
	})
}

func TestReadingTheWriteUpOfAMergedCaseAgainDoublesNothing(t *testing.T) {
	b := open(t, t.TempDir())
	one := add(t, b, true, writeup("a.md", relayText))[0].Case
	two := add(t, b, true, writeup("b.md", strings.Replace(relayText, "quillfeather", "mossback", 1)))[0].Case
	require.NotEqual(t, one.ID, two.ID)
	mergeInto(t, b, one.ID, two.ID)
	before := exported(t, b)
	assert.Equal(t, casebook.EffectKept, add(t, b, true, writeup("b.md", strings.Replace(relayText, "quillfeather", "mossback", 1)))[0].Effect)
	assert.Equal(t, casebook.EffectSame, add(t, b, true, writeup("a.md", relayText))[0].Effect)
	assert.Equal(t, before, exported(t, b))
}
