package main

import (
	"os"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"ruledout": func() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) },
	})
}

// TestScripts runs the real command in text archives: each has its own folder and its own book.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("RULEDOUT_DATA", e.WorkDir+"/book")
			e.Setenv("USER", "anna")
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"exit": exitIs},
	})
}

// exitIs runs a command and wants exactly this exit code: exit 3 ruledout add ...
func exitIs(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exit CODE COMMAND ...")
	}
	err := ts.Exec(args[1], args[2:]...)
	got := "0"
	if coded, ok := err.(interface{ ExitCode() int }); ok {
		got = strconv.Itoa(coded.ExitCode())
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if got != args[0] {
		ts.Fatalf("exit code %s, want %s", got, args[0])
	}
}
