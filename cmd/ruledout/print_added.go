package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// addSummary says what adding did, in all and by file.
type addSummary struct {
	Files    int                     `json:"files"`
	Failed   int                     `json:"failed"`
	Writeups int                     `json:"write_ups"`
	Cases    int                     `json:"cases"`
	Open     int                     `json:"open"` // of them, not yet cured
	Doubts   int                     `json:"doubts"`
	Effects  map[casebook.Effect]int `json:"effects"`
	ByFile   []fileSummary           `json:"by_file"`
	Skipped  []skippedFile           `json:"skipped"`
}

// fileSummary is the same of one file, or of several that hold pages of one thread.
type fileSummary struct {
	File     string                  `json:"file"`
	More     []string                `json:"more,omitempty"`
	Writeups int                     `json:"write_ups"`
	Cases    int                     `json:"cases"`
	Open     int                     `json:"open"`
	Doubts   int                     `json:"doubts"`
	Effects  map[casebook.Effect]int `json:"effects,omitempty"`
	Error    string                  `json:"error,omitempty"`
	Line     int                     `json:"line,omitempty"`
}

type skippedFile struct {
	File string `json:"file"`
	Why  string `json:"why"`
}

func (s *addSummary) add(r casebook.FileReport) {
	f := fileSummary{File: r.File, More: r.More, Writeups: len(r.Threads), Cases: len(r.Cases), Effects: map[casebook.Effect]int{}}
	if s.Effects == nil {
		s.Effects = map[casebook.Effect]int{}
	}
	s.Files += 1 + len(r.More)
	if r.Err != nil {
		s.Failed++
		f.Error, f.Line = reason(r.Err)
	}
	for _, a := range r.Cases {
		if a.Case.Status == kb.Open {
			f.Open++
		}
		f.Doubts += len(a.Case.Doubts)
		f.Effects[a.Effect]++
		s.Effects[a.Effect]++
	}
	s.Writeups, s.Cases, s.Open, s.Doubts = s.Writeups+f.Writeups, s.Cases+f.Cases, s.Open+f.Open, s.Doubts+f.Doubts
	s.ByFile = append(s.ByFile, f)
}

// reason is why a file failed, without its name.
func reason(err error) (string, int) {
	var e *kb.Error
	if !errors.As(err, &e) {
		return err.Error(), 0
	}
	bare := *e
	bare.File, bare.Line = "", 0
	return bare.Error(), e.Line
}

// maxFileRows bounds the table by file. Of more files those are listed that failed or leave doubts, as far as they fit.
const maxFileRows = 40

// printSummary writes a table by file where there are several, and the sums.
func printSummary(w io.Writer, s addSummary) {
	if len(s.ByFile) > 1 {
		printByFile(w, s)
	}
	fmt.Fprintf(w, "%s, %s: %s", count(s.Files, "file"), count(s.Writeups, "write-up"), effectCounts(s.Effects))
	if s.Doubts > 0 {
		fmt.Fprintf(w, "; %s to settle (ruledout show CASE)", count(s.Doubts, "doubt"))
	}
	fmt.Fprintln(w)
}

func printByFile(w io.Writer, s addSummary) {
	rows := s.ByFile
	left := 0
	if len(rows) > maxFileRows {
		rows = rowsOfNote(s.ByFile)
		left = len(s.ByFile) - len(rows)
	}
	fmt.Fprintln(w)
	t := table.NewWriter()
	t.SetStyle(plainStyle())
	t.AppendHeader(table.Row{"file", "read", "cases", "open", "doubts", ""})
	for _, f := range rows {
		name := f.File
		if len(f.More) > 0 {
			name += fmt.Sprintf(" and %d more, pages of one thread", len(f.More))
		}
		if f.Error != "" {
			t.AppendRow(table.Row{name, "-", "", "", "", failedText(f)})
			continue
		}
		t.AppendRow(table.Row{name, f.Writeups, f.Cases, f.Open, f.Doubts, shortEffects(f.Effects)})
	}
	if left > 0 {
		t.AppendRow(table.Row{fmt.Sprintf("%d more without a fault or doubt", left), "", "", "", "", ""})
	}
	t.AppendFooter(table.Row{"in all", s.Writeups, s.Cases, s.Open, s.Doubts, failedCount(s.Failed)})
	right := []table.ColumnConfig{}
	for n := 2; n <= 5; n++ {
		right = append(right, table.ColumnConfig{Number: n, Align: text.AlignRight, AlignHeader: text.AlignRight, AlignFooter: text.AlignRight})
	}
	t.SetColumnConfigs(append(right, table.ColumnConfig{Number: 1, WidthMax: 60}, table.ColumnConfig{Number: 6, WidthMax: 60}))
	for line := range strings.Lines(t.Render()) {
		fmt.Fprintln(w, "  "+strings.TrimRight(line, " \n"))
	}
	fmt.Fprintln(w)
}

// rowsOfNote picks the files that want a look.
func rowsOfNote(all []fileSummary) []fileSummary {
	var out []fileSummary
	for _, failed := range []bool{true, false} {
		for _, f := range all {
			if len(out) < maxFileRows && (f.Error != "") == failed && (failed || f.Doubts > 0) {
				out = append(out, f)
			}
		}
	}
	return out
}

func failedText(f fileSummary) string {
	if f.Line > 0 {
		return fmt.Sprintf("failed, line %d: %s", f.Line, f.Error)
	}
	return "failed: " + f.Error
}

func failedCount(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("%d failed", n)
}

func shortEffects(effects map[casebook.Effect]int) string {
	if len(effects) == 0 {
		return "no case in it"
	}
	var parts []string
	for _, e := range casebook.Effects() {
		if n := effects[e]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, e))
		}
	}
	return strings.Join(parts, ", ")
}

func effectCounts(effects map[casebook.Effect]int) string {
	var parts []string
	for _, e := range casebook.Effects() {
		if n := effects[e]; n > 0 {
			parts = append(parts, fmt.Sprintf("%s %s", count(n, "case"), e))
		}
	}
	if len(parts) == 0 {
		return "no case found in them"
	}
	return strings.Join(parts, ", ")
}

// writeSummary writes the summary as JSON.
func writeSummary(path string, s addSummary) error {
	if s.ByFile == nil {
		s.ByFile = []fileSummary{}
	}
	if s.Skipped == nil {
		s.Skipped = []skippedFile{}
	}
	if s.Effects == nil {
		s.Effects = map[casebook.Effect]int{}
	}
	data, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return err
	}
	if err := os.WriteFile(path, append(data, '\n'), 0o644); err != nil {
		return kb.Errorf(kb.Invalid, "--summary: %w", err)
	}
	return nil
}
