package web

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/kb"
)

// closePage closes a job: what fixed it, how that was proved, and what becomes of it.
type closePage struct {
	base
	Sheet    casebook.Sheet
	Path     string
	Form     closeForm
	Done     []doneRow // repairs on the sheet, one of which may have been it
	Mod      bool      // may publish at once
	Problems []string
	Cautions []kb.CautionFor
	Shared   *sharedView // how it would look to others, where that was asked for
}

// closeForm is how a job ended, as typed.
type closeForm struct {
	Revision int64
	As       string
	Done     []int
	Cure     cureField
	Proof    []testField
	Share    string // "", submit, publish
	Prices   bool
	Days     string
	Km       string
}

// cureField is what fixed it, where it is not on the sheet yet, with its part.
type cureField struct{ What, Origin, Number, Coding, Cost string }

type doneRow struct {
	Index   int
	Text    string
	Checked bool
}

// sharedView is a case as others would see it.
type sharedView struct {
	Title    string
	Machine  string
	Codes    []string
	Facts    []factGroup
	Timeline []timelineItem
}

// usualDays is when one is asked whether a repair held, unless another time is typed.
const usualDays = "30"

func (s *Server) closePage(r *http.Request) (view, error) {
	sheet, err := s.book.Sheet(r.Context(), actor(r), chi.URLParam(r, "id"))
	if err != nil {
		return view{}, err
	}
	if sheet.Closed != nil {
		return view{to: jobPath(sheet.ID)}, nil
	}
	f := closeForm{Revision: sheet.Revision, As: string(kb.Repaired), Days: usualDays}
	return s.closing(r, sheet, f, nil, 0)
}

// closing shows the page for closing with what was typed.
func (s *Server) closing(r *http.Request, sheet casebook.Sheet, f closeForm, problems []string, status int) (view, error) {
	p := closePage{base: base{Title: "Close: " + sheet.Name, Here: "jobs"}, Sheet: sheet, Path: jobPath(sheet.ID), Form: f, Mod: who(r).Role >= casebook.Moderator, Problems: problems}
	for i, x := range sheet.Case.Fixes {
		if x.Action != kb.Bypass {
			p.Done = append(p.Done, doneRow{i, fixWords(x), slices.Contains(f.Done, i)})
		}
	}
	for len(p.Form.Proof) < 2 {
		p.Form.Proof = append(p.Form.Proof, testField{})
	}
	if isKnown(sheet.Case) {
		a, err := s.book.Ask(r.Context(), sheet.Case)
		if err != nil {
			return view{}, err
		}
		p.Cautions = a.Cautions
	}
	return view{name: "close", data: p, status: status}, nil
}

func readCloseForm(v url.Values) closeForm {
	f := closeForm{Revision: atoi64(v.Get("revision")), As: v.Get("as"), Share: v.Get("share"), Prices: v.Get("prices") != "",
		Days: strings.TrimSpace(v.Get("days")), Km: strings.TrimSpace(v.Get("km")),
		Cure: cureField{strings.TrimSpace(v.Get("cure")), v.Get("origin"), strings.TrimSpace(v.Get("number")), v.Get("coding"), strings.TrimSpace(v.Get("cost"))}}
	for _, i := range v["done"] {
		f.Done = append(f.Done, int(atoi64(i)))
	}
	for i, what := range v["proof"][:min(len(v["proof"]), maxFields)] {
		row := testField{What: strings.TrimSpace(what)}
		if i < len(v["result"]) {
			row.Result = v["result"][i]
		}
		if i < len(v["reading"]) {
			row.Reading = strings.TrimSpace(v["reading"][i])
		}
		if row.What != "" {
			f.Proof = append(f.Proof, row)
		}
	}
	return f
}

// closed gives how the job ended, and what could not be read.
func (f *closeForm) closed(b *casebook.Book) (how casebook.SheetClosing, problems []string) {
	how.As = kb.ClosedAs(f.As)
	for _, i := range f.Done {
		how.Done = append(how.Done, casebook.SheetCure{Index: i})
	}
	note := func(err error) {
		if err != nil {
			problems = append(problems, plain(err))
		}
	}
	part, cost, err := f.Cure.part()
	note(err)
	switch {
	case f.Cure.What != "":
		fix, err := ingest.ParseFix(f.Cure.What, b.Vocabulary())
		note(err)
		fix.Part, fix.PartsCost = part, cost
		how.Fixed = append(how.Fixed, fix)
	case len(how.Done) == 1:
		how.Done[0].Part, how.Done[0].PartsCost = part, cost
	case part != nil || cost != nil:
		problems = append(problems, "part: say which repair it belongs to: tick one, or type one")
	}
	for i := range f.Proof {
		t, ok := f.Proof[i].read(b)
		if ok {
			how.Proof = append(how.Proof, t)
		} else {
			problems = append(problems, "proof "+strconv.Itoa(i+1)+": "+f.Proof[i].Problem)
		}
	}
	how.Days, err = wholeNumber("days", f.Days)
	note(err)
	km, err := wholeNumber("kilometres", f.Km)
	note(err)
	how.Kilometres = float64(km)
	if how.As != kb.Repaired {
		how.Days, how.Kilometres = 0, 0 // there is no repair to ask about
	}
	how.Share = sharing(f.Share, f.Prices)
	return how, problems
}

func sharing(share string, prices bool) *casebook.SheetSharing {
	if share != "submit" && share != "publish" {
		return nil
	}
	return &casebook.SheetSharing{Prices: prices, Publish: share == "publish"}
}

func wholeNumber(field, s string) (int, error) {
	if s == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(s)
	if err != nil {
		return 0, &kb.Error{Kind: kb.Invalid, Field: field, Msg: strconv.Quote(s) + ": want a whole number"}
	}
	return n, nil
}

// part gives the part that was fitted and what it cost; nil where nothing is said.
func (f cureField) part() (*kb.Part, *kb.Money, error) {
	cost, err := moneyOf("cost of the part", f.Cost)
	if err != nil {
		return nil, nil, err
	}
	part := kb.Part{Number: f.Number, Origin: kb.Origin(f.Origin), NeedsCoding: yesNo(f.Coding)}
	if part == (kb.Part{}) {
		return nil, cost, nil
	}
	return &part, cost, nil
}

func (s *Server) closeJob(r *http.Request) (view, error) {
	ctx, id := r.Context(), chi.URLParam(r, "id")
	sheet, err := s.book.Sheet(ctx, actor(r), id)
	if err != nil {
		return view{}, err
	}
	f := readCloseForm(r.PostForm)
	how, problems := f.closed(s.book)
	if len(problems) > 0 {
		return s.closing(r, sheet, f, problems, http.StatusUnprocessableEntity)
	}
	if r.PostForm.Get("do") == "look" {
		return s.lookAtShared(r, sheet, f, how)
	}
	_, err = s.book.CloseSheet(ctx, actor(r), id, f.Revision, how)
	var stale *casebook.StaleSheet
	switch k := kb.KindOf(err); {
	case err == nil:
		return view{to: jobPath(id)}, nil
	case errors.As(err, &stale):
		f.Revision = stale.Newer.Revision
		told := "not closed: " + stale.Newer.By + " changed this sheet meanwhile (" + strings.Join(titles(stale.Differs), ", ") + "). Look at it, then close it again."
		return s.closing(r, sheet, f, []string{told}, http.StatusConflict)
	case k == kb.Invalid || k == kb.Conflict:
		return s.closing(r, sheet, f, []string{"not closed: " + plain(err)}, statusOf(err))
	}
	return view{}, err
}

func titles(fields []string) []string {
	var out []string
	for _, f := range fields {
		out = append(out, fieldTitle(f))
	}
	return out
}

// lookAtShared shows the case as others would see it; nothing is closed by that.
func (s *Server) lookAtShared(r *http.Request, sheet casebook.Sheet, f closeForm, how casebook.SheetClosing) (view, error) {
	share := how.Share
	if share == nil {
		share = &casebook.SheetSharing{Prices: f.Prices}
	}
	c, err := s.book.ClosedCase(sheet, actor(r), how, *share)
	if err != nil && kb.KindOf(err) != kb.Internal {
		return s.closing(r, sheet, f, []string{plain(err)}, statusOf(err))
	}
	if err != nil {
		return view{}, err
	}
	v, err := s.closing(r, sheet, f, nil, 0)
	if p, ok := v.data.(closePage); ok {
		p.Shared = sharedOf(c)
		v.data = p
	}
	return v, err
}

func sharedOf(c kb.Case) *sharedView {
	v := &sharedView{Title: title(c), Machine: machineWords(c.Machine), Facts: factsOf(c, nil), Timeline: timelineOf(c, nil)}
	for _, e := range c.Codes {
		v.Codes = append(v.Codes, e.Code)
	}
	return v
}

// shareJob submits the case of a job that was closed without sharing it.
func (s *Server) shareJob(r *http.Request) (view, error) {
	how := sharing(r.PostForm.Get("share"), r.PostForm.Get("prices") != "")
	if how == nil {
		return s.added(r, "share", &kb.Error{Kind: kb.Invalid, Field: "share", Msg: "choose how"})
	}
	_, err := s.book.ShareSheet(r.Context(), actor(r), chi.URLParam(r, "id"), *how)
	return s.added(r, "share", err)
}

// answerReminder keeps whether the repair held.
func (s *Server) answerReminder(r *http.Request) (view, error) {
	odometer, err := measure(strings.TrimSpace(r.PostForm.Get("odometer")))
	if err != nil {
		return s.added(r, "held", &kb.Error{Kind: kb.Invalid, Field: "odometer", Msg: err.Error()})
	}
	a := casebook.ReminderAnswer{Held: r.PostForm.Get("held") == "yes", Odometer: odometer, Note: r.PostForm.Get("note")}
	if v := r.PostForm.Get("held"); v != "yes" && v != "no" {
		return s.added(r, "held", &kb.Error{Kind: kb.Invalid, Field: "held", Msg: "say whether it held or the fault returned"})
	}
	_, err = s.book.AnswerReminder(r.Context(), actor(r), chi.URLParam(r, "id"), a)
	return s.added(r, "held", err)
}

// deleteJob deletes a sheet that was not submitted.
func (s *Server) deleteJob(r *http.Request) (view, error) {
	if r.PostForm.Get("sure") == "" {
		return s.added(r, "end", &kb.Error{Kind: kb.Invalid, Msg: "tick that the job sheet is to be deleted for good"})
	}
	if err := s.book.DeleteSheet(r.Context(), actor(r), chi.URLParam(r, "id")); err != nil {
		return s.added(r, "end", err)
	}
	return view{to: "/jobs"}, nil
}

// jobHistoryPage lists the revisions of a sheet.
type jobHistoryPage struct {
	base
	Path string
	Name string
	Rows []revisionRow // newest first
}

type revisionRow struct {
	Revision int64
	When, By string
	Changes  []changeRow
}

type changeRow struct {
	Title       string
	Before, Now []string
}

func (s *Server) jobHistory(r *http.Request) (view, error) {
	all, err := s.book.SheetHistory(r.Context(), actor(r), chi.URLParam(r, "id"))
	if err != nil {
		return view{}, err
	}
	differs, err := casebook.RevisionDiffers(all)
	if err != nil {
		return view{}, err
	}
	last := all[len(all)-1]
	p := jobHistoryPage{base: base{Title: "History: " + last.Name, Here: "jobs"}, Path: jobPath(last.ID), Name: last.Name}
	for i, x := range slices.Backward(all) {
		row := revisionRow{Revision: x.Revision, When: moment(x.Changed), By: x.By}
		for _, field := range differs[i] {
			row.Changes = append(row.Changes, changeRow{fieldTitle(field), sheetFieldWords(all[i-1].SheetFacts, field), sheetFieldWords(x.SheetFacts, field)})
		}
		p.Rows = append(p.Rows, row)
	}
	return view{name: "job-history", data: p}, nil
}

// printPage is a sheet on paper: cautions first, tests with room for their results, the customer's estimate on a page of its own.
type printPage struct {
	base
	Sheet    casebook.Sheet
	Path     string
	Day      string
	Machine  string
	Codes    []string
	Symptoms []string
	Timeline []timelineItem
	Cautions []kb.CautionFor
	ToDo     []printStep
	Expected string // cost of the whole, where costs are wanted
	RuledOut []kb.RuledOut
	Fixes    []kb.RankedFix
	Unlisted kb.Unlisted
	Estimate estimateView
	Labour   []string
	Parts    []printPart
}

// printStep is a step with room for what came of it.
type printStep struct {
	What, Effort, Licensed string
	Boxes                  []string
	Cautions               []kb.CautionFor
}

// stepsToPrint gives the steps of an answer in their order: of the plan where there is one.
func stepsToPrint(a kb.Answer) []printStep {
	test, fix := []string{"passed", "failed"}, []string{"cured", "no change"}
	boxes := map[string][]string{kb.StepTest: test, kb.StepFix: fix}
	var out []printStep
	if a.Plan != nil {
		for _, x := range a.Plan.Steps {
			line := printStep{planText(x), moneyText(x.Cost), areaText(x.Licensed), boxes[x.Kind], x.Cautions}
			if x.Check != "" {
				line.What += ", after " + x.Check
			}
			if x.Kind != kb.StepHandOver {
				out = append(out, line)
			}
		}
	}
	for _, n := range a.Next {
		if a.Plan == nil || n.Kind == "proof" {
			line := printStep{nextText(n), effort(n), areaText(n.Licensed), boxes[n.Kind], n.Cautions}
			if n.Kind == "proof" {
				line.Boxes = test
			}
			out = append(out, line)
		}
	}
	return out
}

type printPart struct{ Name, Number, Quantity, Price, Origin string }

func (s *Server) printJob(r *http.Request) (view, error) {
	sheet, err := s.book.Sheet(r.Context(), actor(r), chi.URLParam(r, "id"))
	if err != nil {
		return view{}, err
	}
	c := sheet.Case
	p := printPage{base: base{Title: sheet.Name, Here: "jobs"}, Sheet: sheet, Path: jobPath(sheet.ID), Day: s.today(), Machine: machineWords(c.Machine),
		Timeline: timelineOf(c, nil), Estimate: estimateOf(sheet)}
	for _, e := range c.Codes {
		p.Codes = append(p.Codes, strings.TrimSpace(e.Code+" "+string(e.Status)))
	}
	for _, x := range c.Symptoms {
		p.Symptoms = append(p.Symptoms, symptomWords(x))
	}
	for _, l := range sheet.Labour {
		p.Labour = append(p.Labour, labourWords(l))
	}
	for _, x := range sheet.Parts {
		row := printPart{Name: x.Name, Number: x.Number, Quantity: stepField(max(1, x.Quantity)), Origin: string(x.Origin), Price: "not known yet"}
		if x.Price != nil {
			row.Price = x.Price.Amount + " " + x.Price.Currency
		}
		p.Parts = append(p.Parts, row)
	}
	if !isKnown(c) {
		return view{name: "print", data: p}, nil
	}
	c.Status, c.ClosedAs, c.Confirmation = kb.Open, "", "" // a closed job is printed with what was thought of it
	wish := wishesOf(sheet.SheetFacts)
	a, err := s.ask(r.Context(), c, &wish)
	p.Cautions, p.ToDo, p.RuledOut, p.Fixes, p.Unlisted = a.Cautions, stepsToPrint(a), a.RuledOut, a.Fixes[:min(len(a.Fixes), 5)], a.Unlisted
	if a.Plan != nil {
		p.Expected = moneyText(a.Plan.Expected)
	}
	if sheet.Closed != nil {
		p.ToDo, p.RuledOut, p.Fixes = nil, nil, nil
	}
	return view{name: "print", data: p}, err
}
