package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"

	"github.com/spf13/cobra"

	"ruledout/internal/casebook"
)

// app holds what every command needs.
type app struct {
	stdin          io.Reader
	stdout, stderr io.Writer
	dataDir        string
	actor          string
	json           bool
	bar            *progress // of long work, nil if none is shown
}

const about = `ruledout is a casebook of confirmed repairs. It reads write-ups into cases and answers, for a fault code and
what has been tested already: what is ruled out, what to check next, and what fixed it for others - every number counted
from cases that it names.

Exit codes:
  0    done
  1    a fault of the program, or "verify" found damage
  2    the call or its input is wrong; nothing was done
  3    some of the input was bad; the rest went in
  4    no such case or account, or the change does not fit its state
  5    the data is locked, full, read-only or unreachable
  130  interrupted`

func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use: "ruledout", Short: "a casebook of confirmed repairs", Long: about,
		SilenceErrors: true, SilenceUsage: true,
		Args: func(_ *cobra.Command, list []string) error {
			if len(list) > 0 {
				return usage{fmt.Errorf("unknown command %q; see \"ruledout help\"", list[0])}
			}
			return nil
		},
		RunE:              func(c *cobra.Command, _ []string) error { return c.Help() },
		CompletionOptions: cobra.CompletionOptions{HiddenDefaultCmd: true},
	}
	root.AddCommand(a.userCommand(), a.termsCommand())
	root.PersistentFlags().StringVar(&a.dataDir, "data", "", "data `folder` (default: $RULEDOUT_DATA, else the platform's data folder)")
	root.PersistentFlags().StringVar(&a.actor, "by", "", "your `name` in the history (default: the account's)")
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usage{err} })
	root.AddCommand(a.demoCommand(), a.addCommand(), a.importCommand(), a.exportCommand(), a.askCommand(),
		a.backtestCommand(), a.findCommand(), a.reviewCommand(), a.showCommand(), a.acceptCommand(), a.sendBackCommand(), a.withdrawCommand(), a.closeCommand(), a.followUpCommand(), a.compareCommand(), a.mergeCommand(), a.unmergeCommand(), a.splitCommand(), a.verifyCommand(), a.refitCommand(), a.modelCommand(),
		a.judgeCommand(), a.duplicatesCommand(), a.notDuplicatesCommand(), a.limitsCommand(), a.calcCommand(), a.serveCommand(), a.schemaCommand())
	return root
}

// args makes the error of a wrong number of arguments a usage error.
func args(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(c *cobra.Command, list []string) error {
		if err := check(c, list); err != nil {
			return usage{fmt.Errorf("%s: %w; see \"ruledout help %s\"", c.Name(), err, c.Name())}
		}
		return nil
	}
}

// withBook opens the casebook for one command and closes it again.
func (a *app) withBook(ctx context.Context, readOnly bool, do func(*casebook.Book) error) (err error) {
	dir, err := a.folder()
	if err != nil {
		return err
	}
	a.bar = newProgress(a.stderr)
	defer a.bar.done()
	b, err := casebook.Open(ctx, casebook.Options{Dir: dir, ReadOnly: readOnly, Progress: a.bar.show})
	if err != nil {
		return err
	}
	defer func() {
		if e := b.Close(); err == nil {
			err = e
		}
	}()
	return do(b)
}

// folder gives the data folder: the flag, the environment, or the platform's place for an application's data.
func (a *app) folder() (string, error) {
	if a.dataDir != "" {
		return a.dataDir, nil
	}
	if dir := os.Getenv("RULEDOUT_DATA"); dir != "" {
		return dir, nil
	}
	if dir := os.Getenv("XDG_DATA_HOME"); dir != "" && runtime.GOOS != "windows" && runtime.GOOS != "darwin" {
		return filepath.Join(dir, "ruledout"), nil
	}
	if runtime.GOOS == "windows" || runtime.GOOS == "darwin" {
		dir, err := os.UserConfigDir() // AppData and Application Support hold data there too
		if err != nil {
			return "", fmt.Errorf("find the data folder: %w; name one with --data", err)
		}
		return filepath.Join(dir, "ruledout"), nil
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", fmt.Errorf("find the data folder: %w; name one with --data", err)
	}
	return filepath.Join(home, ".local", "share", "ruledout"), nil
}

// who gives the actor of this run: on one's own machine everyone may do everything.
func (a *app) who() casebook.Actor {
	name := a.actor
	for _, key := range []string{"USER", "USERNAME"} {
		if name == "" {
			name = os.Getenv(key)
		}
	}
	if name == "" {
		name = "someone"
	}
	return casebook.Actor{Name: name, Role: casebook.Administrator}
}

// printJSON writes one value as indented JSON.
func (a *app) printJSON(v any) error {
	enc := json.NewEncoder(a.stdout)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

// jsonFlag gives a command the --json flag.
func (a *app) jsonFlag(c *cobra.Command, what string) {
	c.Flags().BoolVar(&a.json, "json", false, what)
}
