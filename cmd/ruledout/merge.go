package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

func (a *app) mergeCommand() *cobra.Command {
	var take []string
	var reason string
	c := &cobra.Command{
		Use: "merge INTO CASE...", Short: "make one case of several that tell of one repair", Args: args(cobra.MinimumNArgs(2)),
		Long: `Makes one case of several that tell of one repair. The first takes in the others: every source and every span is kept, what several
tell stands once with the words of all, their ids lead to it for ever, and it counts once. --take machine=CASE gives a field the value of
one of the cases. "unmerge" undoes it.`,
		RunE: func(c *cobra.Command, list []string) error {
			w := casebook.MergeWish{Into: kb.CaseID(list[0]), Take: map[string]kb.CaseID{}, Reason: reason}
			for _, id := range list[1:] {
				w.Others = append(w.Others, kb.CaseID(id))
			}
			for _, t := range take {
				field, id, ok := strings.Cut(t, "=")
				if !ok {
					return usage{fmt.Errorf("--take %q: want FIELD=CASE", t)}
				}
				w.Take[field] = kb.CaseID(id)
			}
			return a.withBook(c.Context(), false, func(b *casebook.Book) error {
				after, err := b.Merge(c.Context(), a.who(), w)
				if err != nil {
					return err
				}
				if a.json {
					return a.printJSON(after)
				}
				_, err = fmt.Fprintf(a.stdout, "%s stands for %s too; %s\n", w.Into, strings.Join(list[1:], ", "), count(len(after.Sources), "source"))
				return err
			})
		},
	}
	c.Flags().StringArrayVar(&take, "take", nil, "`FIELD=CASE`: the field as this case has it (may be given several times)")
	c.Flags().StringVar(&reason, "reason", "", "why")
	a.jsonFlag(c, "print the case as it is then, as JSON")
	return c
}

func (a *app) unmergeCommand() *cobra.Command {
	var reason string
	c := &cobra.Command{
		Use: "unmerge CASE", Short: "take a case out of the one that it was merged into", Args: args(cobra.ExactArgs(1)),
		Long: `Restores a case that was merged into another exactly as it was, and takes out of the other what it had brought. What was edited on the
other since stays; an edit that stands in the way is named with its field and who made it, and nothing is changed then.`,
		RunE: func(c *cobra.Command, list []string) error {
			return a.withBook(c.Context(), false, func(b *casebook.Book) error {
				restored, err := b.Unmerge(c.Context(), a.who(), kb.CaseID(list[0]), reason)
				if err != nil {
					return err
				}
				if a.json {
					return a.printJSON(restored)
				}
				_, err = fmt.Fprintf(a.stdout, "%s is a case of its own again, %s\n", restored.ID, restored.State)
				return err
			})
		},
	}
	c.Flags().StringVar(&reason, "reason", "", "why")
	a.jsonFlag(c, "print the restored case as JSON")
	return c
}
