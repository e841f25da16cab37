package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/kb/quantity"
)

func (a *app) showCommand() *cobra.Command {
	c := &cobra.Command{
		Use: "show CASE", Short: "show one case: facts with the words they were read from, history, sources", Args: args(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, list []string) error {
			return a.withBook(c.Context(), true, func(b *casebook.Book) error {
				v, err := b.Show(c.Context(), kb.CaseID(list[0]))
				if err != nil {
					return err
				}
				if a.json {
					return a.printJSON(v)
				}
				printView(a.stdout, v)
				return nil
			})
		},
	}
	a.jsonFlag(c, "print the case as JSON")
	return c
}

// step is a change of one case.
type step func(context.Context, *casebook.Book, kb.CaseID) (kb.Case, error)

// lifeCommand is a command that changes the cases that it names.
func (a *app) lifeCommand(use, short string, do step) *cobra.Command {
	c := &cobra.Command{
		Use: use + " CASE...", Short: short, Args: args(cobra.MinimumNArgs(1)),
		RunE: func(c *cobra.Command, list []string) error {
			return a.withBook(c.Context(), false, func(b *casebook.Book) error {
				for _, id := range list {
					after, err := do(c.Context(), b, kb.CaseID(id))
					if err != nil {
						return err
					}
					if err := a.changed(after); err != nil {
						return err
					}
				}
				return nil
			})
		},
	}
	a.jsonFlag(c, "print the case record as it stands after")
	return c
}

func (a *app) changed(c kb.Case) error {
	if a.json {
		line, err := kb.EncodeCase(c)
		if err == nil {
			_, err = fmt.Fprintf(a.stdout, "%s\n", line)
		}
		return err
	}
	_, err := fmt.Fprintf(a.stdout, "%s  %s, %s  %s\n", c.ID, c.State, c.Status, headline(c))
	return err
}

// reasonCommand is a command that takes one decision, with a --reason, on each case that it names, or with --effect only looks at it.
func (a *app) reasonCommand(use, short, reasonIs string, change func(id kb.CaseID, reason string) casebook.Change,
	do func(b *casebook.Book, ctx context.Context, by casebook.Actor, id kb.CaseID, reason string) (kb.Case, error)) *cobra.Command {
	var reason string
	var effect bool
	c := a.lifeCommand(use, short, func(ctx context.Context, b *casebook.Book, id kb.CaseID) (kb.Case, error) {
		return do(b, ctx, a.who(), id, reason)
	})
	act := c.RunE
	c.RunE = func(c *cobra.Command, list []string) error {
		if !effect {
			return act(c, list)
		}
		for _, id := range list {
			if err := a.effect(c.Context(), change(kb.CaseID(id), reason)); err != nil {
				return err
			}
		}
		return nil
	}
	c.Flags().StringVar(&reason, "reason", "", reasonIs)
	effectFlag(c, &effect)
	return c
}

func (a *app) acceptCommand() *cobra.Command {
	return a.reasonCommand("accept", "publish a draft: from now on it counts", "a remark for the history", casebook.Accepting, (*casebook.Book).Accept)
}

func (a *app) sendBackCommand() *cobra.Command {
	return a.reasonCommand("sendback", "return a case to its contributor with a reason", "what is to be settled", casebook.SendingBack, (*casebook.Book).SendBack)
}

func (a *app) withdrawCommand() *cobra.Command {
	return a.reasonCommand("withdraw", "take a case out of the book; its history stays", "why, for the history", casebook.Withdrawing, (*casebook.Book).Withdraw)
}

func (a *app) unmergeCommand() *cobra.Command {
	c := a.reasonCommand("unmerge", "take a merge or a split back: every case stands as it was", "why, for the history", casebook.Unmerging, (*casebook.Book).Unmerge)
	c.Long = `Takes a merge back for a case that was merged away, exactly; what was edited since stays. Where a later edit touches what the merge
brought, it is named and nothing is done (exit code 4). Of a case that was split, or split off, it puts the parts back together.`
	return c
}

func (a *app) closeCommand() *cobra.Command {
	var fixed []string
	var how casebook.Closing
	var as, confirmation string
	c := a.lifeCommand("close", "close an open case with what fixed it", func(ctx context.Context, b *casebook.Book, id kb.CaseID) (kb.Case, error) {
		how.As, how.Confirmation, how.Fixed = kb.ClosedAs(as), kb.Confirmation(confirmation), nil
		for _, s := range fixed {
			f, err := ingest.ParseFix(s, b.Vocabulary())
			if err != nil {
				return kb.Case{}, &kb.Error{Kind: kb.Invalid, Field: fmt.Sprintf("--fixed %q", s), Msg: err.Error()}
			}
			how.Fixed = append(how.Fixed, f)
		}
		return b.CloseCase(ctx, a.who(), id, how)
	})
	c.Flags().StringArrayVar(&fixed, "fixed", nil, "`\"ACTION COMPONENT\"` that cured it (repeat where it took several)")
	c.Flags().StringVar(&as, "as", string(kb.Repaired), "`how` it ended: repaired, went away, handed over, not worth repairing")
	c.Flags().StringVar(&confirmation, "confirmation", string(kb.Reported), "verified (it held, or a repeat test proved it), reported or unconfirmed")
	c.Flags().StringVar(&how.Reason, "reason", "", "a remark for the history")
	return c
}

func (a *app) followUpCommand() *cobra.Command {
	var held, returned bool
	var f kb.FollowUp
	var odometer string
	c := a.lifeCommand("followup", "tell later whether a repair held or the fault returned", func(ctx context.Context, b *casebook.Book, id kb.CaseID) (kb.Case, error) {
		if held == returned {
			return kb.Case{}, usage{fmt.Errorf("followup: say --held or --returned")}
		}
		f.Held = held
		if odometer != "" {
			q, err := quantity.Parse(odometer)
			if err != nil {
				return kb.Case{}, &kb.Error{Kind: kb.Invalid, Field: fmt.Sprintf("--odometer %q", odometer), Msg: err.Error()}
			}
			f.Odometer = &kb.Measure{Value: q.Value, Unit: q.Unit}
		}
		return b.FollowUp(ctx, a.who(), id, f)
	})
	c.Flags().BoolVar(&held, "held", false, "the repair held")
	c.Flags().BoolVar(&returned, "returned", false, "the fault returned")
	c.Flags().StringVar(&f.Date, "date", "", "when that was seen, such as 2024-09-01 (default: today)")
	c.Flags().StringVar(&odometer, "odometer", "", "reading then, such as \"92000 km\"")
	c.Flags().StringVar(&f.Note, "note", "", "a remark")
	return c
}
