package web

import (
	"fmt"
	"math"

	"ruledout/kb"
)

// stepLine is a step as a page shows it: of an answer, or of a plan by what it costs.
type stepLine struct {
	ID       string // where links to it lead
	N        int
	What     string
	After    *afterLine // what leads here, in a plan
	Effort   string
	First    string // what to do with a used part before it is fitted
	Notes    []string
	Cautions []kb.CautionFor
	Licensed string // areas, in words
	Branches []branchLine
	Marks    []markButton
	Cases    []kb.CaseID
}

// placeLink leads to a place on the page.
type placeLink struct{ To, Text string }

// afterLine is the step and the result that lead to a step of a plan.
type afterLine struct {
	Result string
	placeLink
	Reach float64 // probability that the plan gets here
}

// branchLine is one result of a step and what follows.
type branchLine struct {
	Result      string
	Probability float64
	Leader      string // likeliest culprit then
	LeaderP     float64
	Then        placeLink // To is empty where there is nothing to go to
}

// markButton tells the form what came of a step.
type markButton struct{ Value, Text string }

// resultWords says results as a person does.
var resultWords = map[string]string{"pass": "if it passes", "fail": "if it fails", "fixed": "if that fixes it", "no change": "if nothing changes"}

func resultText(result string) string {
	if s, ok := resultWords[result]; ok {
		return s
	}
	return result
}

// stepLines shows the steps of an answer; the places of their kind begin with prefix.
func stepLines(next []kb.NextStep, prefix string) []stepLine {
	out := make([]stepLine, len(next))
	for i, n := range next {
		s := stepLine{ID: fmt.Sprintf("%s-%d", prefix, i+1), N: i + 1, What: nextText(n), Effort: effort(n), Cautions: n.Cautions, Licensed: areaText(n.Licensed),
			Cases: n.Cases, Marks: marksOf(n.Kind, n.Test, n.Action, n.Component)}
		for _, b := range n.Branches {
			s.Branches = append(s.Branches, branchLine{resultText(b.Result), b.Probability, b.Leader, b.LeaderP, thenText(b, prefix)})
		}
		out[i] = s
	}
	return out
}

// thenText says what follows a result: a step, or handing over where none is left.
func thenText(b kb.Branch, prefix string) placeLink {
	switch {
	case b.Next != nil:
		return placeLink{fmt.Sprintf("#%s-%d", prefix, *b.Next+1), fmt.Sprintf("step %d", *b.Next+1)}
	case b.Result == "fixed":
		return placeLink{Text: "done, once it is proved"}
	}
	return placeLink{Text: "hand over"}
}

func nextText(n kb.NextStep) string {
	switch n.Kind {
	case "test":
		return "Test: " + n.Test + " of " + n.Component
	case "proof":
		return "Prove the repair: " + n.Test + " of " + n.Component
	}
	return "Repair: " + string(n.Action) + " " + n.Component
}

func marksOf(kind, test string, action kb.Action, component string) []markButton {
	switch kind {
	case kb.StepTest:
		return []markButton{{"pass|" + test + "|" + component, "It passed"}, {"fail|" + test + "|" + component, "It failed"}}
	case kb.StepFix:
		return []markButton{{"tried|" + string(action) + "|" + component, "Done, no change"}}
	}
	return nil
}

// planLines shows the steps of a plan in its order: those likely to be reached first, then the rest. Handing over is no step of its own
// but what a branch ends in, unless the plan begins with it.
type planLines struct {
	plan   kb.Plan
	proof  string // where it says how to prove the repair, empty: nowhere
	number map[int]int
	after  map[int]afterLine
}

// shownReach is the probability of getting to a step from which it is shown unfolded.
const shownReach = 0.05

func linesOfPlan(p kb.Plan, proof string) (shown, folded []stepLine) {
	l := planLines{p, proof, map[int]int{}, map[int]afterLine{}}
	var order []int
	add := func(likely bool) {
		for i, s := range p.Steps {
			if (i == 0 || s.Kind != kb.StepHandOver) && (i == 0 || s.Probability >= shownReach) == likely {
				order = append(order, i)
				l.number[i] = len(order)
			}
		}
	}
	add(true)
	n := len(order)
	add(false)
	l.lead()
	for at, i := range order {
		if line := l.line(i); at < n {
			shown = append(shown, line)
		} else {
			folded = append(folded, line)
		}
	}
	return shown, folded
}

// lead notes for each step which result of which step leads to it.
func (l planLines) lead() {
	for i, s := range l.plan.Steps {
		for _, b := range s.Branches {
			if b.Next != nil {
				l.after[*b.Next] = afterLine{afterText(b.Result), l.link(i), l.plan.Steps[*b.Next].Probability}
			}
		}
	}
}

func afterText(result string) string {
	switch result {
	case "pass":
		return "after a pass in"
	case "fail":
		return "after a fail in"
	}
	return "after " + result + " by"
}

// link leads to a step.
func (l planLines) link(i int) placeLink {
	return placeLink{fmt.Sprintf("#step-%d", l.number[i]), fmt.Sprintf("step %d", l.number[i])}
}

func (l planLines) line(i int) stepLine {
	s := l.plan.Steps[i]
	out := stepLine{ID: l.link(i).To[1:], N: l.number[i], What: planText(s), First: s.Check, Notes: s.Notes, Cautions: s.Cautions,
		Licensed: areaText(s.Licensed), Cases: s.Cases, Effort: moneyText(s.Cost)}
	if s.Minutes > 0 {
		out.Effort = fmt.Sprintf("about %.0f min, %s", math.Ceil(s.Minutes), out.Effort)
	}
	if i == 0 {
		out.Marks = marksOf(s.Kind, s.Test, s.Action, s.Component)
	} else if from, ok := l.after[i]; ok {
		out.After = &from
	}
	for _, b := range s.Branches {
		out.Branches = append(out.Branches, l.branch(b))
	}
	return out
}

func (l planLines) branch(b kb.PlanBranch) branchLine {
	out := branchLine{Result: resultText(b.Result), Probability: b.Probability}
	switch {
	case b.Rare:
		out.Then.Text = "ask again: too seldom to be planned"
	case b.Next == nil:
		out.Then = placeLink{l.proof, "done, once it is proved"}
	default:
		next := l.plan.Steps[*b.Next]
		out.Leader, out.LeaderP = next.Leader, next.LeaderP
		if out.Leader == "" {
			out.Leader = "something else"
		}
		out.Then = l.link(*b.Next)
		if next.Kind == kb.StepHandOver {
			out.Then = placeLink{Text: "hand over, " + moneyText(next.Cost)}
		}
	}
	return out
}

func planText(s kb.PlanStep) string {
	switch {
	case s.Kind == kb.StepHandOver:
		return "Hand over"
	case s.Kind == kb.StepTest:
		return "Test: " + s.Test + " of " + s.Component
	case s.Origin != "":
		return fmt.Sprintf("Repair: %s %s, %s part", s.Action, s.Component, s.Origin)
	}
	return fmt.Sprintf("Repair: %s %s", s.Action, s.Component)
}

func moneyText(m kb.Money) string { return m.Amount + " " + m.Currency }

// wayText names a way of repair.
func wayText(x kb.PlanWay) string {
	switch {
	case x.Origin == kb.UsedPart:
		return fmt.Sprintf("%s, used part checked first", x.Action)
	case x.Origin != "":
		return fmt.Sprintf("%s, %s part", x.Action, x.Origin)
	}
	return string(x.Action) + " in place"
}

// knownFrom says what a way of repair rests on: who was cured so, and where its price comes from.
func knownFrom(x kb.PlanWay) string {
	s := "no case"
	if x.Cases > 0 {
		s = cases(x.Cases)
	}
	if x.Priced > 0 {
		return s + ", price of " + cases(x.Priced)
	}
	return s + ", usual price"
}

func cases(n int) string {
	if n == 1 {
		return "1 case"
	}
	return fmt.Sprintf("%d cases", n)
}
