package main

import (
	"context"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/kb"
)

// readable are the file names that are taken from a folder.
var readable = []string{".md", ".markdown", ".html", ".htm", ".txt", ".mbox", ".eml", ".csv", ".tsv"}

type addFlags struct {
	accept, dryRun bool
	columns        []string
	licence        string
}

func (a *app) addCommand() *cobra.Command {
	var f addFlags
	c := &cobra.Command{
		Use: "add FILE|DIR|- ...", Short: "read write-ups into draft cases", Args: args(cobra.MinimumNArgs(1)),
		Long: `Reads write-ups (Markdown, saved HTML pages, plain text, mail boxes, CSV tables) and keeps what they tell as draft cases.
Personal data is masked before anything is stored. Drafts wait for review; of a folder, files with known endings are read.
A file that cannot be read is named and the rest goes in (exit code 3).`,
		RunE: func(c *cobra.Command, list []string) error { return a.add(c.Context(), list, f) },
	}
	c.Flags().BoolVar(&f.accept, "accept", false, "publish at once, without review: for a source you trust")
	c.Flags().BoolVar(&f.dryRun, "dry-run", false, "only show what would be read")
	c.Flags().StringSliceVar(&f.columns, "columns", nil, "columns of a CSV table, `role=column`, such as id=ident,found=problem,done=action; only these are read")
	c.Flags().StringVar(&f.licence, "licence", "", "licence of the texts where they state none")
	a.jsonFlag(c, "print case records, one a line")
	return c
}

func (a *app) add(ctx context.Context, list []string, f addFlags) error {
	columns, err := columnRoles(f.columns)
	if err != nil {
		return err
	}
	paths, err := writeupPaths(list)
	if err != nil {
		return err
	}
	opt := ingest.Options{Columns: columns, Licence: f.licence}
	out := &addOutput{app: a, dryRun: f.dryRun}
	if f.dryRun {
		err = a.look(ctx, paths, opt, out)
	} else {
		err = a.withBook(ctx, false, func(b *casebook.Book) error {
			o := casebook.AddOptions{Accept: f.accept, Read: opt, Total: len(paths)}
			return b.Add(ctx, a.who(), a.files(paths), o, out.report)
		})
	}
	if err != nil {
		return err
	}
	return out.end()
}

// look reads without storing anything.
func (a *app) look(ctx context.Context, paths []string, opt ingest.Options, out *addOutput) error {
	dir, err := a.folder()
	if err != nil {
		return err
	}
	voc, err := casebook.VocabularyIn(dir)
	if err != nil {
		return err
	}
	return casebook.ReadFiles(ctx, a.files(paths), opt, ingest.NewExtractor(voc), func(r casebook.Reading) error {
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

// writeupPaths lists the files to read: each name as it is, and of a folder everything readable in it.
func writeupPaths(list []string) ([]string, error) {
	var out []string
	for _, name := range list {
		if name == "-" {
			out = append(out, name)
			continue
		}
		info, err := os.Stat(name)
		if err != nil {
			return nil, kb.Errorf(kb.Invalid, "%w", err)
		}
		if !info.IsDir() {
			out = append(out, name)
			continue
		}
		err = filepath.WalkDir(name, func(path string, d os.DirEntry, err error) error {
			if err == nil && !d.IsDir() && slices.Contains(readable, strings.ToLower(filepath.Ext(path))) {
				out = append(out, path)
			}
			return err
		})
		if err != nil {
			return nil, kb.Errorf(kb.Invalid, "%w", err)
		}
	}
	if len(out) == 0 {
		return nil, &kb.Error{Kind: kb.Invalid, File: strings.Join(list, ", "), Msg: "there is no write-up in it (looked for " + strings.Join(readable, " ") + ")"}
	}
	return out, nil
}

// files reads the named files one by one.
func (a *app) files(paths []string) iter.Seq2[ingest.File, error] {
	return func(yield func(ingest.File, error) bool) {
		for _, p := range paths {
			f := ingest.File{Name: p}
			var err error
			if p == "-" {
				f.Name = "standard input"
				f.Data, err = io.ReadAll(io.LimitReader(a.stdin, ingest.DefaultMaxBytes+1))
			} else {
				f.Data, err = readFile(p)
			}
			if err != nil {
				err = &kb.Error{Kind: kb.Invalid, File: p, Msg: "cannot be read", Err: err}
			}
			if !yield(f, err) {
				return
			}
		}
	}
}

// readFile reads a file, but never more than a reader of write-ups would take.
func readFile(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, ingest.DefaultMaxBytes+1))
}

// addOutput prints what adding does, file by file.
type addOutput struct {
	app             *app
	dryRun          bool
	files, writeups int
	bad             int
	effects         map[casebook.Effect]int
	doubts          int
}

func (o *addOutput) report(r casebook.FileReport) error {
	o.files += 1 + len(r.More)
	o.writeups += len(r.Threads)
	if r.Err != nil {
		o.bad++
		fmt.Fprintln(o.app.stderr, "ruledout:", r.Err)
		return nil
	}
	if o.effects == nil {
		o.effects = map[casebook.Effect]int{}
	}
	for _, added := range r.Cases {
		o.effects[added.Effect]++
		o.doubts += len(added.Case.Doubts)
		if err := o.one(added); err != nil {
			return err
		}
	}
	return nil
}

func (o *addOutput) one(added casebook.Added) error {
	if o.app.json {
		line, err := kb.EncodeCase(added.Case)
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(o.app.stdout, "%s\n", line)
		return err
	}
	if o.dryRun {
		printCase(o.app.stdout, added.Case)
		fmt.Fprintln(o.app.stdout)
		return nil
	}
	_, err := fmt.Fprintf(o.app.stdout, "%s  %-9s  %s\n", added.Case.ID, added.Effect, headline(added.Case))
	return err
}

func (o *addOutput) end() error {
	if !o.app.json {
		fmt.Fprintf(o.app.stdout, "%s, %s: %s", count(o.files, "file"), count(o.writeups, "write-up"), effectCounts(o.effects))
		if o.doubts > 0 {
			fmt.Fprintf(o.app.stdout, "; %s to settle (ruledout show CASE)", count(o.doubts, "doubt"))
		}
		fmt.Fprintln(o.app.stdout)
	}
	switch {
	case o.bad > 0 && o.bad == o.files:
		return quiet{exitInput}
	case o.bad > 0:
		return quiet{exitPartly}
	}
	return nil
}

func effectCounts(effects map[casebook.Effect]int) string {
	var parts []string
	for _, e := range []casebook.Effect{casebook.EffectNew, casebook.EffectUpdated, casebook.EffectProposed, casebook.EffectSame, casebook.EffectKept} {
		if n := effects[e]; n > 0 {
			parts = append(parts, fmt.Sprintf("%s %s", count(n, "case"), e))
		}
	}
	if len(parts) == 0 {
		return "no case found in them"
	}
	return strings.Join(parts, ", ")
}

// count prints a number with its noun.
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
