package casebook

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"ruledout/internal/store"
	"ruledout/kb"
)

// Waiting is a case that waits for a moderator: a draft, or a published case with a later reading of its write-up beside it.
type Waiting struct {
	ID      kb.CaseID `json:"id"`
	Title   string    `json:"title"`
	Doubts  int       `json:"doubts"` // questions that the text leaves open
	Lowest  float64   `json:"lowest"` // confidence in its least certain fact, 0 if it has no fact with one
	Later   bool      `json:"later"`  // a later reading of a published case
	Changed time.Time `json:"changed"`

	Contributor string `json:"contributor,omitempty"`
	Corrected   int    `json:"corrected"` // how often others corrected, sent back or withdrew cases of the same contributor

	Case kb.Case `json:"-"` // as it would be published
}

// Queue is what waits for review, most doubtful first.
type Queue struct {
	Total   int       `json:"total"`
	Doubts  int       `json:"doubts"` // of all of them
	Waiting []Waiting `json:"waiting"`
}

// Queue gives what waits for review: most doubts first, then those of contributors whose cases were corrected most often, then the lowest
// confidence in a fact, then by id. At most size of them from the from-th on; all if size is 0.
func (b *Book) Queue(ctx context.Context, size, from int) (Queue, error) {
	q := Queue{Waiting: []Waiting{}}
	for _, f := range []store.Filter{{States: []kb.State{kb.Draft}}, {States: []kb.State{kb.Published}, Proposals: true}} {
		for r, err := range b.store.Cases(ctx, f) {
			if err != nil {
				return Queue{}, fmt.Errorf("review: %w", err)
			}
			w := waiting(r)
			q.Doubts += w.Doubts
			q.Waiting = append(q.Waiting, w)
		}
	}
	corrected, err := b.corrected(ctx)
	if err != nil {
		return Queue{}, fmt.Errorf("review: %w", err)
	}
	for i := range q.Waiting {
		q.Waiting[i].Corrected = corrected[q.Waiting[i].Contributor]
	}
	slices.SortFunc(q.Waiting, func(a, b Waiting) int {
		return cmp.Or(cmp.Compare(b.Doubts, a.Doubts), cmp.Compare(b.Corrected, a.Corrected), cmp.Compare(a.Lowest, b.Lowest), cmp.Compare(a.ID, b.ID))
	})
	q.Total = len(q.Waiting)
	q.Waiting = q.Waiting[min(max(from, 0), q.Total):]
	if size > 0 {
		q.Waiting = q.Waiting[:min(size, len(q.Waiting))]
	}
	return q, nil
}

// corrected counts for each contributor how often somebody else corrected, sent back or withdrew one of their cases.
func (b *Book) corrected(ctx context.Context) (map[string]int, error) {
	deeds, err := b.store.Deeds(ctx, verbCorrect, string(DecideSendBack), string(DecideWithdraw))
	if err != nil {
		return nil, err
	}
	out, of := map[string]int{}, map[kb.CaseID]string{}
	for _, d := range deeds {
		if _, known := of[d.ID]; !known {
			r, err := b.store.Case(ctx, d.ID)
			if err != nil {
				return nil, err
			}
			of[d.ID] = r.Case.Contributor
		}
		if c := of[d.ID]; c != "" && c != d.Actor {
			out[c]++
		}
	}
	return out, nil
}

func waiting(r store.Record) Waiting {
	c := r.Case
	later := r.Proposal != nil
	if later {
		c = *r.Proposal
	}
	return Waiting{ID: c.ID, Title: c.Title, Doubts: len(c.Doubts), Lowest: lowest(c), Later: later && r.Case.State == kb.Published, Changed: r.Changed, Contributor: r.Case.Contributor, Case: c}
}

// lowest is the confidence in the least certain fact of a case, 0 if none has one.
func lowest(c kb.Case) float64 {
	low := 0.0
	look := func(sure float64) {
		if sure > 0 && (low == 0 || sure < low) {
			low = sure
		}
	}
	look(c.Machine.Confidence)
	for _, e := range c.Codes {
		look(e.Confidence)
	}
	for _, s := range c.Symptoms {
		look(s.Confidence)
	}
	for _, t := range c.Tests {
		look(t.Confidence)
	}
	for _, f := range c.Fixes {
		look(f.Confidence)
	}
	return low
}
