package casebook

import (
	"context"

	"ruledout/internal/store"
)

// PutModel appends a revision of constants with any body.
func PutModel(ctx context.Context, b *Book, body string) error {
	return b.store.Update(ctx, func(tx *store.Tx) error {
		_, err := tx.Append(store.Entry{Kind: store.EntryParams, ID: modelID, Verb: "refit", Actor: "vera", At: b.now(), Body: []byte(body)})
		return err
	})
}
