package casebook

import (
	"context"

	"ruledout/internal/store"
	"ruledout/kb"
	"ruledout/kb/rank/score"
)

// Writeup gives the tests a write-up as it is kept.
func (b *Book) Writeup(ctx context.Context, key kb.WriteupKey) (store.Writeup, error) {
	return b.store.Writeup(ctx, key)
}

// Groups gives the tests the grouping of cases for folds.
var Groups = groups

// AtBench gives the tests the question of a case at the bench.
var AtBench = atBench

// AskedText gives the tests the words by which the nearest cases are searched.
var AskedText = askedText

// OutcomeOf holds an answer against culprits.
func OutcomeOf(names []string, p []float64, rest float64, culprits ...string) score.Outcome {
	return stated{names: names, p: p, rest: rest}.outcome(culprits)
}
