package main_test

import (
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const module = "ruledout/"

// allowed is the import table: what each package may import of ours. Tests may import more; the order is that of the data's way.
var allowed = map[string][]string{
	"internal/memo":     {},
	"kb/code":           {},
	"kb/quantity":       {},
	"kb/vin":            {},
	"kb/limit":          {"kb/quantity"},
	"kb":                withLeaves("internal/memo"),
	"kb/rank/plan":      {},
	"kb/rank":           withLeaves("kb", "kb/rank/plan"),
	"kb/rank/score":     {},
	"kb/link":           withLeaves("kb"),
	"ingest":            withLeaves("kb", "internal/memo"),
	"internal/store":    withLeaves("kb"), // its filters name code keys, a type of a leaf
	"internal/index":    withLeaves("kb"),
	"internal/casebook": withLeaves("kb", "kb/rank", "kb/rank/score", "kb/link", "ingest", "internal/store", "internal/index"),
	"internal/demo":     {},
	"internal/testkit":  withLeaves("kb", "kb/rank", "ingest", "internal/store", "internal/index", "internal/casebook", "internal/demo"),
	"web":               withLeaves("kb", "kb/rank/score", "ingest", "internal/casebook"),
	"cmd/ruledout":      withLeaves("kb", "kb/rank", "kb/rank/score", "kb/link", "ingest", "internal/store", "internal/index", "internal/casebook", "internal/demo", "web"),
	"cmd/check":         {},
}

var leaves = []string{"kb/code", "kb/quantity", "kb/vin", "kb/limit"}

func withLeaves(list ...string) []string { return slices.Concat(leaves, list) }

// listed is the part of "go list -json" that matters here.
type listed struct {
	ImportPath string
	Imports    []string
}

func packages(t *testing.T) []listed {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Imports", "ruledout/...")
	out, err := cmd.Output()
	require.NoError(t, err)
	var list []listed
	for dec := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p listed
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			return list
		} else {
			require.NoError(t, err)
		}
		list = append(list, p)
	}
}

func TestImportTable(t *testing.T) {
	list := packages(t)
	require.Greater(t, len(list), 8)
	for _, p := range list {
		name := strings.TrimPrefix(p.ImportPath, module)
		may, known := allowed[name]
		if !assert.True(t, known, "package %s has no row in the import table", name) {
			continue
		}
		for _, imp := range p.Imports {
			if ours, ok := strings.CutPrefix(imp, module); ok {
				assert.Contains(t, may, ours, "%s may not import %s", name, ours)
			}
		}
	}
}

// The domain and the readers are pure: no files, no network, no database, no clock.
func TestPurePackages(t *testing.T) {
	impure := []string{"os", "os/exec", "net", "net/http", "database/sql", "io/ioutil", "log", "log/slog", "testing"}
	for _, p := range packages(t) {
		name := strings.TrimPrefix(p.ImportPath, module)
		if !strings.HasPrefix(name, "kb") && name != "ingest" {
			continue
		}
		for _, imp := range p.Imports {
			assert.NotContains(t, impure, imp, "%s is pure and may not import %s", name, imp)
		}
	}
}
