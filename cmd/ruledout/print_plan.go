package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"ruledout/kb"
)

// printPlan writes a plan as a person follows it: what it costs beside the alternatives, the steps as a tree, the ways of repair side by
// side, and what all of it rests on.
func printPlan(w io.Writer, p kb.Plan) {
	section(w, "plan")
	fmt.Fprintf(w, "  expected cost %s, about %.0f min of your own work", moneyText(p.Expected), p.Minutes)
	if p.Method == "exact" {
		fmt.Fprint(w, "; under what is assumed below no plan is cheaper\n")
	} else {
		fmt.Fprint(w, "; found by looking some steps ahead\n")
	}
	for _, c := range p.Compared {
		fmt.Fprintf(w, "    %-24s %s\n", c.Way, moneyText(c.Cost))
	}
	fmt.Fprintln(w)
	printPlanStep(w, p, 0, "  ")
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

// printPlanStep writes a step and all that follows: what follows a repair that did not cure stands below it, what follows a test is
// indented.
func printPlanStep(w io.Writer, p kb.Plan, at int, lead string) {
	s := p.Steps[at]
	wrapped(w, fmt.Sprintf("%s%d. ", lead, at+1), planStepText(s))
	deeper := lead + "   "
	if s.Check != "" {
		wrapped(w, deeper, "first: "+s.Check)
	}
	for _, n := range s.Notes {
		wrapped(w, deeper, n)
	}
	if len(s.Licensed) > 0 {
		fmt.Fprintf(w, "%smay be reserved to licensed people: %s\n", deeper, strings.Join(s.Licensed, ", "))
	}
	for _, b := range s.Branches {
		switch {
		case s.Kind == kb.StepFix && b.Next == nil && !b.Rare:
			fmt.Fprintf(w, "%s%s (%s): done, prove it\n", deeper, b.Result, percent(b.Probability))
		case b.Rare:
			fmt.Fprintf(w, "%s%s (%s): ask again with this result, it is too rare to be listed\n", deeper, b.Result, percent(b.Probability))
		case s.Kind == kb.StepFix:
			fmt.Fprintf(w, "%s%s (%s): go on\n", deeper, b.Result, percent(b.Probability))
			printPlanStep(w, p, *b.Next, lead)
		default:
			fmt.Fprintf(w, "%s%s (%s)%s:\n", deeper, b.Result, percent(b.Probability), likeliest(p.Steps[*b.Next]))
			printPlanStep(w, p, *b.Next, deeper+"  ")
		}
	}
}

func likeliest(s kb.PlanStep) string {
	if s.Leader == "" {
		return ", likeliest something else"
	}
	return fmt.Sprintf(", likeliest %s, %s", s.Leader, percent(s.LeaderP))
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
	t.AppendHeader(table.Row{"culprit", "way", "parts", "min", "cost", "cures", "priced from", ""})
	for _, r := range list {
		name := fmt.Sprintf("%s, %s", r.Component, percent(r.Probability))
		for _, x := range r.Ways {
			t.AppendRow(table.Row{name, wayText(x), x.Parts.Amount, fmt.Sprintf("%.0f", x.Minutes), moneyText(x.Cost), percent(x.Cures), pricedFrom(r, x), inPlan(x)})
			name = ""
		}
		if len(r.Ways) == 0 {
			t.AppendRow(table.Row{name, "none you can do", "", "", "", "", "", ""})
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
	case x.Cases > 0:
		return count(x.Cases, "case")
	}
	return "defaults"
}

func inPlan(x kb.PlanWay) string {
	if x.InPlan {
		return "in the plan"
	}
	return ""
}
