package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/kb"
)

type addFlags struct {
	accept, dryRun, explain, keepGoing bool
	columns                            []string
	licence, summary                   string
}

func (a *app) addCommand() *cobra.Command {
	var f addFlags
	c := &cobra.Command{
		Use: "add FILE|DIR|ZIP|- ...", Short: "read write-ups into draft cases", Args: args(cobra.MinimumNArgs(1)),
		Long: `Reads write-ups (Markdown, saved HTML pages, plain text, mail boxes, CSV tables) and keeps what they tell as draft cases.
Personal data is masked before anything is stored. Drafts wait for review ("ruledout review").

Of a folder or a ZIP archive, files with known endings are read; hidden files, links that lead out of the folder, devices and
pipes are passed over. Saved pages of one thread that are given together are joined in order. A thread may be read again later,
wholly or in part: posts known before are kept, new ones added, edited ones have their new words, and its cases are brought up
to date. A published case is not changed by it: what was read waits beside it.

A file that cannot be read is named and the rest goes in (exit code 3). A file or archive goes in whole or not at all; with
--keep-going what can be read of an archive goes in.`,
		RunE: func(c *cobra.Command, list []string) error { return a.add(c.Context(), list, f) },
	}
	c.Flags().BoolVar(&f.accept, "accept", false, "publish at once, without review: for a source you trust")
	c.Flags().BoolVar(&f.dryRun, "dry-run", false, "only show what would be read")
	c.Flags().BoolVar(&f.explain, "explain", false, "print the text with what was understood marked in it: [n: words], with the facts by number below each line")
	c.Flags().BoolVar(&f.keepGoing, "keep-going", false, "take in what can be read of an archive, and name the rest (exit code 3)")
	c.Flags().StringSliceVar(&f.columns, "columns", nil, "columns of a CSV table, `role=column`, such as id=ident,found=problem,done=action; only these are read")
	c.Flags().StringVar(&f.licence, "licence", "", "licence of the texts where they state none")
	c.Flags().StringVar(&f.summary, "summary", "", "write the summary as JSON to `FILE`")
	a.jsonFlag(c, "print case records, one a line")
	return c
}

func (a *app) add(ctx context.Context, list []string, f addFlags) error {
	if f.explain && a.json {
		return usage{errors.New("--explain prints text: leave --json out")}
	}
	columns, err := columnRoles(f.columns)
	if err != nil {
		return err
	}
	found, err := a.sourcesOf(list)
	if err != nil {
		return err
	}
	defer found.close()
	found.keepGoing = f.keepGoing
	opt := ingest.Options{Columns: columns, Licence: f.licence}
	out := &addOutput{app: a, flags: f}
	if f.dryRun {
		err = a.look(ctx, found, opt, out)
	} else {
		err = a.withBook(ctx, false, func(b *casebook.Book) error {
			o := casebook.AddOptions{Accept: f.accept, Read: opt, Total: found.total()}
			return b.Add(ctx, a.who(), found.files(ctx, opt), o, out.report)
		})
	}
	if err != nil {
		return err
	}
	return out.end()
}

// look reads without storing anything.
func (a *app) look(ctx context.Context, found *sources, opt ingest.Options, out *addOutput) error {
	dir, err := a.folder()
	if err != nil {
		return err
	}
	voc, err := casebook.VocabularyIn(dir)
	if err != nil {
		return err
	}
	a.bar = newProgress(a.stderr)
	defer a.bar.done()
	n := 0
	return casebook.ReadFiles(ctx, found.files(ctx, opt), opt, ingest.NewExtractor(voc), func(r casebook.Reading) error {
		n += 1 + len(r.More)
		a.bar.show(casebook.Progress{Work: "reading write-ups", Done: n, Total: found.total(), Item: r.File})
		done := casebook.FileReport{File: r.File, More: r.More, Threads: r.Threads, Err: r.Err}
		for _, drafts := range r.Drafts {
			for _, d := range drafts {
				done.Cases = append(done.Cases, casebook.Added{Case: d, Effect: casebook.EffectNew})
			}
		}
		return out.report(done)
	})
}

func columnRoles(list []string) (map[string]string, error) {
	roles := map[string]string{}
	for _, item := range list {
		role, column, ok := strings.Cut(item, "=")
		if !ok || role == "" || column == "" {
			return nil, usage{fmt.Errorf("--columns %q: want role=column, such as found=problem", item)}
		}
		roles[role] = column
	}
	return roles, nil
}

// addOutput prints what adding does, file by file, and sums it up.
type addOutput struct {
	app   *app
	flags addFlags
	sum   addSummary
}

func (o *addOutput) report(r casebook.FileReport) error {
	o.app.bar.clear()
	var over *ingest.Skipped
	if asSkipped(r.Err, &over) {
		o.sum.Skipped = append(o.sum.Skipped, skippedFile{File: over.Name, Why: over.Why})
		fmt.Fprintln(o.app.stderr, "ruledout:", r.Err)
		return nil
	}
	o.sum.add(r)
	if r.Err != nil {
		fmt.Fprintln(o.app.stderr, "ruledout:", r.Err)
		return nil
	}
	if o.flags.explain {
		return printExplained(o.app.stdout, r)
	}
	for _, added := range r.Cases {
		if err := o.one(added); err != nil {
			return err
		}
	}
	return nil
}

func asSkipped(err error, over **ingest.Skipped) bool { return err != nil && errors.As(err, over) }

func (o *addOutput) one(added casebook.Added) error {
	if o.app.json {
		line, err := kb.EncodeCase(added.Case)
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(o.app.stdout, "%s\n", line)
		return err
	}
	if o.flags.dryRun {
		printCase(o.app.stdout, added.Case)
		fmt.Fprintln(o.app.stdout)
		return nil
	}
	_, err := fmt.Fprintf(o.app.stdout, "%s  %-9s  %s\n", added.Case.ID, added.Effect, headline(added.Case))
	return err
}

func (o *addOutput) end() error {
	o.app.bar.done()
	if !o.app.json {
		printSummary(o.app.stdout, o.sum)
	}
	if o.flags.summary != "" {
		if err := writeSummary(o.flags.summary, o.sum); err != nil {
			return err
		}
	}
	switch {
	case o.sum.Files == 0:
		return &kb.Error{Kind: kb.Invalid, Msg: "there was no write-up to read"}
	case o.sum.Failed == o.sum.Files:
		return quiet{exitInput}
	case o.sum.Failed > 0:
		return quiet{exitPartly}
	}
	return nil
}

// count prints a number with its noun.
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
