package kb

import (
	"encoding/json"
	"fmt"
	"slices"
)

// TermChoice is what a moderator decides on a term that the vocabulary does not know.
type TermChoice string

// The choices.
const (
	TermSynonym TermChoice = "synonym" // it is another name of a known term
	TermNew     TermChoice = "new"     // it is a term of its own
	TermIgnore  TermChoice = "ignore"  // it stays as it is, and is not asked about again
)

// TermDecision is a decision on a term that the vocabulary of the files does not know.
type TermDecision struct {
	Kind   TermKind   `json:"kind"` // component, symptom or method
	Term   string     `json:"term"`
	Choice TermChoice `json:"choice"`
	Of     string     `json:"of,omitempty"`     // of a synonym: the known term, by any of its names
	System string     `json:"system,omitempty"` // of a new component: the system that it belongs to
}

// With gives the vocabulary with decisions added to it, in their order. A decision that does not fit (its term is known by now, or what it
// is a synonym of is not) is left out and told; the rest holds.
func (v *Vocabulary) With(decisions []TermDecision) (*Vocabulary, []error) {
	l, err := loadFiles(v.source)
	if err != nil {
		return v, []error{err}
	}
	var problems []error
	for _, d := range decisions {
		if err := l.decide(d); err != nil {
			problems = append(problems, err)
			continue
		}
		body, _ := json.Marshal(d) // strings alone
		l.hash.Write(body)
	}
	if err := l.finish(); err != nil {
		return v, append(problems, err)
	}
	return l.v, problems
}

func (d TermDecision) errorf(field, format string, args ...any) error {
	return &Error{Kind: Invalid, Field: field, Msg: fmt.Sprintf("%s %q: ", d.Kind, d.Term) + fmt.Sprintf(format, args...)}
}

func (l *loader) decide(d TermDecision) error {
	if d.Choice == TermIgnore {
		return nil
	}
	if key, _ := spellings(d.Term); key == "" || Fold(d.Term) != d.Term {
		return d.errorf("term", "must be folded and have letters")
	}
	switch d.Kind {
	case TermComponent:
		if d.Choice == TermNew {
			return l.newTerm(d, known(&l.v.components, d.Term), vocabularyFile{Components: []componentGroup{{System: d.System, Items: []componentEntry{{Name: d.Term}}}}}, l.addComponents)
		}
		return alsoCalled(l, &l.v.components, d, func(c *Component) { c.Synonyms = append(slices.Clone(c.Synonyms), d.Term) })
	case TermSymptom:
		if d.Choice == TermNew {
			return l.newTerm(d, known(&l.v.symptoms, d.Term), vocabularyFile{Symptoms: []symptomGroup{{Items: []symptomEntry{{Name: d.Term}}}}}, l.addSymptoms)
		}
		return alsoCalled(l, &l.v.symptoms, d, func(s *SymptomTerm) { s.Synonyms = append(slices.Clone(s.Synonyms), d.Term) })
	case TermMethod:
		if d.Choice == TermNew {
			return d.errorf("choice", "a method is told only as a synonym: a new one wants its kind and its usual time, in the files of the vocabulary")
		}
		return alsoCalled(l, &l.v.methods, d, func(m *Method) { m.Synonyms = append(slices.Clone(m.Synonyms), d.Term) })
	}
	return d.errorf("kind", "want component, symptom or method")
}

func known[T any](t *table[T], term string) bool {
	_, ok := t.find(term)
	return ok
}

func (l *loader) newTerm(d TermDecision, known bool, f vocabularyFile, add func(vocabularyFile, func(string) place) error) error {
	if known {
		return d.errorf("term", "is known by now")
	}
	if d.Kind == TermComponent && d.System == "" {
		return d.errorf("system", "is missing: say what it belongs to")
	}
	return add(f, func(name string) place { return place{file: "decisions", name: name} })
}

// alsoCalled makes a term another name of a known one.
func alsoCalled[T any](l *loader, t *table[T], d TermDecision, add func(*T)) error {
	name, ok := t.find(d.Of)
	switch {
	case d.Choice != TermSynonym:
		return d.errorf("choice", "%q is not one of: synonym, new, ignore", d.Choice)
	case !ok:
		return d.errorf("of", "%q is not known", d.Of)
	case known(t, d.Term):
		return d.errorf("term", "is known by now")
	}
	item := t.items[name]
	add(&item)
	t.items[name] = item
	key, _ := spellings(d.Term)
	t.byTerm[key] = append(t.byTerm[key], name)
	l.addPhrases(d.Kind, name, false, d.Term)
	return nil
}
