package main

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// headline puts a case on one line: machine, codes and what fixed it.
func headline(c kb.Case) string {
	var codes []string
	for _, e := range c.Codes {
		codes = append(codes, e.Code)
	}
	var cures []string
	for _, f := range c.Cures() {
		if cure := fmt.Sprintf("%s %s", f.Action, f.Component); !slices.Contains(cures, cure) {
			cures = append(cures, cure)
		}
	}
	parts := nonEmpty(casebook.MachineName(c.Machine), strings.Join(codes, " "), strings.Join(cures, " + "))
	if len(cures) == 0 {
		parts = append(parts, "no fix known")
	}
	if c.Reporter != "" {
		parts = append(parts, "told by "+c.Reporter)
	}
	return strings.Join(parts, "; ")
}

// printCase writes the facts of a case, each with the words it was read from.
func printCase(w io.Writer, c kb.Case) {
	fmt.Fprintf(w, "%s  %s\n", c.ID, c.Title)
	fmt.Fprintf(w, "  %s\n", strings.Join(nonEmpty(string(c.State), string(c.Status), string(c.ClosedAs), string(c.Held()), reporter(c)), ", "))
	printFacts(w, c, "  ")
	quoted(w, c.StatusEvidence)
	for _, f := range c.FollowUps {
		fmt.Fprintf(w, "  follow-up %s: %s %s\n", f.Date, heldWord(f.Held), f.Note)
	}
	for _, d := range c.Doubts {
		fmt.Fprintf(w, "  to settle (%s): %s\n", d.About, d.Question)
		quoted(w, d.Evidence)
	}
}

func reporter(c kb.Case) string {
	if c.Reporter == "" {
		return ""
	}
	return "told by " + c.Reporter
}

func heldWord(held bool) string {
	if held {
		return "held"
	}
	return "returned"
}

// printFacts writes machine, codes, symptoms, tests and fixes.
func printFacts(w io.Writer, c kb.Case, lead string) {
	if name := casebook.MachineName(c.Machine); name != "" {
		fmt.Fprintf(w, "%smachine   %s%s\n", lead, name, machineMore(c.Machine))
		quoted(w, c.Machine.Evidence)
	}
	for _, e := range c.Codes {
		fmt.Fprintf(w, "%scode      %s\n", lead, strings.Join(nonEmpty(e.Code, string(e.Status)), ", "))
		quoted(w, e.Evidence)
	}
	for _, s := range c.Symptoms {
		fmt.Fprintf(w, "%ssymptom   %s%s\n", lead, notThere(s.Absent), strings.Join(append([]string{s.Symptom}, s.Conditions...), ", "))
		quoted(w, s.Evidence)
	}
	for _, t := range c.Tests {
		fmt.Fprintf(w, "%s%s\n", lead, testLine(&c, t))
		quoted(w, t.Evidence)
	}
	for _, f := range c.Fixes {
		fmt.Fprintf(w, "%sfix       %s%s %s: %s%s\n", lead, stepMark(f.Step), f.Action, f.Component, outcome(f.Outcome), fixMore(f))
		quoted(w, f.Evidence)
	}
}

func machineMore(m kb.Machine) string {
	var parts []string
	if m.Kind != "" && casebook.MachineName(m) != m.Kind {
		parts = append(parts, m.Kind)
	}
	if m.Odometer != nil {
		parts = append(parts, fmt.Sprintf("%g %s", m.Odometer.Value, m.Odometer.Unit))
	}
	if m.Hours != nil {
		parts = append(parts, fmt.Sprintf("%g h", *m.Hours))
	}
	if m.VIN != nil {
		parts = append(parts, fmt.Sprintf("identification number: %s, check digit %s", m.VIN.Region, m.VIN.Check))
	}
	if len(parts) == 0 {
		return ""
	}
	return " (" + strings.Join(parts, ", ") + ")"
}

func notThere(absent bool) string {
	if absent {
		return "not: "
	}
	return ""
}

func testLine(c *kb.Case, t kb.Test) string {
	what := strings.TrimSpace(t.Test)
	if what == "" {
		what = t.Method
	}
	line := fmt.Sprintf("test      %s%s of %s: %s", stepMark(t.Step), what, t.Component, result(t))
	if t.Reading != nil {
		line += ", " + readingText(*t.Reading) + verdictText(*t.Reading)
	}
	if c.IsProof(t) {
		line += " (proof of the repair)"
	}
	return line
}

// verdictText says how a reading stands to its limit, and whose limit that is.
func verdictText(r kb.Reading) string {
	v, ok := r.Judge()
	if !ok {
		return ""
	}
	return fmt.Sprintf(" (%s; limit: %s)", casebook.VerdictText(v), orElse(v.Limit.Source, "no source named"))
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

func stepMark(step int) string {
	if step == 0 {
		return ""
	}
	return fmt.Sprintf("%d. ", step)
}

func result(t kb.Test) string {
	if t.Result == "" {
		if _, ok := t.Conformity(); ok {
			return "by its reading"
		}
		return "not judged"
	}
	return string(t.Result)
}

func readingText(r kb.Reading) string {
	if r.Bound == kb.BoundOpen {
		return "open circuit"
	}
	if r.Value == nil {
		return r.Text
	}
	bound := ""
	if r.Bound == kb.Below || r.Bound == kb.Above {
		bound = string(r.Bound) + " "
	}
	s := fmt.Sprintf("%s%g", bound, *r.Value)
	if r.Upper != nil {
		s += fmt.Sprintf(" to %g", *r.Upper)
	}
	return strings.TrimSpace(s + " " + r.Unit)
}

func outcome(o kb.Outcome) string {
	switch o {
	case "", kb.UnknownOutcome:
		return "effect unknown"
	}
	return string(o)
}

func fixMore(f kb.Fix) string {
	var parts []string
	if f.Action == kb.Bypass {
		parts = append(parts, "a protective device left without its function: never a repair")
	}
	if f.Part != nil {
		parts = append(parts, nonEmpty(f.Part.Number, string(f.Part.Origin))...)
	}
	if f.PartsCost != nil {
		parts = append(parts, f.PartsCost.Amount+" "+f.PartsCost.Currency)
	}
	if len(parts) == 0 {
		return ""
	}
	return " (" + strings.Join(parts, ", ") + ")"
}

func quoted(w io.Writer, list []kb.Evidence) {
	for _, e := range list {
		fmt.Fprintf(w, "              post %d, %d-%d: \"%s\"\n", e.Post, e.Start, e.End, strings.Join(strings.Fields(e.Quote), " "))
	}
}

func printView(w io.Writer, v casebook.View) {
	printCase(w, v.Case)
	if v.Counts {
		fmt.Fprintln(w, "  counts as evidence")
	} else {
		fmt.Fprintln(w, "  does not count as evidence")
	}
	if v.Waiting != nil {
		fmt.Fprintln(w, "\nWAITING: a later reading of its write-up differs; accept takes it over")
		printCase(w, *v.Waiting)
	}
	fmt.Fprintln(w, "\nSOURCES")
	for _, s := range v.Sources {
		licence := s.Licence
		if licence == "" {
			licence = "no licence stated: quotes are cut at 200 characters"
		}
		fmt.Fprintf(w, "  %s\n", strings.Join(nonEmpty(s.Kind, s.Title, s.URL, s.Posted, licence), ", "))
	}
	if len(v.Sources) == 0 {
		fmt.Fprintln(w, "  none named")
	}
	fmt.Fprintln(w, "\nHISTORY")
	for _, e := range v.History {
		fmt.Fprintf(w, "  %d  %s  %s by %s%s\n", e.Pos, e.At.UTC().Format(time.DateTime), e.Verb, e.Actor, because(e.Reason))
	}
}

func because(reason string) string {
	if reason == "" {
		return ""
	}
	return ": " + reason
}
