package limit

// restTable gives the state of charge of a 12 V flooded lead battery at rest and room temperature by its voltage (common practice of the
// trade: published tables differ by up to 0.15 V, so that a band is used and no equality).
var restTable = []struct{ percent, volts float64 }{{0, 11.89}, {25, 12.06}, {50, 12.24}, {75, 12.45}, {100, 12.65}}

// restSpread is how far published tables lie apart, in volts.
const restSpread = 0.15

// RestCharge gives the band of the state of charge, in per cent, that the voltage of a 12 V flooded battery at rest leaves open.
func RestCharge(volts float64) (low, high float64) {
	return chargeAt(volts - restSpread), chargeAt(volts + restSpread)
}

func chargeAt(volts float64) float64 {
	last := restTable[0]
	if volts <= last.volts {
		return 0
	}
	for _, p := range restTable[1:] {
		if volts <= p.volts {
			return last.percent + (p.percent-last.percent)*(volts-last.volts)/(p.volts-last.volts)
		}
		last = p
	}
	return 100
}
