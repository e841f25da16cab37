package casebook

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strings"
	"unicode"

	"ruledout/internal/index"
	"ruledout/kb"
)

// The plain ways to answer that the book's own is held against.
const (
	voters     = 10   // cases nearest by text that vote
	votersPage = 50   // hits read at a time
	votersMost = 1000 // hits read at most
	askedWords = 60   // of a question: more tell little and cost time
	askedBytes = 1800 // of them; the index takes 2,000
)

// ofCodes lists the training cases that share a code with a question, each once.
func (x *examiner) ofCodes(q *kb.Case) []int {
	var out []int
	for _, k := range keysOf(q) {
		out = append(out, x.byCode[k]...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// frequent answers with the most frequent culprits of the code; where no case has it, of all cases.
func (x *examiner) frequent(q *kb.Case) stated {
	cases := x.ofCodes(q)
	if len(cases) == 0 {
		cases = x.all
	}
	votes := make([]vote, len(cases))
	for at, i := range cases {
		votes[at] = vote{i, 1}
	}
	return x.counted(votes)
}

// vote is a training case with its weight.
type vote struct {
	at     int
	weight float64
}

// nearest answers with the vote of the cases that are nearest by text, each by its score: the best hit has one vote.
func (x *examiner) nearest(ctx context.Context, q *kb.Case) (stated, error) {
	text := askedText(q)
	if text == "" {
		return x.counted(nil), nil
	}
	var near []vote
	best := 0.0
	for from := 0; len(near) < voters && from < votersMost; from += votersPage {
		r, err := x.book.idx.Search(ctx, index.Query{Text: text, State: []string{string(kb.Published)}, Any: true, From: from, Size: votersPage})
		if err != nil {
			return stated{}, err
		}
		for _, h := range r.Hits {
			i, counts := x.sample.byID[kb.CaseID(h.ID)]
			if !counts || !x.learnt[i] || len(near) == voters {
				continue
			}
			weight := 1.0
			if best = max(best, h.Score); best > 0 { // nothing but stop words scores nothing
				weight = h.Score / best
			}
			near = append(near, vote{i, weight})
		}
		if from+len(r.Hits) >= r.Total {
			break
		}
	}
	return x.counted(near), nil
}

// counted answers by how much the votes for a culprit weigh: p = (n + 1) / (N + K + 1) for K culprits with N in all, and the same for anything
// else, for which none votes. Of equal ones the one with the first vote goes first.
func (x *examiner) counted(votes []vote) stated {
	n, first := map[string]float64{}, map[string]int{}
	total := 1.0
	for at, v := range votes {
		for _, f := range x.sample.cases[v.at].Culprits() {
			if _, known := first[f]; !known {
				first[f] = at
				total++
			}
			n[f] += v.weight
			total += v.weight
		}
	}
	out := stated{rest: 1 / total}
	out.names = slices.SortedFunc(maps.Keys(n), func(a, b string) int {
		return cmp.Or(cmp.Compare(n[b], n[a]), cmp.Compare(first[a], first[b]), cmp.Compare(a, b))
	})
	for _, f := range out.names {
		out.p = append(out.p, (n[f]+1)/total)
	}
	return out
}

// askedText gives a question as words to search by: codes, what is noticed, the machine, and what was tested and tried.
func askedText(q *kb.Case) string {
	parts := []string{}
	for _, e := range q.Codes {
		parts = append(parts, e.Code)
	}
	for _, s := range q.Symptoms {
		if !s.Absent {
			parts = append(parts, s.Symptom)
		}
	}
	parts = append(parts, q.Machine.Make, q.Machine.Model)
	for _, t := range q.Tests {
		parts = append(parts, t.Test, t.Component)
	}
	for _, f := range q.Fixes {
		parts = append(parts, f.Component)
	}
	words := strings.FieldsFunc(strings.Join(parts, " "), func(r rune) bool { return unicode.IsSpace(r) || strings.ContainsRune(`":`, r) })
	out, size := []string{}, 0
	for _, w := range words {
		w = strings.TrimLeft(w, "-") // a minus would leave the word out
		if size += len(w) + 1; size > askedBytes || len(out) >= askedWords {
			break
		}
		out = append(out, w)
	}
	return strings.Join(out, " ")
}
