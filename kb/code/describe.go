package code

import (
	"fmt"
	"strings"
)

// Meaning is what can be said of a code without any case, and where it is taken from.
type Meaning struct {
	Text   string
	Source string
}

// FMIText returns what a failure mode identifier of SAE J1939-73 says, in our own words; "" above 31.
func FMIText(fmi uint8) string {
	if int(fmi) < len(fmiTexts) {
		return fmiTexts[fmi]
	}
	if fmi < MaxFMI {
		return "reserved"
	}
	if fmi == MaxFMI {
		return "the condition named exists"
	}
	return ""
}

var fmiTexts = [...]string{
	"value far too high (most severe)",
	"value far too low (most severe)",
	"value erratic, intermittent or wrong",
	"voltage too high, or shorted to supply",
	"voltage too low, or shorted to ground",
	"current too low, or circuit open",
	"current too high, or circuit grounded",
	"mechanical part does not respond or is out of adjustment",
	"frequency, pulse width or period wrong",
	"message comes too seldom or too often",
	"value changes too fast or too slowly",
	"cause not known",
	"unit or component failed",
	"out of calibration",
	"special instructions of the maker",
	"value too high (least severe)",
	"value too high (moderately severe)",
	"value too low (least severe)",
	"value too low (moderately severe)",
	"data received over the network wrong",
	"value has drifted high",
	"value has drifted low",
}

const (
	sourceJ2012 = "SAE J2012 / ISO 15031-6"
	sourceJ1939 = "SAE J1939-73"
	fromMemory  = sourceJ2012 + ", from memory"
)

// generic returns the short list of standard meanings. Only those that several independent sources agree on, or that the
// whole trade knows, are here; open lists of codes contradict each other too often to be copied.
func generic(text string) (Meaning, bool) {
	switch text {
	case "P0AA6":
		return Meaning{"high-voltage system isolation fault", sourceJ2012}, true
	case "P0A80":
		return Meaning{"hybrid or electric battery pack: replace", sourceJ2012}, true
	case "P0A94":
		return Meaning{"DC/DC converter performance", sourceJ2012}, true
	case "P0A93":
		return Meaning{"inverter cooling system performance", sourceJ2012}, true
	case "P0A7F":
		return Meaning{"hybrid battery pack deteriorated", sourceJ2012}, true
	case "P0A0F":
		return Meaning{"engine failed to start", sourceJ2012}, true
	case "U0100":
		return Meaning{"lost communication with the engine control unit", sourceJ2012}, true
	case "U0140":
		return Meaning{"lost communication with the body control unit", sourceJ2012}, true
	case "U0422":
		return Meaning{"invalid data from the body control unit", sourceJ2012}, true
	case "P0700":
		return Meaning{"transmission control system asks for the warning lamp", sourceJ2012}, true
	case "P0300":
		return Meaning{"misfire, random or on several cylinders", fromMemory}, true
	case "P0301":
		return Meaning{"misfire on cylinder 1", fromMemory}, true
	case "P0171":
		return Meaning{"mixture too lean, bank 1", fromMemory}, true
	case "P0420":
		return Meaning{"catalyst efficiency too low, bank 1", fromMemory}, true
	}
	return Meaning{}, false
}

// Describe says what the standards say of a code: a generic meaning from our checked list where there is one, else what
// its structure tells. A maker's code has none, and the zero Meaning is returned.
func Describe(c Code) Meaning {
	switch c.Scheme {
	case OBD:
		return describeOBD(c)
	case J1939:
		return describeJ1939(c)
	}
	return Meaning{}
}

func describeOBD(c Code) Meaning {
	m, known := generic(c.Text)
	if !known {
		m = Meaning{structure(c), sourceJ2012}
	}
	if t := FTBText(c.FTB); t != "" {
		m.Text += "; " + t
	} else if t := FTBFamily(c.FTB); t != "" {
		m.Text += "; failure type " + c.FTB + ", " + t
	}
	return m
}

func structure(c Code) string {
	parts := []string{c.System()}
	if s := c.Subsystem(); s != "" {
		parts = append(parts, s)
	}
	switch c.Control() {
	case ControlStandard:
		parts = append(parts, "meaning set by the standard")
	case ControlMaker:
		parts = append(parts, "meaning set by the maker")
	case ControlReserved:
		parts = append(parts, "range not assigned by the standard")
	}
	return strings.Join(parts, ", ")
}

func describeJ1939(c Code) Meaning {
	text := fmt.Sprintf("parameter %d of the standard", c.SPN)
	if ProprietarySPN(c.SPN) {
		text = fmt.Sprintf("parameter %d, meaning set by the maker", c.SPN)
	}
	if c.HasFMI {
		text += ": " + FMIText(c.FMI)
	}
	return Meaning{text, sourceJ1939}
}
