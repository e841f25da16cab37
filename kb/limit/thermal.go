package limit

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"ruledout/kb/quantity"
)

// usualTolerance is taken for a value by temperature where none is stated (common practice of the trade).
const usualTolerance = " ± 10 %"

var (
	thermistorForm = regexp.MustCompile(`^(?i:ntc|thermistor)\s+(.+?)[,\s]+(?i:beta|b)\s*=?\s*(\d{4}(?:\.\d+)?)\s*K?[,\s]+(?i:at)\s+([^±]+?)\s*((?:±|\+/-|\+-).*)?$`)
	tableForm      = regexp.MustCompile(`^(?i:table\s+)?(.+?)[,;\s]+(?i:at)\s+([^±]+?)\s*((?:±|\+/-|\+-).*)?$`)
	rowForm        = regexp.MustCompile(`^(.*?(?:°|º|deg\s?|degrees\s)?[CF])\s*[:=]?\s+(.+)$`)
)

// ParseThermal reads a limit that depends on temperature: a thermistor by its resistance at 25 °C and its beta ("ntc 10 kohm beta 3950 at 60
// °C ± 5 %"), or the maker's table ("table 0 °C 5.8 kohm, 20 °C 2.5 kohm, 80 °C 0.32 kohm at 45 °C ± 10 %"). ok is false for another form.
func ParseThermal(s string) (l Limit, ok bool, err error) {
	t := strings.Join(strings.Fields(s), " ")
	if m := thermistorForm.FindStringSubmatch(t); m != nil {
		l, err = thermistorLimit(m[1], m[2], m[3], m[4])
		return l, true, wrap(s, err)
	}
	if m := tableForm.FindStringSubmatch(t); m != nil && strings.ContainsAny(m[1], ",;") {
		l, err = tableLimit(m[1], m[2], m[3])
		return l, true, wrap(s, err)
	}
	return Limit{}, false, nil
}

func wrap(s string, err error) error {
	if err != nil {
		return fmt.Errorf("limit %q: %w", s, err)
	}
	return nil
}

func thermistorLimit(r25, beta, at, tolerance string) (Limit, error) {
	q, err := quantity.Parse(r25)
	if err != nil {
		return Limit{}, err
	}
	ohms, base, _ := q.SI()
	celsius, err := parseCelsius(at)
	if err != nil || base != "ohm" {
		return Limit{}, fmt.Errorf("want a resistance at 25 °C, a beta and a temperature, such as \"ntc 10 kohm beta 3950 at 60 °C\"")
	}
	b, _ := strconv.ParseFloat(beta, 64) // the pattern lets only numbers through
	r, err := NTC(ohms, b, celsius)
	if err != nil {
		return Limit{}, err
	}
	value, _ := quantity.FromSI(r, q.Unit)
	return withTolerance(fmt.Sprintf("thermistor %s at 25 °C, beta %s K, at %g °C", q, beta, celsius), value, q.Unit, tolerance)
}

func tableLimit(rows, at, tolerance string) (Limit, error) {
	celsius, err := parseCelsius(at)
	if err != nil {
		return Limit{}, err
	}
	var table []Point
	unit := ""
	for _, row := range strings.FieldsFunc(rows, func(r rune) bool { return r == ',' || r == ';' }) {
		m := rowForm.FindStringSubmatch(strings.TrimSpace(row))
		if m == nil {
			return Limit{}, fmt.Errorf("row %q: want a temperature and a value, such as \"20 °C 2.5 kohm\"", row)
		}
		t, err := parseCelsius(m[1])
		if err != nil {
			return Limit{}, err
		}
		q, err := quantity.Parse(m[2])
		switch {
		case err != nil:
			return Limit{}, err
		case q.Bound != quantity.Equal || q.Upper != nil:
			return Limit{}, fmt.Errorf("row %q: want one value", row)
		case unit == "":
			unit = q.Unit
		}
		v, ok := quantity.FromSI(valueOf(q), unit)
		if !ok || !alike(q.Unit, unit) {
			return Limit{}, fmt.Errorf("row %q: want values in %s", row, unit)
		}
		table = append(table, Point{t, v})
	}
	value, err := At(table, celsius)
	if err != nil {
		return Limit{}, err
	}
	return withTolerance(fmt.Sprintf("table of %d values at %g °C", len(table), celsius), value, unit, tolerance)
}

func valueOf(q quantity.Quantity) float64 {
	si, _, _ := q.SI()
	return si
}

func alike(a, b string) bool {
	_, x, _ := quantity.Quantity{Unit: a}.SI()
	_, y, _ := quantity.Quantity{Unit: b}.SI()
	return x == y
}

func withTolerance(name string, value float64, unit, tolerance string) (Limit, error) {
	note := ""
	if tolerance == "" {
		tolerance, note = usualTolerance, "No tolerance was stated: 10 % is taken."
	}
	l, err := Parse(strconv.FormatFloat(value, 'g', 10, 64) + " " + unit + " " + tolerance)
	l.Name, l.Note = name, note
	return l, err
}

func parseCelsius(s string) (float64, error) {
	q, err := quantity.Parse(strings.TrimSpace(s))
	if err != nil {
		return 0, err
	}
	si, base, ok := q.SI()
	if !ok || base != "K" || q.Upper != nil || q.Bound != quantity.Equal {
		return 0, fmt.Errorf("%q: want a temperature, such as 45 °C", s)
	}
	v, _ := quantity.FromSI(si, "°C")
	return v, nil
}
