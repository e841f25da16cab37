package rank

import (
	"net/url"
	"slices"
	"strings"

	"ruledout/kb"
	"ruledout/kb/code"
	"ruledout/kb/limit"
)

// Terms is what the ranker needs to know of the vocabulary.
type Terms interface {
	// Relation tells how a tested component stands to a possible culprit.
	Relation(tested, culprit string) kb.Relation
	// Method gives a test method by its name.
	Method(name string) (kb.Method, bool)
	// SymptomFeatures gives what a symptom is counted by: its name, or the words of one that is not known.
	SymptomFeatures(term string) []string
	// Suspects lists the components that the structure alone makes suspicious.
	Suspects(kind string, codes, symptoms []string) []kb.Suspect
	// CodeTerm gives what is known of a code beyond its structure.
	CodeTerm(code string) (kb.CodeTerm, bool)
}

// Table holds the evidence: one row for each case that counts. Cases are in the vocabulary's terms when they are put in. It is not safe
// for use by several goroutines; the models made from it are.
type Table struct {
	terms Terms
	rows  map[kb.CaseID]*row
}

// row is a case as the model sees it.
type row struct {
	ID       kb.CaseID
	Machine  kb.Machine
	Codes    []keyed // that describe the fault, consequences left out
	Tests    []observed
	Symptoms []noticed
	Tried    []attempt
	Culprits []string // named, in order
	Cures    []attempt
	Proofs   []observed
	Gauged   []gauged // readings that show a value
	Work     []work   // what fixes took, where the case says so
	Confirm  kb.Confirmation
	Source   string // who tells: contributor or site; empty where the case counts alone
	FullForm bool
}

// keyed is a code with its failure type.
type keyed struct {
	Key     code.Key
	Subtype string
}

// observed is a test with its result; the name is the method's, or the test's own words where the method is unknown.
type observed struct {
	Component, Method string
	Bench             bool
	Result            kb.Result
	Sure              float64 // probability that it passed where only a reading tells; 0 where the result is stated
	Base              string  // SI unit of a reading that no limit judges, empty otherwise
	SI                float64 // that reading
	Minutes           float64
	Left              bool // a bypass left in place: it tells as much, but is nothing to propose
}

// noticed is a symptom, there or not.
type noticed struct {
	Term   string
	Absent bool
	Words  []string // what it is counted by while the book does not know the term; none for a term of the vocabulary
}

// attempt is a fix.
type attempt struct {
	Component string
	Action    kb.Action
	Outcome   kb.Outcome
}

// work is what a fix took: parts, time and where the part came from.
type work struct {
	Component string
	Action    kb.Action
	Origin    kb.Origin
	Minutes   float64
	Cost      float64 // of parts, in Currency
	Currency  string  // empty: no cost is known
	Coding    bool    // the part needs coding
}

// NewTable makes an empty table.
func NewTable(t Terms) *Table { return &Table{terms: t, rows: map[kb.CaseID]*row{}} }

// Len gives the number of cases that count.
func (t *Table) Len() int { return len(t.rows) }

// Put adds a case or replaces the one with its id. A case that is no evidence (draft, open, unconfirmed ...) only takes the place away.
func (t *Table) Put(c kb.Case) {
	if !c.IsEvidence() {
		delete(t.rows, c.ID)
		return
	}
	t.rows[c.ID] = t.rowOf(c)
}

// Delete takes a case out.
func (t *Table) Delete(id kb.CaseID) { delete(t.rows, id) }

func (t *Table) rowOf(c kb.Case) *row {
	r := &row{ID: c.ID, Machine: machineOf(c.Machine), Culprits: c.Culprits(), Confirm: c.Held(), Source: sourceOf(c), FullForm: c.FullForm}
	r.Codes, r.Tests = t.codesOf(c)
	r.Tests = append(r.Tests, t.testsOf(c.EvidenceTests())...)
	for i, o := range r.Tests {
		r.Tests[i].Left = o.Method == kb.MethodBridging && !slices.ContainsFunc(t.testsOf(c.Tests), func(x observed) bool {
			return x.Method == kb.MethodBridging && x.Component == o.Component
		})
	}
	r.Proofs = t.testsOf(c.Proofs())
	r.Gauged = gaugedOf(c, c.IsProof)
	r.Symptoms = t.symptomsOf(c)
	r.Tried = attempts(c.TriedFixes())
	r.Cures = attempts(c.Cures())
	r.Work = workOf(c.Fixes)
	return r
}

// machineOf keeps of a machine what contexts are made of.
func machineOf(m kb.Machine) kb.Machine {
	return kb.Machine{Kind: m.Kind, Make: m.Make, Model: m.Model, Variant: m.Variant, Year: m.Year}
}

// sourceOf tells whose word a case is: its contributor, else the host of its first source; nobody's where the source is trusted.
func sourceOf(c kb.Case) string {
	for _, s := range c.Sources {
		if s.Trusted {
			return ""
		}
	}
	if c.Contributor != "" {
		return "person " + strings.ToLower(c.Contributor)
	}
	for _, s := range c.Sources {
		if u, err := url.Parse(s.URL); err == nil && u.Hostname() != "" {
			return "site " + strings.TrimPrefix(strings.ToLower(u.Hostname()), "www.")
		}
	}
	return ""
}

// codesOf gives the codes that describe the fault, and those that only follow from another fault as failed tests of the component that
// the vocabulary ties to them. Where there are only such codes they are what is known, and stay codes.
func (t *Table) codesOf(c kb.Case) ([]keyed, []observed) {
	var own []keyed
	var follow []observed
	var all []keyed
	for _, e := range c.Codes {
		read, err := e.Parse()
		if err != nil {
			continue
		}
		key, err := e.Key(c.Machine.Make)
		if err != nil {
			continue
		}
		k := keyed{Key: key, Subtype: read.FTB}
		if slices.Contains(all, k) {
			continue
		}
		all = append(all, k)
		if term, ok := t.terms.CodeTerm(read.Text); ok && term.Consequence && len(term.Components) > 0 {
			follow = append(follow, observed{Component: term.Components[0], Method: "code " + read.Text, Result: kb.Fail})
			continue
		}
		own = append(own, k)
	}
	if len(own) == 0 {
		return all, nil
	}
	return own, follow
}

func (t *Table) testsOf(list []kb.Test) []observed {
	var out []observed
	for _, x := range list {
		o := observed{Component: x.Component, Method: x.Method, Result: x.Result, Minutes: x.Minutes, Bench: x.Where == kb.Bench}
		if o.Method == "" {
			o.Method = x.Test
		}
		if m, ok := t.terms.Method(o.Method); ok && x.Where == "" {
			o.Bench = m.Where == kb.Bench
		}
		o.Result, o.Sure = judged(x)
		if g, shows := gauge(x); shows && o.Result == "" && o.Sure == 0 {
			o.Base, o.SI = g.Base, g.SI
		}
		if !slices.Contains(out, o) {
			out = append(out, o)
		}
	}
	return out
}

// judged gives the result of a test. Where only a reading tells, its probability of conformity is virtual evidence (Pearl 1988, 2.2.2), and
// where that is sure by the rule of limit.Sure, the test counts as passed or failed for others.
func judged(t kb.Test) (kb.Result, float64) {
	p, ok := t.Conformity()
	switch {
	case t.Result != "" || !ok:
		return t.Result, 0
	case p >= limit.Sure:
		return kb.Pass, p
	case p <= 1-limit.Sure:
		return kb.Fail, p
	}
	return "", p
}

// symptomsOf gives the symptoms of a case. What a form asks, and what is said not to be there, is a term as it stands; what people notice
// in their own words counts by those words, see Model.spell.
func (t *Table) symptomsOf(c kb.Case) []noticed {
	var out []noticed
	for _, s := range c.Symptoms {
		n := noticed{Term: s.Symptom, Absent: s.Absent}
		if features := t.terms.SymptomFeatures(s.Symptom); !c.FullForm && !slices.Equal(features, []string{s.Symptom}) {
			n.Words = features
		}
		if !slices.ContainsFunc(out, func(o noticed) bool { return o.Term == n.Term }) {
			out = append(out, n)
		}
	}
	return out
}

func attempts(list []kb.Fix) []attempt {
	var out []attempt
	for _, f := range list {
		a := attempt{Component: f.Component, Action: f.Action, Outcome: f.Outcome}
		if !slices.Contains(out, a) {
			out = append(out, a)
		}
	}
	return out
}

// workOf keeps what fixes took, where anything is said of it. A bypass is no repair.
func workOf(list []kb.Fix) []work {
	var out []work
	for _, f := range list {
		w := work{Component: f.Component, Action: f.Action, Minutes: f.Minutes}
		if f.Part != nil {
			w.Origin, w.Coding = f.Part.Origin, f.Part.NeedsCoding != nil && *f.Part.NeedsCoding
		}
		if f.PartsCost != nil {
			if x, ok := f.PartsCost.Float(); ok {
				w.Cost, w.Currency = x, f.PartsCost.Currency
			}
		}
		if f.Action != kb.Bypass && (w.Minutes > 0 || w.Currency != "" || w.Origin != "" || w.Coding) {
			out = append(out, w)
		}
	}
	return out
}
