package main

import (
	"archive/zip"
	"os"
	"strconv"
	"strings"
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
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"exit": exitIs, "pack": pack},
	})
}

// pack makes a ZIP archive of files: pack FILE.zip NAME=FILE ...
func pack(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: pack FILE.zip NAME=FILE ...")
	}
	out, err := os.Create(ts.MkAbs(args[0]))
	ts.Check(err)
	z := zip.NewWriter(out)
	for _, pair := range args[1:] {
		name, file, _ := strings.Cut(pair, "=")
		w, err := z.Create(name)
		ts.Check(err)
		_, err = w.Write([]byte(ts.ReadFile(file)))
		ts.Check(err)
	}
	ts.Check(z.Close())
	ts.Check(out.Close())
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
