package kb

import (
	"fmt"
	"io/fs"
	"slices"
)

// vocabularyFile is one data file; each may hold any of the sections.
type vocabularyFile struct {
	Components []componentGroup `yaml:"components"`
	Methods    []methodGroup    `yaml:"methods"`
	Symptoms   []symptomGroup   `yaml:"symptoms"`
	Actions    []actionEntry    `yaml:"actions"`
	Kinds      []kindGroup      `yaml:"kinds"`
	Hazards    []hazardEntry    `yaml:"hazards"`
	Codes      []codeEntry      `yaml:"codes"`
}

// componentGroup holds components that share a system and, unless they say otherwise, families, hazards and licences.
type componentGroup struct {
	System   string           `yaml:"system"`
	Families []string         `yaml:"families"`
	Hazards  []string         `yaml:"hazards"`
	Licensed []string         `yaml:"licensed"`
	Items    []componentEntry `yaml:"items"`
}

type componentEntry struct {
	Name      string    `yaml:"name"`
	Abbr      []string  `yaml:"abbr"`
	Also      []string  `yaml:"also"`
	PartOf    []string  `yaml:"part_of"`
	DrivenBy  []string  `yaml:"driven_by"`
	FedBy     []string  `yaml:"fed_by"`
	Hazards   []string  `yaml:"hazards"`
	Licensed  []string  `yaml:"licensed"`
	Families  []string  `yaml:"families"`
	Quantity  bool      `yaml:"quantity"`
	Qualified Qualified `yaml:"qualified"`
}

// methodGroup holds methods of one kind.
type methodGroup struct {
	Kind  string        `yaml:"kind"`
	Items []methodEntry `yaml:"items"`
}

type methodEntry struct {
	Name     string   `yaml:"name"`
	Also     []string `yaml:"also"`
	Cues     []string `yaml:"cues"`
	Where    Where    `yaml:"where"`
	Quantity string   `yaml:"quantity"`
	Minutes  float64  `yaml:"minutes"`
	Hazards  []string `yaml:"hazards"`
}

// symptomGroup holds symptoms that point to the same systems.
type symptomGroup struct {
	Systems []string       `yaml:"systems"`
	Items   []symptomEntry `yaml:"items"`
}

type symptomEntry struct {
	Name    string   `yaml:"name"`
	Also    []string `yaml:"also"`
	Absent  []string `yaml:"absent"`
	Systems []string `yaml:"systems"`
}

type actionEntry struct {
	Action Action   `yaml:"action"`
	Verbs  []string `yaml:"verbs"`
}

// kindGroup holds kinds of machine of one family.
type kindGroup struct {
	Family string      `yaml:"family"`
	Items  []kindEntry `yaml:"items"`
}

type kindEntry struct {
	Name string   `yaml:"name"`
	Also []string `yaml:"also"`
}

type hazardEntry struct {
	Name     string `yaml:"name"`
	Text     string `yaml:"text"`
	Licensed string `yaml:"licensed"`
	Source   string `yaml:"source"`
}

type codeEntry struct {
	Code        string   `yaml:"code"`
	Meaning     string   `yaml:"meaning"`
	Source      string   `yaml:"source"`
	Components  []string `yaml:"components"`
	Consequence bool     `yaml:"consequence"`
}

// ParseVocabulary reads all *.yaml files at the root of fsys as one vocabulary. It is strict: an unknown field, a name or
// term that is given twice, a link to a name that is not there and a cycle of parts are errors that name file, line and
// field.
func ParseVocabulary(fsys fs.FS) (*Vocabulary, error) {
	l, err := loadFiles(fsys)
	if err != nil {
		return nil, err
	}
	if err := l.finish(); err != nil {
		return nil, err
	}
	return l.v, nil
}

// loadFiles reads the files of a vocabulary; what they refer to is not checked yet.
func loadFiles(fsys fs.FS) (*loader, error) {
	names, err := fs.Glob(fsys, "*.yaml")
	if err != nil {
		return nil, &Error{Kind: Unavailable, Msg: "vocabulary", Err: err}
	}
	if len(names) == 0 {
		return nil, &Error{Kind: NotFound, Msg: "vocabulary: no *.yaml file"}
	}
	slices.Sort(names)
	l := newLoader()
	for _, name := range names {
		data, err := fs.ReadFile(fsys, name)
		if err != nil {
			return nil, &Error{Kind: Unavailable, File: name, Err: err}
		}
		fmt.Fprintf(l.hash, "%s %d\n", name, len(data))
		l.hash.Write(data)
		if err := l.addFile(name, data); err != nil {
			return nil, err
		}
	}
	l.v.source = fsys
	return l, nil
}
