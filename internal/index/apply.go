package index

import (
	"context"
	"strconv"

	"github.com/blevesearch/bleve/v2"
	"golang.org/x/sync/errgroup"

	"ruledout/kb"
)

// Batches of this size, two at a time, are the fastest at a moderate use of memory.
const (
	batchSize  = 1000
	submitters = 2
)

// Apply puts documents in, in place of those with the same id, takes others out, and keeps the position reached in the last
// step of it: when it fails half-way the position stays, and applying the same again mends it. A position of 0 leaves the
// position as it was: an index that is filled in several steps gets its position with the last.
func (x *Index) Apply(ctx context.Context, docs []Doc, deletes []string, pos int64) error {
	x.writing.Lock()
	defer x.writing.Unlock()
	defer x.changed()
	last, err := x.applyBatches(ctx, docs)
	if err != nil {
		return err
	}
	for _, id := range deletes {
		last.Delete(id)
	}
	if pos > 0 {
		last.SetInternal([]byte(keyPosition), strconv.AppendInt(nil, pos, 10))
	}
	if err := x.submit(ctx, last); err != nil {
		return err
	}
	if pos > 0 {
		x.mu.Lock()
		x.position = pos
		x.mu.Unlock()
	}
	return nil
}

// applyBatches submits all full batches and gives the rest.
func (x *Index) applyBatches(ctx context.Context, docs []Doc) (*bleve.Batch, error) {
	g, gctx := errgroup.WithContext(ctx)
	g.SetLimit(submitters)
	for len(docs) > batchSize {
		part := docs[:batchSize]
		docs = docs[batchSize:]
		g.Go(func() error {
			b, err := x.batch(part)
			if err != nil {
				return err
			}
			return x.submit(gctx, b)
		})
	}
	if err := g.Wait(); err != nil {
		return nil, err
	}
	return x.batch(docs)
}

func (x *Index) batch(docs []Doc) (*bleve.Batch, error) {
	b := x.bleve.NewBatch()
	for _, d := range docs {
		if err := b.Index(d.ID, d.fields()); err != nil {
			return nil, kb.Errorf(kb.Internal, "index case %q: %w", d.ID, err)
		}
	}
	return b, nil
}

func (x *Index) submit(ctx context.Context, b *bleve.Batch) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	err := x.bleve.Batch(b)
	if err == nil {
		err = x.faults.of(storeOf(x.dir))
	}
	if held := inUse(err); held != nil {
		return held
	}
	if err != nil {
		return kb.Errorf(kb.Internal, "write the index: %w", err)
	}
	return nil
}

// changed forgets what was taken from the documents.
func (x *Index) changed() {
	x.mu.Lock()
	x.docs = 0
	x.mu.Unlock()
}
