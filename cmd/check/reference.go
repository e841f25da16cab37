package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// Where the recorded values of the reference library and the script that made them are, and the open data that it reads.
const (
	recordedFile   = "kb/rank/testdata/categoricalnb.json"
	recordedScript = "kb/rank/testdata/categoricalnb.py"
	referenceData  = "../shared/data/uci"
)

// recorded is the script's output.
type recorded struct {
	MadeWith   string `json:"made_with"`
	Posteriors []struct {
		Set       string
		TrainStep int `json:"train_step"`
		Row       int
		Log       []float64
	}
}

// checkReference runs the reference library anew on every row, holds the recorded values against it, and then our kernel.
func checkReference(ctx context.Context) error {
	python, err := pythonWithLibrary(ctx)
	if err != nil {
		return err
	}
	fresh, err := os.CreateTemp("", "categoricalnb-*.json")
	if err != nil {
		return err
	}
	defer os.Remove(fresh.Name())
	run := command(ctx, nil, python, recordedScript, "--every", "1")
	for _, set := range []string{"soybean.arff", "dermatology.arff", "lymph.arff"} {
		run.Args = append(run.Args, filepath.Join(referenceData, set))
	}
	run.Stdout = fresh
	if err := errors.Join(run.Run(), fresh.Close()); err != nil {
		return err
	}
	if err := sameRecorded(recordedFile, fresh.Name()); err != nil {
		return err
	}
	return command(ctx, []string{"CATEGORICALNB_JSON=" + fresh.Name()}, "go", "test", "-count=1", "-v", "-run", "TestKernelIsCategoricalNaiveBayes", "./kb/rank").Run()
}

// pythonWithLibrary finds a Python that has the library: the system's own first, since Debian's package belongs to it.
func pythonWithLibrary(ctx context.Context) (string, error) {
	if _, err := os.Stat(referenceData); err != nil {
		return "", fmt.Errorf("the shared open data is not beside the project, nothing was compared: %w", err)
	}
	for _, python := range []string{"/usr/bin/python3", "python3"} {
		out, err := exec.CommandContext(ctx, python, "-c", "import sklearn; print(sklearn.__version__)").Output()
		if err == nil {
			fmt.Printf("%s has scikit-learn %s\n", python, strings.TrimSpace(string(out)))
			return python, nil
		}
	}
	return "", errors.New("scikit-learn is not installed, nothing was compared: install Debian's python3-sklearn (apt-get install python3-sklearn)")
}

// sameRecorded holds every recorded posterior against the fresh run, to 1e-9 in the logarithm.
func sameRecorded(old, fresh string) error {
	was, err := readRecorded(old)
	if err != nil {
		return err
	}
	is, err := readRecorded(fresh)
	if err != nil {
		return err
	}
	now := map[string][]float64{}
	for _, p := range is.Posteriors {
		now[fmt.Sprintf("%s step %d row %d", p.Set, p.TrainStep, p.Row)] = p.Log
	}
	worst := 0.0
	for _, p := range was.Posteriors {
		name := fmt.Sprintf("%s step %d row %d", p.Set, p.TrainStep, p.Row)
		if len(now[name]) != len(p.Log) {
			return fmt.Errorf("%s: recorded %d classes, now %d", name, len(p.Log), len(now[name]))
		}
		for f, x := range p.Log {
			worst = max(worst, math.Abs(x-now[name][f]))
		}
	}
	fmt.Printf("%d recorded posteriors (%s) against %d of %s: largest difference of a logarithm %.1e\n",
		len(was.Posteriors), was.MadeWith, len(is.Posteriors), is.MadeWith, worst)
	if len(was.Posteriors) == 0 || !(worst <= 1e-9) {
		return fmt.Errorf("the recorded values are not those of the library any more: run %s again", recordedScript)
	}
	return nil
}

func readRecorded(path string) (recorded, error) {
	var out recorded
	text, err := os.ReadFile(path)
	if err == nil {
		err = json.Unmarshal(text, &out)
	}
	return out, err
}
