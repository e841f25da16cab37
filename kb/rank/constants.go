package rank

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"ruledout/kb"
)

// Scale is the scale on which a constant is searched.
type Scale int

// The scales: Linear for exponents and weights that may be 0 or 1, Log for strengths, Logit for rates.
const (
	Linear Scale = iota
	Log
	Logit
	Whole // a whole number, which is not searched
)

// parts says, as a set of bits, which parts of a posterior a constant acts on.
type parts uint8

const (
	onPrior    parts = 1 << iota // codes and machine
	onSymptoms                   // symptoms, mentioned or not
	onFirst                      // tests known from the start: codes that only follow from another fault
	onTests                      // all tests
	onTried                      // fixes tried without cure
	onCredit                     // credits of the closed cases, and so everything; the model is built anew
	onEvidence = onSymptoms | onFirst | onTests | onTried
	onAll      = onPrior | onEvidence
)

// Constant is one number of Params under its name.
type Constant struct {
	Name      string // as "ruledout model" prints it and a record holds it
	Doc       string
	Low, High float64 // least and greatest value allowed
	Scale     Scale

	get  func(*Params) float64
	set  func(*Params, float64)
	acts parts
	only func(*row, Terms) bool // the questions that it can act on, nil: any
}

// Get gives the constant's value.
func (c Constant) Get(p Params) float64 { return c.get(&p) }

// Set changes the constant. Other copies of the same Params keep their value.
func (c Constant) Set(p *Params, v float64) { c.set(p, v) }

// field is a constant that is a field of Params.
func field(name, doc string, low, high float64, scale Scale, acts parts, at func(*Params) *float64) Constant {
	return Constant{Name: name, Doc: doc, Low: low, High: high, Scale: scale, acts: acts,
		get: func(p *Params) float64 { return *at(p) }, set: func(p *Params, v float64) { *at(p) = v }}
}

// entry is a constant that is an entry of a map of Params; an entry that is missing has the value of the key for any other.
func entry[K comparable](name, doc string, low, high float64, scale Scale, acts parts, at func(*Params) *map[K]float64, key, other K) Constant {
	return Constant{Name: name, Doc: doc, Low: low, High: high, Scale: scale, acts: acts,
		get: func(p *Params) float64 {
			if v, ok := (*at(p))[key]; ok {
				return v
			}
			return (*at(p))[other]
		},
		set: func(p *Params, v float64) {
			m := maps.Clone(*at(p))
			if m == nil {
				m = map[K]float64{}
			}
			m[key] = v
			*at(p) = m
		}}
}

// Constants lists every constant of the model. A new field of Params needs a line here and nothing else to be recorded, printed and fitted.
func Constants() []Constant {
	return slices.Concat(priorConstants(), creditConstants(), symptomConstants(), testConstants(), triedConstants())
}

func priorConstants() []Constant {
	var out []Constant
	for l := LevelAll; l < levels; l++ {
		out = append(out, field("K "+l.String(), "strength of the level above, in cases, at the level "+l.String(), 0.01, 1000, Log, onPrior,
			func(p *Params) *float64 { return &p.K[l] }))
	}
	for i, seen := range []string{"once", "twice", "three times or more"} {
		out = append(out, field("discount "+strings.Fields(seen)[0], "taken off the count of a culprit seen "+seen+" and given to the level above", 0, 0.95,
			Linear, onPrior, func(p *Params) *float64 { return &p.Discount[i] }))
	}
	return append(out,
		field("structure", "weight of what the vocabulary alone suspects, in cases", 0, 20, Linear, onAll, func(p *Params) *float64 { return &p.Struct }),
		field("years", "distance in years over which a case's weight falls to 1/e", 0.1, 100, Log, onPrior, func(p *Params) *float64 { return &p.Years }),
		field("gamma", "pooling of several codes: 0 multiplies them in full, 1 averages them", 0, 1, Linear, onPrior, func(p *Params) *float64 { return &p.Gamma }),
	)
}

func creditConstants() []Constant {
	var out []Constant
	for _, c := range []kb.Confirmation{kb.Verified, kb.Reported} {
		out = append(out,
			entry("named "+string(c), "weight on the named culprit of a "+string(c)+" case before its evidence", 0.01, 1, Linear, onCredit,
				func(p *Params) *map[kb.Confirmation]float64 { return &p.Named }, c, kb.Reported),
			entry("floor "+string(c), "least credit of the named culprits of a "+string(c)+" case together", 0, 1, Linear, onCredit,
				func(p *Params) *map[kb.Confirmation]float64 { return &p.Floor }, c, kb.Reported))
	}
	passes := Constant{Name: "passes", Doc: "passes of crediting", Low: 0, High: 10, Scale: Whole, acts: onCredit,
		get: func(p *Params) float64 { return float64(p.Passes) }, set: func(p *Params, v float64) { p.Passes = int(math.Round(v)) }}
	return append(out, passes)
}

func symptomConstants() []Constant {
	out := []Constant{
		field("lambda", "tempering of all evidence but codes", 0.01, 1, Linear, onEvidence, func(p *Params) *float64 { return &p.Lambda }),
		field("mention", "exponent of a symptom being mentioned", 0, 3, Linear, onSymptoms, func(p *Params) *float64 { return &p.Mention }),
		field("words", "times that exponent for a single word of a complaint in own words", 0, 2, Linear, onSymptoms, func(p *Params) *float64 { return &p.Words }),
		field("presence", "exponent of a mentioned symptom being there or not", 0, 3, Linear, onSymptoms, func(p *Params) *float64 { return &p.Value }),
		field("unsaid", "exponent of a symptom not being mentioned", 0, 3, Linear, onSymptoms, func(p *Params) *float64 { return &p.Unsaid }),
		field("overlap", "how far symptoms that go together count as one: 0 takes them as independent", 0, 5, Linear, onSymptoms,
			func(p *Params) *float64 { return &p.Overlap }),
	}
	out = append(out, field("adapt", "how far the cases move the weight of a rate here, in powers of two; 0 holds it", 0, 8, Linear, onSymptoms,
		func(p *Params) *float64 { return &p.Adapt }))
	for _, x := range []struct {
		rate string
		of   func(*Params) *Shrink
	}{{"mention", func(p *Params) *Shrink { return &p.MentionK }}, {"presence", func(p *Params) *Shrink { return &p.ValueK }}} {
		weight := func(name, doc string, at func(*Shrink) *float64) Constant {
			return field(x.rate+" weight "+name, "weight of the rate of "+x.rate+" "+doc+", in cases", 1e-3, 1e4, Log, onSymptoms,
				func(p *Params) *float64 { return at(x.of(p)) })
		}
		out = append(out,
			weight("near", "in all other cases, for the cases of the question's codes", func(s *Shrink) *float64 { return &s.Near }),
			weight("elsewhere", "in the cases of the codes, for a culprit elsewhere", func(s *Shrink) *float64 { return &s.Elsewhere }),
			weight("here", "of a culprit elsewhere, for the culprit under the codes", func(s *Shrink) *float64 { return &s.Here }))
	}
	return out
}

func testConstants() []Constant {
	var out []Constant
	for _, kind := range slices.Sorted(maps.Keys(DefaultParams().Found)) {
		name := "found " + kind
		if kind == "" {
			name = "found otherwise"
		}
		c := entry(name, "rate at which a bad component fails a test of this kind", 0.01, 0.999, Logit, onFirst|onTests,
			func(p *Params) *map[string]float64 { return &p.Found }, kind, "")
		c.only = func(q *row, t Terms) bool {
			return slices.ContainsFunc(q.Tests, func(o observed) bool { return kindOf(o.Method, t) == kind })
		}
		out = append(out, c)
	}
	return append(out,
		field("upstream", "rate at which a test in place fails because of what drives or feeds the component", 0.005, 0.995, Logit, onFirst|onTests,
			func(p *Params) *float64 { return &p.Upstream }),
		field("false alarm", "rate at which a test fails though the culprit is elsewhere", 0.001, 0.5, Logit, onFirst|onTests,
			func(p *Params) *float64 { return &p.FalseAlarm }),
		field("found weight", "weight of the rates of tests at each step of shrinking, in cases", 0.1, 1000, Log, onFirst|onTests,
			func(p *Params) *float64 { return &p.FoundW }),
	)
}

// kindOf gives the kind of method whose rate a test starts from, empty for a kind without a rate of its own.
func kindOf(method string, t Terms) string {
	m, _ := t.Method(method)
	if _, ok := DefaultParams().Found[m.Kind]; ok {
		return m.Kind
	}
	return ""
}

func triedConstants() []Constant {
	var out []Constant
	for _, a := range kb.Actions() {
		if a == kb.Bypass {
			continue // counts as a test
		}
		c := entry("tried "+string(a), "probability of no change though the culprit itself was worked on in this way", 0.001, 0.999, Logit, onTried,
			func(p *Params) *map[kb.Action]float64 { return &p.Tried }, a, kb.Other)
		c.only = func(q *row, _ Terms) bool {
			return slices.ContainsFunc(q.Tried, func(x attempt) bool { return x.Action == a })
		}
		out = append(out, c)
	}
	rate := func(name, doc string, at func(*Params) *float64) Constant {
		return field(name, doc, 0.001, 0.999, Logit, onTried, at)
	}
	return append(out,
		rate("tried elsewhere", "probability of no change when the culprit is elsewhere", func(p *Params) *float64 { return &p.TriedElse }),
		rate("partial", "probability of a partial cure when the culprit was worked on", func(p *Params) *float64 { return &p.Partial[0] }),
		rate("partial elsewhere", "the same when the culprit is elsewhere", func(p *Params) *float64 { return &p.Partial[1] }),
		rate("returned", "probability of a cure that did not last when the culprit was worked on", func(p *Params) *float64 { return &p.Returned[0] }),
		rate("returned elsewhere", "the same when the culprit is elsewhere", func(p *Params) *float64 { return &p.Returned[1] }),
		field("tried weight", "weight of the rates of tried fixes, in cases", 0.1, 1000, Log, onTried, func(p *Params) *float64 { return &p.TriedW }),
	)
}

// EncodeParams writes the constants as a JSON object, each under its name, in the order of Constants.
func EncodeParams(p Params) ([]byte, error) {
	var out bytes.Buffer
	out.WriteByte('{')
	for i, c := range Constants() {
		v := c.Get(p)
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, &kb.Error{Kind: kb.Invalid, Field: c.Name, Msg: "is no number"}
		}
		if i > 0 {
			out.WriteByte(',')
		}
		fmt.Fprintf(&out, "%q:%s", c.Name, strconv.FormatFloat(v, 'g', -1, 64))
	}
	out.WriteByte('}')
	return out.Bytes(), nil
}

// DecodeParams reads what EncodeParams wrote. A constant that is missing has its default; a name that is not known and a value outside
// its range are errors of kind Invalid that name it.
func DecodeParams(data []byte) (Params, error) {
	p := DefaultParams()
	var values map[string]json.RawMessage
	if err := json.Unmarshal(data, &values); err != nil {
		return p, &kb.Error{Kind: kb.Invalid, Field: "constants", Msg: "want an object of numbers: " + err.Error()}
	}
	for _, c := range Constants() {
		raw, ok := values[c.Name]
		if !ok {
			continue
		}
		delete(values, c.Name)
		var v *float64
		if err := json.Unmarshal(raw, &v); err != nil || v == nil {
			return p, &kb.Error{Kind: kb.Invalid, Field: c.Name, Msg: "is no number"}
		}
		if *v < c.Low || *v > c.High || c.Scale == Whole && *v != math.Round(*v) {
			return p, &kb.Error{Kind: kb.Invalid, Field: c.Name, Msg: fmt.Sprintf("%g is out of its range, %g to %g", *v, c.Low, c.High)}
		}
		c.Set(&p, *v)
	}
	for _, name := range slices.Sorted(maps.Keys(values)) {
		return p, &kb.Error{Kind: kb.Invalid, Field: name, Msg: "is no constant of the model that this program knows"}
	}
	return p, p.Validate()
}
