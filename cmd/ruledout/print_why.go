package main

import (
	"bufio"
	"fmt"
	"io"
	"math"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// printWhy writes the reckoning of one culprit so that every line can be checked with a pocket calculator.
func printWhy(w io.Writer, a kb.Account) error {
	out := bufio.NewWriter(w)
	fmt.Fprintf(out, "WHY %s: %s\n", a.Component, casebook.Percent(a.Probability))
	fmt.Fprintln(out, "  Before the codes and what was seen, p = (n - d + (k + D) x above) / (N + k) from level to level: n cases of it of N in all,")
	fmt.Fprintln(out, "  d and D what single sightings give up, k how strongly the level above counts, in cases.")
	printLevels(out, a.Prior)
	fmt.Fprintf(out, "  odds before: %s / (1 - %s) = %s\n", figure(a.PriorP), figure(a.PriorP), figure(a.PriorOdds))
	for _, e := range a.Evidence {
		printReckoned(out, e, a.PriorP)
	}
	fmt.Fprintf(out, "\n  odds %s, that is %s / (1 + %s) = %s\n", figure(a.Odds), figure(a.Odds), figure(a.Odds), casebook.Percent(a.Probability))
	return out.Flush()
}

func printLevels(w io.Writer, list []kb.AccountLevel) {
	for _, l := range list {
		fmt.Fprintf(w, "    %-26s (%s - %s + (%s + %s) x %s) / (%s + %s) = %s\n", casebook.LevelName(l.Level), figure(l.Count), figure(l.Discount), figure(l.Strength),
			figure(l.Given), figure(l.Above), figure(l.Total), figure(l.Strength), figure(l.P))
	}
}

func printReckoned(w io.Writer, e kb.AccountEvidence, prior float64) {
	fmt.Fprintf(w, "\n  %s\n", e.Evidence)
	if len(e.Levels) > 0 {
		printLevels(w, e.Levels)
		fmt.Fprintf(w, "    if it is this: (%s / %s) ^ %s = %s\n", figure(e.Levels[len(e.Levels)-1].P), figure(prior), figure(e.Power), figure(e.Likelihood))
	}
	for i, r := range e.Rates {
		if i == mostRates && len(e.Rates) > mostRates+1 {
			fmt.Fprintf(w, "    and %d more such rates, together %s (--json lists them)\n", len(e.Rates)-i, figure(together(e.Rates[i:])))
			break
		}
		fmt.Fprintf(w, "    %s: %s of %s = %s, to the power %s\n", r.What, figure(r.Yes), figure(r.Yes+r.No), figure(r.Rate), figure(r.Power))
	}
	if len(e.Rates) > 0 {
		fmt.Fprintf(w, "    if it is this: %s\n", figure(e.Likelihood))
	}
	fmt.Fprintf(w, "    if it is anything else, on average: %s\n", figure(e.Others))
	fmt.Fprintf(w, "    factor %s / %s = %s, odds now %s\n", figure(e.Likelihood), figure(e.Others), figure(e.Factor), figure(e.Odds))
}

// mostRates is how many rates of one observation are printed.
const mostRates = 6

// together multiplies rates, each to its power.
func together(list []kb.AccountRate) float64 {
	p := 1.0
	for _, r := range list {
		p *= math.Pow(r.Rate, r.Power)
	}
	return p
}

// printChange writes which test would change the order of the likeliest culprits, and how.
func printChange(w io.Writer, c *kb.Change) {
	if c == nil {
		return
	}
	section(w, "what would change this answer")
	fmt.Fprintf(w, "  %s of %s\n", c.Test, c.Component)
	for _, r := range c.Results {
		if !r.Changed {
			fmt.Fprintf(w, "    %s (%s): the order stays\n", r.Result, casebook.Percent(r.Probability))
			continue
		}
		line := fmt.Sprintf("%s (%s): ", r.Result, casebook.Percent(r.Probability))
		for i, f := range r.Order {
			if i > 0 {
				line += ", "
			}
			line += fmt.Sprintf("%s %s (now %s)", f.Component, casebook.Percent(f.Probability), casebook.Percent(f.Before))
		}
		wrapped(w, "    ", line)
	}
}
