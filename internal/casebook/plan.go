package casebook

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"ruledout/ingest"
	"ruledout/kb"
	"ruledout/kb/rank"
)

// PlanWish is what a plan is asked for, as a person puts it. Everything may be left out.
type PlanWish struct {
	Rate     string   `json:"rate,omitempty"`      // cost of an hour of work: "60 EUR/h"
	HandOver string   `json:"hand_over,omitempty"` // cost of handing over: "250 EUR"
	Have     []string `json:"have,omitempty"`      // parts, tools and instruments at hand
	Cannot   []string `json:"cannot,omitempty"`    // tests, repairs and components that cannot be done
	Licensed []string `json:"licensed,omitempty"`  // licence areas that the asker is qualified for
}

// WishProblem is a wish that cannot be read.
type WishProblem struct {
	Field string // rate, handover, cannot, licensed: as the flags are called
	At    int    // which of several
	Value string
	Msg   string // what was expected
}

// AskPlan answers an open case as Ask does and plans the repair. A wish that cannot be read is an error that names the flag.
func (b *Book) AskPlan(ctx context.Context, q kb.Case, w PlanWish) (kb.Answer, error) {
	if err := b.follow(ctx); err != nil {
		return kb.Answer{}, fmt.Errorf("ask: %w", err)
	}
	opt, problems := b.planOptions(w, b.kindOf(q))
	if len(problems) > 0 {
		p := problems[0]
		return kb.Answer{}, inFlag("--"+p.Field, p.Value, errors.New(p.Msg))
	}
	return b.answer(q, &opt), nil
}

// WishProblems says which wishes of a plan cannot be read, for those who show all of them at once.
func (b *Book) WishProblems(w PlanWish) []WishProblem {
	_, problems := b.planOptions(w, "")
	return problems
}

// planOptions reads what a plan is asked for, on a kind of machine.
func (b *Book) planOptions(w PlanWish, kind string) (rank.PlanOptions, []WishProblem) {
	d := dangers{b.Vocabulary(), b.familyOf(kind)}
	opt := rank.PlanOptions{Licensed: d.licensed, Part: b.isPart}
	problems := wishedCosts(w, &opt)
	for _, s := range w.Have {
		b.have(&opt, s)
	}
	for i, s := range w.Cannot {
		barred, ok := b.cannot(s)
		if !ok {
			problems = append(problems, WishProblem{"cannot", i, s, wantCannot})
			continue
		}
		opt.Cannot = append(opt.Cannot, barred)
	}
	for i, area := range w.Licensed {
		area = strings.ToLower(strings.TrimSpace(area))
		if !slices.Contains(kb.LicenceAreas(), area) {
			problems = append(problems, WishProblem{"licensed", i, area, "want some of: " + strings.Join(kb.LicenceAreas(), ", ")})
			continue
		}
		opt.Qualified = append(opt.Qualified, area)
	}
	return opt, problems
}

// wishedCosts reads the rate and the cost of handing over; both are in one currency.
func wishedCosts(w PlanWish, opt *rank.PlanOptions) []WishProblem {
	var problems []WishProblem
	var ok bool
	if opt.Rate, ok = moneyIn(w.Rate, true); !ok {
		problems = append(problems, WishProblem{"rate", 0, w.Rate, `want an amount and a currency an hour, such as "60 EUR/h"`})
	}
	if opt.HandOver, ok = moneyIn(w.HandOver, false); !ok {
		problems = append(problems, WishProblem{"handover", 0, w.HandOver, `want an amount and a currency, such as "250 EUR"`})
	}
	if opt.Rate != nil && opt.HandOver != nil && opt.Rate.Currency != opt.HandOver.Currency {
		problems = append(problems, WishProblem{"handover", 0, w.HandOver, "want the currency of the rate, " + opt.Rate.Currency})
	}
	return problems
}

// moneyIn reads a cost; that of an hour may say so. An empty one gives nil.
func moneyIn(s string, anHour bool) (*kb.Money, bool) {
	if strings.TrimSpace(s) == "" {
		return nil, true
	}
	amount, per, ofHour := strings.Cut(s, "/")
	unit := strings.ToLower(strings.TrimSpace(per))
	m, ok := kb.ParseMoney(amount)
	if !ok || ofHour && !(anHour && slices.Contains([]string{"h", "hr", "hour"}, unit)) {
		return nil, false
	}
	return &m, true
}

// have notes a thing at hand: a component as a part, anything else as a tool.
func (b *Book) have(opt *rank.PlanOptions, s string) {
	name := b.Vocabulary().CanonicalComponent(s)
	if b.knows(name) {
		opt.AtHand = append(opt.AtHand, name)
		return
	}
	opt.Tools = append(opt.Tools, strings.TrimSpace(s))
}

const wantCannot = `want "TEST of COMPONENT", a test, "ACTION COMPONENT", an action or a component that the vocabulary knows`

// cannot reads what cannot be done: "TEST of COMPONENT", a test, "ACTION COMPONENT", an action, or a component.
func (b *Book) cannot(s string) (rank.Barred, bool) {
	if t, err := ingest.ParseTest(s, b.Vocabulary()); err == nil && t.Component != "" {
		c := canonicalTest(t, b.Vocabulary())
		return rank.Barred{Component: c.Component, Method: c.Method}, true
	}
	if c, ok := b.Vocabulary().Component(s); ok {
		return rank.Barred{Component: c.Name}, true
	}
	if m, ok := b.Vocabulary().Method(s); ok {
		return rank.Barred{Method: m.Name}, true
	}
	if a, ok := b.Vocabulary().Action(s); ok {
		return rank.Barred{Action: a}, true
	}
	if f, err := ingest.ParseFix(s, b.Vocabulary()); err == nil {
		return rank.Barred{Component: f.Component, Action: f.Action}, true
	}
	if name := b.Vocabulary().CanonicalComponent(s); b.knows(name) {
		return rank.Barred{Component: name}, true
	}
	return rank.Barred{}, false
}

// licensed gives the licence areas of work on a component of this machine.
func (d dangers) licensed(component string) []string {
	if d.foreign(component) {
		return nil
	}
	return d.voc.Licensed(component)
}

// isPart tells whether a component is a thing of the machine rather than a quantity or a cause outside it.
func (b *Book) isPart(component string) bool {
	c, known := b.Vocabulary().Component(component)
	return !known || !c.Quantity && c.System != kb.SystemOutside
}

// planStep fills in the hazards of a step of a plan and what may be reserved to licensed people.
func (d dangers) planStep(s *kb.PlanStep) {
	if s.Component == "" {
		return
	}
	n := kb.NextStep{Component: s.Component, Test: s.Test}
	d.step(&n)
	s.Cautions, s.Licensed = filled(n.Cautions), filled(n.Licensed)
}
