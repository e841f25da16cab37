package web

import (
	"fmt"
	"math"
	"strings"

	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/kb/limit"
)

// readingText writes a reading so that a form reads it back, its limit where it has its own.
func readingText(r kb.Reading) string {
	s := r.Quantity().String()
	if r.Limit == nil || r.Limit.Low == nil && r.Limit.High == nil {
		return s
	}
	return s + " limit " + limitText(*r.Limit)
}

func limitText(l kb.Limit) string {
	unit := strings.TrimSpace(" " + l.Unit)
	switch {
	case l.Low != nil && l.High != nil:
		return strings.TrimSpace(fmt.Sprintf("%g to %g %s", *l.Low, *l.High, unit))
	case l.Low != nil:
		return strings.TrimSpace(fmt.Sprintf("at least %g %s", *l.Low, unit))
	case l.High != nil:
		return strings.TrimSpace(fmt.Sprintf("at most %g %s", *l.High, unit))
	}
	return ""
}

// verdictText says how a reading stands to its limit and whose limit that is; empty where it has none.
func verdictText(r *kb.Reading) string {
	if r == nil {
		return ""
	}
	v, ok := r.Judge()
	if !ok {
		return ""
	}
	return verdictWords(v)
}

func verdictWords(v limit.Verdict) string {
	s := casebook.VerdictText(v)
	if v.Limit.Source != "" {
		s += " (" + v.Limit.Source + ")"
	}
	return s
}

// testText names a test and what it was a test of.
func testText(t kb.Test) string {
	name := strings.TrimSpace(t.Test)
	if name == "" {
		name = t.Method
	}
	if name == t.Component {
		return name
	}
	return name + " of " + t.Component
}

// levelName says how close to the question cases are, so that it also reads well behind "seen with".
func levelName(level string) string {
	if level == "all" {
		return "all machines"
	}
	return casebook.LevelName(level)
}

// effort says what a step takes and tells.
func effort(n kb.NextStep) string {
	var parts []string
	if n.Minutes > 0 {
		parts = append(parts, fmt.Sprintf("about %.0f min", math.Ceil(n.Minutes)))
	}
	if n.Cost != nil {
		parts = append(parts, n.Cost.Amount+" "+n.Cost.Currency)
	}
	if n.GainBits > 0 {
		parts = append(parts, fmt.Sprintf("tells %.2f bit", n.GainBits))
	}
	return strings.Join(parts, ", ")
}
