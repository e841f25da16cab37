package limit_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb/limit"
	"ruledout/kb/quantity"
)

// Values of IEC 60751 for a Pt100 in ohms by °C; those at -100, -50, -20, 0, 100 and 200 °C as printed in its table, the others computed
// from its equation.
var pt100 = map[float64]float64{
	-200: 18.5201, -100: 60.2558, -50: 80.3063, -20: 92.1599, 0: 100, 25: 109.7347, 50: 119.3971, 100: 138.5055, 150: 157.3251,
	200: 175.8560, 300: 212.0515, 400: 247.0920, 500: 280.9775, 850: 390.4811,
}

func TestPlatinum(t *testing.T) {
	for celsius, ohms := range pt100 {
		got, err := limit.Platinum(100, celsius)
		require.NoError(t, err)
		assert.InDelta(t, ohms, got, 6e-5, "%g °C", celsius)
		back, err := limit.PlatinumTemperature(100, got)
		require.NoError(t, err)
		assert.InDelta(t, celsius, back, 1e-6)
	}
	got, err := limit.PlatinumTemperature(100, 108.5)
	require.NoError(t, err)
	assert.InDelta(t, 21.8189, got, 5e-5) // a value printed by a public implementation
	got, err = limit.Platinum(1000, 100)
	require.NoError(t, err)
	assert.InDelta(t, 1385.055, got, 6e-4)
	for _, celsius := range []float64{-201, 851, math.NaN()} {
		_, err := limit.Platinum(100, celsius)
		require.Error(t, err)
	}
	for _, ohms := range []float64{0, 18, 391, math.NaN()} {
		_, err := limit.PlatinumTemperature(100, ohms)
		require.Error(t, err)
	}
}

// Own check of the law: at 25 °C the nominal value, and the beta that two values give back is the one put in.
func TestNTC(t *testing.T) {
	r25, err := limit.NTC(10e3, 3950, 25)
	require.NoError(t, err)
	assert.InDelta(t, 10e3, r25, 1e-9)
	r60, err := limit.NTC(10e3, 3950, 60)
	require.NoError(t, err)
	assert.InDelta(t, 3950, math.Log(r25/r60)/(1/298.15-1/333.15), 1e-6)
	_, err = limit.NTC(0, 3950, 25)
	require.Error(t, err)
}

// Between two points of a falling resistance the thermistor's law is exact.
func TestTableOfAThermistor(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		beta := rapid.Float64Range(2000, 5000).Draw(t, "beta")
		at := func(c float64) float64 {
			r, err := limit.NTC(2500, beta, c)
			require.NoError(t, err)
			return r
		}
		table := []limit.Point{{80, at(80)}, {20, at(20)}, {0, at(0)}}
		c := rapid.Float64Range(0, 80).Draw(t, "celsius")
		got, err := limit.At(table, c)
		require.NoError(t, err)
		require.InEpsilon(t, at(c), got, 1e-9)
	})
	rising, err := limit.At([]limit.Point{{0, 1}, {100, 3}}, 25)
	require.NoError(t, err)
	assert.InDelta(t, 1.5, rising, 1e-12)
	for _, bad := range [][]limit.Point{nil, {{0, 1}}, {{0, 1}, {0, 2}}} {
		_, err := limit.At(bad, 0)
		require.Error(t, err)
	}
	_, err = limit.At([]limit.Point{{0, 1}, {100, 3}}, 101)
	require.ErrorContains(t, err, "outside the table")
}

// Duty cycles and the currents they allow, from SAE J1772; 6 A from 8 to 10 % and 80 A above 96 % are its edges.
func TestPilotCurrent(t *testing.T) {
	for duty, amps := range map[float64]float64{
		10: 6, 16: 9.6, 20: 12, 25: 15, 26.67: 16.002, 30: 18, 40: 24, 50: 30, 53.33: 31.998, 66.67: 40.002, 80: 48, 85: 51, 86: 55, 90: 65, 96: 80,
		9: 6, 96.5: 80,
	} {
		got, err := limit.PilotCurrent(duty)
		require.NoError(t, err)
		assert.InDelta(t, amps, got, 1e-9, "%g %%", duty)
	}
	above, err := limit.PilotCurrent(math.Nextafter(85, 86))
	require.NoError(t, err)
	assert.InDelta(t, 52.5, above, 1e-9, "the two laws do not meet")
	for duty, message := range map[float64]string{5: "digital communication", 0: "no charging", 8: "no charging", 98: "no charging", -1: "want 0 to 100", 101: "want 0 to 100"} {
		_, err := limit.PilotCurrent(duty)
		require.ErrorContains(t, err, message)
	}
}

// Levels of SAE J1772 / IEC 61851-1, from memory.
func TestPilotState(t *testing.T) {
	for volts, state := range map[float64]string{12: "A", 11.6: "A", 9: "B", 8.4: "B", 6: "C", 3.2: "D", 0: "E", -12: "F"} {
		got, _, ok := limit.PilotState(volts)
		assert.True(t, ok)
		assert.Equal(t, state, got)
	}
	for _, volts := range []float64{7.5, 10.5, -6, 15} {
		_, _, ok := limit.PilotState(volts)
		assert.False(t, ok, "%g V lies between the levels", volts)
	}
}

// UN R100, 5.1.3: 100 ohm/V for separate DC buses, 500 ohm/V for AC and connected ones. Worked: 400 V: 40 and 200 kohm, 800 V: 80 and 400,
// 500 V at 100 ohm/V: 50 kohm.
func TestInsulationByTopology(t *testing.T) {
	for _, tc := range []struct {
		text string
		want []float64 // kohm
	}{
		{"400 V pack", []float64{40, 200}}, {"800 V pack", []float64{80, 400}}, {"500 V pack, DC", []float64{50}},
		{"400 V pack connected AC", []float64{200}}, {"insulation 400 V", []float64{40, 200}},
	} {
		list, g := limit.Named(tc.text, "ohm")
		require.Len(t, list, 1, tc.text)
		limits, err := list[0].Limits(g)
		require.NoError(t, err)
		var got []float64
		for _, l := range limits {
			assert.Equal(t, "kohm", l.Unit)
			assert.Nil(t, l.High)
			got = append(got, *l.Low)
		}
		assert.Equal(t, tc.want, got, tc.text)
	}
	list, g := limit.Named("pack", "ohm")
	require.Len(t, list, 1)
	_, err := list[0].Limits(g)
	require.ErrorContains(t, err, "want the working voltage")
	list, g = limit.Named("insulation DC", "ohm/V")
	limits, err := list[0].Limits(g)
	require.NoError(t, err)
	require.Len(t, limits, 1)
	assert.Equal(t, "at least 100 ohm/V", limits[0].String())
}

// Two terminations of 120 ohm side by side are 60 ohm (ISO 11898-2).
func TestTerminations(t *testing.T) {
	got, err := limit.Parallel(120, 120)
	require.NoError(t, err)
	assert.InDelta(t, 60, got, 1e-12)
	l, ok := limit.Unasked("can bus", "bus resistance measurement", "ohm")
	require.True(t, ok)
	for text, want := range map[string]limit.Decision{"60 ohm": limit.Conforms, "120 ohm": limit.Exceeds, "2 ohm": limit.Exceeds, "OL": limit.Exceeds} {
		v, err := limit.Judge(reading(t, text, ""), l)
		require.NoError(t, err)
		assert.Equal(t, want, v.Decision, text)
	}
	_, err = limit.Parallel(120, 0)
	require.Error(t, err)
	_, err = limit.Parallel()
	require.Error(t, err)
}

// ASTM D120 / IEC 60903: a 400 V pack asks for class 00 (750 V DC), an 800 V pack for class 0; the AC limits are lower.
func TestGloves(t *testing.T) {
	for _, tc := range []struct {
		volts float64
		ac    bool
		class string
	}{{400, false, "00"}, {750, false, "00"}, {800, false, "0"}, {400, true, "00"}, {501, true, "0"}, {1500, false, "0"}, {54000, false, "4"}} {
		g, err := limit.GloveFor(tc.volts, tc.ac)
		require.NoError(t, err)
		assert.Equal(t, tc.class, g.Class, "%g V", tc.volts)
	}
	_, err := limit.GloveFor(60e3, false)
	require.Error(t, err)
	for _, g := range limit.Gloves() {
		assert.InDelta(t, 1.5*g.AC, g.DC, 1e-9, "class %s", g.Class)
	}
}

// Voltage lost at 10 A over 5 m out and back in flexible conductors of IEC 60228, and its factor for 40, 60 and 100 °C (0.926, 0.862, 0.758
// to come back to 20 °C).
func TestDropOfARun(t *testing.T) {
	for area, want := range map[float64]float64{1.5: 1.330, 2.5: 0.798, 6: 0.330, 35: 0.0554} {
		got, err := limit.Run{Amps: 10, Metres: 5, Area: area, Celsius: 20}.Drop()
		require.NoError(t, err)
		assert.InDelta(t, want, got, 1e-9, "%g mm2", area)
	}
	for celsius, factor := range map[float64]float64{20: 1, 25: 0.980, 40: 0.926, 50: 0.893, 60: 0.862, 100: 0.758} {
		cold, err := limit.Run{Metres: 100, Area: 10, Celsius: 20}.Ohms()
		require.NoError(t, err)
		warm, err := limit.Run{Metres: 100, Area: 10, Celsius: celsius}.Ohms()
		require.NoError(t, err)
		assert.InDelta(t, factor, cold/warm, 5e-4, "%g °C", celsius)
	}
	_, err := limit.Run{Metres: 5, Area: 3}.Ohms()
	require.ErrorContains(t, err, "2.5, 4")
	_, err = limit.Run{Metres: -5, Area: 4, Celsius: 20}.Ohms()
	require.Error(t, err)
}

// The resting voltage gives a band of charge and no figure: published tables differ by up to 0.15 V.
func TestRestCharge(t *testing.T) {
	low, high := limit.RestCharge(12.45)
	assert.Less(t, low, 75.0)
	assert.Greater(t, high, 75.0)
	assert.Greater(t, high-low, 25.0)
	low, high = limit.RestCharge(11)
	assert.Zero(t, low)
	assert.Zero(t, high)
	_, high = limit.RestCharge(14)
	assert.Equal(t, 100.0, high)
}

// Every published limit can be asked for by each of its phrases, names its source, and gives limits that can judge.
func TestEveryPublishedLimitIsUsable(t *testing.T) {
	conditions := " 400 V at 25 °C 2.5 mm2 5 m"
	seen := map[string]bool{}
	for _, p := range limit.All() {
		assert.False(t, seen[p.Name], p.Name)
		seen[p.Name] = true
		require.NotEmpty(t, p.Source, p.Name)
		require.NotEmpty(t, p.Note, p.Name)
		for _, words := range p.Words {
			found, g := limit.Named(words+conditions, p.Base)
			names := fmt.Sprint(found)
			require.Contains(t, names, p.Name, "%q finds it", words)
			limits, err := p.Limits(g)
			require.NoError(t, err, p.Name)
			for _, l := range limits {
				_, base, ok := quantity.Quantity{Unit: l.Unit}.SI()
				require.True(t, ok, p.Name)
				assert.Equal(t, p.Base, base, p.Name)
				assert.NotEmpty(t, l.Source)
				assert.NotEqual(t, "no limit", l.String())
			}
		}
	}
}

func TestUnaskedNeedsTheRightTest(t *testing.T) {
	_, ok := limit.Unasked("12 v battery", "voltage measurement", "V")
	assert.False(t, ok, "running or at rest is not said")
	_, ok = limit.Unasked("12 v battery", "resting voltage", "V")
	assert.True(t, ok)
	_, ok = limit.Unasked("isolation resistance", "insulation resistance test", "ohm")
	assert.False(t, ok, "it takes the working voltage")
}
