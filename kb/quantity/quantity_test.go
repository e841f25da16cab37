package quantity_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb/quantity"
)

func eq(value float64, unit string) quantity.Quantity {
	return quantity.Quantity{Value: value, Unit: unit, Bound: quantity.Equal}
}

func between(low, high float64, unit string) quantity.Quantity {
	return quantity.Quantity{Value: low, Upper: &high, Unit: unit, Bound: quantity.Equal}
}

func TestParse(t *testing.T) {
	for in, want := range map[string]quantity.Quantity{
		"4.7k":            eq(4.7, "kohm"), // common practice of the trade: k alone is kilohms
		"4k7":             eq(4.7, "kohm"), // IEC 60062, letter for the decimal point
		"4K7 ohm":         eq(4.7, "kohm"),
		"0R5":             eq(0.5, "ohm"),
		"2M2":             eq(2.2, "Mohm"),
		"3V3":             eq(3.3, "V"),
		"12,4 V":          eq(12.4, "V"),
		"0,125 in":        eq(0.125, "in"),
		"-40F":            eq(-40, "°F"),
		"−5 °C":           eq(-5, "°C"),
		"48 degC":         eq(48, "°C"),
		"195 F":           eq(195, "°F"),
		"3 bar":           eq(3, "bar"),
		"43.5psi":         eq(43.5, "psi"),
		"0.5 mpa":         eq(0.5, "MPa"),
		"100 KPA":         eq(100, "kPa"),
		"14.2v dc":        eq(14.2, "V"),
		"14 VOLTS":        eq(14, "V"),
		"31 ohms":         eq(31, "ohm"),
		"0.3 Mohm":        eq(0.3, "Mohm"),
		"5 mohm":          eq(5, "mohm"),
		"2 MOHM":          eq(2, "Mohm"),
		"0.2 M\u2126":     eq(0.2, "Mohm"),
		"20M ohm":         eq(20, "Mohm"),
		"85 k ohm":        eq(85, "kohm"),
		"10 \u00b5F":      eq(10, "uF"),
		"96 hours":        eq(96, "h"),
		"142k miles":      eq(142000, "mi"),
		"142K MILES":      eq(142000, "mi"),
		"11 000 km":       eq(11000, "km"),
		"1,150 h":         eq(1150, "h"),
		"1,234.5 km":      eq(1234.5, "km"),
		"+18 %":           eq(18, "%"),
		"740 rpm":         eq(740, "rpm"),
		"300 K":           eq(300, "K"),
		"5 Nm":            eq(5, "Nm"),
		"25 ft-lbs":       eq(25, "ft-lb"),
		"11 l/min":        eq(11, "L/min"),
		"about 60 ohm":    eq(60, "ohm"),
		"4.7":             eq(4.7, ""),
		"2.1-2.4 kohm":    between(2.1, 2.4, "kohm"),
		"17 to 19 ohm":    between(17, 19, "ohm"),
		"20 mA to 40 mA":  between(20, 40, "mA"),
		"70-80k miles":    between(70000, 80000, "mi"),
		"-40 - -20 C":     between(-40, -20, "°C"),
		">20M ohm":        {Value: 20, Unit: "Mohm", Bound: quantity.Greater},
		"over 200 megohm": {Value: 200, Unit: "Mohm", Bound: quantity.Greater},
		"< 1 ohm":         {Value: 1, Unit: "ohm", Bound: quantity.Less},
		"550 kOhm/V":      {Value: 550, Unit: "kohm/V", Bound: quantity.Equal},
		"12 °":            {Value: 12, Unit: "°", Bound: quantity.Equal},
		"0.98 lambda":     {Value: 0.98, Unit: "lambda", Bound: quantity.Equal},
		"2.5 mm2":         {Value: 2.5, Unit: "mm2", Bound: quantity.Equal},
		"400 ppm":         {Value: 400, Unit: "ppm", Bound: quantity.Equal},
		"OL":              {Bound: quantity.Open},
		"o.l.":            {Bound: quantity.Open},
		"open circuit":    {Bound: quantity.Open},
		"infinite":        {Bound: quantity.Open},
	} {
		t.Run(in, func(t *testing.T) {
			got, err := quantity.Parse(in)
			require.NoError(t, err)
			assert.Equal(t, want, got)
		})
	}
}

func TestParseErrors(t *testing.T) {
	for in, message := range map[string]string{
		"":            "want a number",
		"volts":       "want a number",
		"4.7 bananas": `"bananas" is no unit`,
		"1e999 V":     "out of range",
		"4.7 5 V":     `one quantity, then comes "5 V"`,
		"12 V 5 A":    `one quantity, then comes "5 A"`,
		"5-3 V":       `one quantity, then comes "-3 V"`,
		">3-5 V":      "either a limit or a range",
		"3 V to 5 A":  "one quantity",
		"12.4.5 V":    "one quantity",
		"1 V                                                                                 x": "x",
	} {
		t.Run(in, func(t *testing.T) {
			_, err := quantity.Parse(in)
			require.ErrorContains(t, err, message)
		})
	}
}

// Factors from the definitions of the units: bar 100 kPa, pound-force per square inch 6894.757 Pa, inch 25.4 mm, mile
// 1609.344 m, US gallon 231 cubic inches, Fahrenheit 32 at 0 °C with 9 to 5 (NIST SP 811 app. B, from memory).
func TestSI(t *testing.T) {
	for _, tc := range []struct {
		in    string
		value float64
		base  string
	}{
		{"12 bar", 1200000, "Pa"},
		{"1 psi", 6894.757293168, "Pa"},
		{"14.5037738 psi", 100000, "Pa"},
		{"1 mbar", 100, "Pa"},
		{"5 Nm", 5, "N m"},
		{"1 ft-lb", 1.3558179483314, "N m"},
		{"32 °F", 273.15, "K"},
		{"-40 °F", 233.15, "K"},
		{"-40 °C", 233.15, "K"},
		{"212 F", 373.15, "K"},
		{"4k7", 4700, "ohm"},
		{"5 mohm", 0.005, "ohm"},
		{"0.3 Mohm", 300000, "ohm"},
		{"10 uF", 1e-5, "F"},
		{"250 mA", 0.25, "A"},
		{"60 rpm", 1, "1/s"},
		{"1 mi", 1609.344, "m"},
		{"0.5 in", 0.0127, "m"},
		{"36 km/h", 10, "m/s"},
		{"60 L/min", 0.001, "m3/s"},
		{"1 gal", 231 * 0.0254 * 0.0254 * 0.0254, "m3"},
		{"18 %", 0.18, "1"},
		{"96 h", 345600, "s"},
		{"1 hp", 745.699872, "W"},
	} {
		t.Run(tc.in, func(t *testing.T) {
			q, err := quantity.Parse(tc.in)
			require.NoError(t, err)
			value, base, ok := q.SI()
			require.True(t, ok)
			assert.Equal(t, tc.base, base)
			assert.InEpsilon(t, tc.value, value, 1e-8)
		})
	}
}

func TestSIIsExactForDecimalParts(t *testing.T) {
	for in, want := range map[string]float64{"12 bar": 1.2e6, "10 uF": 1e-5, "3 mV": 0.003, "7 mL": 7e-6} {
		q, err := quantity.Parse(in)
		require.NoError(t, err)
		value, _, _ := q.SI()
		assert.Equal(t, want, value, in)
	}
}

func TestNoSI(t *testing.T) {
	for _, q := range []quantity.Quantity{{Bound: quantity.Open}, eq(4.7, ""), eq(1, "furlong"), eq(math.MaxFloat64, "km")} {
		_, _, ok := q.SI()
		assert.False(t, ok, q.String())
	}
	_, _, ok := eq(1, "V").UpperSI()
	assert.False(t, ok)
	upper, base, ok := between(1, 2, "kohm").UpperSI()
	assert.True(t, ok)
	assert.Equal(t, "ohm", base)
	assert.Equal(t, 2000.0, upper)
}

func TestFind(t *testing.T) {
	for _, tc := range []struct {
		name, text string
		want       []string
	}{
		{"pressures", "cold 48 psi, hot 46. The manual wants 44-52 psi", []string{"48 psi", "44 to 52 psi"}},
		{"thousands by spaces", "11 000 km, 7 200 h", []string{"11000 km", "7200 h"}},
		{"a pin number is not part of the value", "at pin 3 120 ohm", []string{"120 ohm"}},
		{"signs", "trims +18 % and -4%", []string{"18 %", "-4 %"}},
		{"hyphens", "12-volt supply, 3-5 V", []string{"12 V", "3 to 5 V"}},
		{"negative range", "from -40 to 120 °C", []string{"-40 to 120 °C"}},
		{"unit on both ends", "20mA-40mA", []string{"20 to 40 mA"}},
		{"limits", "over 200 megohm, below 9.6 V", []string{">200 Mohm", "<9.6 V"}},
		{"megohm sign", "string B 0.4 Mohm, now 35 MΩ", []string{"0.4 Mohm", "35 Mohm"}},
		{"leading point", "about .5 ohm", []string{"0.5 ohm"}},
		{"letter for the point", "reads 4k7", []string{"4.7 kohm"}},
		{"words, not units", "gave it 5 a try, 3 in the box, 12 c", nil},
		{"codes and models", "P0420-12 V, QR-7000 V, B12 V", nil},
		{"fractions, money, times", "1/2 inch, $210 V, #5 V", nil},
		{"no unit", "14.3 at the battery, 2018", nil},
		{"empty", "", nil},
	} {
		t.Run(tc.name, func(t *testing.T) {
			var got []string
			for _, f := range quantity.Find(tc.text) {
				got = append(got, f.String())
				assert.False(t, f.Assumed)
			}
			assert.Equal(t, tc.want, got)
		})
	}
}

func TestFindMarksLoneK(t *testing.T) {
	found := quantity.Find("stays at 104k all over")
	require.Len(t, found, 1)
	assert.True(t, found[0].Assumed)
	assert.Equal(t, eq(104, "kohm"), found[0].Quantity)
	assert.Equal(t, "104k", "stays at 104k all over"[found[0].Start:found[0].End])
}

func TestFindOpen(t *testing.T) {
	text := "Meter says OL, so open circuit. Cool oil is no reading."
	found := quantity.FindOpen(text)
	require.Len(t, found, 2)
	assert.Equal(t, "OL", text[found[0].Start:found[0].End])
	assert.Equal(t, "open circuit", text[found[1].Start:found[1].End])
	assert.Equal(t, quantity.Open, found[0].Bound)
}

var symbols = []string{
	"ohm", "mohm", "kohm", "Mohm", "V", "mV", "kV", "uV", "A", "mA", "uA", "W", "kW", "hp", "kWh", "Ah", "Pa", "kPa", "MPa",
	"bar", "mbar", "psi", "inHg", "°C", "°F", "K", "%", "rpm", "Hz", "kHz", "s", "ms", "us", "min", "h", "d", "m", "km", "cm",
	"mm", "um", "mi", "ft", "in", "km/h", "mph", "L", "mL", "gal", "L/min", "gpm", "g/s", "Nm", "ft-lb", "in-lb", "kg", "g",
	"lb", "uF", "nF", "pF", "mF", "mH", "uH", "",
}

// What is written reads back as the same quantity, prefix and all.
func TestStringRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := quantity.Quantity{
			Value: rapid.Float64Range(-1e12, 1e12).Draw(t, "value"),
			Unit:  rapid.SampledFrom(symbols).Draw(t, "unit"),
			Bound: rapid.SampledFrom([]quantity.Bound{quantity.Equal, quantity.Less, quantity.Greater}).Draw(t, "bound"),
		}
		if q.Bound == quantity.Equal && rapid.Bool().Draw(t, "range") {
			upper := q.Value + rapid.Float64Range(0, 1e6).Draw(t, "width")
			q.Upper = &upper
		}
		got, err := quantity.Parse(q.String())
		require.NoError(t, err)
		assert.Equal(t, q, got)
	})
}

// A value found in a sentence is the value that Parse reads from the found words.
func TestFindAgreesWithParse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.IntRange(0, 5000).Draw(t, "value")
		unit := rapid.SampledFrom([]string{"ohm", "kohm", "V", "mA", "psi", "bar", "rpm", "km", "%", "°C", "L/min"}).Draw(t, "unit")
		text := "it read " + eq(float64(value), unit).String() + " at idle"
		found := quantity.Find(text)
		require.Len(t, found, 1)
		assert.Equal(t, eq(float64(value), unit), found[0].Quantity)
		again, err := quantity.Parse(text[found[0].Start:found[0].End])
		require.NoError(t, err)
		assert.Equal(t, found[0].Quantity, again)
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"4k7", "12,4 V", "2.1-2.4 kohm", ">20M ohm", "OL", "11 000 km"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		q, err := quantity.Parse(s)
		if err != nil {
			return
		}
		if math.IsNaN(q.Value) || math.IsInf(q.Value, 0) {
			t.Fatalf("%q: value %v", s, q.Value)
		}
		again, err := quantity.Parse(q.String())
		if err != nil || again.String() != q.String() {
			t.Fatalf("%q: %q reads back as %q, %v", s, q, again, err)
		}
	})
}

func FuzzFind(f *testing.F) {
	f.Add("over 200 megohm, 20mA-40mA, 11 000 km, .5 ohm")
	f.Add("4k7\xff 12\u202f000 km")
	f.Fuzz(func(t *testing.T, s string) {
		last := 0
		for _, q := range quantity.Find(s) {
			if q.Start < last || q.End <= q.Start || q.End > len(s) {
				t.Fatalf("%q: place %d to %d", s, q.Start, q.End)
			}
			last = q.End
		}
	})
}
