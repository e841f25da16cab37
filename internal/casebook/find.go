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
	Words  bool // show the words around what was found
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
	Words        []FoundWord     `json:"words,omitempty"` // a piece of the text, if asked for
}

// FoundWord is a piece of text that a search found, or that stands between such pieces.
type FoundWord struct {
	Text  string `json:"text"`
	Found bool   `json:"found"`
}

// Facet counts the values of one field over all hits.
type Facet = index.Facet

// Found is the result of a search.
type Found struct {
	Query  string  `json:"query"`
	Total  int     `json:"total"`
	Hits   []Hit   `json:"hits"`
	Facets []Facet `json:"facets"`

	Demands  []Demand `json:"demands,omitempty"`  // on fields, as in code:P0087
	Loosened bool     `json:"loosened,omitempty"` // no case holds all the words: these hold some
}

// Demand is a demand of a search on a field.
type Demand struct {
	Field   string `json:"field"`
	Value   string `json:"value"`
	Not     bool   `json:"not,omitempty"` // what has it is left out
	Without string `json:"without"`       // the search without it
}

// Find searches the text and fields of the cases: words, "phrases", field:value and -minus.
func (b *Book) Find(ctx context.Context, text string, opt FindOptions) (Found, error) {
	if err := b.openIndex(ctx); err != nil {
		return Found{}, fmt.Errorf("find: %w", err)
	}
	q := index.Query{Text: text, State: []string{string(kb.Published)}, Size: opt.Size, From: opt.From, Facets: true, Places: opt.Words}
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
	f := Found{Query: text, Total: r.Total, Hits: []Hit{}, Facets: filled(r.Facets), Demands: demands(text), Loosened: r.Loosened}
	for _, h := range r.Hits {
		rec, err := b.store.Case(ctx, kb.CaseID(h.ID))
		if kb.KindOf(err) == kb.NotFound {
			continue // withdrawn since the index was read
		}
		if err != nil {
			return Found{}, fmt.Errorf("find: %w", err)
		}
		found := hit(rec.Case, h.Score)
		if opt.Words {
			d, err := b.document(ctx, rec.Case, rec.Pos)
			if err != nil {
				return Found{}, fmt.Errorf("find: %w", err)
			}
			found.Words = wordsAround(d.Body, h.Places)
		}
		f.Hits = append(f.Hits, found)
	}
	return f, nil
}

// demands lists the demands of a query on fields. The query can be read: it was searched for.
func demands(text string) []Demand {
	clauses, err := index.ParseQuery(text)
	if err != nil {
		return nil
	}
	var out []Demand
	for i, c := range clauses {
		if c.Field == "" {
			continue
		}
		rest := text[:c.At]
		if i+1 < len(clauses) {
			rest += text[clauses[i+1].At:]
		}
		out = append(out, Demand{Field: c.Field, Value: c.Text, Not: c.Not, Without: strings.TrimSpace(rest)})
	}
	return out
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

func (b *Book) openIndex(ctx context.Context) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.followIndex(ctx)
}

// wordsAround cuts a piece of at most QuoteLimit bytes out of the text that holds most of what was found, with the found words told apart.
func wordsAround(texts []string, places []index.Place) []FoundWord {
	byItem := map[int][]index.Place{}
	best := -1
	for _, p := range places {
		if p.Item < 0 || p.Item >= len(texts) || p.Start < 0 || p.End > len(texts[p.Item]) || p.Start >= p.End {
			continue
		}
		byItem[p.Item] = append(byItem[p.Item], p)
		if best < 0 || len(byItem[p.Item]) > len(byItem[best]) {
			best = p.Item
		}
	}
	if best < 0 {
		return nil
	}
	text, list := texts[best], byItem[best]
	slices.SortFunc(list, func(a, b index.Place) int { return a.Start - b.Start })
	from := wordStart(text, max(0, list[0].Start-QuoteLimit/4))
	to := wordStart(text, min(len(text), from+QuoteLimit))
	var out []FoundWord
	at := from
	for _, p := range list {
		if p.Start < at || p.End > to {
			continue
		}
		if p.Start > at {
			out = append(out, FoundWord{Text: text[at:p.Start]})
		}
		out = append(out, FoundWord{Text: text[p.Start:p.End], Found: true})
		at = p.End
	}
	if at < to {
		out = append(out, FoundWord{Text: text[at:to]})
	}
	return out
}

// wordStart goes back to the beginning of a word, so that no letter is cut.
func wordStart(text string, i int) int {
	for i > 0 && i < len(text) && text[i-1] != ' ' && text[i-1] != '\n' {
		i--
	}
	return i
}
