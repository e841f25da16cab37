package limit

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strings"

	"ruledout/kb/quantity"
)

// Limit is an interval of permissible values (JCGM 106:2012, 3.3.5: tolerance interval) and where it comes from.
type Limit struct {
	Name   string   // "insulation of a 400 V circuit, DC buses"
	Low    *float64 // lower limit in Unit; none: not limited below
	High   *float64 // upper limit in Unit
	Unit   string   // canonical spelling
	Source string   // standard, handbook, maker, or whoever stated it
	Note   string   // conditions and what to bear in mind, a sentence
}

// String writes the interval: "at least 40 kohm", "2.1 to 2.4 kohm".
func (l Limit) String() string {
	unit := ""
	if l.Unit != "" {
		unit = " " + l.Unit
	}
	switch {
	case l.Low != nil && l.High != nil:
		return number(*l.Low) + " to " + number(*l.High) + unit
	case l.Low != nil:
		return "at least " + number(*l.Low) + unit
	case l.High != nil:
		return "at most " + number(*l.High) + unit
	}
	return "no limit"
}

// interval gives the limit in SI with infinities where it is open, and the SI unit.
func (l Limit) interval() (low, high float64, base string, err error) {
	low, high = math.Inf(-1), math.Inf(1)
	if l.Low == nil && l.High == nil {
		return 0, 0, "", errors.New("limit: want a lower limit, an upper limit or both")
	}
	for _, end := range []struct {
		from *float64
		to   *float64
	}{{l.Low, &low}, {l.High, &high}} {
		if end.from == nil {
			continue
		}
		v, b, ok := quantity.Quantity{Value: *end.from, Unit: l.Unit}.SI()
		if !ok {
			if l.Unit != "" {
				return 0, 0, "", fmt.Errorf("limit %s: %q is no unit that is known", l, l.Unit)
			}
			v, b = *end.from, ""
		}
		*end.to, base = v, b
	}
	if low > high {
		return 0, 0, "", fmt.Errorf("limit %s: the lower end is above the upper one", l)
	}
	return low, high, base, nil
}

var (
	tolerance = regexp.MustCompile(`^(.+?)\s*(?:±|\+/-|\+-|(?i:plus or minus|tolerance|tol\.?))\s*(.+)$`)
	atEnd     = regexp.MustCompile(`^(.+?)\s+(?i:(min(?:imum)?|max(?:imum)?)\.?|(or more|or less|and up|and over|and under))$`)
	lowest    = regexp.MustCompile(`^(?i:min(?:imum)?\b\.?|no less than|not below|not under)\s*:?\s*`)
	highest   = regexp.MustCompile(`^(?i:max(?:imum)?\b\.?|up to|no more than|not above|not over)\s*:?\s*`)
)

// Parse reads a limit that somebody states in numbers: "2.1 to 2.4 kohm", "at least 40 kohm", "max 0.5 V", "3 bar min", "60 ohm ± 10 %",
// "4.5 V +/- 0.2 V". A number alone is an error: it is not known whether it is a lower or an upper limit.
func Parse(s string) (Limit, error) {
	t := strings.Join(strings.Fields(s), " ")
	if m := tolerance.FindStringSubmatch(t); m != nil {
		return parseTolerance(s, m[1], m[2])
	}
	bound := quantity.Equal
	switch {
	case lowest.MatchString(t):
		bound, t = quantity.Greater, lowest.ReplaceAllString(t, "")
	case highest.MatchString(t):
		bound, t = quantity.Less, highest.ReplaceAllString(t, "")
	case atEnd.MatchString(t):
		m := atEnd.FindStringSubmatch(t)
		bound, t = quantity.Less, m[1]
		if word := strings.ToLower(m[2] + m[3]); strings.HasPrefix(word, "min") || word == "or more" || strings.HasPrefix(word, "and up") || word == "and over" {
			bound = quantity.Greater
		}
	}
	q, err := quantity.Parse(t)
	if err != nil {
		return Limit{}, fmt.Errorf("limit %q: %w", s, err)
	}
	if q.Bound != quantity.Equal {
		bound = q.Bound
	}
	l := Limit{Unit: q.Unit}
	switch {
	case q.Bound == quantity.Open:
		return Limit{}, fmt.Errorf("limit %q: want numbers", s)
	case q.Upper != nil && bound == quantity.Equal:
		l.Low, l.High = new(q.Value), q.Upper
	case bound == quantity.Greater:
		l.Low = new(q.Value)
	case bound == quantity.Less:
		l.High = new(q.Value)
	default:
		return Limit{}, fmt.Errorf("limit %q: want to know which side, such as \"at least %s\", \"max %s\" or \"%s ± 10 %%\"", s, t, t, t)
	}
	return l, nil
}

func parseTolerance(s, nominal, width string) (Limit, error) {
	q, err := quantity.Parse(nominal)
	if err != nil || q.Upper != nil || q.Bound != quantity.Equal {
		return Limit{}, fmt.Errorf("limit %q: want one nominal value before the tolerance", s)
	}
	w, err := quantity.Parse(width)
	if err != nil || w.Upper != nil || w.Bound != quantity.Equal || w.Value < 0 {
		return Limit{}, fmt.Errorf("limit %q: want a tolerance such as ± 10 %% or ± 0.2 V", s)
	}
	half := w.Value
	switch {
	case w.Unit == "%" && q.Unit != "%":
		half = math.Abs(q.Value) * w.Value / 100
	case w.Unit != "" && q.Unit != "" && w.Unit != q.Unit:
		if half, err = inUnit(w, q.Unit); err != nil {
			return Limit{}, fmt.Errorf("limit %q: %w", s, err)
		}
	case q.Unit == "":
		q.Unit = w.Unit
	}
	return Limit{Low: new(q.Value - half), High: new(q.Value + half), Unit: q.Unit}, nil
}

// inUnit gives a difference in another unit of the same dimension.
func inUnit(w quantity.Quantity, unit string) (float64, error) {
	_, from, ok := w.SI()
	_, to, known := quantity.Quantity{Unit: unit}.SI()
	if !ok || !known || from != to {
		return 0, fmt.Errorf("%s and %s measure different things", w.Unit, unit)
	}
	return quantity.Span(w.Value, w.Unit) / quantity.Span(1, unit), nil
}
