package index

import (
	"strconv"
	"strings"

	"github.com/blevesearch/bleve/v2"
	"github.com/blevesearch/bleve/v2/analysis"
	"github.com/blevesearch/bleve/v2/analysis/analyzer/keyword"
	"github.com/blevesearch/bleve/v2/mapping"

	"ruledout/kb"
	"ruledout/kb/code"
)

// mappingVersion changes whenever the same documents would be indexed differently: older indexes are then built anew.
const mappingVersion = "1"

// Fields of a document in the index. Those of facets hold values as they are shown.
const (
	fieldText  = "text"
	fieldForm  = "form" // every way a code may be asked for
	fieldMake  = "make_key"
	fieldModel = "model_key"
	fieldPos   = "pos" // of the revision
)

// everyDocument is a term that every document has in its text, so that all their lengths can be read in one go.
const everyDocument = "\x01"

// facetFields lists the fields whose values are counted, in the order of a result.
func facetFields() []string {
	return []string{"code", "make", "model", "kind", "component", "action", "confirmation", "year", "state", "status"}
}

// analyzer makes the terms of a text for Bleve.
type analyzer struct{}

// Analyze gives the terms of a text with their places in it.
func (analyzer) Analyze(text []byte) analysis.TokenStream {
	if string(text) == everyDocument {
		return analysis.TokenStream{{Term: []byte(everyDocument), Position: 1, End: 1}}
	}
	var out analysis.TokenStream
	pos := 1
	scan(string(text), func(c chunk) {
		for _, w := range c.whole {
			if len(w) <= maxTerm {
				out = append(out, &analysis.Token{Term: []byte(w), Start: c.start, End: c.end, Position: pos})
			}
		}
		for i, w := range c.words() {
			if w != "" {
				out = append(out, &analysis.Token{Term: []byte(w), Start: c.parts[i].start, End: c.parts[i].end, Position: pos + i})
			}
		}
		pos += max(len(c.parts), 1)
	})
	return out
}

func newMapping() mapping.IndexMapping {
	doc := bleve.NewDocumentStaticMapping()
	text := bleve.NewTextFieldMapping()
	text.Analyzer, text.Store, text.DocValues, text.IncludeInAll = registeredName, false, false, false
	text.IncludeTermVectors = true // phrases and the places of hits need them
	doc.AddFieldMappingsAt(fieldText, text)
	key := func(name string, values bool) {
		f := bleve.NewTextFieldMapping()
		f.Analyzer, f.Store, f.IncludeInAll, f.IncludeTermVectors, f.SkipFreqNorm, f.DocValues = keyword.Name, false, false, false, true, values
		doc.AddFieldMappingsAt(name, f)
	}
	for _, name := range facetFields() {
		key(name, true)
	}
	for _, name := range []string{fieldForm, fieldMake, fieldModel} {
		key(name, false)
	}
	key(fieldPos, true)
	m := bleve.NewIndexMapping()
	m.DefaultMapping = doc
	m.StoreDynamic, m.IndexDynamic, m.DocValuesDynamic = false, false, false
	return m
}

// Doc is what the index is fed of a case.
type Doc struct {
	ID           string
	Title        string
	Body         []string // texts and quotes; places of hits count in them
	Codes        []string // as written in the case
	Make         string
	Model        string
	Kind         string // of machine
	Year         int
	State        string
	Status       string
	Confirmation string
	Components   []string // preferred names
	Actions      []string
	Symptoms     []string
	Pos          int64 // of the revision that it was made from
}

// fields gives the document as Bleve takes it. The title stands twice in the text, at the ends, so that it weighs more.
func (d Doc) fields() map[string]any {
	text := append([]string{d.Title}, d.Body...)
	text = append(text, d.Symptoms...)
	text = append(text, d.Components...)
	text = append(text, d.Codes...)
	text = append(text, d.Title, everyDocument)
	names, forms := codeForms(d.Codes)
	f := map[string]any{
		fieldText: text, "code": names, fieldForm: forms, "component": d.Components, "action": d.Actions,
		fieldPos: strconv.FormatInt(d.Pos, 10),
	}
	for name, value := range map[string]string{"make": d.Make, "model": d.Model, fieldMake: kb.Fold(d.Make), fieldModel: kb.Fold(d.Model),
		"kind": d.Kind, "state": d.State, "status": d.Status, "confirmation": d.Confirmation} {
		if value != "" {
			f[name] = value
		}
	}
	if d.Year > 0 {
		f["year"] = strconv.Itoa(d.Year)
	}
	return f
}

// codeForms gives codes without their failure type, for counting, and every form that they may be asked for by: with and
// without failure type or mode, and as the key folds the spellings of makers.
func codeForms(codes []string) (names, forms []string) {
	for _, written := range codes {
		c, err := code.Parse(written)
		if err != nil {
			names, forms = append(names, written), append(forms, formOf(written))
			continue
		}
		names = append(names, c.Text)
		forms = append(forms, formOf(c.String()), formOf(c.Text))
		switch c.Scheme {
		case code.J1939:
			forms = append(forms, formOf("SPN"+strconv.FormatUint(uint64(c.SPN), 10)))
		case code.Maker:
			forms = append(forms, formOf(c.Key("").Code))
		}
	}
	return names, forms
}

// askedForm gives the form by which a code is asked for: as much of it as was given.
func askedForm(written string) string {
	c, err := code.Parse(written)
	switch {
	case err != nil:
		return formOf(written)
	case c.Scheme == code.Maker:
		return formOf(c.Key("").Code)
	}
	return formOf(c.String())
}

// formOf drops what spellings of one code differ in.
func formOf(text string) string { return strings.ToUpper(strings.Join(strings.Fields(text), "")) }
