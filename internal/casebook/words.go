package casebook

import (
	"fmt"
	"math"
	"strings"

	"ruledout/kb"
	"ruledout/kb/limit"
)

// The words and figures that every face of the book shows alike.

// MachineName prints what is known of a machine on one line.
func MachineName(m kb.Machine) string {
	year := ""
	if m.Year > 0 {
		year = fmt.Sprint(m.Year)
	}
	words := strings.Fields(strings.Join([]string{m.Make, m.Model, m.Variant, year}, " "))
	if len(words) == 0 {
		return m.Kind
	}
	return strings.Join(words, " ")
}

// Percent prints a probability with the digits that it deserves.
func Percent(p float64) string {
	switch {
	case p > 0 && p < 0.001:
		return "<0.1 %"
	case p < 0.0995:
		return fmt.Sprintf("%.1f %%", 100*p)
	case p > 0.9949 && p < 1:
		return fmt.Sprintf("%.1f %%", math.Min(99.9, 100*p))
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

// VerdictText says how a reading stands to its limit.
func VerdictText(v limit.Verdict) string {
	p := Percent(v.Low)
	if v.High != v.Low {
		p += " to " + Percent(v.High)
	}
	return fmt.Sprintf("%s: within %s with probability %s", v.Decision, v.Limit, p)
}

// LevelName says how close to the question cases are.
func LevelName(level string) string {
	switch level {
	case "all":
		return "in all"
	case "code":
		return "this code"
	case "subtype":
		return "this code and failure type"
	case "family":
		return "this family of codes"
	case "kind":
		return "this kind of machine"
	case "years":
		return "near this year"
	case "structure":
		return "what the structure says"
	}
	return "this " + level
}
