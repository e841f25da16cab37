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
	Rate     string   // cost of an hour of work: "60 EUR/h"
	HandOver string   // cost of handing over: "250 EUR"
	Have     []string // parts, tools and instruments at hand
	Cannot   []string // tests, repairs and components that cannot be done
	Licensed []string // licence areas that the asker is qualified for
}

// AskPlan answers an open case as Ask does and plans the repair. A wish that cannot be read is an error that names the flag.
func (b *Book) AskPlan(ctx context.Context, q kb.Case, w PlanWish) (kb.Answer, error) {
	if err := b.follow(ctx); err != nil {
		return kb.Answer{}, fmt.Errorf("ask: %w", err)
	}
	opt, err := b.planOptions(w, b.kindOf(q))
	if err != nil {
		return kb.Answer{}, err
	}
	return b.answer(q, &opt), nil
}

// planOptions reads what a plan is asked for, on a kind of machine.
func (b *Book) planOptions(w PlanWish, kind string) (rank.PlanOptions, error) {
	d := dangers{b.voc, b.familyOf(kind)}
	opt := rank.PlanOptions{Licensed: d.licensed, Part: b.isPart}
	var err error
	if opt.Rate, err = moneyIn("--rate", w.Rate, `an amount and a currency an hour, such as "60 EUR/h"`); err != nil {
		return opt, err
	}
	if opt.HandOver, err = moneyIn("--handover", w.HandOver, `an amount and a currency, such as "250 EUR"`); err != nil {
		return opt, err
	}
	if opt.Rate != nil && opt.HandOver != nil && opt.Rate.Currency != opt.HandOver.Currency {
		return opt, inFlag("--handover", w.HandOver, fmt.Errorf("want the currency of --rate, %s", opt.Rate.Currency))
	}
	for _, s := range w.Have {
		b.have(&opt, s)
	}
	for _, s := range w.Cannot {
		barred, err := b.cannot(s)
		if err != nil {
			return opt, err
		}
		opt.Cannot = append(opt.Cannot, barred)
	}
	for _, area := range w.Licensed {
		area = strings.ToLower(strings.TrimSpace(area))
		if !slices.Contains(kb.LicenceAreas(), area) {
			return opt, inFlag("--licensed", area, fmt.Errorf("want some of: %s", strings.Join(kb.LicenceAreas(), ", ")))
		}
		opt.Qualified = append(opt.Qualified, area)
	}
	return opt, nil
}

// moneyIn reads a cost; that of --rate may say that it is one of an hour. An empty one gives nil.
func moneyIn(flag, s, want string) (*kb.Money, error) {
	if strings.TrimSpace(s) == "" {
		return nil, nil
	}
	amount, per, ofHour := strings.Cut(s, "/")
	unit := strings.ToLower(strings.TrimSpace(per))
	m, ok := kb.ParseMoney(amount)
	if !ok || ofHour && (flag != "--rate" || !slices.Contains([]string{"h", "hr", "hour"}, unit)) {
		return nil, inFlag(flag, s, fmt.Errorf("want %s", want))
	}
	return &m, nil
}

// have notes a thing at hand: a component as a part, anything else as a tool.
func (b *Book) have(opt *rank.PlanOptions, s string) {
	name := b.voc.CanonicalComponent(s)
	if b.knows(name) {
		opt.AtHand = append(opt.AtHand, name)
		return
	}
	opt.Tools = append(opt.Tools, strings.TrimSpace(s))
}

// cannot reads what cannot be done: "TEST of COMPONENT", a test, "ACTION COMPONENT", an action, or a component.
func (b *Book) cannot(s string) (rank.Barred, error) {
	if t, err := ingest.ParseTest(s, b.voc); err == nil && t.Component != "" {
		c := canonicalTest(t, b.voc)
		return rank.Barred{Component: c.Component, Method: c.Method}, nil
	}
	if c, ok := b.voc.Component(s); ok {
		return rank.Barred{Component: c.Name}, nil
	}
	if m, ok := b.voc.Method(s); ok {
		return rank.Barred{Method: m.Name}, nil
	}
	if a, ok := b.voc.Action(s); ok {
		return rank.Barred{Action: a}, nil
	}
	if f, err := ingest.ParseFix(s, b.voc); err == nil {
		return rank.Barred{Component: f.Component, Action: f.Action}, nil
	}
	if name := b.voc.CanonicalComponent(s); b.knows(name) {
		return rank.Barred{Component: name}, nil
	}
	const want = `want "TEST of COMPONENT", a test, "ACTION COMPONENT", an action or a component that the vocabulary knows`
	return rank.Barred{}, inFlag("--cannot", s, errors.New(want))
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
	c, known := b.voc.Component(component)
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
