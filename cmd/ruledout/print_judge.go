package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"

	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/kb/limit"
)

// printJudgement writes cautions first, then the verdicts, then what others measured.
func printJudgement(w io.Writer, j kb.Judgement) error {
	out := bufio.NewWriter(w)
	fmt.Fprintln(out, "UNDERSTOOD")
	what := j.Understood.Test
	if j.Understood.Component != "" && j.Understood.Component != what && !strings.Contains(what, j.Understood.Component) {
		what = strings.TrimSpace(what + " of " + j.Understood.Component)
	}
	wrapped(out, "  ", fmt.Sprintf("%s: %s", what, readingText(*j.Understood.Reading)))
	for _, n := range j.Notes {
		wrapped(out, "  note: ", n)
	}
	printCautions(out, j.Cautions)
	section(out, "verdict")
	if len(j.Verdicts) == 0 {
		fmt.Fprintln(out, "  none: no limit is known")
	}
	for _, v := range j.Verdicts {
		printVerdict(out, v)
	}
	printMeasured(out, j)
	return out.Flush()
}

func printVerdict(w io.Writer, v kb.Verdict) {
	fmt.Fprintf(w, "  %s: %s\n", strings.ToUpper(v.Decision), conformity(v))
	line := "limit " + v.Limit
	if v.Name != "" {
		line += ", " + v.Name
	}
	wrapped(w, "    ", line)
	wrapped(w, "    ", "source: "+v.Source)
	if v.Note != "" {
		wrapped(w, "    ", v.Note)
	}
	if v.Uncertainty > 0 {
		assumed := ""
		if v.Assumed {
			assumed = " (assumed)"
		}
		wrapped(w, "    ", fmt.Sprintf("instrument %s%s: standard uncertainty %s", v.Accuracy, assumed, strings.TrimSpace(figure(v.Uncertainty)+" "+v.Unit)))
	}
}

func conformity(v kb.Verdict) string {
	if v.Probability == v.Most {
		return "within the limit with probability " + casebook.Percent(v.Probability)
	}
	return fmt.Sprintf("within the limit with probability %s to %s", casebook.Percent(v.Probability), casebook.Percent(v.Most))
}

func printMeasured(w io.Writer, j kb.Judgement) {
	section(w, "what others measured")
	m := j.Measured
	if m == nil {
		fmt.Fprintln(w, "  nothing on record")
		return
	}
	what := m.Component
	if m.Method != "" && m.Method != m.Component {
		what = m.Method + " of " + m.Component
	}
	wrapped(w, "  ", what+", in "+m.Unit)
	rows := []table.Row{{"", "readings", "median", "quartiles", "open", "cases"}}
	for _, g := range m.Groups {
		row := table.Row{g.Group, g.Count, "", "", g.Open, pointCases(g)}
		if g.Median != nil {
			row[2], row[3] = figure(*g.Median), figure(*g.Q1)+" to "+figure(*g.Q3)
		}
		rows = append(rows, row)
	}
	printRows(w, rows)
	for _, line := range strip(*m, j.Understood.Reading.Value) {
		fmt.Fprintln(w, "  "+line)
	}
	if m.Good != nil {
		wrapped(w, "  ", fmt.Sprintf("by these readings alone, and with even odds before: %s that the part is good", casebook.Percent(*m.Good)))
	}
}

// pointCases names the cases of a group, those on machines like the one asked about first.
func pointCases(g kb.MeasuredGroup) string {
	const most = 4
	var out []string
	for _, near := range []string{"model", "make", "kind", "other"} {
		for _, p := range g.Points {
			if p.Near != near || len(out) >= most {
				continue
			}
			name := string(p.Case)
			if near == "model" || near == "make" {
				name += " (same " + near + ")"
			}
			out = append(out, name)
		}
	}
	if n := len(g.Points) - len(out); n > 0 {
		out = append(out, fmt.Sprintf("and %d more", n))
	}
	return strings.Join(out, ", ")
}

// stripWidth is the width of the drawing of points, in characters.
const stripWidth = 50

// strip draws each group's points on one scale, with the reading in question marked below.
func strip(m kb.Measured, reading *float64) []string {
	scale, ok := m.Scale(reading)
	if !ok {
		return nil
	}
	at := func(v float64) int { return int(math.Round(scale.At(v) * (stripWidth - 1))) }
	var out []string
	for _, g := range m.Groups {
		line := []rune(strings.Repeat(".", stripWidth))
		for _, p := range g.Points {
			if p.Value != nil {
				line[at(*p.Value)] = oneMore(line[at(*p.Value)])
			}
		}
		out = append(out, fmt.Sprintf("%-24s %s", g.Group, string(line)))
	}
	if reading != nil {
		out = append(out, fmt.Sprintf("%-24s %s", "this reading", strings.Repeat(" ", at(*reading))+"^"))
	}
	logs := ""
	if scale.Logs {
		logs = " (logarithmic)"
	}
	return append(out, fmt.Sprintf("%-24s %s to %s %s%s; a digit counts readings that fall together", "", figure(scale.Low), figure(scale.High), m.Unit, logs))
}

// oneMore counts points that fall into one place.
func oneMore(r rune) rune {
	switch {
	case r == '.':
		return 'o'
	case r == 'o':
		return '2'
	case r >= '2' && r < '9':
		return r + 1
	}
	return '9'
}

func printLimits(w io.Writer, list []publishedLimit) error {
	out := bufio.NewWriter(w)
	for i, l := range list {
		if i > 0 {
			fmt.Fprintln(out)
		}
		value := strings.Join(l.Limits, "; ")
		if value == "" {
			value = "depends: " + strings.Join(l.Needs, "; ")
		}
		fmt.Fprintf(out, "%s (%s)\n", l.Name, l.Measures)
		wrapped(out, "  ", value)
		wrapped(out, "  ", "source: "+l.Source)
		wrapped(out, "  ", l.Note)
		wrapped(out, "  ", fmt.Sprintf("asked for by --limit %q", l.Ask[0]))
	}
	fmt.Fprintln(out)
	wrapped(out, "", "The maker's own figures, where there are any, go before these.")
	return out.Flush()
}

func printLines(w io.Writer, list []limit.Line) {
	for _, l := range list {
		value := l.Text
		if value == "" {
			value = strings.TrimSpace(figure(l.Value) + " " + l.Unit)
		}
		wrapped(w, "", fmt.Sprintf("%s: %s (%s)", l.What, value, l.Source))
	}
}
