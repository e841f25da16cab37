package web

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/kb"
)

// lookPage is the look-up: what is known on one side, what the book says on the other.
type lookPage struct {
	base
	Form  lookForm
	Wish  wishForm
	Asked bool // something is known
	answered
}

// lookForm is a look-up as its form holds it: what was typed stays as it was typed.
type lookForm struct {
	Words    string
	Machine  string
	Codes    []string
	Symptoms []symptomField
	Tests    []testField
	Tried    []triedField
	Problems []string // what could not be read
}

type symptomField struct {
	Text   string
	Absent bool
}

// testField is a test as typed: "coil resistance of heater relay", its result, and a reading with or without its limit.
type testField struct {
	What    string
	Result  string // pass, fail, inconclusive, empty: told by the reading
	Reading string
	Problem string
	Verdict string // what the reading says, where it can be judged
}

type triedField struct {
	What    string // "replace heater relay"
	Outcome string
	Problem string
}

// maxFields bounds how many of each kind of fact a form may hold.
const maxFields = 60

// lookUp answers what is known so far. Facts go by POST, so that nothing of them stands in an address; an address with q is what "link to
// this" makes.
func (s *Server) lookUp(r *http.Request) (view, error) {
	if err := parseForm(r); err != nil {
		return view{}, err
	}
	f := readForm(r)
	c, ok := f.question(s.book)
	p := lookPage{base: base{Title: "Look up", Here: "look"}, Form: f, Wish: readWish(r.Form), Asked: ok}
	if !ok {
		return view{name: "look", data: p}, nil
	}
	if err := c.CheckRecord(); err != nil {
		p.Form.Problems = append(p.Form.Problems, err.Error())
		p.Asked = false
		return view{name: "look", data: p, status: http.StatusUnprocessableEntity}, nil
	}
	a, err := s.ask(r.Context(), c, &p.Wish)
	if err != nil {
		return view{}, err
	}
	p.Form.takeOver(c, a)
	p.answered, err = s.answered(r.Context(), c, a)
	if name := jobName(c, ""); name != "" {
		p.Title = name
	}
	p.Link = "/?q=" + url.QueryEscape(linkText(c))
	return view{name: "look", data: p}, err
}

func readForm(r *http.Request) lookForm {
	values := func(name string) []string {
		list := r.Form[name]
		return list[:min(len(list), maxFields)]
	}
	at := func(list []string, i int) string {
		if i < len(list) {
			return strings.TrimSpace(list[i])
		}
		return ""
	}
	f := lookForm{Words: strings.TrimSpace(r.Form.Get("q")), Machine: strings.TrimSpace(r.Form.Get("machine"))}
	for _, code := range values("code") {
		if code = strings.TrimSpace(code); code != "" {
			f.Codes = append(f.Codes, code)
		}
	}
	there := values("there")
	for i, text := range values("symptom") {
		if text = strings.TrimSpace(text); text != "" {
			f.Symptoms = append(f.Symptoms, symptomField{text, at(there, i) == "no"})
		}
	}
	results, readings := values("result"), values("reading")
	for i, what := range values("test") {
		if what = strings.TrimSpace(what); what != "" {
			f.Tests = append(f.Tests, testField{What: what, Result: at(results, i), Reading: at(readings, i)})
		}
	}
	outcomes := values("outcome")
	for i, what := range values("tried") {
		if what = strings.TrimSpace(what); what != "" {
			f.Tried = append(f.Tried, triedField{What: what, Outcome: at(outcomes, i)})
		}
	}
	f.mark(r.Form.Get("mark"))
	return f
}

// mark takes what a button beside a step says: "pass|TEST|COMPONENT", "fail|...", or "tried|ACTION|COMPONENT".
func (f *lookForm) mark(value string) {
	parts := strings.SplitN(value, "|", 3)
	if len(parts) != 3 {
		return
	}
	switch parts[0] {
	case "pass", "fail":
		f.Tests = append(f.Tests, testField{What: parts[1] + " of " + parts[2], Result: parts[0]})
	case "tried":
		f.Tried = append(f.Tried, triedField{What: parts[1] + " " + parts[2], Outcome: string(kb.NoChange)})
	}
}

// question makes an open case of the form; ok is false where there is nothing to ask. What cannot be read is noted beside its field and left
// out.
func (f *lookForm) question(b *casebook.Book) (kb.Case, bool) {
	c := kb.Case{V: kb.Version, Status: kb.Open}
	if f.Words != "" {
		read, err := b.Understand(casebook.Question{Words: f.Words})
		if err != nil {
			f.Problems = append(f.Problems, err.Error())
		} else {
			c = read
		}
	}
	if f.Machine != "" {
		c.Machine = ingest.ParseMachine(f.Machine, b.Vocabulary())
	}
	for _, code := range f.Codes {
		if !slices.ContainsFunc(c.Codes, func(e kb.CodeEntry) bool { return strings.EqualFold(e.Code, code) }) {
			c.Codes = append(c.Codes, kb.CodeEntry{Code: code})
		}
	}
	for _, s := range f.Symptoms {
		if !slices.ContainsFunc(c.Symptoms, func(x kb.Symptom) bool { return strings.EqualFold(x.Symptom, s.Text) }) {
			c.Symptoms = append(c.Symptoms, kb.Symptom{Symptom: s.Text, Absent: s.Absent})
		}
	}
	var tests []kb.Test
	for i := range f.Tests {
		if t, ok := f.Tests[i].read(b); ok {
			tests = append(tests, t)
		}
	}
	c.Tests = append(tests, c.Tests...)
	var fixes []kb.Fix
	for i := range f.Tried {
		if x, ok := f.Tried[i].read(b); ok {
			fixes = append(fixes, x)
		}
	}
	c.Fixes = append(fixes, c.Fixes...)
	c = readable(c, &f.Problems)
	known := len(c.Codes)+len(c.Symptoms)+len(c.Tests)+len(c.Fixes) > 0 || c.Machine.Make+c.Machine.Kind+c.Machine.Model != ""
	return c, known
}

// unread tells of what could not be read, nil where all of it was.
func (f *lookForm) unread() error {
	if len(f.Problems) > 0 || slices.ContainsFunc(f.Tests, func(t testField) bool { return t.Problem != "" }) ||
		slices.ContainsFunc(f.Tried, func(t triedField) bool { return t.Problem != "" }) {
		return kb.Errorf(kb.Invalid, "something could not be read; put it right or empty its field first")
	}
	return nil
}

// readable drops the codes that are none, and says so.
func readable(c kb.Case, problems *[]string) kb.Case {
	c.Codes = slices.DeleteFunc(c.Codes, func(e kb.CodeEntry) bool {
		if _, err := e.Parse(); err != nil {
			*problems = append(*problems, err.Error())
			return true
		}
		return false
	})
	return c
}

func (t *testField) read(b *casebook.Book) (kb.Test, bool) {
	what := t.What
	if t.Reading != "" {
		what += " = " + t.Reading
	}
	x, err := ingest.ParseTest(what, b.Vocabulary())
	if err != nil {
		t.Problem = err.Error()
		return kb.Test{}, false
	}
	switch r := kb.Result(t.Result); r {
	case kb.Pass, kb.Fail, kb.Inconclusive:
		x.Result = r
	}
	if x.Result == "" && x.Reading == nil {
		t.Problem = "say whether it passed or failed, or type a reading"
		return kb.Test{}, false
	}
	return x, true
}

func (t *triedField) read(b *casebook.Book) (kb.Fix, bool) {
	x, err := ingest.ParseFix(t.What, b.Vocabulary())
	if err != nil {
		t.Problem = err.Error()
		return kb.Fix{}, false
	}
	x.Outcome = kb.NoChange
	if o := kb.Outcome(t.Outcome); o == kb.Partial || o == kb.Returned || o == kb.UnknownOutcome {
		x.Outcome = o
	}
	return x, true
}

// takeOver shows what was understood as facts to be edited: the words have become facts, what could not be read stays as typed.
func (f *lookForm) takeOver(c kb.Case, a kb.Answer) {
	f.Words = ""
	f.Machine = machineWords(c.Machine)
	f.Codes = nil
	for _, e := range c.Codes {
		f.Codes = append(f.Codes, e.Code)
	}
	f.Symptoms = nil
	for _, s := range c.Symptoms {
		f.Symptoms = append(f.Symptoms, symptomField{s.Symptom, s.Absent})
	}
	var tests []testField
	for i, t := range c.Tests {
		x := testField{What: t.Test + " of " + t.Component, Result: string(t.Result)}
		if t.Reading != nil {
			x.Reading = readingText(*t.Reading)
			if i < len(a.Understood.Tests) {
				x.Verdict = verdictText(a.Understood.Tests[i].Reading)
			}
		}
		tests = append(tests, x)
	}
	for _, t := range f.Tests {
		if t.Problem != "" {
			tests = append(tests, t)
		}
	}
	f.Tests = tests
	var tried []triedField
	for _, x := range c.Fixes {
		tried = append(tried, triedField{What: string(x.Action) + " " + x.Component, Outcome: string(cmp.Or(x.Outcome, kb.NoChange))})
	}
	for _, t := range f.Tried {
		if t.Problem != "" {
			tried = append(tried, t)
		}
	}
	f.Tried = tried
}

// linkText writes a question as words that read back to it, with personal data masked.
func linkText(c kb.Case) string {
	var parts []string
	for _, e := range c.Codes {
		parts = append(parts, e.Code)
	}
	if name := machineWords(c.Machine); name != "" {
		parts = append(parts, name)
	}
	for _, s := range c.Symptoms {
		if s.Absent {
			parts = append(parts, "no "+s.Symptom)
		} else {
			parts = append(parts, s.Symptom)
		}
	}
	for _, t := range c.Tests {
		said := map[kb.Result]string{kb.Pass: "is good", kb.Fail: "is bad"}[t.Result]
		if t.Reading != nil {
			said = strings.TrimSpace(readingText(*t.Reading) + " " + said)
		}
		parts = append(parts, strings.TrimSpace(t.Component+" "+t.Test+" "+said))
	}
	for _, x := range c.Fixes {
		parts = append(parts, past(x.Action)+" the "+x.Component+", no change")
	}
	masked, _ := ingest.Mask(strings.Join(parts, ". "))
	return masked
}

func past(a kb.Action) string {
	s := string(a)
	if strings.HasSuffix(s, "e") {
		return s + "d"
	}
	return s + "ed"
}
