package code

import "strconv"

// FTBFamily returns the group of a failure type byte, its high digit, "" when it is unknown.
func FTBFamily(ftb string) string {
	n, err := strconv.ParseUint(ftb, 16, 8)
	if err != nil || len(ftb) != 2 {
		return ""
	}
	switch n >> 4 {
	case 0:
		return "general"
	case 1:
		return "electrical"
	case 2:
		return "signal"
	case 3:
		return "pulse width and frequency"
	case 4:
		return "inside the control unit"
	case 5:
		return "programming"
	case 6:
		return "algorithm"
	case 7:
		return "mechanical"
	case 8:
		return "bus message"
	case 9:
		return "component"
	}
	return ""
}

// FTBText returns what a failure type byte of ISO 15031-6 says, in our own words; "" for one that is not in the list.
func FTBText(ftb string) string {
	n, err := strconv.ParseUint(ftb, 16, 8)
	if err != nil || len(ftb) != 2 {
		return ""
	}
	return ftbText(byte(n))
}

func ftbText(b byte) string {
	group, i := b>>4, int(b&0xF)
	if int(group) >= len(ftbTexts) || i >= len(ftbTexts[group]) {
		return ""
	}
	return ftbTexts[group][i]
}

// ftbTexts is indexed by the two digits of the byte.
var ftbTexts = [...][16]string{
	{
		0x0: "no further detail", 0x1: "electrical fault, kind not told", 0x2: "signal fault, kind not told",
		0x3: "pulse-width or frequency signal fault", 0x4: "fault inside the unit", 0x5: "programming fault",
		0x6: "found by a calculation", 0x7: "mechanical fault", 0x8: "fault in a bus message", 0x9: "component fault",
	},
	{
		0x1: "shorted to ground", 0x2: "shorted to battery positive", 0x3: "circuit open",
		0x4: "shorted to ground or open", 0x5: "shorted to battery positive or open",
		0x6: "voltage too low", 0x7: "voltage too high", 0x8: "current too low", 0x9: "current too high",
		0xA: "resistance too low", 0xB: "resistance too high", 0xC: "voltage outside its range",
		0xD: "current outside its range", 0xE: "resistance outside its range", 0xF: "circuit makes contact on and off",
	},
	{
		0x1: "signal swing too small", 0x2: "signal swing too large", 0x3: "signal stays low", 0x4: "signal stays high",
		0x5: "signal has the wrong shape", 0x6: "signal changes too slowly", 0x7: "signal changes too fast",
		0x8: "signal offset outside its range", 0x9: "signal invalid", 0xF: "signal erratic",
	},
	{
		0x1: "no signal", 0x2: "low phase too short", 0x3: "low phase too long", 0x4: "high phase too short",
		0x5: "high phase too long", 0x6: "frequency too low", 0x7: "frequency too high", 0x8: "frequency wrong",
		0x9: "too few pulses", 0xA: "too many pulses",
	},
	{
		0x1: "checksum wrong", 0x2: "memory fault", 0x3: "fault in a special memory", 0x4: "fault in the data memory",
		0x5: "fault in the program memory", 0x6: "fault in the calibration memory", 0x7: "watchdog fault",
		0x8: "supervision program fault", 0x9: "electronics of the unit faulty", 0xA: "wrong component fitted",
		0xB: "unit too hot",
	},
	{
		0x1: "not programmed", 0x2: "not activated", 0x3: "switched off", 0x4: "calibration missing", 0x5: "not configured",
	},
	{
		0x1: "signal calculation wrong", 0x2: "signals disagree", 0x3: "protection function timed out",
		0x4: "signal not plausible", 0x5: "too few changes of state", 0x6: "too many changes of state",
		0x7: "signal wrong after an event", 0x8: "event recorded for information",
	},
	{
		0x1: "actuator stuck", 0x2: "actuator stuck open", 0x3: "actuator stuck closed", 0x4: "actuator slips",
		0x5: "emergency position cannot be reached", 0x6: "mounted in the wrong position",
		0x7: "commanded position cannot be reached", 0x8: "out of alignment", 0x9: "linkage fault",
		0xA: "leak or failed seal", 0xB: "fluid level low",
	},
	{
		0x1: "received data invalid", 0x2: "message counter wrong", 0x3: "message protection value wrong",
		0x4: "received value too low", 0x5: "received value too high", 0x6: "received signal invalid",
		0x7: "message missing", 0x8: "bus off", 0xF: "received signal erratic",
	},
	{
		0x1: "parameters out of tolerance", 0x2: "performs badly or wrongly", 0x3: "does not operate",
		0x4: "operates without command", 0x5: "assembled wrongly", 0x6: "failed inside the component",
		0x7: "obstructed or blocked", 0x8: "component too hot",
	},
}
