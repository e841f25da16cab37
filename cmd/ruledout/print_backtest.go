package main

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"

	"ruledout/internal/casebook"
	"ruledout/kb/rank/score"
)

// printBacktest writes the headline first, then whether its probabilities can be trusted, then the finer figures.
func printBacktest(w io.Writer, r casebook.Backtest) error {
	out := bufio.NewWriter(w)
	fmt.Fprintln(out, "BACKTEST")
	wrapped(out, "  ", fmt.Sprintf("%s, %s asked of %d that count, in %s of one write-up or one repair; constants: %s", r.Split,
		count(r.Asked, "case"), r.Cases, count(r.Groups, "group"), r.Constants))
	if r.LeftOut > 0 {
		wrapped(out, "  ", fmt.Sprintf("%s not asked: its write-up, or another telling of it, was learned from", count(r.LeftOut, "later case")))
	}
	printDecision(out, "at the start: machine, codes and symptoms", r.Start)
	printTrust(out, r.Start.Book.First)
	if r.BenchSteps > 0 {
		printDecision(out, "at the bench: with what was tested and tried before the culprit showed", r.Bench)
		wrapped(out, "  ", fmt.Sprintf("%d of %s say more than at the start; %s", r.BenchSteps, count(r.Asked, "question"),
			calibrationError(r.Bench.Book.First)))
	}
	printUnlisted(out, r.Unlisted)
	printByCode(out, r.ByCode)
	return out.Flush()
}

func printDecision(w io.Writer, title string, d casebook.Decision) {
	section(w, title)
	rows := []table.Row{{"", "right first", "95 %", "among 3", "95 %", "listed", "MRR", "log loss", "Brier"}}
	for _, x := range []struct {
		name string
		s    score.Summary
	}{{"this book", d.Book}, {"most frequent for the code", d.Frequent}, {"nearest by text", d.Nearest}} {
		first, three := x.s.Top1, x.s.Top3
		rows = append(rows, table.Row{x.name, casebook.Percent(first.Share), interval(first.Low, first.High), casebook.Percent(three.Share),
			interval(three.Low, three.High), casebook.Percent(x.s.Listed.Share), decimals(x.s.MRR), decimals(x.s.LogLoss), decimals(x.s.Brier)})
	}
	printRows(w, rows)
}

// printRows writes a table with a head; all but the first column stand to the right.
func printRows(w io.Writer, rows []table.Row) {
	t := table.NewWriter()
	t.SetStyle(plainStyle())
	t.AppendHeader(rows[0])
	t.AppendRows(rows[1:])
	var columns []table.ColumnConfig
	for i := 1; i < len(rows[0]); i++ {
		columns = append(columns, table.ColumnConfig{Number: i + 1, Align: text.AlignRight, AlignHeader: text.AlignRight})
	}
	t.SetColumnConfigs(columns)
	for line := range strings.Lines(t.Render()) {
		fmt.Fprintln(w, "  "+strings.TrimRight(line, " \n"))
	}
}

func decimals(x float64) string { return fmt.Sprintf("%.3f", x) }

// printTrust holds the probability of the first answer against how often it was right.
func printTrust(w io.Writer, f score.FirstAnswer) {
	section(w, "can the probability of the first answer be trusted")
	rows := []table.Row{{"stated", "questions", "mean stated", "was right", "95 %"}}
	for _, b := range f.Bins {
		row := table.Row{fmt.Sprintf("%.0f to %.0f %%", 100*b.From, 100*b.To), b.N, "", "", ""}
		if b.N > 0 {
			i := score.Exact(b.So, b.N, score.Level)
			row[2], row[3], row[4] = casebook.Percent(b.Stated), casebook.Percent(b.Share()), interval(i.Low, i.High)
		}
		rows = append(rows, row)
	}
	printRows(w, rows)
	wrapped(w, "  ", calibrationError(f)+fmt.Sprintf("; root mean square %.3f, widest gap %.3f", f.RMS, f.Max))
	wrapped(w, "  ", fmt.Sprintf("Brier score of the first answer alone (0 to 1): %.3f = reliability %.3f - resolution %.3f + uncertainty %.3f",
		f.Brier, f.Reliability, f.Resolution, f.Uncertainty))
}

func calibrationError(f score.FirstAnswer) string {
	verdict := "no more than chance"
	if !f.Calibrated() {
		verdict = "more than chance"
	}
	return fmt.Sprintf("expected calibration error %.3f: %s (a perfectly calibrated book would show %.3f to %.3f here)", f.ECE, verdict,
		f.ByChance.Low, f.ByChance.High)
}

// printUnlisted holds "something else" against how often it was.
func printUnlisted(w io.Writer, list []casebook.Stratum) {
	rows := []table.Row{{"cases of the code", "questions", "stated", "was so", "95 %", "in standard errors"}}
	for _, s := range list {
		if s.N == 0 {
			continue
		}
		cases := fmt.Sprintf("%d to %d", s.From, s.To)
		switch {
		case s.From > 0 && s.To == 0:
			cases = fmt.Sprintf("over %d", s.From-1)
		case s.To == 0:
			cases = "none"
		}
		off := ""
		if s.Error > 0 {
			off = fmt.Sprintf("%+.1f", (s.Share-s.Stated)/s.Error)
		}
		rows = append(rows, table.Row{cases, s.N, casebook.Percent(s.Stated), casebook.Percent(s.Share), interval(s.Low, s.High), off})
	}
	if len(rows) == 1 {
		return // no question has a code
	}
	section(w, "something else: none of those listed, at the start")
	printRows(w, rows)
}

func printByCode(w io.Writer, list []casebook.CodeFigures) {
	if len(list) == 0 {
		return
	}
	section(w, "by code, at the start")
	rows := []table.Row{{"code", "questions", "right first", "among 3", "log loss", "most frequent: right first", "log loss"}}
	for _, c := range list {
		name := c.Code
		if c.Issuer != "" {
			name += " (" + c.Issuer + ")"
		}
		rows = append(rows, table.Row{name, c.Book.N, casebook.Percent(c.Book.Top1.Share), casebook.Percent(c.Book.Top3.Share), decimals(c.Book.LogLoss),
			casebook.Percent(c.Frequent.Top1.Share), decimals(c.Frequent.LogLoss)})
	}
	printRows(w, rows)
}
