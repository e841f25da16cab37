package casebook

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"ruledout/internal/store"
	"ruledout/kb"
	"ruledout/kb/code"
	"ruledout/kb/rank"
)

// CodeView is what the book knows of one fault code.
type CodeView struct {
	Code     string         `json:"code"`
	Issuer   string         `json:"issuer"` // whose code it is; empty: the standard's, or not said
	Answer   kb.Answer      `json:"answer"` // to the code alone
	Tells    []Telling      `json:"tells"`  // what tests tell apart
	Machines []MachineShare `json:"machines"`
	Readings []kb.Measured  `json:"readings"` // what was measured in tests that several cases did, most values first
	Open     []Hit          `json:"open"`     // published cases without a known fix
	Cases    int            `json:"cases"`    // published cases with the code
	Issuers  []string       `json:"issuers"`  // whose codes of this spelling the book has, where it is a maker's own and no maker was named
}

// Telling is one test of the code's elimination table: what each of the leading culprits is left with after either result.
type Telling struct {
	Test      string        `json:"test"`
	Component string        `json:"component"`
	GainBits  float64       `json:"gain_bits"`
	Minutes   float64       `json:"minutes,omitempty"` // 0: nothing tells
	Cases     []kb.CaseID   `json:"cases,omitempty"`   // that did it
	Cells     []TellingCell `json:"cells"`             // in the order of the answer's fixes
}

// TellingCell is a culprit's probability before a test and after each result.
type TellingCell struct {
	Component string  `json:"component"`
	Before    float64 `json:"before"`
	Passed    float64 `json:"passed"`
	Failed    float64 `json:"failed"`
}

// RulesOut tells whether the passed test rules the culprit out as kb.RuledOut has it: odds down to a tenth or less, and below 5 %.
func (c TellingCell) RulesOut() bool {
	return c.Passed < 0.05 && c.Passed*(1-c.Before) <= c.Before*(1-c.Passed)/10
}

// MachineShare counts the repairs of a code on one make and model.
type MachineShare struct {
	Machine string         `json:"machine"`
	Cases   int            `json:"cases"`
	Cures   []CulpritCount `json:"cures"` // most cases first
}

// CulpritCount is how often a component was at fault.
type CulpritCount struct {
	Component string      `json:"component"`
	Cases     []kb.CaseID `json:"cases"`
}

// tellingCulprits is how many culprits the elimination table has.
const tellingCulprits = 6

// CodeView gathers what the book knows of a code. The maker is wanted for a maker's own code; without it the makers are named that use it.
func (b *Book) CodeView(ctx context.Context, text, maker string) (CodeView, error) {
	parsed, err := code.Parse(text)
	if err != nil {
		return CodeView{}, &kb.Error{Kind: kb.Invalid, Msg: err.Error()}
	}
	if err := b.follow(ctx); err != nil {
		return CodeView{}, fmt.Errorf("code: %w", err)
	}
	entry := kb.CodeEntry{Code: parsed.String(), Scheme: parsed.Scheme}
	key, err := entry.Key(maker)
	if err != nil {
		return CodeView{}, &kb.Error{Kind: kb.Invalid, Msg: err.Error()}
	}
	if key.Issuer == code.IssuerStandard {
		maker = "" // it means the same with each
	}
	q := kb.Case{V: kb.Version, Status: kb.Open, Machine: kb.Machine{Make: maker}, Codes: []kb.CodeEntry{entry}}
	v := CodeView{Code: parsed.String(), Issuer: maker, Answer: b.answer(q, nil), Open: []Hit{}, Machines: []MachineShare{}}
	if key.Issuer == "" {
		model, _ := b.snapshot()
		v.Issuers = model.Issuers(key)
	}
	v.Tells = b.tellings(q, v.Answer)
	return v, b.casesOfCode(ctx, key, &v)
}

// gaugedTest is a test that shows a value: the same in several cases.
type gaugedTest struct{ component, method, base string }

// readingsOf gathers what was measured in the tests of a code's cases, where at least two of them did the same test.
func (b *Book) readingsOf(list []kb.Case) []kb.Measured {
	samples, seen := map[gaugedTest]kb.Test{}, map[gaugedTest]int{}
	for _, c := range list {
		for _, t := range c.Tests {
			if t.Reading == nil || t.Reading.Value == nil {
				continue
			}
			_, base, ok := t.Reading.Quantity().SI()
			k := gaugedTest{t.Component, cmp.Or(t.Method, t.Test), base}
			if _, had := samples[k]; ok && !had {
				samples[k] = t
			}
			seen[k]++
		}
	}
	model, _ := b.snapshot()
	out := []kb.Measured{}
	for k, t := range samples {
		if m, ok := model.Measured(t, kb.Machine{}, nil); ok && seen[k] >= 2 {
			m.Good = nil // of the sample's own value
			out = append(out, m)
		}
	}
	slices.SortFunc(out, func(x, y kb.Measured) int {
		return cmp.Or(cmp.Compare(valuesOf(y), valuesOf(x)), cmp.Compare(x.Component, y.Component), cmp.Compare(x.Method, y.Method), cmp.Compare(x.Unit, y.Unit))
	})
	return out
}

func valuesOf(m kb.Measured) int {
	n := 0
	for _, g := range m.Groups {
		n += g.Count
	}
	return n
}

// tellings asks again with either result of each test that the answer proposes.
func (b *Book) tellings(q kb.Case, a kb.Answer) []Telling {
	leaders := a.Fixes[:min(len(a.Fixes), tellingCulprits)]
	out := []Telling{}
	for _, step := range a.Next {
		if step.Kind != "test" {
			continue
		}
		passed, failed := b.after(q, step, kb.Pass), b.after(q, step, kb.Fail)
		t := Telling{Test: step.Test, Component: step.Component, GainBits: step.GainBits, Minutes: step.Minutes, Cases: step.Cases}
		for _, f := range leaders {
			t.Cells = append(t.Cells, TellingCell{f.Component, f.Probability, passed(f.Component), failed(f.Component)})
		}
		out = append(out, t)
	}
	return out
}

// after gives the probability of culprits once a test had a result, of those too that an answer would no longer list.
func (b *Book) after(q kb.Case, step kb.NextStep, r kb.Result) func(component string) float64 {
	q.Tests = []kb.Test{{Test: step.Test, Component: step.Component, Result: r}}
	model, _ := b.snapshot()
	known := canonical(q, b.Vocabulary())
	p := map[string]float64{}
	for _, f := range model.Ask(known, rank.Options{NoNext: true, MaxCases: 1}).Fixes {
		p[f.Component] = f.Probability
	}
	return func(component string) float64 {
		if x, listed := p[component]; listed {
			return x
		}
		account, err := model.Why(known, component)
		if err != nil {
			return 0 // nothing speaks for it
		}
		return account.Probability
	}
}

func (b *Book) casesOfCode(ctx context.Context, key code.Key, v *CodeView) error {
	byMachine := map[string]map[string][]kb.CaseID{}
	var all []kb.Case
	for rec, err := range b.store.Cases(ctx, store.Filter{States: []kb.State{kb.Published}, Keys: []code.Key{key}}) {
		if err != nil {
			return fmt.Errorf("code: %w", err)
		}
		if v.Cases++; v.Issuer != "" {
			v.Issuer = rec.Case.Machine.Make // as people spell it
		}
		known := canonical(rec.Case, b.Vocabulary())
		all = append(all, known)
		if !known.IsEvidence() {
			v.Open = append(v.Open, hit(rec.Case, 0))
			continue
		}
		name := strings.TrimSpace(rec.Case.Machine.Make + " " + rec.Case.Machine.Model)
		if name == "" {
			name = "not said"
		}
		if byMachine[name] == nil {
			byMachine[name] = map[string][]kb.CaseID{}
		}
		for _, culprit := range known.Culprits() {
			byMachine[name][culprit] = append(byMachine[name][culprit], rec.Case.ID)
		}
	}
	v.Readings = b.readingsOf(all)
	for name, cures := range byMachine {
		v.Machines = append(v.Machines, machineShare(name, cures))
	}
	slices.SortFunc(v.Machines, func(a, b MachineShare) int {
		return cmp.Or(cmp.Compare(b.Cases, a.Cases), cmp.Compare(a.Machine, b.Machine))
	})
	return nil
}

func machineShare(name string, cures map[string][]kb.CaseID) MachineShare {
	m := MachineShare{Machine: name}
	seen := map[kb.CaseID]bool{}
	for component, ids := range cures {
		slices.Sort(ids)
		m.Cures = append(m.Cures, CulpritCount{component, ids})
		for _, id := range ids {
			seen[id] = true
		}
	}
	m.Cases = len(seen)
	slices.SortFunc(m.Cures, func(a, b CulpritCount) int {
		return cmp.Or(cmp.Compare(len(b.Cases), len(a.Cases)), cmp.Compare(a.Component, b.Component))
	})
	return m
}
