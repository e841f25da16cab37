package web

import (
	"html/template"

	"ruledout/kb"
)

// CheckedPages gives each page's template with an empty value of its struct.
func CheckedPages() (map[string]*template.Template, map[string]any, error) {
	p, err := loadPages()
	if err != nil {
		return nil, nil, err
	}
	set, structs := map[string]*template.Template{"layout": p.layout}, pageStructs()
	structs["layout"] = layoutPage{}
	for name, t := range p.set {
		set[name] = t.Lookup("content")
	}
	return set, structs, nil
}

// Marked shows what the case page does with a text.
func Marked(text string, spans []kb.Evidence) string { return string(marked(text, spans)) }

// LinkText writes a question as words.
func LinkText(c kb.Case) string { return linkText(c) }

// Strip draws what others measured.
func Strip(m kb.Measured, reading *float64) template.HTML { return strip(m, reading) }

// ShareBar draws a share.
func ShareBar(p float64) template.HTML { return shareBar(p) }

// AreaNames are the licence areas in words.
var AreaNames = areaNames
