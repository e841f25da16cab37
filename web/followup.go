package web

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/go-chi/chi/v5"

	"ruledout/kb"
)

// followForm tells later whether a published repair held, as typed.
type followForm struct {
	May      bool // the person may tell
	Odometer string
	Note     string
	Problem  string
}

// followUp adds to a case whether its repair held.
func (s *Server) followUp(r *http.Request) (view, error) {
	id, v := kb.CaseID(chi.URLParam(r, "id")), r.PostForm
	f := followForm{Odometer: strings.TrimSpace(v.Get("odometer")), Note: strings.TrimSpace(v.Get("note"))}
	shown, err := s.book.Show(r.Context(), id) // only what the page shows can be followed up
	if err != nil {
		return view{}, err
	}
	if !public(shown.Case) {
		return view{}, noCase(id)
	}
	up := kb.FollowUp{Held: v.Get("held") == "yes", Note: f.Note}
	if up.Odometer, err = measure(f.Odometer); err != nil {
		err = &kb.Error{Kind: kb.Invalid, Field: "odometer", Msg: err.Error()}
	} else if w := v.Get("held"); w != "yes" && w != "no" {
		err = &kb.Error{Kind: kb.Invalid, Field: "held", Msg: "say whether it held or the fault returned"}
	} else {
		_, err = s.book.FollowUp(r.Context(), actor(r), shown.Case.ID, up)
	}
	switch k := kb.KindOf(err); {
	case err == nil:
		return view{to: "/case/" + url.PathEscape(string(shown.Case.ID))}, nil
	case k != kb.Invalid && k != kb.Conflict:
		return view{}, err
	}
	f.Problem = plain(err)
	page, err2 := s.casePageOf(r, id)
	page.Follow = f
	page.Follow.May = true
	return view{name: "case", data: page, status: statusOf(err)}, err2
}
