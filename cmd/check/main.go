// Command check runs the project's own checks in order, printing each step as it goes, and installs what they need where it is
// missing: formatting, vet, staticcheck, all tests with the race detector, and those that measure open data without it. It stops at the first step that fails. With --reference
// it runs only what the default run leaves out: a general-purpose library anew, where it is installed, beside its recorded values.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"time"
)

// step is one check.
type step struct {
	name string
	what string
	run  func(context.Context) error
}

func main() {
	only := flag.String("only", "", "run one `step` only: "+stepNames())
	reference := flag.Bool("reference", false, "run only the comparison with the reference library (Debian's python3-sklearn)")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	list := steps()
	if *reference {
		list = []step{{"reference", "recorded values and the likelihood kernel against scikit-learn, run anew", checkReference}}
	}
	if err := runAll(ctx, list, *only); err != nil {
		fmt.Fprintln(os.Stderr, "check:", err)
		os.Exit(1)
	}
}

func steps() []step {
	return []step{
		{"tools", "the tools that the tests need are there", installTools},
		{"format", "every file is formatted", checkFormat},
		{"modules", "the module files are whole", goRun("mod", "verify")},
		{"vet", "go vet finds nothing", goRun("vet", "./...")},
		{"staticcheck", "staticcheck finds nothing", goRun("tool", "staticcheck", "./...")},
		{"test", "all tests pass, with the race detector (the import table is one of them)", runTests},
		{"open data", "the tests that measure shared open data pass, where it is there", goRun("test", "-timeout", "20m", "./kb/rank", "./internal/casebook",
			"./internal/index", "./cmd/ruledout")},
	}
}

func stepNames() string {
	var names []string
	for _, s := range steps() {
		names = append(names, s.name)
	}
	return strings.Join(names, ", ")
}

func runAll(ctx context.Context, list []step, only string) error {
	begin, ran := time.Now(), 0
	for _, s := range list {
		if only != "" && s.name != only {
			continue
		}
		at := time.Now()
		fmt.Printf("== %s: %s\n", s.name, s.what)
		if err := s.run(ctx); err != nil {
			return fmt.Errorf("%s: %w", s.name, err)
		}
		fmt.Printf("== %s: done in %.1f s\n", s.name, time.Since(at).Seconds())
		ran++
	}
	if ran == 0 {
		return fmt.Errorf("there is no step %q; want one of: %s", only, stepNames())
	}
	fmt.Printf("all %d steps passed in %.0f s\n", ran, time.Since(begin).Seconds())
	return nil
}

// command prepares a command that shows its output as it comes.
func command(ctx context.Context, env []string, name string, args ...string) *exec.Cmd {
	c := exec.CommandContext(ctx, name, args...)
	c.Stdout, c.Stderr = os.Stdout, os.Stderr
	c.Env = append(os.Environ(), env...)
	return c
}

func goRun(args ...string) func(context.Context) error {
	return func(ctx context.Context) error { return command(ctx, nil, "go", args...).Run() }
}

func checkFormat(ctx context.Context) error {
	out, err := exec.CommandContext(ctx, "gofmt", "-l", ".").Output()
	if err != nil {
		return err
	}
	if list := strings.TrimSpace(string(out)); list != "" {
		return errors.New("these files are not formatted (run gofmt -w on them):\n" + list)
	}
	return nil
}

// installTools brings what the tests need where it is missing: a C compiler for the race detector, and Chromium for the pages. Without the
// right to install, the tests run without the race detector and without a browser, and say so.
func installTools(ctx context.Context) error {
	var missing []string
	if !haveCompiler() {
		missing = append(missing, "gcc", "libc6-dev")
	}
	if _, err := exec.LookPath("chromium"); err != nil {
		missing = append(missing, "chromium")
	}
	if len(missing) == 0 {
		return nil
	}
	if _, err := exec.LookPath("apt-get"); err != nil || os.Geteuid() != 0 {
		fmt.Printf("not here, and no right to install: %s; the tests that need them are left out\n", strings.Join(missing, ", "))
		return nil
	}
	quiet := []string{"DEBIAN_FRONTEND=noninteractive"}
	err := command(ctx, quiet, "apt-get", "update", "-q").Run()
	if err == nil {
		err = command(ctx, quiet, "apt-get", append([]string{"install", "-y", "-q"}, missing...)...).Run()
	}
	if err != nil {
		fmt.Printf("could not install %s: %v; the tests that need them are left out\n", strings.Join(missing, ", "), err)
	}
	return nil
}

func haveCompiler() bool {
	_, err := exec.LookPath("gcc")
	return err == nil
}

func runTests(ctx context.Context) error {
	if !haveCompiler() {
		return command(ctx, nil, "go", "test", "-timeout", "20m", "./...").Run()
	}
	return command(ctx, []string{"CGO_ENABLED=1"}, "go", "test", "-race", "-timeout", "20m", "./...").Run()
}
