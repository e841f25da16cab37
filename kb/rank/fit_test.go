package rank_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb"
	"ruledout/kb/rank"
)

// bench draws closed cases from a model like the one that is fitted (own derivation): two codes of five causes.
type bench struct {
	found, alarm float64 // rates at which a test of the culprit and of another part fails
	twice        bool    // every test is reported twice, under two names
	told         float64 // rate at which a symptom is mentioned
	tells        bool    // mention depends on the cause
	codes        string  // "": one code a case; "copies": two that always come together; "views": two that each tell something of the cause
}

const benchCauses = 5

// cases draws n cases.
func (w bench) cases(n int) []kb.Case {
	rnd := rand.New(rand.NewPCG(11, 7))
	out := make([]kb.Case, n)
	for i := range out {
		code, cause := rnd.IntN(2), rnd.IntN(benchCauses)
		part := func(j int) string { return fmt.Sprintf("part %d", j) }
		c := closedCase(fmt.Sprintf("c%06d", i), part(cause))
		c.Machine = kb.Machine{Kind: "van", Make: "halden"}
		c.Codes = []kb.CodeEntry{{Code: fmt.Sprintf("P%04d", 1000+code)}}
		switch w.codes {
		case "copies":
			about := 1000 + view(cause, rnd)
			c.Codes = []kb.CodeEntry{{Code: fmt.Sprintf("P%04d", about)}, {Code: fmt.Sprintf("B%04d", about)}}
		case "views":
			c.Codes = []kb.CodeEntry{{Code: fmt.Sprintf("P%04d", 1000+view(cause, rnd))}, {Code: fmt.Sprintf("B%04d", 1000+view(cause, rnd))}}
		}
		w.symptoms(&c, cause, rnd)
		w.tests(&c, cause, part, rnd)
		out[i] = c
	}
	return out
}

// view sees a cause, or half of the time any.
func view(cause int, rnd *rand.Rand) int {
	if rnd.IntN(2) == 0 {
		return rnd.IntN(benchCauses)
	}
	return cause
}

// symptoms draws whether each of four symptoms is mentioned, and whether it is there.
func (w bench) symptoms(c *kb.Case, cause int, rnd *rand.Rand) {
	for s := range 4 {
		told := w.told
		if w.tells && (cause+s)%benchCauses > 1 {
			told = 0.05
		}
		if rnd.Float64() < told {
			c.Symptoms = append(c.Symptoms, kb.Symptom{Symptom: fmt.Sprintf("symptom %d", s), Absent: rnd.IntN(2) == 0})
		}
	}
}

// tests tests parts in random order until the culprit fails. That a case ends there depends on what was found and on nothing else, so that
// the likelihood of what was tested is what it would be without.
func (w bench) tests(c *kb.Case, cause int, part func(int) string, rnd *rand.Rand) {
	if w.found == 0 {
		return
	}
	for step, j := range rnd.Perm(benchCauses) {
		rate, result := w.alarm, kb.Pass
		if j == cause {
			rate = w.found
		}
		if rnd.Float64() < rate {
			result = kb.Fail
		}
		c.Tests = append(c.Tests, kb.Test{Step: step + 1, Test: "resistance", Component: part(j), Result: result})
		if w.twice {
			c.Tests = append(c.Tests, kb.Test{Step: step + 1, Test: "ohms", Component: part(j), Result: result})
		}
		if j == cause && result == kb.Fail {
			return
		}
	}
}

// alone puts each case into a group of its own.
func alone(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

func fitted(t *testing.T, cases []kb.Case, opt rank.FitOptions) rank.Fitted {
	t.Helper()
	f, err := rank.Fit(cases, alone(len(cases)), noTerms{}, rank.DefaultParams(), opt)
	require.NoError(t, err)
	require.LessOrEqual(t, f.After, f.Before)
	require.NoError(t, f.Params.Validate())
	return f
}

var quick = rank.FitOptions{Quick: true}

// What is told once counts in full, what is told twice about half (own derivation: the log likelihood of two copies, times 1/2, is that
// of one).
func TestFitTempersWhatIsToldTwice(t *testing.T) {
	w := bench{found: 0.7, alarm: 0.3}
	once := fitted(t, w.cases(400), quick).Params.Lambda
	w.twice = true
	twice := fitted(t, w.cases(400), quick).Params.Lambda
	t.Logf("lambda %.3f once, %.3f twice", once, twice)
	assert.Greater(t, once, 0.85)
	assert.Less(t, twice, 0.65)
}

// A mention that has to do with the cause comes to count more. One that has nothing to do with it counts for nothing whatever its exponent,
// since the cases say that its rates are alike: there the fit leaves the exponent or lowers it.
func TestFitLearnsWhetherMentionsTell(t *testing.T) {
	silent := fitted(t, bench{told: 0.5}.cases(300), quick).Params
	telling := fitted(t, bench{told: 0.8, tells: true}.cases(300), quick).Params
	t.Logf("mention %.3f and %.3f, unsaid %.3f and %.3f", silent.Mention, telling.Mention, silent.Unsaid, telling.Unsaid)
	start := rank.DefaultParams()
	assert.LessOrEqual(t, silent.Mention+silent.Unsaid, start.Mention+start.Unsaid)
	assert.Greater(t, telling.Mention+telling.Unsaid, start.Mention+start.Unsaid+0.3)
}

// Two codes that always come together are one (gamma near 1), two that tell each for itself multiply (gamma near 0).
func TestFitLearnsWhetherCodesRepeat(t *testing.T) {
	copies := fitted(t, bench{codes: "copies"}.cases(300), quick).Params.Gamma
	views := fitted(t, bench{codes: "views"}.cases(300), quick).Params.Gamma
	t.Logf("gamma %.3f for copies, %.3f for views", copies, views)
	assert.Greater(t, copies, 0.7)
	assert.Less(t, views, 0.35)
}

// The same cases in another order, and under other group numbers, give the same fit to the bit.
func TestFitDoesNotHangOnOrder(t *testing.T) {
	cases := bench{found: 0.8, alarm: 0.2, told: 0.5}.cases(60)
	opt := rank.FitOptions{Folds: 3}
	one := fitted(t, cases, opt)
	assert.True(t, one.Nested)
	rand.New(rand.NewPCG(3, 4)).Shuffle(len(cases), func(i, j int) { cases[i], cases[j] = cases[j], cases[i] })
	two, err := rank.Fit(cases, alone(len(cases)), noTerms{}, rank.DefaultParams(), opt)
	require.NoError(t, err)
	assert.Equal(t, one, two)
}

// A question is the product of its parts, and a model that is tuned is the model that is built: without passes credits do not depend on
// the constants.
func TestAFitAsksWhatAQuestionAsks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from, to := someParams(t), someParams(t)
		if from.Validate() != nil || to.Validate() != nil {
			t.Skip("rates out of order")
		}
		from.Passes, to.Passes = 0, 0
		cases, q := book(t), asked(t)
		whole, together := rank.Parts(modelOf(from, cases...), q)
		require.InDeltaSlice(t, whole, together, 1e-9)
		require.InDeltaSlice(t, rank.Tuned(modelOf(to, cases...), to, q), rank.Tuned(modelOf(from, cases...), to, q), 1e-9)
	})
}

func TestFoldsSplitNoGroup(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cases := bench{}.cases(rapid.IntRange(6, 40).Draw(t, "cases"))
		groups := make([]int, len(cases))
		for i := range groups {
			groups[i] = rapid.IntRange(0, 12).Draw(t, "group")
		}
		folds := rapid.IntRange(2, 6).Draw(t, "folds")
		got, err := rank.FoldsOf(cases, groups, noTerms{}, folds)
		require.NoError(t, err)
		of, used := map[int]int{}, map[int]bool{}
		for i, c := range cases {
			f := got[c.ID]
			used[f] = true
			if first, known := of[groups[i]]; known {
				require.Equal(t, first, f)
			}
			of[groups[i]] = f
		}
		require.Len(t, used, min(folds, len(of)))
	})
}

func TestFitRefuses(t *testing.T) {
	cases := bench{}.cases(12)
	p := rank.DefaultParams()
	wrong := p
	wrong.Lambda = 2
	same := append(bench{}.cases(12), cases[0])
	halt := errors.New("halt")
	for name, tc := range map[string]struct {
		cases  []kb.Case
		groups []int
		start  rank.Params
		opt    rank.FitOptions
		kind   kb.Kind
	}{
		"groups of other cases": {cases, alone(3), p, quick, kb.Internal},
		"a wrong start":         {cases, alone(12), wrong, quick, kb.Invalid},
		"an id twice":           {same, alone(13), p, quick, kb.Invalid},
		"one source":            {cases, make([]int, 12), p, quick, kb.Conflict},
		"nothing":               {nil, nil, p, quick, kb.Conflict},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := rank.Fit(tc.cases, tc.groups, noTerms{}, tc.start, tc.opt)
			assert.Equal(t, tc.kind, kb.KindOf(err))
		})
	}
	_, err := rank.Fit(cases, alone(12), noTerms{}, p, rank.FitOptions{Stop: func() error { return halt }})
	assert.ErrorIs(t, err, halt)
}

// What gains nothing on cases that the fit did not see is not put forward, whatever it gains on those it saw: from constants fitted to many
// cases of a workshop, a few of its cases may lead astray.
func TestFitStaysWhereItGainsNothingElsewhere(t *testing.T) {
	w := bench{found: 0.8, alarm: 0.2, told: 0.6}
	start := fitted(t, w.cases(400), quick).Params
	stayed := 0
	for n := 6; n <= 18; n += 2 {
		f, err := rank.Fit(w.cases(n), alone(n), noTerms{}, start, rank.FitOptions{Folds: 3})
		require.NoError(t, err)
		require.LessOrEqual(t, f.After, f.Before)
		if f.After < f.Before {
			continue
		}
		stayed++
		assert.Equal(t, start, f.Params)
		for _, g := range f.Gains {
			assert.Zero(t, g.Gain, g.Name)
		}
	}
	assert.Positive(t, stayed)
	t.Logf("%d of 7 stayed", stayed)
}
