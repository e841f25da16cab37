package rank_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"ruledout/internal/testkit"
	"ruledout/kb"
	"ruledout/kb/rank"
)

// synthetic makes n cases of a few hundred codes and makers.
func synthetic(n int) []kb.Case {
	rnd := rand.New(rand.NewPCG(1, 2))
	out := make([]kb.Case, n)
	for i := range out {
		code := rnd.IntN(400)
		part := fmt.Sprintf("part %d", (code*7+rnd.IntN(6))%900)
		c := closedCase(fmt.Sprintf("c%07d", i), part)
		c.Codes = []kb.CodeEntry{{Code: fmt.Sprintf("P%04d", code)}}
		c.Machine = kb.Machine{Kind: []string{"van", "car", "tractor"}[code%3], Make: fmt.Sprintf("make %d", rnd.IntN(30)), Model: fmt.Sprintf("model %d", rnd.IntN(5)), Year: 2005 + rnd.IntN(18)}
		c.Symptoms = []kb.Symptom{{Symptom: fmt.Sprintf("symptom %d", (code+rnd.IntN(4))%120)}}
		c.Tests = []kb.Test{{Step: 1, Test: "resistance", Component: part, Result: kb.Fail}, {Step: 2, Test: "look", Component: fmt.Sprintf("part %d", (code*7+rnd.IntN(6))%900), Result: kb.Pass}}
		out[i] = c
	}
	return out
}

func benchTable(n int) *rank.Table {
	t := rank.NewTable(noTerms{})
	for _, c := range synthetic(n) {
		t.Put(c)
	}
	return t
}

// BenchmarkAsk measures a question beside counting the same cases by culprit, which is the least any answer must do.
func BenchmarkAsk(b *testing.B) {
	for _, n := range []int{1_000, 100_000} {
		cases := synthetic(n)
		m := benchTable(n).Model(rank.DefaultParams())
		q := cases[n/2]
		q.ID, q.Status, q.Fixes = "", kb.Open, nil
		m.Ask(q, rank.Options{})
		count := testkit.Seconds(func() {
			by := map[string]int{}
			for _, c := range cases {
				if c.Codes[0].Code == q.Codes[0].Code {
					by[c.Fixes[0].Component]++
				}
			}
		})
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				m.Ask(q, rank.Options{})
			}
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/count, "x-plain-count")
		})
	}
}

// BenchmarkModel measures a snapshot of the table (credits, rates, counts) beside putting the cases in.
func BenchmarkModel(b *testing.B) {
	for _, n := range []int{1_000, 100_000} {
		cases := synthetic(n)
		put := testkit.Seconds(func() {
			t := rank.NewTable(noTerms{})
			for _, c := range cases {
				t.Put(c)
			}
		})
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			t := benchTable(n)
			for b.Loop() {
				t.Model(rank.DefaultParams())
			}
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/put, "x-put")
		})
	}
}

// oneCode makes n cases of one code with a dozen culprits.
func oneCode(n int) []kb.Case {
	rnd := rand.New(rand.NewPCG(3, 4))
	out := synthetic(n)
	for i := range out {
		c := &out[i]
		part := fmt.Sprintf("part %d", min(rnd.IntN(12), rnd.IntN(12)))
		c.Codes = []kb.CodeEntry{{Code: "P0420"}}
		c.Machine.Make, c.Machine.Model = fmt.Sprintf("make %d", rnd.IntN(6)), fmt.Sprintf("model %d", rnd.IntN(5))
		c.Fixes[0].Component, c.Tests[0].Component, c.Tests[1].Component = part, part, fmt.Sprintf("part %d", rnd.IntN(12))
		c.Symptoms = []kb.Symptom{{Symptom: fmt.Sprintf("symptom %d", rnd.IntN(20))}, {Symptom: fmt.Sprintf("symptom %d", 20+rnd.IntN(20))}}
	}
	return out
}

// BenchmarkAskOneCode measures a question on a code with 50,000 cases beside one pass over the same cases in memory that counts their
// culprits.
func BenchmarkAskOneCode(b *testing.B) {
	cases := oneCode(50_000)
	m := modelOf(rank.DefaultParams(), cases...)
	q := cases[0]
	q.ID, q.Status, q.Fixes, q.Tests = "", kb.Open, nil, q.Tests[1:]
	m.Ask(q, rank.Options{})
	pass := testkit.Seconds(func() {
		by := map[string]int{}
		for i := range cases {
			by[cases[i].Fixes[0].Component]++
		}
	})
	b.ReportAllocs()
	for b.Loop() {
		m.Ask(q, rank.Options{})
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/pass, "x-one-pass")
}

// What an answer takes does not grow with the number of cases behind it: ten times the cases of one code, the same culprits and terms.
func TestAnAnswerTakesNoMoreRoomForMoreCases(t *testing.T) {
	allocations := func(n int) float64 {
		cases := oneCode(n)
		m := modelOf(rank.DefaultParams(), cases...)
		q := cases[0]
		q.ID, q.Status, q.Fixes, q.Tests = "", kb.Open, nil, q.Tests[1:]
		m.Ask(q, rank.Options{})
		return testing.AllocsPerRun(5, func() { m.Ask(q, rank.Options{}) })
	}
	assert.InEpsilon(t, allocations(1_000), allocations(10_000), 0.1)
}
