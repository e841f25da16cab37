package web

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"math"
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

func (b base) frame() base { return b }

// page is what the struct of every page is, by embedding base.
type page interface{ frame() base }

// layoutPage is what stands around every page.
type layoutPage struct {
	base
	Me      casebook.Person // without a name: nobody is signed in
	Content template.HTML
}

// MayKeep tells whether the person may keep job sheets.
func (p layoutPage) MayKeep() bool { return p.Me.Role >= casebook.Contributor }

// MayManage tells whether the person keeps the accounts.
func (p layoutPage) MayManage() bool { return p.Me.Role >= casebook.Administrator }

// errorPage says what went wrong.
type errorPage struct {
	base
	Message string
}

// pageStructs names the struct of each page's template; a test checks the one against the other.
func pageStructs() map[string]any {
	return map[string]any{
		"error": errorPage{}, "look": lookPage{}, "case": casePage{}, "code": codePage{}, "find": findPage{}, "track": trackPage{},
		"sign-in": signInPage{}, "kept": keptPage{}, "link": linkPage{}, "account": accountPage{}, "people": peoplePage{},
		"jobs": jobsPage{}, "job": jobPage{}, "conflict": conflictPage{}, "close": closePage{}, "job-history": jobHistoryPage{}, "print": printPage{},
	}
}

// pages are the parsed templates by name.
type pages struct {
	layout *template.Template
	set    map[string]*template.Template
}

func loadPages() (*pages, error) {
	p := &pages{set: map[string]*template.Template{}}
	var err error
	if p.layout, err = template.New("layout.html").ParseFS(templates, "templates/layout.html"); err != nil {
		return nil, fmt.Errorf("layout: %w", err)
	}
	for name := range pageStructs() {
		t, err := template.New("content").Funcs(functions()).ParseFS(templates, "templates/parts.html", "templates/answer.html", "templates/choices.html", "templates/"+name+".html")
		if err != nil {
			return nil, fmt.Errorf("page %s: %w", name, err)
		}
		p.set[name] = t
	}
	return p, nil
}

func (p *pages) render(name string, me casebook.Person, data any) ([]byte, error) {
	t, ok := p.set[name]
	content, fits := data.(page)
	if !ok || !fits {
		return nil, fmt.Errorf("there is no page %q of %T", name, data)
	}
	var inner, out bytes.Buffer
	if err := t.ExecuteTemplate(&inner, "content", data); err != nil {
		return nil, err
	}
	if err := p.layout.Execute(&out, layoutPage{content.frame(), me, template.HTML(inner.String())}); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// functions are what templates may call.
func functions() template.FuncMap {
	return template.FuncMap{
		"percent": percent, "factor": factor, "figure": figure, "bar": bar, "share": shareBar, "calibration": calibration, "join": strings.Join, "money": moneyText, "areas": areaText, "area": func(a string) string { return areaText([]string{a}) }, "way": wayText, "known": knownFrom, "result": resultText,
		"caseURL": func(id kb.CaseID) string { return "/case/" + url.PathEscape(string(id)) },
		"codeURL": codeURL,
		"list":    func(x ...any) []any { return x },
		"first":   func(n int, ids []kb.CaseID) []kb.CaseID { return ids[:min(n, len(ids))] },
		"level":   levelName,
		"add":     func(a, b int) int { return a + b },
	}
}

// percent prints a probability with the digits that it deserves.
func percent(p float64) string {
	switch {
	case p > 0 && p < 0.001:
		return "<0.1 %"
	case p < 0.0995:
		return fmt.Sprintf("%.1f %%", 100*p)
	case p > 0.9949 && p < 1:
		return fmt.Sprintf("%.1f %%", math.Min(99.9, 100*p))
	}
	return fmt.Sprintf("%.0f %%", 100*p)
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
