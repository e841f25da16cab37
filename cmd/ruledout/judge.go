package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/kb/limit"
)

func (a *app) judgeCommand() *cobra.Command {
	var q casebook.JudgeQuestion
	c := &cobra.Command{
		Use: `judge "WHAT READING"`, Short: "judge a reading: within its limit, out of it, or not to be told", Args: args(cobra.ExactArgs(1)),
		Long: `Judges a reading against a limit, with the instrument's accuracy (JCGM 106:2012; a decision is taken where it is 95 % sure,
ISO 14253-1), and shows what others measured in the same test, by what turned out to be at fault.

  ruledout judge "insulation of traction battery 38 kohm" --limit "400 V pack"
  ruledout judge "coil resistance of heater relay 84 ohm" --limit "75 to 95 ohm"
  ruledout judge "pt100 sensor 112 ohm" --limit "pt100 at 25 °C" --accuracy "0.5 % + 2 digits"
  ruledout judge "coolant sensor 1.1 kohm" --limit "ntc 2.5 kohm beta 3500 at 45 °C ± 8 %"

A limit is a pair of numbers, one with its side (min 3 bar, max 0.5 V), a nominal value with its tolerance, a thermistor or a
table by temperature, or a published limit by its name: "ruledout limits" lists them.`,
		RunE: func(c *cobra.Command, list []string) error {
			q.Words = list[0]
			j, err := a.judge(c.Context(), q)
			if err != nil {
				return err
			}
			if a.json {
				return a.printJSON(j)
			}
			return printJudgement(a.stdout, j)
		},
	}
	c.Flags().StringVar(&q.Limit, "limit", "", "`limit` to judge against")
	c.Flags().StringVar(&q.Accuracy, "accuracy", "", "the instrument's `accuracy`, such as \"0.5 % + 2 digits\"")
	c.Flags().StringVar(&q.Machine, "machine", "", "`machine`, so that readings of its like are marked")
	a.jsonFlag(c, "print the judgement as JSON")
	return c
}

// judge judges with the book's readings beside it; limits need no book.
func (a *app) judge(ctx context.Context, q casebook.JudgeQuestion) (j kb.Judgement, err error) {
	err = a.withBook(ctx, true, func(b *casebook.Book) error {
		j, err = b.Judge(ctx, q)
		return err
	})
	if kb.KindOf(err) == kb.NotFound {
		voc, err := kb.BuiltinVocabulary()
		if err != nil {
			return kb.Judgement{}, err
		}
		return casebook.Judge(q, voc)
	}
	return j, err
}

// publishedLimit is a published limit as it is listed.
type publishedLimit struct {
	Name       string   `json:"name"`
	Measures   string   `json:"measures"`
	Limits     []string `json:"limits"` // none where conditions must be given first
	Needs      []string `json:"needs"`
	Components []string `json:"components"`
	Ask        []string `json:"ask"` // phrases that name it in --limit
	Source     string   `json:"source"`
	Note       string   `json:"note"`
}

func (a *app) limitsCommand() *cobra.Command {
	c := &cobra.Command{
		Use: "limits [QUANTITY|COMPONENT]", Short: "list the published limits, each with its source", Args: args(cobra.MaximumNArgs(1)),
		RunE: func(_ *cobra.Command, list []string) error {
			of := strings.Join(list, " ")
			found, err := limitsOf(of)
			if err != nil {
				return err
			}
			if a.json {
				return a.printJSON(found)
			}
			if len(found) == 0 {
				fmt.Fprintf(a.stdout, "no published limit is known for %q\n", of)
				return nil
			}
			return printLimits(a.stdout, found)
		},
	}
	a.jsonFlag(c, "print the limits as JSON")
	return c
}

// limitsOf gives the published limits of a quantity or a component, all for none.
func limitsOf(of string) ([]publishedLimit, error) {
	voc, err := kb.BuiltinVocabulary()
	if err != nil {
		return nil, err
	}
	out := []publishedLimit{}
	for _, p := range limit.All() {
		if of != "" && !p.About(of) && !p.About(voc.CanonicalComponent(of)) {
			continue
		}
		x := publishedLimit{Name: p.Name, Measures: limit.Dimension(p.Base), Limits: []string{}, Needs: []string{}, Components: p.Components, Ask: p.Words, Source: p.Source, Note: p.Note}
		if limits, err := p.Limits(limit.GivenIn("")); err == nil {
			for _, l := range limits {
				x.Limits = append(x.Limits, l.String())
			}
		} else {
			x.Needs = append(x.Needs, err.Error())
		}
		out = append(out, x)
	}
	return out, nil
}

func (a *app) calcCommand() *cobra.Command {
	about := "Works out small things from numbers with their units:\n\n"
	for _, k := range limit.Calculators() {
		about += fmt.Sprintf("  ruledout calc %-10s %-18s %s\n", k.Name, k.Example, k.About)
	}
	c := &cobra.Command{
		Use: "calc NAME QUANTITIES", Short: "work out small things: voltage drop, insulation, terminations, charging pilot ...", Long: about,
		Args: args(cobra.MinimumNArgs(2)),
		RunE: func(_ *cobra.Command, list []string) error {
			for _, k := range limit.Calculators() {
				if k.Name != list[0] {
					continue
				}
				lines, err := k.Do(strings.Join(list[1:], " "))
				if err != nil {
					return usage{err}
				}
				if a.json {
					return a.printJSON(lines)
				}
				printLines(a.stdout, lines)
				return nil
			}
			return usage{fmt.Errorf("calc: no calculator %q; see \"ruledout help calc\"", list[0])}
		},
	}
	a.jsonFlag(c, "print the result as JSON")
	return c
}
