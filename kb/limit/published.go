package limit

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"ruledout/kb/quantity"
)

// Published is a limit that is known without the maker's figures.
type Published struct {
	Name       string
	Base       string   // SI unit of what is measured
	Components []string // preferred names of the vocabulary that it may be measured at
	Words      []string // phrases that ask for it; the longest one that occurs wins
	Needs      []string // what must be given, as SI units: "V" a working voltage, "K" a temperature, "mm2" and "m" a conductor
	Only       []string // phrases one of which a test must hold for the limit to be taken unasked; none: it is never taken unasked
	Source     string
	Note       string
	Hazards    []string // names of the vocabulary
	make       func(g Given) ([]Limit, error)
}

// Given is what a limit may depend on. NaN: not stated.
type Given struct {
	Volts, Celsius, Area, Metres float64
	Words                        string // everything that was written, folded to lower case
}

// Limits gives the limits under the given conditions; several where the standard has one for each of several topologies and it was not said
// which applies. An error says what is missing.
func (p Published) Limits(g Given) ([]Limit, error) {
	for _, n := range p.Needs {
		if value, what := g.need(n); math.IsNaN(value) {
			return nil, fmt.Errorf("%s: want %s", p.Name, what)
		}
	}
	list, err := p.make(g)
	for i := range list {
		if list[i].Name == "" {
			list[i].Name = p.Name
		}
		if list[i].Source == "" {
			list[i].Source = p.Source
		}
		if list[i].Note == "" {
			list[i].Note = p.Note
		}
	}
	return list, err
}

func (g Given) need(unit string) (float64, string) {
	switch unit {
	case "V":
		return g.Volts, "the working voltage, such as \"400 V pack\""
	case "K":
		return g.Celsius, "the temperature, such as \"pt100 at 25 °C\""
	case "m":
		return g.Metres, "the length, such as \"conductor 2.5 mm2 5 m\""
	}
	return g.Area, "the cross-section, such as \"conductor 2.5 mm2 5 m\""
}

func (g Given) says(phrases ...string) bool {
	return slices.ContainsFunc(phrases, func(p string) bool { return hasPhrase(g.Words, p) })
}

// hasPhrase reports that the words of a phrase stand in a text, one after the other, as whole words.
func hasPhrase(text, phrase string) bool {
	return strings.Contains(" "+strings.Join(strings.FieldsFunc(text, notWord), " ")+" ", " "+phrase+" ")
}

func notWord(r rune) bool {
	return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '.' || r > 127)
}

func fixed(low, high float64, unit string) func(Given) ([]Limit, error) {
	return func(Given) ([]Limit, error) {
		l := Limit{Unit: unit}
		if !math.IsInf(low, -1) {
			l.Low = new(low)
		}
		if !math.IsInf(high, 1) {
			l.High = new(high)
		}
		return []Limit{l}, nil
	}
}

var none = math.Inf(1)

// All lists the published limits in the order in which they are shown.
func All() []Published { return slices.Clone(published) }

// Named finds the published limits that a text asks for among those of the quantity that was measured (base; empty: any), with what the
// text gives of conditions. The longest phrase decides; several that hold equally long ones are all returned.
func Named(text, base string) ([]Published, Given) {
	g := GivenIn(text)
	var out []Published
	best := 0
	for _, p := range published {
		if base != "" && p.Base != base {
			continue
		}
		n := 0
		for _, w := range p.Words {
			if hasPhrase(g.Words, w) {
				n = max(n, len(w))
			}
		}
		if n > best {
			best, out = n, nil
		}
		if n > 0 && n == best {
			out = append(out, p)
		}
	}
	return out, g
}

// Unasked gives the limit that holds for a test of a component without anybody naming it: the component is one it is measured at, the
// quantity is the same, the test says how it was measured, and nothing more needs to be known.
func Unasked(component, test, base string) (Limit, bool) {
	for _, p := range published {
		text := strings.ToLower(test)
		if p.Base != base || !slices.Contains(p.Components, component) || len(p.Needs) > 0 ||
			!slices.ContainsFunc(p.Only, func(w string) bool { return hasPhrase(text, w) }) {
			continue
		}
		if list, err := p.Limits(Given{Words: text}); err == nil && len(list) == 1 {
			return list[0], true
		}
	}
	return Limit{}, false
}

// GivenIn reads the conditions that a text states: "400 V pack", "pt100 at 25 °C", "conductor 2.5 mm2 5 m".
func GivenIn(text string) Given {
	nan := math.NaN()
	g := Given{Volts: nan, Celsius: nan, Area: nan, Metres: nan, Words: strings.ToLower(text)}
	for _, f := range quantity.Find(text) {
		si, base, _ := f.SI()
		switch {
		case base == "V":
			g.Volts = si
		case base == "K":
			g.Celsius = si - zeroCelsius
		case base == "m2":
			g.Area = math.Round(si*1e9) / 1e3
		case base == "m":
			g.Metres = si
		}
	}
	return g
}

// ErrUnknown says that no published limit goes by a name.
var ErrUnknown = errors.New("no published limit of that name for what was measured")

// About reports that a limit is one of a quantity ("resistance", "voltage") or is measured at a component of the vocabulary, or is asked for
// by that phrase.
func (p Published) About(text string) bool {
	text = strings.ToLower(strings.TrimSpace(text))
	return text != "" && (text == Dimension(p.Base) || slices.Contains(p.Components, text) || slices.Contains(p.Words, text))
}
