package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

type askFlags struct {
	q          casebook.Question
	caseFile   string
	batch      string
	because    bool
	why        string
	everything bool
	plan       bool
	wish       casebook.PlanWish
}

func (a *app) askCommand() *cobra.Command {
	var f askFlags
	c := &cobra.Command{
		Use: "ask WORDS...", Short: "ask what fixed it for others, what is ruled out and what to check next", Args: args(cobra.ArbitraryArgs),
		Long: `Answers an open case from the published cases. In WORDS, what reads as a fault code is one; the rest is taken as your own
words; both are shown as understood.`,
		Example: `  ruledout ask P1B77 --machine "Halden Brisk 3 2019" --passed "coil resistance of heater relay" --tried "replace heater fuse"
  ruledout ask P1B77 --machine "Halden Brisk 3 2019" --plan --rate "60 EUR/h" --have "heater relay"`,
		RunE: func(c *cobra.Command, list []string) error {
			f.q.Words = strings.Join(list, " ")
			return a.withBook(c.Context(), true, func(b *casebook.Book) error { return a.ask(c, b, f) })
		},
	}
	askQuestionFlags(c, &f.q)
	c.Flags().StringVar(&f.caseFile, "case", "", "an open case record in a `file` (- for standard input) as the question")
	c.Flags().StringVar(&f.batch, "batch", "", "open cases in a `file`, one record a line: one answer a line, in order")
	c.Flags().BoolVar(&f.because, "because", false, "show the factors behind each probability")
	c.Flags().StringVar(&f.why, "why", "", "show the whole reckoning for one `component`, to be checked by hand")
	c.Flags().BoolVar(&f.everything, "all", false, "show every possible culprit, also the unlikely ones")
	planFlags(c, &f)
	a.jsonFlag(c, "print the answer as JSON")
	return c
}

func planFlags(c *cobra.Command, f *askFlags) {
	c.Flags().BoolVar(&f.plan, "plan", false, "plan the repair by expected cost, step by step")
	c.Flags().StringVar(&f.wish.Rate, "rate", "", "with --plan: what an hour of work costs, such as `\"60 EUR/h\"`")
	c.Flags().StringVar(&f.wish.HandOver, "handover", "", "with --plan: what handing over costs, such as `\"250 EUR\"`")
	c.Flags().StringArrayVar(&f.wish.Have, "have", nil, "with --plan: a `part` or tool at hand (may be repeated)")
	c.Flags().StringArrayVar(&f.wish.Cannot, "cannot", nil, "with --plan: a `test`, repair or component that you cannot do (may be repeated)")
	c.Flags().StringSliceVar(&f.wish.Licensed, "licensed", nil, "with --plan: licence `areas` you are qualified for: "+strings.Join(kb.LicenceAreas(), ", "))
}

// planned names a flag of the plan that was given, empty if none was.
func (f askFlags) planned() string {
	w := f.wish
	for _, x := range []struct {
		flag  string
		given bool
	}{{"--rate", w.Rate != ""}, {"--handover", w.HandOver != ""}, {"--have", len(w.Have) > 0}, {"--cannot", len(w.Cannot) > 0}, {"--licensed", len(w.Licensed) > 0}} {
		if x.given {
			return x.flag
		}
	}
	return ""
}

// answer asks the book, for a plan too if one is wanted.
func (f askFlags) answer(ctx context.Context, b *casebook.Book, q kb.Case) (kb.Answer, error) {
	if f.plan {
		return b.AskPlan(ctx, q, f.wish)
	}
	return b.Ask(ctx, q)
}

func askQuestionFlags(c *cobra.Command, q *casebook.Question) {
	list := func(p *[]string, name, usage string) { c.Flags().StringArrayVar(p, name, nil, usage) }
	c.Flags().StringVar(&q.Machine, "machine", "", "make, `model` and year")
	list(&q.Symptoms, "symptom", "a `symptom` that is there (may be repeated, as all below)")
	list(&q.Absent, "absent", "a `symptom` that is not there")
	list(&q.Passed, "passed", "`\"TEST of COMPONENT\"` that found the component good")
	list(&q.Failed, "failed", "`\"TEST of COMPONENT\"` that found it bad")
	list(&q.Readings, "reading", "`\"TEST of COMPONENT = 84 ohm limit 75 to 95 ohm\"`, the limit where you know it")
	list(&q.Tried, "tried", "`\"ACTION COMPONENT\"` that did not cure")
}

func (a *app) ask(c *cobra.Command, b *casebook.Book, f askFlags) error {
	if flag := f.planned(); flag != "" && !f.plan {
		return usage{fmt.Errorf("ask: %s goes with --plan", flag)}
	}
	if f.why != "" && (f.plan || f.batch != "") {
		return usage{errors.New("ask: --why is for one question and no plan")}
	}
	if f.batch != "" && f.plan {
		return usage{errors.New("ask: --plan is for one question, not for --batch")}
	}
	if f.batch != "" {
		return a.askBatch(c, b, f.batch)
	}
	q, err := a.question(b, f)
	if err != nil {
		return err
	}
	if f.why != "" {
		return a.why(c.Context(), b, q, f.why)
	}
	answer, err := f.answer(c.Context(), b, q)
	if err != nil {
		return err
	}
	if a.json {
		return a.printJSON(answer)
	}
	return printAnswer(a.stdout, answer, f.because, f.everything)
}

// why prints the reckoning of one culprit.
func (a *app) why(ctx context.Context, b *casebook.Book, q kb.Case, component string) error {
	account, err := b.Why(ctx, q, component)
	if err != nil {
		return err
	}
	if a.json {
		return a.printJSON(account)
	}
	return printWhy(a.stdout, account)
}

func (a *app) question(b *casebook.Book, f askFlags) (kb.Case, error) {
	if f.caseFile != "" {
		return a.caseIn(f.caseFile)
	}
	q, err := b.Understand(f.q)
	if err != nil {
		return kb.Case{}, err
	}
	if len(q.Codes)+len(q.Symptoms)+len(q.Tests)+len(q.Fixes) == 0 && q.Machine.Make == "" {
		return kb.Case{}, usage{errors.New(`ask: name a code, a symptom or a machine; see "ruledout help ask"`)}
	}
	return q, nil
}

// caseIn reads the one case record of a file; it may stand on several lines.
func (a *app) caseIn(file string) (kb.Case, error) {
	in, err := a.open(file)
	if err != nil {
		return kb.Case{}, err
	}
	defer in.Close()
	text, err := io.ReadAll(io.LimitReader(in, kb.MaxRecord))
	if err != nil {
		return kb.Case{}, kb.Errorf(kb.Invalid, "read %s: %w", file, err)
	}
	if len(bytes.TrimSpace(text)) == 0 {
		return kb.Case{}, &kb.Error{Kind: kb.Invalid, File: file, Msg: "there is no case record in it"}
	}
	c, err := kb.DecodeCase(bytes.TrimPrefix(text, []byte("\xef\xbb\xbf")))
	if err == nil {
		err = c.CheckRecord()
	}
	if err != nil {
		return kb.Case{}, kb.At(err, file, 0)
	}
	return c, nil
}

// badLine is what a batch prints for a line that could not be answered.
type badLine struct {
	ID    string `json:"id"`
	Error string `json:"error"`
}

func (a *app) askBatch(c *cobra.Command, b *casebook.Book, file string) error {
	in, err := a.open(file)
	if err != nil {
		return err
	}
	defer in.Close()
	bad := 0
	enc := json.NewEncoder(a.stdout)
	enc.SetEscapeHTML(false)
	err = b.AskBatch(c.Context(), in, file, func(r casebook.Reply) error {
		if r.Err != nil {
			bad++
			return enc.Encode(badLine{r.ID, r.Err.Error()})
		}
		return enc.Encode(r.Answer)
	})
	if err == nil && bad > 0 {
		fmt.Fprintf(a.stderr, "ruledout: %s of %s could not be answered\n", count(bad, "line"), file)
		return quiet{exitPartly}
	}
	return err
}

func (a *app) findCommand() *cobra.Command {
	var opt casebook.FindOptions
	var states []string
	c := &cobra.Command{
		Use: "find WORDS...", Short: "search the text and fields of the cases", Args: args(cobra.MinimumNArgs(1)),
		Long: `Searches cases. WORDS may hold "phrases", -words to leave out, and fields: code:P0420 make:halden model: component:
action: kind: year: confirmation:`,
		RunE: func(c *cobra.Command, list []string) error {
			var err error
			if opt.States, err = stateList(states); err != nil {
				return err
			}
			return a.withBook(c.Context(), true, func(b *casebook.Book) error {
				found, err := b.Find(c.Context(), joinQuery(list), opt)
				if err != nil {
					return err
				}
				if a.json {
					return a.printJSON(found)
				}
				printFound(a.stdout, found)
				return nil
			})
		},
	}
	c.Flags().IntVar(&opt.Size, "size", 10, "how many hits")
	c.Flags().IntVar(&opt.From, "from", 0, "pass over the first hits")
	c.Flags().StringSliceVar(&states, "state", nil, "cases in these `states` (default: published)")
	a.jsonFlag(c, "print the result as JSON")
	return c
}

// joinQuery joins arguments; one that the shell has taken out of its quotation marks becomes a phrase again.
func joinQuery(list []string) string {
	parts := make([]string, len(list))
	for i, s := range list {
		if strings.ContainsAny(s, " \t") && !strings.Contains(s, `"`) && len(list) > 1 {
			s = `"` + s + `"`
		}
		parts[i] = s
	}
	return strings.Join(parts, " ")
}

func (a *app) verifyCommand() *cobra.Command {
	c := &cobra.Command{
		Use: "verify", Short: "check that the book's invariants hold", Args: args(cobra.NoArgs),
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withBook(c.Context(), true, func(b *casebook.Book) error {
				problems, err := b.Verify(c.Context())
				if err != nil {
					return err
				}
				return a.verified(problems)
			})
		},
	}
	a.jsonFlag(c, "print the problems as JSON")
	return c
}

func (a *app) verified(problems []casebook.Problem) error {
	if a.json {
		if err := a.printJSON(problems); err != nil {
			return err
		}
	} else {
		for _, p := range problems {
			fmt.Fprintf(a.stdout, "%s: %s\n", p.Part, p.What)
		}
		if len(problems) == 0 {
			fmt.Fprintln(a.stdout, "the log, the store, the index, the evidence table and the redirects agree")
		}
	}
	if len(problems) > 0 {
		return quiet{exitFault}
	}
	return nil
}
