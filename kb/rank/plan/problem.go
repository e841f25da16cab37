package plan

import (
	"errors"
	"fmt"
	"math"
)

// Most actions, tests and outcomes of a test that a problem may have.
const (
	MaxActions  = 64
	MaxTests    = 16
	MaxOutcomes = 15
)

// Problem is a fault to be found. Costs are in any one unit.
type Problem struct {
	P        []float64 // probability of each cause, sums to 1; one that no action cures is left to the hand-over
	Actions  []Action
	Tests    []Test
	HandOver float64 // cost of handing over, which cures everything and ends; >= 0
}

// Action is a repair that can be tried once.
type Action struct {
	Cost   float64   // spent whatever the cause is, >= 0
	Solves []float64 // probability of curing under each cause, in [0, 1]
	Extra  []float64 // spent besides under each cause, >= 0: the repair where a look finds the fault; nil for none
}

// Test is a check that can be done once.
type Test struct {
	Cost     float64     // >= 0
	Outcomes [][]float64 // of each outcome, its probability under each cause; under each cause they sum to 1
}

// sumTolerance is how far probabilities may be from summing to 1.
const sumTolerance = 1e-6

// Validate tells whether sizes and numbers are in their ranges.
func (p Problem) Validate() error {
	switch {
	case len(p.P) == 0:
		return errors.New("plan: there is no cause")
	case len(p.Actions) > MaxActions:
		return fmt.Errorf("plan: %d actions, at most %d can be planned", len(p.Actions), MaxActions)
	case len(p.Tests) > MaxTests:
		return fmt.Errorf("plan: %d tests, at most %d can be planned", len(p.Tests), MaxTests)
	case !costly(p.HandOver):
		return fmt.Errorf("plan: handing over costs %g", p.HandOver)
	}
	if sum := total(p.P); !chances(p.P) || math.Abs(sum-1) > sumTolerance {
		return fmt.Errorf("plan: the causes' probabilities are out of range or sum to %g, not 1", sum)
	}
	for i, a := range p.Actions {
		if err := a.validate(len(p.P)); err != nil {
			return fmt.Errorf("plan: action %d: %w", i, err)
		}
	}
	for i, t := range p.Tests {
		if err := t.validate(len(p.P)); err != nil {
			return fmt.Errorf("plan: test %d: %w", i, err)
		}
	}
	return nil
}

func (a Action) validate(causes int) error {
	if !costly(a.Cost) || len(a.Solves) != causes || !chances(a.Solves) {
		return errors.New("its cost or its probabilities of curing are out of range")
	}
	if a.Extra != nil && len(a.Extra) != causes {
		return errors.New("its further costs are not one for each cause")
	}
	for _, x := range a.Extra {
		if !costly(x) {
			return errors.New("a further cost is out of range")
		}
	}
	return nil
}

func (t Test) validate(causes int) error {
	if !costly(t.Cost) || len(t.Outcomes) < 2 || len(t.Outcomes) > MaxOutcomes {
		return fmt.Errorf("its cost is out of range or its outcomes are not 2 to %d", MaxOutcomes)
	}
	sums := make([]float64, causes)
	for _, o := range t.Outcomes {
		if len(o) != causes || !chances(o) {
			return errors.New("an outcome's probabilities are out of range")
		}
		for c, x := range o {
			sums[c] += x
		}
	}
	for c, s := range sums {
		if math.Abs(s-1) > sumTolerance {
			return fmt.Errorf("under cause %d its outcomes sum to %g, not 1", c, s)
		}
	}
	return nil
}

func costly(x float64) bool { return x >= 0 && !math.IsInf(x, 1) }

func chances(list []float64) bool {
	for _, x := range list {
		if !(x >= 0 && x <= 1+sumTolerance) {
			return false
		}
	}
	return true
}

func total(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum
}

// extra gives the further cost of an action under a cause.
func (a Action) extra(c int) float64 {
	if a.Extra == nil {
		return 0
	}
	return a.Extra[c]
}

// show writes to dst the weights after an outcome and gives their total.
func show(dst, w, outcome []float64) float64 {
	sum := 0.0
	for c, x := range w {
		dst[c] = x * outcome[c]
		sum += dst[c]
	}
	return sum
}
