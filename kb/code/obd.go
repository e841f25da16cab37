package code

import "strings"

// Control says who gives a range of five-character codes its meaning.
type Control string

// Who may control a range.
const (
	ControlStandard Control = "standard"
	ControlMaker    Control = "maker"
	ControlReserved Control = "reserved" // not assigned; a code seen here can only be the maker's
)

// Control returns who controls the range of an obd code, by SAE J2012; "" for other schemes.
func (c Code) Control() Control {
	if c.Scheme != OBD || len(c.Text) != 5 {
		return ""
	}
	letter, second, third := c.Text[0], c.Text[1], c.Text[2]
	switch second {
	case '0':
		return ControlStandard
	case '1':
		return ControlMaker
	case '2':
		if letter == 'P' {
			return ControlStandard
		}
		return ControlMaker
	}
	return control3(letter, third)
}

// control3 is the fourth quarter of each letter. P3 is split (the split from memory: P30 to P33 the makers', P34 to P39
// the standard's, the rest reserved). U3 is shared between makers and the standard without a line that we could check, so
// it counts as the maker's: that never mixes two makers' meanings.
func control3(letter, third byte) Control {
	switch {
	case letter == 'P' && third <= '3', letter == 'U':
		return ControlMaker
	case letter == 'P' && third <= '9':
		return ControlStandard
	}
	return ControlReserved
}

// System returns the part of the vehicle that the letter of an obd code stands for, "" for other schemes.
func (c Code) System() string {
	if c.Scheme != OBD || c.Text == "" {
		return ""
	}
	switch c.Text[0] {
	case 'P':
		return "powertrain"
	case 'C':
		return "chassis"
	case 'B':
		return "body"
	}
	return "network"
}

// Subsystem returns what the third character of a P0 code narrows it down to, "" where the standard's table says nothing.
// Readings of the ninth group differ between sources; those of A to C are from memory.
func (c Code) Subsystem() string {
	if c.Scheme != OBD || len(c.Text) != 5 || !strings.HasPrefix(c.Text, "P0") {
		return ""
	}
	switch c.Text[2] {
	case '0':
		return "fuel, air and emission control"
	case '1':
		return "fuel and air metering"
	case '2':
		return "fuel and air metering, injector circuits"
	case '3':
		return "ignition or misfire"
	case '4':
		return "auxiliary emission control"
	case '5':
		return "vehicle speed and idle control"
	case '6':
		return "control unit and its outputs"
	case '7', '8':
		return "transmission"
	case '9':
		return "transmission or control unit inputs and outputs"
	case 'A', 'B', 'C':
		return "hybrid propulsion"
	}
	return ""
}
