package limit

import (
	"fmt"
	"math"
)

// pilotStates are the levels of the control pilot of a charging point, positive half wave (SAE J1772, IEC 61851-1; from memory), each within
// a volt, as far as the levels are apart.
var pilotStates = []struct {
	state string
	volts float64
	means string
}{
	{"A", 12, "no vehicle connected"},
	{"B", 9, "vehicle connected, not ready"},
	{"C", 6, "charging, no ventilation needed"},
	{"D", 3, "charging, ventilation needed"},
	{"E", 0, "no supply, or the pilot is shorted to earth"},
	{"F", -12, "the charging point is at fault"},
}

// pilotWidth is how far a level may be off, in volts (from memory).
const pilotWidth = 1

// PilotState names the state of a control pilot from its voltage, and what it means. ok is false between the levels.
func PilotState(volts float64) (state, means string, ok bool) {
	for _, s := range pilotStates {
		if math.Abs(volts-s.volts) <= pilotWidth {
			return s.state, s.means, true
		}
	}
	return "", "", false
}

// PilotCurrent gives the current in amperes that a control pilot of the given duty cycle, in per cent, allows (SAE J1772, IEC 61851-1): 0.6
// A a per cent from 10 to 85 %, 2.5 A a per cent above 64 from there to 96 %. The two laws do not meet at 85 %: 51 A by the lower, 52.5 A
// by the upper. From 3 to 7 % the current is agreed by digital communication, and elsewhere there is no charging: an error says which.
func PilotCurrent(duty float64) (float64, error) {
	switch {
	case math.IsNaN(duty) || duty < 0 || duty > 100:
		return 0, fmt.Errorf("duty %g %%: want 0 to 100 %%", duty)
	case duty >= 3 && duty <= 7:
		return 0, fmt.Errorf("duty %g %%: 3 to 7 %% ask for digital communication, the duty sets no current", duty)
	case duty <= 8 || duty > 97:
		return 0, fmt.Errorf("duty %g %%: no charging is allowed", duty)
	case duty < 10:
		return 6, nil
	case duty <= 85:
		return 0.6 * duty, nil
	case duty <= 96:
		return 2.5 * (duty - 64), nil
	}
	return 80, nil
}

// cableWidth is the share by which the resistance in a plug that tells the cable's rating may be off when read (common practice of the trade: half of the way to the next code is
// never needed).
const cableWidth = 0.10
