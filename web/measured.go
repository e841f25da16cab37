package web

import (
	"html/template"
	"slices"

	"ruledout/kb"
)

// measuredLine is what others measured in a test, with one's own reading where there is one.
type measuredLine struct {
	kb.Measured
	Own *kb.Reading
}

// Name says what was measured.
func (m measuredLine) Name() string {
	if m.Method == "" || m.Method == m.Component {
		return m.Component
	}
	return m.Method + " of " + m.Component
}

// OwnText is one's own reading in words.
func (m measuredLine) OwnText() string {
	if m.Own == nil {
		return ""
	}
	return m.Own.Quantity().String()
}

// Picture draws all of it.
func (m measuredLine) Picture() template.HTML {
	if m.Own == nil {
		return strip(m.Measured, nil)
	}
	return strip(m.Measured, m.Own.Value)
}

// shownCases is how many cases of a group of readings are named.
const shownCases = 4

// measuredRow is the readings of the cases that turned out one way.
type measuredRow struct {
	kb.MeasuredGroup
	Near []kb.CaseID // those on machines like the one in question first
	More int         // cases that are not named
}

// Rows are the groups of readings.
func (m measuredLine) Rows() []measuredRow {
	var out []measuredRow
	for _, g := range m.Groups {
		var ids []kb.CaseID
		for _, near := range []string{"model", "make", "kind", "other"} {
			for _, p := range g.Points {
				if p.Near == near && !slices.Contains(ids, p.Case) {
					ids = append(ids, p.Case)
				}
			}
		}
		n := min(len(ids), shownCases)
		out = append(out, measuredRow{g, ids[:n], len(ids) - n})
	}
	return out
}
