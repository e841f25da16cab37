package link

import (
	"math"
	"slices"
)

// Level is one degree of agreement in a field.
type Level struct {
	Name string  // in words
	M    float64 // probability of the level where both records are one, given that both tell the field; above 0, at most 1
	U    float64 // the same where they are two
	Held bool    // Fit keeps M: a rule and no estimate
}

// Field is one thing that two records are compared in.
type Field struct {
	Name    string
	Levels  []Level // most agreement first; the M of all add to 1, and so do the U
	Missing float64 // share of pairs, 0 to 1, of which a side does not tell it; only the thresholds depend on it
}

// Vector holds the level of a pair in each field: 0 where a side does not tell it, else the place of the level counted from 1.
type Vector []uint8

// Model is what Fellegi and Sunter's weights are made of.
type Model struct {
	Prior  float64 // share of candidate pairs that are one, above 0 and below 1
	Fields []Field
}

// Weight gives the weight of a level of a field in bits, log2(M/U); 0 for a missing one.
func (m *Model) Weight(field int, level uint8) float64 {
	if level == 0 {
		return 0
	}
	l := m.Fields[field].Levels[level-1]
	return math.Log2(l.M / l.U)
}

// Bits gives the weight of a pair in bits, the prior not in it.
func (m *Model) Bits(v Vector) float64 {
	bits := 0.0
	for f, level := range v {
		bits += m.Weight(f, level)
	}
	return bits
}

// Probability gives the posterior probability, 0 to 1, that a pair is one.
func (m *Model) Probability(v Vector) float64 { return m.posterior(m.Bits(v)) }

// posterior gives the probability of a pair with so many bits.
func (m *Model) posterior(bits float64) float64 {
	return 1 / (1 + (1-m.Prior)/m.Prior*math.Exp2(-bits))
}

// bitsFor gives the weight from which on the posterior is p or more.
func (m *Model) bitsFor(p float64) float64 {
	return math.Log2(p/(1-p)) - math.Log2(m.Prior/(1-m.Prior))
}

// Clone gives a copy that shares nothing.
func (m *Model) Clone() *Model {
	c := &Model{Prior: m.Prior, Fields: slices.Clone(m.Fields)}
	for i := range c.Fields {
		c.Fields[i].Levels = slices.Clone(c.Fields[i].Levels)
	}
	return c
}

// Weighed is what one field says of a pair.
type Weighed struct {
	Field string  `json:"field"`
	Level string  `json:"level"` // in words
	Bits  float64 `json:"bits"`  // for one repair where above 0
}

// Explain gives what each told field says of a pair, the strongest first.
func (m *Model) Explain(v Vector) []Weighed {
	out := []Weighed{}
	for f, level := range v {
		if level > 0 {
			out = append(out, Weighed{m.Fields[f].Name, m.Fields[f].Levels[level-1].Name, m.Weight(f, level)})
		}
	}
	slices.SortStableFunc(out, func(a, b Weighed) int {
		switch x, y := math.Abs(a.Bits), math.Abs(b.Bits); {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	return out
}
