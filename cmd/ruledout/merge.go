package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

func effectFlag(c *cobra.Command, effect *bool) {
	c.Flags().BoolVar(effect, "effect", false, "only show what it would change in the answers, before and after; nothing is done")
}

// effect prints what a change would do to the answers.
func (a *app) effect(ctx context.Context, change casebook.Change) error {
	return a.withBook(ctx, false, func(b *casebook.Book) error {
		list, err := b.EffectOf(ctx, a.who(), change)
		if err != nil {
			return err
		}
		if a.json {
			return a.printJSON(list)
		}
		for _, e := range list {
			fmt.Fprintf(a.stdout, "%s (%s)\n", strings.TrimSpace(e.Code+" "+e.Machine), count(e.Cases, "case"))
			for _, f := range append(e.Fixes, e.Unlisted) {
				fmt.Fprintf(a.stdout, "  %5.1f %% -> %5.1f %%  %s\n", 100*f.Before, 100*f.After, f.Component)
			}
		}
		return nil
	})
}

func (a *app) compareCommand() *cobra.Command {
	c := &cobra.Command{
		Use: "compare CASE CASE...", Short: "set cases side by side, with what merging them would keep", Args: args(cobra.MinimumNArgs(2)),
		RunE: func(c *cobra.Command, list []string) error {
			return a.withBook(c.Context(), true, func(b *casebook.Book) error {
				x, err := b.Compare(c.Context(), caseIDs(list)...)
				if err != nil {
					return err
				}
				if a.json {
					return a.printJSON(x)
				}
				a.printComparison(x)
				return nil
			})
		},
	}
	a.jsonFlag(c, "print the comparison as JSON")
	return c
}

func (a *app) printComparison(x casebook.Comparison) {
	for _, f := range x.Fields {
		if len(f.Joined) == 0 {
			continue
		}
		mark := "same"
		if f.Differs {
			mark = "differs"
		}
		fmt.Fprintf(a.stdout, "%s: %s\n", f.Name, mark)
		for _, v := range f.Values {
			for _, line := range v.Lines {
				fmt.Fprintf(a.stdout, "  %-14s %s\n", v.Case, line)
			}
		}
		for _, line := range f.Joined {
			fmt.Fprintf(a.stdout, "  %-14s %s\n", "-> merged", line)
		}
	}
}

func caseIDs(list []string) []kb.CaseID {
	var out []kb.CaseID
	for _, s := range list {
		out = append(out, kb.CaseID(s))
	}
	return out
}

func (a *app) mergeCommand() *cobra.Command {
	var q casebook.MergeRequest
	var take, seen map[string]string
	var effect bool
	c := &cobra.Command{
		Use: "merge INTO OTHER...", Short: "make one case of several that tell of one repair", Args: args(cobra.MinimumNArgs(2)),
		Long: `Makes one case of several that tell of one repair: the first keeps its id, the ids of the others lead to it. All facts, spans and sources
are kept, equal facts become one; "compare" shows it before. --take chooses a field of one case whole. "unmerge" takes it back.
Fields: ` + strings.Join(kb.MergeFields(), ", "),
		RunE: func(c *cobra.Command, list []string) error {
			q.Into, q.Others, q.Take, q.Seen = kb.CaseID(list[0]), caseIDs(list[1:]), map[string]kb.CaseID{}, casebook.Seen{}
			for field, id := range take {
				q.Take[field] = kb.CaseID(id)
			}
			for id, pos := range seen {
				n, err := strconv.ParseInt(pos, 10, 64)
				if err != nil {
					return usage{fmt.Errorf("merge: --seen %s=%s: want a revision", id, pos)}
				}
				q.Seen[kb.CaseID(id)] = n
			}
			if effect {
				return a.effect(c.Context(), casebook.Merging(q))
			}
			return a.withBook(c.Context(), false, func(b *casebook.Book) error {
				after, err := b.Merge(c.Context(), a.who(), q.Into, q.Others, q.Take, q.Seen, q.Reason)
				if err != nil {
					return err
				}
				return a.changed(after)
			})
		},
	}
	c.Flags().StringToStringVar(&take, "take", nil, "`FIELD=CASE`: take a field from that case alone (may be repeated)")
	c.Flags().StringToStringVar(&seen, "seen", nil, "`CASE=REVISION` as you looked at it (pos of \"compare --json\"): refuse if it was changed since")
	c.Flags().StringVar(&q.Reason, "reason", "", "why, for the history")
	effectFlag(c, &effect)
	a.jsonFlag(c, "print the merged case record")
	return c
}

func (a *app) splitCommand() *cobra.Command {
	var moved, both, titles []string
	var reason string
	var effect bool
	c := &cobra.Command{
		Use: "split CASE", Short: "make several cases of one that was several repairs", Args: args(cobra.ExactArgs(1)),
		Long: `Makes several cases of one that was several repairs. Each --new names the facts that go to a new case, --both those that stand in all;
the rest stays. Without --new the facts are listed with their numbers.

  ruledout split CASE
  ruledout split CASE --new "fix 2, test 1" --both "code 1, symptom 1" --reason "two visits"

Facts are code, symptom, test, fix and follow-up. Machine and sources go to every part. "unmerge" puts them back together.`,
		RunE: func(c *cobra.Command, list []string) error {
			id := kb.CaseID(list[0])
			var v casebook.View
			err := a.withBook(c.Context(), true, func(b *casebook.Book) (err error) { v, err = b.Show(c.Context(), id); return err })
			if err != nil {
				return err
			}
			if len(moved) == 0 {
				a.printNumbered(v.Case)
				return nil
			}
			parts, err := splitParts(v.Case, moved, both, titles)
			if err != nil {
				return err
			}
			seen := casebook.Seen{v.Case.ID: v.Pos}
			if effect {
				return a.effect(c.Context(), casebook.Splitting(id, parts, seen, reason))
			}
			return a.withBook(c.Context(), false, func(b *casebook.Book) error {
				after, err := b.Split(c.Context(), a.who(), id, parts, seen, reason)
				for _, x := range after {
					err = errors.Join(err, a.changed(x))
				}
				return err
			})
		},
	}
	c.Flags().StringArrayVar(&moved, "new", nil, "`facts` that go to a new case, such as \"fix 2, test 1\" (once for each new case)")
	c.Flags().StringArrayVar(&both, "both", nil, "`facts` that stand in all parts")
	c.Flags().StringArrayVar(&titles, "title", nil, "`title` of each new case, in order")
	c.Flags().StringVar(&reason, "reason", "", "why, for the history")
	effectFlag(c, &effect)
	a.jsonFlag(c, "print the case records after")
	return c
}

// factLists gives the lists of a part by what a fact is called, with how many facts the case has.
func factLists(c *kb.Case, p *casebook.SplitPart) map[string]struct {
	size int
	at   *[]int
} {
	type list = struct {
		size int
		at   *[]int
	}
	return map[string]list{"code": {len(c.Codes), &p.Codes}, "symptom": {len(c.Symptoms), &p.Symptoms}, "test": {len(c.Tests), &p.Tests}, "fix": {len(c.Fixes), &p.Fixes},
		"follow-up": {len(c.FollowUps), &p.FollowUps}}
}

var factNames = []string{"code", "symptom", "test", "fix", "follow-up"}

// splitParts gives the parts of a split: first what stays, then each new case.
func splitParts(c kb.Case, moved, both, titles []string) ([]casebook.SplitPart, error) {
	parts := make([]casebook.SplitPart, len(moved)+1)
	for i, words := range moved {
		if err := readFacts(&c, &parts[i+1], "--new", words); err != nil {
			return nil, err
		}
		if i < len(titles) {
			parts[i+1].Title = titles[i]
		}
	}
	named := parts[1:]
	for _, name := range factNames {
		stays := factLists(&c, &parts[0])[name]
		for n := range stays.size {
			if !slices.ContainsFunc(named, func(p casebook.SplitPart) bool { return slices.Contains(*factLists(&c, &p)[name].at, n) }) {
				*stays.at = append(*stays.at, n)
			}
		}
	}
	for i := range parts {
		for _, words := range both {
			if err := readFacts(&c, &parts[i], "--both", words); err != nil {
				return nil, err
			}
		}
	}
	return parts, nil
}

// readFacts reads "fix 2, test 1".
func readFacts(c *kb.Case, p *casebook.SplitPart, flag, words string) error {
	for _, fact := range strings.Split(words, ",") {
		name, number, _ := strings.Cut(strings.TrimSpace(fact), " ")
		list, known := factLists(c, p)[name]
		n, err := strconv.Atoi(strings.TrimSpace(number))
		if !known || err != nil || n < 1 || n > list.size {
			return &kb.Error{Kind: kb.Invalid, Field: fmt.Sprintf("%s %q", flag, words),
				Msg: fmt.Sprintf("%q is no fact of this case: want one of %s with its number", strings.TrimSpace(fact), strings.Join(factNames, ", "))}
		}
		*list.at = append(*list.at, n-1)
	}
	return nil
}

func (a *app) printNumbered(c kb.Case) {
	for i, x := range c.Codes {
		fmt.Fprintf(a.stdout, "code %d       %s\n", i+1, x.Code)
	}
	for i, x := range c.Symptoms {
		fmt.Fprintf(a.stdout, "symptom %d    %s%s\n", i+1, notThere(x.Absent), x.Symptom)
	}
	for i, x := range c.Tests {
		fmt.Fprintf(a.stdout, "test %d       %s of %s: %s\n", i+1, x.Test, x.Component, x.Result)
	}
	for i, x := range c.Fixes {
		fmt.Fprintf(a.stdout, "fix %d        %s %s: %s\n", i+1, x.Action, x.Component, outcome(x.Outcome))
	}
	for i, x := range c.FollowUps {
		fmt.Fprintf(a.stdout, "follow-up %d  %s: %s\n", i+1, x.Date, heldWord(x.Held))
	}
}
