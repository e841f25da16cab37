package casebook

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// canonical gives a copy of c in the vocabulary's terms: what the evidence table and the index hold. The record itself keeps the
// words that it was written in, so that a later change of the vocabulary reaches every case.
func canonical(c kb.Case, v *kb.Vocabulary) kb.Case {
	c.Codes = slices.Clone(c.Codes)
	for i := range c.Codes {
		c.Codes[i] = normalCode(c.Codes[i])
	}
	c.Symptoms = slices.Clone(c.Symptoms)
	for i := range c.Symptoms {
		c.Symptoms[i].Symptom = v.CanonicalSymptom(c.Symptoms[i].Symptom)
	}
	c.Tests = slices.Clone(c.Tests)
	for i := range c.Tests {
		c.Tests[i] = canonicalTest(c.Tests[i], v)
	}
	c.Fixes = slices.Clone(c.Fixes)
	for i := range c.Fixes {
		c.Fixes[i].Component = v.CanonicalComponent(c.Fixes[i].Component)
	}
	c.Machine = canonicalMachine(c.Machine, v)
	return c
}

func canonicalTest(t kb.Test, v *kb.Vocabulary) kb.Test {
	t.Component = v.CanonicalComponent(t.Component)
	name := t.Method
	if name == "" {
		name = t.Test
	}
	t.Method = v.CanonicalMethod(name)
	if m, ok := v.Method(t.Method); ok && t.Where == "" {
		t.Where = m.Where
	}
	return withPublishedLimit(t)
}

// withPublishedLimit lets a reading be judged by the published limit that plainly applies, where the record names none.
func withPublishedLimit(t kb.Test) kb.Test {
	if t.Reading == nil || t.Reading.Limit != nil {
		return t
	}
	if l, ok := t.PublishedLimit(); ok {
		r := t.Reading.WithLimit(l)
		t.Reading = &r
	}
	return t
}

// canonicalMachine folds case and spacing, so that spellings of one maker or model meet, and names the kind by the vocabulary.
func canonicalMachine(m kb.Machine, v *kb.Vocabulary) kb.Machine {
	if k, ok := v.MachineKind(m.Kind); ok {
		m.Kind = k.Name
	} else {
		m.Kind = foldName(m.Kind)
	}
	m.Make, m.Model, m.Variant = foldName(m.Make), foldName(m.Model), foldName(m.Variant)
	return m
}

func foldName(s string) string { return strings.Join(strings.Fields(strings.ToLower(s)), " ") }

// normalCode spells a code by the rule of its scheme; one that cannot be read stays as it is (validation refuses it elsewhere).
func normalCode(e kb.CodeEntry) kb.CodeEntry {
	if c, err := e.Parse(); err == nil {
		e.Code = c.String()
		if e.Scheme == "" {
			e.Scheme = c.Scheme
		}
	}
	return e
}
