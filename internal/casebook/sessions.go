package casebook

import (
	"context"
	"time"

	"ruledout/internal/store"
)

// Sessions keeps the sessions of the pages in the store: of a token only its hash. It is a CtxStore of alexedwards/scs/v2.
type Sessions struct{ b *Book }

// Sessions gives the place where the pages keep their sessions.
func (b *Book) Sessions() *Sessions { return &Sessions{b} }

// FindCtx gives the data of a session that has not expired.
func (s *Sessions) FindCtx(ctx context.Context, token string) (data []byte, found bool, err error) {
	return s.b.store.Session(ctx, tokenHash(token), s.b.now())
}

// CommitCtx keeps the data of a session until a moment.
func (s *Sessions) CommitCtx(ctx context.Context, token string, data []byte, expiry time.Time) error {
	return s.b.store.Update(ctx, func(tx *store.Tx) error { return tx.PutSession(tokenHash(token), data, expiry, s.b.now()) })
}

// DeleteCtx ends a session.
func (s *Sessions) DeleteCtx(ctx context.Context, token string) error {
	return s.b.store.Update(ctx, func(tx *store.Tx) error { return tx.DropSession(tokenHash(token)) })
}

// Find is FindCtx without a context.
func (s *Sessions) Find(token string) (data []byte, found bool, err error) {
	return s.FindCtx(context.Background(), token)
}

// Commit is CommitCtx without a context.
func (s *Sessions) Commit(token string, data []byte, expiry time.Time) error {
	return s.CommitCtx(context.Background(), token, data, expiry)
}

// Delete is DeleteCtx without a context.
func (s *Sessions) Delete(token string) error { return s.DeleteCtx(context.Background(), token) }
