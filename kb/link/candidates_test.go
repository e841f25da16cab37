package link_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb"
	"ruledout/kb/link"
)

// found gives the ids of candidate pairs.
func found(records []link.Record) map[string]bool {
	out := map[string]bool{}
	for _, p := range link.Candidates(records) {
		out[string(records[p.A].ID)+" "+string(records[p.B].ID)] = true
	}
	return out
}

// Of a community in which one repair in twenty is told twice, the pairs that are proposed are right and most are found: of those of
// which the tellings have something particular in common. The figures are logged.
func TestRepairsToldTwiceAreFound(t *testing.T) {
	cases, twin := community(4000, 20, 100, 11)
	records := recordsOf(maker(t), cases)
	pairs := link.Candidates(records)
	linker, vectors := link.FitLinker(records, pairs)
	met, proposed, right, looked := 0, 0, 0, 0
	for i, p := range pairs {
		is := twin[p.A] == p.B
		if is {
			met++
		}
		switch linker.Verdict(vectors[i]) {
		case link.Duplicate:
			proposed++
			if is {
				right++
			}
		case link.LookAtIt:
			looked++
			if is {
				looked--
			}
		}
	}
	const all = 200
	precision, recall := float64(right)/float64(proposed), float64(right)/all
	t.Logf("%d cases, %d pairs, %d of %d among them; precision %.3f, recall %.3f; %d others to look at; prior %.4f, estimated errors %+v",
		len(cases), len(pairs), met, all, precision, recall, looked, linker.Model.Prior, linker.Thresholds.Estimated)
	assert.GreaterOrEqual(t, float64(met)/all, 0.95)
	assert.GreaterOrEqual(t, precision, 0.97)
	assert.GreaterOrEqual(t, recall, 0.80)
}

// A code that everybody has makes no pairs of all with all.
func TestAFrequentCodeDoesNotMakeAllPairs(t *testing.T) {
	for _, n := range []int{1000, 2000} {
		cases, _ := community(n, 0, 1, 5)
		for i := range cases {
			cases[i].Machine.Make, cases[i].Machine.Model, cases[i].Reporter = "Halden", "Brisk 3", "the fleet"
		}
		most := n * (4*link.Window*6 + link.MaxBlock*16)
		pairs := len(link.Candidates(recordsOf(maker(t), cases)))
		t.Logf("%d cases of one code on one model: %d pairs of %d", n, pairs, n*(n-1)/2)
		assert.Less(t, pairs, most)
		assert.Less(t, pairs, 150*n)
	}
}

// The pairs and their scores do not depend on the order of the records.
func TestOrderDoesNotMatter(t *testing.T) {
	cases, _ := community(120, 5, 3, 9)
	k := maker(t)
	records := recordsOf(k, cases)
	want := scores(records)
	require.NotEmpty(t, want)
	rapid.Check(t, func(rt *rapid.T) {
		assert.Equal(rt, want, scores(rapid.Permutation(records).Draw(rt, "order")))
	})
}

func scores(records []link.Record) []link.Scored {
	pairs := link.Candidates(records)
	linker, vectors := link.FitLinker(records, pairs)
	var out []link.Scored
	for i, p := range pairs {
		out = append(out, linker.Score(&records[p.A], &records[p.B], vectors[i]))
	}
	return out
}

// What is told twice word for word is found without code and machine; tellers of one thread are no candidates.
func TestWhoIsACandidate(t *testing.T) {
	words := "the blower stops after ten minutes on hot days and the panel shows nothing until it has stood overnight"
	base := kb.Case{ID: "a", Title: words, Reporter: "ann", Sources: []kb.Source{{Writeup: "w1"}}}
	other := base
	other.ID, other.Reporter, other.Sources = "b", "bob", []kb.Source{{Writeup: "w2"}}
	k := maker(t)
	assert.True(t, found(recordsOf(k, []kb.Case{base, other}))["a b"])
	other.Sources = base.Sources
	assert.Empty(t, found(recordsOf(k, []kb.Case{base, other})), "another teller in the same thread")
	other.Reporter = "Ann"
	assert.True(t, found(recordsOf(k, []kb.Case{base, other}))["a b"], "the same teller and machine")
	other.Machine = kb.Machine{Make: "Halden", Model: "Brisk 3"}
	assert.Empty(t, found(recordsOf(k, []kb.Case{base, other})), "the same teller, another machine")
}

// BenchmarkCandidatesAndScores measures candidates, fit and scores over generated cases beside a bare pass of MinHash over their texts.
func BenchmarkCandidatesAndScores(b *testing.B) {
	for _, n := range []int{10_000, 100_000} {
		cases, _ := community(n*20/21, 20, 400, 3)
		records := recordsOf(maker(b), cases)
		bare := bareMinHash(cases)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			pairs := 0
			for b.Loop() {
				list := link.Candidates(records)
				link.FitLinker(records, list)
				pairs = len(list)
			}
			per := b.Elapsed().Seconds() / float64(b.N)
			b.ReportMetric(float64(pairs)/float64(len(records)), "pairs/case")
			b.ReportMetric(per/bare, "x-bare-minhash")
		})
		b.Run(fmt.Sprint(n, "-records"), func(b *testing.B) {
			k := maker(b)
			for b.Loop() {
				recordsOf(k, cases)
			}
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/bare, "x-bare-minhash")
		})
	}
}

// bareMinHash gives the seconds of 64 hashes over the word pairs of the texts, and nothing else.
func bareMinHash(cases []kb.Case) float64 {
	hashes := link.Hashes(64)
	return seconds(func() {
		for i := range cases {
			link.Signature(link.Shingles(link.Text(&cases[i])), hashes)
		}
	})
}

// FuzzCompare: whatever two people write, comparing does not fail, does not depend on who is first, and gives levels that exist.
func FuzzCompare(f *testing.F) {
	f.Add("#2 intake leaking", "#4 intake leaking", "P0302", "Brisk 3", 81200.0, "2024-03-01")
	f.Add("left left right cylinder 2 and", "bank b1s2 no", "E4\xff", "", -1.5, "2024")
	f.Add("", "", "", "\u0130", 1e300, "")
	k := maker(f)
	start := link.Start()
	f.Fuzz(func(t *testing.T, x, y, code, model string, run float64, posted string) {
		a := kb.Case{ID: "a", Title: x, Reporter: y, Machine: kb.Machine{Make: model, Model: code, Variant: x, Odometer: &kb.Measure{Value: run, Unit: model}, Hours: &run},
			Codes: []kb.CodeEntry{{Code: code}}, Fixes: []kb.Fix{{Component: y, Evidence: []kb.Evidence{{Quote: x}}}}, Sources: []kb.Source{{Posted: posted}},
			Tests: []kb.Test{{Test: x, Component: y, Reading: &kb.Reading{Value: &run, Unit: model}}}}
		b := kb.Case{ID: "b", Title: y, Reporter: x, Machine: kb.Machine{Make: strings.ToUpper(model), Odometer: &kb.Measure{Value: run + 1, Unit: "km"}},
			Codes: []kb.CodeEntry{{Code: strings.ToLower(code)}}, Symptoms: []kb.Symptom{{Symptom: x}}, Sources: []kb.Source{{Posted: "2024-03-01"}}}
		ra, rb := k.Record(&a), k.Record(&b)
		v := link.Compare(&ra, &rb)
		if w := link.Compare(&rb, &ra); string(v) != string(w) {
			t.Fatalf("%v one way, %v the other", v, w)
		}
		for i, level := range v {
			if int(level) > len(start.Fields[i].Levels) {
				t.Fatalf("field %d has no level %d", i, level)
			}
		}
		link.Candidates([]link.Record{ra, rb})
	})
}
