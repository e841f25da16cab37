package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"ruledout/internal/casebook"
)

// findPage is a search with counts by field.
type findPage struct {
	base
	Query  string
	Found  casebook.Found
	Chosen []chosenField
	Facets []facetGroup
	From   int
	Next   string // address of the next hits, empty: none
	Before string
}

// chosenField is a field that the search is narrowed by; its address leads to the search without it.
type chosenField struct {
	Text string
	URL  string
}

// facetGroup is the values of one field; each leads to the search narrowed by it.
type facetGroup struct {
	Name   string
	Values []facetLink
}

type facetLink struct {
	Value string
	Count int
	URL   string
}

// hitsOnPage is how many hits a page has.
const hitsOnPage = 20

func (s *Server) find(r *http.Request) (view, error) {
	q := strings.TrimSpace(r.URL.Query().Get("q"))
	from, _ := strconv.Atoi(r.URL.Query().Get("from")) // anything else is the beginning
	from = max(0, from)
	p := findPage{base: base{Title: "Find", Here: "find"}, Query: q, From: from}
	found, err := s.book.Find(r.Context(), q, casebook.FindOptions{Size: hitsOnPage, From: from, Words: true})
	if err != nil {
		return view{}, err
	}
	p.Found = found
	for _, d := range found.Demands {
		p.Chosen = append(p.Chosen, chosenField{chosenText(d), findURL(d.Without, 0)})
	}
	p.Facets = facetsOf(q, found)
	if from+len(found.Hits) < found.Total && len(found.Hits) > 0 {
		p.Next = findURL(q, from+hitsOnPage)
	}
	if from > 0 {
		p.Before = findURL(q, max(0, from-hitsOnPage))
	}
	return view{name: "find", data: p}, nil
}

func chosenText(d casebook.Demand) string {
	if d.Not {
		return "not " + fieldText(d.Field) + ": " + d.Value
	}
	return fieldText(d.Field) + ": " + d.Value
}

// fieldWords says fields in words where their name is not enough.
var fieldWords = map[string]string{"kind": "kind of machine"}

func fieldText(field string) string {
	if s, ok := fieldWords[field]; ok {
		return s
	}
	return field
}

// facetsOf gives the values of each field that narrow the search, those of the years in their order. State is left out: all that is found
// here is published.
func facetsOf(q string, found casebook.Found) []facetGroup {
	var out []facetGroup
	for _, f := range found.Facets {
		if f.Field == "state" || len(f.Values) == 1 && f.Values[0].Count == found.Total {
			continue
		}
		g := facetGroup{Name: fieldText(f.Field)}
		for _, v := range f.Values[:min(len(f.Values), facetValues)] {
			g.Values = append(g.Values, facetLink{v.Value, v.Count, findURL(strings.TrimSpace(q+" "+f.Field+":"+quoted(v.Value)), 0)})
		}
		if f.Field == "year" {
			slices.SortFunc(g.Values, func(a, b facetLink) int { return strings.Compare(b.Value, a.Value) })
		}
		if len(g.Values) > 0 {
			out = append(out, g)
		}
	}
	return out
}

// facetValues is how many values of a field a page has.
const facetValues = 8

func quoted(s string) string {
	if strings.ContainsAny(s, " :") {
		return `"` + strings.ReplaceAll(s, `"`, "") + `"`
	}
	return s
}

func findURL(q string, from int) string {
	v := url.Values{"q": {q}}
	if from > 0 {
		v.Set("from", strconv.Itoa(from))
	}
	return "/find?" + v.Encode()
}
