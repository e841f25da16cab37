package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/kb/link"
)

func (a *app) duplicatesCommand() *cobra.Command {
	var opt casebook.DuplicateOptions
	var of string
	c := &cobra.Command{
		Use: "duplicates", Short: "list pairs of cases that may tell of one repair twice, most probable first", Args: args(cobra.NoArgs),
		Long: `Compares the published cases and the drafts and lists the pairs that may be one repair told twice: duplicates, and pairs to look at.
Each pair has its probability and what it is made of: for each thing that both tell how far they agree, and the weight of that in bits
(Fellegi and Sunter 1969): 1 bit doubles the odds, -1 bit halves them. Weights are fitted to the book's own pairs. Another
place (cylinder 2, cylinder 4), another odometer reading, or the same teller months later make two repairs.

"notduplicates" keeps a pair from being listed again.`,
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withBook(c.Context(), true, func(b *casebook.Book) (err error) {
				var list []casebook.DuplicatePair
				if of != "" {
					list, err = b.DuplicatesOf(c.Context(), kb.CaseID(of), opt)
				} else {
					list, err = b.Duplicates(c.Context(), opt)
				}
				if err != nil {
					return err
				}
				if a.json {
					return a.pairLines(list)
				}
				printPairs(a.stdout, list)
				return nil
			})
		},
	}
	c.Flags().BoolVar(&opt.All, "all", false, "also the pairs that were compared and taken for two repairs")
	c.Flags().StringVar(&of, "of", "", "only duplicates of this `case`")
	a.jsonFlag(c, "print one JSON object a line for each pair")
	return c
}

func (a *app) pairLines(list []casebook.DuplicatePair) error {
	enc := json.NewEncoder(a.stdout)
	enc.SetEscapeHTML(false)
	for _, p := range list {
		if err := enc.Encode(p); err != nil {
			return err
		}
	}
	return nil
}

func printPairs(w io.Writer, list []casebook.DuplicatePair) {
	n := map[link.Verdict]int{}
	for _, p := range list {
		n[p.Verdict]++
		fmt.Fprintf(w, "%s  %s  %s  %s%s\n", p.A, p.B, casebook.Percent(p.Probability), p.Verdict, weightsText(p.Weights))
	}
	fmt.Fprintf(w, "%s, %s to look at\n", count(n[link.Duplicate], "duplicate"), count(n[link.LookAtIt], "pair"))
}

func weightsText(list []link.Weighed) string {
	var parts []string
	for _, x := range list {
		parts = append(parts, fmt.Sprintf("%s %s %+.1f", x.Field, x.Level, x.Bits))
	}
	if len(parts) == 0 {
		return ""
	}
	return ": " + strings.Join(parts, ", ")
}

func (a *app) notDuplicatesCommand() *cobra.Command {
	var reason string
	c := &cobra.Command{
		Use: "notduplicates CASE CASE", Short: "decide that two cases are not one repair: the pair is not listed again", Args: args(cobra.ExactArgs(2)),
		RunE: func(c *cobra.Command, list []string) error {
			return a.withBook(c.Context(), false, func(b *casebook.Book) error {
				x, y := kb.CaseID(list[0]), kb.CaseID(list[1])
				if err := b.NotDuplicates(c.Context(), a.who(), x, y, reason); err != nil {
					return err
				}
				_, err := fmt.Fprintf(a.stdout, "%s and %s are two repairs\n", x, y)
				return err
			})
		},
	}
	c.Flags().StringVar(&reason, "reason", "", "why, for the history")
	return c
}
