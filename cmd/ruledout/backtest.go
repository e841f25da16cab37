package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"ruledout/internal/casebook"
)

type backtestFlags struct {
	opt  casebook.BacktestOptions
	asOf string
}

func (a *app) backtestCommand() *cobra.Command {
	var f backtestFlags
	c := &cobra.Command{
		Use: "backtest", Short: "measure how well the book answers cases that it has not seen", Args: args(cobra.NoArgs),
		Long: `Holds cases back, answers them from the others, and compares with what it turned out to be. Every case is asked twice: at
the start (machine, codes and symptoms: the headline), and at the bench (with what was tested and tried before the first
failing test of the culprit, its parts or wholes, or the cure; steps of unknown order are left out).

Cases of one write-up, and tellings of one repair, are held back together. With --as-of the book learns from what was
posted up to that day (without a date: what had come in by then) and is asked what came later.

Beside the book stand two plain ways to answer: the most frequent culprits of the code, and the vote of the ten cases
nearest by text. What is forecast is which of the culprits listed it was, or none of them; of several culprits any one
counts as right, with the sum of their probabilities.

Columns: right first, among 3: the share of questions with a right answer there, with its 95 % interval (Wilson, as if
questions were independent; those of one thread are not quite); listed: a right answer anywhere; MRR: mean of 1/place;
log loss (nats) and Brier score (0 to 2): less is better.`,
		Example: "  ruledout backtest\n  ruledout backtest --as-of 2024-12-31 --by-code 20",
		RunE: func(c *cobra.Command, _ []string) error {
			opt, err := f.options(c)
			if err != nil {
				return err
			}
			return a.withBook(c.Context(), true, func(b *casebook.Book) error {
				opt.Fit = b.FitTo
				r, err := b.Backtest(c.Context(), opt)
				if err != nil {
					return err
				}
				if a.json {
					return a.printJSON(r)
				}
				return printBacktest(a.stdout, r)
			})
		},
	}
	c.Flags().StringVar(&f.asOf, "as-of", "", "learn up to this `day` (2024-12-31), ask what came later; instead of folds")
	c.Flags().IntVar(&f.opt.Folds, "folds", 10, "parts that are held back in turn")
	c.Flags().BoolVar(&f.opt.Nested, "nested", false, "fit the constants anew to what is learned from, each time; instead of those in force")
	c.Flags().IntVar(&f.opt.ByCode, "by-code", 10, "figures of their own for codes with at least so many `questions`")
	a.jsonFlag(c, "print the figures as JSON")
	return c
}

func (f backtestFlags) options(c *cobra.Command) (casebook.BacktestOptions, error) {
	opt := f.opt
	switch {
	case f.asOf != "" && c.Flags().Changed("folds"):
		return opt, usage{fmt.Errorf("backtest: --as-of and --folds are two ways to part the cases; choose one")}
	case opt.Folds < 2:
		return opt, usage{fmt.Errorf("--folds %d: want 2 or more", opt.Folds)}
	case opt.ByCode < 1:
		return opt, usage{fmt.Errorf("--by-code %d: want 1 or more", opt.ByCode)}
	case f.asOf == "":
		return opt, nil
	}
	var err error
	if opt.AsOf, err = time.Parse(time.DateOnly, f.asOf); err != nil {
		return opt, usage{fmt.Errorf("--as-of %q: want a day such as 2024-12-31", f.asOf)}
	}
	return opt, nil
}
