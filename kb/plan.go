package kb

import (
	"math"
	"strconv"
	"strings"
)

// Plan is what to do, step by step, at the least expected cost of repair that was found. Its first step is Steps[0]; the branches lead on.
// Costs are in one currency: parts, and minutes at the rate.
type Plan struct {
	Currency    string        `json:"currency"` // of every cost in the plan, ISO 4217
	Steps       []PlanStep    `json:"steps"`
	Expected    Money         `json:"expected_cost"` // of the whole plan, handing over where it leads there included
	Minutes     float64       `json:"expected_minutes"`
	Method      string        `json:"method"`   // exact: no plan is cheaper under these assumptions; look-ahead: a cheaper one may exist
	Compared    []PlanCost    `json:"compared"` // the alternatives, never cheaper than the plan
	Repairs     []PlanRepair  `json:"repairs"`  // for each culprit the ways of repairing it, side by side
	Assumptions []string      `json:"assumptions"`
	LeftOut     []LeftOutCost `json:"left_out"`
}

// PlanStep is one step of a plan.
type PlanStep struct {
	Kind        string       `json:"kind"` // test, fix or hand over
	Test        string       `json:"test,omitempty"`
	Component   string       `json:"component,omitempty"`
	Action      Action       `json:"action,omitempty"`
	Origin      Origin       `json:"origin,omitempty"` // of the part that is fitted; empty: no part, that is a repair in place
	Check       string       `json:"check,omitempty"`  // what to do with a used part before it is fitted; in the step's cost and minutes
	Cost        Money        `json:"cost"`             // of this step
	Minutes     float64      `json:"minutes"`          // of this step
	Probability float64      `json:"probability"`      // that the plan gets here
	From        Money        `json:"expected_from_here"`
	Leader      string       `json:"leader,omitempty"` // likeliest culprit on getting here; empty: something else
	LeaderP     float64      `json:"leader_probability,omitempty"`
	Branches    []PlanBranch `json:"branches"`
	Cases       []CaseID     `json:"cases"`
	Notes       []string     `json:"notes"`
	Cautions    []CautionFor `json:"cautions"`
	Licensed    []string     `json:"licensed"`
}

// PlanBranch is one result of a step.
type PlanBranch struct {
	Result      string  `json:"result"`         // pass, fail, fixed, no change
	Probability float64 `json:"probability"`    // given that the step is done
	Next        *int    `json:"next"`           // index into Plan.Steps; null: the fault is cured, or Rare
	Rare        bool    `json:"rare,omitempty"` // it goes on, but is too improbable to be listed
}

// The kinds of a PlanStep.
const (
	StepTest     = "test"
	StepFix      = "fix"
	StepHandOver = "hand over"
)

// PlanCost is the expected cost of another way of going about it.
type PlanCost struct {
	Way  string `json:"way"`
	Cost Money  `json:"cost"`
}

// The ways that a plan is compared with.
const (
	WayLikeliest = "likeliest part first"
	WayRatio     = "probability over cost"
	WayHandOver  = "hand over at once"
)

// PlanRepair compares the ways of repairing one culprit.
type PlanRepair struct {
	Component   string    `json:"component"`
	Probability float64   `json:"probability"` // that it is the culprit
	Ways        []PlanWay `json:"ways"`
	Reserved    []string  `json:"reserved,omitempty"` // licence areas because of which it is priced as handed over
}

// PlanWay is one way of repairing a culprit.
type PlanWay struct {
	Action  Action  `json:"action"`
	Origin  Origin  `json:"origin,omitempty"` // empty: in place
	Check   string  `json:"check,omitempty"`
	Parts   Money   `json:"parts"`
	Minutes float64 `json:"minutes"`
	Cost    Money   `json:"cost"`   // parts and minutes
	Cures   float64 `json:"cures"`  // probability of a lasting cure if this is the culprit
	Cases   int     `json:"cases"`  // that were cured so
	Priced  int     `json:"priced"` // costs of parts on record that the price comes from; 0: a default
	InPlan  bool    `json:"in_plan"`
	Shown   bool    `json:"only_compared"` // no case did anything of the kind: never planned
}

// LeftOutCost counts costs on record that are not in the plan's currency and that nothing converts.
type LeftOutCost struct {
	Currency string `json:"currency"`
	Costs    int    `json:"costs"`
}

// MoneyOf gives an amount rounded to hundredths.
func MoneyOf(x float64, currency string) Money {
	return Money{Amount: strconv.FormatFloat(math.Round(x*100)/100, 'f', 2, 64), Currency: currency}
}

// Float gives the amount as a number, and false if it is none or negative.
func (m Money) Float() (float64, bool) {
	x, err := strconv.ParseFloat(m.Amount, 64)
	return x, err == nil && x >= 0 && !math.IsInf(x, 1)
}

// ParseMoney reads an amount and a currency in either order: "250 EUR", "EUR 12.50".
func ParseMoney(s string) (Money, bool) {
	words := strings.Fields(s)
	if len(words) != 2 {
		return Money{}, false
	}
	if _, err := strconv.ParseFloat(words[0], 64); err != nil {
		words[0], words[1] = words[1], words[0]
	}
	m := Money{Amount: words[0], Currency: strings.ToUpper(words[1])}
	_, ok := m.Float()
	return m, ok && amountForm.MatchString(m.Amount) && currencyForm.MatchString(m.Currency)
}
