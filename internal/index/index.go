package index

import (
	"context"
	"slices"
	"strconv"
	"sync"

	"github.com/blevesearch/bleve/v2"
	api "github.com/blevesearch/bleve_index_api"

	"ruledout/kb"
)

// Keys of what the index keeps beside documents.
const (
	keyPosition = "position"
	keyVersion  = "version"
)

// Index is an open index. It may be used by many goroutines at once, and by one process at a time.
type Index struct {
	dir      string
	bleve    bleve.Index
	voc      *kb.Vocabulary
	synonyms synonyms
	faults   *faults

	writing sync.Mutex // one Apply at a time

	mu       sync.Mutex
	position int64
	docs     uint64  // when average was taken; 0: not taken since the last change
	average  float64 // length of a text
}

// Position gives the position of the log that the index has reached, 0 if it wants everything.
func (x *Index) Position() int64 {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.position
}

// Close ends the use of the index.
func (x *Index) Close() error {
	if err := x.bleve.Close(); err != nil {
		return kb.Errorf(kb.Internal, "close the index: %w", err)
	}
	return nil
}

// Count gives the number of documents.
func (x *Index) Count() (int, error) {
	n, err := x.bleve.DocCount()
	if err != nil {
		return 0, kb.Errorf(kb.Internal, "index: %w", err)
	}
	return int(n), nil
}

// IDs lists the ids of all documents, in order.
func (x *Index) IDs(ctx context.Context) ([]string, error) {
	all, err := x.Revisions(ctx)
	ids := make([]string, 0, len(all))
	for id := range all {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	return ids, err
}

// Revisions gives for every document the position of the revision that it was made from.
func (x *Index) Revisions(ctx context.Context) (map[string]int64, error) {
	all := map[string]int64{}
	err := x.read(func(r api.IndexReader) error {
		values, err := r.DocValueReader([]string{fieldPos})
		if err != nil {
			return err
		}
		docs, err := r.DocIDReaderAll()
		if err != nil {
			return err
		}
		defer docs.Close()
		for {
			doc, err := docs.Next()
			if err != nil || doc == nil || ctx.Err() != nil {
				return err
			}
			id, err := r.ExternalID(doc)
			if err != nil {
				return err
			}
			all[id] = 0
			err = values.VisitDocValues(doc, func(_ string, term []byte) {
				all[id], _ = strconv.ParseInt(string(term), 10, 64) // 0 where damaged, as if never indexed
			})
			if err != nil {
				return err
			}
		}
	})
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return all, err
}

func (x *Index) read(use func(api.IndexReader) error) error {
	inner, err := x.bleve.Advanced()
	if err != nil {
		return kb.Errorf(kb.Internal, "index: %w", err)
	}
	r, err := inner.Reader()
	if err != nil {
		return kb.Errorf(kb.Internal, "index: %w", err)
	}
	defer r.Close()
	if err := use(r); err != nil {
		return kb.Errorf(kb.Internal, "index: %w", err)
	}
	return nil
}

// lengths gives the number of documents and the average length of their texts. It is taken once after every change, from the
// lengths that stand with a term that all have. (Bleve's own average divides the number of different terms.)
func (x *Index) lengths(ctx context.Context, r api.IndexReader) (docs uint64, average float64, err error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if x.docs > 0 {
		return x.docs, x.average, nil
	}
	all, err := r.TermFieldReader(ctx, []byte(everyDocument), fieldText, false, true, false)
	if err != nil {
		return 0, 0, err
	}
	defer all.Close()
	var sum float64
	var doc api.TermFieldDoc
	for {
		next, err := all.Next(doc.Reset())
		if err != nil {
			return 0, 0, err
		}
		if next == nil {
			break
		}
		docs++
		sum += 1 / (next.Norm * next.Norm)
	}
	x.docs, x.average = docs, sum/max(float64(docs), 1)
	return x.docs, x.average, nil
}
