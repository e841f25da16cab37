package index

import (
	"cmp"
	"context"
	"slices"

	"github.com/blevesearch/bleve/v2"
	"github.com/blevesearch/bleve/v2/search"

	"ruledout/kb"
)

// facetSize is how many values of a field are counted out.
const facetSize = 12

// Query is a search.
type Query struct {
	Text   string   // see ParseQuery
	State  []string // publication states to look in; empty: all
	Size   int      // hits wanted
	From   int      // hits passed over
	Facets bool     // count the values of fields over all hits
	Any    bool     // one of the words is enough from the start
	Places bool     // tell where the words stand
}

// Result is what a search found.
type Result struct {
	Total    int // all hits
	Hits     []Hit
	Facets   []Facet
	Loosened bool // no case holds all the words, so one of them was enough
}

// Hit is one case that was found, the best first.
type Hit struct {
	ID     string
	Score  float64
	Places []Place
}

// Place is where a word of the query stands. The text may have changed since it was indexed.
type Place struct {
	Item       int // of Doc.Body; -1: the title. Items past the end of Body are terms, not texts
	Start, End int // bytes
}

// Facet counts the values of a field over all hits.
type Facet struct {
	Field  string       `json:"field"`
	Values []FacetValue `json:"values"`
}

// FacetValue is a value with the number of hits that hold it.
type FacetValue struct {
	Value string `json:"value"`
	Count int    `json:"count"`
}

// Search finds cases. All words of a query must be in a case, in any way that the vocabulary knows to write them; if no case
// holds them all, the best of those that hold any are given.
func (x *Index) Search(ctx context.Context, q Query) (Result, error) {
	clauses, err := ParseQuery(q.Text)
	if err != nil {
		return Result{}, err
	}
	p, err := x.newPlan(clauses)
	if err != nil {
		return Result{}, err
	}
	if len(q.State) > 0 {
		in := anyNode{same: true}
		for _, state := range q.State {
			in.nodes = append(in.nodes, keyNode{field: "state", value: state})
		}
		p.must = append(p.must, in)
	}
	r, err := x.run(ctx, q, p, q.Any)
	if err == nil && r.Total == 0 && !q.Any && len(p.words) > 1 {
		r, err = x.run(ctx, q, p, true)
		r.Loosened = r.Total > 0
	}
	return r, err
}

func (x *Index) run(ctx context.Context, q Query, p plan, loose bool) (Result, error) {
	req := bleve.NewSearchRequestOptions(tree{x, p, loose, q.Places}, max(q.Size, 0), max(q.From, 0), false)
	req.SortBy([]string{"-_score", "_id"})
	req.IncludeLocations = q.Places
	if q.Facets {
		for _, field := range facetFields() {
			req.AddFacet(field, bleve.NewFacetRequest(field, facetSize))
		}
	}
	found, err := x.bleve.SearchInContext(ctx, req)
	if ctx.Err() != nil {
		return Result{}, ctx.Err()
	}
	if err != nil {
		return Result{}, kb.Errorf(kb.Internal, "search: %w", err)
	}
	r := Result{Total: int(found.Total)}
	for _, h := range found.Hits {
		r.Hits = append(r.Hits, Hit{ID: h.ID, Score: h.Score, Places: places(h)})
	}
	if q.Facets {
		r.Facets = facets(found.Facets)
	}
	return r, nil
}

func facets(found search.FacetResults) []Facet {
	var all []Facet
	for _, field := range facetFields() {
		f := Facet{Field: field, Values: []FacetValue{}}
		if got := found[field]; got != nil && got.Terms != nil {
			for _, t := range got.Terms.Terms() {
				f.Values = append(f.Values, FacetValue{t.Term, t.Count})
			}
		}
		all = append(all, f)
	}
	return all
}

// places lists where words stand, in order; places that overlap (a code and its first half) are one.
func places(h *search.DocumentMatch) []Place {
	var all []Place
	for _, locations := range h.Locations[fieldText] {
		for _, l := range locations {
			if len(l.ArrayPositions) == 1 {
				all = append(all, Place{Item: int(l.ArrayPositions[0]) - 1, Start: int(l.Start), End: int(l.End)})
			}
		}
	}
	slices.SortFunc(all, func(a, b Place) int {
		return cmp.Or(cmp.Compare(a.Item, b.Item), cmp.Compare(a.Start, b.Start), cmp.Compare(a.End, b.End))
	})
	merged := all[:0]
	for _, p := range all {
		if n := len(merged); n > 0 && merged[n-1].Item == p.Item && p.Start < merged[n-1].End {
			merged[n-1].End = max(merged[n-1].End, p.End)
			continue
		}
		merged = append(merged, p)
	}
	return merged
}
