package kb

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"gopkg.in/yaml.v3"

	"ruledout/internal/memo"
)

// loader builds a Vocabulary file by file. Names that items refer to are checked at the end, as they may stand in a later
// file.
type loader struct {
	v        *Vocabulary
	hash     hash.Hash
	places   map[string]place // kind and preferred name -> where it was read from
	families []string
	phrases  []Phrase // without their words
}

func newLoader() *loader {
	return &loader{
		v: &Vocabulary{
			canonical:  memo.New[termIn, string](maxKept),
			relations:  memo.New[[2]string, Relation](maxKept),
			components: newTable[Component](), methods: newTable[Method](), symptoms: newTable[SymptomTerm](),
			kinds: newTable[MachineKind](), verbs: map[string]Action{}, hazards: map[string]Hazard{},
			codes: map[string]CodeTerm{}, absent: map[string][]string{},
		},
		hash:   sha256.New(),
		places: map[string]place{},
	}
}

func newTable[T any]() table[T] {
	return table[T]{items: map[string]T{}, byTerm: map[string][]string{}, keys: memo.New[string, string](maxKept)}
}

// place is where an item was read from. The line is looked for only when there is an error to tell.
type place struct {
	file string
	data []byte
	name string // what stands behind "name:", "action:" or "code:"
}

func (p place) errorf(field, format string, args ...any) error {
	return &Error{Kind: Invalid, File: p.file, Line: p.line(), Field: p.name + "." + field, Msg: fmt.Sprintf(format, args...)}
}

func (p place) line() int {
	number := 0
	for line := range strings.Lines(string(p.data)) {
		number++
		for _, key := range []string{"name: ", "action: ", "code: "} {
			if _, rest, ok := strings.Cut(line, key+p.name); ok && strings.TrimLeft(rest, " ,}\r\n#") != rest {
				return number
			}
		}
	}
	return 0
}

func (l *loader) addFile(file string, data []byte) error {
	f, err := decodeFile(data)
	if err != nil {
		return yamlError(file, err)
	}
	at := func(name string) place { return place{file, data, name} }
	for _, add := range []func(vocabularyFile, func(string) place) error{
		l.addComponents, l.addMethods, l.addSymptoms, l.addActions, l.addKinds, l.addHazards, l.addCodes,
	} {
		if err := add(f, at); err != nil {
			return err
		}
	}
	return nil
}

func decodeFile(data []byte) (vocabularyFile, error) {
	var f vocabularyFile
	decoder := yaml.NewDecoder(bytes.NewReader(data))
	decoder.KnownFields(true)
	if err := decoder.Decode(&f); err != nil && !errors.Is(err, io.EOF) { // an empty file holds nothing
		return f, err
	}
	var more yaml.Node
	if err := decoder.Decode(&more); !errors.Is(err, io.EOF) {
		return f, errors.New("more than one document in the file")
	}
	return f, nil
}

// yamlError moves the line that the reader tells in its text to where it belongs.
func yamlError(file string, err error) error {
	e := &Error{Kind: Invalid, File: file, Msg: "no vocabulary", Err: err}
	if found := regexp.MustCompile(`line (\d+)`).FindStringSubmatch(err.Error()); found != nil {
		e.Line, _ = strconv.Atoi(found[1])
	}
	return e
}

// claim registers a preferred name and all terms for one item. Two items may share a term only where their families
// differ.
func claim[T any](l *loader, t *table[T], p place, kind TermKind, item T, terms []string, rivals func(a, b T) bool) error {
	name := p.name
	if name == "" || Fold(name) != name {
		return p.errorf("name", "must be folded and not empty (%q)", Fold(name))
	}
	if _, exists := t.items[name]; exists {
		return p.errorf("name", "%s is given twice", kind)
	}
	t.items[name] = item
	t.names = append(t.names, name)
	l.places[string(kind)+"/"+name] = p
	seen := map[string]bool{}
	for _, term := range append([]string{name}, terms...) {
		key, spelled := spellings(term)
		if key == "" || seen[spelled] {
			return p.errorf("also", "term %q is given twice or has no letters", term)
		}
		seen[spelled] = true
		for _, other := range t.byTerm[key] {
			if other != name && rivals(t.items[other], item) {
				return p.errorf("also", "term %q already belongs to %q", term, other)
			}
		}
		if !slices.Contains(t.byTerm[key], name) { // "micro switch" and "microswitch" have one key
			t.byTerm[key] = append(t.byTerm[key], name)
		}
	}
	return nil
}

// spellings gives the key of a term and the words that it is found by in text.
func spellings(term string) (key, spelled string) {
	words := phraseWords(term)
	return strings.Join(words, ""), strings.Join(words, " ")
}

func always[T any](_, _ T) bool { return true }

// shareFamily tells whether two components occur in one family; no family means any.
func shareFamily(a, b Component) bool {
	return len(a.Families) == 0 || len(b.Families) == 0 ||
		slices.ContainsFunc(a.Families, func(f string) bool { return slices.Contains(b.Families, f) })
}

func (l *loader) addComponents(f vocabularyFile, at func(string) place) error {
	for _, g := range f.Components {
		for _, e := range g.Items {
			c := Component{
				Name: e.Name, Abbr: e.Abbr, Synonyms: e.Also, System: g.System, PartOf: e.PartOf, DrivenBy: e.DrivenBy,
				FedBy: e.FedBy, Hazards: orElse(e.Hazards, g.Hazards), Licensed: orElse(e.Licensed, g.Licensed),
				Families: orElse(e.Families, g.Families), Quantity: e.Quantity, Qualified: e.Qualified,
			}
			p := at(e.Name)
			if c.System == "" {
				return p.errorf("system", "is missing")
			}
			if !oneOf(c.Qualified, QualifiedNone, QualifiedPart, QualifiedFeeds) {
				return p.errorf("qualified", "%q is not part or feeds", c.Qualified)
			}
			terms := slices.Concat(c.Synonyms, c.Abbr)
			if err := claim(l, &l.v.components, p, TermComponent, c, terms, shareFamily); err != nil {
				return err
			}
			l.addPhrases(TermComponent, e.Name, false, append([]string{e.Name}, e.Also...)...)
			l.addAbbreviations(e.Name, e.Abbr)
		}
	}
	return nil
}

// orElse gives the item's own list, else that of its group.
func orElse(own, group []string) []string {
	if own != nil {
		return own
	}
	return group
}

func (l *loader) addMethods(f vocabularyFile, at func(string) place) error {
	for _, g := range f.Methods {
		for _, e := range g.Items {
			m := Method{Name: e.Name, Synonyms: e.Also, Cues: e.Cues, Kind: g.Kind, Where: e.Where, Quantity: e.Quantity,
				Minutes: e.Minutes, Hazards: e.Hazards}
			p := at(e.Name)
			switch {
			case !slices.Contains(MethodKinds(), m.Kind):
				return p.errorf("kind", "%q is no kind of method", m.Kind)
			case !oneOf(m.Where, "", InPlace, Bench):
				return p.errorf("where", "%q is not %q or %q", m.Where, InPlace, Bench)
			case m.Minutes <= 0:
				return p.errorf("minutes", "must be more than 0")
			}
			terms := slices.Concat(m.Synonyms, m.Cues)
			if err := claim(l, &l.v.methods, p, TermMethod, m, terms, always); err != nil {
				return err
			}
			l.addPhrases(TermMethod, e.Name, false, append([]string{e.Name}, terms...)...)
		}
	}
	return nil
}

func (l *loader) addSymptoms(f vocabularyFile, at func(string) place) error {
	for _, g := range f.Symptoms {
		for _, e := range g.Items {
			s := SymptomTerm{Name: e.Name, Synonyms: e.Also, Systems: orElse(e.Systems, g.Systems), Absent: e.Absent}
			p := at(e.Name)
			if err := claim(l, &l.v.symptoms, p, TermSymptom, s, e.Also, always); err != nil {
				return err
			}
			l.addPhrases(TermSymptom, e.Name, false, append([]string{e.Name}, e.Also...)...)
			l.addPhrases(TermSymptom, e.Name, true, e.Absent...)
			for _, phrase := range e.Absent {
				key := termKey(phrase)
				if slices.Contains(l.v.absent[key], e.Name) {
					return p.errorf("absent", "phrase %q is given twice", phrase)
				}
				l.v.absent[key] = append(l.v.absent[key], e.Name)
			}
		}
	}
	return nil
}

func (l *loader) addActions(f vocabularyFile, at func(string) place) error {
	for _, e := range f.Actions {
		p := at(string(e.Action))
		if !slices.Contains(Actions(), e.Action) {
			return p.errorf("action", "is not on the closed list")
		}
		seen := map[string]bool{}
		for _, verb := range e.Verbs {
			key, spelled := spellings(verb)
			if key == "" || seen[spelled] {
				return p.errorf("verbs", "phrase %q is given twice or has no letters", verb)
			}
			if other, taken := l.v.verbs[key]; taken && other != e.Action {
				return p.errorf("verbs", "phrase %q already belongs to %q", verb, other)
			}
			seen[spelled] = true
			l.v.verbs[key] = e.Action
		}
		l.v.actions = append(l.v.actions, ActionTerm(e))
		l.addPhrases(TermAction, string(e.Action), false, e.Verbs...)
	}
	return nil
}

func (l *loader) addKinds(f vocabularyFile, at func(string) place) error {
	for _, g := range f.Kinds {
		if !slices.Contains(l.families, g.Family) {
			l.families = append(l.families, g.Family)
		}
		for _, e := range g.Items {
			p := at(e.Name)
			if g.Family == "" {
				return p.errorf("family", "is missing")
			}
			k := MachineKind{Name: e.Name, Synonyms: e.Also, Family: g.Family}
			if err := claim(l, &l.v.kinds, p, TermMachine, k, e.Also, always); err != nil {
				return err
			}
			l.addPhrases(TermMachine, e.Name, false, append([]string{e.Name}, e.Also...)...)
		}
	}
	return nil
}

func (l *loader) addHazards(f vocabularyFile, at func(string) place) error {
	for _, e := range f.Hazards {
		p := at(e.Name)
		_, twice := l.v.hazards[e.Name]
		switch {
		case e.Name == "" || twice:
			return p.errorf("name", "is missing or given twice")
		case e.Text == "" || e.Source == "":
			return p.errorf("text", "text and source must be given")
		case e.Licensed != "" && !slices.Contains(LicenceAreas(), e.Licensed):
			return p.errorf("licensed", "%q is no licence area", e.Licensed)
		}
		l.v.hazards[e.Name] = Hazard(e)
	}
	return nil
}

func (l *loader) addCodes(f vocabularyFile, at func(string) place) error {
	for _, e := range f.Codes {
		p := at(e.Code)
		_, twice := l.v.codes[e.Code]
		switch {
		case e.Code == "" || twice || e.Code != strings.ToUpper(e.Code):
			return p.errorf("code", "is missing, not in upper case or given twice")
		case e.Meaning != "" && e.Source == "":
			return p.errorf("source", "a meaning needs its source")
		}
		l.v.codes[e.Code] = CodeTerm(e)
		l.places["code/"+e.Code] = p
	}
	return nil
}

func (l *loader) addPhrases(kind TermKind, name string, absent bool, terms ...string) {
	for _, term := range terms {
		l.phrases = append(l.phrases, Phrase{Kind: kind, Name: name, Written: term, Absent: absent})
	}
}

func (l *loader) addAbbreviations(name string, abbreviations []string) {
	for _, abbr := range abbreviations {
		l.phrases = append(l.phrases, Phrase{Kind: TermComponent, Name: name, Written: abbr, Abbr: true})
	}
}

// finish checks what items refer to, links components that are named after others, and puts all in order.
func (l *loader) finish() error {
	for _, names := range [][]string{l.v.components.names, l.v.methods.names, l.v.symptoms.names, l.v.kinds.names} {
		slices.Sort(names)
	}
	for _, check := range []func() error{l.checkComponents, l.checkMethods, l.checkSymptoms, l.checkCodes} {
		if err := check(); err != nil {
			return err
		}
	}
	l.linkNamesakes()
	if err := l.checkCycles(); err != nil {
		return err
	}
	for _, names := range l.v.components.byTerm {
		slices.Sort(names)
	}
	slices.SortFunc(l.v.actions, func(a, b ActionTerm) int {
		return cmp.Compare(slices.Index(Actions(), a.Action), slices.Index(Actions(), b.Action))
	})
	l.v.phrases = sync.OnceValue(func() []Phrase { return inOrder(l.phrases) })
	l.v.version = hex.EncodeToString(l.hash.Sum(nil))[:16]
	return nil
}

// inOrder fills in the words of phrases and sorts them. Only the reading of text needs it, so it waits until it is asked for.
func inOrder(phrases []Phrase) []Phrase {
	for i := range phrases {
		phrases[i].Words = phraseWords(phrases[i].Written)
	}
	slices.SortFunc(phrases, comparePhrases)
	return phrases
}

func comparePhrases(a, b Phrase) int {
	return cmp.Or(slices.Compare(a.Words, b.Words), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Name, b.Name),
		cmp.Compare(a.Written, b.Written))
}
