package limit

import (
	"errors"
	"fmt"
)

// Insulation asked of a high-voltage circuit, in ohms per volt of working voltage (UN R100, 5.1.3.1 and 5.1.3.2).
const (
	OhmPerVoltDC = 100 // DC buses, separate from AC ones
	OhmPerVoltAC = 500 // AC buses, and DC buses connected with AC ones
)

// Insulation gives the least insulation resistance in ohms of a circuit of the working voltage, in volts, by its topology: the two figures
// are not to be mixed or averaged.
func Insulation(volts, ohmPerVolt float64) (float64, error) {
	if !(volts > 0) {
		return 0, errors.New("working voltage: want volts above zero")
	}
	return volts * ohmPerVolt, nil
}

// Glove is a class of insulating gloves (ASTM D120, IEC 60903).
type Glove struct {
	Class   string
	AC, DC  float64 // highest working voltage, volts
	ProofAC float64 // proof-test voltage, volts
	Colour  string  // of the label
}

var gloves = []Glove{
	{"00", 500, 750, 2500, "beige"},
	{"0", 1000, 1500, 5000, "red"},
	{"1", 7500, 11250, 10000, "white"},
	{"2", 17000, 25500, 20000, "yellow"},
	{"3", 26500, 39750, 30000, "green"},
	{"4", 36000, 54000, 40000, "orange"},
}

// Gloves lists the classes from the lowest voltage to the highest.
func Gloves() []Glove { return append([]Glove(nil), gloves...) }

// GloveFor gives the lowest class of glove for a working voltage. The DC limits are one and a half times the AC ones.
func GloveFor(volts float64, alternating bool) (Glove, error) {
	for _, g := range gloves {
		limit := g.DC
		if alternating {
			limit = g.AC
		}
		if volts >= 0 && volts <= limit {
			return g, nil
		}
	}
	return Glove{}, fmt.Errorf("%g V: no class of insulating glove is made for it", volts)
}

// GloveRetest says how often gloves are tested again.
const GloveRetest = "tested within 12 months before first use and every 6 months in service (29 CFR 1910.137); look and air-test before each use"

// Bounds of high voltage (UN R100, 2.17).
const (
	HighVoltageDC = 60.0
	HighVoltageAC = 30.0 // rms
)
