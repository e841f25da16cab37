package limit

// dimensions names what each SI unit of the table measures.
var dimensions = map[string]string{
	"ohm": "resistance", "ohm/V": "resistance per volt", "V": "voltage", "A": "current", "W": "power", "J": "energy", "C": "charge",
	"Pa": "pressure", "K": "temperature", "1": "a share", "1/s": "speed of rotation", "Hz": "frequency", "s": "time", "m": "length",
	"m/s": "speed", "m3": "volume", "m3/s": "flow", "kg/s": "mass flow", "N m": "torque", "kg": "mass", "F": "capacitance",
	"H": "inductance", "rad": "angle", "lambda": "air ratio", "S": "conductance",
}

// Dimension names what an SI unit measures, "a bare number" for none.
func Dimension(base string) string {
	if d, ok := dimensions[base]; ok {
		return d
	}
	if base == "" {
		return "a bare number"
	}
	return base
}
