package rank

import (
	"fmt"
	"math"

	"ruledout/kb"
)

// Level is a level of the chain of contexts.
type Level int

// The levels, widest first.
const (
	LevelAll Level = iota
	LevelKind
	LevelFamily
	LevelStructure // no cases: what the vocabulary says of codes and symptoms
	LevelCode
	LevelSubtype
	LevelMake
	LevelModel
	LevelVariant
	LevelYears
	levels
)

// String gives the level's name as an Answer shows it.
func (l Level) String() string {
	return [...]string{"all", "kind", "family", "structure", "code", "subtype", "make", "model", "variant", "years"}[l]
}

// Params are the constants of the model. Until they are fitted they are judgement: common practice of the trade, no source.
type Params struct {
	K        [levels]float64             // strength of the level above, in cases, > 0
	Discount [3]float64                  // d of a culprit counted once, twice, three times or more; each in [0, 1)
	Struct   float64                     // weight of what the structure alone suspects, in cases, >= 0
	Years    float64                     // h of the years level, > 0
	Gamma    float64                     // pooling of several codes, in [0, 1]: 0 multiplies them in full, 1 averages them
	Named    map[kb.Confirmation]float64 // w: weight on the named culprit before evidence, in (0, 1]
	Floor    map[kb.Confirmation]float64 // r0: least credit of the named culprits together, in [0, 1]
	Passes   int                         // passes of crediting, >= 0; with 0 the named culprits get all

	Mention    float64               // a: exponent of a symptom being mentioned, >= 0
	Words      float64               // times a for a single word of a complaint in own words, >= 0
	Value      float64               // b: exponent of its being there or not, >= 0
	Unsaid     float64               // a0: exponent of a symptom not being mentioned, >= 0
	MentionK   Shrink                // weights of the wider rates of mention, in cases
	ValueK     Shrink                // the same of presence
	Adapt      float64               // how far the cases may move a symptom's own weight (Here), as the sd of its binary logarithm; 0 holds it
	Overlap    float64               // how far symptoms that go together count as one, >= 0; 0 takes them as independent
	Lambda     float64               // tempering of all evidence but codes, in (0, 1]
	Found      map[string]float64    // s by kind of method: a bad component fails its test; "" for any other kind
	FoundW     float64               // weight of s, u and phi at each step of shrinking, in cases
	Upstream   float64               // u: the test fails because of what drives or feeds the component
	FalseAlarm float64               // phi: the test fails though the culprit is elsewhere
	Tried      map[kb.Action]float64 // probability of no change though the culprit itself was worked on
	TriedElse  float64               // the same when the culprit is elsewhere
	Partial    [2]float64            // probability of a partial cure: culprit worked on, elsewhere
	Returned   [2]float64            // probability of a cure that did not last: culprit worked on, elsewhere
	TriedW     float64               // weight of these rates, in cases
}

// Shrink are the weights with which a rate of a symptom is shrunk to the next wider one, each > 0: among cases of the question's codes to
// all others, under a culprit elsewhere to the first, under a culprit and these codes to the second.
type Shrink struct{ Near, Elsewhere, Here float64 }

func (s Shrink) valid() bool { return s.Near > 0 && s.Elsewhere > 0 && s.Here > 0 }

// DefaultParams gives the constants used until fitted ones are there.
func DefaultParams() Params {
	return Params{
		K: [levels]float64{200, 200, 60, 1, 0.5, 5, 30, 40, 40, 100}, Discount: [3]float64{0.7, 0.1, 0}, Struct: 0.1,
		Years:   4,
		Gamma:   0.7,
		Named:   map[kb.Confirmation]float64{kb.Verified: 0.97, kb.Reported: 0.9},
		Floor:   map[kb.Confirmation]float64{kb.Verified: 0.9, kb.Reported: 0.7},
		Passes:  1,
		Mention: 0.9, Words: 0.6, Value: 0.8, Unsaid: 0.5,
		MentionK: Shrink{3, 30, 20}, ValueK: Shrink{400, 30, 1}, Adapt: 2.5, Overlap: 0.5,
		Lambda: 0.95,
		Found: map[string]float64{"substitute": 0.95, "drive": 0.92, "bridging": 0.92, "surroundings": 0.92, "measure": 0.88,
			"leak": 0.85, "scan": 0.8, "run": 0.75, "look": 0.75, "listen": 0.65, "": 0.82},
		FoundW: 12, Upstream: 0.55, FalseAlarm: 0.06,
		Tried: map[kb.Action]float64{kb.Replace: 0.05, kb.Repair: 0.12, kb.Reprogram: 0.2, kb.Modify: 0.2, kb.Adjust: 0.3, kb.Refit: 0.3,
			kb.Clean: 0.35, kb.Service: 0.4, kb.Other: 0.5},
		TriedElse: 0.92, Partial: [2]float64{0.05, 0.04}, Returned: [2]float64{0.06, 0.03}, TriedW: 20,
	}
}

// Validate tells whether every constant is in its range.
func (p Params) Validate() error {
	checks := []struct {
		name string
		ok   bool
	}{
		{"Struct", p.Struct >= 0}, {"Adapt", p.Adapt >= 0}, {"Overlap", p.Overlap >= 0}, {"Years", p.Years > 0}, {"Gamma", p.Gamma >= 0 && p.Gamma <= 1},
		{"Mention", p.Mention >= 0}, {"Words", p.Words >= 0}, {"Value", p.Value >= 0}, {"Unsaid", p.Unsaid >= 0}, {"MentionK", p.MentionK.valid()}, {"ValueK", p.ValueK.valid()},
		{"Lambda", p.Lambda > 0 && p.Lambda <= 1}, {"FoundW", p.FoundW > 0}, {"TriedW", p.TriedW > 0}, {"Passes", p.Passes >= 0},
		{"Upstream", inside(p.Upstream)}, {"FalseAlarm", inside(p.FalseAlarm)}, {"TriedElse", inside(p.TriedElse)}, {"Found", inside(p.Found[""])},
		{"order of Found, Upstream and FalseAlarm", p.Found[""] > p.Upstream && p.Upstream > p.FalseAlarm},
	}
	for _, c := range checks {
		if !c.ok {
			return &kb.Error{Kind: kb.Invalid, Field: c.name, Msg: "is out of its range"}
		}
	}
	for _, d := range p.Discount {
		if !(d >= 0 && d < 1) {
			return &kb.Error{Kind: kb.Invalid, Field: "Discount", Msg: "is out of its range"}
		}
	}
	for l, k := range p.K {
		if !(k > 0) || math.IsInf(k, 0) {
			return &kb.Error{Kind: kb.Invalid, Field: fmt.Sprintf("K[%s]", Level(l)), Msg: "is out of its range"}
		}
	}
	return nil
}

func inside(x float64) bool { return x > 0 && x < 1 }

// found gives s of a method before any case is counted.
func (p Params) found(kind string) float64 {
	if s, ok := p.Found[kind]; ok {
		return s
	}
	return p.Found[""]
}
