package web

import (
	"cmp"
	"encoding/json"
	"net/http"
	"slices"
	"strings"

	"github.com/go-chi/chi/v5"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// conflict is a version of a sheet that could not be saved, since somebody else saved first.
type conflict struct {
	id     string
	mine   casebook.SheetFacts
	was    casebook.Sheet                  // what mine was made from
	unread jobForm                         // what could not be read into mine
	wish   wishForm                        // what could not be read of the costs
	seen   int64                           // the revision that was chosen between, 0: none yet
	take   map[string]casebook.SheetChoice // what was chosen
}

// conflictPage shows two versions of a sheet side by side, field by field.
type conflictPage struct {
	base
	Path     string
	Sheet    casebook.Sheet // as it stands
	When     string
	Was      int64  // the revision that mine was made from
	Mine     string // my version, encoded, so that nothing of it is lost
	Fields   []conflictField
	Problems []string // what stands in the way, and what could not be read into my version
}

// conflictField is one field of both versions.
type conflictField struct {
	Name   string // of the field in the sheet
	Title  string
	Mine   []string
	Theirs []string
	List   bool // both can be taken
	Chosen casebook.SheetChoice
}

// joinOrAsk joins two versions that touch different fields, and shows both where one field was changed by both.
func (s *Server) joinOrAsk(r *http.Request, c conflict) (view, error) {
	now, err := s.book.Sheet(r.Context(), actor(r), c.id)
	if err != nil {
		return view{}, err
	}
	list, err := c.mine.Differences(c.was.SheetFacts, now.SheetFacts)
	if err != nil {
		return view{}, err
	}
	changedByBoth := slices.ContainsFunc(list, func(d casebook.SheetDifference) bool { return d.Usual == "" || d.Usual == casebook.TakeBoth })
	if c.seen == 0 && changedByBoth || c.seen != 0 && c.seen != now.Revision {
		return conflictView(c, now, list)
	}
	joined, err := c.mine.Settle(c.was.SheetFacts, now.SheetFacts, c.take)
	if err == nil {
		joined, err := s.book.SaveSheet(r.Context(), actor(r), casebook.Sheet{ID: c.id, Revision: now.Revision, SheetFacts: joined})
		if err == nil {
			return s.afterSave(r, joined, c.unread.loose(), c.wish)
		}
		if k := kb.KindOf(err); k != kb.Invalid && k != kb.Conflict {
			return view{}, err
		}
		c.unread.problem("nothing was saved: %s", plain(err))
		return conflictView(c, now, list)
	}
	if kb.KindOf(err) != kb.Invalid {
		return view{}, err
	}
	c.unread.problem("%s", plain(err))
	return conflictView(c, now, list)
}

// loose takes the rows that could not be read from their places: the lists may have become others.
func (f *jobForm) loose() jobForm {
	out := *f
	out.Tests, out.Fixes = slices.Clone(f.Tests), slices.Clone(f.Fixes)
	for i := range out.Tests {
		out.Tests[i].at = 0
	}
	for i := range out.Fixes {
		out.Fixes[i].at = 0
	}
	return out
}

func conflictView(c conflict, now casebook.Sheet, list []casebook.SheetDifference) (view, error) {
	mine, err := json.Marshal(c.mine)
	if err != nil {
		return view{}, err
	}
	p := conflictPage{base: base{Title: "Changed by two", Here: "jobs"}, Path: jobPath(c.id), Sheet: now, When: moment(now.Changed), Was: c.was.Revision,
		Mine: string(mine), Problems: c.unread.Problems}
	for _, t := range c.unread.Tests {
		if t.Problem != "" {
			p.Problems = append(p.Problems, t.What+" "+t.Reading+": "+t.Problem)
		}
	}
	for _, x := range c.unread.Fixes {
		if x.Problem != "" {
			p.Problems = append(p.Problems, x.What+": "+x.Problem)
		}
	}
	for _, d := range list {
		chosen := d.Usual
		if t, ok := c.take[d.Field]; ok {
			chosen = t
		}
		p.Fields = append(p.Fields, conflictField{d.Field, fieldTitle(d.Field), sheetFieldWords(c.mine, d.Field), sheetFieldWords(now.SheetFacts, d.Field), d.List, chosen})
	}
	return view{name: "conflict", data: p, status: http.StatusConflict}, nil
}

// settleJob saves what was chosen between two versions.
func (s *Server) settleJob(r *http.Request) (view, error) {
	c := conflict{id: chi.URLParam(r, "id"), seen: atoi64(r.PostForm.Get("revision")), take: map[string]casebook.SheetChoice{}}
	if err := json.Unmarshal([]byte(r.PostForm.Get("mine")), &c.mine); err != nil {
		return view{}, kb.Errorf(kb.Invalid, "your version did not come whole: go back and send it again")
	}
	var err error
	if c.was, err = s.book.SheetAt(r.Context(), actor(r), c.id, atoi64(r.PostForm.Get("was"))); err != nil {
		return view{}, err
	}
	for name, values := range r.PostForm {
		if field, ok := strings.CutPrefix(name, "take "); ok {
			c.take[field] = casebook.SheetChoice(values[0])
		}
	}
	return s.joinOrAsk(r, c)
}

// fieldTitles names the fields of a sheet as its page does.
var fieldTitles = map[string]string{
	"name": "Name of the job", "customer": "Customer", "rate": "Rate of an hour", "plan": "What it costs here", "labour": "Time", "parts": "Parts", "closed": "Closed", "reminder": "Reminder",
	"case.machine": "Machine", "case.codes": "Codes", "case.symptoms": "Symptoms", "case.tests": "Tests", "case.fixes": "Repairs done", "case.status": "Status",
	"case.closed_as": "How it ended", "case.confirmation": "How sure that is", "case.follow_ups": "Whether it held", "case.doubts": "Questions", "case.sources": "Sources", "case.state": "State", "case.title": "Title", "case.contributor": "Handed in by", "case.reporter": "Told by", "case.year": "Year", "case.odometer": "Odometer", "case.variant": "Build", "case.kind": "Kind", "case.vin": "Identification number",
}

func fieldTitle(field string) string {
	if t, ok := fieldTitles[field]; ok {
		return t
	}
	return strings.TrimPrefix(field, "case.")
}

// sheetFieldWords writes a field of a sheet, a line an entry.
func sheetFieldWords(f casebook.SheetFacts, field string) []string {
	c := f.Case
	var out []string
	switch field {
	case "name":
		out = []string{f.Name}
	case "customer":
		out = []string{f.Customer}
	case "rate":
		if f.Rate != nil {
			out = []string{f.Rate.Amount + " " + f.Rate.Currency}
		}
	case "plan":
		if f.Plan != nil {
			out = slices.Concat([]string{f.Plan.HandOver}, f.Plan.Have, f.Plan.Cannot, f.Plan.Licensed)
		}
	case "labour":
		for _, l := range f.Labour {
			out = append(out, labourWords(l))
		}
	case "parts":
		for _, x := range f.Parts {
			out = append(out, partWords(x))
		}
	case "case.machine":
		out = []string{machineWords(c.Machine)}
	case "case.codes":
		for _, e := range c.Codes {
			out = append(out, strings.TrimSpace(e.Code+" "+string(e.Status)))
		}
	case "case.symptoms":
		for _, x := range c.Symptoms {
			out = append(out, symptomWords(x))
		}
	case "case.title":
		out = []string{c.Title}
	case "case.state":
		out = []string{string(c.State)}
	case "case.confirmation":
		out = []string{string(c.Confirmation)}
	case "case.status", "case.closed_as":
		out = []string{strings.Trim(string(c.Status)+", "+string(c.ClosedAs), ", ")}
	case "case.doubts":
		for _, d := range c.Doubts {
			out = append(out, d.Question)
		}
	case "case.sources":
		for _, x := range c.Sources {
			out = append(out, strings.TrimSpace(cmp.Or(x.Title, x.Kind)+" "+x.URL))
		}
	case "case.follow_ups":
		for _, x := range c.FollowUps {
			out = append(out, strings.TrimSpace(x.Date+" "+heldWord(x.Held)+" "+x.Note))
		}
	case "case.tests", "case.fixes":
		for _, x := range timelineOf(kb.Case{Tests: testsIf(c, field), Fixes: fixesIf(c, field)}, nil) {
			out = append(out, strings.TrimSpace(stepField(x.Step)+" "+x.Text))
		}
	default:
		return []string{"changed"}
	}
	return slices.DeleteFunc(out, func(s string) bool { return s == "" })
}

func testsIf(c kb.Case, field string) []kb.Test {
	if field == "case.tests" {
		return c.Tests
	}
	return nil
}

func fixesIf(c kb.Case, field string) []kb.Fix {
	if field == "case.fixes" {
		return c.Fixes
	}
	return nil
}

func labourWords(l casebook.Labour) string {
	return strings.Join(strings.Fields(l.Date+" "+exactly(l.Minutes)+" min "+l.Who+" "+l.What), " ")
}

func partWords(x casebook.SheetPart) string {
	s := stepField(max(1, x.Quantity)) + " x " + x.Name + " " + x.Number + " " + string(x.Origin)
	if x.Price != nil {
		s += " at " + x.Price.Amount + " " + x.Price.Currency
	}
	return strings.Join(strings.Fields(s), " ")
}

func machineWords(m kb.Machine) string {
	f := machineForm(m)
	s := m.Kind + " " + casebook.MachineName(kb.Machine{Make: m.Make, Model: m.Model, Variant: m.Variant, Year: m.Year}) + " " + f.Odometer
	if f.Hours != "" {
		s += " " + f.Hours + " h"
	}
	return strings.Join(strings.Fields(s), " ")
}

func symptomWords(s kb.Symptom) string {
	if s.Absent {
		return "not there: " + s.Symptom
	}
	return s.Symptom
}
