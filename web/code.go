package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"ruledout/internal/casebook"
)

// codePage is what the book knows of one code.
type codePage struct {
	base
	View casebook.CodeView
}

func (s *Server) showCode(r *http.Request) (view, error) {
	v, err := s.book.CodeView(r.Context(), chi.URLParam(r, "code"), chi.URLParam(r, "issuer"))
	if err != nil {
		return view{}, err
	}
	title := v.Code
	if v.Issuer != "" {
		title += " of " + v.Issuer
	}
	return view{name: "code", data: codePage{base{Title: title, Here: "find"}, v}}, nil
}
