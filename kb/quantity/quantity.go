// Package quantity reads what people write as a reading, from "4k7" to "12,4 V", and converts it by one table of units.
//
// The unit stays the one that the person used, in one canonical spelling: a comparison needs the SI value, a reader wants
// to see what was written.
package quantity

import (
	"math"
	"strconv"
)

// Bound says how a value limits the quantity.
type Bound string

// The bounds of a quantity.
const (
	Equal   Bound = "="
	Less    Bound = "<"
	Greater Bound = ">"
	Open    Bound = "open" // the meter shows no reading: an open circuit, over its range
)

// Quantity is a number with a unit, a range when Upper is set, or an open circuit without a value.
type Quantity struct {
	Value float64
	Upper *float64
	Unit  string // canonical spelling; "" when none was written
	Bound Bound
}

// String writes the quantity so that Parse reads it back: "4.7 kohm", "2.1 to 2.4 kohm", ">20 Mohm", "open".
func (q Quantity) String() string {
	if q.Bound == Open {
		return string(Open)
	}
	s := format(q.Value)
	if q.Bound == Less || q.Bound == Greater {
		s = string(q.Bound) + s
	}
	if q.Upper != nil {
		s += " to " + format(*q.Upper)
	}
	if q.Unit != "" {
		s += " " + q.Unit
	}
	return s
}

func format(f float64) string { return strconv.FormatFloat(f, 'g', -1, 64) }

// SI returns the value in the coherent SI unit named by base. ok is false without a value or a known unit. Temperatures
// are taken as temperatures, not as differences.
func (q Quantity) SI() (value float64, base string, ok bool) {
	if q.Bound == Open {
		return 0, "", false
	}
	return toSI(q.Value, q.Unit)
}

// Span gives a difference or a width in SI: as SI, but of temperatures only the size of the degree counts. An unknown unit counts as one.
func Span(width float64, unit string) float64 {
	u, ok := bySymbol(unit)
	if !ok {
		return width
	}
	return scale(width, u.factor)
}

// FromSI gives an SI value in a unit of the table; ok is false for an unknown unit.
func FromSI(si float64, unit string) (value float64, ok bool) {
	u, ok := bySymbol(unit)
	return si/u.factor - u.shift, ok
}

// UpperSI is SI for the upper end of a range; ok is false when there is none.
func (q Quantity) UpperSI() (value float64, base string, ok bool) {
	if q.Upper == nil {
		return 0, "", false
	}
	return toSI(*q.Upper, q.Unit)
}

func toSI(value float64, symbol string) (float64, string, bool) {
	u, ok := bySymbol(symbol)
	if !ok {
		return 0, "", false
	}
	v := scale(value+u.shift, u.factor)
	return v, u.base, !math.IsInf(v, 0)
}

// scale multiplies; by a decimal part it divides instead, so that 10 uF is 1e-05 F to the last digit.
func scale(v, factor float64) float64 {
	if inverse := math.Round(1 / factor); factor < 1 && inverse*factor == 1 {
		return v / inverse
	}
	return v * factor
}
