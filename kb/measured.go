package kb

import "math"

// Measured is what others measured in a test of a component, split by what turned out to be at fault.
type Measured struct {
	Component string          `json:"component"`
	Method    string          `json:"method,omitempty"` // empty: by any method
	Unit      string          `json:"unit"`             // of all values
	Groups    []MeasuredGroup `json:"groups"`
	Good      *float64        `json:"good"` // probability that the reading is one of a good part by these alone, even odds before; null: too few
}

// MeasuredGroup is the readings of the cases that turned out one way.
type MeasuredGroup struct {
	Group  string          `json:"group"` // part at fault, fault elsewhere, fault in what feeds it, after the repair
	Count  int             `json:"count"` // values; open circuits are counted apart
	Open   int             `json:"open"`  // open circuits
	Median *float64        `json:"median"`
	Q1     *float64        `json:"q1"` // quartiles: linear between order statistics (Hyndman and Fan 1996, definition 7)
	Q3     *float64        `json:"q3"`
	Points []MeasuredPoint `json:"points"` // in order of value
}

// MeasuredPoint is one reading of one case.
type MeasuredPoint struct {
	Value *float64 `json:"value"` // null: open circuit
	Case  CaseID   `json:"case"`
	Near  string   `json:"near"` // closeness of its machine: model, make, kind, or other
}

// The groups of readings.
const (
	MeasuredFaulty   = "part at fault"
	MeasuredGood     = "fault elsewhere"
	MeasuredFed      = "fault in what feeds it"
	MeasuredRepaired = "after the repair"
)

// Scale is the line that measured values are drawn on.
type Scale struct {
	Low, High float64
	Logs      bool // of logarithms: the values span more than a factor of ten
}

// Scale gives the scale that holds all values, and a reading beside them. ok is false where there is nothing to draw.
func (m Measured) Scale(reading *float64) (s Scale, ok bool) {
	s = Scale{Low: math.Inf(1), High: math.Inf(-1)}
	hold := func(v *float64) {
		if v != nil {
			s.Low, s.High = math.Min(s.Low, *v), math.Max(s.High, *v)
		}
	}
	for _, g := range m.Groups {
		for _, p := range g.Points {
			hold(p.Value)
		}
	}
	hold(reading)
	if math.IsInf(s.Low, 0) {
		return Scale{}, false
	}
	if margin := 0.2 * math.Max(math.Abs(s.Low), math.Abs(s.High)); s.High-s.Low < margin { // values that hardly differ are not drawn apart
		s.Low, s.High = s.Low-margin, s.High+margin
	}
	s.Logs = s.Low > 0 && s.High/s.Low > 10
	return s, true
}

// At gives the place of a value on the scale, from 0 to 1.
func (s Scale) At(v float64) float64 {
	switch {
	case s.Low == s.High:
		return 0.5
	case s.Logs:
		return math.Log(v/s.Low) / math.Log(s.High/s.Low)
	}
	return (v - s.Low) / (s.High - s.Low)
}
