package main

import (
	"bufio"
	"fmt"
	"io"

	"github.com/jedib0t/go-pretty/v6/table"

	"ruledout/internal/casebook"
)

// printModel writes where the constants come from, and every one with its default and what it gains over it.
func printModel(w io.Writer, m casebook.ModelInfo) error {
	out := bufio.NewWriter(w)
	printOrigin(out, m)
	section(out, "constants")
	if m.BuiltIn {
		rows := []table.Row{{"", "value"}}
		for _, c := range m.Constants {
			rows = append(rows, table.Row{c.Name, figure(c.Value)})
		}
		printRows(out, rows)
		return out.Flush()
	}
	printConstants(out, m.Constants)
	return out.Flush()
}

func printOrigin(w io.Writer, m casebook.ModelInfo) {
	fmt.Fprintln(w, "MODEL")
	if m.BuiltIn {
		wrapped(w, "  ", "the built-in defaults: nobody has fitted the constants to this book's cases (\"ruledout refit\" does)")
		return
	}
	wrapped(w, "  ", fmt.Sprintf("fitted on %s by %s to %s (revision %d; the log up to %d)", m.Date, m.By, count(m.Cases, "case"), m.Revision, m.LogPosition))
	seen := "that the fit did not see"
	if !m.Nested {
		seen = "that the fit saw: a little too good"
	}
	wrapped(w, "  ", fmt.Sprintf("log loss of %s %s: %.4f with the defaults, %.4f with these constants, %.4f +- %.4f less (nats a question)",
		count(m.Questions, "held-out case"), seen, m.Before, m.After, m.Before-m.After, m.Error))
}

// printConstants lists the constants; the gain is that over the default, with its standard error, where there is any.
func printConstants(w io.Writer, list []casebook.ConstantInForce) {
	rows := []table.Row{{"", "value", "default", "gain", "+-"}}
	for _, c := range list {
		row := table.Row{c.Name, figure(c.Value), figure(c.Default), "", ""}
		if c.Gain != 0 {
			row[3], row[4] = fmt.Sprintf("%.4f", c.Gain), fmt.Sprintf("%.4f", c.Error)
		}
		rows = append(rows, row)
	}
	printRows(w, rows)
}

// figure prints a number with four digits that count.
func figure(x float64) string { return fmt.Sprintf("%.4g", x) }

// printRefitted writes what was fitted, and what it does to the answers to the codes with the most cases.
func printRefitted(w io.Writer, r casebook.Refitted) error {
	out := bufio.NewWriter(w)
	printOrigin(out, r.ModelInfo)
	var moved []casebook.ConstantInForce
	for _, c := range r.Constants {
		if c.Value != c.Default {
			moved = append(moved, c)
		}
	}
	if len(moved) == 0 {
		wrapped(out, "  ", "no constant gains enough to leave its default")
	} else {
		section(out, "constants that moved")
		printConstants(out, moved)
	}
	section(out, "likeliest culprit of the codes with the most cases")
	rows := []table.Row{{"", "cases", "before", "after", "likeliest now"}}
	for _, x := range r.Changes {
		rows = append(rows, table.Row{x.Code + ": " + x.Leader, x.Cases, casebook.Percent(x.Before), casebook.Percent(x.After), x.Now})
	}
	printRows(out, rows)
	return out.Flush()
}
