package web

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"net/url"
	"strings"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

//go:embed templates
var templates embed.FS

// base is what every page has.
type base struct {
	Title string
	Here  string // the entry of the menu that is open
}

// errorPage says what went wrong.
type errorPage struct {
	base
	Message string
}

// pageStructs names the struct of each page's template; a test checks the one against the other.
func pageStructs() map[string]any {
	return map[string]any{
		"error": errorPage{}, "look": lookPage{}, "case": casePage{}, "code": codePage{}, "find": findPage{}, "track": trackPage{},
	}
}

// pages are the parsed templates by name.
type pages struct{ set map[string]*template.Template }

func loadPages() (*pages, error) {
	p := &pages{set: map[string]*template.Template{}}
	for name := range pageStructs() {
		t, err := template.New("layout.html").Funcs(functions()).ParseFS(templates, "templates/layout.html", "templates/parts.html", "templates/answer.html", "templates/"+name+".html")
		if err != nil {
			return nil, fmt.Errorf("page %s: %w", name, err)
		}
		p.set[name] = t
	}
	return p, nil
}

func (p *pages) render(name string, data any) ([]byte, error) {
	t, ok := p.set[name]
	if !ok {
		return nil, fmt.Errorf("there is no page %q", name)
	}
	var out bytes.Buffer
	if err := t.ExecuteTemplate(&out, "layout.html", data); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// functions are what templates may call.
func functions() template.FuncMap {
	return template.FuncMap{
		"percent": casebook.Percent, "factor": factor, "figure": figure, "bar": bar, "share": shareBar, "calibration": calibration, "strip": func(m kb.Measured) template.HTML { return strip(m, nil) }, "join": strings.Join,
		"caseURL": func(id kb.CaseID) string { return "/case/" + url.PathEscape(string(id)) },
		"codeURL": codeURL,
		"list":    func(x ...any) []any { return x },
		"first":   func(n int, ids []kb.CaseID) []kb.CaseID { return ids[:min(n, len(ids))] },
		"more":    func(n, total int) int { return max(0, total-n) },
		"level":   levelName,
		"effort":  effort,
		"add":     func(a, b int) int { return a + b },
	}
}

// factor prints by how much an observation multiplied the odds.
func factor(x float64) string {
	if x >= 1 {
		return fmt.Sprintf("× %.3g", x)
	}
	return fmt.Sprintf("÷ %.3g", 1/x)
}

// figure prints a number, or what a pointer leads to, with four digits that count.
func figure(x any) string {
	switch v := x.(type) {
	case float64:
		return fmt.Sprintf("%.4g", v)
	case *float64:
		if v != nil {
			return fmt.Sprintf("%.4g", *v)
		}
	}
	return ""
}

func codeURL(issuer, code string) string {
	if issuer == "" {
		return "/code/" + url.PathEscape(code)
	}
	return "/code/" + url.PathEscape(issuer) + "/" + url.PathEscape(code)
}
