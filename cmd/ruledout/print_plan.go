package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// shownReach is the probability of getting to a step from which it is printed unless all are asked for.
const shownReach = 0.05

// printPlan writes a plan as a person follows it: what it costs beside the alternatives, the steps as a tree, the ways of repair side by
// side, and what all of it rests on.
func printPlan(w io.Writer, p kb.Plan, everything bool) {
	section(w, "plan")
	how := "found by looking some steps ahead"
	if p.Method == "exact" {
		how = "none is cheaper under what it assumes"
	}
	fmt.Fprintf(w, "  expected cost %s, about %.0f min of your own work (%s)\n", moneyText(p.Expected), p.Minutes, how)
	for _, c := range p.Compared {
		fmt.Fprintf(w, "    %-24s %s\n", c.Way, moneyText(c.Cost))
	}
	fmt.Fprintln(w)
	t := planTree{w, p, shownReach}
	if everything {
		t.least = 0
	}
	t.step(0, "  ")
	printRepairs(w, p.Repairs)
	section(w, "the plan assumes")
	for _, s := range p.Assumptions {
		wrapped(w, "  - ", s)
	}
	for _, l := range p.LeftOut {
		fmt.Fprintf(w, "  - %s in %s left out: nothing says what that is in %s\n", count(l.Costs, "recorded cost"), l.Currency, p.Currency)
	}
}

func moneyText(m kb.Money) string { return m.Amount + " " + m.Currency }

// planTree prints the steps of a plan that are reached with a probability of least or more.
type planTree struct {
	w     io.Writer
	p     kb.Plan
	least float64
}

// step writes a step and all that follows: what follows a repair that did not cure stands below it, what follows a test is indented.
func (t planTree) step(at int, lead string) {
	s := t.p.Steps[at]
	number := fmt.Sprintf("%d. ", at+1)
	wrapped(t.w, lead+number, planStepText(s))
	deeper := lead + strings.Repeat(" ", len(number))
	if s.Check != "" {
		wrapped(t.w, deeper, "first: "+s.Check)
	}
	for _, n := range s.Notes {
		wrapped(t.w, deeper, n)
	}
	if len(s.Licensed) > 0 {
		fmt.Fprintf(t.w, "%smay be reserved to licensed people: %s\n", deeper, strings.Join(s.Licensed, ", "))
	}
	for _, b := range s.Branches {
		t.branch(s, b, lead, deeper)
	}
}

func (t planTree) branch(s kb.PlanStep, b kb.PlanBranch, lead, deeper string) {
	head := fmt.Sprintf("%s%s (%s)", deeper, b.Result, casebook.Percent(b.Probability))
	switch {
	case b.Rare:
		fmt.Fprintf(t.w, "%s: rare, ask again with this result\n", head)
	case b.Next == nil:
		fmt.Fprintf(t.w, "%s: done, prove it\n", head)
	case s.Probability*b.Probability < t.least && t.p.Steps[*b.Next].Kind != kb.StepHandOver:
		fmt.Fprintf(t.w, "%s: step %d, seldom reached (--all shows it)\n", head, *b.Next+1)
	case s.Kind == kb.StepFix:
		fmt.Fprintf(t.w, "%s: go on\n", head)
		t.step(*b.Next, lead)
	default:
		fmt.Fprintf(t.w, "%s%s:\n", head, likeliest(t.p.Steps[*b.Next]))
		t.step(*b.Next, deeper+"  ")
	}
}

func likeliest(s kb.PlanStep) string {
	if s.Leader == "" {
		return ", likeliest something else"
	}
	return fmt.Sprintf(", likeliest %s, %s", s.Leader, casebook.Percent(s.LeaderP))
}

func planStepText(s kb.PlanStep) string {
	var what string
	switch s.Kind {
	case kb.StepHandOver:
		return fmt.Sprintf("hand over (%s)", moneyText(s.Cost))
	case kb.StepTest:
		what = fmt.Sprintf("test: %s of %s", s.Test, s.Component)
	default:
		what = fmt.Sprintf("%s %s%s", s.Action, s.Component, partText(s.Origin))
	}
	notes := []string{fmt.Sprintf("%.0f min", s.Minutes), moneyText(s.Cost)}
	if len(s.Cases) > 0 {
		notes = append(notes, "see "+caseList(s.Cases, 3))
	}
	return what + " (" + strings.Join(notes, ", ") + ")"
}

// partText says what part is fitted.
func partText(o kb.Origin) string {
	if o == "" {
		return ""
	}
	return ", " + string(o) + " part"
}

// printRepairs writes for each culprit its ways of repair as rows of one table.
func printRepairs(w io.Writer, list []kb.PlanRepair) {
	if len(list) == 0 {
		return
	}
	section(w, "ways of repair")
	t := table.NewWriter()
	t.SetStyle(plainStyle())
	t.AppendHeader(table.Row{"culprit", "way", "parts", "min", "cost", "cures", "done in", "priced from", ""})
	for _, r := range list {
		name := fmt.Sprintf("%s, %s", r.Component, casebook.Percent(r.Probability))
		for _, x := range r.Ways {
			t.AppendRow(table.Row{name, wayText(x), x.Parts.Amount, fmt.Sprintf("%.0f", x.Minutes), moneyText(x.Cost), casebook.Percent(x.Cures),
				doneIn(x), pricedFrom(r, x), inPlan(x)})
			name = ""
		}
		if len(r.Ways) == 0 {
			t.AppendRow(table.Row{name, "none you can do", "", "", "", "", "", "", ""})
		}
	}
	t.SetColumnConfigs([]table.ColumnConfig{{Name: "parts", Align: text.AlignRight}, {Name: "min", Align: text.AlignRight},
		{Name: "cost", Align: text.AlignRight}, {Name: "cures", Align: text.AlignRight}})
	for _, line := range strings.Split(t.Render(), "\n") {
		fmt.Fprintln(w, "  "+strings.TrimRight(line, " "))
	}
}

func wayText(x kb.PlanWay) string {
	switch {
	case x.Origin == kb.UsedPart:
		return "replace, used part checked first"
	case x.Origin != "":
		return fmt.Sprintf("%s, %s part", x.Action, x.Origin)
	}
	return string(x.Action) + " in place"
}

func pricedFrom(r kb.PlanRepair, x kb.PlanWay) string {
	switch {
	case len(r.Reserved) > 0:
		return "handed over: " + strings.Join(r.Reserved, ", ")
	case x.Priced > 0:
		return count(x.Priced, "case")
	}
	return "defaults"
}

func doneIn(x kb.PlanWay) string {
	if x.Cases == 0 {
		return "no case"
	}
	return count(x.Cases, "case")
}

func inPlan(x kb.PlanWay) string {
	switch {
	case x.InPlan:
		return "in the plan"
	case x.Shown:
		return "only to compare"
	}
	return ""
}
