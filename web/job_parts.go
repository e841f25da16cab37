package web

import (
	"errors"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// The parts of a job sheet that are added to it beside its facts: notes, time, parts, photos, people. Two people adding at once both get
// theirs in.

// addition is one thing to be added: to which part of the page it belongs, and how it is done.
type addition struct {
	at string // the section's name
	do func(r *http.Request, id string) error
}

// adding makes a handler of an addition: back to the section afterwards, or the page with what was typed and what is wrong with it.
func (s *Server) adding(a addition) func(*http.Request) (view, error) {
	return func(r *http.Request) (view, error) {
		return s.added(r, a.at, a.do(r, chi.URLParam(r, "id")))
	}
}

func (s *Server) added(r *http.Request, at string, err error) (view, error) {
	id := chi.URLParam(r, "id")
	if err == nil {
		return view{to: jobPath(id) + "#" + at}, nil
	}
	if k := kb.KindOf(err); k != kb.Invalid && k != kb.Conflict && !isMissing(r, k) {
		return view{}, err
	}
	sheet, err2 := s.book.Sheet(r.Context(), actor(r), id)
	if err2 != nil {
		return view{}, err2
	}
	p, err2 := s.jobPage(r, sheet, formOf(sheet))
	p.At, p.Problem = at, plain(err)
	for name, values := range r.PostForm {
		p.Typed[name] = strings.Join(values, ", ")
	}
	return view{name: "job", data: p, status: statusOf(err)}, err2
}

// isMissing tells whether a person who was named is not there, which is told beside the field and no missing page.
func isMissing(r *http.Request, k kb.Kind) bool { return k == kb.NotFound && r.PostForm.Has("member") }

func (s *Server) addNote(r *http.Request, id string) error {
	_, err := s.book.AddNote(r.Context(), actor(r), id, r.PostForm.Get("note"))
	return err
}

func (s *Server) addLabour(r *http.Request, id string) error {
	l, err := labourIn(r.PostForm.Get("minutes"), r.PostForm.Get("what"), r.PostForm.Get("date"), "")
	if err != nil {
		return err
	}
	_, err = s.book.AddLabour(r.Context(), actor(r), id, l)
	return err
}

// labourIn reads time as typed: "45", "45 min", "1:30" or "1.5 h".
func labourIn(minutes, what, date, who string) (casebook.Labour, error) {
	n, ok := minutesOf(minutes)
	if !ok {
		return casebook.Labour{}, &kb.Error{Kind: kb.Invalid, Field: "time", Msg: strconv.Quote(minutes) + ": want minutes such as 45, or hours such as 1:30 or 1.5 h"}
	}
	return casebook.Labour{Who: strings.TrimSpace(who), What: strings.TrimSpace(what), Date: strings.TrimSpace(date), Minutes: n}, nil
}

func minutesOf(s string) (float64, bool) {
	s = strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(strings.ToLower(s)), "min"))
	if h, m, ok := strings.Cut(s, ":"); ok {
		hours, err1 := strconv.Atoi(h)
		minutes, err2 := strconv.Atoi(m)
		return float64(60*hours + minutes), err1 == nil && err2 == nil && minutes < 60 && minutes >= 0 && hours >= 0 && len(m) == 2
	}
	if h, ok := strings.CutSuffix(s, "h"); ok {
		x, err := strconv.ParseFloat(strings.TrimSpace(h), 64)
		return 60 * x, err == nil && x >= 0
	}
	x, err := strconv.ParseFloat(s, 64)
	return x, err == nil && x >= 0
}

func (s *Server) addPart(r *http.Request, id string) error {
	f := r.PostForm
	p, err := partIn(f.Get("part"), f.Get("number"), f.Get("quantity"), f.Get("price"), f.Get("origin"), f.Get("coding"))
	if err != nil {
		return err
	}
	_, err = s.book.AddPart(r.Context(), actor(r), id, p)
	return err
}

// partIn reads a part as typed.
func partIn(name, number, quantity, price, origin, coding string) (casebook.SheetPart, error) {
	p := casebook.SheetPart{Name: strings.TrimSpace(name), Part: kb.Part{Number: strings.TrimSpace(number), Origin: kb.Origin(origin)}}
	if q := strings.TrimSpace(quantity); q != "" {
		n, err := strconv.Atoi(q)
		if err != nil || n < 1 {
			return p, &kb.Error{Kind: kb.Invalid, Field: "quantity", Msg: strconv.Quote(q) + ": want a number of pieces from 1"}
		}
		p.Quantity = n
	}
	var err error
	if p.Price, err = moneyOf("price", price); err != nil {
		return p, err
	}
	p.NeedsCoding = yesNo(coding)
	return p, nil
}

// moneyOf reads an amount with its currency; empty gives nil.
func moneyOf(field, s string) (*kb.Money, error) {
	if s = strings.TrimSpace(s); s == "" {
		return nil, nil
	}
	m, ok := kb.ParseMoney(s)
	if !ok {
		return nil, &kb.Error{Kind: kb.Invalid, Field: field, Msg: strconv.Quote(s) + ": want an amount and a currency, such as 12.50 EUR"}
	}
	return &m, nil
}

// yesNo reads a choice of which the third is that it is not known.
func yesNo(s string) *bool {
	switch s {
	case "yes":
		return new(true)
	case "no":
		return new(false)
	}
	return nil
}

// moneyForm is the rate, the time and the parts of a sheet as typed.
type moneyForm struct {
	Rate    string
	Labour  []labourRow
	Parts   []partRow
	Problem string
}

type labourRow struct{ Minutes, What, Date, Who string }

type partRow struct{ Name, Number, Quantity, Price, Origin, Coding string }

func moneyFormOf(f casebook.SheetFacts) moneyForm {
	var out moneyForm
	if f.Rate != nil {
		out.Rate = f.Rate.Amount + " " + f.Rate.Currency
	}
	for _, l := range f.Labour {
		out.Labour = append(out.Labour, labourRow{exactly(l.Minutes), l.What, l.Date, l.Who})
	}
	for _, x := range f.Parts {
		row := partRow{Name: x.Name, Number: x.Number, Quantity: stepField(x.Quantity), Origin: string(x.Origin), Coding: yesNoWord(x.NeedsCoding)}
		if x.Price != nil {
			row.Price = x.Price.Amount + " " + x.Price.Currency
		}
		out.Parts = append(out.Parts, row)
	}
	return out
}

func yesNoWord(b *bool) string {
	switch {
	case b == nil:
		return ""
	case *b:
		return "yes"
	}
	return "no"
}

// readMoneyForm reads the rows that a browser sent; a row without minutes or without a name is taken out.
func readMoneyForm(v url.Values) moneyForm {
	cell := func(name string, i int) string {
		if list := v[name]; i < len(list) {
			return strings.TrimSpace(list[i])
		}
		return ""
	}
	f := moneyForm{Rate: cell("rate", 0)}
	for i := range v["minutes"] {
		if row := (labourRow{cell("minutes", i), cell("what", i), cell("date", i), cell("who", i)}); row.Minutes != "" {
			f.Labour = append(f.Labour, row)
		}
	}
	for i := range v["part"] {
		row := partRow{cell("part", i), cell("number", i), cell("quantity", i), cell("price", i), cell("origin", i), cell("coding", i)}
		if row.Name != "" {
			f.Parts = append(f.Parts, row)
		}
	}
	return f
}

// into puts what was typed into the facts of a sheet.
func (f moneyForm) into(facts *casebook.SheetFacts) error {
	var err error
	if facts.Rate, err = moneyOf("rate", strings.TrimSuffix(f.Rate, "/h")); err != nil {
		return err
	}
	facts.Labour, facts.Parts = nil, nil
	for _, row := range f.Labour {
		l, err := labourIn(row.Minutes, row.What, row.Date, row.Who)
		if err != nil {
			return err
		}
		facts.Labour = append(facts.Labour, l)
	}
	for _, row := range f.Parts {
		x, err := partIn(row.Name, row.Number, row.Quantity, row.Price, row.Origin, row.Coding)
		if err != nil {
			return err
		}
		facts.Parts = append(facts.Parts, x)
	}
	return nil
}

// setMoney puts the rate, the time and the parts of a sheet right, under the guard of its revision.
func (s *Server) setMoney(r *http.Request) (view, error) {
	ctx, id := r.Context(), chi.URLParam(r, "id")
	f := readMoneyForm(r.PostForm)
	was, err := s.book.SheetAt(ctx, actor(r), id, atoi64(r.PostForm.Get("revision")))
	if err != nil {
		return view{}, err
	}
	next := was
	if err = f.into(&next.SheetFacts); err == nil {
		_, err = s.book.SaveSheet(ctx, actor(r), next)
	}
	var stale *casebook.StaleSheet
	switch k := kb.KindOf(err); {
	case err == nil:
		return view{to: jobPath(id) + "#money"}, nil
	case errors.As(err, &stale):
		return s.joinOrAsk(r, conflict{id: id, mine: next.SheetFacts, was: was})
	case k != kb.Invalid && k != kb.Conflict:
		return view{}, err
	}
	f.Problem = plain(err)
	sheet, err2 := s.book.Sheet(ctx, actor(r), id)
	if err2 != nil {
		return view{}, err2
	}
	p, err2 := s.jobPage(r, sheet, formOf(sheet))
	p.Money = f
	return view{name: "job", data: p, status: statusOf(err)}, err2
}

func (s *Server) addMember(r *http.Request, id string) error {
	return s.book.AddMember(r.Context(), actor(r), id, r.PostForm.Get("member"))
}

// removeMember takes somebody off the sheet; whoever takes themselves off does not see it any more.
func (s *Server) removeMember(r *http.Request) (view, error) {
	id, name := chi.URLParam(r, "id"), r.PostForm.Get("name")
	err := s.book.RemoveMember(r.Context(), actor(r), id, name)
	if err == nil && name == who(r).Name {
		return view{to: "/jobs"}, nil
	}
	return s.added(r, "people", err)
}

// addPhoto takes a picture from a form of several parts, without writing it to a file of its own.
func (s *Server) addPhoto(r *http.Request) (view, error) {
	data, caption, err := photoIn(r)
	if err == nil {
		_, err = s.book.AddPhoto(r.Context(), actor(r), chi.URLParam(r, "id"), data, caption)
	}
	r.PostForm = map[string][]string{"caption": {caption}}
	return s.added(r, "photos", err)
}

func photoIn(r *http.Request) (data []byte, caption string, err error) {
	parts, err := r.MultipartReader()
	if err != nil {
		return nil, "", &kb.Error{Kind: kb.Invalid, Field: "photo", Msg: "choose a picture first"}
	}
	for {
		part, err := parts.NextPart()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, caption, tooLarge()
		}
		switch part.FormName() {
		case "caption":
			b, err := io.ReadAll(io.LimitReader(part, 4096))
			if err != nil {
				return nil, caption, tooLarge()
			}
			caption = string(b)
		case "photo":
			if data, err = io.ReadAll(part); err != nil {
				return nil, caption, tooLarge()
			}
		}
	}
	if len(data) == 0 {
		return nil, caption, &kb.Error{Kind: kb.Invalid, Field: "photo", Msg: "choose a picture first"}
	}
	return data, caption, nil
}

func tooLarge() error {
	return &kb.Error{Kind: kb.Invalid, Field: "photo", Msg: "it did not come whole, or is larger than " + strconv.Itoa(casebook.MaxPhotoBytes>>20) + " MB"}
}

// photo shows a picture of a sheet, small or in full.
func (s *Server) photo(small bool) func(*http.Request) (view, error) {
	return func(r *http.Request) (view, error) {
		n, err := strconv.Atoi(chi.URLParam(r, "n"))
		if err != nil {
			return view{}, kb.Errorf(kb.NotFound, "there is no such photo")
		}
		_, full, preview, err := s.book.Photo(r.Context(), actor(r), chi.URLParam(r, "id"), n)
		if small {
			full = preview
		}
		return view{jpeg: full}, err
	}
}

func (s *Server) deletePhoto(r *http.Request) (view, error) {
	n, err := strconv.Atoi(chi.URLParam(r, "n"))
	if err != nil {
		return view{}, kb.Errorf(kb.NotFound, "there is no such photo")
	}
	r.PostForm = map[string][]string{}
	return s.added(r, "photos", s.book.DeletePhoto(r.Context(), actor(r), chi.URLParam(r, "id"), n))
}
