package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// shownFixes is how many possible culprits are printed unless all are asked for.
const shownFixes = 8

// printAnswer writes an answer in the order in which it is needed: cautions, what is ruled out, what to do next, repairs on record.
func printAnswer(w io.Writer, a kb.Answer, because, everything bool) error {
	out := bufio.NewWriter(w)
	printQuestion(out, a)
	printCautions(out, a.Cautions)
	printRuledOut(out, a.RuledOut)
	printNext(out, a.Next)
	if a.Plan != nil {
		printPlan(out, *a.Plan, everything)
	}
	printFixes(out, a, everything)
	printChange(out, a.WouldChange)
	if because {
		printBecause(out, a)
	}
	printBasis(out, a)
	return out.Flush()
}

func section(w io.Writer, title string) { fmt.Fprintf(w, "\n%s\n", strings.ToUpper(title)) }

func printQuestion(w io.Writer, a kb.Answer) {
	fmt.Fprintf(w, "UNDERSTOOD\n")
	printFacts(w, a.Understood, "  ")
	for _, m := range a.Meaning {
		wrapped(w, "  ", fmt.Sprintf("%s: %s (%s)", m.Code, m.Text, m.Source))
	}
	for _, s := range a.Warnings {
		wrapped(w, "  note: ", s)
	}
}

func printCautions(w io.Writer, list []kb.CautionFor) {
	if len(list) == 0 {
		return
	}
	section(w, "cautions")
	for _, c := range list {
		head := c.Hazard
		if c.Licensed != "" {
			head += " (may be reserved to licensed people: " + c.Licensed + ")"
		}
		wrapped(w, "  ", fmt.Sprintf("%s: %s", head, c.Text))
		wrapped(w, "    ", "because of "+strings.Join(c.Because, ", ")+". Source: "+c.Source)
	}
	wrapped(w, "  ", "The maker's procedure, local rules and licensed practice go before anything said here.")
}

func printRuledOut(w io.Writer, list []kb.RuledOut) {
	section(w, "ruled out")
	if len(list) == 0 {
		fmt.Fprintln(w, "  nothing yet")
	}
	for _, r := range list {
		wrapped(w, "  ", fmt.Sprintf("%s: %s before, %s now, by %s", r.Component, casebook.Percent(r.From), casebook.Percent(r.To), strings.Join(r.By, "; ")))
	}
}

func printNext(w io.Writer, list []kb.NextStep) {
	section(w, "what to do next")
	if len(list) == 0 {
		fmt.Fprintln(w, "  nothing is known that would tell the causes apart")
	}
	for i, n := range list {
		fmt.Fprintf(w, "  %d. %s\n", i+1, stepText(n))
		for _, b := range n.Branches {
			line := fmt.Sprintf("%s (%s)", b.Result, casebook.Percent(b.Probability))
			if b.Leader != "" {
				line += fmt.Sprintf(": then likeliest %s, %s", b.Leader, casebook.Percent(b.LeaderP))
			}
			fmt.Fprintln(w, "       "+line)
		}
		if len(n.Licensed) > 0 {
			fmt.Fprintf(w, "       may be reserved to licensed people: %s\n", strings.Join(n.Licensed, ", "))
		}
	}
}

func stepText(n kb.NextStep) string {
	var s string
	switch n.Kind {
	case "fix":
		s = fmt.Sprintf("repair: %s %s", n.Action, n.Component)
	case "proof":
		s = fmt.Sprintf("prove the repair: %s of %s", n.Test, n.Component)
	default:
		s = fmt.Sprintf("test: %s of %s", n.Test, n.Component)
	}
	var notes []string
	if n.GainBits > 0 {
		notes = append(notes, fmt.Sprintf("tells %.2f bit", n.GainBits))
	}
	if n.Minutes > 0 {
		notes = append(notes, fmt.Sprintf("about %.0f min", n.Minutes))
	}
	if n.Cost != nil {
		notes = append(notes, moneyText(*n.Cost))
	}
	if len(n.Cases) > 0 {
		notes = append(notes, "done in "+caseList(n.Cases, 3))
	}
	if len(notes) > 0 {
		s += " (" + strings.Join(notes, ", ") + ")"
	}
	return s
}

// printFixes writes the repairs on record as table rows, each with what was done and the cases to see on a line below.
func printFixes(w io.Writer, a kb.Answer, everything bool) {
	section(w, "repairs on record")
	shown := a.Fixes
	if !everything {
		shown = shown[:min(len(shown), shownFixes)]
	}
	t := table.NewWriter()
	t.SetStyle(plainStyle())
	t.AppendHeader(table.Row{"culprit", "probability", "90 % interval", "0 to 100 %", "cases", "seen with"})
	var below []string
	for _, f := range shown {
		t.AppendRow(table.Row{f.Component, casebook.Percent(f.Probability), interval(f.Low, f.High), ticks(f.Low, f.Probability, f.High), f.CaseCount, seen(f.Seen)})
		below = append(below, strings.Join(nonEmpty(actions(f.Actions), caseList(f.Cases, 4)), "; see "))
	}
	u := a.Unlisted
	t.AppendRow(table.Row{"something else", casebook.Percent(u.Probability), interval(u.Low, u.High), ticks(u.Low, u.Probability, u.High), "", ""})
	t.SetColumnConfigs([]table.ColumnConfig{{Name: "probability", Align: text.AlignRight}, {Name: "cases", Align: text.AlignRight}})
	for i, line := range strings.Split(t.Render(), "\n") {
		fmt.Fprintln(w, "  "+strings.TrimRight(line, " "))
		if i > 0 && i <= len(below) && below[i-1] != "" {
			wrapped(w, "      ", below[i-1])
		}
	}
	if near := nearest(u.Nearest); near != "" {
		wrapped(w, "      ", near)
	}
	if hidden := len(a.Fixes) - len(shown); hidden > 0 {
		fmt.Fprintf(w, "  and %s less likely (--all shows them)\n", count(hidden, "culprit"))
	}
}

func plainStyle() table.Style {
	s := table.StyleDefault
	s.Options = table.OptionsNoBordersAndSeparators
	s.Format.Header, s.Format.Footer = text.FormatDefault, text.FormatDefault
	s.Box.PaddingLeft, s.Box.PaddingRight = "", "  "
	return s
}

func seen(level string) string {
	switch level {
	case "subtype":
		return "this code"
	case "all":
		return "others only"
	case "kind":
		return "this kind"
	case "family":
		return "like codes"
	case "structure":
		return "no case: structure"
	}
	return "this " + level
}

// ticks draws an interval on a line from 0 to 1: its ends and the estimate.
func ticks(low, p, high float64) string {
	const width = 21
	at := func(x float64) int { return int(math.Round(math.Min(1, math.Max(0, x)) * (width - 1))) }
	line := []rune(strings.Repeat(".", width))
	for i := at(low); i <= at(high); i++ {
		line[i] = '-'
	}
	line[at(low)], line[at(high)] = '|', '|'
	line[at(p)] = 'o'
	return string(line)
}

func actions(list []kb.ActionShare) string {
	var parts []string
	for _, s := range list {
		parts = append(parts, fmt.Sprintf("%s %s", s.Action, casebook.Percent(s.Share)))
	}
	return strings.Join(parts, ", ")
}

func nearest(list []kb.Nearest) string {
	var parts []string
	for i, n := range list {
		if i == 3 {
			break
		}
		parts = append(parts, fmt.Sprintf("%s %s", n.Component, casebook.Percent(n.Probability)))
	}
	if len(parts) == 0 {
		return ""
	}
	return "likeliest of these: " + strings.Join(parts, ", ")
}

func caseList(ids []kb.CaseID, most int) string {
	var parts []string
	for i, id := range ids {
		if i == most {
			parts = append(parts, fmt.Sprintf("+%d", len(ids)-most))
			break
		}
		parts = append(parts, string(id))
	}
	return strings.Join(parts, " ")
}

func printBecause(w io.Writer, a kb.Answer) {
	section(w, "because")
	for i, f := range a.Fixes {
		if i >= shownFixes {
			break
		}
		fmt.Fprintf(w, "  %s: odds before %s", f.Component, number(odds(f.Prior)))
		for _, b := range f.Because {
			fmt.Fprintf(w, "\n    x %-8s %s", number(b.Factor), b.Evidence)
			if len(b.Cases) > 0 {
				fmt.Fprintf(w, "  [%s]", caseList(b.Cases, 3))
			}
		}
		fmt.Fprintf(w, "\n    = %-8s odds, that is %s\n", number(odds(f.Probability)), casebook.Percent(f.Probability))
	}
}

func odds(p float64) float64 { return p / (1 - p) }

func number(x float64) string {
	if x >= 100 || x < 0.001 && x > 0 {
		return fmt.Sprintf("%.3g", x)
	}
	return fmt.Sprintf("%.3f", x)
}

func printBasis(w io.Writer, a kb.Answer) {
	var parts []string
	for _, b := range a.Basis {
		parts = append(parts, fmt.Sprintf("%s %d", casebook.LevelName(b.Level), b.Cases))
	}
	if len(parts) > 0 {
		fmt.Fprintln(w)
		wrapped(w, "counted from ", "closed cases: "+strings.Join(parts, ", ")+fmt.Sprintf(" (log position %d)", a.LogPosition))
	}
}

func interval(low, high float64) string {
	return casebook.Percent(low) + " to " + casebook.Percent(high)
}

// wrapped writes s behind a lead, broken at 110 columns, further lines indented as far as the lead.
func wrapped(w io.Writer, lead, s string) {
	const width = 110
	indent := strings.Repeat(" ", len(lead))
	for i, line := range strings.Split(text.WrapSoft(s, width-len(lead)), "\n") {
		if i > 0 {
			lead = indent
		}
		fmt.Fprintln(w, lead+strings.TrimRight(line, " "))
	}
}

func printFound(w io.Writer, f casebook.Found) {
	fmt.Fprintf(w, "%s\n", count(f.Total, "case"))
	for _, h := range f.Hits {
		fmt.Fprintf(w, "\n%s  %s\n", h.ID, h.Title)
		line := strings.Join(nonEmpty(h.Machine, strings.Join(h.Codes, " "), string(h.Status), string(h.Confirmation)), " - ")
		fmt.Fprintf(w, "    %s\n", line)
		if len(h.Cures) > 0 {
			fmt.Fprintf(w, "    fixed by: %s\n", strings.Join(h.Cures, "; "))
		}
	}
	if len(f.Facets) > 0 {
		fmt.Fprintln(w)
	}
	for _, facet := range f.Facets {
		var parts []string
		for _, v := range facet.Values {
			parts = append(parts, fmt.Sprintf("%s %d", v.Value, v.Count))
		}
		if len(parts) > 0 {
			wrapped(w, fmt.Sprintf("%-13s ", facet.Field), strings.Join(parts, ", "))
		}
	}
}

func nonEmpty(list ...string) []string {
	var out []string
	for _, s := range list {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}
