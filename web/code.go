package web

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/go-chi/chi/v5"

	"ruledout/internal/casebook"
)

// codePage is what the book knows of one code.
type codePage struct {
	base
	View     casebook.CodeView
	Readings []measuredLine
	LookUp   string // address
}

// MakerWanted tells whether nothing can be said before a maker is named: all cases of the code are some maker's.
func (p codePage) MakerWanted() bool { return len(p.View.Issuers) > 0 && p.View.Cases == 0 }

func (s *Server) showCode(r *http.Request) (view, error) {
	v, err := s.book.CodeView(r.Context(), chi.URLParam(r, "code"), chi.URLParam(r, "issuer"))
	if err != nil {
		return view{}, err
	}
	title := v.Code
	if v.Issuer != "" {
		title += " of " + v.Issuer
	}
	p := codePage{base: base{Title: title, Here: "find"}, View: v, LookUp: "/?q=" + url.QueryEscape(strings.TrimSpace(v.Code+" "+v.Issuer))}
	for _, m := range v.Readings {
		p.Readings = append(p.Readings, measuredLine{Measured: m})
	}
	return view{name: "code", data: p}, nil
}
