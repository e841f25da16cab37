package web

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/go-chi/chi/v5"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// draftPage is a case on the desk: its facts to be put right beside the text that they were read from, and for a moderator the decision.
type draftPage struct {
	base
	Draft   casebook.Draft
	Path    string
	Form    jobForm
	Name    string // title of the case, as typed
	Ended   string // how it ended, as the form has it: "open" or a way of closing
	Sure    string // confirmation
	Machine []quoteLine
	Status  []quoteLine
	Codes   []codeLine
	Doubts  []doubtLine
	Texts   []textBlock
	Queue   queuePlace
	History []historyRow             // newest first
	Twice   []casebook.DuplicatePair // what it may be told twice with, for moderators
	Reason  string
	Problem string
	Stale   bool // somebody else changed it meanwhile
}

// doubtLine is a question that reading left open, to be ticked off.
type doubtLine struct {
	Index    int
	Question string
	About    string
	Said     []quoteLine
	Settled  bool
}

// historyRow is one revision with what it changed.
type historyRow struct {
	When, Verb, By, Reason string
	Changes                []changeRow
}

func historyOf(all []casebook.Revised) []historyRow {
	var out []historyRow
	for _, x := range slices.Backward(all) {
		row := historyRow{When: moment(x.At), Verb: x.Verb, By: x.Actor, Reason: x.Reason}
		for _, c := range x.Changes {
			field := "case." + c.Field
			row.Changes = append(row.Changes, changeRow{fieldTitle(field), sheetFieldWords(casebook.SheetFacts{Case: c.Before}, field), sheetFieldWords(casebook.SheetFacts{Case: c.Now}, field)})
		}
		out = append(out, row)
	}
	return out
}

// queuePlace is where a case stands among those that wait.
type queuePlace struct {
	Waiting int
	Next    kb.CaseID // to look at after this one, empty: none
}

func (s *Server) draftPage(r *http.Request) (view, error) {
	d, err := s.book.Draft(r.Context(), actor(r), kb.CaseID(chi.URLParam(r, "id")))
	if err != nil {
		return view{}, err
	}
	p, err := s.draftOf(r, d)
	return view{name: "draft", data: p}, err
}

func (s *Server) draftOf(r *http.Request, d casebook.Draft) (draftPage, error) {
	c := d.Case
	shown := anchorsOf(d.Texts)
	p := draftPage{base: base{Title: title(c), Here: "mine"}, Draft: d, Path: draftPath(c.ID), Name: c.Title, Ended: "open", Sure: string(c.Confirmation),
		Machine: shown.quotes(c.Machine.Evidence), Status: shown.quotes(c.StatusEvidence), Codes: codesOf(c, shown), History: historyOf(d.History)}
	if c.Status == kb.Closed {
		p.Ended = string(c.ClosedAs)
	}
	p.Form = formOf(casebook.Sheet{Revision: d.Seen, SheetFacts: casebook.SheetFacts{Case: c}})
	p.Form.Kinds, p.Form.MayFix = s.kinds(), true
	for i, t := range c.Tests {
		p.Form.Tests[i].Said = shown.quotes(t.Evidence)
	}
	for i, x := range c.Fixes {
		p.Form.Fixes[i].Said = shown.quotes(x.Evidence)
	}
	for i, x := range c.Doubts {
		p.Doubts = append(p.Doubts, doubtLine{Index: i, Question: x.Question, About: aboutWords(x.About, c), Said: shown.quotes(x.Evidence)})
	}
	for _, t := range d.Texts {
		p.Texts = append(p.Texts, block(t, c))
	}
	if !d.Decides {
		return p, nil
	}
	p.Here = "review"
	var err error
	if p.Queue, err = s.place(r, c.ID); err != nil {
		return p, err
	}
	p.Twice, err = s.book.DuplicatesOf(r.Context(), c.ID, casebook.DuplicateOptions{})
	p.Twice = p.Twice[:min(len(p.Twice), 3)]
	return p, err
}

// place gives the case to look at after one, in the order of the queue.
func (s *Server) place(r *http.Request, id kb.CaseID) (queuePlace, error) {
	q, err := s.book.Queue(r.Context(), 0, 0)
	p := queuePlace{Waiting: q.Total}
	i := slices.IndexFunc(q.Waiting, func(w casebook.Waiting) bool { return w.ID == id })
	if i+1 < len(q.Waiting) {
		p.Next = q.Waiting[i+1].ID
	} else if i > 0 {
		p.Next = q.Waiting[0].ID
	}
	return p, err
}

func draftPath(id kb.CaseID) string { return "/draft/" + url.PathEscape(string(id)) }

// aboutWords says which fact a doubt is about: "fixes[1].outcome" names the fix.
func aboutWords(about string, c kb.Case) string {
	var i int
	switch {
	case scan(about, "tests[%d]", &i) && i < len(c.Tests):
		return testText(c.Tests[i])
	case scan(about, "fixes[%d]", &i) && i < len(c.Fixes):
		return fixWords(c.Fixes[i])
	case scan(about, "codes[%d]", &i) && i < len(c.Codes):
		return c.Codes[i].Code
	case scan(about, "symptoms[%d]", &i) && i < len(c.Symptoms):
		return c.Symptoms[i].Symptom
	case about == "case":
		return "the whole"
	}
	return strings.ReplaceAll(about, "_", " ")
}

func scan(s, format string, i *int) bool {
	n, _ := fmt.Sscanf(s, format, i) // what follows the index does not matter
	return n == 1 && *i >= 0
}

// correctDraft keeps what was put right.
func (s *Server) correctDraft(r *http.Request) (view, error) {
	d, err := s.book.Draft(r.Context(), actor(r), kb.CaseID(chi.URLParam(r, "id")))
	if err != nil {
		return view{}, err
	}
	f, v := readJobForm(r.PostForm), r.PostForm
	typed := f
	c := f.facts(casebook.SheetFacts{Case: d.Case}, s.book).Case
	c.Title = strings.TrimSpace(v.Get("title"))
	ended(&c, v.Get("ended"), v.Get("sure"))
	c.Doubts = slices.DeleteFunc(slices.Clone(c.Doubts), func(x kb.Doubt) bool {
		i := slices.IndexFunc(d.Case.Doubts, func(y kb.Doubt) bool { return y.Question == x.Question && y.About == x.About })
		return slices.Contains(v["settled"], fmt.Sprint(i))
	})
	if f.unread() {
		err = kb.Errorf(kb.Invalid, "nothing was saved: what is marked below cannot be read")
	} else {
		_, err = s.book.Correct(r.Context(), actor(r), d.Case.ID, f.Revision, c, v.Get("reason"))
	}
	if err == nil {
		return view{to: draftPath(d.Case.ID)}, nil
	}
	if k := kb.KindOf(err); k != kb.Invalid && k != kb.Conflict {
		return view{}, err
	}
	p, err2 := s.draftOf(r, d)
	p.typed(f, typed, v)
	p.problem(err)
	return view{name: "draft", data: p, status: statusOf(err)}, err2
}

// ended says how a case ended, and how sure that is.
func ended(c *kb.Case, as, sure string) {
	c.Status, c.ClosedAs, c.Confirmation = kb.Closed, kb.ClosedAs(as), kb.Confirmation(sure)
	if as == "open" {
		c.Status, c.ClosedAs, c.Confirmation = kb.Open, "", ""
	}
}

// typed puts what was typed back into the form.
func (p *draftPage) typed(read, as jobForm, v url.Values) {
	seen, kinds := p.Form.Revision, p.Form.Kinds
	p.Form = as
	p.Form.Revision, p.Form.Kinds, p.Form.MayFix, p.Form.Problems = seen, kinds, true, read.Problems
	p.Form.Tests, p.Form.Fixes = read.Tests, read.Fixes
	p.Name, p.Ended, p.Sure, p.Reason = v.Get("title"), v.Get("ended"), v.Get("sure"), v.Get("reason")
	for i := range p.Doubts {
		p.Doubts[i].Settled = slices.Contains(v["settled"], fmt.Sprint(i))
	}
}

func (p *draftPage) problem(err error) {
	p.Problem = plain(err)
	var stale *casebook.StaleCase
	p.Stale = errors.As(err, &stale)
}

// decideDraft carries out a moderator's decision, and goes on to the next case.
func (s *Server) decideDraft(r *http.Request) (view, error) {
	id, v := kb.CaseID(chi.URLParam(r, "id")), r.PostForm
	queue, err := s.place(r, id)
	if err != nil {
		return view{}, err
	}
	_, err = s.book.Decide(r.Context(), actor(r), id, atoi64(v.Get("revision")), casebook.Ruling(v.Get("do")), v.Get("reason"))
	switch k := kb.KindOf(err); {
	case err == nil && queue.Next != "":
		return view{to: draftPath(queue.Next)}, nil
	case err == nil:
		return view{to: "/review"}, nil
	case k != kb.Invalid && k != kb.Conflict:
		return view{}, err
	}
	d, err2 := s.book.Draft(r.Context(), actor(r), id)
	if err2 != nil {
		return view{}, err2
	}
	p, err2 := s.draftOf(r, d)
	p.Reason = v.Get("reason")
	p.problem(err)
	return view{name: "draft", data: p, status: statusOf(err)}, err2
}

// reviewPage lists what waits for a moderator.
type reviewPage struct {
	base
	Total   int
	Doubts  int
	Waiting []casebook.Waiting
	From    int
	Next    string
}

// waitingOnPage is how many cases a page of the queue has.
const waitingOnPage = 50

func (s *Server) review(r *http.Request) (view, error) {
	from := max(0, int(atoi64(r.URL.Query().Get("from"))))
	q, err := s.book.Queue(r.Context(), waitingOnPage, from)
	p := reviewPage{base: base{Title: "Review", Here: "review"}, Total: q.Total, Doubts: q.Doubts, Waiting: q.Waiting, From: from}
	if from+len(q.Waiting) < q.Total {
		p.Next = fmt.Sprintf("/review?from=%d", from+waitingOnPage)
	}
	return view{name: "review", data: p}, err
}
