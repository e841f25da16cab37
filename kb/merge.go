package kb

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
)

// MergeOptions say how cases of one repair become one.
type MergeOptions struct {
	Vocabulary *Vocabulary       // joins facts that are named by synonyms; nil: by their folded words
	Take       map[string]CaseID // fields that are taken whole from one case, by the names of MergeFields; all others are joined
}

// Merge makes one case of several that tell of one repair. It has the id of the target. Lists are united: equal facts become one that keeps the
// spans of all; of single values the one that says more or was read later stays, of the confirmation the strongest of those that tell how it
// ended. What comes out does not depend on the order of the others, nor on whether they are merged at once or in steps. A field of opt.Take
// that is none, or a case there that is not among them, is Invalid.
func Merge(target Case, others []Case, opt MergeOptions) (Case, error) {
	all, cure, err := aligned(append([]Case{target}, others...))
	if err != nil {
		return Case{}, err
	}
	if err := opt.check(all); err != nil {
		return Case{}, err
	}
	m := merger{opt.Vocabulary, cure}
	out := Case{V: Version}
	for _, f := range mergeFields {
		if from, chosen := opt.Take[f.name]; chosen {
			f.join(m, &out, &all[slices.IndexFunc(all, func(c Case) bool { return c.ID == from })])
			continue
		}
		for i := range all {
			f.join(m, &out, &all[i])
		}
	}
	out.Doubts = m.doubts(&out, all)
	out.ID = target.ID
	return out, nil
}

func (o MergeOptions) check(all []Case) error {
	for _, name := range slices.Sorted(maps.Keys(o.Take)) {
		if !slices.Contains(MergeFields(), name) {
			return &Error{Kind: Invalid, Field: name, Msg: "there is no such field to choose"}
		}
		if !slices.ContainsFunc(all, func(c Case) bool { return c.ID == o.Take[name] }) {
			return &Error{Kind: Invalid, Field: name, Msg: fmt.Sprintf("case %s is not among those to be merged", o.Take[name])}
		}
	}
	return nil
}

// aligned gives copies of cases with one sequence of steps: all last cures at one step, proofs after it as far as in their own case, and
// what was done before it as it was numbered. So no proof of one telling becomes evidence beside another one.
func aligned(cases []Case) (_ []Case, cure int, _ error) {
	for i := range cases {
		cure = max(cure, cases[i].lastCureStep())
	}
	for i := range cases {
		if cure > 0 && cases[i].lastCureStep() == 0 {
			cure = max(cure, 1+cases[i].LastStep())
		}
	}
	var out []Case
	for _, c := range cases {
		c, err := cloned(c)
		if err != nil {
			return nil, 0, err
		}
		if own := c.lastCureStep(); own > 0 {
			shift := func(step *int) {
				if *step >= own {
					*step += cure - own
				}
			}
			for i := range c.Tests {
				shift(&c.Tests[i].Step)
			}
			for i := range c.Fixes {
				shift(&c.Fixes[i].Step)
			}
		}
		out = append(out, c)
	}
	return out, cure, nil
}

// cloned gives a case that shares nothing with c.
func cloned(c Case) (Case, error) {
	body, err := EncodeCase(c)
	if err != nil {
		return c, err
	}
	return DecodeCase(body)
}

// merger joins facts of aligned cases by the terms of a vocabulary.
type merger struct {
	voc  *Vocabulary
	cure int // the step at which all of them were cured, 0 if it is not known of any
}

// mergeField is a field of the record that two tellings of a repair may differ in. Joining is such that order and repetition do not matter.
type mergeField struct {
	name string
	list bool
	get  func(c *Case) any
	join func(m merger, into, from *Case)
}

// MergeFields lists the names of the fields that can be chosen in a merge, in the order in which they are compared.
func MergeFields() []string {
	var out []string
	for _, f := range mergeFields {
		out = append(out, f.name)
	}
	return out
}

var mergeFields = []mergeField{
	{"title", false, func(c *Case) any { return c.Title }, func(_ merger, a, b *Case) { a.Title = fuller(a.Title, b.Title) }},
	{"reporter", false, func(c *Case) any { return c.Reporter }, func(_ merger, a, b *Case) { a.Reporter = fuller(a.Reporter, b.Reporter) }},
	{"contributor", false, func(c *Case) any { return c.Contributor }, func(_ merger, a, b *Case) { a.Contributor = fuller(a.Contributor, b.Contributor) }},
	{"full_form", false, func(c *Case) any { return c.FullForm }, func(_ merger, a, b *Case) { a.FullForm = a.FullForm || b.FullForm }},
	{"kind", false, func(c *Case) any { return c.Machine.Kind }, func(_ merger, a, b *Case) { a.Machine.Kind = fuller(a.Machine.Kind, b.Machine.Kind) }},
	{"machine", false, func(c *Case) any { return makeAndModel(c) }, joinMachine},
	{"variant", false, func(c *Case) any { return c.Machine.Variant }, func(_ merger, a, b *Case) { a.Machine.Variant = fuller(a.Machine.Variant, b.Machine.Variant) }},
	{"year", false, func(c *Case) any { return c.Machine.Year }, func(_ merger, a, b *Case) { a.Machine.Year = max(a.Machine.Year, b.Machine.Year) }},
	{"odometer", false, func(c *Case) any { return c.Machine.Odometer }, func(_ merger, a, b *Case) { a.Machine.Odometer = further(a.Machine.Odometer, b.Machine.Odometer) }},
	{"hours", false, func(c *Case) any { return c.Machine.Hours }, func(_ merger, a, b *Case) { a.Machine.Hours = higher(a.Machine.Hours, b.Machine.Hours) }},
	{"cycles", false, func(c *Case) any { return c.Machine.Cycles }, func(_ merger, a, b *Case) { a.Machine.Cycles = higher(a.Machine.Cycles, b.Machine.Cycles) }},
	{"vin", false, func(c *Case) any { return c.Machine.VIN }, func(_ merger, a, b *Case) { a.Machine.VIN = surerVIN(a.Machine.VIN, b.Machine.VIN) }},
	{"codes", true, func(c *Case) any { return c.Codes }, func(m merger, a, b *Case) { a.Codes = m.codes(a.Codes, b.Codes) }},
	{"symptoms", true, func(c *Case) any { return c.Symptoms }, func(m merger, a, b *Case) { a.Symptoms = m.symptoms(a.Symptoms, b.Symptoms) }},
	{"tests", true, func(c *Case) any { return c.Tests }, func(m merger, a, b *Case) { a.Tests = m.tests(a.Tests, b.Tests) }},
	{"fixes", true, func(c *Case) any { return c.Fixes }, func(m merger, a, b *Case) { a.Fixes = m.fixes(a.Fixes, b.Fixes) }},
	{"status", false, func(c *Case) any { return ending(c) }, joinEnding},
	{"state", false, func(c *Case) any { return c.State }, func(_ merger, a, b *Case) { a.State = rankedHigher(stateRank, a.State, b.State) }},
	{"follow_ups", true, func(c *Case) any { return c.FollowUps }, func(_ merger, a, b *Case) { a.FollowUps = followUps(a.FollowUps, b.FollowUps) }},
	{"sources", true, func(c *Case) any { return c.Sources }, func(_ merger, a, b *Case) { a.Sources = sources(a.Sources, b.Sources) }},
	{"ext", false, func(c *Case) any { return c.Ext }, func(_ merger, a, b *Case) { a.Ext = joinExt(a.Ext, b.Ext) }},
}

// fuller gives the longer of two texts, of equally long ones the first by letters.
func fuller[S ~string](a, b S) S {
	if len(b) > len(a) || len(b) == len(a) && b < a {
		return b
	}
	return a
}

// name is a machine's make and model: they go together, or a machine would come out that nobody told of.
type name struct {
	Make  string `json:"make,omitempty"`
	Model string `json:"model,omitempty"`
}

func makeAndModel(c *Case) name { return name{c.Machine.Make, c.Machine.Model} }

func (n name) filled() int {
	count := 0
	for _, s := range []string{n.Make, n.Model} {
		if s != "" {
			count++
		}
	}
	return count
}

func joinMachine(_ merger, a, b *Case) {
	x, y := makeAndModel(a), makeAndModel(b)
	if cmp.Or(cmp.Compare(y.filled(), x.filled()), cmp.Compare(len(y.Make)+len(y.Model), len(x.Make)+len(x.Model)), cmp.Compare(x.Make, y.Make), cmp.Compare(x.Model, y.Model)) > 0 {
		a.Machine.Make, a.Machine.Model = y.Make, y.Model
	}
	a.Machine.Evidence = spans(a.Machine.Evidence, b.Machine.Evidence)
	a.Machine.Confidence = max(a.Machine.Confidence, b.Machine.Confidence)
}

func higher(a, b *float64) *float64 {
	if a == nil || b != nil && *b > *a {
		return b
	}
	return a
}

// further gives the later of two odometer readings: the higher one, in whatever unit.
func further(a, b *Measure) *Measure {
	if a == nil || b == nil {
		return cmp.Or(a, b)
	}
	if cmp.Or(cmp.Compare(inSI(*b), inSI(*a)), cmp.Compare(a.Unit, b.Unit), cmp.Compare(b.Value, a.Value)) > 0 {
		return b
	}
	return a
}

func surerVIN(a, b *VINFacts) *VINFacts {
	if a == nil || b == nil {
		return cmp.Or(a, b)
	}
	rank := func(v *VINFacts) int { return slices.Index([]string{"invalid", "not used", "valid"}, v.Check) }
	if cmp.Or(cmp.Compare(rank(b), rank(a)), cmp.Compare(b.ModelYear, a.ModelYear), cmp.Compare(a.Region, b.Region), cmp.Compare(a.Check, b.Check)) > 0 {
		return b
	}
	return a
}

// end is how a case ended and how sure that is; they go together.
type end struct {
	Status       Status       `json:"status,omitempty"`
	ClosedAs     ClosedAs     `json:"closed_as,omitempty"`
	Confirmation Confirmation `json:"confirmation,omitempty"`
}

func ending(c *Case) end { return end{c.Status, c.ClosedAs, c.Confirmation} }

// The ranks of values of closed lists, lowest first: the higher one stays. A published case stays published.
var (
	statusRank       = []Status{"", Open, Closed}
	closedRank       = []ClosedAs{"", WentAway, HandedOver, NotWorthRepairing, Repaired}
	confirmationRank = []Confirmation{"", Unconfirmed, Reported, Verified}
	stateRank        = []State{"", Withdrawn, Draft, Published}
	codeStatusRank   = []CodeStatus{"", History, Pending, Stored, Active}
)

func rankedHigher[T comparable](rank []T, a, b T) T {
	if slices.Index(rank, b) > slices.Index(rank, a) {
		return b
	}
	return a
}

// joinEnding keeps the ending that settles most, with the strongest confirmation that a telling of this ending gives.
func joinEnding(_ merger, a, b *Case) {
	place := func(c *Case) []int {
		return []int{slices.Index(statusRank, c.Status), slices.Index(closedRank, c.ClosedAs), slices.Index(confirmationRank, c.Confirmation)}
	}
	if slices.Compare(place(b), place(a)) > 0 {
		a.Status, a.ClosedAs, a.Confirmation = b.Status, b.ClosedAs, b.Confirmation
	}
	a.StatusEvidence = spans(a.StatusEvidence, b.StatusEvidence)
}

func joinExt(a, b map[string]json.RawMessage) map[string]json.RawMessage {
	if a == nil {
		return maps.Clone(b)
	}
	for name, x := range b {
		if old, ok := a[name]; !ok || string(fuller(string(old), string(x))) != string(old) {
			a[name] = x
		}
	}
	return a
}
