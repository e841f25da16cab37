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

// MayReview tells whether the person decides on what others handed in.
func (p layoutPage) MayReview() bool { return p.Me.Role >= casebook.Moderator }

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
		"contribute": contributePage{}, "mine": minePage{}, "draft": draftPage{}, "review": reviewPage{}, "terms": termsPage{}, "duplicates": duplicatesPage{}, "pair": pairPage{},
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

// usualPage is how long the longer pages are, in bytes.
const usualPage = 32 << 10

func (p *pages) render(name string, me casebook.Person, data any) ([]byte, error) {
	t, ok := p.set[name]
	content, fits := data.(page)
	if !ok || !fits {
		return nil, fmt.Errorf("there is no page %q of %T", name, data)
	}
	var inner, out bytes.Buffer
	inner.Grow(usualPage)
	if err := t.ExecuteTemplate(&inner, "content", data); err != nil {
		return nil, err
	}
	out.Grow(inner.Len() + usualPage/8)
	if err := p.layout.Execute(&out, layoutPage{content.frame(), me, template.HTML(inner.String())}); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// functions are what templates may call.
func functions() template.FuncMap {
	return template.FuncMap{
		"percent": casebook.Percent, "factor": factor, "figure": figure, "bar": bar, "share": shareBar, "calibration": calibration, "join": strings.Join, "money": moneyText, "areas": areaText, "area": func(a string) string { return areaText([]string{a}) }, "way": wayText, "known": knownFrom, "result": resultText,
		"caseURL": caseURL, "cases": caseLinks, "repair": repairRow, "branches": branches, "marks": marks, "pairURL": pairPath,
		"codeURL": codeURL,
		"list":    func(x ...any) []any { return x },
		"level":   levelName,
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

func caseURL(id kb.CaseID) string { return "/case/" + url.PathEscape(string(id)) }

// What follows writes HTML itself: an answer holds hundreds of such links and rows, and a template takes a microsecond for each value.

// caseLinks leads to the first n of some cases.
func caseLinks(n int, ids []kb.CaseID) template.HTML {
	var b strings.Builder
	writeCases(&b, n, ids)
	return template.HTML(b.String())
}

func writeCases(b *strings.Builder, n int, ids []kb.CaseID) {
	for _, id := range ids[:min(n, len(ids))] {
		b.WriteString(`<a class="case" href="`)
		b.WriteString(template.HTMLEscapeString(caseURL(id)))
		b.WriteString(`">`)
		b.WriteString(template.HTMLEscapeString(string(id)))
		b.WriteString(`</a> `)
	}
}

// repairRow is a row of the repairs on record.
func repairRow(f kb.RankedFix) template.HTML {
	var b strings.Builder
	b.WriteString(`<tr><th scope="row">` + template.HTMLEscapeString(f.Component) + `<br><span class="note">seen with ` + template.HTMLEscapeString(levelName(f.Seen)) + `</span></th><td class="n">` +
		template.HTMLEscapeString(casebook.Percent(f.Probability)) + `</td><td>` + string(bar(f.Probability, f.Low, f.High)) + `</td><td>`)
	for _, a := range f.Actions {
		b.WriteString(`<span class="way">` + template.HTMLEscapeString(string(a.Action)+" "+casebook.Percent(a.Share)))
		if len(f.Actions) > 1 {
			b.WriteString(" " + string(shareBar(a.Share)))
		}
		b.WriteString(`</span> `)
	}
	fmt.Fprintf(&b, `</td><td>%d: `, f.CaseCount)
	writeCases(&b, 3, f.Cases)
	writeBecause(&b, f)
	b.WriteString(`</td></tr>`)
	return template.HTML(b.String())
}

// writeBecause writes the table of what multiplied the odds of a culprit, folded.
func writeBecause(b *strings.Builder, f kb.RankedFix) {
	if len(f.Because) == 0 {
		return
	}
	b.WriteString(`<details><summary>because</summary><table class="because"><thead><tr><th scope="col">observed</th><th scope="col" class="n">odds</th><th scope="col">cases</th></tr></thead><tbody>` +
		`<tr><td>before codes and tests</td><td class="n">`)
	b.WriteString(template.HTMLEscapeString(casebook.Percent(f.Prior)))
	b.WriteString(`</td><td></td></tr>`)
	for _, x := range f.Because {
		b.WriteString(`<tr><td>`)
		b.WriteString(template.HTMLEscapeString(x.Evidence))
		b.WriteString(`</td><td class="n">`)
		b.WriteString(template.HTMLEscapeString(factor(x.Factor)))
		b.WriteString(`</td><td>`)
		writeCases(b, 3, x.Cases)
		b.WriteString(`</td></tr>`)
	}
	b.WriteString(`</tbody></table></details>`)
}

// branches tells what follows each result of a step.
func branches(list []branchLine) template.HTML {
	if len(list) == 0 {
		return ""
	}
	var b strings.Builder
	b.WriteString(`<ul class="branches">`)
	for _, x := range list {
		s := x.Result + " (" + casebook.Percent(x.Probability) + "): "
		if x.Leader != "" {
			s += "likeliest " + x.Leader + ", " + casebook.Percent(x.LeaderP) + "; "
		}
		b.WriteString("<li>" + template.HTMLEscapeString(s+"then "))
		if x.Then.To != "" {
			b.WriteString(`<a href="` + template.HTMLEscapeString(x.Then.To) + `">` + template.HTMLEscapeString(x.Then.Text) + "</a></li>")
		} else {
			b.WriteString(template.HTMLEscapeString(x.Then.Text) + "</li>")
		}
	}
	b.WriteString("</ul>")
	return template.HTML(b.String())
}

// marks are the buttons that tell the form what came of a step.
func marks(list []markButton) template.HTML {
	if len(list) == 0 {
		return ""
	}
	var b strings.Builder
	b.WriteString(`<p class="marks">`)
	for _, m := range list {
		b.WriteString(`<button type="submit" name="mark" value="` + template.HTMLEscapeString(m.Value) + `">` + template.HTMLEscapeString(m.Text) + `</button> `)
	}
	b.WriteString("</p>")
	return template.HTML(b.String())
}
