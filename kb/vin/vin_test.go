package vin_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/kb/vin"
)

const alphabet = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"

func TestCheckDigit(t *testing.T) {
	for _, tc := range []struct {
		name, vin string
		digit     byte
		check     vin.Check
	}{
		// 49 CFR 565, table V: the regulation's own sample, sum 411, remainder 4.
		{"sample of the regulation", "1G4AH59H45G118341", '4', vin.CheckValid},
		{"sample with a wrong digit", "1G4AH59H55G118341", '4', vin.CheckInvalid},
		// Rule of the regulation (values and weights of tables III and IV), computed; also in public test suites.
		{"remainder ten is X", "1M8GDM9AXKP042788", 'X', vin.CheckValid},
		{"zero where X belongs", "1M8GDM9A0KP042788", 'X', vin.CheckInvalid},
		{"all ones", "11111111111111111", '1', vin.CheckValid},
		{"sum 311", "1HGCM82633A004352", '3', vin.CheckValid},
		{"sum 313", "1HGCM82633A004353", '5', vin.CheckInvalid},
		{"sum 257", "KM8K2CAB4PU001140", '4', vin.CheckValid},
		{"remainder zero", "1VWBH7A30DC104945", '0', vin.CheckValid},
		{"one digit off", "1VWBH7A31DC104945", '0', vin.CheckInvalid},
		{"sum 405", "WVWUK63B92P546818", '9', vin.CheckValid},
		{"European, digit does not fit", "WVWUK63B82P546818", '9', vin.CheckInvalid},
		{"European filler in place nine", "WVWUK63BZ2P546818", '9', vin.CheckNotUsed},
	} {
		t.Run(tc.name, func(t *testing.T) {
			v, err := vin.Parse(tc.vin)
			require.NoError(t, err)
			assert.Equal(t, string(tc.digit), string(v.CheckDigit()))
			assert.Equal(t, tc.check, v.Check())
		})
	}
}

func TestParse(t *testing.T) {
	v, err := vin.Parse("wvwuk63b9-2p5 46818")
	require.NoError(t, err)
	assert.Equal(t, vin.VIN("WVWUK63B92P546818"), v)

	for name, s := range map[string]string{
		"empty":         "",
		"sixteen":       "1M8GDM9AXKP04278",
		"eighteen":      "1M8GDM9AXKP0427888",
		"letter I":      "1M8GDM9AXKPI42788",
		"letter O":      "1M8GDM9AXKPO42788",
		"letter Q":      "1M8GDM9AXKPQ42788",
		"not a letter":  "1M8GDM9AXKP0427_8",
		"outside ASCII": "1M8GDM9AXKP0427é",
	} {
		t.Run(name, func(t *testing.T) {
			_, err := vin.Parse(s)
			require.ErrorContains(t, err, "want")
			if s != "" {
				assert.NotContains(t, err.Error(), s, "an error must not carry the number itself")
			}
		})
	}
}

// Year codes of 49 CFR 565 table VII, from memory except D for 2013.
func TestModelYear(t *testing.T) {
	for _, tc := range []struct {
		name, vin    string
		latest, year int
	}{
		{"digit at seven, A", "1M8GDM9A_A", 0, 1980},
		{"digit at seven, K", "1M8GDM9A_K", 0, 1989},
		{"digit at seven, Y", "1M8GDM9A_Y", 0, 2000},
		{"digit at seven, 9", "1M8GDM9A_9", 0, 2009},
		{"letter at seven, A", "1M8GDMEA_A", 0, 2010},
		{"letter at seven, D", "1M8GDMEA_D", 0, 2013},
		{"letter at seven, T", "1M8GDMEA_T", 0, 2026},
		{"letter at seven, 9", "1M8GDMEA_9", 0, 2039},
		{"outside, no limit", "WVWUK63B_2", 0, 2032},
		{"outside, a year that cannot be yet", "WVWUK63B_2", 2027, 2002},
		{"outside, later cycle possible", "WVWUK63B_D", 2027, 2013},
		{"no year code", "1M8GDM9A_U", 0, 0},
		{"zero is no year code", "1M8GDM9A_0", 0, 0},
	} {
		t.Run(tc.name, func(t *testing.T) {
			v, err := vin.Parse(strings.ReplaceAll(tc.vin, "_", "0") + "P042788")
			require.NoError(t, err)
			assert.Equal(t, tc.year, v.ModelYear(tc.latest))
		})
	}
}

func TestFacts(t *testing.T) {
	for _, tc := range []struct {
		vin  string
		want vin.Facts
	}{
		{"1M8GDM9AXKP042788", vin.Facts{Region: "North America", ModelYear: 1989, Check: vin.CheckValid}},
		{"1G4AH59H55G118341", vin.Facts{Region: "North America", ModelYear: 2005, Check: vin.CheckInvalid}},
		{"WVWUK63B92P546818", vin.Facts{Region: "Europe", ModelYear: 2002, Check: vin.CheckValid}},
		{"WVWUK63BZ2P546818", vin.Facts{Region: "Europe", Check: vin.CheckNotUsed}},
		{"KM8K2CAB4PU001140", vin.Facts{Region: "Asia", ModelYear: 2023, Check: vin.CheckValid}},
	} {
		v, err := vin.Parse(tc.vin)
		require.NoError(t, err)
		assert.Equal(t, tc.want, v.Facts(2027), tc.vin)
	}
}

func TestRegion(t *testing.T) {
	for first, want := range map[string]string{
		"A": "Africa", "H": "Africa", "J": "Asia", "R": "Asia", "S": "Europe", "Z": "Europe", "1": "North America",
		"5": "North America", "6": "Oceania", "7": "Oceania", "8": "South America", "9": "South America", "0": "",
	} {
		v, err := vin.Parse(first + "M8GDM9AXKP042788")
		require.NoError(t, err)
		assert.Equal(t, want, v.Region(), first)
	}
}

func TestFind(t *testing.T) {
	for _, tc := range []struct {
		name, text string
		want       []string
	}{
		{"in a sentence", "It's 1M8GDM9AXKP042788, help", []string{"1M8GDM9AXKP042788"}},
		{"lower case", "vin:wvwuk63b92p546818.", []string{"wvwuk63b92p546818"}},
		{"wrong check digit", "(1M8GDM9A0KP042788)", []string{"1M8GDM9A0KP042788"}},
		{"letter O for zero", "1M8GDM9AXKPO42788", []string{"1M8GDM9AXKPO42788"}},
		{"groups after the word", "VIN no. 1M8 GDM9A XKP042788 if you want", []string{"1M8 GDM9A XKP042788"}},
		{"two", "1M8GDM9AXKP042788/1HGCM82633A004352", []string{"1M8GDM9AXKP042788", "1HGCM82633A004352"}},
		{"a word", "counterrevolution", nil},
		{"seventeen digits", "12345678901234567", nil},
		{"longer run", "1M8GDM9AXKP0427881", nil},
		{"groups of something else", "parts 1M8 GDM9A XKP042788", nil},
		{"next to letters of another script", "é1M8GDM9AXKP042788", nil},
	} {
		t.Run(tc.name, func(t *testing.T) {
			var got []string
			for _, s := range vin.Find(tc.text) {
				got = append(got, tc.text[s.Start:s.End])
			}
			assert.Equal(t, tc.want, got)
		})
	}
}

// Writing the computed digit at place 9 makes any number valid, and any other digit there does not.
func TestCheckDigitLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		raw := rapid.StringMatching(`[`+alphabet+`]{17}`).Draw(t, "vin")
		v, err := vin.Parse(raw)
		require.NoError(t, err)
		right, err := vin.Parse(raw[:8] + string(v.CheckDigit()) + raw[9:])
		require.NoError(t, err)
		assert.Equal(t, vin.CheckValid, right.Check())
		wrong, err := vin.Parse(raw[:8] + string(rapid.SampledFrom([]rune(alphabet)).Draw(t, "digit")) + raw[9:])
		require.NoError(t, err)
		assert.Equal(t, wrong[8] == right[8], wrong.Check() == vin.CheckValid)
	})
}

func FuzzFind(f *testing.F) {
	f.Add("VIN 1M8 GDM9A XKP042788")
	f.Add("1M8GDM9AXKPO42788\xff")
	f.Fuzz(func(t *testing.T, s string) {
		for _, span := range vin.Find(s) {
			if span.Start < 0 || span.End > len(s) || span.Start >= span.End || len(span.VIN) != 17 {
				t.Fatalf("%q: %+v", s, span)
			}
			_ = span.VIN.Facts(2027)
		}
	})
}
