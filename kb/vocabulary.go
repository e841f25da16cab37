package kb

import (
	"embed"
	"io/fs"
	"slices"
	"strings"

	"ruledout/internal/memo"
)

//go:embed vocabulary/*.yaml
var builtin embed.FS

// Component is a maintainable item, a measured quantity, or a cause outside the machine (EN 13306 "item").
type Component struct {
	Name      string    // preferred term, folded
	Abbr      []string  // abbreviations as written, SAE J1930 where it has one
	Synonyms  []string  // other terms for the same item
	System    string    // system it belongs to; SystemOutside for causes that are no part of the machine
	PartOf    []string  // preferred names of the wholes it is a part of
	DrivenBy  []string  // what commands or moves it
	FedBy     []string  // what supplies it; for a measured quantity, what makes it
	Hazards   []string  // names of hazards in cautions.yaml
	Licensed  []string  // licence areas of work on it: gas, hv, mains, refrigerant, restraint, pressure
	Families  []string  // families of machine it occurs in; empty: any
	Quantity  bool      // a measured quantity rather than a thing
	Qualified Qualified // how "X NAME" stands to X when the vocabulary knows only X ("pump fuse", "pump bearing")
}

// SystemOutside is the system of causes that are no part of the machine (supply, setting, operator, ...).
const SystemOutside = "outside"

// Qualified tells how a component that is named after another ("heater relay", "heater gasket") stands to that other.
type Qualified string

// The ways in which a component named after another stands to it.
const (
	QualifiedNone  Qualified = ""
	QualifiedPart  Qualified = "part"  // it is a part of the other: bearing, gasket, winding
	QualifiedFeeds Qualified = "feeds" // it drives or supplies the other: fuse, connector, relay, supply
)

// Method is a way of testing one component.
type Method struct {
	Name     string
	Synonyms []string
	Cues     []string // words and phrases that writers use for doing it ("ohmed out", "swapped with a known good")
	Kind     string   // look, listen, measure, scan, drive, substitute, surroundings, bridging, leak, run
	Where    Where    // in place, on the bench, or empty when it may be either
	Quantity string   // what is measured, as a dimension word ("resistance"), empty otherwise
	Minutes  float64  // usual time, minutes; common practice of the trade
	Hazards  []string
}

// MethodKinds lists the kinds of method.
func MethodKinds() []string {
	return []string{"look", "listen", "measure", "scan", "drive", "substitute", "surroundings", "bridging", "leak", "run"}
}

// SymptomTerm is a thing that the user of a machine notices.
type SymptomTerm struct {
	Name     string
	Synonyms []string
	Systems  []string // systems that such a symptom points to
	Absent   []string // phrases that say that it is not there ("starts fine" for "no start")
}

// ActionTerm is one of the closed list of maintenance actions with the verbs people write for it.
type ActionTerm struct {
	Action Action
	Verbs  []string // base and inflected forms, and phrases
}

// MachineKind is a kind of machine with the family it belongs to.
type MachineKind struct {
	Name     string
	Synonyms []string
	Family   string // road vehicle, electric vehicle, heavy, farm, marine, heating, cooling, domestic, workshop, generator, aircraft ...
}

// Hazard is a danger that goes with a component, a test or a reading, and what to observe.
type Hazard struct {
	Name     string // high voltage, mains, stored energy, ...
	Text     string // what to observe, in one or two sentences, deferring to the maker's procedure
	Licensed string // licence area that the work may be reserved to, empty if none
	Source   string // standard or "common practice of the trade"
}

// LicenceAreas lists the areas of work that may be reserved to licensed people.
func LicenceAreas() []string {
	return []string{"gas", "hv", "mains", "refrigerant", "restraint", "pressure"}
}

// CodeTerm is what the vocabulary knows about a fault code beyond its structure.
type CodeTerm struct {
	Code        string   // normalised, without failure type byte; a final "*" stands for a whole range
	Meaning     string   // our own short wording; empty if only ties are known
	Source      string   // where the meaning was checked
	Components  []string // components that the code is tied to
	Consequence bool     // the code follows from another fault (lost communication, low supply voltage)
}

// TermKind tells what a phrase of the vocabulary names.
type TermKind string

// The kinds of term.
const (
	TermComponent TermKind = "component"
	TermMethod    TermKind = "method"
	TermSymptom   TermKind = "symptom"
	TermAction    TermKind = "action"
	TermMachine   TermKind = "machine"
)

// Phrase is one way to write one term.
type Phrase struct {
	Words   []string // words as FoldWords gives them, articles left out
	Kind    TermKind
	Name    string // preferred name (for TermAction the Action)
	Written string // as it stands in the vocabulary, with its letter case
	Abbr    bool   // an abbreviation: matched only in its own letter case or all lower case
	Absent  bool   // for symptoms: the phrase says that the symptom is absent
}

// BuiltinVocabulary gives the vocabulary that the program is built with.
func BuiltinVocabulary() (*Vocabulary, error) {
	sub, err := fs.Sub(builtin, "vocabulary")
	if err != nil {
		return nil, err
	}
	return ParseVocabulary(sub)
}

// Vocabulary holds the terms that cases are told in, and how components hang together. It is read-only once parsed and
// may be used by many goroutines at once.
type Vocabulary struct {
	components table[Component]
	methods    table[Method]
	symptoms   table[SymptomTerm]
	kinds      table[MachineKind]
	actions    []ActionTerm
	verbs      map[string]Action
	hazards    map[string]Hazard
	codes      map[string]CodeTerm
	absent     map[string][]string // key of a phrase -> names of the symptoms that it denies
	phrases    func() []Phrase
	source     fs.FS // the files that it was read from
	version    string
	canonical  *memo.Memo[termIn, string]
	relations  *memo.Memo[[2]string, Relation]
}

// termIn is a term on machines of a family.
type termIn struct{ term, family string }

// maxKept is how many answers of a kind a vocabulary keeps.
const maxKept = 1 << 14

// table finds items by any of their terms.
type table[T any] struct {
	items  map[string]T        // by preferred name
	byTerm map[string][]string // key of a term -> preferred names; several only where their families differ
	names  []string            // sorted
	keys   *memo.Memo[string, string]
}

// key is what a term is looked up by.
func (t table[T]) key(term string) string { return t.keys.Of(term, termKey) }

// find gives the name for a term: the item that is called so before those that are also called so.
func (t table[T]) find(term string) (string, bool) {
	key := t.key(term)
	names := t.byTerm[key]
	for _, name := range names {
		if t.key(name) == key {
			return name, true
		}
	}
	if len(names) == 0 {
		return "", false
	}
	return names[0], true
}

func (t table[T]) get(term string) (T, bool) {
	name, ok := t.find(term)
	return t.items[name], ok
}

func (t table[T]) sorted() []T {
	all := make([]T, 0, len(t.names))
	for _, name := range t.names {
		all = append(all, t.items[name])
	}
	return all
}

// Component finds a component by its preferred name, a synonym or an abbreviation.
func (v *Vocabulary) Component(term string) (Component, bool) { return v.components.get(term) }

// ComponentFor is Component for a machine of the family, which settles terms that mean different things on different
// machines.
func (v *Vocabulary) ComponentFor(term, family string) (Component, bool) {
	for _, name := range v.components.byTerm[v.components.key(term)] {
		if c := v.components.items[name]; slices.Contains(c.Families, family) {
			return c, true
		}
	}
	return v.Component(term)
}

// CanonicalComponent gives the preferred name for a term. Words of state ("new", "faulty") and position ("left front",
// "bank 1") are dropped if what remains is known. A term that is not known gives its own folded form.
func (v *Vocabulary) CanonicalComponent(term string) string { return v.CanonicalComponentFor(term, "") }

// CanonicalComponentFor is CanonicalComponent for a machine of the family (empty: any), which settles terms that mean
// different things on different machines.
func (v *Vocabulary) CanonicalComponentFor(term, family string) string {
	return v.canonical.Of(termIn{term, family}, func(q termIn) string { return v.findCanonical(q.term, q.family) })
}

func (v *Vocabulary) findCanonical(term, family string) string {
	plain := dropStateWords(Fold(term))
	_, rest := SplitPosition(plain)
	for _, candidate := range []string{term, plain, rest} {
		if c, ok := v.ComponentFor(candidate, family); ok {
			return c.Name
		}
	}
	return Fold(term)
}

// Method finds a method by its name, a synonym or a cue.
func (v *Vocabulary) Method(term string) (Method, bool) { return v.methods.get(term) }

// CanonicalMethod gives the preferred name for a method. For a longer description ("supply voltage at the plug after
// repair") it is the method with the longest term in it, the first of equally long ones; else the folded description.
func (v *Vocabulary) CanonicalMethod(term string) string {
	if name, ok := v.methods.find(term); ok {
		return name
	}
	words := phraseWords(term)
	for size := len(words) - 1; size > 0; size-- {
		for at := 0; at+size <= len(words); at++ {
			if name, ok := v.methods.find(strings.Join(words[at:at+size], " ")); ok {
				return name
			}
		}
	}
	return Fold(term)
}

// Symptom finds a symptom by its name or a synonym.
func (v *Vocabulary) Symptom(term string) (SymptomTerm, bool) { return v.symptoms.get(term) }

// CanonicalSymptom gives the preferred name for a symptom, else its folded form.
func (v *Vocabulary) CanonicalSymptom(term string) string {
	if name, ok := v.symptoms.find(term); ok {
		return name
	}
	return Fold(term)
}

// Denies gives the names of the symptoms that a phrase says are absent ("starts fine").
func (v *Vocabulary) Denies(phrase string) []string { return slices.Clone(v.absent[termKey(phrase)]) }

// Action finds the maintenance action that a verb or phrase stands for.
func (v *Vocabulary) Action(verb string) (Action, bool) {
	words := phraseWords(verb)
	if n := len(words); n > 1 && words[n-1] == "a" { // "put in a"
		words = words[:n-1]
	}
	action, ok := v.verbs[strings.Join(words, "")]
	return action, ok
}

// MachineKind finds a kind of machine by its name or a synonym.
func (v *Vocabulary) MachineKind(term string) (MachineKind, bool) { return v.kinds.get(term) }

// Hazard finds a hazard by its name.
func (v *Vocabulary) Hazard(name string) (Hazard, bool) {
	h, ok := v.hazards[name]
	return h, ok
}

// CodeTerm finds what is known about a code, its failure type byte or failure mode left out: the code itself, else the
// narrowest range.
func (v *Vocabulary) CodeTerm(code string) (CodeTerm, bool) {
	code = strings.ToUpper(strings.TrimSpace(code))
	if strings.HasPrefix(code, "SPN") {
		code, _, _ = strings.Cut(code, " FMI")
	} else {
		code, _, _ = strings.Cut(code, "-")
	}
	if term, ok := v.codes[code]; ok {
		return term, true
	}
	for end := len(code) - 1; end > 0; end-- {
		if term, ok := v.codes[code[:end]+"*"]; ok {
			return term, true
		}
	}
	return CodeTerm{}, false
}

// Components lists the components by name.
func (v *Vocabulary) Components() []Component { return v.components.sorted() }

// Methods lists the methods by name.
func (v *Vocabulary) Methods() []Method { return v.methods.sorted() }

// Symptoms lists the symptoms by name.
func (v *Vocabulary) Symptoms() []SymptomTerm { return v.symptoms.sorted() }

// MachineKinds lists the kinds of machine by name.
func (v *Vocabulary) MachineKinds() []MachineKind { return v.kinds.sorted() }

// ActionTerms lists the actions with their verbs, in the order of Actions.
func (v *Vocabulary) ActionTerms() []ActionTerm { return slices.Clone(v.actions) }

// Phrases lists every way to write every term, ordered by words, kind and name.
func (v *Vocabulary) Phrases() []Phrase { return slices.Clone(v.phrases()) }

// Version identifies the data: equal data give equal versions.
func (v *Vocabulary) Version() string { return v.version }
