package quantity

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

const (
	maxLength = 80
	blanks    = " \t\n\u00a0\u202f"
)

const numeral = `[+−-]?(?:\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?|[.,]\d+)`

var (
	openWhole  = regexp.MustCompile(`^(?i:o\.?l\.?|0\.?l\.?|open(?:[ -]?(?:circuit|line|loop))?|infinit[ey](?: (?:ohms?|resistance))?|∞|over ?load|over ?limit|no continuity)(?:\s*(?i:ohms?|Ω))?$`)
	boundFirst = regexp.MustCompile(`^(?i)(>=?|≥|<=?|≤|over\b|above\b|more than\b|greater than\b|at least\b|under\b|below\b|less than\b|at most\b|=|~|≈|about\b|approx\.?(?:imately)?\b|around\b|roughly\b|ca\.?\b|circa\b)\s*`)
	embedded   = regexp.MustCompile(`^([+−-]?\d+)([rRkKMV])(\d+)`)
	rangeJoin  = regexp.MustCompile(`^\s*(?:-|–|—|to\b|\.\.\.?|through\b|and\b)\s*`)
	numberHead = regexp.MustCompile(`^` + numeral)
	multiplier = regexp.MustCompile(`^\s?[kK]\b\s*`)
)

// Parse reads a string that is one quantity and nothing else. A number without a unit is accepted, with an empty Unit.
func Parse(s string) (Quantity, error) {
	t := strings.Join(strings.Fields(s), " ")
	switch {
	case t == "":
		return Quantity{}, errors.New("empty reading: want a number and a unit, such as 4.7 kohm, or OL")
	case len(t) > maxLength:
		return Quantity{}, fmt.Errorf("reading %.40q...: longer than %d bytes", t, maxLength)
	case openWhole.MatchString(t):
		return Quantity{Bound: Open}, nil
	}
	q := Quantity{Bound: Equal}
	rest := t
	if m := boundFirst.FindString(rest); m != "" {
		q.Bound, rest = boundOf(m), rest[len(m):]
	}
	if m := thousandsBy.FindString(rest); m != "" {
		rest = joinThousands(m) + rest[len(m):]
	}
	p, err := read(rest, false)
	switch {
	case err != nil:
		return Quantity{}, err
	case strings.TrimSpace(rest[p.size:]) != "":
		return Quantity{}, leftOver(t, strings.TrimSpace(rest[p.size:]))
	case p.upper != nil && q.Bound != Equal:
		return Quantity{}, fmt.Errorf("reading %q: want either a limit or a range", t)
	}
	q.Value, q.Upper, q.Unit = p.value, p.upper, p.unit
	return q, nil
}

// leftOver says what is wrong with what stands behind a quantity.
func leftOver(text, rest string) error {
	if strings.ContainsAny(rest, "0123456789") {
		return fmt.Errorf("reading %q: want one quantity, then comes %q (a range is written \"2.1 to 2.4 kohm\")", text, rest)
	}
	return fmt.Errorf("reading %q: %q is no unit that is known, want one such as ohm, kohm, V, mV, A, bar, psi, °C, Hz, ms, %%", text, rest)
}

func boundOf(word string) Bound {
	switch strings.ToLower(strings.TrimSpace(word)) {
	case ">", ">=", "≥", "over", "above", "more than", "greater than", "at least":
		return Greater
	case "<", "<=", "≤", "under", "below", "less than", "at most":
		return Less
	}
	return Equal
}

// parsed is a number or range with its unit at the head of a text.
type parsed struct {
	value   float64
	upper   *float64
	unit    string
	size    int    // bytes
	spaced  bool   // a space stands between number and unit
	written string // the unit as spelled
	assumed bool   // only a prefix is written, the ohm is custom
}

// read reads a quantity at the head of text. running is set for prose, where letters after a number are words more often
// than units.
func read(text string, running bool) (parsed, error) {
	if m := embedded.FindStringSubmatch(text); m != nil {
		return readEmbedded(text, m)
	}
	first, n, err := readNumber(text)
	if err != nil {
		return parsed{}, err
	}
	p := readUnit(text[n:], first, running)
	p.size += n
	join := rangeJoin.FindString(text[p.size:])
	if join == "" || strings.TrimSpace(join) == "and" {
		return p, nil
	}
	second, n2, err := readNumber(text[p.size+len(join):])
	if err != nil {
		return p, nil // what follows is judged by the caller
	}
	at := p.size + len(join) + n2
	u := readUnit(text[at:], second, running)
	switch {
	case u.unit == "" && running, p.unit != "" && u.unit != "" && p.unit != u.unit:
		return p, nil
	case u.unit == "":
		u.unit = p.unit
	case p.unit == "" && u.value != second: // "70-80k miles"
		first *= u.value / second
	}
	if p.unit != "" {
		first = p.value
	}
	if first > u.value {
		return p, nil
	}
	u.upper, u.value = new(u.value), first
	u.size += at
	return u, nil
}

func readEmbedded(text string, m []string) (parsed, error) {
	value, err := strconv.ParseFloat(strings.Replace(m[1], "−", "-", 1)+"."+m[3], 64)
	if err != nil {
		return parsed{}, fmt.Errorf("number %q: out of range", m[0])
	}
	symbol := map[string]string{"r": "ohm", "k": "kohm", "m": "Mohm", "v": "V"}[strings.ToLower(m[2])]
	p := parsed{value: value, unit: symbol, size: len(m[0]), written: m[2]}
	if u := readUnit(text[p.size:], value, false); u.unit == "ohm" || u.unit == symbol {
		p.size += u.size
	}
	return p, nil
}

func readNumber(text string) (float64, int, error) {
	m := numberHead.FindString(text)
	if m == "" {
		return 0, 0, fmt.Errorf("reading %.40q: want a number first", text)
	}
	s := strings.NewReplacer("−", "-", "+", "").Replace(m)
	if strings.ContainsAny(m, "eE") {
		s = strings.Replace(m, "−", "-", 1)
	}
	value, err := strconv.ParseFloat(decimal(s), 64)
	if err != nil || math.IsInf(value, 0) {
		return 0, 0, fmt.Errorf("number %.40q: out of range", m)
	}
	return value, len(m), nil
}

// decimal makes a comma a decimal point, unless it parts thousands: "12,4" but "1,150". A leading zero parts none.
func decimal(s string) string {
	head, tail, found := strings.Cut(s, ",")
	if !found {
		return s
	}
	thousands := len(tail) == 3 || strings.ContainsAny(tail, ",.")
	if thousands && strings.Trim(head, "-0") != "" {
		return strings.ReplaceAll(s, ",", "")
	}
	return head + "." + tail
}

// readUnit reads the unit that follows a number. A k in front of a unit without that prefix multiplies the number, as in
// "142k miles"; alone it is kilohms by custom of the trade, and a lone M megohms. Kelvins are written apart.
func readUnit(rest string, value float64, running bool) parsed {
	trimmed := strings.TrimLeft(rest, blanks)
	if running && strings.HasPrefix(rest, "-") {
		trimmed = rest[1:] // "a 12-volt supply"
	}
	gap := len(rest) - len(trimmed)
	u, n, ok := unitAt(trimmed)
	if ok && u.symbol != "K" {
		return parsed{
			value: value, unit: u.symbol, size: gap + n, spaced: gap > 0, written: trimmed[:n], assumed: trimmed[:n] == "M",
		}
	}
	m := multiplier.FindString(rest)
	if m == "" {
		return parsed{value: value}
	}
	if v, n, ok := unitAt(rest[len(m):]); ok {
		return parsed{value: value * 1000, unit: v.symbol, size: len(m) + n}
	}
	if ok && gap > 0 && !running {
		return parsed{value: value, unit: u.symbol, size: gap + n}
	}
	if gap > 0 {
		return parsed{value: value}
	}
	return parsed{value: value, unit: "kohm", size: 1, assumed: true}
}
