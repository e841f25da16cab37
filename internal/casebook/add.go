package casebook

import (
	"context"
	"encoding/json"
	"fmt"
	"iter"
	"slices"

	"ruledout/ingest"
	"ruledout/internal/store"
	"ruledout/kb"
)

// Verbs of revisions that come from reading a write-up.
const (
	verbRead   = "read"
	verbReread = "read again"
)

// AddOptions say how write-ups are taken in.
type AddOptions struct {
	Accept bool // publish at once: the source is trusted to need no review
	Read   ingest.Options
	Total  int // number of files for progress, 0 if unknown

	Contributor string // account that hands it in: new cases carry it; empty: nobody's
}

// Added says what taking in one write-up did to one case.
type Added struct {
	Case   kb.Case `json:"case"`
	Effect Effect  `json:"effect"`
}

// Effect is what reading a write-up did to a case.
type Effect string

// The effects of reading.
const (
	EffectNew      Effect = "new"
	EffectUpdated  Effect = "updated"
	EffectSame     Effect = "unchanged"
	EffectProposed Effect = "waits beside the published case" // a moderator decides
	EffectKept     Effect = "left as it is"                   // withdrawn or split before, or merged and read with the same facts
)

// Effects lists all effects in the order in which they are told.
func Effects() []Effect {
	return []Effect{EffectNew, EffectUpdated, EffectProposed, EffectSame, EffectKept}
}

// FileReport says what taking in one file did, or several files that are pages of one thread.
type FileReport struct {
	File    string
	More    []string        // further files that were read together with it
	Threads []ingest.Thread // the write-ups as they are kept, masked
	Cases   []Added
	Err     error
}

// Add reads write-ups and stores their masked texts and draft cases, each file in one transaction. A file that cannot be read is
// reported and the rest goes in. Reading a write-up again updates its cases and doubles none.
func (b *Book) Add(ctx context.Context, by Actor, files iter.Seq2[ingest.File, error], opt AddOptions, report func(FileReport) error) error {
	needed := Contributor
	if opt.Accept {
		needed = Moderator
	}
	if err := by.may(needed, "add write-ups"); err != nil {
		return err
	}
	n := 0
	err := ReadFiles(ctx, files, opt.Read, b.Reader(), func(r Reading) error {
		n += 1 + len(r.More)
		b.progress(Progress{Work: "reading write-ups", Done: n, Total: opt.Total, Item: r.File})
		done, err := b.addReading(ctx, by, r, opt)
		if err != nil {
			return err
		}
		return report(done)
	})
	if err != nil {
		return fmt.Errorf("add: %w", err)
	}
	return b.catchUp(ctx)
}

func (b *Book) addReading(ctx context.Context, by Actor, r Reading, opt AddOptions) (FileReport, error) {
	done := FileReport{File: r.File, More: r.More, Err: r.Err}
	if r.Err != nil {
		return done, nil
	}
	err := b.store.Update(ctx, func(tx *store.Tx) error {
		done.Threads, done.Cases = nil, nil
		for i, t := range r.Threads {
			t, drafts, err := b.joined(tx, t, r.Drafts[i])
			if err != nil {
				return err
			}
			added, err := b.addThread(tx, by, t, drafts, opt)
			if err != nil {
				return err
			}
			done.Threads = append(done.Threads, t)
			done.Cases = append(done.Cases, added...)
		}
		return nil
	})
	return done, err
}

func (b *Book) addThread(tx *store.Tx, by Actor, t ingest.Thread, drafts []kb.Case, opt AddOptions) ([]Added, error) {
	w, err := stored(t)
	if err != nil {
		return nil, err
	}
	if _, _, err := tx.PutWriteup(w, b.now(), by.Name); err != nil {
		return nil, err
	}
	var out []Added
	for _, d := range drafts {
		a, err := b.addDraft(tx, by, d, opt)
		if err != nil {
			return nil, err
		}
		out = append(out, a)
	}
	return out, nil
}

// addDraft stores one draft: new, as an update of an earlier reading, or beside a published case for a moderator to decide.
func (b *Book) addDraft(tx *store.Tx, by Actor, d kb.Case, opt AddOptions) (Added, error) {
	accept := opt.Accept
	d.State, d.Contributor = kb.Draft, opt.Contributor
	if accept {
		d.State = kb.Published
	}
	old, err := tx.Record(d.ID)
	if kb.KindOf(err) == kb.NotFound {
		return b.appendRead(tx, by, d, store.EntryCase, verbRead, EffectNew)
	}
	if err != nil {
		return Added{}, err
	}
	if old.Case.State == kb.Withdrawn {
		return Added{Case: old.Case, Effect: EffectKept}, nil
	}
	known, err := readBefore(tx, d)
	if err != nil {
		return Added{}, err
	}
	if old.Case.State == kb.Merged {
		return b.addToSurvivor(tx, by, d, known)
	}
	if known && (!accept || old.Case.State == kb.Published) {
		return Added{Case: old.Case, Effect: EffectSame}, nil
	}
	if split, err := wasSplit(tx, d.ID); err != nil || split && !known {
		return Added{Case: old.Case, Effect: EffectKept}, err
	}
	base, err := b.withWaiting(tx, old)
	if err != nil {
		return Added{}, err
	}
	next, err := b.readAgain(tx, d, base)
	if err != nil {
		return Added{}, err
	}
	if same, err := equal(withState(next, old.Case.State), old.Case); err != nil || same && (!accept || old.Case.State == kb.Published) {
		return Added{Case: old.Case, Effect: EffectSame}, err
	}
	if old.Case.State == kb.Published && !accept {
		return b.appendRead(tx, by, next, store.EntryProposal, verbReread, EffectProposed)
	}
	next.State = d.State
	return b.appendRead(tx, by, next, store.EntryCase, verbReread, EffectUpdated)
}

func (b *Book) appendRead(tx *store.Tx, by Actor, c kb.Case, kind store.EntryKind, verb string, effect Effect) (Added, error) {
	_, err := tx.Append(store.Entry{Kind: kind, ID: string(c.ID), Verb: verb, Actor: by.Name, At: b.now(), Case: &c})
	return Added{Case: c, Effect: effect}, err
}

// readBefore tells whether the last reading of this case gave the same facts; what people changed since does not matter.
func readBefore(tx *store.Tx, d kb.Case) (bool, error) {
	history, err := tx.History(d.ID)
	if err != nil {
		return false, err
	}
	for _, r := range slices.Backward(history) {
		if r.Verb != verbRead && r.Verb != verbReread {
			continue
		}
		was, err := r.Case()
		if err != nil {
			return false, err
		}
		return equal(carryOver(was, kb.Case{}), carryOver(d, kb.Case{}))
	}
	return false, nil
}

// stored gives a thread the form in which its masked text is kept.
func stored(t ingest.Thread) (store.Writeup, error) {
	w := store.Writeup{Key: kb.WriteupKey(t.Key), Kind: string(t.Kind), Title: t.Title, URL: t.URL, Site: t.Site, Licence: t.Licence, File: t.File}
	for _, p := range t.Posts {
		regions, err := json.Marshal(p.Regions)
		if err != nil {
			return w, fmt.Errorf("keep the post's regions: %w", err)
		}
		if w.Posted.IsZero() || !p.Time.IsZero() && p.Time.Before(w.Posted) {
			w.Posted = p.Time
		}
		w.Posts = append(w.Posts, store.Post{N: p.N, Author: p.Author, Time: p.Time, Text: p.Text, Page: p.Page, Regions: regions})
	}
	return w, nil
}
