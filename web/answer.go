package web

import (
	"context"
	"fmt"
	"strings"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// answered is what the book says to an open case, as the look-up and a job sheet show it.
type answered struct {
	Answer   kb.Answer
	Steps    []stepLine     // what to do next: of the plan where there is one
	Folded   []stepLine     // the further ones
	Plan     *planLine      // nil: costs were not asked for
	Readings []measuredLine // one's own readings among those of others
	Unknown  bool           // no published case has the code
	Near     []casebook.Hit // cases nearest by words, where no case has the code
	Link     string         // leads to this look-up, personal data masked; empty where there is none
}

// Leading says in a line how the answer stands: it is told to those who do not see that it changed.
func (x answered) Leading() string {
	a := x.Answer
	s := "No culprit is on record for this."
	if len(a.Fixes) > 0 {
		s = "Likeliest now: " + a.Fixes[0].Component + ", " + casebook.Percent(a.Fixes[0].Probability) + "."
	}
	if n := len(a.RuledOut); n > 0 {
		s += fmt.Sprintf(" Ruled out: %d.", n)
	}
	if len(x.Steps) > 0 {
		s += " Next: " + x.Steps[0].What + "."
	}
	return s
}

// planLine is what a plan says beside its steps.
type planLine struct {
	kb.Plan
	Exact bool       // no plan is cheaper under what it assumes
	Proof []stepLine // how others proved the repair
	Tells []stepLine // the answer's own steps, by what they tell, whatever they cost
}

// shownSteps is how many steps of an answer are shown unfolded.
const shownSteps = 3

// ask asks the book, with a plan where costs are wished for and can be read; what cannot is marked in the form.
func (s *Server) ask(ctx context.Context, c kb.Case, wish *wishForm) (kb.Answer, error) {
	if !wish.Filled() || wish.mark(s.book.WishProblems(wish.wish())) {
		return s.book.Ask(ctx, c)
	}
	return s.book.AskPlan(ctx, c, wish.wish())
}

// answered adds to an answer what a page shows beside it.
func (s *Server) answered(ctx context.Context, c kb.Case, a kb.Answer) (answered, error) {
	out := answered{Answer: a, Unknown: len(c.Codes) > 0 && codeCases(a) == 0}
	out.setSteps(a)
	var err error
	if out.Near, err = s.nearest(ctx, c, a); err != nil {
		return out, err
	}
	own, err := s.book.Measured(ctx, c)
	for _, g := range own {
		out.Readings = append(out.Readings, measuredLine{Measured: g.Measured, Own: g.Test.Reading})
	}
	return out, err
}

func (x *answered) setSteps(a kb.Answer) {
	if a.Plan == nil {
		all := stepLines(a.Next, "step")
		x.Steps, x.Folded = all[:min(len(all), shownSteps)], all[min(len(all), shownSteps):]
		return
	}
	p := planLine{Plan: *a.Plan, Exact: a.Plan.Method == "exact"}
	proof := ""
	for i, s := range stepLines(a.Next, "tells") {
		if a.Next[i].Kind == "proof" {
			proof = "#" + s.ID
			p.Proof = append(p.Proof, s)
			continue
		}
		p.Tells = append(p.Tells, s)
	}
	x.Steps, x.Folded = linesOfPlan(*a.Plan, proof)
	x.Plan = &p
}

// nearest gives the cases nearest by words where no published case has the code.
func (s *Server) nearest(ctx context.Context, c kb.Case, a kb.Answer) ([]casebook.Hit, error) {
	if codeCases(a) > 0 || len(c.Codes) == 0 {
		return nil, nil
	}
	var words []string
	for _, x := range c.Symptoms {
		words = append(words, x.Symptom)
	}
	words = append(words, c.Machine.Make, c.Machine.Model)
	text := strings.TrimSpace(strings.Join(words, " "))
	if text == "" {
		return nil, nil
	}
	found, err := s.book.Find(ctx, plainWords(text), casebook.FindOptions{Size: 5})
	return found.Hits, err
}

// plainWords takes the signs of the search language out of a text.
func plainWords(s string) string {
	return strings.Map(func(r rune) rune {
		if strings.ContainsRune(`":+-^~*()[]{}\/`, r) {
			return ' '
		}
		return r
	}, s)
}

// codeCases counts the cases that have the code.
func codeCases(a kb.Answer) int {
	for _, l := range a.Basis {
		if l.Level == "code" {
			return l.Cases
		}
	}
	return 0
}
