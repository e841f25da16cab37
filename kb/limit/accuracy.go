package limit

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"ruledout/kb/quantity"
)

// Accuracy is an instrument's limit of error: ±(Percent % of the reading + Digits of the last place + Absolute in the reading's unit).
type Accuracy struct {
	Percent  float64 // of the reading, 0 to 100
	Digits   float64 // counts of the last place shown
	Absolute float64 // in the unit of Unit, or in that of the reading when Unit is empty
	Unit     string  // canonical spelling
	Assumed  bool    // nobody stated it: the usual accuracy of such an instrument was taken
}

// String writes the accuracy as an instrument's data sheet does: "±(0.5 % + 2 digits)".
func (a Accuracy) String() string {
	var parts []string
	if a.Percent > 0 {
		parts = append(parts, number(a.Percent)+" %")
	}
	if a.Digits > 0 {
		parts = append(parts, number(a.Digits)+" digits")
	}
	if a.Absolute > 0 || len(parts) == 0 {
		parts = append(parts, strings.TrimSpace(number(a.Absolute)+" "+a.Unit))
	}
	if len(parts) == 1 {
		return "±" + parts[0]
	}
	return "±(" + strings.Join(parts, " + ") + ")"
}

func number(f float64) string { return strconv.FormatFloat(f, 'g', 6, 64) }

var (
	percentPart = regexp.MustCompile(`^(\d+(?:[.,]\d+)?)\s*(?:%|percent|per cent)(?:\s*(?:of|rdg\.?|reading|of reading|of the reading))?$`)
	digitsPart  = regexp.MustCompile(`^(\d+(?:[.,]\d+)?)\s*(?:digits?|dgts?|d|counts?|lsd)?$`)
)

// ParseAccuracy reads what a data sheet states: "±(0.5 % + 2 digits)", "1 %", "0.2 V", "0.5%+3". A number alone counts digits only behind
// a percentage, as data sheets have it; alone it is an error, for it may mean either.
func ParseAccuracy(s string) (Accuracy, error) {
	t := strings.ToLower(strings.TrimSpace(s))
	for _, sign := range []string{"±", "+/-", "+-"} {
		t = strings.TrimPrefix(t, sign)
	}
	t = strings.TrimSuffix(strings.TrimPrefix(strings.TrimSpace(t), "("), ")")
	var a Accuracy
	for i, part := range strings.Split(t, "+") {
		part = strings.TrimSpace(part)
		switch {
		case a.Percent == 0 && percentPart.MatchString(part):
			a.Percent = toNumber(percentPart.FindStringSubmatch(part)[1])
		case a.Digits == 0 && digitsPart.MatchString(part) && (i > 0 || strings.ContainsAny(part, "dcl")):
			a.Digits = toNumber(digitsPart.FindStringSubmatch(part)[1])
		default:
			q, err := quantity.Parse(original(s, part))
			if err != nil || q.Unit == "" || q.Bound != quantity.Equal || q.Upper != nil || q.Value < 0 || a.Absolute != 0 {
				return Accuracy{}, fmt.Errorf("accuracy %q: want a share of the reading, digits, or a value with its unit, such as ±(0.5 %% + 2 digits)", s)
			}
			a.Absolute, a.Unit = q.Value, q.Unit
		}
	}
	if a.Percent > 100 {
		return Accuracy{}, fmt.Errorf("accuracy %q: %g %% is more than the reading itself", s, a.Percent)
	}
	return a, nil
}

// original finds a lower-cased part in the text as it was written, for units that depend on the case.
func original(s, part string) string {
	if i := strings.Index(strings.ToLower(s), part); i >= 0 && i+len(part) <= len(s) {
		return s[i : i+len(part)]
	}
	return part
}

func toNumber(s string) float64 {
	f, _ := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64) // the pattern lets only numbers through
	return f
}

// usual holds the accuracy taken where none is stated: that of an ordinary hand-held instrument. Common practice of the trade, no source.
var usual = map[string]Accuracy{
	"V":      {Percent: 1, Digits: 2},
	"A":      {Percent: 2, Digits: 3},
	"ohm":    {Percent: 1, Digits: 2},
	"ohm/V":  {Percent: 5},
	"F":      {Percent: 4, Digits: 3},
	"H":      {Percent: 4, Digits: 3},
	"Hz":     {Percent: 0.1, Digits: 1},
	"s":      {Percent: 0.1, Digits: 1},
	"Pa":     {Percent: 2.5},
	"K":      {Absolute: 2, Unit: "K"},
	"1":      {Percent: 1, Digits: 1},
	"1/s":    {Percent: 0.5, Digits: 1},
	"m":      {Digits: 1},
	"m/s":    {Percent: 2, Digits: 1},
	"N m":    {Percent: 4},
	"m3/s":   {Percent: 5},
	"rad":    {Digits: 1},
	"lambda": {Percent: 1, Digits: 1},
}

// insulationTester is the usual accuracy above ten megohms and of insulation testers. Common practice of the trade, no source.
var insulationTester = Accuracy{Percent: 5, Digits: 3, Assumed: true}

// UsualAccuracy gives the accuracy taken for a reading when nobody stated one.
func UsualAccuracy(q quantity.Quantity) Accuracy {
	si, base, _ := q.SI()
	if base == "ohm" && si >= 10e6 {
		return insulationTester
	}
	a, ok := usual[base]
	if !ok {
		a = Accuracy{Percent: 2, Digits: 1}
	}
	a.Assumed = true
	return a
}

// halfWidth gives the limit of error at a value, in SI; resolution is the last place shown, in SI.
func (a Accuracy) halfWidth(si, resolution, perUnit float64) float64 {
	absolute := a.Absolute * perUnit
	if a.Unit != "" {
		absolute = quantity.Span(a.Absolute, a.Unit)
	}
	return a.Percent/100*math.Abs(si) + a.Digits*resolution + absolute
}

// uncertainty gives the standard uncertainty of a value: a limit of error as a rectangular distribution, half-width divided by the square
// root of three (JCGM 100:2008, 4.3.7), and the last place as one of half its width where the accuracy counts no digits (JCGM 100, F.2.2.1).
func (a Accuracy) uncertainty(si, resolution, perUnit float64) float64 {
	u := a.halfWidth(si, resolution, perUnit) / math.Sqrt(3)
	if a.Digits == 0 {
		u = math.Hypot(u, resolution/math.Sqrt(12))
	}
	return u
}

var writtenNumber = regexp.MustCompile(`\d+(?:[.,](\d+))?`)

// resolution gives the last place of a value as it was written, in the reading's unit: 0.1 for "12.4 V", 0.01 for "12.40 V". Without the
// text the shortest way to write the value counts. A value that ends in zeros before the point is taken to its unit.
func resolution(q quantity.Quantity, text string) float64 {
	m := writtenNumber.FindStringSubmatch(text)
	if m == nil || toNumber(m[0]) != math.Abs(q.Value) {
		m = writtenNumber.FindStringSubmatch(strconv.FormatFloat(math.Abs(q.Value), 'f', -1, 64))
	}
	return math.Pow10(-len(m[1]))
}
