package code_test

import (
	"encoding/json"
	"html"
	"io"
	"mime/quotedprintable"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"ruledout/kb/code"
)

var (
	hidden = regexp.MustCompile(`(?is)<(?:script|style|template)\b.*?</(?:script|style|template)>|<!--.*?-->|<[a-z]+[^>]*display:\s*none[^>]*>.*?</[a-z]+>`)
	tag    = regexp.MustCompile(`(?s)<[^>]*>`)
)

// visible is a rough reading of a thread file; the real readers do better.
func visible(t *testing.T, path string) string {
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	s := string(b)
	switch filepath.Ext(path) {
	case ".html":
		return html.UnescapeString(tag.ReplaceAllString(hidden.ReplaceAllString(s, " "), " "))
	case ".mbox":
		if d, err := io.ReadAll(quotedprintable.NewReader(strings.NewReader(s))); err == nil {
			return string(d)
		}
	}
	return s
}

// goldCodes returns the keys of all codes that the annotation of a thread names.
func goldCodes(t *testing.T, path string) map[code.Key]bool {
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	var gold struct {
		Cases []struct {
			Codes []string `json:"codes"`
		} `json:"cases"`
	}
	require.NoError(t, json.Unmarshal(b, &gold))
	out := map[code.Key]bool{}
	for _, k := range gold.Cases {
		for _, s := range k.Codes {
			c, err := code.Parse(s)
			require.NoError(t, err)
			out[c.Key("")] = true
		}
	}
	return out
}

// TestFindOnThreads measures against invented, annotated threads that are kept outside the tree. The annotation lists what
// each reporter's machine showed; codes of advice and hearsay are in the text too, so precision is a lower bound.
func TestFindOnThreads(t *testing.T) {
	paths, err := filepath.Glob("../../../shared/data/threads/*/gold.json")
	require.NoError(t, err)
	if len(paths) == 0 {
		t.Skip("annotated threads not present in ../shared/data")
	}
	slices.Sort(paths)
	var right, found, want int
	for _, p := range paths {
		files, err := filepath.Glob(filepath.Join(filepath.Dir(p), "thread.*"))
		require.NoError(t, err)
		require.Len(t, files, 1)
		gold := goldCodes(t, p)
		got := map[code.Key]bool{}
		for _, f := range code.Find(visible(t, files[0])) {
			if !f.Absent {
				got[f.Code.Key("")] = true
			}
		}
		want += len(gold)
		found += len(got)
		for k := range gold {
			if got[k] {
				right++
			} else {
				t.Logf("%s: missed %s", filepath.Base(filepath.Dir(p)), k)
			}
		}
		for k := range got {
			if !gold[k] {
				t.Logf("%s: not annotated: %s", filepath.Base(filepath.Dir(p)), k)
			}
		}
	}
	recall, precision := float64(right)/float64(want), float64(right)/float64(found)
	t.Logf("%d codes annotated, %d found, recall %.3f, precision %.3f", want, found, recall, precision)
	require.GreaterOrEqual(t, recall, 0.97)
	require.GreaterOrEqual(t, precision, 0.87)
}
