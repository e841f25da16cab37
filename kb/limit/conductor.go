package limit

import (
	"errors"
	"fmt"
	"math"
)

// Conductor is a copper conductor's greatest resistance at 20 °C (IEC 60228, tables 1 to 3).
type Conductor struct {
	Area           float64 // nominal cross-section, mm2
	Solid, Strands float64 // ohm/km: classes 1 and 2 (solid, stranded), class 5 (flexible)
}

var conductors = []Conductor{
	{0.5, 36.0, 39.0}, {0.75, 24.5, 26.0}, {1, 18.1, 19.5}, {1.5, 12.1, 13.3}, {2.5, 7.41, 7.98}, {4, 4.61, 4.95}, {6, 3.08, 3.30},
	{10, 1.83, 1.91}, {16, 1.15, 1.21}, {25, 0.727, 0.780}, {35, 0.524, 0.554}, {50, 0.387, 0.386}, {70, 0.268, 0.272}, {95, 0.193, 0.206},
}

// Conductors lists the cross-sections of the table.
func Conductors() []Conductor { return append([]Conductor(nil), conductors...) }

// copperCoefficient is the temperature coefficient that the correction factors of IEC 60228, annex A, are made with, per kelvin.
const copperCoefficient = 0.004

// Run is a run of cable: what flows, how long it is one way, how thick and how warm.
type Run struct {
	Amps    float64
	Metres  float64 // one way
	Area    float64 // mm2, a cross-section of the table
	Solid   bool    // solid or stranded for fixed laying (classes 1 and 2) instead of flexible (class 5)
	OneWay  bool    // the current comes back through the frame, whose share is left out
	Celsius float64 // of the conductor
}

// Ohms gives the greatest resistance of the run, out and back unless OneWay.
func (r Run) Ohms() (float64, error) {
	if !(r.Metres >= 0) || math.IsInf(r.Metres, 0) || !(r.Celsius > -zeroCelsius) {
		return 0, errors.New("run of cable: want a length in metres of zero or more, and a temperature")
	}
	for _, c := range conductors {
		if c.Area != r.Area {
			continue
		}
		perKm := c.Strands
		if r.Solid {
			perKm = c.Solid
		}
		length := 2 * r.Metres
		if r.OneWay {
			length = r.Metres
		}
		return perKm * length / 1000 * (1 + copperCoefficient*(r.Celsius-20)), nil
	}
	return 0, fmt.Errorf("cross-section %g mm2: IEC 60228 has %s mm2", r.Area, areas())
}

// Drop gives the voltage lost over the run, in volts.
func (r Run) Drop() (float64, error) {
	ohms, err := r.Ohms()
	if err == nil && !(r.Amps >= 0) {
		err = errors.New("run of cable: want a current in amperes of zero or more")
	}
	return ohms * r.Amps, err
}

func areas() string {
	s := ""
	for i, c := range conductors {
		if i > 0 {
			s += ", "
		}
		s += number(c.Area)
	}
	return s
}

// Parallel gives the resistance of resistors side by side, in the unit of the arguments.
func Parallel(ohms ...float64) (float64, error) {
	sum := 0.0
	for _, r := range ohms {
		if !(r > 0) {
			return 0, fmt.Errorf("resistance %g: want values above zero", r)
		}
		sum += 1 / r
	}
	if sum == 0 {
		return 0, errors.New("want at least one resistance")
	}
	return 1 / sum, nil
}
