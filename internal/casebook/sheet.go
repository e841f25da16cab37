package casebook

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"ruledout/internal/store"
	"ruledout/kb"
	"ruledout/kb/limit"
)

// Bounds on what a job sheet holds; lengths in characters.
const (
	maxSheetName = 200
	maxNote      = 10_000
	maxShortText = 2_000
	maxEntries   = 500 // of labour, of parts, of notes, each
	maxMembers   = 50
	maxPhotos    = 60
	maxSheetBody = 1 << 20 // bytes of one revision
)

// Sheet is a job sheet: an open case that is kept while the work goes on, with what belongs to the job alone. It is private to
// its members and no part of the casebook until it is submitted, and then only its case is.
type Sheet struct {
	ID       string    `json:"id"`
	Revision int64     `json:"revision"` // goes up with every saved change of SheetFacts
	By       string    `json:"by"`       // who made this revision
	Changed  time.Time `json:"changed"`
	Created  time.Time `json:"created"`
	CaseID   kb.CaseID `json:"case_id,omitempty"` // what it was submitted as
	SheetFacts
	Members []string     `json:"members,omitempty"`
	Notes   []SheetNote  `json:"notes,omitempty"`  // not in lists and older revisions
	Photos  []SheetPhoto `json:"photos,omitempty"` // not in lists and older revisions
}

// SheetFacts is what is edited on a job sheet, under the guard of its revision.
type SheetFacts struct {
	Name     string       `json:"name"`
	Customer string       `json:"customer,omitempty"` // never leaves the sheet
	Case     kb.Case      `json:"case"`
	Rate     *kb.Money    `json:"rate,omitempty"` // of an hour of work
	Plan     *SheetPlan   `json:"plan,omitempty"` // nil: costs are not wanted
	Labour   []Labour     `json:"labour,omitempty"`
	Parts    []SheetPart  `json:"parts,omitempty"`
	Closed   *SheetClosed `json:"closed,omitempty"`   // set by CloseSheet alone
	Reminder *Reminder    `json:"reminder,omitempty"` // set by CloseSheet and AnswerReminder alone
}

// SheetPlan is what the steps of a job are planned with, beside the rate of an hour.
type SheetPlan struct {
	Usual bool `json:"usual,omitempty"` // costs are wanted though nothing is said of them
	PlanWish
}

// Wish gives what a plan of the job is asked for; ok is false where costs are not wanted.
func (f SheetFacts) Wish() (w PlanWish, ok bool) {
	if f.Plan == nil && f.Rate == nil {
		return w, false
	}
	if f.Plan != nil {
		w = f.Plan.PlanWish
	}
	if f.Rate != nil {
		w.Rate = f.Rate.Amount + " " + f.Rate.Currency + "/h"
	}
	return w, true
}

func (p *SheetPlan) check() error {
	if p == nil {
		return nil
	}
	if p.Rate != "" {
		return &kb.Error{Kind: kb.Invalid, Field: "plan.rate", Msg: "the rate of an hour stands on the sheet itself"}
	}
	all := slices.Concat([]string{p.HandOver}, p.Have, p.Cannot, p.Licensed)
	if len(all) > maxEntries {
		return &kb.Error{Kind: kb.Invalid, Field: "plan", Msg: fmt.Sprintf("holds %d entries; at most %d", len(all), maxEntries)}
	}
	for _, s := range all {
		if err := short("plan", s, maxSheetName); err != nil {
			return err
		}
	}
	return nil
}

// Labour is time spent on a job.
type Labour struct {
	Who     string  `json:"who,omitempty"`
	What    string  `json:"what,omitempty"`
	Date    string  `json:"date,omitempty"` // ISO 8601
	Minutes float64 `json:"minutes"`
}

// SheetPart is a part bought or taken for a job.
type SheetPart struct {
	Name     string    `json:"name"`
	Quantity int       `json:"quantity,omitempty"` // 0 counts as 1
	Price    *kb.Money `json:"price,omitempty"`    // of one
	kb.Part            // number, origin, whether it needs coding
}

// SheetNote is a remark on a job sheet. Remarks are added, never changed.
type SheetNote struct {
	N    int       `json:"n"`
	At   time.Time `json:"at"`
	By   string    `json:"by"`
	Text string    `json:"text"`
}

// SheetPhoto describes a picture on a job sheet; Book.Photo gives it.
type SheetPhoto struct {
	N       int       `json:"n"`
	At      time.Time `json:"at"`
	By      string    `json:"by"`
	Caption string    `json:"caption,omitempty"`
	Width   int       `json:"width"` // pixels
	Height  int       `json:"height"`
}

// StaleSheet is the cause of a Conflict of SaveSheet and CloseSheet: somebody else saved meanwhile. Nothing was changed; a page shows both.
type StaleSheet struct {
	Newer   Sheet    // as it stands now
	Differs []string // fields in which what was to be saved, or was seen by whoever closes it, differs from it: "name", "labour", "case.tests"
}

// Error says what happened.
func (s *StaleSheet) Error() string {
	return "this job sheet was changed meanwhile by " + s.Newer.By + "; yours differs in: " + strings.Join(s.Differs, ", ")
}

// Verdicts judges the readings of the sheet's tests: one entry a test, nil where there is no reading or no limit for it.
func (f SheetFacts) Verdicts() []*limit.Verdict {
	out := make([]*limit.Verdict, len(f.Case.Tests))
	for i, t := range f.Case.Tests {
		if t = withPublishedLimit(t); t.Reading != nil {
			if v, ok := t.Reading.Judge(); ok {
				out[i] = &v
			}
		}
	}
	return out
}

// Minutes adds up the labour.
func (f SheetFacts) Minutes() float64 {
	sum := 0.0
	for _, l := range f.Labour {
		sum += l.Minutes
	}
	return sum
}

// sheetOf reads what the store holds of a job sheet.
func sheetOf(s store.Sheet) (Sheet, error) {
	out := Sheet{ID: s.ID, Revision: s.Revision, By: s.Actor, Changed: s.Changed, Created: s.Created, CaseID: s.CaseID}
	if err := json.Unmarshal(s.Body, &out.SheetFacts); err != nil {
		return out, kb.Errorf(kb.Internal, "job sheet %s holds no readable content: %w", s.ID, err)
	}
	return out, nil
}

// encodeSheet checks the facts of a job sheet and gives the form in which they are kept.
func encodeSheet(f SheetFacts) ([]byte, error) {
	if err := f.check(); err != nil {
		return nil, err
	}
	body, err := json.Marshal(f)
	if err == nil && len(body) > maxSheetBody {
		return nil, kb.Errorf(kb.Invalid, "this job sheet is too long: %d bytes of at most %d", len(body), maxSheetBody)
	}
	return body, err
}

// tidied gives the facts in the form in which they are compared and kept.
func (f SheetFacts) tidied() SheetFacts {
	f.Name = tidy(f.Name)
	f.Customer = tidy(f.Customer)
	f.Case = withoutSpans(f.Case)
	f.Case.V, f.Case.ID = kb.Version, ""
	if f.Case.Status == "" {
		f.Case.Status = kb.Open
	}
	f.Case.State = "" // it has none until it is submitted
	return f
}

// tidy trims a text and takes out what no database and no page bears.
func tidy(s string) string {
	return strings.TrimSpace(strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\x00", ""))
}

// withoutSpans drops the places that facts were read from: the words of a question are not kept. It copies the lists.
func withoutSpans(c kb.Case) kb.Case {
	c.Machine.Evidence, c.StatusEvidence = nil, nil
	c.Codes = mapped(c.Codes, func(x kb.CodeEntry) kb.CodeEntry { x.Evidence = nil; return x })
	c.Symptoms = mapped(c.Symptoms, func(x kb.Symptom) kb.Symptom { x.Evidence = nil; return x })
	c.Tests = mapped(c.Tests, func(x kb.Test) kb.Test { x.Evidence = nil; return x })
	c.Fixes = mapped(c.Fixes, func(x kb.Fix) kb.Fix { x.Evidence = nil; return x })
	c.Doubts = mapped(c.Doubts, func(x kb.Doubt) kb.Doubt { x.Evidence = nil; return x })
	return c
}

// check tells what is wrong with the facts, naming the field.
func (f SheetFacts) check() error {
	if f.Name == "" {
		return &kb.Error{Kind: kb.Invalid, Field: "name", Msg: "is empty: name the job so that you find it again"}
	}
	for _, t := range []struct {
		field, text string
		most        int
	}{{"name", f.Name, maxSheetName}, {"customer", f.Customer, maxShortText}, {"case.title", f.Case.Title, maxSheetName}} {
		if err := short(t.field, t.text, t.most); err != nil {
			return err
		}
	}
	if err := inside("case", f.Case.CheckRecord()); err != nil {
		return err
	}
	if len(f.Labour) > maxEntries || len(f.Parts) > maxEntries {
		return kb.Errorf(kb.Invalid, "a job sheet holds at most %d entries of labour and as many parts", maxEntries)
	}
	for i, l := range f.Labour {
		if err := l.check(fmt.Sprintf("labour[%d]", i)); err != nil {
			return err
		}
	}
	for i, p := range f.Parts {
		if err := p.check(fmt.Sprintf("parts[%d]", i)); err != nil {
			return err
		}
	}
	if err := f.Plan.check(); err != nil {
		return err
	}
	return checkMoney("rate", f.Rate)
}

func short(field, text string, most int) error {
	if n := utf8.RuneCountInString(text); n > most {
		return &kb.Error{Kind: kb.Invalid, Field: field, Msg: fmt.Sprintf("is %d characters long; at most %d", n, most)}
	}
	return nil
}

// inside puts the field of an error under another one.
func inside(field string, err error) error {
	e, ok := err.(*kb.Error)
	if !ok || e == nil {
		return err
	}
	c := *e
	c.Field = field + "." + c.Field
	return &c
}

func (l Labour) check(field string) error {
	if !(l.Minutes >= 0 && l.Minutes <= 100_000) { // NaN is refused too
		return &kb.Error{Kind: kb.Invalid, Field: field + ".minutes", Msg: "want minutes of zero or more"}
	}
	if l.Date != "" {
		if _, err := time.Parse(time.DateOnly, l.Date); err != nil {
			return &kb.Error{Kind: kb.Invalid, Field: field + ".date", Msg: fmt.Sprintf("%q is no date; want a form such as 2024-03-01 (ISO 8601)", l.Date)}
		}
	}
	return short(field+".what", l.What+l.Who, maxShortText)
}

func (p SheetPart) check(field string) error {
	if strings.TrimSpace(p.Name) == "" {
		return &kb.Error{Kind: kb.Invalid, Field: field + ".name", Msg: "is empty"}
	}
	if p.Quantity < 0 || p.Quantity > 100_000 {
		return &kb.Error{Kind: kb.Invalid, Field: field + ".quantity", Msg: "want a number of pieces from 1"}
	}
	if !slices.Contains([]kb.Origin{"", kb.NewPart, kb.UsedPart, kb.RebuiltPart, kb.OwnPart}, p.Origin) {
		return &kb.Error{Kind: kb.Invalid, Field: field + ".origin", Msg: fmt.Sprintf("%q is not one of: new, used, rebuilt, own", p.Origin)}
	}
	if err := short(field+".name", p.Name+p.Number, maxShortText); err != nil {
		return err
	}
	return checkMoney(field+".price", p.Price)
}

func checkMoney(field string, m *kb.Money) error {
	if m == nil {
		return nil
	}
	if _, ok := kb.ParseMoney(m.Amount + " " + m.Currency); !ok || m.Currency != strings.ToUpper(m.Currency) {
		return &kb.Error{Kind: kb.Invalid, Field: field, Msg: fmt.Sprintf(
			"%q %q is no amount and currency; want digits such as 12.50 and three capitals such as EUR (ISO 4217)", m.Amount, m.Currency)}
	}
	return nil
}

// differs lists the fields in which two versions of the facts differ, in order; those of the case with "case." before them.
func (f SheetFacts) differs(g SheetFacts) ([]string, error) {
	a, err := fields(f)
	if err != nil {
		return nil, err
	}
	b, err := fields(g)
	if err != nil {
		return nil, err
	}
	out := []string{}
	for name, x := range a {
		if string(b[name]) != string(x) {
			out = append(out, name)
		}
	}
	for name := range b {
		if _, both := a[name]; !both {
			out = append(out, name)
		}
	}
	slices.Sort(out)
	return out, nil
}

func fields(f SheetFacts) (map[string]json.RawMessage, error) {
	all, inCase := map[string]json.RawMessage{}, map[string]json.RawMessage{}
	body, err := json.Marshal(f)
	if err == nil {
		err = json.Unmarshal(body, &all)
	}
	if err == nil {
		err = json.Unmarshal(all["case"], &inCase)
	}
	delete(all, "case")
	for name, x := range inCase {
		all["case."+name] = x
	}
	return all, err
}
