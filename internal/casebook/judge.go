package casebook

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"ruledout/ingest"
	"ruledout/kb"
	"ruledout/kb/limit"
	"ruledout/kb/quantity"
)

// JudgeQuestion is a reading to be judged, as a person puts it.
type JudgeQuestion struct {
	Words    string // "insulation of traction battery 38 kohm": one reading, and what it was taken of
	Limit    string // see limit.Find; empty: a published one, if one plainly applies
	Accuracy string // of the instrument, see limit.ParseAccuracy; empty: the usual one
	Machine  string // whose like is shown first among what others measured
}

// Judge judges a reading against the limits that are asked for, or that plainly apply, and shows what others measured.
func (b *Book) Judge(ctx context.Context, q JudgeQuestion) (kb.Judgement, error) {
	j, err := Judge(q, b.Vocabulary())
	if err != nil {
		return kb.Judgement{}, err
	}
	if err := b.follow(ctx); err != nil {
		return kb.Judgement{}, fmt.Errorf("judge: %w", err)
	}
	if j.Understood.Component != "" {
		model, _ := b.snapshot()
		machine := canonicalMachine(ingest.ParseMachine(q.Machine, b.Vocabulary()), b.Vocabulary())
		if m, ok := model.Measured(canonicalTest(j.Understood, b.Vocabulary()), machine, nil); ok {
			j.Measured = &m
		}
	}
	return j, nil
}

// Gauged is a test of an open case that shows a value, beside what others measured in it.
type Gauged struct {
	Test     kb.Test     `json:"test"` // in the vocabulary's terms
	Measured kb.Measured `json:"measured"`
}

// Measured gives what others measured in those tests of a case that show a value. What nobody else measured is left out, and so is the case
// itself.
func (b *Book) Measured(ctx context.Context, c kb.Case) ([]Gauged, error) {
	if !slices.ContainsFunc(c.Tests, func(t kb.Test) bool { return t.Reading != nil }) {
		return nil, nil
	}
	if err := b.follow(ctx); err != nil {
		return nil, fmt.Errorf("measured: %w", err)
	}
	model, _ := b.snapshot()
	known := canonical(c, b.Vocabulary())
	own := func(id kb.CaseID) bool { return c.ID != "" && id == c.ID }
	var out []Gauged
	for _, t := range known.Tests {
		if m, ok := model.Measured(t, known.Machine, own); ok {
			out = append(out, Gauged{t, m})
		}
	}
	return out, nil
}

// Judge judges a reading without a casebook: nothing is known of what others measured.
func Judge(q JudgeQuestion, voc *kb.Vocabulary) (kb.Judgement, error) {
	t, err := readingOf(q.Words, voc)
	if err != nil {
		return kb.Judgement{}, err
	}
	j := kb.Judgement{V: kb.Version, Verdicts: []kb.Verdict{}, Cautions: []kb.CautionFor{}, Notes: []string{}}
	t.Reading.Accuracy = q.Accuracy
	if q.Accuracy != "" {
		if _, err := limit.ParseAccuracy(q.Accuracy); err != nil {
			return kb.Judgement{}, &kb.Error{Kind: kb.Invalid, Field: "--accuracy", Msg: err.Error()}
		}
	}
	if j.Verdicts, err = verdicts(&t, q.Limit); err != nil {
		return kb.Judgement{}, err
	}
	j.Understood = t
	j.Notes = append(j.Notes, notes(t, j)...)
	j.Cautions = judgementCautions(t, q, voc)
	return j, nil
}

// readingOf reads one reading and what it was taken of.
func readingOf(words string, v *kb.Vocabulary) (kb.Test, error) {
	found := quantity.Find(words)
	if len(found) == 0 {
		found = quantity.FindOpen(words)
	}
	switch {
	case len(found) == 0:
		return bareReading(words, v)
	case len(found) > 1:
		return kb.Test{}, kb.Errorf(kb.Invalid, "reading %q: want one quantity, there are %d (a range is written \"2.1 to 2.4 kohm\", the limit goes into --limit)", words, len(found))
	}
	f := found[0]
	start, end := f.Start, f.End
	for _, sign := range []string{">", "<", "≥", "≤"} {
		start = min(start, max(0, len(strings.TrimRight(words[:start], " ="+sign))))
	}
	t := named(words[:start]+" "+words[end:], v)
	t.Reading = kb.ReadingOf(f.Quantity, strings.TrimSpace(words[start:end]))
	if _, base, _ := f.SI(); t.Component != "" {
		if c, ok := v.Component(t.Component + " " + limit.Dimension(base)); ok { // "insulation" of so many ohms is its resistance
			t.Component = c.Name
		}
	}
	return t, nil
}

// bareReading reads a number without a unit, whose unit is that of its limit or of the name ("lambda 1.01").
func bareReading(words string, v *kb.Vocabulary) (kb.Test, error) {
	fields := strings.Fields(words)
	for i, w := range fields {
		q, err := quantity.Parse(w)
		if err != nil {
			continue
		}
		rest := strings.Join(slices.Delete(slices.Clone(fields), i, i+1), " ")
		if q.Unit == "" && strings.Contains(strings.ToLower(rest), "lambda") {
			q.Unit = "lambda"
		}
		if q.Unit == "" && i+1 < len(fields) {
			if _, err := quantity.Parse(w + " " + fields[i+1]); err != nil && named(rest, v).Component == "" {
				return kb.Test{}, &kb.Error{Kind: kb.Invalid, Msg: err.Error()}
			}
		}
		t := named(rest, v)
		t.Reading = kb.ReadingOf(q, w)
		return t, nil
	}
	_, err := quantity.Parse(words)
	if err == nil {
		err = fmt.Errorf("reading %q: want a number and a unit, such as \"insulation 38 kohm\"", words)
	}
	return kb.Test{}, &kb.Error{Kind: kb.Invalid, Msg: err.Error()}
}

// named finds the component and the method that words name: "TEST of COMPONENT", else the longest phrases that the vocabulary knows.
func named(words string, v *kb.Vocabulary) kb.Test {
	words = strings.Trim(strings.Join(strings.Fields(words), " "), " :=,;-")
	if t, err := ingest.ParseTest(words, v); err == nil {
		t.Result = ""
		return t
	}
	t := kb.Test{Test: words}
	if c, ok := longest(words, func(p string) (string, bool) { c, ok := v.Component(p); return c.Name, ok }); ok {
		t.Component = c
	}
	if m, ok := longest(words, func(p string) (string, bool) { m, ok := v.Method(p); return m.Name, ok }); ok {
		t.Method = m
	}
	return t
}

// longest gives what the longest run of words that a lookup knows stands for.
func longest(words string, lookup func(string) (string, bool)) (string, bool) {
	fields := strings.Fields(words)
	for n := len(fields); n > 0; n-- {
		for i := 0; i+n <= len(fields); i++ {
			if name, ok := lookup(strings.Join(fields[i:i+n], " ")); ok {
				return name, true
			}
		}
	}
	return "", false
}

// verdicts judges against every limit that applies. A reading without a unit takes that of the limit.
func verdicts(t *kb.Test, asked string) ([]kb.Verdict, error) {
	out := []kb.Verdict{}
	var limits []limit.Limit
	if asked != "" {
		var err error
		if limits, err = limit.Find(asked, t.Reading.Base()); err != nil {
			return nil, &kb.Error{Kind: kb.Invalid, Field: "--limit", Msg: err.Error()}
		}
	} else if l, ok := t.PublishedLimit(); ok {
		limits = append(limits, l)
	}
	for _, l := range limits {
		r := t.Reading.WithLimit(l)
		if r.Unit == "" && r.Bound != kb.BoundOpen {
			r.Unit = l.Unit
		}
		v, err := judgeOne(r, l)
		if err != nil {
			return nil, &kb.Error{Kind: kb.Invalid, Field: "--limit", Msg: err.Error()}
		}
		out = append(out, v)
		if len(limits) == 1 {
			t.Reading = &r
		}
	}
	return out, nil
}

func judgeOne(r kb.Reading, l limit.Limit) (kb.Verdict, error) {
	v, err := r.Against(l)
	return kb.Verdict{
		Name: l.Name, Limit: l.String(), Low: l.Low, High: l.High, Unit: l.Unit, Source: l.Source, Note: l.Note, Decision: string(v.Decision),
		Probability: v.Low, Most: v.High, Uncertainty: v.Uncertainty, Accuracy: v.Accuracy.String(), Assumed: v.Accuracy.Assumed,
	}, err
}

func notes(t kb.Test, j kb.Judgement) []string {
	var out []string
	_, base, _ := t.Reading.Quantity().SI()
	if len(j.Verdicts) == 0 {
		out = append(out, "no limit is known for this: give the maker's with --limit")
		for _, p := range limit.All() {
			if p.Base == base && slices.Contains(p.Components, t.Component) {
				out = append(out, fmt.Sprintf("a published one may apply: --limit %q", askedFor(p)))
			}
		}
	}
	if len(j.Verdicts) > 1 {
		out = append(out, "several limits may apply: which one is for the machine's build to say, and the maker's own goes first")
	}
	for _, v := range j.Verdicts {
		if v.Assumed {
			out = append(out, "the instrument's accuracy was not stated: "+v.Accuracy+" is taken, as is usual for such an instrument (common practice of the trade)")
			break
		}
	}
	return out
}

// askedFor writes how a published limit is asked for.
func askedFor(p limit.Published) string {
	s := p.Words[0]
	for _, n := range p.Needs {
		s += map[string]string{"V": " 400 V", "K": " at 25 °C", "mm2": " 2.5 mm2", "m": " 5 m"}[n]
	}
	return s
}

func judgementCautions(t kb.Test, q JudgeQuestion, voc *kb.Vocabulary) []kb.CautionFor {
	var all cautionList
	all.add(reading(t), readingHazards(t, voc))
	if list, given := limit.Named(q.Limit, ""); len(list) > 0 {
		all.add(list[0].Name, hazardsNamed(list[0].Hazards, voc))
		if given.Volts > limit.HighVoltageDC {
			all.add(fmt.Sprintf("a circuit of %g V", given.Volts), highVoltage(given.Volts, false, voc))
		}
	}
	if t.Component != "" {
		all.add(t.Component, voc.Cautions(t.Component))
	}
	if m, ok := voc.Method(t.Method); ok {
		all.add(m.Name, hazardsNamed(m.Hazards, voc))
	}
	return append([]kb.CautionFor{}, all.list...)
}

func hazardsNamed(names []string, voc *kb.Vocabulary) []kb.Hazard {
	var out []kb.Hazard
	for _, n := range names {
		if h, ok := voc.Hazard(n); ok {
			out = append(out, h)
		}
	}
	return out
}
