package web

import (
	"net/http"
	"slices"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// termsPage is where a moderator looks after the vocabulary: terms that cases use and nobody knows, and what was decided on others.
type termsPage struct {
	base
	Terms   []casebook.Term
	Decided []casebook.TermDecided
	Systems []string
	Problem string
	Typed   kb.TermDecision // what was typed with the problem
	Reason  string
}

// termsOnPage is how many terms a page has: those in most cases.
const termsOnPage = 60

func (s *Server) termsPage(r *http.Request) (view, error) {
	return s.terms(r, termsPage{}, nil)
}

// terms shows the vocabulary's page, with what became of a decision.
func (s *Server) terms(r *http.Request, p termsPage, decided error) (view, error) {
	status := 0
	if decided != nil {
		k := kb.KindOf(decided)
		if k != kb.Invalid && k != kb.NotFound && k != kb.Conflict {
			return view{}, decided
		}
		p.Problem, status = plain(decided), statusOf(decided)
	}
	p.base = base{Title: "Vocabulary", Here: "review"}
	var err error
	if p.Terms, err = s.book.NewTerms(r.Context(), actor(r), termsOnPage); err != nil {
		return view{}, err
	}
	if p.Decided, err = s.book.TermDecisions(r.Context()); err != nil {
		return view{}, err
	}
	slices.Reverse(p.Decided)
	for _, c := range s.book.Vocabulary().Components() {
		p.Systems = append(p.Systems, c.System)
	}
	slices.Sort(p.Systems)
	p.Systems = slices.Compact(p.Systems)
	return view{name: "terms", data: p, status: status}, nil
}

func (s *Server) decideTerm(r *http.Request) (view, error) {
	v := r.PostForm
	d := kb.TermDecision{Kind: kb.TermKind(v.Get("kind")), Term: v.Get("term"), Choice: kb.TermChoice(v.Get("choice")), Of: v.Get("of"), System: v.Get("system")}
	var err error
	if v.Get("choice") == "undo" {
		err = s.book.UndoTerm(r.Context(), actor(r), d.Kind, d.Term, v.Get("reason"))
	} else {
		err = s.book.DecideTerm(r.Context(), actor(r), d, v.Get("reason"))
	}
	if err != nil {
		return s.terms(r, termsPage{Typed: d, Reason: v.Get("reason")}, err)
	}
	return view{to: "/terms"}, nil
}
