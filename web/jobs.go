package web

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// jobsPage lists a person's job sheets.
type jobsPage struct {
	base
	Due    []jobLine // repairs to be asked about
	Open   []jobLine
	Closed []jobLine
}

// jobLine is a job sheet in a list.
type jobLine struct {
	casebook.Sheet
	Machine string
	Codes   []string
	When    string
	Ask     string // when its reminder is due
	IsDue   bool
}

func (s *Server) jobs(r *http.Request) (view, error) {
	all, err := s.book.Sheets(r.Context(), actor(r))
	if err != nil {
		return view{}, err
	}
	reminders, err := s.book.Reminders(r.Context(), actor(r))
	if err != nil {
		return view{}, err
	}
	p := jobsPage{base: base{Title: "Job sheets", Here: "jobs"}}
	for _, x := range reminders {
		line := lineOf(x.Sheet)
		line.IsDue, line.Ask = x.Due, reminderWords(*x.Sheet.Reminder)
		p.Due = append(p.Due, line)
	}
	for _, x := range all {
		if x.Closed == nil {
			p.Open = append(p.Open, lineOf(x))
		} else {
			p.Closed = append(p.Closed, lineOf(x))
		}
	}
	return view{name: "jobs", data: p}, nil
}

func lineOf(x casebook.Sheet) jobLine {
	l := jobLine{Sheet: x, Machine: casebook.MachineName(x.Case.Machine), When: moment(x.Changed)}
	for _, e := range x.Case.Codes {
		l.Codes = append(l.Codes, e.Code)
	}
	return l
}

// moment writes a time as the pages show it.
func moment(t time.Time) string { return t.UTC().Format("2006-01-02 15:04 UTC") }

// keep keeps what is known in a look-up as a job sheet.
func (s *Server) keep(r *http.Request) (view, error) {
	f := readForm(r)
	c, known := f.question(s.book)
	name := strings.TrimSpace(r.PostForm.Get("name"))
	if name == "" {
		name = jobName(c, s.today())
	}
	var made casebook.Sheet
	err := f.unread()
	if err == nil {
		made, err = s.book.NewSheet(r.Context(), actor(r), c, name)
	}
	if kb.KindOf(err) == kb.Invalid { // back to the form, with all that was typed
		f.Problems = append(f.Problems, "not kept yet: "+plain(err))
		p := lookPage{base: base{Title: "Look up", Here: "look"}, Form: f, Asked: known}
		return view{name: "look", data: p, status: http.StatusUnprocessableEntity}, nil
	}
	if err != nil {
		return view{}, err
	}
	return view{to: jobPath(made.ID)}, nil
}

func (s *Server) today() string { return s.book.Now().Format(time.DateOnly) }

// jobName names a job after what is known of it, and the day if one is given.
func jobName(c kb.Case, day string) string {
	parts := []string{casebook.MachineName(c.Machine)}
	for _, e := range c.Codes[:min(len(c.Codes), 2)] {
		parts = append(parts, e.Code)
	}
	parts = slices.DeleteFunc(append(parts, day), func(p string) bool { return p == "" })
	return strings.Join(parts, ", ")
}

func jobPath(id string) string { return "/jobs/" + url.PathEscape(id) }

// jobPage is one job sheet: the facts on one side, what the book says on the other, and below what belongs to the job alone.
type jobPage struct {
	base
	Sheet casebook.Sheet
	Path  string
	Form  jobForm
	Wish  wishForm
	Asked bool
	answered
	Saved    string // when and by whom
	Machine  string // in words
	Ended    []factGroup
	Timeline []timelineItem
	Estimate estimateView
	Money    moneyForm
	Reminder reminderView
	Mod      bool // may publish at once
	// Of an addition that failed: which part of the page it belongs to, what is wrong, and what was typed.
	At      string
	Problem string
	Typed   map[string]string
}

// estimateView is what a job comes to so far.
type estimateView struct {
	casebook.Estimate
	Known   bool
	Problem string
	Hours   string
}

// reminderView is the question whether the repair held.
type reminderView struct {
	Open bool // it waits for an answer
	Due  bool
	When string
	Said string // the answer
}

func (s *Server) job(r *http.Request) (view, error) {
	sheet, err := s.book.Sheet(r.Context(), actor(r), chi.URLParam(r, "id"))
	if err != nil {
		return view{}, err
	}
	p, err := s.jobPage(r, sheet, formOf(sheet))
	return view{name: "job", data: p}, err
}

// jobPage fills the page of a sheet; the form may hold more than the sheet does.
func (s *Server) jobPage(r *http.Request, sheet casebook.Sheet, f jobForm) (jobPage, error) {
	p := jobPage{
		base: base{Title: sheet.Name, Here: "jobs"}, Sheet: sheet, Path: jobPath(sheet.ID), Form: f, Wish: wishesOf(sheet.SheetFacts), Machine: casebook.MachineName(sheet.Case.Machine),
		Saved: "revision " + stepField(int(sheet.Revision)) + ", " + moment(sheet.Changed) + " by " + sheet.By,
		Mod:   who(r).Role >= casebook.Moderator, Estimate: estimateOf(sheet), Money: moneyFormOf(sheet.SheetFacts), Reminder: reminderOf(sheet, s.book.Now()), Typed: map[string]string{},
	}
	p.Form.Kinds = s.kinds()
	if sheet.Closed != nil {
		p.Ended, p.Timeline = factsOf(sheet.Case, nil), timelineOf(sheet.Case, nil)
		return p, nil
	}
	if !isKnown(sheet.Case) {
		return p, nil
	}
	a, err := s.ask(r.Context(), sheet.Case, &p.Wish)
	if err != nil {
		return p, err
	}
	p.Asked = true
	p.answered, err = s.answered(r.Context(), sheet.Case, a)
	return p, err
}

// isKnown tells whether there is something to ask about.
func isKnown(c kb.Case) bool {
	return len(c.Codes)+len(c.Symptoms)+len(c.Tests)+len(c.Fixes) > 0 || c.Machine.Make+c.Machine.Kind+c.Machine.Model != ""
}

func (s *Server) kinds() []string {
	var out []string
	for _, k := range s.book.Vocabulary().MachineKinds() {
		out = append(out, k.Name)
	}
	return out
}

func estimateOf(sheet casebook.Sheet) estimateView {
	e, ok, err := sheet.Estimate()
	v := estimateView{Estimate: e, Known: ok, Hours: figure(e.Minutes / 60)}
	if err != nil {
		v.Problem = plain(err)
	}
	return v
}

func reminderOf(sheet casebook.Sheet, now time.Time) reminderView {
	r := sheet.Reminder
	switch {
	case r == nil:
		return reminderView{}
	case r.Answered != "" && r.Held:
		return reminderView{Said: r.Answered + ": the repair has held"}
	case r.Answered != "":
		return reminderView{Said: r.Answered + ": the fault returned"}
	}
	return reminderView{Open: true, Due: r.Due(now, nil), When: reminderWords(*r)}
}

func reminderWords(r casebook.Reminder) string {
	var parts []string
	if r.Date != "" {
		parts = append(parts, "on "+r.Date)
	}
	if r.Odometer != nil {
		parts = append(parts, "at "+exactly(r.Odometer.Value)+" "+r.Odometer.Unit)
	}
	return strings.Join(parts, " or ")
}

// saveJob keeps the facts of a sheet as typed. What cannot be read stays in its field, the rest is saved.
func (s *Server) saveJob(r *http.Request) (view, error) {
	ctx, id := r.Context(), chi.URLParam(r, "id")
	f := readJobForm(r.PostForm)
	now, err := s.book.Sheet(ctx, actor(r), id)
	if err != nil {
		return view{}, err
	}
	was := now
	if f.Revision != now.Revision {
		if was, err = s.book.SheetAt(ctx, actor(r), id, f.Revision); err != nil {
			return view{}, err
		}
	}
	typed, wish := f, readWish(r.PostForm)
	mine := f.facts(was.SheetFacts, s.book)
	wish.into(&mine, s.book)
	saved, err := s.book.SaveSheet(ctx, actor(r), casebook.Sheet{ID: id, Revision: f.Revision, SheetFacts: mine})
	var stale *casebook.StaleSheet
	switch {
	case errors.As(err, &stale):
		return s.joinOrAsk(r, conflict{id: id, mine: mine, was: was, unread: f, wish: wish})
	case kb.KindOf(err) == kb.Invalid || kb.KindOf(err) == kb.Conflict: // nothing was saved: everything as it was typed
		typed.Problems = append(typed.Problems, "nothing was saved: "+plain(err))
		p, err2 := s.jobPage(r, now, typed)
		p.Wish = wish
		return view{name: "job", data: p, status: statusOf(err)}, err2
	case err != nil:
		return view{}, err
	}
	return s.afterSave(r, saved, f, wish)
}

// afterSave shows the saved sheet: at its own address, unless something could not be read and has to be shown as typed.
func (s *Server) afterSave(r *http.Request, saved casebook.Sheet, f jobForm, wish wishForm) (view, error) {
	if !f.unread() && !wish.Unread() {
		return view{to: jobPath(saved.ID)}, nil
	}
	p, err := s.jobPage(r, saved, f.after(saved))
	if wish.Unread() {
		p.Wish = wish
	}
	return view{name: "job", data: p, status: http.StatusUnprocessableEntity}, err
}
