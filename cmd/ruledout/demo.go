package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/internal/demo"
	"ruledout/kb"
)

func (a *app) demoCommand() *cobra.Command {
	var keep, listen string
	var serve bool
	c := &cobra.Command{
		Use: "demo", Short: "see the whole job on the write-ups of an invented municipal workshop", Args: args(cobra.NoArgs),
		Long: `Reads the demo's write-ups with the same code that reads yours, accepts and indexes the cases, and asks a handful of
questions. Makers, models, places and people are invented. The book is made in a temporary folder unless --keep names one.`,
		RunE: func(c *cobra.Command, _ []string) error {
			if !serve {
				listen = ""
			}
			return a.demo(c.Context(), keep, listen)
		},
	}
	c.Flags().StringVar(&keep, "keep", "", "keep the book in this `folder`")
	c.Flags().BoolVar(&serve, "serve", false, "serve the pages of the demo's book afterwards, until interrupted")
	listenFlag(c, &listen)
	return c
}

func (a *app) demo(ctx context.Context, keep, listen string) (err error) {
	a.dataDir = keep
	if keep == "" {
		if a.dataDir, err = os.MkdirTemp("", "ruledout-demo-"); err != nil {
			return kb.Errorf(kb.Unavailable, "make a folder for the demo: %w", err)
		}
		defer func() { err = errors.Join(err, os.RemoveAll(a.dataDir)) }()
	}
	return a.withBook(ctx, false, func(b *casebook.Book) error {
		if err := a.demoRead(ctx, b); err != nil {
			return err
		}
		for _, q := range demo.Questions() {
			if err := a.demoAsk(ctx, b, q); err != nil {
				return err
			}
		}
		if err := a.demoEnd(ctx, b, keep); err != nil || listen == "" {
			return err
		}
		return a.serve(ctx, b, serving{listen: listen})
	})
}

// demoRead reads every write-up and publishes what was read, as a moderator would after review.
func (a *app) demoRead(ctx context.Context, b *casebook.Book) error {
	files := demo.Files()
	names, err := fs.Glob(files, "*")
	if err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "READING %s\n", count(len(names), "file"))
	cases, closed, doubts := 0, 0, 0
	opt := casebook.AddOptions{Accept: true, Total: len(names)}
	err = b.Add(ctx, casebook.Actor{Name: "demo", Role: casebook.Moderator}, demoFiles(files, names), opt, func(r casebook.FileReport) error {
		if r.Err != nil {
			return r.Err
		}
		fmt.Fprintf(a.stdout, "  %-26s %s\n", r.File, count(len(r.Cases), "case"))
		for _, added := range r.Cases {
			cases++
			doubts += len(added.Case.Doubts)
			if added.Case.Status == kb.Closed {
				closed++
			}
			fmt.Fprintf(a.stdout, "    %s  %s\n", added.Case.ID, headline(added.Case))
		}
		return nil
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "%s, %d of them closed; %s left for a contributor to settle\n", count(cases, "case"), closed, count(doubts, "doubt"))
	return nil
}

func demoFiles(files fs.FS, names []string) iter.Seq2[ingest.File, error] {
	return func(yield func(ingest.File, error) bool) {
		for _, name := range names {
			data, err := fs.ReadFile(files, name)
			if !yield(ingest.File{Name: name, Data: data}, err) {
				return
			}
		}
	}
}

// demoAsk asks one question through the same command line that a technician types.
func (a *app) demoAsk(ctx context.Context, b *casebook.Book, q demo.Question) error {
	fmt.Fprintf(a.stdout, "\n%s\n%s\n$ ruledout ask %s\n\n", strings.Repeat("-", 100), q.Title, shellWords(q.Args))
	var f askFlags
	c := &cobra.Command{Use: "ask"}
	askQuestionFlags(c, &f.q)
	planFlags(c, &f)
	if err := c.ParseFlags(q.Args); err != nil {
		return err
	}
	f.q.Words = strings.Join(c.Flags().Args(), " ")
	question, err := a.question(b, f)
	if err != nil {
		return err
	}
	answer, err := f.answer(ctx, b, question)
	if err != nil {
		return err
	}
	return printAnswer(a.stdout, answer, false, false)
}

func shellWords(list []string) string {
	out := make([]string, len(list))
	for i, s := range list {
		if strings.ContainsAny(s, " =()") {
			s = `"` + s + `"`
		}
		out[i] = s
	}
	return strings.Join(out, " ")
}

func (a *app) demoEnd(ctx context.Context, b *casebook.Book, keep string) error {
	problems, err := b.Verify(ctx)
	if err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "\n%s\n", strings.Repeat("-", 100))
	if err := a.verified(problems); err != nil {
		return err
	}
	if keep == "" {
		fmt.Fprintln(a.stdout, "To go on with this book: ruledout demo --keep FOLDER, then ruledout --data FOLDER find|show|ask ...")
		return nil
	}
	fmt.Fprintf(a.stdout, "The book is in %s: ruledout --data %s find|show|ask ...\n", keep, keep)
	return nil
}
