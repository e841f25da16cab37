package web

import (
	"net/url"
	"slices"
	"strings"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// wishForm is what a repair costs here and what can be done here, as a form holds it: what was typed stays as it was typed.
type wishForm struct {
	Usual    bool // costs are wanted though none is stated
	Rate     wishField
	HandOver wishField
	Have     []wishField
	Cannot   []wishField
	Areas    []areaField // all that there are
}

// wishField is one wish and why it cannot be read.
type wishField struct {
	Text    string
	Problem string
}

// areaField is a licence area and whether the qualification is held.
type areaField struct {
	Area string
	Name string
	Held bool
}

// areaNames says licence areas in words.
var areaNames = map[string]string{
	"gas": "gas", "hv": "high voltage of vehicles", "mains": "mains", "refrigerant": "refrigerant", "restraint": "airbags and belt tensioners",
	"pressure": "pressure vessels",
}

// areaText names licence areas for people.
func areaText(areas []string) string {
	names := make([]string, len(areas))
	for i, a := range areas {
		if names[i] = areaNames[a]; names[i] == "" {
			names[i] = a
		}
	}
	return strings.Join(names, ", ")
}

// readWish reads the fields of the template "wishes".
func readWish(form url.Values) wishForm {
	fields := func(name string) []wishField {
		var out []wishField
		for _, s := range form[name] {
			if s = strings.TrimSpace(s); s != "" && len(out) < maxFields {
				out = append(out, wishField{Text: s})
			}
		}
		return out
	}
	f := wishForm{Usual: form.Get("plan") != "", Have: fields("plan-have"), Cannot: fields("plan-cannot")}
	f.Rate.Text, f.HandOver.Text = strings.TrimSpace(form.Get("plan-rate")), strings.TrimSpace(form.Get("plan-handover"))
	held := map[string]bool{}
	for _, area := range form["plan-licensed"] {
		held[area] = true
	}
	for _, area := range kb.LicenceAreas() {
		f.Areas = append(f.Areas, areaField{area, areaText([]string{area}), held[area]})
	}
	return f
}

// wish gives what is asked of the book.
func (f wishForm) wish() casebook.PlanWish {
	w := casebook.PlanWish{Rate: f.Rate.Text, HandOver: f.HandOver.Text}
	for _, x := range f.Have {
		w.Have = append(w.Have, x.Text)
	}
	for _, x := range f.Cannot {
		w.Cannot = append(w.Cannot, x.Text)
	}
	for _, a := range f.Areas {
		if a.Held {
			w.Licensed = append(w.Licensed, a.Area)
		}
	}
	return w
}

// Filled tells whether costs are wanted.
func (f wishForm) Filled() bool {
	w := f.wish()
	return f.Usual || w.Rate != "" || w.HandOver != "" || len(w.Have)+len(w.Cannot)+len(w.Licensed) > 0
}

// Unread tells whether something cannot be read.
func (f wishForm) Unread() bool {
	return f.Rate.Problem != "" || f.HandOver.Problem != "" || slices.ContainsFunc(f.Cannot, func(w wishField) bool { return w.Problem != "" })
}

// mark notes beside its field what cannot be read, and tells whether there is any.
func (f *wishForm) mark(problems []casebook.WishProblem) bool {
	for _, p := range problems {
		switch p.Field {
		case "rate":
			f.Rate.Problem = p.Msg
		case "handover":
			f.HandOver.Problem = p.Msg
		case "cannot":
			f.Cannot[p.At].Problem = p.Msg
		}
	}
	return len(problems) > 0
}

// wishesOf gives the wishes that a job sheet keeps.
func wishesOf(facts casebook.SheetFacts) wishForm {
	w, _ := facts.Wish()
	v := url.Values{"plan-rate": {w.Rate}, "plan-handover": {w.HandOver}, "plan-have": w.Have, "plan-cannot": w.Cannot, "plan-licensed": w.Licensed}
	if facts.Plan != nil && facts.Plan.Usual {
		v.Set("plan", "usual")
	}
	return readWish(v)
}

// into keeps the wishes on a job sheet. What cannot be read is marked in the form, and stays there as it was.
func (f *wishForm) into(facts *casebook.SheetFacts, b *casebook.Book) {
	f.mark(b.WishProblems(f.wish()))
	if f.Rate.Problem == "" {
		facts.Rate, _ = moneyOf("rate", strings.Split(f.Rate.Text, "/")[0])
	}
	if f.Unread() {
		return
	}
	w := f.wish()
	w.Rate = ""
	facts.Plan = &casebook.SheetPlan{Usual: f.Usual, PlanWish: w}
	if !f.Usual && w.HandOver == "" && len(w.Have)+len(w.Cannot)+len(w.Licensed) == 0 {
		facts.Plan = nil
	}
}
