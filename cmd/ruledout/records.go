package main

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

func (a *app) importCommand() *cobra.Command {
	var opt casebook.ImportOptions
	var refit bool
	c := &cobra.Command{
		Use: "import FILE.jsonl|-", Short: "take in case records, one JSON object a line", Args: args(cobra.ExactArgs(1)),
		Long: `Takes in case records (version 1, see "ruledout schema"). All or nothing by default: one bad line keeps everything out.
The same id with the same content is a no-op, with other content a new revision. A record without a state is published.`,
		RunE: func(c *cobra.Command, list []string) error {
			opt.File = list[0]
			in, err := a.open(list[0])
			if err != nil {
				return err
			}
			defer in.Close()
			return a.withBook(c.Context(), false, func(b *casebook.Book) error {
				r, err := b.Import(c.Context(), a.who(), in, opt)
				var fitted *casebook.Refitted
				if err == nil && refit {
					var f casebook.Refitted
					f, err = b.Refit(c.Context(), a.who(), casebook.RefitOptions{})
					fitted = &f
				}
				return a.imported(r, fitted, err)
			})
		},
	}
	c.Flags().BoolVar(&opt.KeepGoing, "keep-going", false, "skip bad lines, list them, and take in the rest (exit code 3)")
	c.Flags().BoolVar(&refit, "refit", false, "then fit the constants of the model to the cases (see \"ruledout help refit\")")
	c.Flags().BoolVar(&opt.Trusted, "trusted", false, "a source that counts in full: each case as one")
	a.jsonFlag(c, "print the counts as JSON")
	return c
}

// imported tells what an import did, and the refit after it where one was asked for.
func (a *app) imported(r casebook.ImportReport, fitted *casebook.Refitted, err error) error {
	for _, bad := range r.Bad {
		fmt.Fprintln(a.stderr, "ruledout:", bad)
	}
	if err != nil {
		return err
	}
	if a.json {
		out := struct {
			casebook.ImportReport
			Refit *casebook.Refitted `json:"refit,omitempty"`
		}{r, fitted}
		if err := a.printJSON(out); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(a.stdout, "%s new, %d changed, %d unchanged", count(r.New, "case"), r.Changed, r.Same)
		if len(r.Bad) > 0 {
			fmt.Fprintf(a.stdout, "; %s skipped", count(len(r.Bad), "bad line"))
		}
		fmt.Fprintln(a.stdout)
		if fitted != nil {
			if err := printRefitted(a.stdout, *fitted); err != nil {
				return err
			}
		}
	}
	if len(r.Bad) > 0 {
		return quiet{exitPartly}
	}
	return nil
}

// open opens a named file, or standard input for "-".
func (a *app) open(name string) (io.ReadCloser, error) {
	if name == "-" {
		return io.NopCloser(a.stdin), nil
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, kb.Errorf(kb.Invalid, "%w", err)
	}
	return f, nil
}

func (a *app) exportCommand() *cobra.Command {
	var states, licences []string
	c := &cobra.Command{
		Use: "export", Short: "write out the cases as records, one JSON object a line", Args: args(cobra.NoArgs),
		RunE: func(c *cobra.Command, _ []string) error {
			list, err := stateList(states)
			if err != nil {
				return err
			}
			return a.withBook(c.Context(), true, func(b *casebook.Book) error {
				_, err := b.Export(c.Context(), a.stdout, casebook.ExportOptions{States: list, Licences: licences})
				return err
			})
		},
	}
	c.Flags().StringSliceVar(&states, "state", nil, "only cases in these `states`: draft, published, withdrawn, merged")
	c.Flags().StringSliceVar(&licences, "licence", nil, "only cases whose every source carries one of these licences")
	return c
}

func stateList(names []string) ([]kb.State, error) {
	var out []kb.State
	for _, n := range names {
		found := false
		for _, s := range kb.States() {
			if string(s) == n {
				out, found = append(out, s), true
			}
		}
		if !found {
			return nil, usage{fmt.Errorf("--state %q: want draft, published, withdrawn or merged", n)}
		}
	}
	return out, nil
}

func (a *app) schemaCommand() *cobra.Command {
	return &cobra.Command{
		Use: "schema", Short: "print the JSON Schema of the case record", Args: args(cobra.NoArgs),
		RunE: func(*cobra.Command, []string) error {
			_, err := a.stdout.Write(kb.Schema())
			return err
		},
	}
}
