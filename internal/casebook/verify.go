package casebook

import (
	"context"
	"fmt"

	"ruledout/internal/store"
	"ruledout/kb"
	"ruledout/kb/rank"
)

// Problem is a broken invariant.
type Problem struct {
	Part string `json:"part"` // log, store, index, evidence table, model
	What string `json:"what"`
}

// Verify checks that the log is whole, that the current tables are what the log gives, that every quote stands where its evidence says,
// that redirects lead somewhere, that the index and the evidence table agree with the store, and that the constants of the model can be
// used. It gives every problem found.
func (b *Book) Verify(ctx context.Context) ([]Problem, error) {
	found, err := b.store.Verify(ctx)
	if err != nil {
		return nil, fmt.Errorf("verify: %w", err)
	}
	out := []Problem{}
	for _, p := range found {
		out = append(out, Problem{Part: "store", What: p.String()})
	}
	checks := []func(context.Context) ([]Problem, error){b.verifyIndex, b.verifyTable, b.verifyModel}
	for _, check := range checks {
		more, err := check(ctx)
		if err != nil {
			return nil, fmt.Errorf("verify: %w", err)
		}
		out = append(out, more...)
	}
	return out, nil
}

func (b *Book) verifyIndex(ctx context.Context) ([]Problem, error) {
	if err := b.openIndex(ctx); err != nil {
		return nil, err
	}
	ids, err := b.idx.IDs(ctx)
	if err != nil {
		return nil, err
	}
	indexed := map[string]bool{}
	for _, id := range ids {
		indexed[id] = true
	}
	var out []Problem
	for r, err := range b.store.Cases(ctx, store.Filter{States: []kb.State{kb.Draft, kb.Published}}) {
		if err != nil {
			return nil, err
		}
		if !indexed[string(r.Case.ID)] {
			out = append(out, Problem{"index", fmt.Sprintf("case %s is missing", r.Case.ID)})
		}
		delete(indexed, string(r.Case.ID))
	}
	for _, id := range ids {
		if indexed[id] {
			out = append(out, Problem{"index", fmt.Sprintf("case %s is in it but not in the book", id)})
		}
	}
	return out, nil
}

// verifyTable holds the table that followed the log against one built afresh.
func (b *Book) verifyTable(ctx context.Context) ([]Problem, error) {
	if err := b.follow(ctx); err != nil {
		return nil, err
	}
	fresh := rank.NewTable(b.Vocabulary())
	for r, err := range b.store.Cases(ctx, store.Filter{States: []kb.State{kb.Published}}) {
		if err != nil {
			return nil, err
		}
		fresh.Put(canonical(r.Case, b.Vocabulary()))
	}
	if b.table.Len() != fresh.Len() {
		return []Problem{{"evidence table", fmt.Sprintf("holds %d cases, the book gives %d", b.table.Len(), fresh.Len())}}, nil
	}
	return nil, nil
}
