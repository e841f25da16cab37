package limit

import (
	"fmt"
	"strings"
)

// stated is the source of a limit that whoever asks gives in numbers.
const stated = "as stated by whoever asks"

// Find gives the limits that a text asks for, for a measured quantity (its SI unit; empty: any): numbers ("2.1 to 2.4 kohm, engine off"), a
// value by temperature (see ParseThermal), or a published limit by name and conditions ("400 V pack", "pt100 at 25 °C"). There are several
// where the standard has one for each topology and the text does not say which. What follows a comma is the condition it holds under.
func Find(text, base string) ([]Limit, error) {
	if l, ok, err := ParseThermal(text); ok {
		l.Source = stated
		return []Limit{l}, err
	}
	numbers, condition, _ := strings.Cut(text, ", ")
	l, err := Parse(numbers)
	if err == nil {
		l.Source, l.Note = stated, strings.TrimSpace(condition)
		return []Limit{l}, nil
	}
	list, given := Named(text, base)
	if len(list) == 0 {
		if others, _ := Named(text, ""); len(others) > 0 {
			return nil, fmt.Errorf("limit %q: %s is a limit of %s, and %s was measured", text, others[0].Name, Dimension(others[0].Base), Dimension(base))
		}
		return nil, fmt.Errorf("%w, nor %w", err, ErrUnknown)
	}
	var out []Limit
	for _, p := range list {
		limits, err := p.Limits(given)
		if err != nil {
			return nil, fmt.Errorf("limit %q: %w", text, err)
		}
		out = append(out, limits...)
	}
	return out, nil
}
