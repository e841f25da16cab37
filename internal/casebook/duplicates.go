package casebook

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"ruledout/internal/index"
	"ruledout/internal/store"
	"ruledout/kb"
	"ruledout/kb/link"
)

// DuplicateOptions choose the pairs that are given.
type DuplicateOptions struct {
	All bool // also the candidates that the model takes for two repairs
}

// DuplicatePair is a pair of cases with what speaks for and against their being one repair told twice.
type DuplicatePair struct {
	A           kb.CaseID      `json:"a"` // before B in order
	B           kb.CaseID      `json:"b"`
	Probability float64        `json:"probability"` // 0 to 1 that they are one, see package kb/link
	Bits        float64        `json:"bits"`        // sum of the weights; the prior is not in it
	Verdict     link.Verdict   `json:"verdict"`
	Weights     []link.Weighed `json:"weights"` // what both tell, the weightiest first
	Titles      [2]string      `json:"titles"`
	States      [2]kb.State    `json:"states"`
}

// verbNotDuplicates is the verb of a mark by which a moderator keeps two cases apart.
const verbNotDuplicates = "not duplicates"

// linked is a case prepared for comparing.
type linked struct {
	records []link.Record
	titles  []string
	states  []kb.State
}

// addLinked prepares a case, with what its reporter wrote.
func (b *Book) addLinked(ctx context.Context, l *linked, k *link.Maker, c *kb.Case) error {
	words, err := b.words(ctx, *c)
	if err != nil {
		return err
	}
	l.records = append(l.records, k.Record(c, words...))
	l.titles = append(l.titles, c.Title)
	l.states = append(l.states, c.State)
	return nil
}

func (l *linked) pair(s link.Scored, a, b int) DuplicatePair {
	if l.records[a].ID != s.A {
		a, b = b, a
	}
	return DuplicatePair{A: s.A, B: s.B, Probability: s.Probability, Bits: s.Bits, Verdict: s.Verdict, Weights: s.Weights,
		Titles: [2]string{l.titles[a], l.titles[b]}, States: [2]kb.State{l.states[a], l.states[b]}}
}

// mayBeDuplicates are the states of the cases that are compared: withdrawn and merged ones no longer stand for anything.
func mayBeDuplicates() []kb.State { return []kb.State{kb.Draft, kb.Published} }

// Duplicates compares the whole book and gives the pairs that may be one repair told twice, the most probable first. The constants
// are fitted to the book's own pairs. Pairs that a moderator decided to be none are left out.
func (b *Book) Duplicates(ctx context.Context, opt DuplicateOptions) ([]DuplicatePair, error) {
	ctx, done, err := b.begin(ctx)
	if err != nil {
		return nil, fmt.Errorf("duplicates: %w", err)
	}
	defer done()
	all, err := b.linkedCases(ctx)
	if err != nil {
		return nil, fmt.Errorf("duplicates: %w", err)
	}
	apart, err := b.decidedApart(ctx)
	if err != nil {
		return nil, fmt.Errorf("duplicates: %w", err)
	}
	pairs := link.Candidates(all.records)
	linker, vectors := link.FitLinker(all.records, pairs)
	b.mu.Lock()
	b.linker = linker
	b.mu.Unlock()
	out := []DuplicatePair{}
	for i, p := range pairs {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("duplicates: %w", err)
		}
		if !opt.All && linker.Verdict(vectors[i]) == link.Apart {
			continue
		}
		s := linker.Score(&all.records[p.A], &all.records[p.B], vectors[i])
		if !apart[pairKey(s.A, s.B)] {
			out = append(out, all.pair(s, p.A, p.B))
		}
	}
	sortPairs(out)
	return out, nil
}

func sortPairs(list []DuplicatePair) {
	slices.SortFunc(list, func(a, b DuplicatePair) int {
		return link.InOrder(link.Scored{A: a.A, B: a.B, Bits: a.Bits}, link.Scored{A: b.A, B: b.B, Bits: b.Bits})
	})
}

func (b *Book) linkedCases(ctx context.Context) (*linked, error) {
	all, maker := &linked{}, link.NewMaker(b.Vocabulary())
	for r, err := range b.store.Cases(ctx, store.Filter{States: mayBeDuplicates()}) {
		if err != nil {
			return nil, err
		}
		if n := len(all.records); n%5000 == 4999 {
			b.progress(Progress{Work: "comparing cases", Done: n + 1})
		}
		if err := b.addLinked(ctx, all, maker, &r.Case); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// decidedApart gives the pairs that moderators keep apart; of several decisions on a pair the last one holds.
func (b *Book) decidedApart(ctx context.Context) (map[string]bool, error) {
	out := map[string]bool{}
	for r, err := range b.store.Entries(ctx, store.EntryMark) {
		if err != nil {
			return nil, err
		}
		var decision struct {
			Duplicate *bool `json:"duplicate"`
		}
		if json.Unmarshal(r.Body, &decision) == nil && decision.Duplicate != nil {
			out[r.ID] = !*decision.Duplicate
		}
	}
	return out, nil
}

// pairKey names a pair in the log: both ids joined, in order.
func pairKey(a, b kb.CaseID) string { return string(min(a, b)) + " " + string(max(a, b)) }

// Bounds of the search for duplicates of one case.
const (
	sharedMost = 500 // cases at most that share a code and the make, or make and model
	nearMost   = 50  // cases at most that the text index finds nearest
)

// DuplicatesOf gives the cases that may tell of the same repair as one case does, the most probable first: among those that share a code
// and the make, or make and model (500 of each at most, in order of id), and the 50 nearest by text. It is quick enough to be asked
// when a case is submitted. The constants are those of the last Duplicates on this open book, else the starting ones.
func (b *Book) DuplicatesOf(ctx context.Context, id kb.CaseID, opt DuplicateOptions) ([]DuplicatePair, error) {
	rec, err := b.store.Case(ctx, id)
	if err != nil {
		return nil, fmt.Errorf("duplicates of %s: %w", id, err)
	}
	near, err := b.nearCases(ctx, &rec.Case)
	if err != nil {
		return nil, fmt.Errorf("duplicates of %s: %w", id, err)
	}
	apart, err := b.decidedApart(ctx)
	if err != nil {
		return nil, fmt.Errorf("duplicates of %s: %w", id, err)
	}
	linker := b.linkerInForce()
	link.Weigh(near.records)
	out := []DuplicatePair{}
	own := len(near.records) - 1
	for i := range own {
		x, y := &near.records[i], &near.records[own]
		if !link.MayBeOne(x, y) || apart[pairKey(x.ID, y.ID)] {
			continue
		}
		if s := linker.Score(x, y, link.Compare(x, y)); opt.All || s.Verdict != link.Apart {
			out = append(out, near.pair(s, i, own))
		}
	}
	sortPairs(out)
	return out, nil
}

func (b *Book) linkerInForce() *link.Linker {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.linker == nil {
		b.linker = link.NewLinker(link.Start(), link.DefaultErrors())
	}
	return b.linker
}

// nearCases prepares the cases worth comparing with one, and that one last.
func (b *Book) nearCases(ctx context.Context, c *kb.Case) (*linked, error) {
	near, maker := &linked{}, link.NewMaker(b.Vocabulary())
	seen := map[kb.CaseID]bool{c.ID: true}
	for _, f := range sharing(c) {
		for r, err := range b.store.Cases(ctx, f) {
			if err != nil {
				return nil, err
			}
			if !seen[r.Case.ID] {
				seen[r.Case.ID] = true
				if err := b.addLinked(ctx, near, maker, &r.Case); err != nil {
					return nil, err
				}
			}
		}
	}
	ids, err := b.nearestByText(ctx, c)
	if err != nil {
		return nil, err
	}
	for _, id := range ids {
		if seen[id] {
			continue
		}
		r, err := b.store.Record(ctx, id)
		if err != nil && kb.KindOf(err) != kb.NotFound {
			return nil, err
		}
		if err == nil && slices.Contains(mayBeDuplicates(), r.Case.State) {
			if err := b.addLinked(ctx, near, maker, &r.Case); err != nil {
				return nil, err
			}
		}
	}
	return near, b.addLinked(ctx, near, maker, c)
}

// sharing gives the searches for what shares a code or the model with a case.
func sharing(c *kb.Case) []store.Filter {
	var out []store.Filter
	if keys := keysOf(c); len(keys) > 0 {
		out = append(out, store.Filter{States: mayBeDuplicates(), Keys: keys, Make: c.Machine.Make, Limit: sharedMost})
	}
	if c.Machine.Make != "" && c.Machine.Model != "" {
		out = append(out, store.Filter{States: mayBeDuplicates(), Make: c.Machine.Make, Model: c.Machine.Model, Limit: sharedMost})
	}
	return out
}

// nearestByText asks the text index. Where another process holds it, what shares a code or the model must do.
func (b *Book) nearestByText(ctx context.Context, c *kb.Case) ([]kb.CaseID, error) {
	q := index.Query{Text: askedText(c) + " " + plainWords(c.Title), State: []string{string(kb.Draft), string(kb.Published)}, Any: true, Size: nearMost}
	if strings.TrimSpace(q.Text) == "" {
		return nil, nil
	}
	if err := b.openIndex(ctx); kb.KindOf(err) == kb.Unavailable {
		return nil, nil
	} else if err != nil {
		return nil, err
	}
	r, err := b.idx.Search(ctx, q)
	if err != nil {
		return nil, err
	}
	var out []kb.CaseID
	for _, h := range r.Hits {
		out = append(out, kb.CaseID(h.ID))
	}
	return out, nil
}

// plainWords drops what a search would read as more than words, and cuts a long title.
func plainWords(title string) string {
	words := strings.FieldsFunc(title, func(r rune) bool { return !strings.ContainsRune("_", r) && strings.ContainsRune(" \t\n\":-+()", r) })
	return strings.Join(words[:min(len(words), 12)], " ")
}

// NotDuplicates keeps a moderator's decision that two cases are not one repair told twice: the pair is not proposed again.
func (b *Book) NotDuplicates(ctx context.Context, by Actor, x, y kb.CaseID, reason string) error {
	if err := by.may(Moderator, "decide on duplicates"); err != nil {
		return err
	}
	if x == y {
		return &kb.Error{Kind: kb.Invalid, Msg: fmt.Sprintf("%s and %s are one case; name two", x, y)}
	}
	body, err := json.Marshal(struct {
		Duplicate bool         `json:"duplicate"`
		Cases     [2]kb.CaseID `json:"cases"`
	}{false, [2]kb.CaseID{min(x, y), max(x, y)}})
	if err != nil {
		return fmt.Errorf("not duplicates: %w", err)
	}
	err = b.store.Update(ctx, func(tx *store.Tx) error {
		for _, id := range []kb.CaseID{x, y} {
			r, err := tx.Record(id)
			if err != nil {
				return err
			}
			if !slices.Contains(mayBeDuplicates(), r.Case.State) {
				return kb.Errorf(kb.Conflict, "case %s is %s", id, r.Case.State)
			}
		}
		_, err := tx.Append(store.Entry{Kind: store.EntryMark, ID: pairKey(x, y), Verb: verbNotDuplicates, Actor: by.Name, Reason: reason, At: b.now(), Body: body})
		return err
	})
	if err != nil {
		return fmt.Errorf("not duplicates: %w", err)
	}
	return nil
}
