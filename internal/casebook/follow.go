package casebook

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"

	"ruledout/internal/index"
	"ruledout/internal/store"
	"ruledout/kb"
	"ruledout/kb/rank"
)

// followStep is how many revisions a follower reads at a time.
const followStep = 2000

// follow brings the evidence table to the end of the log and makes a new model when something changed.
func (b *Book) follow(ctx context.Context) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.reached == 0 {
		if err := b.refill(ctx); err != nil {
			return err
		}
	}
	for {
		revisions, err := b.store.Revisions(ctx, b.reached, followStep)
		if err != nil {
			return fmt.Errorf("follow the log: %w", err)
		}
		terms := false
		for _, r := range revisions {
			if err := b.apply(r); err != nil {
				return err
			}
			terms = terms || isTermMark(r)
		}
		if terms {
			if err := b.refill(ctx); err != nil {
				return err
			}
			continue
		}
		if len(revisions) < followStep {
			break
		}
	}
	if b.stale {
		b.model, b.stale = b.table.Model(b.params), false
		b.keepSnapshot(ctx)
	}
	return nil
}

// worthKeeping is the number of cases from which the evidence table is kept between runs.
const worthKeeping = 2000

// keepSnapshot writes the evidence table beside the store, so that the next run need not build it. That it could not be written is no
// failure: it is built again then.
func (b *Book) keepSnapshot(ctx context.Context) {
	stamp, err := b.stamp(ctx, b.reached)
	if err != nil || b.table.Len() < worthKeeping {
		return
	}
	tmp, err := os.CreateTemp(b.dir, evidenceFile+".*")
	if err != nil {
		return
	}
	w := bufio.NewWriter(tmp)
	_, err = fmt.Fprintf(w, "%d\n", b.reached)
	err = errors.Join(err, b.model.Encode(w, stamp), w.Flush(), tmp.Close())
	if err == nil {
		err = os.Rename(tmp.Name(), b.path(evidenceFile))
	}
	if err != nil {
		os.Remove(tmp.Name())
	}
}

// stamp says what an evidence table at a log position was made from: the vocabulary and the log up to there, by its chain of hashes.
func (b *Book) stamp(ctx context.Context, pos int64) (string, error) {
	last, err := b.store.Revisions(ctx, pos-1, 1)
	if err != nil || len(last) == 0 {
		return "", errors.Join(err, fs.ErrNotExist)
	}
	return b.Vocabulary().Version() + " " + last[0].Hash, nil
}

// loadSnapshot takes over a kept evidence table if it fits this program, vocabulary and log.
func (b *Book) loadSnapshot(ctx context.Context, end int64) bool {
	f, err := os.Open(b.path(evidenceFile))
	if err != nil {
		return false
	}
	defer f.Close()
	r := bufio.NewReader(f)
	var pos int64
	if _, err := fmt.Fscanf(r, "%d\n", &pos); err != nil || pos > end {
		return false
	}
	stamp, err := b.stamp(ctx, pos)
	if err != nil {
		return false
	}
	table, model, err := rank.Decode(r, b.Vocabulary(), b.params, stamp)
	if err != nil {
		return false
	}
	b.table, b.model, b.reached, b.stale = table, model, pos, false
	return true
}

// fill builds the evidence table from the current cases. The position is read first: what changes meanwhile is met again in the log,
// and putting a case twice is the same as putting it once.
func (b *Book) fill(ctx context.Context) error {
	pos, err := b.store.Position(ctx)
	if err != nil || pos == 0 {
		return err
	}
	now, err := b.constantsInForce(ctx)
	if err != nil {
		return err
	}
	b.params = now.params
	if b.loadSnapshot(ctx, pos) {
		return nil
	}
	n := 0
	for r, err := range b.store.Cases(ctx, store.Filter{States: []kb.State{kb.Published}}) {
		if err != nil {
			return fmt.Errorf("build the evidence table: %w", err)
		}
		if n++; n%5000 == 0 {
			b.progress(Progress{Work: "building the evidence table", Done: n})
		}
		b.table.Put(canonical(r.Case, b.Vocabulary()))
	}
	b.reached, b.stale = pos, true
	return nil
}

func (b *Book) apply(r store.Revision) error {
	switch r.Kind {
	case store.EntryCase:
		c, err := r.Case()
		if err != nil {
			return err
		}
		b.table.Put(canonical(c, b.Vocabulary()))
		b.stale = true
	case store.EntryParams:
		b.applyConstants(r)
	}
	b.reached = r.Pos
	return nil
}

// snapshot gives the present model and the log position that it stands for.
func (b *Book) snapshot() (*rank.Model, int64) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.model, b.reached
}

// catchUp brings the index to the end of the log after a change. Another process that holds the index is no failure of the change:
// the index catches up when it is next used.
func (b *Book) catchUp(ctx context.Context) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	err := b.followIndex(ctx)
	if kb.KindOf(err) == kb.Unavailable {
		return nil
	}
	return err
}

// followIndex opens the index if needed and feeds it what it has not seen.
func (b *Book) followIndex(ctx context.Context) error {
	if b.idx == nil {
		x, _, err := index.Open(b.path(indexFolder), b.Vocabulary())
		if err != nil {
			return fmt.Errorf("open the index: %w", err)
		}
		b.idx = x
	}
	end, err := b.store.Position(ctx)
	if err != nil {
		return err
	}
	if at := b.idx.Position(); at == 0 {
		return b.fillIndex(ctx, end)
	}
	for b.idx.Position() < end {
		if err := b.stepIndex(ctx); err != nil {
			return fmt.Errorf("index: %w", err)
		}
	}
	return nil
}

// fillIndex feeds a new index with every current case.
func (b *Book) fillIndex(ctx context.Context, end int64) error {
	var docs []index.Doc
	n := 0
	flush := func(pos int64) error {
		err := b.idx.Apply(ctx, docs, nil, pos)
		docs = docs[:0]
		return err
	}
	for r, err := range b.store.Cases(ctx, store.Filter{States: []kb.State{kb.Draft, kb.Published}}) {
		if err != nil {
			return fmt.Errorf("index: %w", err)
		}
		d, err := b.document(ctx, r.Case, r.Pos)
		if err != nil {
			return err
		}
		docs = append(docs, d)
		if n++; n%followStep == 0 {
			b.progress(Progress{Work: "indexing", Done: n})
			if err := flush(0); err != nil {
				return err
			}
		}
	}
	return flush(end)
}

// stepIndex feeds the index with the next stretch of the log: of each case only its last revision in it.
func (b *Book) stepIndex(ctx context.Context) error {
	revisions, err := b.store.Revisions(ctx, b.idx.Position(), followStep)
	if err != nil || len(revisions) == 0 {
		return err
	}
	last := map[string]int{}
	for i, r := range revisions {
		if r.Kind == store.EntryCase {
			last[r.ID] = i
		}
	}
	var docs []index.Doc
	var gone []string
	for i, r := range revisions {
		if r.Kind != store.EntryCase || last[r.ID] != i {
			continue
		}
		c, err := r.Case()
		if err != nil {
			return err
		}
		if c.State != kb.Draft && c.State != kb.Published {
			gone = append(gone, r.ID)
			continue
		}
		d, err := b.document(ctx, c, r.Pos)
		if err != nil {
			return err
		}
		docs = append(docs, d)
	}
	return b.idx.Apply(ctx, docs, gone, revisions[len(revisions)-1].Pos)
}

// document gives the index what it needs of a case: its terms, and the words of its own reporter.
func (b *Book) document(ctx context.Context, c kb.Case, pos int64) (index.Doc, error) {
	known := canonical(c, b.Vocabulary())
	d := index.Doc{ID: string(c.ID), Title: c.Title, Make: known.Machine.Make, Model: known.Machine.Model, Kind: known.Machine.Kind, Year: known.Machine.Year,
		State: string(c.State), Status: string(c.Status), Confirmation: string(c.Held()), Pos: pos}
	for _, e := range known.Codes {
		d.Codes = append(d.Codes, e.Code)
	}
	for _, s := range known.Symptoms {
		d.Symptoms = append(d.Symptoms, s.Symptom)
	}
	for _, t := range known.Tests {
		d.Components = append(d.Components, t.Component)
		d.Body = append(d.Body, t.Test)
	}
	for _, f := range known.Fixes {
		d.Components = append(d.Components, f.Component)
		d.Actions = append(d.Actions, string(f.Action))
	}
	slices.Sort(d.Components)
	d.Components = slices.Compact(d.Components)
	slices.Sort(d.Actions)
	d.Actions = slices.Compact(d.Actions)
	words, err := b.words(ctx, c)
	d.Body = append(d.Body, words...)
	return d, err
}

// words gives what the reporter of a case wrote: all posts where the write-up is one person's, else their own posts.
func (b *Book) words(ctx context.Context, c kb.Case) ([]string, error) {
	var out []string
	for _, s := range c.Sources {
		if s.Writeup == "" {
			continue
		}
		w, err := b.store.Writeup(ctx, s.Writeup)
		if kb.KindOf(err) == kb.NotFound {
			continue
		}
		if err != nil {
			return nil, err
		}
		for _, p := range w.Posts {
			if len(w.Posts) == 1 || p.Author == c.Reporter {
				out = append(out, p.Text)
			}
		}
	}
	return out, nil
}
