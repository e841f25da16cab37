package kb

import (
	"ruledout/kb/limit"
	"ruledout/kb/quantity"
)

// ReadingOf gives a quantity as a reading, with the words that it was read from.
func ReadingOf(q quantity.Quantity, text string) *Reading {
	r := &Reading{Unit: q.Unit, Upper: q.Upper, Text: text, Bound: Bound(q.Bound)}
	if q.Bound != quantity.Open {
		r.Value = &q.Value
	}
	return r
}

// Quantity gives a reading as a quantity.
func (r Reading) Quantity() quantity.Quantity {
	q := quantity.Quantity{Unit: r.Unit, Upper: r.Upper, Bound: quantity.Bound(r.Bound)}
	if r.Bound == "" {
		q.Bound = quantity.Equal
	}
	if r.Value != nil {
		q.Value = *r.Value
	}
	return q
}

// Judge compares a reading with its own limit by JCGM 106:2012 and ISO 14253-1, see limit.Judge. ok is false where it has no limit, and
// where reading and limit cannot be compared: they measure different things, or the accuracy cannot be read.
func (r Reading) Judge() (v limit.Verdict, ok bool) {
	if r.Limit == nil || r.Value == nil && r.Bound != BoundOpen {
		return limit.Verdict{}, false
	}
	v, err := r.Against(limit.Limit{Low: r.Limit.Low, High: r.Limit.High, Unit: r.Limit.Unit, Source: r.Limit.Source})
	return v, err == nil
}

// Against compares a reading with a limit, see limit.Judge. The error says why they cannot be compared, or why the accuracy cannot be read.
func (r Reading) Against(l limit.Limit) (limit.Verdict, error) {
	in := limit.Reading{Quantity: r.Quantity(), Text: r.Text}
	if r.Accuracy != "" {
		a, err := limit.ParseAccuracy(r.Accuracy)
		if err != nil {
			return limit.Verdict{}, err
		}
		in.Accuracy = &a
	}
	return limit.Judge(in, l)
}

// Base gives the SI unit of what a reading measures: an open circuit is one of resistance. Empty: the unit is none that is known.
func (r Reading) Base() string {
	if r.Bound == BoundOpen {
		return "ohm"
	}
	_, base, _ := r.Quantity().SI()
	return base
}

// PublishedLimit gives the published limit that plainly applies to the reading of a test, see limit.Unasked.
func (t Test) PublishedLimit() (limit.Limit, bool) {
	if t.Reading == nil {
		return limit.Limit{}, false
	}
	return limit.Unasked(t.Component, t.Method+" "+t.Test, t.Reading.Base())
}

// WithLimit gives a copy of the reading that is judged against l.
func (r Reading) WithLimit(l limit.Limit) Reading {
	source := l.Source
	if l.Name != "" {
		source = l.Name + ": " + source
	}
	r.Limit = &Limit{Low: l.Low, High: l.High, Unit: l.Unit, Source: source}
	return r
}

// Conformity gives the probability that a test passed: 1 or 0 where its result is stated, that of its reading's verdict where only that
// can be judged. ok is false where nothing is known.
func (t Test) Conformity() (p float64, ok bool) {
	switch t.Result {
	case Pass:
		return 1, true
	case Fail:
		return 0, true
	case Inconclusive:
		return 0, false
	}
	if t.Reading == nil {
		return 0, false
	}
	v, ok := t.Reading.Judge()
	return v.Probability(), ok
}
