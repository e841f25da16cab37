package main

import (
	"github.com/spf13/cobra"

	"ruledout/internal/casebook"
)

func (a *app) refitCommand() *cobra.Command {
	var opt casebook.RefitOptions
	c := &cobra.Command{
		Use: "refit", Short: "fit the constants of the model to this book's cases", Args: args(cobra.NoArgs),
		Long: `Fits every constant of the model, so that cases held back are answered as well as can be from the others, and puts the
constants into force for all who use this book. Each case is asked twice: at the start (machine, codes, symptoms), and with
all that was tested and tried before the cure. Cases of one write-up or one repair are held back together.

A constant moves from its built-in default only where that pays. What is reported is measured on cases that the fit did not
see, with --quick on those it saw. A later refit starts from the defaults again: it depends on nothing but the cases.`,
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withBook(c.Context(), false, func(b *casebook.Book) error {
				r, err := b.Refit(c.Context(), a.who(), opt)
				if err != nil {
					return err
				}
				if a.json {
					return a.printJSON(r)
				}
				return printRefitted(a.stdout, r)
			})
		},
	}
	c.Flags().BoolVar(&opt.Quick, "quick", false, "measure on the cases that the fit saw: less than half the time, figures a little too good")
	a.jsonFlag(c, "print the constants and the figures as JSON")
	return c
}

func (a *app) modelCommand() *cobra.Command {
	c := &cobra.Command{
		Use: "model", Short: "show the constants of the model, and what each is worth", Args: args(cobra.NoArgs),
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withBook(c.Context(), true, func(b *casebook.Book) error {
				m, err := b.ModelInfo(c.Context())
				if err != nil {
					return err
				}
				if a.json {
					return a.printJSON(m)
				}
				return printModel(a.stdout, m)
			})
		},
	}
	a.jsonFlag(c, "print the constants as JSON")
	return c
}
