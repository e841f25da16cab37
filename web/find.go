package web

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"ruledout/internal/casebook"
)

// findPage is a search with counts by field.
type findPage struct {
	base
	Query  string
	Found  casebook.Found
	Facets []facetGroup
	From   int
	Next   string // address of the next hits, empty: none
	Before string
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
	for _, f := range found.Facets {
		if len(f.Values) == 1 && f.Values[0].Count == found.Total {
			continue // narrows nothing
		}
		g := facetGroup{Name: f.Field}
		for _, v := range f.Values[:min(len(f.Values), 8)] {
			g.Values = append(g.Values, facetLink{v.Value, v.Count, findURL(strings.TrimSpace(q+" "+f.Field+":"+quoted(v.Value)), 0)})
		}
		if len(g.Values) > 0 {
			p.Facets = append(p.Facets, g)
		}
	}
	if from+len(found.Hits) < found.Total && len(found.Hits) > 0 {
		p.Next = findURL(q, from+hitsOnPage)
	}
	if from > 0 {
		p.Before = findURL(q, max(0, from-hitsOnPage))
	}
	return view{name: "find", data: p}, nil
}

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
