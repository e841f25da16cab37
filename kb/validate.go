package kb

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"time"

	"ruledout/kb/code"
)

var (
	amountForm   = regexp.MustCompile(`^\d{1,12}(\.\d{1,4})?$`)
	currencyForm = regexp.MustCompile(`^[A-Z]{3}$`)
)

// Validate checks a case as a record and gives every problem found, each naming its field. A valid record may still be
// thin: only what contradicts the meaning of the fields is refused. Warnings of Check are no errors.
func (c *Case) Validate() []*Error {
	v := validator{}
	v.enum("status", c.Status, "", Open, Closed)
	v.enum("closed_as", c.ClosedAs, "", Repaired, WentAway, HandedOver, NotWorthRepairing)
	v.enum("confirmation", c.Confirmation, "", Verified, Reported, Unconfirmed)
	v.enum("state", c.State, "", Draft, Published, Withdrawn, Merged)
	if c.Status == Open && c.ClosedAs != "" {
		v.add("closed_as", "an open case cannot say how it was closed")
	}
	if c.Status == Closed && c.ClosedAs == "" {
		v.add("closed_as", "a closed case says how it was closed: repaired, went away, handed over or not worth repairing")
	}
	v.machine(c.Machine)
	for i, e := range c.Codes {
		v.code(fmt.Sprintf("codes[%d]", i), e)
	}
	for i, s := range c.Symptoms {
		f := fmt.Sprintf("symptoms[%d]", i)
		v.term(f+".symptom", s.Symptom)
		v.common(f, s.Evidence, s.Confidence)
	}
	for i, t := range c.Tests {
		v.test(fmt.Sprintf("tests[%d]", i), t)
	}
	for i, f := range c.Fixes {
		v.fix(fmt.Sprintf("fixes[%d]", i), f)
	}
	for i, f := range c.FollowUps {
		v.date(fmt.Sprintf("follow_ups[%d].date", i), f.Date)
	}
	v.common("status_evidence", c.StatusEvidence, 0)
	return v.problems
}

// CheckRecord joins the problems of Validate into one error, nil if there are none.
func (c *Case) CheckRecord() error {
	problems := c.Validate()
	if len(problems) == 0 {
		return nil
	}
	first := *problems[0]
	for _, p := range problems[1:] {
		first.Msg += "; " + p.Field + ": " + p.Msg
	}
	return &first
}

type validator struct{ problems []*Error }

func (v *validator) add(field, format string, args ...any) {
	v.problems = append(v.problems, &Error{Kind: Invalid, Field: field, Msg: fmt.Sprintf(format, args...)})
}

// word is any of the closed word lists.
type word interface{ ~string }

func (v *validator) enum(field string, got any, allowed ...any) {
	s := fmt.Sprint(got)
	var names []string
	for _, a := range allowed {
		if fmt.Sprint(a) == s {
			return
		}
		if fmt.Sprint(a) != "" {
			names = append(names, fmt.Sprint(a))
		}
	}
	v.add(field, "%q is not one of: %s", s, strings.Join(names, ", "))
}

func anyOf[T word](list []T) []any {
	out := []any{""}
	for _, w := range list {
		out = append(out, w)
	}
	return out
}

func (v *validator) term(field, s string) {
	if strings.TrimSpace(s) == "" {
		v.add(field, "is empty")
	}
	if len(s) > 400 {
		v.add(field, "is longer than 400 bytes")
	}
}

func (v *validator) machine(m Machine) {
	if m.Year != 0 && (m.Year < 1850 || m.Year > 2150) {
		v.add("machine.year", "%d is no year of make", m.Year)
	}
	if m.Odometer != nil {
		v.amount("machine.odometer.value", m.Odometer.Value)
	}
	if m.Hours != nil {
		v.amount("machine.hours", *m.Hours)
	}
	if m.Cycles != nil {
		v.amount("machine.cycles", *m.Cycles)
	}
	v.common("machine", m.Evidence, m.Confidence)
}

func (v *validator) amount(field string, x float64) {
	if math.IsNaN(x) || math.IsInf(x, 0) || x < 0 {
		v.add(field, "want a number of zero or more")
	}
}

func (v *validator) code(field string, e CodeEntry) {
	if _, err := e.Parse(); err != nil {
		v.add(field+".code", "%v", err)
	}
	v.enum(field+".scheme", e.Scheme, "", code.OBD, code.J1939, code.Maker)
	v.enum(field+".status", e.Status, "", Stored, Pending, Active, History)
	v.common(field, e.Evidence, e.Confidence)
}

func (v *validator) test(field string, t Test) {
	v.term(field+".component", t.Component)
	v.enum(field+".result", t.Result, anyOf(Results())...)
	v.enum(field+".where", t.Where, "", InPlace, Bench)
	v.step(field, t.Step, t.Minutes)
	if t.Result == "" && t.Reading == nil {
		v.add(field+".result", "a test without a result needs a reading")
	}
	if t.Reading != nil {
		v.reading(field+".reading", *t.Reading)
	}
	v.common(field, t.Evidence, t.Confidence)
}

func (v *validator) step(field string, step int, minutes float64) {
	if step < 0 {
		v.add(field+".step", "steps count from 1")
	}
	v.amount(field+".minutes", minutes)
}

func (v *validator) reading(field string, r Reading) {
	v.enum(field+".bound", r.Bound, "", Equal, Below, Above, BoundOpen)
	if r.Value == nil && r.Bound != BoundOpen {
		v.add(field+".value", "a reading has a value unless its bound is open")
	}
	if r.Value != nil && r.Bound == BoundOpen {
		v.add(field+".value", "an open circuit has no value")
	}
	if r.Upper != nil && (r.Value == nil || *r.Upper < *r.Value) {
		v.add(field+".upper", "the upper end lies below the value")
	}
	if l := r.Limit; l != nil && l.Low != nil && l.High != nil && *l.Low > *l.High {
		v.add(field+".limit", "low lies above high")
	}
}

func (v *validator) fix(field string, f Fix) {
	v.term(field+".component", f.Component)
	if f.Action == "" {
		v.add(field+".action", "is missing")
	} else {
		v.enum(field+".action", f.Action, anyOf(Actions())...)
	}
	v.enum(field+".outcome", f.Outcome, anyOf(Outcomes())...)
	v.step(field, f.Step, f.Minutes)
	if f.Part != nil {
		v.enum(field+".part.origin", f.Part.Origin, "", NewPart, UsedPart, RebuiltPart, OwnPart)
	}
	if f.PartsCost != nil {
		if !amountForm.MatchString(f.PartsCost.Amount) {
			v.add(field+".parts_cost.amount", "%q is no amount; want digits such as 12.50", f.PartsCost.Amount)
		}
		if !currencyForm.MatchString(f.PartsCost.Currency) {
			v.add(field+".parts_cost.currency", "%q is no currency code; want three capitals such as EUR (ISO 4217)", f.PartsCost.Currency)
		}
	}
	if f.Action == Bypass && f.Outcome == Fixed {
		v.add(field+".outcome", "a bypassed protective device is never a cure; use unknown, or enter it as a test by the method bridging")
	}
	v.common(field, f.Evidence, f.Confidence)
}

func (v *validator) common(field string, ev []Evidence, confidence float64) {
	if math.IsNaN(confidence) || confidence < 0 || confidence > 1 {
		v.add(field+".confidence", "want a number from 0 to 1")
	}
	for i, e := range ev {
		f := fmt.Sprintf("%s.evidence[%d]", field, i)
		if e.Post < 1 {
			v.add(f+".post", "posts count from 1")
		}
		if e.Start < 0 || e.End < e.Start {
			v.add(f, "start and end are no span")
		} else if e.End-e.Start != len(e.Quote) {
			v.add(f+".quote", "is %d bytes long but the span has %d", len(e.Quote), e.End-e.Start)
		}
	}
}

func (v *validator) date(field, s string) {
	if s == "" {
		return
	}
	for _, form := range []string{time.DateOnly, time.RFC3339, "2006-01", "2006"} {
		if _, err := time.Parse(form, s); err == nil {
			return
		}
	}
	v.add(field, "%q is no date; want a form such as 2024-03-01 (ISO 8601)", s)
}

// Parse reads the entry as a code of its scheme.
func (e CodeEntry) Parse() (code.Code, error) {
	if e.Scheme != "" {
		return code.ParseScheme(e.Scheme, e.Code)
	}
	return code.Parse(e.Code)
}

// Key gives the key of the entry on a machine of this make: an issuer that the entry names goes before the rule.
func (e CodeEntry) Key(maker string) (code.Key, error) {
	c, err := e.Parse()
	if err != nil {
		return code.Key{}, err
	}
	k := c.Key(maker)
	if e.Issuer != "" {
		k.Issuer = e.Issuer
	}
	return k, nil
}
