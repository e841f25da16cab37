package kb

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
