package casebook_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

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

func TestASplitCaseCanBePutBackTogether(t *testing.T) {
	b := mergeBook(t)
	mergeInto(t, b, "a", "d")
	v, err := b.Show(t.Context(), "a")
	require.NoError(t, err)
	require.Len(t, v.Case.Fixes, 2)
	parts := []casebook.SplitPart{{Codes: []int{0}, Tests: []int{0}, Fixes: []int{0}}, {Title: "blown fuse", Codes: []int{0}, Fixes: []int{1}}}
	list, err := b.Split(t.Context(), vera, "a", parts, casebook.Seen{"a": v.Pos}, "two visits")
	require.NoError(t, err)
	require.Len(t, list, 2)
	whole(t, b)
	assert.Equal(t, v.Case.Sources, list[1].Sources)
	_, err = b.Unmerge(t.Context(), vera, "d", "")
	require.Equal(t, kb.Conflict, kb.KindOf(err))
	assert.ErrorContains(t, err, "split by vera")
	_, err = b.FollowUp(t.Context(), anna, list[1].ID, kb.FollowUp{Held: true})
	require.NoError(t, err)
	_, err = b.Unmerge(t.Context(), vera, "a", "")
	require.Equal(t, kb.Conflict, kb.KindOf(err))
	assert.ErrorContains(t, err, "follow up by anna")

	again := mergeBook(t)
	mergeInto(t, again, "a", "d")
	list, err = again.Split(t.Context(), vera, "a", parts, nil, "")
	require.NoError(t, err)
	_, err = again.Unmerge(t.Context(), vera, list[1].ID, "")
	require.NoError(t, err)
	v, err = again.Show(t.Context(), list[1].ID)
	require.NoError(t, err)
	assert.Equal(t, kb.CaseID("a"), v.Case.ID)
	_, err = again.Unmerge(t.Context(), vera, "d", "")
	require.NoError(t, err)
	whole(t, again)
	_, err = again.Split(t.Context(), vera, "a", parts[:1], nil, "")
	assert.Equal(t, kb.Invalid, kb.KindOf(err))
}

func TestAnEffectIsWhatTheAnswersThenAre(t *testing.T) {
	b := mergeBook(t)
	q := kb.Case{V: 1, Codes: []kb.CodeEntry{{Code: "P1B77"}}, Machine: kb.Machine{Make: "Halden", Model: "Brisk 3"}}
	pos, err := b.Position(t.Context())
	require.NoError(t, err)
	list, err := b.EffectOf(t.Context(), vera, casebook.Merging(casebook.MergeRequest{Into: "a", Others: []kb.CaseID{"b", "c"}}))
	require.NoError(t, err)
	require.Len(t, list, 1)
	still, err := b.Position(t.Context())
	require.NoError(t, err)
	assert.Equal(t, pos, still, "nothing was written")
	hold := func(which func(casebook.FixEffect) float64) {
		a, err := b.Ask(t.Context(), q)
		require.NoError(t, err)
		for _, f := range list[0].Fixes {
			for _, x := range a.Fixes {
				if x.Component == f.Component {
					assert.InDelta(t, x.Probability, which(f), 1e-9, f.Component)
				}
			}
		}
	}
	hold(func(f casebook.FixEffect) float64 { return f.Before })
	mergeInto(t, b, "a", "b", "c")
	hold(func(f casebook.FixEffect) float64 { return f.After })
	for _, change := range []casebook.Change{casebook.Withdrawing("a", ""), casebook.SendingBack("a", "which year?"), casebook.Unmerging("b", "")} {
		list, err := b.EffectOf(t.Context(), vera, change)
		require.NoError(t, err)
		assert.NotEmpty(t, list)
	}
	_, err = b.EffectOf(t.Context(), anna, casebook.Withdrawing("a", ""))
	assert.Equal(t, kb.Forbidden, kb.KindOf(err))
}

func TestAnEffectOnALargeBookTakesNoLonger(t *testing.T) {
	b := open(t, t.TempDir())
	var lines []string
	for i := range 9000 {
		lines = append(lines, mergeLine(fmt.Sprintf("x%d", i), []string{"heater relay", "fuse", "fan"}[i%3], i%5))
	}
	_, err := b.Import(t.Context(), vera, records(lines...), casebook.ImportOptions{})
	require.NoError(t, err)
	_, err = b.Ask(t.Context(), kb.Case{V: 1, Codes: []kb.CodeEntry{{Code: "P1B77"}}})
	require.NoError(t, err)
	start := time.Now()
	list, err := b.EffectOf(t.Context(), vera, casebook.Merging(casebook.MergeRequest{Into: "x0", Others: []kb.CaseID{"x3"}}))
	require.NoError(t, err)
	t.Log("took", time.Since(start))
	require.NotEmpty(t, list)
	assert.True(t, list[0].Nearest)
}

func TestNewFactsOfAMergedWriteUpWaitBesideTheSurvivor(t *testing.T) {
	b := open(t, t.TempDir())
	one := add(t, b, true, writeup("a.md", relayText))[0].Case
	text := strings.Replace(relayText, "quillfeather", "mossback", 1)
	two := add(t, b, true, writeup("b.md", text))[0].Case
	mergeInto(t, b, one.ID, two.ID)
	before := exported(t, b)
	more := strings.Replace(text, "Replaced the heater relay", "Replaced the heater fuse, no change. Replaced the heater relay", 1)
	also := strings.Replace(relayText, "Replaced the heater relay", "Cleaned the earth strap, no change. Replaced the heater relay", 1)
	for _, file := range []string{more, also} {
		assert.Equal(t, casebook.EffectProposed, add(t, b, false, writeup("again.md", file))[0].Effect)
		assert.Equal(t, before, exported(t, b))
	}
	after, err := b.Accept(t.Context(), vera, one.ID, "")
	require.NoError(t, err)
	assert.Len(t, after.Sources, 2, "nothing of the other telling is lost")
	assert.Len(t, after.Fixes, 3, "nor of the other reading")
	whole(t, b)
}

func TestQuotesOfAnUnlicensedSourceStayShortInAMergedCase(t *testing.T) {
	b := open(t, t.TempDir())
	long := strings.Repeat("x", 300)
	line := func(id, licence string) string {
		return fmt.Sprintf(`{"v":1,"id":%q,"codes":[{"code":"P1B77","evidence":[{"writeup":"w%s","post":1,"start":0,"end":300,"quote":%q}]}],"status":"open","state":"published","sources":[{"writeup":"w%s","licence":%q}]}`,
			id, id, long, id, licence)
	}
	_, err := b.Import(t.Context(), vera, records(line("a", "CC BY 4.0"), line("b", "")), casebook.ImportOptions{})
	require.NoError(t, err)
	mergeInto(t, b, "a", "b")
	v, err := b.Show(t.Context(), "a")
	require.NoError(t, err)
	require.Len(t, v.Case.Codes[0].Evidence, 2)
	assert.Len(t, v.Case.Codes[0].Evidence[0].Quote, 300)
	assert.Len(t, v.Case.Codes[0].Evidence[1].Quote, casebook.QuoteLimit)
}

func TestAJobSheetsFollowUpReachesTheCaseThatItsOwnWasMergedInto(t *testing.T) {
	b, c := timed(t)
	_, err := b.Import(t.Context(), vera, records(mergeLine("a", "heater relay", 1)), casebook.ImportOptions{})
	require.NoError(t, err)
	s := job(t, b)
	how := casebook.SheetClosing{Fixed: []kb.Fix{{Action: kb.Replace, Component: "heater relay"}}, Share: &casebook.SheetSharing{}, Days: 30}
	s, err = b.CloseSheet(t.Context(), anna, s.ID, 1, how)
	require.NoError(t, err)
	mergeInto(t, b, "a", s.CaseID)
	c.pass(31 * 24 * time.Hour)
	_, err = b.AnswerReminder(t.Context(), anna, s.ID, casebook.ReminderAnswer{Held: true})
	require.NoError(t, err)
	v, err := b.Show(t.Context(), s.CaseID)
	require.NoError(t, err)
	assert.Equal(t, kb.CaseID("a"), v.Case.ID)
	assert.Equal(t, kb.Verified, v.Case.Held())
	_, err = b.Unmerge(t.Context(), vera, s.CaseID, "")
	require.NoError(t, err, "what was told later of the surviving case stays with it")
	whole(t, b)
}
