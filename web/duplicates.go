package web

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"sync"

	"github.com/go-chi/chi/v5"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// duplicatesPage lists pairs of cases that may be one repair told twice.
type duplicatesPage struct {
	base
	Pairs []casebook.DuplicatePair
	Total int
}

// pairsOnPage is how many pairs a page has: the most probable.
const pairsOnPage = 50

// pairs keeps the pairs of the book at a log position: to compare all cases takes its time.
type pairs struct {
	mu   sync.Mutex
	pos  int64
	kept []casebook.DuplicatePair
}

// of gives the pairs of the book as it is now.
func (p *pairs) of(ctx context.Context, b *casebook.Book) ([]casebook.DuplicatePair, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	pos, err := b.Position(ctx)
	if err != nil || pos == p.pos && p.kept != nil {
		return p.kept, err
	}
	list, err := b.Duplicates(ctx, casebook.DuplicateOptions{})
	if err == nil {
		p.pos, p.kept = pos, list
	}
	return list, err
}

func (s *Server) duplicates(r *http.Request) (view, error) {
	list, err := s.pairs.of(r.Context(), s.book)
	p := duplicatesPage{base: base{Title: "Told twice?", Here: "review"}, Total: len(list), Pairs: list[:min(len(list), pairsOnPage)]}
	return view{name: "duplicates", data: p}, err
}

// keepApart keeps a moderator's decision that two cases are two repairs.
func (s *Server) keepApart(r *http.Request) (view, error) {
	a, b, reason := kb.CaseID(chi.URLParam(r, "a")), kb.CaseID(chi.URLParam(r, "b")), r.PostForm.Get("reason")
	if err := s.book.NotDuplicates(r.Context(), actor(r), a, b, reason); err != nil {
		return s.pair(r, pairPage{Reason: reason}, err)
	}
	return view{to: "/duplicates"}, nil
}

// mergePair makes one case of two, field by field as chosen.
func (s *Server) mergePair(r *http.Request) (view, error) {
	a, b, v := kb.CaseID(chi.URLParam(r, "a")), kb.CaseID(chi.URLParam(r, "b")), r.PostForm
	into, other := a, b
	if v.Get("into") == string(b) {
		into, other = b, a
	}
	take := map[string]kb.CaseID{}
	for _, name := range kb.MergeFields() {
		if id := kb.CaseID(v.Get("take " + name)); id == a || id == b {
			take[name] = id
		}
	}
	seen := casebook.Seen{a: atoi64(v.Get("seen-a")), b: atoi64(v.Get("seen-b"))}
	if _, err := s.book.Merge(r.Context(), actor(r), into, []kb.CaseID{other}, take, seen, v.Get("reason")); err != nil {
		return s.pair(r, pairPage{Reason: v.Get("reason")}, err)
	}
	return view{to: draftPath(into)}, nil
}

// unmerge takes a case out of the one that it was merged into.
func (s *Server) unmerge(r *http.Request) (view, error) {
	id, part := kb.CaseID(chi.URLParam(r, "id")), kb.CaseID(r.PostForm.Get("part"))
	_, err := s.book.Unmerge(r.Context(), actor(r), part, r.PostForm.Get("reason"))
	if err == nil {
		return view{to: draftPath(part)}, nil
	}
	if k := kb.KindOf(err); k != kb.Invalid && k != kb.Conflict {
		return view{}, err
	}
	d, err2 := s.book.Draft(r.Context(), actor(r), id)
	if err2 != nil {
		return view{}, err2
	}
	p, err2 := s.draftOf(r, d)
	p.Reason = r.PostForm.Get("reason")
	p.problem(err)
	return view{name: "draft", data: p, status: statusOf(err)}, err2
}

func pairPath(a, b kb.CaseID) string {
	return "/duplicates/" + url.PathEscape(string(a)) + "/" + url.PathEscape(string(b))
}

// pairPage shows two cases side by side, and what speaks for and against their being one repair.
type pairPage struct {
	base
	A, B    pairSide
	Path    string
	Pair    *casebook.DuplicatePair // nil: nothing speaks for it
	Fields  []pairField
	Into    kb.CaseID // that takes the other in
	Problem string
	Reason  string
}

type pairSide struct {
	ID    kb.CaseID
	Seen  int64 // the position that was looked at
	Title string
	State kb.State
	Texts []textBlock
}

// pairField is one field of both cases.
type pairField struct {
	Name  string
	Title string
	A, B  []string
	Same  bool
	Take  kb.CaseID // whose it is to be; empty: joined by rule
	Fixed bool      // cannot be chosen
}

// neverChosen are the fields of which both cases' values are kept in any case.
var neverChosen = []string{"sources", "ext", "state", "full_form", "contributor"}

func (s *Server) pairPage(r *http.Request) (view, error) {
	return s.pair(r, pairPage{}, nil)
}

func (s *Server) pair(r *http.Request, p pairPage, decided error) (view, error) {
	status := 0
	if decided != nil {
		if k := kb.KindOf(decided); k != kb.Invalid && k != kb.Conflict {
			return view{}, decided
		}
		p.Problem, status = plain(decided), statusOf(decided)
	}
	a, err := s.book.Draft(r.Context(), actor(r), kb.CaseID(chi.URLParam(r, "a")))
	if err != nil {
		return view{}, err
	}
	b, err := s.book.Draft(r.Context(), actor(r), kb.CaseID(chi.URLParam(r, "b")))
	if err != nil {
		return view{}, err
	}
	p.base, p.A, p.B, p.Path = base{Title: "One repair or two?", Here: "review"}, sideOf(a), sideOf(b), pairPath(a.Case.ID, b.Case.ID)
	compared, err := s.book.Compare(r.Context(), a.Case.ID, b.Case.ID)
	if err != nil {
		return view{}, err
	}
	for _, f := range compared.Fields {
		x := pairField{Name: f.Name, Title: fieldTitle("case." + f.Name), A: f.Values[0].Lines, B: f.Values[1].Lines, Same: !f.Differs, Fixed: slices.Contains(neverChosen, f.Name),
			Take: kb.CaseID(r.PostForm.Get("take " + f.Name))}
		if len(x.A)+len(x.B) > 0 {
			p.Fields = append(p.Fields, x)
		}
	}
	if p.Into = a.Case.ID; a.Present.State != kb.Published && b.Present.State == kb.Published || r.PostForm.Get("into") == string(b.Case.ID) {
		p.Into = b.Case.ID
	}
	p.Pair, err = s.pairOf(r.Context(), a.Case.ID, b.Case.ID)
	return view{name: "pair", data: p, status: status}, err
}

func sideOf(d casebook.Draft) pairSide {
	side := pairSide{ID: d.Case.ID, Seen: d.Pos, Title: title(d.Case), State: d.Present.State}
	for _, t := range d.Texts {
		side.Texts = append(side.Texts, block(t, d.Case))
	}
	return side
}

// pairOf gives what the book thinks of two cases, nil if they are no candidates.
func (s *Server) pairOf(ctx context.Context, a, b kb.CaseID) (*casebook.DuplicatePair, error) {
	list, err := s.book.DuplicatesOf(ctx, a, casebook.DuplicateOptions{All: true})
	for _, p := range list {
		if p.A == b || p.B == b {
			return &p, err
		}
	}
	return nil, err
}
