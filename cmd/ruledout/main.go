// Command ruledout is a casebook of confirmed repairs: it reads write-ups into cases and answers what fixed a fault for others,
// what can be ruled out and what to check next.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"ruledout/kb"
)

// Exit codes. They are documented in the README and in "ruledout help".
const (
	exitDone        = 0
	exitFault       = 1 // a fault of the program, or verify found damage
	exitInput       = 2 // the call or its input is wrong; nothing was done
	exitPartly      = 3 // some input was bad; the rest went in
	exitState       = 4 // no such case, or the change does not fit its state
	exitUnavailable = 5 // the data is locked, full, read-only or unreachable
	exitInterrupted = 130
)

func main() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// run is the whole program with its surroundings as arguments; it gives the exit code.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	a := &app{stdin: stdin, stdout: stdout, stderr: stderr}
	root := a.root()
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return exitDone
	}
	if ctx.Err() != nil {
		fmt.Fprintln(stderr, "ruledout: interrupted; what was finished before is kept")
		return exitInterrupted
	}
	var told quiet
	if !errors.As(err, &told) {
		fmt.Fprintln(stderr, "ruledout:", err)
	}
	return exitCode(err)
}

// quiet is a failure that has been reported in full already.
type quiet struct{ code int }

func (q quiet) Error() string { return fmt.Sprintf("exit code %d", q.code) }

// usage is a call that cannot be understood.
type usage struct{ error }

func (u usage) Unwrap() error { return u.error }

func exitCode(err error) int {
	var told quiet
	if errors.As(err, &told) {
		return told.code
	}
	if errors.As(err, &usage{}) {
		return exitInput
	}
	switch kb.KindOf(err) {
	case kb.Invalid:
		return exitInput
	case kb.NotFound, kb.Conflict, kb.Forbidden:
		return exitState
	case kb.Unavailable:
		return exitUnavailable
	}
	return exitFault
}
