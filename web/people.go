package web

import (
	"net/http"
	"strings"

	"github.com/go-chi/chi/v5"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// peoplePage is where an administrator keeps the accounts.
type peoplePage struct {
	base
	People  []casebook.Person
	Roles   []casebook.Role
	Sheets  []casebook.SheetOutline
	Name    string // as typed
	Role    string
	Problem string
	Made    *madeLink
}

// madeLink is a one-time link, shown this once.
type madeLink struct {
	casebook.Link
	URL string
}

func (s *Server) peoplePage(r *http.Request) (view, error) {
	return s.people(r, peoplePage{}, nil)
}

// people shows the accounts, with what became of a change to them.
func (s *Server) people(r *http.Request, p peoplePage, changed error) (view, error) {
	status := 0
	if changed != nil {
		if status = statusOf(changed); status == http.StatusInternalServerError {
			return view{}, changed
		}
		p.Problem = plain(changed)
	}
	p.base, p.Roles = base{Title: "People", Here: "people"}, casebook.Roles()
	var err error
	if p.People, err = s.book.Users(r.Context(), actor(r)); err != nil {
		return view{}, err
	}
	p.Sheets, err = s.book.SheetOutlines(r.Context(), actor(r))
	return view{name: "people", data: p, status: status}, err
}

func (s *Server) addPerson(r *http.Request) (view, error) {
	p := peoplePage{Name: r.PostForm.Get("name"), Role: r.PostForm.Get("role")}
	role, err := casebook.ParseRole(p.Role)
	if err != nil {
		return s.people(r, p, err)
	}
	added, err := s.book.AddUser(r.Context(), actor(r), p.Name, role)
	if err != nil {
		return s.people(r, p, err)
	}
	made, err := s.makeLink(r, added.Name)
	return s.people(r, peoplePage{Made: made}, err)
}

func (s *Server) makeLink(r *http.Request, name string) (*madeLink, error) {
	l, err := s.book.NewLink(r.Context(), actor(r), name)
	if err != nil {
		return nil, err
	}
	return &madeLink{l, s.baseOf(r) + casebook.LinkPath + l.Token}, nil
}

// baseOf gives the address at which this site was reached.
func (s *Server) baseOf(r *http.Request) string {
	if s.opt.Base != "" {
		return strings.TrimRight(s.opt.Base, "/")
	}
	if r.TLS != nil {
		return "https://" + r.Host
	}
	return "http://" + r.Host
}

// changePerson does to an account what its button says.
func (s *Server) changePerson(r *http.Request) (view, error) {
	name, p := chi.URLParam(r, "name"), peoplePage{}
	var err error
	switch r.PostForm.Get("do") {
	case "role":
		var role casebook.Role
		if role, err = casebook.ParseRole(r.PostForm.Get("role")); err == nil {
			_, err = s.book.SetRole(r.Context(), actor(r), name, role)
		}
	case "disable":
		_, err = s.book.DisableUser(r.Context(), actor(r), name)
	case "enable":
		_, err = s.book.EnableUser(r.Context(), actor(r), name)
	case "link":
		p.Made, err = s.makeLink(r, name)
	default:
		err = kb.Errorf(kb.Invalid, "want role, disable, enable or link")
	}
	if err != nil || p.Made != nil {
		return s.people(r, p, err)
	}
	return view{to: "/people"}, nil
}

// eraseSheet deletes a job sheet of others unseen, on demand of a person whose data it holds.
func (s *Server) eraseSheet(r *http.Request) (view, error) {
	if r.PostForm.Get("sure") == "" {
		return s.people(r, peoplePage{}, kb.Errorf(kb.Invalid, "tick that the job sheet is to be erased for good"))
	}
	if err := s.book.EraseSheet(r.Context(), actor(r), chi.URLParam(r, "sheet")); err != nil {
		return s.people(r, peoplePage{}, err)
	}
	return view{to: "/people"}, nil
}
