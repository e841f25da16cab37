package casebook_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/kb/rank"
	"ruledout/kb/rank/score"
)

// pairs gives n cases that only their write-up, shared by two, tells apart: culprit and symptom are of the two alone.
func pairs(n int) []string {
	out := make([]string, n)
	for i := range out {
		line := closedRecord(fmt.Sprintf("c%03d", i), fmt.Sprintf("thing%d", i/2))
		out[i] = strings.Replace(line, `"codes"`, fmt.Sprintf(`"sources":[{"writeup":"w%d"}],"symptoms":["word%d here"],"codes"`, i/2, i/2), 1)
	}
	return out
}

func imported(t *testing.T, lines ...string) *casebook.Book {
	t.Helper()
	b := open(t, t.TempDir())
	_, err := b.Import(t.Context(), vera, records(lines...), casebook.ImportOptions{})
	require.NoError(t, err)
	return b
}

// Nothing that a case shares only with its own write-up may be known to what answers it: not to the model, not to the counts of its code and
// not to the vote by text, to whose index all cases belong.
func TestBacktestNeverLearnsFromTheSameWriteup(t *testing.T) {
	r, err := imported(t, pairs(24)...).Backtest(t.Context(), casebook.BacktestOptions{Folds: 4})
	require.NoError(t, err)
	assert.Equal(t, []int{24, 12, 24}, []int{r.Cases, r.Groups, r.Asked})
	for _, d := range []casebook.Decision{r.Start, r.Bench} {
		for _, s := range []score.Summary{d.Book, d.Frequent, d.Nearest} {
			assert.Equal(t, 24, s.N)
			assert.Zero(t, s.Listed.Count)
			assert.Zero(t, s.MRR)
		}
	}
}

// The other way round: what others tell is found, by all three.
func TestBacktestFindsWhatOthersTell(t *testing.T) {
	lines := pairs(24)
	for i := range lines {
		lines[i] = strings.Replace(lines[i], fmt.Sprintf(`{"writeup":"w%d"}`, i/2), fmt.Sprintf(`{"writeup":"v%d"}`, i), 1)
		lines[i] = strings.Replace(lines[i], "P1B77", fmt.Sprintf("P%04d", 100+i/2), 1)
	}
	r, err := imported(t, lines...).Backtest(t.Context(), casebook.BacktestOptions{Folds: 24, ByCode: 2})
	require.NoError(t, err)
	for _, s := range []score.Summary{r.Start.Book, r.Start.Frequent, r.Start.Nearest} {
		assert.Equal(t, 24, s.Top1.Count, "%+v", s)
	}
	require.Len(t, r.ByCode, 12)
	assert.Equal(t, []any{"P0100", "SAE", 2}, []any{r.ByCode[0].Code, r.ByCode[0].Issuer, r.ByCode[0].Book.N})
	assert.Equal(t, []int{0, 24, 0, 0, 0}, []int{r.Unlisted[0].N, r.Unlisted[1].N, r.Unlisted[2].N, r.Unlisted[3].N, r.Unlisted[4].N})
	assert.Zero(t, r.Unlisted[1].So)
}

// The plain baseline by its own arithmetic: two culprits, named three times and once, leave (3+1)/7, (1+1)/7 and 1/7. Own derivation.
func TestBacktestMostFrequent(t *testing.T) {
	var lines []string
	for i, part := range []string{"heater relay", "heater relay", "heater relay", "heater fuse"} {
		lines = append(lines, strings.Replace(closedRecord(fmt.Sprintf("c%d", i), part), `"codes"`, `"sources":[{"posted":"2024-01-01"}],"codes"`, 1))
	}
	lines = append(lines, strings.Replace(closedRecord("c9", "heater fuse"), `"codes"`, `"sources":[{"posted":"2024-06-01"}],"codes"`, 1))
	r, err := imported(t, lines...).Backtest(t.Context(), casebook.BacktestOptions{AsOf: day(t, "2024-05-31")})
	require.NoError(t, err)
	s := r.Start.Frequent
	assert.Equal(t, 1, s.N)
	assert.InDelta(t, 0.5, s.MRR, 1e-15)
	assert.InDelta(t, 1.2527629684953681, s.LogLoss, 1e-12) // ln 3.5
	assert.InDelta(t, (25+16+1)/49.0, s.Brier, 1e-12)
	assert.InDelta(t, 4.0/7, s.First.Bins[5].Stated, 1e-12)
}

func day(t *testing.T, s string) time.Time {
	t.Helper()
	out, err := time.Parse(time.DateOnly, s)
	require.NoError(t, err)
	return out
}

// Up to a day: that day is learned from; a case without a date counts by when it came in (the book's clock: March 2025); a later one is not
// asked if a part of its write-up was learned from.
func TestBacktestAsOf(t *testing.T) {
	posted := func(id, when, writeup string) string {
		return strings.Replace(closedRecord(id, "heater relay"), `"codes"`, fmt.Sprintf(`"sources":[{"writeup":%q,"posted":%q}],"codes"`, writeup, when), 1)
	}
	b := imported(t, posted("a", "2024-05-31", "w1"), posted("b", "2024-06-01", "w2"), posted("c", "2024-07-01", "w1"), closedRecord("d", "heater relay"))
	r, err := b.Backtest(t.Context(), casebook.BacktestOptions{AsOf: day(t, "2024-05-31")})
	require.NoError(t, err)
	assert.Equal(t, []int{4, 2, 1}, []int{r.Cases, r.Asked, r.LeftOut})
	assert.Equal(t, "learned up to 2024-05-31, asked what came later", r.Split)
	r, err = b.Backtest(t.Context(), casebook.BacktestOptions{AsOf: day(t, "2025-02-28")})
	require.NoError(t, err)
	assert.Equal(t, []int{1, 0}, []int{r.Asked, r.LeftOut})
	for _, d := range []string{"2024-05-30", "2025-03-01"} {
		_, err = b.Backtest(t.Context(), casebook.BacktestOptions{AsOf: day(t, d)})
		assert.Equal(t, kb.NotFound, kb.KindOf(err), d)
	}
}

func TestBacktestRefuses(t *testing.T) {
	b := imported(t, closedRecord("a", "heater relay"))
	_, err := b.Backtest(t.Context(), casebook.BacktestOptions{})
	assert.Equal(t, kb.NotFound, kb.KindOf(err))
	for _, opt := range []casebook.BacktestOptions{{Folds: 1}, {Folds: -3}, {ByCode: -1}, {Nested: true}} {
		_, err := b.Backtest(t.Context(), opt)
		assert.Equal(t, kb.Invalid, kb.KindOf(err), opt)
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	_, err = imported(t, pairs(8)...).Backtest(ctx, casebook.BacktestOptions{})
	assert.ErrorIs(t, err, context.Canceled)
}

// What the constants are fitted on are whole groups, every case is held out once, and parts are of about one size.
func TestBacktestFitsOnTrainingPartsOnly(t *testing.T) {
	b := imported(t, pairs(40)...)
	var mu sync.Mutex
	held := map[kb.CaseID]int{}
	opt := casebook.BacktestOptions{Folds: 5, Nested: true, Fit: func(training []kb.Case, groups []int) (rank.Params, error) {
		mu.Lock()
		defer mu.Unlock()
		assert.Len(t, training, 32)
		assert.Len(t, groups, 32)
		for i := range 40 {
			id := kb.CaseID(fmt.Sprintf("c%03d", i))
			if !slices.ContainsFunc(training, func(c kb.Case) bool { return c.ID == id }) {
				held[id]++
			}
		}
		for i, c := range training {
			j := slices.IndexFunc(training, func(o kb.Case) bool { return o.ID != c.ID && o.Sources[0].Writeup == c.Sources[0].Writeup })
			require.GreaterOrEqual(t, j, 0, "the other half of the write-up is there")
			assert.Equal(t, groups[i], groups[j])
		}
		return rank.DefaultParams(), nil
	}}
	r, err := b.Backtest(t.Context(), opt)
	require.NoError(t, err)
	assert.Len(t, held, 40)
	for id, n := range held {
		assert.Equal(t, 1, n, id)
	}
	assert.Equal(t, "fitted anew on each training part", r.Constants)
	failed := errors.New("no fit")
	opt.Fit = func([]kb.Case, []int) (rank.Params, error) { return rank.Params{}, failed }
	_, err = b.Backtest(t.Context(), opt)
	assert.ErrorIs(t, err, failed)
}

// Long work says how far it has come, up to the end.
func TestBacktestTellsItsProgress(t *testing.T) {
	var last casebook.Progress
	told := 0
	b, err := casebook.Open(t.Context(), casebook.Options{Dir: t.TempDir(), Progress: func(p casebook.Progress) { last, told = p, told+1 }})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, b.Close()) })
	_, err = b.Import(t.Context(), vera, records(pairs(12)...), casebook.ImportOptions{})
	require.NoError(t, err)
	told = 0
	_, err = b.Backtest(t.Context(), casebook.BacktestOptions{Folds: 3})
	require.NoError(t, err)
	assert.Equal(t, casebook.Progress{Work: "asking held-out cases", Done: 12, Total: 12}, last)
	assert.Equal(t, 12, told)
}

// The order in which cases came in changes nothing.
func TestBacktestIsDeterministic(t *testing.T) {
	lines := manyRecords(60)
	backward := slices.Clone(lines)
	slices.Reverse(backward)
	a, err := imported(t, lines...).Backtest(t.Context(), casebook.BacktestOptions{})
	require.NoError(t, err)
	b, err := imported(t, backward...).Backtest(t.Context(), casebook.BacktestOptions{})
	require.NoError(t, err)
	assert.Equal(t, a, b)
}

// What is known at the bench: everything before the culprit shows, and nothing of unknown order.
func TestAtBench(t *testing.T) {
	voc, err := kb.BuiltinVocabulary()
	require.NoError(t, err)
	const cure = `{"step":5,"action":"replace","component":"heater relay","outcome":"fixed"}`
	test := func(step int, component, result string) string {
		return fmt.Sprintf(`{"step":%d,"test":"voltage","component":%q,"result":%q}`, step, component, result)
	}
	for name, c := range map[string]struct{ tests, fixes, want string }{
		"up to the cure":                      {test(1, "coolant pump", "pass") + "," + test(6, "boost hose", "pass"), cure, "1 coolant pump"},
		"not what was done with the cure":     {test(5, "coolant pump", "pass"), cure, ""},
		"not what has no step":                {test(0, "coolant pump", "pass") + "," + test(2, "boost hose", "fail"), cure, "2 boost hose"},
		"up to a failing test of the part":    {test(1, "boost hose", "pass") + "," + test(2, "heater relay", "fail") + "," + test(3, "coolant pump", "pass"), cure, "1 boost hose"},
		"a passing test of the part stays":    {test(1, "heater relay", "pass") + "," + test(2, "coolant pump", "pass"), cure, "1 heater relay,2 coolant pump"},
		"up to a failing test of its whole":   {test(1, "boost hose", "pass") + "," + test(2, "engine", "fail"), strings.Replace(cure, "heater relay", "aircraft engine cylinder", 1), "1 boost hose"},
		"what was tried without cure":         {"", `{"step":2,"action":"replace","component":"heater fuse","outcome":"no change"},{"step":0,"action":"clean","component":"egr valve","outcome":"no change"},` + cure, "2 heater fuse"},
		"what came of it is unknown":          {"", `{"step":2,"action":"replace","component":"heater fuse"},` + cure, ""},
		"the cure has no step":                {test(1, "coolant pump", "pass"), strings.Replace(cure, `"step":5,`, "", 1), ""},
		"the cure has none, a test tells":     {test(1, "coolant pump", "pass") + "," + test(2, "heater relay", "fail"), strings.Replace(cure, `"step":5,`, "", 1), "1 coolant pump"},
		"no proof of an earlier repair":       {test(3, "heater fuse", "pass"), `{"step":2,"action":"replace","component":"heater fuse","outcome":"no change"},` + cure, "2 heater fuse"},
		"a bridge across the part gives away": {test(3, "coolant pump", "pass"), `{"step":2,"action":"bypass","component":"heater relay","outcome":"fixed"},` + cure, ""},
	} {
		var given kb.Case
		require.NoError(t, json.Unmarshal([]byte(fmt.Sprintf(`{"machine":{"make":"halden"},"codes":["P1B77"],"symptoms":["no cabin heat"],"tests":[%s],"fixes":[%s],"status":"closed","closed_as":"repaired",
			"title":"the relay","confirmation":"verified","id":"x","follow_ups":[{"held":true}]}`, c.tests, c.fixes)), &given), name)
		q := casebook.AtBench(&given, voc)
		var got []string
		for _, x := range q.Tests {
			got = append(got, fmt.Sprint(x.Step, " ", x.Component))
		}
		for _, x := range q.Fixes {
			got = append(got, fmt.Sprint(x.Step, " ", x.Component))
		}
		assert.Equal(t, c.want, strings.Join(got, ","), name)
		q.Tests, q.Fixes = nil, nil
		assert.Equal(t, kb.Case{V: 1, Status: kb.Open, Machine: kb.Machine{Make: "halden"}, Codes: given.Codes, Symptoms: given.Symptoms}, q, "nothing else of the case is told")
	}
}

// An answer a 0.5, b 0.3, rest 0.2. Own derivation.
func TestOutcomeOfAnAnswer(t *testing.T) {
	names, p := []string{"a", "b"}, []float64{0.5, 0.3}
	for _, c := range []struct {
		name     string
		culprits []string
		place    int
		right    float64
		brier    float64
	}{
		{"the first", []string{"a"}, 1, 0.5, 0.25 + 0.09 + 0.04},
		{"the second", []string{"b"}, 2, 0.3, 0.49 + 0.25 + 0.04},
		{"any of several is right, with their sum", []string{"b", "a"}, 1, 0.8, 0.04 + 0.04},
		{"one of several is listed", []string{"b", "z"}, 2, 0.3, 0.49 + 0.25 + 0.04},
		{"none is listed: that was foretold too", []string{"z"}, 0, 0.2, 0.64 + 0.25 + 0.09},
	} {
		o := casebook.OutcomeOf(names, p, 0.2, c.culprits...)
		assert.Equal(t, []int{c.place, 2}, []int{o.Place, o.Listed}, c.name)
		assert.InDeltaSlice(t, []float64{0.5, c.right, c.brier}, []float64{o.Top, o.Right, o.Brier}, 1e-15, c.name)
	}
	never := casebook.OutcomeOf([]string{"a", "b"}, []float64{1, 0}, 0, "b")
	assert.Less(t, score.LogLoss([]float64{never.Right}), 800.0, "a probability that underflows leaves the figures finite")
	assert.Equal(t, score.Outcome{Right: 1}, casebook.OutcomeOf(nil, nil, 1, "z"), "an empty list foretells only that")
}

// What a person notices is searched for as words: no mark in it is an order to the index.
func TestAskedText(t *testing.T) {
	q := kb.Case{Codes: []kb.CodeEntry{{Code: "P1B77-13"}}, Machine: kb.Machine{Make: "halden", Model: "brisk 3"}, Symptoms: []kb.Symptom{
		{Symptom: `display says "fault: none" -then off`}, {Symptom: "smoke", Absent: true}},
		Tests: []kb.Test{{Test: "coil resistance", Component: "heater relay"}}, Fixes: []kb.Fix{{Component: "heater fuse"}}}
	assert.Equal(t, "P1B77-13 display says fault none then off halden brisk 3 coil resistance heater relay heater fuse", casebook.AskedText(&q))
	q.Symptoms[0].Symptom = strings.Repeat("word ", 500)
	assert.Len(t, strings.Fields(casebook.AskedText(&q)), 60)
	assert.Empty(t, casebook.AskedText(&kb.Case{}))
}

// Closing the book stops a backtest that is under way and waits for it; a closed book is not put to the test.
func TestClosingEndsABacktest(t *testing.T) {
	b, err := casebook.Open(t.Context(), casebook.Options{Dir: t.TempDir()})
	require.NoError(t, err)
	_, err = b.Import(t.Context(), vera, records(pairs(200)...), casebook.ImportOptions{})
	require.NoError(t, err)
	refused := func() bool { // told before the options are looked at
		_, err := b.Backtest(context.Background(), casebook.BacktestOptions{Folds: 1})
		return kb.KindOf(err) == kb.Unavailable
	}
	asked, ended := make(chan struct{}), make(chan error, 1)
	var once sync.Once
	go func() {
		_, err := b.Backtest(context.Background(), casebook.BacktestOptions{Workers: 1, Progress: func(_, total int) {
			once.Do(func() {
				assert.Equal(t, 200, total)
				close(asked)
				for !refused() {
					runtime.Gosched()
				}
			})
		}})
		ended <- err
	}()
	<-asked
	require.NoError(t, b.Close())
	require.ErrorIs(t, <-ended, context.Canceled)
	assert.True(t, refused())
}
