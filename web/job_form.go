package web

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/kb/quantity"
)

// jobForm is a job sheet's facts as its form holds them: what was typed stays as it was typed.
type jobForm struct {
	Revision int64 // of the sheet that the form was made from
	Name     string
	Customer string
	Words    string // to be read into facts
	Machine  machineFields
	Codes    []codeField
	Symptoms []symptomField
	Tests    []jobTest
	Fixes    []jobFix
	Problems []string // what could not be read
	Kinds    []string // of machine, to choose from
	MayFix   bool     // a repair may be told as the cure
}

type machineFields struct{ Kind, Make, Model, Year, Variant, Odometer, Hours string }

type codeField struct{ Code, Status string }

// row is what a row of tests or repairs has beside what was typed.
type row struct {
	Was     int // the entry of the sheet that it was made from, counted from 1; 0: it is new
	Problem string
	Said    []quoteLine // the words that it was read from
	at      int         // where it stands in what is saved, counted from 1; 0: nowhere
}

// jobTest is a test as typed.
type jobTest struct {
	row
	Step    string
	What    string
	Where   string
	Result  string
	Reading string
	Verdict string
}

// jobFix is a repair done on the job as typed.
type jobFix struct {
	row
	Step    string
	What    string
	Outcome string
}

// formOf gives the form of a job sheet.
func formOf(s casebook.Sheet) jobForm {
	c := s.Case
	f := jobForm{Revision: s.Revision, Name: s.Name, Customer: s.Customer, Machine: machineForm(c.Machine)}
	for _, e := range c.Codes {
		f.Codes = append(f.Codes, codeField{e.Code, string(e.Status)})
	}
	for _, y := range c.Symptoms {
		f.Symptoms = append(f.Symptoms, symptomField{y.Symptom, y.Absent})
	}
	verdicts := s.Verdicts()
	for i, t := range c.Tests {
		x := jobTest{row: row{Was: i + 1}, Step: stepField(t.Step), What: testWords(t), Where: string(t.Where), Result: string(t.Result)}
		if t.Reading != nil {
			x.Reading = readingText(*t.Reading)
		}
		if verdicts[i] != nil {
			x.Verdict = verdictWords(*verdicts[i])
		}
		f.Tests = append(f.Tests, x)
	}
	for i, x := range c.Fixes {
		f.Fixes = append(f.Fixes, jobFix{row: row{Was: i + 1}, Step: stepField(x.Step), What: fixWords(x), Outcome: string(x.Outcome)})
	}
	return f
}

func machineForm(m kb.Machine) machineFields {
	f := machineFields{Kind: m.Kind, Make: m.Make, Model: m.Model, Variant: m.Variant, Year: stepField(m.Year)}
	if m.Odometer != nil {
		f.Odometer = strings.TrimSpace(exactly(m.Odometer.Value) + " " + m.Odometer.Unit)
	}
	if m.Hours != nil {
		f.Hours = exactly(*m.Hours)
	}
	return f
}

func exactly(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// stepField writes a number of which 0 means that it is not known.
func stepField(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// testWords names a test so that ingest.ParseTest reads it back.
func testWords(t kb.Test) string { return cmp.Or(t.Test, t.Method, "check") + " of " + t.Component }

func fixWords(x kb.Fix) string { return string(x.Action) + " " + x.Component }

// readJobForm reads the form that a browser sent.
func readJobForm(v url.Values) jobForm {
	at := func(name string, i int) string {
		if list := v[name]; i < len(list) {
			return strings.TrimSpace(list[i])
		}
		return ""
	}
	one := func(name string) string { return at(name, 0) }
	f := jobForm{Revision: atoi64(one("revision")), Name: one("name"), Customer: one("customer"), Words: one("q"),
		Machine: machineFields{one("kind"), one("make"), one("model"), one("year"), one("variant"), one("odometer"), one("hours")}}
	for i := range rowsOf(v, "code") {
		if code := at("code", i); code != "" {
			f.Codes = append(f.Codes, codeField{code, at("code-status", i)})
		}
	}
	for i := range rowsOf(v, "symptom") {
		if text := at("symptom", i); text != "" {
			f.Symptoms = append(f.Symptoms, symptomField{text, at("there", i) == "no"})
		}
	}
	for i := range rowsOf(v, "test") {
		if what := at("test", i); what != "" {
			f.Tests = append(f.Tests, jobTest{row: row{Was: int(atoi64(at("test-was", i)))}, Step: at("test-step", i), What: what, Where: at("where", i),
				Result: at("result", i), Reading: at("reading", i)})
		}
	}
	for i := range rowsOf(v, "fix") {
		if what := at("fix", i); what != "" {
			f.Fixes = append(f.Fixes, jobFix{row: row{Was: int(atoi64(at("fix-was", i)))}, Step: at("fix-step", i), What: what, Outcome: at("outcome", i)})
		}
	}
	f.mark(one("mark"))
	return f
}

// rowsOf bounds how many rows of a kind a form may hold.
func rowsOf(v url.Values, name string) int { return min(len(v[name]), maxFields) }

func atoi64(s string) int64 {
	n, _ := strconv.ParseInt(s, 10, 64) // anything else is none
	return n
}

// mark takes what a button beside a step says, as lookForm.mark does.
func (f *jobForm) mark(value string) {
	var l lookForm
	l.mark(value)
	for _, t := range l.Tests {
		f.Tests = append(f.Tests, jobTest{What: t.What, Result: t.Result})
	}
	for _, t := range l.Tried {
		f.Fixes = append(f.Fixes, jobFix{What: t.What, Outcome: t.Outcome})
	}
}

// facts gives the facts of a sheet with what the form changes in them. Rows that stayed as they were keep everything that the form does
// not show. What cannot be read is noted beside its field and left as it was.
func (f *jobForm) facts(base casebook.SheetFacts, b *casebook.Book) casebook.SheetFacts {
	next := base
	next.Name, next.Customer = f.Name, f.Customer
	c := base.Case
	c.Machine = f.machine(base.Case.Machine)
	c.Codes, c.Symptoms = f.codes(base.Case), f.symptoms(base.Case)
	c.Tests, c.Fixes = nil, nil
	for i := range f.Tests {
		if t, ok := f.Tests[i].read(base.Case.Tests, b); ok {
			c.Tests = append(c.Tests, t)
			f.Tests[i].at = len(c.Tests)
		}
	}
	for i := range f.Fixes {
		if x, ok := f.Fixes[i].read(base.Case.Fixes, b); ok {
			c.Fixes = append(c.Fixes, x)
			f.Fixes[i].at = len(c.Fixes)
		}
	}
	f.addWords(&c, b)
	numberNew(&c)
	next.Case = c
	return next
}

// isNew is the step of what was just added without one: it comes after everything that was done before.
const isNew = -1

// numberNew gives what was added its place in the order.
func numberNew(c *kb.Case) {
	next := 1
	for _, t := range c.Tests {
		next = max(next, t.Step+1)
	}
	for _, x := range c.Fixes {
		next = max(next, x.Step+1)
	}
	number := func(step *int) {
		if *step == isNew {
			*step = next
			next++
		}
	}
	for i := range c.Tests {
		number(&c.Tests[i].Step)
	}
	for i := range c.Fixes {
		number(&c.Fixes[i].Step)
	}
}

// unread tells whether something that was typed could not be read.
func (f *jobForm) unread() bool {
	return len(f.Problems) > 0 || slices.ContainsFunc(f.Tests, func(t jobTest) bool { return t.Problem != "" }) ||
		slices.ContainsFunc(f.Fixes, func(x jobFix) bool { return x.Problem != "" })
}

// after gives the form of a sheet that was saved from this one, with what could not be read still as it was typed.
func (f *jobForm) after(saved casebook.Sheet) jobForm {
	next := formOf(saved)
	next.Problems = f.Problems
	for _, t := range f.Tests {
		switch {
		case t.Problem == "":
		case t.at > 0 && t.at <= len(next.Tests):
			t.Was = t.at
			next.Tests[t.at-1] = t
		default:
			t.Was = 0
			next.Tests = append(next.Tests, t)
		}
	}
	for _, x := range f.Fixes {
		switch {
		case x.Problem == "":
		case x.at > 0 && x.at <= len(next.Fixes):
			x.Was = x.at
			next.Fixes[x.at-1] = x
		default:
			x.Was = 0
			next.Fixes = append(next.Fixes, x)
		}
	}
	if len(f.Problems) > 0 { // of the machine and the codes: they stay as typed
		next.Machine, next.Codes = f.Machine, f.Codes
	}
	return next
}

func (f *jobForm) problem(format string, args ...any) {
	f.Problems = append(f.Problems, fmt.Sprintf(format, args...))
}

func (f *jobForm) machine(was kb.Machine) kb.Machine {
	m := was
	t := f.Machine
	m.Kind, m.Make, m.Model, m.Variant = t.Kind, t.Make, t.Model, t.Variant
	if n, err := strconv.Atoi(t.Year); err == nil || t.Year == "" {
		m.Year = n
	} else {
		f.problem("year %q: want four digits", t.Year)
	}
	if t.Odometer != machineForm(was).Odometer {
		odometer, err := measure(t.Odometer)
		if err != nil {
			f.problem("odometer %q: %v", t.Odometer, err)
		} else {
			m.Odometer = odometer
		}
	}
	if t.Hours != machineForm(was).Hours {
		switch h, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(t.Hours), "h"), 64); {
		case t.Hours == "":
			m.Hours = nil
		case err != nil || h < 0:
			f.problem("hours %q: want a number", t.Hours)
		default:
			m.Hours = &h
		}
	}
	return m
}

// measure reads an odometer, "81200 km" or a bare number of kilometres; empty gives nil.
func measure(s string) (*kb.Measure, error) {
	if s == "" {
		return nil, nil
	}
	if _, err := strconv.ParseFloat(s, 64); err == nil {
		s += " km"
	}
	q, err := quantity.Parse(s)
	if err != nil || q.Unit != "km" && q.Unit != "mi" || q.Bound != quantity.Equal || q.Value < 0 {
		return nil, fmt.Errorf("want a distance such as 81200 km or 50500 mi")
	}
	return &kb.Measure{Value: q.Value, Unit: q.Unit}, nil
}

func (f *jobForm) codes(was kb.Case) []kb.CodeEntry {
	var out []kb.CodeEntry
	for _, typed := range f.Codes {
		e := kb.CodeEntry{Code: typed.Code}
		if i := slices.IndexFunc(was.Codes, func(x kb.CodeEntry) bool { return x.Code == typed.Code }); i >= 0 {
			e = was.Codes[i]
		}
		e.Status = kb.CodeStatus(typed.Status)
		if _, err := e.Parse(); err != nil {
			f.problem("%v", err)
			continue
		}
		out = append(out, e)
	}
	return out
}

func (f *jobForm) symptoms(was kb.Case) []kb.Symptom {
	var out []kb.Symptom
	for _, typed := range f.Symptoms {
		s := kb.Symptom{Symptom: typed.Text}
		if i := slices.IndexFunc(was.Symptoms, func(x kb.Symptom) bool { return x.Symptom == typed.Text }); i >= 0 {
			s = was.Symptoms[i]
		}
		s.Absent = typed.Absent
		out = append(out, s)
	}
	return out
}

// read gives the test of a row. One that cannot be read is noted, and the test that it was made from stays.
func (t *jobTest) read(was []kb.Test, b *casebook.Book) (kb.Test, bool) {
	old, had := at(was, t.Was)
	x := old
	if !had || t.What != testWords(old) {
		parsed, err := ingest.ParseTest(t.What, b.Vocabulary())
		if err != nil {
			t.Problem = err.Error()
			return old, had
		}
		x.Test, x.Method, x.Component = parsed.Test, parsed.Method, parsed.Component
		x.Result, x.Reading = cmp.Or(parsed.Result, x.Result), cmp.Or(parsed.Reading, x.Reading)
	}
	if err := t.readReading(&x, b); err != nil {
		t.Problem = err.Error()
		return old, had
	}
	if r := kb.Result(t.Result); r != "" || had || t.Reading != "" {
		x.Result = r
	}
	x.Where = kb.Where(t.Where)
	if x.Step, t.Problem = readStep(t.Step, had); t.Problem == "" && x.Result == "" && x.Reading == nil {
		t.Problem = "say whether it passed or failed, or type a reading"
	}
	if t.Problem != "" {
		return old, had
	}
	return x, true
}

// readReading takes over the reading as typed, unless it is the one that stands.
func (t *jobTest) readReading(x *kb.Test, b *casebook.Book) error {
	if x.Reading != nil && t.Reading == readingText(*x.Reading) {
		return nil
	}
	if t.Reading == "" {
		if t.Was > 0 {
			x.Reading = nil
		}
		return nil
	}
	parsed, err := ingest.ParseTest("check of it = "+t.Reading, b.Vocabulary())
	if err == nil {
		x.Reading = parsed.Reading
	}
	return err
}

func (t *jobFix) read(was []kb.Fix, b *casebook.Book) (kb.Fix, bool) {
	old, had := at(was, t.Was)
	x := old
	if !had || t.What != fixWords(old) {
		parsed, err := ingest.ParseFix(t.What, b.Vocabulary())
		if err != nil {
			t.Problem = err.Error()
			return old, had
		}
		x.Action, x.Component = parsed.Action, parsed.Component
	}
	x.Outcome = kb.Outcome(t.Outcome)
	if x.Step, t.Problem = readStep(t.Step, had); t.Problem != "" {
		return old, had
	}
	return x, true
}

// readStep reads the place of an entry in the order of the work. Without one something that is new comes last, and of the rest the order is
// unknown.
func readStep(s string, had bool) (n int, problem string) {
	switch {
	case s == "" && had:
		return 0, ""
	case s == "":
		return isNew, ""
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 || n > 10_000 {
		return 0, fmt.Sprintf("step %q: want its place in the order, a number from 1", s)
	}
	return n, ""
}

// at gives the n-th of a list, counted from 1.
func at[T any](list []T, n int) (x T, ok bool) {
	if n < 1 || n > len(list) {
		return x, false
	}
	return list[n-1], true
}

// addWords reads the words typed beside the rows and adds what they say.
func (f *jobForm) addWords(c *kb.Case, b *casebook.Book) {
	if f.Words == "" {
		return
	}
	read, err := b.Understand(casebook.Question{Words: f.Words})
	if err != nil {
		f.problem("%v", err)
		return
	}
	if c.Machine.Make+c.Machine.Model+c.Machine.Kind == "" {
		c.Machine = read.Machine
	}
	for _, e := range read.Codes {
		if !slices.ContainsFunc(c.Codes, func(x kb.CodeEntry) bool { return strings.EqualFold(x.Code, e.Code) }) {
			c.Codes = append(c.Codes, e)
		}
	}
	for _, s := range read.Symptoms {
		if !slices.ContainsFunc(c.Symptoms, func(x kb.Symptom) bool { return strings.EqualFold(x.Symptom, s.Symptom) }) {
			c.Symptoms = append(c.Symptoms, s)
		}
	}
	for _, t := range read.Tests {
		t.Step = isNew
		c.Tests = append(c.Tests, t)
	}
	for _, x := range read.Fixes {
		x.Step = isNew
		c.Fixes = append(c.Fixes, x)
	}
}
