package limit_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"ruledout/kb/limit"
	"ruledout/kb/quantity"
)

func reading(t require.TestingT, text, accuracy string) limit.Reading {
	q, err := quantity.Parse(text)
	require.NoError(t, err)
	r := limit.Reading{Quantity: q, Text: text}
	if accuracy != "" {
		a, err := limit.ParseAccuracy(accuracy)
		require.NoError(t, err)
		r.Accuracy = &a
	}
	return r
}

func judged(t require.TestingT, text, accuracy, against string) limit.Verdict {
	l, err := limit.Parse(against)
	require.NoError(t, err)
	v, err := limit.Judge(reading(t, text, accuracy), l)
	require.NoError(t, err)
	return v
}

// Conformity probabilities against gonum's normal distribution, an implementation of its own: for a measured value y with standard
// uncertainty u they are F(b) - F(a) of N(y, u) (JCGM 106:2012, equation 5 and the one-sided forms in 7.3).
func TestConformityIsTheNormalDistributions(t *testing.T) {
	for _, tc := range []struct {
		reading, accuracy, limit string
		u, low, high             float64 // in the reading's unit
	}{
		{"10.0 V", "0.3 V", "at least 9.8 V", math.Hypot(0.3/math.Sqrt(3), 0.1/math.Sqrt(12)), 9.8, math.Inf(1)},
		{"4.70 kohm", "1 % + 2 digits", "4.6 to 4.8 kohm", (0.047 + 0.02) / math.Sqrt(3), 4.6, 4.8},
		{"0.52 V", "0.5 % + 3 digits", "max 0.5 V", (0.0026 + 0.03) / math.Sqrt(3), math.Inf(-1), 0.5},
		{"98 °C", "2 °C", "max 100 °C", math.Hypot(2/math.Sqrt(3), 1/math.Sqrt(12)), math.Inf(-1), 100},
		{"39 kohm", "5 %", "at least 40 kohm", math.Hypot(0.05*39/math.Sqrt(3), 1/math.Sqrt(12)), 40, math.Inf(1)},
	} {
		t.Run(tc.reading, func(t *testing.T) {
			v := judged(t, tc.reading, tc.accuracy, tc.limit)
			y := reading(t, tc.reading, "").Value
			n := distuv.Normal{Mu: y, Sigma: tc.u}
			want := n.CDF(tc.high) - n.CDF(tc.low)
			assert.InDelta(t, want, v.Low, 1e-9)
			assert.Equal(t, v.Low, v.High)
			assert.InEpsilon(t, tc.u, v.Uncertainty, 1e-9)
		})
	}
}

// Published points of the standard normal distribution: 0.8413, 0.9772 and 0.9987 below one, two and three deviations, 0.95 below 1.645
// (any table of it, such as NIST/SEMATECH e-Handbook 1.3.6.7.1, from memory).
func TestConformityAgainstTheNormalTable(t *testing.T) {
	for away, want := range map[float64]float64{0: 0.5, 1: 0.8413, 2: 0.9772, 3: 0.9987, 1.645: 0.95} {
		l := limit.Limit{High: new(10 + away), Unit: "V"}
		a := limit.Accuracy{Absolute: math.Sqrt(3), Digits: 1e-12}
		v, err := limit.Judge(limit.Reading{Quantity: quantity.Quantity{Value: 10, Unit: "V", Bound: quantity.Equal}, Accuracy: &a}, l)
		require.NoError(t, err)
		assert.InDelta(t, want, v.Low, 5e-5, "%g deviations", away)
	}
}

func TestDecisions(t *testing.T) {
	for _, tc := range []struct {
		reading, accuracy, limit string
		want                     limit.Decision
	}{
		{"60 ohm", "1 % + 2 digits", "50 to 65 ohm", limit.Conforms},
		{"120 ohm", "1 % + 2 digits", "50 to 65 ohm", limit.Exceeds},
		{"64 ohm", "1 % + 2 digits", "50 to 65 ohm", limit.Undecided},
		{"64.0 ohm", "0.3 % + 1 digits", "50 to 65 ohm", limit.Conforms},
		{"OL", "", "50 to 65 ohm", limit.Exceeds},
		{"OL", "", "at least 40 kohm", limit.Conforms},
		{">20 Mohm", "", "at least 1 Mohm", limit.Conforms},
		{">20 kohm", "", "at least 1 Mohm", limit.Undecided},
		{"<0.5 ohm", "", "max 2 ohm", limit.Conforms},
		{"<5 ohm", "", "max 2 ohm", limit.Undecided},
		{"<5 ohm", "", "at least 10 ohm", limit.Exceeds},
		{"2.1 to 2.4 kohm", "", "2 to 2.6 kohm", limit.Undecided}, // two digits of the last place are as wide as the gap
		{"2.10 to 2.40 kohm", "", "2 to 2.6 kohm", limit.Conforms},
		{"2.1 to 2.4 kohm", "", "2.3 to 2.6 kohm", limit.Undecided},
		{"2.1 to 2.4 kohm", "", "3 to 4 kohm", limit.Exceeds},
		{"12", "1 %", "11 to 14 V", limit.Conforms},
		{"-0.1 V", "2 digits", "-0.2 to 0.2 V", limit.Undecided},
		{"212 °F", "1 °C", "95 to 105 °C", limit.Conforms},
	} {
		t.Run(tc.reading+" "+tc.limit, func(t *testing.T) {
			assert.Equal(t, tc.want, judged(t, tc.reading, tc.accuracy, tc.limit).Decision)
		})
	}
}

// An instrument too coarse for the limit proves nothing: a perfect reading neither conforms nor does not, and as evidence it is even.
func TestATooCoarseInstrumentProvesNothing(t *testing.T) {
	v := judged(t, "109.73 ohm", "5 %", "109.57 to 109.90 ohm")
	assert.Less(t, v.Low, 1-limit.Sure, "hardly ever inside")
	assert.Equal(t, limit.Undecided, v.Decision)
	assert.InDelta(t, 0.5, v.Probability(), 0.02)
	off := judged(t, "150 ohm", "5 %", "109.57 to 109.90 ohm")
	assert.Equal(t, limit.Exceeds, off.Decision)
	assert.Less(t, off.Probability(), 0.05)
	exact := judged(t, "5.0 V", "1 %", "5 to 5 V")
	assert.Equal(t, limit.Undecided, exact.Decision)
	assert.Equal(t, 0.5, exact.Probability())
}

func TestWhatCannotBeJudged(t *testing.T) {
	for _, tc := range []struct{ reading, limit, message string }{
		{"12 V", "max 5 A", "the limit is one of current, not of voltage"},
		{"OL", "max 5 A", "only against a resistance"},
	} {
		l, err := limit.Parse(tc.limit)
		require.NoError(t, err)
		_, err = limit.Judge(reading(t, tc.reading, ""), l)
		require.ErrorContains(t, err, tc.message)
	}
	_, err := limit.Judge(reading(t, "3 V", ""), limit.Limit{})
	require.ErrorContains(t, err, "want a lower limit")
	_, err = limit.Judge(reading(t, "3 V", ""), limit.Limit{Low: new(3.0), High: new(2.0), Unit: "V"})
	require.ErrorContains(t, err, "above the upper one")
}

// A verdict does not depend on the unit: reading, limit and accuracy in another unit of the same dimension give the same probability.
func TestVerdictsDoNotDependOnTheUnit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		units := rapid.SampledFrom([][2]string{{"kohm", "ohm"}, {"bar", "kPa"}, {"V", "mV"}, {"°C", "K"}, {"psi", "bar"}}).Draw(t, "units")
		y := rapid.Float64Range(1, 200).Draw(t, "reading")
		low := rapid.Float64Range(0, 150).Draw(t, "low")
		high := low + rapid.Float64Range(0.1, 100).Draw(t, "width")
		percent := rapid.Float64Range(0, 5).Draw(t, "percent")
		if units[0] == "°C" {
			percent = 0 // a share of a temperature depends on where zero is
		}
		absolute := rapid.Float64Range(0.5, 5).Draw(t, "absolute")
		in := func(unit string) limit.Verdict {
			to := func(v float64) float64 {
				si, _, _ := quantity.Quantity{Value: v, Unit: units[0]}.SI()
				x, ok := quantity.FromSI(si, unit)
				require.True(t, ok)
				return x
			}
			a := limit.Accuracy{Percent: percent, Absolute: absolute, Unit: units[0], Digits: 1e-12}
			v, err := limit.Judge(limit.Reading{Quantity: quantity.Quantity{Value: to(y), Unit: unit, Bound: quantity.Equal}, Accuracy: &a},
				limit.Limit{Low: new(to(low)), High: new(to(high)), Unit: unit})
			require.NoError(t, err)
			return v
		}
		require.InDelta(t, in(units[0]).Low, in(units[1]).Low, 1e-6)
	})
}

// Against one limit the probability only rises, or only falls, with the reading.
func TestVerdictsAreMonotoneInTheReading(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bound := rapid.Float64Range(1, 100).Draw(t, "limit")
		a := limit.Accuracy{Percent: rapid.Float64Range(0, 20).Draw(t, "percent"), Absolute: rapid.Float64Range(0, 3).Draw(t, "absolute"), Digits: 1e-12} // the last place left out: it depends on how a value is written
		x := rapid.Float64Range(0, 200).Draw(t, "x")
		y := x + rapid.Float64Range(0, 50).Draw(t, "more")
		p := func(v float64, l limit.Limit) float64 {
			got, err := limit.Judge(limit.Reading{Quantity: quantity.Quantity{Value: v, Unit: "V", Bound: quantity.Equal}, Text: "1 V", Accuracy: &a}, l)
			require.NoError(t, err)
			require.GreaterOrEqual(t, got.High, got.Low)
			return got.Low
		}
		low, high := limit.Limit{Low: &bound, Unit: "V"}, limit.Limit{High: &bound, Unit: "V"}
		require.LessOrEqual(t, p(x, low), p(y, low)+1e-12)
		require.GreaterOrEqual(t, p(x, high), p(y, high)-1e-12)
	})
}

func TestParseLimits(t *testing.T) {
	for in, want := range map[string]limit.Limit{
		"2.1 to 2.4 kohm":  {Low: new(2.1), High: new(2.4), Unit: "kohm"},
		"2.1-2.4 kohm":     {Low: new(2.1), High: new(2.4), Unit: "kohm"},
		"at least 40 kohm": {Low: new(40.0), Unit: "kohm"},
		">20M":             {Low: new(20.0), Unit: "Mohm"},
		"min. 3 bar":       {Low: new(3.0), Unit: "bar"},
		"3 bar min":        {Low: new(3.0), Unit: "bar"},
		"3 bar or more":    {Low: new(3.0), Unit: "bar"},
		"max 0.5 V":        {High: new(0.5), Unit: "V"},
		"0.5 V maximum":    {High: new(0.5), Unit: "V"},
		"up to 5 A":        {High: new(5.0), Unit: "A"},
		"< 60 V":           {High: new(60.0), Unit: "V"},
		"60 ohm ± 10 %":    {Low: new(54.0), High: new(66.0), Unit: "ohm"},
		"5 V +/- 0.5 V":    {Low: new(4.5), High: new(5.5), Unit: "V"},
		"5 V +/- 0.5":      {Low: new(4.5), High: new(5.5), Unit: "V"},
		"5 V ± 500 mV":     {Low: new(4.5), High: new(5.5), Unit: "V"},
		"-5 V ± 10 %":      {Low: new(-5.5), High: new(-4.5), Unit: "V"},
	} {
		t.Run(in, func(t *testing.T) {
			got, err := limit.Parse(in)
			require.NoError(t, err)
			assert.Equal(t, want, got)
		})
	}
	for in, message := range map[string]string{
		"5 V":           "which side",
		"open":          "want numbers",
		"4.7 bananas":   "is no unit",
		"1e999 V":       "out of range",
		"5 V ± 3 A":     "measure different things",
		"max":           "want a number",
		"2 to 3 V ± 1":  "one nominal value",
		"5 V ± a bit":   "want a tolerance",
		"5 V ± 1 to 2%": "want a tolerance",
	} {
		_, err := limit.Parse(in)
		require.ErrorContains(t, err, message, in)
	}
}

func TestParseAccuracy(t *testing.T) {
	for in, want := range map[string]limit.Accuracy{
		"±(0.5 % + 2 digits)": {Percent: 0.5, Digits: 2},
		"0.5%+3":              {Percent: 0.5, Digits: 3},
		"+/- 1 % of reading":  {Percent: 1},
		"0,8 % + 1 dgt":       {Percent: 0.8, Digits: 1},
		"0.2 V":               {Absolute: 0.2, Unit: "V"},
		"1 % + 20 mV":         {Percent: 1, Absolute: 20, Unit: "mV"},
		"3 digits":            {Digits: 3},
		"0.05 Mohm":           {Absolute: 0.05, Unit: "Mohm"},
	} {
		got, err := limit.ParseAccuracy(in)
		require.NoError(t, err, in)
		assert.Equal(t, want, got, in)
		again, err := limit.ParseAccuracy(got.String())
		require.NoError(t, err, got.String())
		assert.Equal(t, got, again, "what is written reads back")
	}
	for _, in := range []string{"", "2", "good", "0.5 % + good", "200 %", "-1 V"} {
		_, err := limit.ParseAccuracy(in)
		require.Error(t, err, in)
	}
}

// The usual accuracy is taken where none is stated, and said to be.
func TestUsualAccuracyIsSaidToBeAssumed(t *testing.T) {
	assert.True(t, judged(t, "12.4 V", "", "max 13 V").Accuracy.Assumed)
	assert.False(t, judged(t, "12.4 V", "1 %", "max 13 V").Accuracy.Assumed)
	assert.Equal(t, 5.0, limit.UsualAccuracy(reading(t, "200 Mohm", "").Quantity).Percent, "an insulation tester's")
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"2.1 to 2.4 kohm", "60 ohm ± 10 %", "min 3 bar", "±(0.5 % + 2 digits)", "5 V ±", "pt100 at 25 °C"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if l, err := limit.Parse(s); err == nil {
			_, err := limit.Parse(l.String())
			if l.Low == nil || l.High == nil || *l.Low <= *l.High {
				require.NoError(t, err, l.String())
			}
		}
		_, _ = limit.ParseAccuracy(s)
		list, g := limit.Named(s, "")
		for _, p := range list {
			_, _ = p.Limits(g)
		}
	})
}
