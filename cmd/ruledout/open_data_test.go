package main

import (
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/testkit"
)

func build(t *testing.T, dir, name string) string {
	t.Helper()
	out := filepath.Join(t.TempDir(), name)
	cmd := exec.Command("go", "build", "-o", out, ".")
	cmd.Dir = dir
	text, err := cmd.CombinedOutput()
	require.NoError(t, err, string(text))
	return out
}

var scoreLine = regexp.MustCompile(`(?m)^ *(.+?) +P ([\d.]+) +R ([\d.]+) +F1 ([\d.]+)`)

// Annotated threads of the shared open data, scored by the shared tool: the whole output is the report; the floors are the bars
// that the reading is to meet, and a little below what was reached where that is more.
func TestReadingThreads(t *testing.T) {
	threads, tool := testkit.Shared(t, "data", "threads"), testkit.Shared(t, "tools", "threadscore")
	score := exec.Command(build(t, tool, "threadscore"), "-dir", threads, "-cmd", build(t, ".", "ruledout")+" add --dry-run --json {}")
	out, err := score.CombinedOutput()
	require.NoError(t, err, string(out))
	t.Log("\n" + string(out))
	f1 := map[string]float64{}
	for _, m := range scoreLine.FindAllStringSubmatch(string(out), -1) {
		f1[m[1]], err = strconv.ParseFloat(m[4], 64)
		require.NoError(t, err)
	}
	for kind, least := range map[string]float64{"cases": 0.95, "codes": 0.97, "machine": 0.93, "symptoms": 0.64, "tests+result": 0.62, "readings": 0.78,
		"fixes+outcome": 0.71, "confirmed fix": 0.87, "with action": 0.76, "status+confirm.": 0.84} {
		require.Contains(t, f1, kind)
		assert.GreaterOrEqual(t, f1[kind], least, kind)
	}
	assert.Regexp(t, `(?m)^confirmed fix +P (?:0\.(?:8[6-9]|9)|1)`, string(out), "precision of confirmed fixes")
	assert.Regexp(t, `advice as fact +[0-3]\n`, string(out))
	assert.Regexp(t, `not masked +0\n`, string(out))
	assert.Regexp(t, `ungrounded +0 of`, string(out))
	assert.Regexp(t, `: \d+ threads, 0 failed`, string(out))
}
