package limit

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"ruledout/kb/quantity"
)

// Line is one thing that a calculator works out.
type Line struct {
	What   string  `json:"what"`
	Value  float64 `json:"value"`
	Unit   string  `json:"unit"`
	Text   string  `json:"text"` // in words, where there is more to it than a number
	Source string  `json:"source"`
}

// Calculator works something out from quantities that are written in a text.
type Calculator struct {
	Name    string
	About   string
	Example string // what may be written
	do      func(in inputs) ([]Line, error)
}

// Do works it out. An error says what is missing.
func (c Calculator) Do(text string) ([]Line, error) {
	in, err := inputsIn(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", c.Name, err)
	}
	lines, err := c.do(in)
	if err != nil {
		return nil, fmt.Errorf("%s: %w (such as \"%s\")", c.Name, err, c.Example)
	}
	return lines, nil
}

var calculators = []Calculator{
	{"drop", "voltage lost over a run of cable, out and back unless \"one way\"", "10 A 5 m 2.5 mm2", reckonDrop},
	{"gloves", "class of insulating gloves for a working voltage, DC unless \"ac\"", "400 V", reckonGloves},
	{"insulation", "least insulation resistance for a working voltage", "400 V", reckonInsulation},
	{"parallel", "resistance of resistors side by side, such as bus terminations", "120 ohm 120 ohm", reckonParallel},
	{"pilot", "what a charging point's control pilot says: current by duty cycle, state by voltage", "53 %", reckonPilot},
	{"platinum", "platinum thermometer: resistance by temperature or the other way round; Pt100 unless \"pt1000\"", "108.5 ohm", reckonPlatinum},
	{"rest", "state of charge of a 12 V flooded battery by its voltage at rest", "12.45 V", reckonRest},
}

// Calculators lists them by name.
func Calculators() []Calculator { return slices.Clone(calculators) }

// inputs are the quantities of a text by SI unit, and what it gives to a limit.
type inputs struct {
	byBase map[string][]float64 // SI
	given  Given
}

func inputsIn(text string) (inputs, error) {
	in := inputs{byBase: map[string][]float64{}, given: GivenIn(text)}
	found := quantity.Find(text)
	if len(found) == 0 {
		return in, errors.New("want numbers with their units")
	}
	for _, f := range found {
		si, base, ok := f.SI()
		if !ok || f.Upper != nil || f.Bound != quantity.Equal {
			return in, fmt.Errorf("%s: want a plain value", f.Quantity)
		}
		in.byBase[base] = append(in.byBase[base], si)
	}
	return in, nil
}

// one gives the only value of a unit.
func (in inputs) one(base, what string) (float64, error) {
	if len(in.byBase[base]) != 1 {
		return 0, fmt.Errorf("want %s", what)
	}
	return in.byBase[base][0], nil
}

func reckonDrop(in inputs) ([]Line, error) {
	amps, e1 := in.one("A", "one current")
	metres, e2 := in.one("m", "one length, one way")
	_, e3 := in.one("m2", "one cross-section")
	if err := errors.Join(e1, e2, e3); err != nil {
		return nil, errors.New(strings.ReplaceAll(err.Error(), "\n", ", "))
	}
	r := Run{Amps: amps, Metres: metres, Area: in.given.Area, Celsius: 20, OneWay: in.given.says("one way"), Solid: in.given.says("solid", "stranded")}
	if len(in.byBase["K"]) == 1 {
		r.Celsius = in.given.Celsius
	}
	ohms, err := r.Ohms()
	if err != nil {
		return nil, err
	}
	drop, err := r.Drop()
	source := "IEC 60228, class 5 (greatest resistance of the conductor; contacts come on top)"
	if r.Solid {
		source = "IEC 60228, classes 1 and 2 (greatest resistance of the conductor; contacts come on top)"
	}
	return []Line{
		{What: "voltage lost", Value: drop, Unit: "V", Source: source},
		{What: "resistance of the run", Value: ohms * 1000, Unit: "mohm", Source: source},
		{What: "heat in the run", Value: drop * amps, Unit: "W", Source: "voltage times current"},
	}, err
}

func reckonGloves(in inputs) ([]Line, error) {
	volts, err := in.one("V", "one voltage")
	if err != nil {
		return nil, err
	}
	g, err := GloveFor(volts, in.given.says("ac", "rms"))
	if err != nil {
		return nil, err
	}
	return []Line{{
		What: "class of insulating gloves", Text: fmt.Sprintf("class %s at least (%s label): to %g V AC, %g V DC; %s", g.Class, g.Colour, g.AC, g.DC, GloveRetest),
		Source: "ASTM D120, IEC 60903",
	}}, nil
}

func reckonInsulation(in inputs) ([]Line, error) {
	volts, err := in.one("V", "one working voltage")
	if err != nil {
		return nil, err
	}
	limits, err := insulationLimits(Given{Volts: volts, Words: in.given.Words})
	var out []Line
	for _, l := range limits {
		out = append(out, Line{What: l.Name, Value: *l.Low, Unit: l.Unit, Text: l.String(), Source: "UN R100, 5.1.3"})
	}
	return out, err
}

func reckonParallel(in inputs) ([]Line, error) {
	ohms, err := Parallel(in.byBase["ohm"]...)
	return []Line{{What: "side by side", Value: ohms, Unit: "ohm", Source: "1/R = sum of 1/Ri"}}, err
}

func reckonPilot(in inputs) ([]Line, error) {
	if duty, err := in.one("1", "one duty cycle"); err == nil {
		amps, err := PilotCurrent(duty * 100)
		return []Line{{What: "greatest charging current", Value: amps, Unit: "A", Source: "SAE J1772, IEC 61851-1"}}, err
	}
	volts, err := in.one("V", "one duty cycle or one voltage")
	if err != nil {
		return nil, err
	}
	state, means, ok := PilotState(volts)
	if !ok {
		return []Line{{What: "state", Text: "between the levels: no state (a bad diode or resistor, a poor contact, or a meter that averages the pulses)", Source: pilotSource}}, nil
	}
	return []Line{{What: "state", Text: state + ": " + means, Source: pilotSource}}, nil
}

func reckonPlatinum(in inputs) ([]Line, error) {
	r0 := 100.0
	if in.given.says("pt1000", "pt 1000") {
		r0 = 1000
	}
	if kelvin, err := in.one("K", ""); err == nil {
		ohms, err := Platinum(r0, kelvin-zeroCelsius)
		return []Line{{What: fmt.Sprintf("Pt%g", r0), Value: ohms, Unit: "ohm", Source: "IEC 60751"}}, err
	}
	ohms, err := in.one("ohm", "one resistance or one temperature")
	if err != nil {
		return nil, err
	}
	celsius, err := PlatinumTemperature(r0, ohms)
	return []Line{{What: fmt.Sprintf("Pt%g", r0), Value: celsius, Unit: "°C", Source: "IEC 60751"}}, err
}

func reckonRest(in inputs) ([]Line, error) {
	volts, err := in.one("V", "one voltage")
	if err != nil {
		return nil, err
	}
	low, high := RestCharge(volts)
	return []Line{{What: "state of charge", Text: fmt.Sprintf("%.0f to %.0f %%: published tables differ by up to 0.15 V; hours after charging, no load", low, high), Source: practice}}, nil
}
