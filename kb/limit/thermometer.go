package limit

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// zeroCelsius is 0 °C in kelvins.
const zeroCelsius = 273.15

// Coefficients of the Callendar-Van Dusen equation for industrial platinum (IEC 60751, 4.2).
const (
	platinumA = 3.9083e-3
	platinumB = -5.775e-7
	platinumC = -4.183e-12
)

// Platinum gives the resistance in ohms of a platinum thermometer with r0 ohms at 0 °C (Pt100: 100) at a temperature from -200 to 850 °C
// (IEC 60751).
func Platinum(r0, celsius float64) (float64, error) {
	if celsius < -200 || celsius > 850 || math.IsNaN(celsius) {
		return 0, fmt.Errorf("temperature %g °C: IEC 60751 gives values from -200 to 850 °C", celsius)
	}
	return r0 * platinumRatio(celsius), nil
}

func platinumRatio(t float64) float64 {
	r := 1 + platinumA*t + platinumB*t*t
	if t < 0 {
		r += platinumC * (t - 100) * t * t * t
	}
	return r
}

// PlatinumTemperature gives the temperature in °C at which a platinum thermometer has the resistance. Above 0 °C the equation is solved,
// below it Newton's method is used.
func PlatinumTemperature(r0, ohms float64) (float64, error) {
	ratio := ohms / r0
	if !(ratio >= platinumRatio(-200)) || ratio > platinumRatio(850) {
		return 0, fmt.Errorf("resistance %g ohm: a platinum thermometer of %g ohm has %.4g to %.4g ohm from -200 to 850 °C", ohms, r0, r0*platinumRatio(-200), r0*platinumRatio(850))
	}
	t := (-platinumA + math.Sqrt(platinumA*platinumA-4*platinumB*(1-ratio))) / (2 * platinumB)
	for range 20 {
		if t >= 0 {
			break
		}
		slope := platinumA + 2*platinumB*t + platinumC*(4*t*t*t-300*t*t)
		t -= (platinumRatio(t) - ratio) / slope
	}
	return t, nil
}

// classB is the tolerance of a class B thermometer in kelvins (IEC 60751, table 12; from memory).
func classB(celsius float64) float64 { return 0.30 + 0.005*math.Abs(celsius) }

// platinumLimit is the band of a class B thermometer.
func platinumLimit(r0, celsius float64) (Limit, error) {
	r, err := Platinum(r0, celsius)
	if err != nil {
		return Limit{}, err
	}
	slope := r0 * (platinumRatio(celsius+0.5) - platinumRatio(celsius-0.5))
	half := slope * classB(celsius)
	return Limit{Low: new(r - half), High: new(r + half), Unit: "ohm"}, nil
}

// NTC gives the resistance of a thermistor with a negative temperature coefficient by its beta: R = r25 exp(beta (1/T - 1/298.15 K)).
// Beta holds between the two temperatures it was stated for (usually 25 and 85 °C); away from them the equation is off by some per cent.
func NTC(r25, beta, celsius float64) (float64, error) {
	if r25 <= 0 || beta <= 0 || celsius <= -zeroCelsius {
		return 0, errors.New("thermistor: want a resistance at 25 °C and a beta above zero, and a temperature above -273.15 °C")
	}
	return r25 * math.Exp(beta*(1/(celsius+zeroCelsius)-1/(25+zeroCelsius))), nil
}

// Point is one row of a table of values by temperature.
type Point struct{ Celsius, Value float64 }

// At interpolates a table. Between two points of a resistance that falls with temperature the thermistor's law is used (a straight line of
// the logarithm over the inverse temperature), otherwise a straight line. Beyond the table there is no value.
func At(table []Point, celsius float64) (float64, error) {
	rows := slices.Clone(table)
	slices.SortFunc(rows, func(a, b Point) int {
		if a.Celsius < b.Celsius {
			return -1
		}
		return 1
	})
	for i := 1; i < len(rows); i++ {
		if rows[i-1].Celsius == rows[i].Celsius {
			return 0, fmt.Errorf("table: two values at %g °C", rows[i].Celsius)
		}
	}
	if len(rows) < 2 || celsius < rows[0].Celsius || celsius > rows[len(rows)-1].Celsius {
		return 0, fmt.Errorf("table: no value at %g °C, it lies outside the table", celsius)
	}
	i := slices.IndexFunc(rows[1:], func(p Point) bool { return celsius <= p.Celsius })
	a, b := rows[i], rows[i+1]
	if a.Value > b.Value && b.Value > 0 {
		inverse := func(t float64) float64 { return 1 / (t + zeroCelsius) }
		share := (inverse(celsius) - inverse(a.Celsius)) / (inverse(b.Celsius) - inverse(a.Celsius))
		return a.Value * math.Pow(b.Value/a.Value, share), nil
	}
	return a.Value + (b.Value-a.Value)*(celsius-a.Celsius)/(b.Celsius-a.Celsius), nil
}
