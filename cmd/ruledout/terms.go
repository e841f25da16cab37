package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

func (a *app) termsCommand() *cobra.Command {
	var size int
	c := &cobra.Command{
		Use: "terms", Short: "the terms that cases use and the vocabulary does not know, and what was decided on others",
		Long: `Lists the names of components, symptoms and methods that cases use and the vocabulary does not know, those in most cases first, with
examples and the known terms nearest to them, and after them the decisions in force. A decision holds for all cases, those that come
later too; each case keeps the words that it was written in.`,
		Args: args(cobra.NoArgs),
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withBook(c.Context(), true, func(b *casebook.Book) error {
				list, err := b.NewTerms(c.Context(), a.who(), size)
				if err != nil {
					return err
				}
				decided, err := b.TermDecisions(c.Context())
				if err != nil {
					return err
				}
				if a.json {
					return a.printJSON(struct {
						Terms   []casebook.Term        `json:"terms"`
						Decided []casebook.TermDecided `json:"decided"`
					}{list, decided})
				}
				a.printTerms(list, decided)
				return nil
			})
		},
	}
	c.Flags().IntVar(&size, "size", 40, "at most so many terms; 0: all")
	a.jsonFlag(c, "print terms and decisions as JSON")
	c.AddCommand(a.termsDecideCommand(), a.termsUndoCommand())
	return c
}

func (a *app) printTerms(list []casebook.Term, decided []casebook.TermDecided) {
	for _, t := range list {
		near := ""
		if len(t.Near) > 0 {
			near = "; near: " + strings.Join(t.Near, ", ")
		}
		fmt.Fprintf(a.stdout, "%s %q in %s: %s%s\n", t.Kind, t.Term, count(t.Cases, "case"), ids(t.Examples), near)
	}
	if len(list) == 0 {
		fmt.Fprintln(a.stdout, "every term is known or decided on")
	}
	for _, d := range decided {
		fmt.Fprintf(a.stdout, "decided: %s %q %s, by %s\n", d.Kind, d.Term, choiceWords(d.TermDecision), d.By)
	}
}

func choiceWords(d kb.TermDecision) string {
	switch d.Choice {
	case kb.TermSynonym:
		return "is another name of " + d.Of
	case kb.TermNew:
		return "is a term of its own"
	}
	return "is left as it is"
}

func ids(list []kb.CaseID) string {
	var out []string
	for _, id := range list {
		out = append(out, string(id))
	}
	return strings.Join(out, " ")
}

func (a *app) termsDecideCommand() *cobra.Command {
	var d kb.TermDecision
	var isNew, ignore bool
	var reason string
	c := &cobra.Command{
		Use: "decide KIND TERM", Short: "say what a component, symptom or method is that the vocabulary does not know", Args: args(cobra.ExactArgs(2)),
		RunE: func(c *cobra.Command, list []string) error {
			d.Kind, d.Term = kb.TermKind(list[0]), list[1]
			switch {
			case d.Of != "" && !isNew && !ignore:
				d.Choice = kb.TermSynonym
			case isNew && d.Of == "" && !ignore:
				d.Choice = kb.TermNew
			case ignore && d.Of == "" && !isNew:
				d.Choice = kb.TermIgnore
			default:
				return usage{fmt.Errorf("terms decide: say one of --synonym-of, --new, --ignore")}
			}
			return a.withBook(c.Context(), false, func(b *casebook.Book) error {
				if err := b.DecideTerm(c.Context(), a.who(), d, reason); err != nil {
					return err
				}
				d.Term = kb.Fold(d.Term)
				fmt.Fprintf(a.stdout, "%s %q %s\n", d.Kind, d.Term, choiceWords(d))
				return nil
			})
		},
	}
	c.Flags().StringVar(&d.Of, "synonym-of", "", "it is another name of this known `term`")
	c.Flags().BoolVar(&isNew, "new", false, "it is a term of its own (of a component: with --system)")
	c.Flags().StringVar(&d.System, "system", "", "`system` that a new component belongs to")
	c.Flags().BoolVar(&ignore, "ignore", false, "leave it as it is, and do not list it again")
	c.Flags().StringVar(&reason, "reason", "", "why")
	return c
}

func (a *app) termsUndoCommand() *cobra.Command {
	var reason string
	c := &cobra.Command{
		Use: "undo KIND TERM", Short: "take a decision on a term back", Args: args(cobra.ExactArgs(2)),
		RunE: func(c *cobra.Command, list []string) error {
			return a.withBook(c.Context(), false, func(b *casebook.Book) error {
				if err := b.UndoTerm(c.Context(), a.who(), kb.TermKind(list[0]), list[1], reason); err != nil {
					return err
				}
				fmt.Fprintf(a.stdout, "%s %q is undecided again\n", list[0], list[1])
				return nil
			})
		},
	}
	c.Flags().StringVar(&reason, "reason", "", "why")
	return c
}
