package casebook

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"ruledout/internal/index"
	"ruledout/kb"
)

// FindOptions narrow a search.
type FindOptions struct {
	States []kb.State // Published if empty
	Size   int        // hits wanted, 10 if 0
	From   int
}

// Hit is a case that a search found.
type Hit struct {
	ID           kb.CaseID       `json:"id"`
	Score        float64         `json:"score"`
	Title        string          `json:"title"`
	Machine      string          `json:"machine"`
	Codes        []string        `json:"codes"`
	Cures        []string        `json:"cures"`
	Status       kb.Status       `json:"status"`
	Confirmation kb.Confirmation `json:"confirmation"`
}

// Facet counts the values of one field over all hits.
type Facet = index.Facet

// Found is the result of a search.
type Found struct {
	Query  string  `json:"query"`
	Total  int     `json:"total"`
	Hits   []Hit   `json:"hits"`
	Facets []Facet `json:"facets"`
}

// Find searches the text and fields of the cases: words, "phrases", field:value and -minus.
func (b *Book) Find(ctx context.Context, text string, opt FindOptions) (Found, error) {
	if err := b.openIndex(ctx); err != nil {
		return Found{}, fmt.Errorf("find: %w", err)
	}
	q := index.Query{Text: text, State: []string{string(kb.Published)}, Size: opt.Size, From: opt.From, Facets: true}
	if len(opt.States) > 0 {
		q.State = nil
		for _, s := range opt.States {
			q.State = append(q.State, string(s))
		}
	}
	if q.Size == 0 {
		q.Size = 10
	}
	r, err := b.idx.Search(ctx, q)
	if err != nil {
		return Found{}, fmt.Errorf("find: %w", err)
	}
	f := Found{Query: text, Total: r.Total, Hits: []Hit{}, Facets: filled(r.Facets)}
	for _, h := range r.Hits {
		rec, err := b.store.Case(ctx, kb.CaseID(h.ID))
		if kb.KindOf(err) == kb.NotFound {
			continue // withdrawn since the index was read
		}
		if err != nil {
			return Found{}, fmt.Errorf("find: %w", err)
		}
		f.Hits = append(f.Hits, hit(rec.Case, h.Score))
	}
	return f, nil
}

func hit(c kb.Case, score float64) Hit {
	h := Hit{ID: c.ID, Score: score, Title: c.Title, Machine: MachineName(c.Machine), Codes: []string{}, Cures: []string{}, Status: c.Status, Confirmation: c.Held()}
	for _, e := range c.Codes {
		h.Codes = append(h.Codes, e.Code)
	}
	for _, f := range c.Cures() {
		if cure := string(f.Action) + " " + f.Component; !slices.Contains(h.Cures, cure) {
			h.Cures = append(h.Cures, cure)
		}
	}
	return h
}

// MachineName prints what is known of a machine on one line.
func MachineName(m kb.Machine) string {
	year := ""
	if m.Year > 0 {
		year = fmt.Sprint(m.Year)
	}
	words := strings.Fields(strings.Join([]string{m.Make, m.Model, m.Variant, year}, " "))
	if len(words) == 0 {
		return m.Kind
	}
	return strings.Join(words, " ")
}

func (b *Book) openIndex(ctx context.Context) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.followIndex(ctx)
}
