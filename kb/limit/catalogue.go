package limit

import (
	"fmt"
	"math"
)

const (
	practice   = "common practice of the trade"
	fromMemory = " (from memory)"
)

// published is the catalogue. Where a value is from memory or common practice its source says so.
var published = []Published{
	{
		Name: "can bus, both terminations", Base: "ohm", Components: []string{"can bus", "can bus wiring", "can terminating resistor"},
		Words: []string{"can bus", "can termination", "termination", "can", "bus termination", "between can high and can low"},
		Only:  []string{"bus resistance measurement", "termination", "can h to can l", "can high to can low", "bus resistance"},
		make:  fixed(50, 65, "ohm"), Source: "ISO 11898-2: two terminations of 100 to 130 ohm side by side" + fromMemory,
		Note: "Power off and control units asleep. About 120 ohm: one termination is missing; much lower: one too many or a short; open: none.",
	},
	{
		Name: "can bus, one termination", Base: "ohm", Components: []string{"can terminating resistor"},
		Words: []string{"one termination", "single termination", "terminator", "termination resistor"},
		make:  fixed(100, 130, "ohm"), Source: "ISO 11898-2" + fromMemory, Note: "Measured with the plug off, so that the other end is not in parallel.",
	},
	{
		Name: "insulation of a high-voltage circuit", Base: "ohm", Components: []string{"isolation resistance", "traction battery", "electric ac compressor", "ptc heater", "drive motor", "inverter"},
		Words: []string{"insulation", "isolation", "pack", "traction battery", "hv", "high voltage", "high voltage battery", "insulation resistance", "isolation resistance"},
		Needs: []string{"V"}, make: insulationLimits, Source: "UN R100, 5.1.3", Hazards: []string{"high voltage"},
		Note: "100 ohm/V holds for DC buses that are separate from AC ones, 500 ohm/V for AC buses and for DC buses connected with them; which applies is the vehicle's topology, never a value between.",
	},
	{
		Name: "insulation of a high-voltage circuit, per volt", Base: "ohm/V", Components: []string{"isolation resistance", "traction battery"},
		Words: []string{"insulation", "isolation", "pack", "traction battery", "hv", "high voltage", "per volt"},
		make:  perVoltLimits, Source: "UN R100, 5.1.3", Hazards: []string{"high voltage"},
		Note: "Of the working voltage. Which of the two applies is the vehicle's topology, never a value between.",
	},
	{
		Name: "insulation of a machine's mains circuit", Base: "ohm",
		Words: []string{"mains insulation", "motor insulation", "winding to earth", "winding to casing", "machine insulation", "element to earth"},
		make:  fixed(1e6, none, "ohm"), Source: "IEC 60204-1, 18.3: at least 1 Mohm at 500 V DC" + fromMemory, Hazards: []string{"mains"},
		Note: "Dead, disconnected and proven so. Electronics in the circuit are disconnected or left out: 500 V destroys them.",
	},
	{
		Name: "bonding of exposed conductive parts", Base: "ohm",
		Words: []string{"bonding", "equipotential bonding", "exposed parts", "chassis bonding"},
		make:  fixed(0, 0.1, "ohm"), Source: "UN R100, 5.1.2", Note: "Measured with at least 0.2 A, with leads taken off the result; a common meter's test current is too small to prove it.",
	},
	{
		Name: "dead after switching off", Base: "V", Words: []string{"proven dead", "dead", "discharged", "after switching off", "dc link discharged"},
		make: fixed(-HighVoltageDC, HighVoltageDC, "V"), Source: "UN R100, 2.17: high voltage begins above 60 V DC", Hazards: []string{"high voltage"},
		Note: "Below this it is no high voltage; the maker's own value and waiting time go first. Prove the meter on a known source before and after.",
	},
	{Name: "control pilot, state A", Base: "V", Words: []string{"pilot state a", "state a"}, make: pilotLimit("A"), Source: pilotSource, Note: "No vehicle connected; direct voltage."},
	{Name: "control pilot, state B", Base: "V", Words: []string{"pilot state b", "state b"}, make: pilotLimit("B"), Source: pilotSource, Note: "Connected, not ready; the positive half wave."},
	{Name: "control pilot, state C", Base: "V", Words: []string{"pilot state c", "state c"}, make: pilotLimit("C"), Source: pilotSource, Note: "Charging without ventilation; the positive half wave."},
	{Name: "control pilot, state D", Base: "V", Words: []string{"pilot state d", "state d"}, make: pilotLimit("D"), Source: pilotSource, Note: "Charging with ventilation; the positive half wave."},
	{
		Name: "control pilot, duty cycle that sets a current", Base: "1", Components: []string{"control pilot"}, Words: []string{"pilot duty", "pilot", "duty of pilot", "control pilot"},
		Only: []string{"pilot duty", "duty of pilot", "duty cycle"}, make: fixed(10, 96, "%"), Source: "SAE J1772, IEC 61851-1", Note: "3 to 7 % asks for digital communication; elsewhere there is no charging.",
	},
	{
		Name: "connector proximity, type 1, latched", Base: "ohm", Words: []string{"proximity", "proximity type 1", "proximity latched", "proximity circuit"},
		make: around(150, 0.1, "ohm"), Source: "a charging help page; tolerance " + practice, Note: "In the connector, not plugged in, button not pressed; about 480 ohm with it pressed.",
	},
	{Name: "connector proximity, type 1, button pressed", Base: "ohm", Words: []string{"proximity pressed", "proximity button pressed", "button pressed"}, make: around(480, 0.1, "ohm"), Source: "a charging help page; tolerance " + practice, Note: "In the connector, not plugged in."},
	cableLimit(13, 1500), cableLimit(20, 680), cableLimit(32, 220), cableLimit(63, 100),
	{
		Name: "12 V battery at rest", Base: "V", Components: []string{"12 v battery", "battery"}, Words: []string{"battery at rest", "battery", "resting battery", "resting", "at rest", "12 v battery at rest"},
		Only: []string{"resting", "at rest", "open circuit voltage", "resting voltage", "battery at rest"},
		make: fixed(12.4, 12.9, "V"), Source: practice + "; tables differ by up to 0.15 V", Hazards: []string{"battery"},
		Note: "Flooded lead battery, hours after charging, room temperature; 12.4 V is about three quarters charged. Rest voltage tells the charge, not the health: that takes a load test.",
	},
	{
		Name: "charging voltage of a 12 V system", Base: "V", Components: []string{"alternator"}, Words: []string{"charging voltage", "alternator output", "charging"},
		Only: []string{"charging voltage check", "charging voltage", "alternator output test", "charging test"},
		make: fixed(13.5, 14.8, "V"), Source: practice, Note: "Engine at fast idle, loads off. Makers with managed alternators let it fall lower on purpose: their figures go first.",
	},
	{
		Name: "voltage drop of an earth path under load", Base: "V", Components: []string{"earth strap", "engine earth strap", "ground point", "battery cable"},
		Words: []string{"earth drop", "ground drop", "voltage drop", "ground side drop"}, Only: []string{"voltage drop test", "ground drop", "earth volt drop"},
		make: fixed(-0.2, 0.2, "V"), Source: practice, Note: "Under the full load (cranking for a starter), from the part's housing to the battery's negative post.",
	},
	{Name: "platinum thermometer Pt100", Base: "ohm", Words: []string{"pt100", "pt 100"}, Needs: []string{"K"}, make: platinum(100), Source: platinumSource, Note: "At the sensor; two-wire leads add their own resistance."},
	{Name: "platinum thermometer Pt1000", Base: "ohm", Words: []string{"pt1000", "pt 1000"}, Needs: []string{"K"}, make: platinum(1000), Source: platinumSource, Note: "At the sensor; two-wire leads add their own resistance."},
	{
		Name: "copper conductor, flexible", Base: "ohm", Words: []string{"conductor", "wire", "cable run", "copper"}, Needs: []string{"mm2", "m"}, make: conductorLimit,
		Source: "IEC 60228, class 5", Note: "One way, at 20 °C unless a temperature is given. Contacts and lugs add to it.",
	},
	{
		Name: "blade fuse, voltage of the circuit", Base: "V", Words: []string{"blade fuse", "fuse voltage"}, make: fixed(0, 32, "V"), Source: "ISO 8820-3",
		Note: "Rated 32 V (58 V versions are marked so), up to 100 A, breaking capacity 1000 A. Never in a high-voltage circuit.",
	},
	{
		Name: "air ratio at raised idle", Base: "lambda", Words: []string{"lambda", "air ratio", "exhaust"}, make: fixed(0.97, 1.03, "lambda"),
		Source: "Directive 2014/45/EU, annex I, 8.2.1.2" + fromMemory, Note: "Petrol engine with closed-loop control, warm, at least 2000 rpm; the maker's figure goes first.",
	},
}

const (
	pilotSource    = "SAE J1772, IEC 61851-1" + fromMemory
	platinumSource = "IEC 60751; class B tolerance" + fromMemory
)

func insulationLimits(g Given) ([]Limit, error) {
	var out []Limit
	for _, bus := range []struct {
		name       string
		ohmPerVolt float64
		words      []string
	}{
		{"DC buses separate from AC", OhmPerVoltDC, []string{"dc", "separate", "100 ohm", "battery only"}},
		{"AC buses, or DC connected with AC", OhmPerVoltAC, []string{"ac", "connected", "500 ohm"}},
	} {
		ohms, err := Insulation(g.Volts, bus.ohmPerVolt)
		if err != nil {
			return nil, err
		}
		l := Limit{Name: fmt.Sprintf("insulation of a %g V circuit, %s (%g ohm/V)", g.Volts, bus.name, bus.ohmPerVolt), Low: new(ohms / 1000), Unit: "kohm"}
		if g.says(bus.words...) {
			return []Limit{l}, nil
		}
		out = append(out, l)
	}
	return out, nil
}

func perVoltLimits(g Given) ([]Limit, error) {
	g.Volts = 1
	list, err := insulationLimits(g)
	for i := range list {
		list[i].Name = fmt.Sprintf("insulation, %g ohm/V", *list[i].Low*1000)
		list[i].Low, list[i].Unit = new(*list[i].Low*1000), "ohm/V"
	}
	return list, err
}

func pilotLimit(state string) func(Given) ([]Limit, error) {
	for _, s := range pilotStates {
		if s.state == state {
			return fixed(s.volts-pilotWidth, s.volts+pilotWidth, "V")
		}
	}
	return nil
}

func around(nominal, share float64, unit string) func(Given) ([]Limit, error) {
	return fixed(nominal*(1-share), nominal*(1+share), unit)
}

func cableLimit(amps, ohms float64) Published {
	return Published{
		Name: fmt.Sprintf("cable coding, type 2, %g A", amps), Base: "ohm",
		Words: []string{fmt.Sprintf("cable coding %g a", amps), fmt.Sprintf("%g a cable", amps), fmt.Sprintf("cable %g a", amps), fmt.Sprintf("coding %g a", amps)},
		make:  around(ohms, cableWidth, "ohm"), Source: "IEC 61851-1, annex B, by way of a public controller's source; tolerance " + practice,
		Note: "Between proximity and earth in the plug, not plugged in.",
	}
}

func platinum(r0 float64) func(Given) ([]Limit, error) {
	return func(g Given) ([]Limit, error) {
		l, err := platinumLimit(r0, g.Celsius)
		l.Name = fmt.Sprintf("Pt%g at %g °C", r0, g.Celsius)
		return []Limit{l}, err
	}
}

func conductorLimit(g Given) ([]Limit, error) {
	r := Run{Metres: g.Metres, Area: g.Area, OneWay: true, Celsius: 20}
	if !math.IsNaN(g.Celsius) {
		r.Celsius = g.Celsius
	}
	ohms, err := r.Ohms()
	if err != nil {
		return nil, err
	}
	return []Limit{{Name: fmt.Sprintf("%g m of %g mm2 copper at %g °C", r.Metres, r.Area, r.Celsius), Low: new(0.0), High: new(ohms * 1000), Unit: "mohm"}}, nil
}
