package web

import (
	"cmp"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"unicode"

	"github.com/go-chi/chi/v5"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// casePage is one case with its text.
type casePage struct {
	base
	View     casebook.View
	Machine  string
	Held     kb.Confirmation // after the follow-ups
	Codes    []codeLine
	Facts    []factGroup
	Timeline []timelineItem
	Texts    []textBlock
	Near     []casebook.Hit
	Follow   followForm
}

// codeLine is a code of the case and where its page is.
type codeLine struct {
	Code string
	URL  string
	Said []quoteLine
}

// factGroup is the facts of one sort.
type factGroup struct {
	Name  string
	Facts []factLine
}

// factLine is a fact and the words it was read from.
type factLine struct {
	Text string
	Said []quoteLine
}

// quoteLine is words of a source; Anchor leads to them where the text may be shown.
type quoteLine struct {
	Quote  string
	Anchor string
}

// timelineItem is a test or a fix in the order it was done.
type timelineItem struct {
	Step int
	factLine
	Note string
}

// textBlock is a source whose text may be shown.
type textBlock struct {
	casebook.SourceText
	Posts []postBlock
}

// postBlock is one post with the words of facts marked.
type postBlock struct {
	casebook.SourcePost
	Marked template.HTML
}

func (s *Server) showCase(r *http.Request) (view, error) {
	p, err := s.casePageOf(r, kb.CaseID(chi.URLParam(r, "id")))
	return view{name: "case", data: p}, err
}

func (s *Server) casePageOf(r *http.Request, id kb.CaseID) (casePage, error) {
	v, err := s.book.Show(r.Context(), id)
	if err != nil {
		return casePage{}, err
	}
	if !public(v.Case) {
		return casePage{}, noCase(id)
	}
	texts, err := s.book.Texts(r.Context(), actor(r), v.Case)
	if err != nil {
		return casePage{}, err
	}
	p := casePage{base: base{Title: title(v.Case), Here: "find"}, View: v, Machine: casebook.MachineName(v.Case.Machine), Held: v.Case.Held()}
	p.Follow.May = actor(r).Role >= casebook.Contributor && v.Case.Status == kb.Closed && v.Case.ClosedAs == kb.Repaired
	shown := anchorsOf(texts)
	p.Codes, p.Facts, p.Timeline = codesOf(v.Case, shown), factsOf(v.Case, shown), timelineOf(v.Case, shown)
	for _, t := range texts {
		p.Texts = append(p.Texts, block(t, v.Case))
	}
	p.Near, err = s.similar(r, v.Case)
	return p, err
}

// public tells whether readers may see a case.
func public(c kb.Case) bool { return c.State == kb.Published || c.State == kb.Merged }

// noCase says the same of a case that is not there and of one that is not published.
func noCase(id kb.CaseID) error { return kb.Errorf(kb.NotFound, "there is no published case %s", id) }

func title(c kb.Case) string {
	if c.Title != "" {
		return c.Title
	}
	return "Case " + string(c.ID)
}

// anchors tells which posts are shown.
type anchors map[string]bool

func anchorsOf(texts []casebook.SourceText) anchors {
	a := anchors{}
	for _, t := range texts {
		for _, p := range t.Posts {
			a[fmt.Sprint(t.Writeup, p.N)] = true
		}
	}
	return a
}

// anchor names the place where the words of a fact begin. A write-up's key may be an address, whose signs an address would spell otherwise.
func anchor(e kb.Evidence) string {
	key := strings.Map(func(r rune) rune {
		if r < 128 && (unicode.IsLetter(r) || unicode.IsDigit(r)) {
			return r
		}
		return '-'
	}, string(e.Writeup))
	return fmt.Sprintf("w-%s-%d-%d", key, e.Post, e.Start)
}

func (a anchors) quotes(list []kb.Evidence) []quoteLine {
	var out []quoteLine
	for _, e := range list {
		q := quoteLine{Quote: strings.Join(strings.Fields(e.Quote), " ")}
		if a[fmt.Sprint(e.Writeup, e.Post)] {
			q.Anchor = anchor(e)
		}
		out = append(out, q)
	}
	return out
}

func codesOf(c kb.Case, a anchors) []codeLine {
	var out []codeLine
	for _, e := range c.Codes {
		issuer := ""
		if k, err := e.Key(c.Machine.Make); err == nil && k.Issuer != "" && strings.EqualFold(k.Issuer, c.Machine.Make) {
			issuer = c.Machine.Make
		}
		out = append(out, codeLine{e.Code, codeURL(issuer, e.Code), a.quotes(e.Evidence)})
	}
	return out
}

func factsOf(c kb.Case, a anchors) []factGroup {
	var out []factGroup
	add := func(name string, facts []factLine) {
		if len(facts) > 0 {
			out = append(out, factGroup{name, facts})
		}
	}
	var symptoms []factLine
	for _, s := range c.Symptoms {
		text := s.Symptom
		if s.Absent {
			text = "not there: " + text
		}
		symptoms = append(symptoms, factLine{text, a.quotes(s.Evidence)})
	}
	add("Symptoms", symptoms)
	var fixed []factLine
	for _, f := range c.Cures() {
		fixed = append(fixed, factLine{string(f.Action) + " " + f.Component + partText(f), a.quotes(f.Evidence)})
	}
	add("What fixed it", fixed)
	if len(c.StatusEvidence) > 0 {
		add("How that is known", []factLine{{statusText(c), a.quotes(c.StatusEvidence)}})
	}
	var follow []factLine
	for _, f := range c.FollowUps {
		follow = append(follow, factLine{strings.TrimSpace(f.Date + " " + heldWord(f.Held) + " " + f.Note), nil})
	}
	add("Follow-up", follow)
	return out
}

func heldWord(held bool) string {
	if held {
		return "held"
	}
	return "returned"
}

func statusText(c kb.Case) string {
	return strings.Trim(fmt.Sprintf("%s, %s", c.Status, c.Held()), ", ")
}

func partText(f kb.Fix) string {
	if f.Part == nil {
		return ""
	}
	return " (" + strings.TrimSpace(string(f.Part.Origin)+" "+f.Part.Number) + ")"
}

// timelineOf puts tests and fixes into the order they were done; what has no step stands first.
func timelineOf(c kb.Case, a anchors) []timelineItem {
	var out []timelineItem
	for _, t := range c.Tests {
		text := "test: " + testText(t)
		if t.Result != "" {
			text += ": " + string(t.Result)
		}
		note := ""
		if t.Reading != nil {
			text += ", " + t.Reading.Quantity().String()
			note = verdictText(t.Reading)
		}
		if c.IsProof(t) {
			text += " (proof of the repair)"
		}
		out = append(out, timelineItem{t.Step, factLine{text, a.quotes(t.Evidence)}, note})
	}
	for _, f := range c.Fixes {
		outcome := string(f.Outcome)
		if outcome == "" || f.Outcome == kb.UnknownOutcome {
			outcome = "effect unknown"
		}
		note := ""
		if f.Action == kb.Bypass {
			note = "a protective device left without its function: never a repair"
		}
		out = append(out, timelineItem{f.Step, factLine{string(f.Action) + " " + f.Component + partText(f) + ": " + outcome, a.quotes(f.Evidence)}, note})
	}
	slices.SortStableFunc(out, func(x, y timelineItem) int { return cmp.Compare(x.Step, y.Step) })
	return out
}

// block marks the words of facts in the posts of a source.
func block(t casebook.SourceText, c kb.Case) textBlock {
	out := textBlock{SourceText: t}
	for _, p := range t.Posts {
		var spans []kb.Evidence
		for _, e := range evidenceOf(c) {
			if e.Writeup == t.Writeup && e.Post == p.N {
				spans = append(spans, e)
			}
		}
		out.Posts = append(out.Posts, postBlock{p, postHTML(p.Text, p.Regions, spans)})
	}
	return out
}

func evidenceOf(c kb.Case) []kb.Evidence {
	all := slices.Concat(c.Machine.Evidence, c.StatusEvidence)
	for _, x := range c.Codes {
		all = append(all, x.Evidence...)
	}
	for _, x := range c.Symptoms {
		all = append(all, x.Evidence...)
	}
	for _, x := range c.Tests {
		all = append(all, x.Evidence...)
	}
	for _, x := range c.Fixes {
		all = append(all, x.Evidence...)
	}
	return all
}

// similar finds the cases nearest by code, machine and what was at fault.
func (s *Server) similar(r *http.Request, c kb.Case) ([]casebook.Hit, error) {
	words := []string{c.Machine.Make, c.Machine.Model}
	for _, e := range c.Codes {
		words = append(words, e.Code)
	}
	words = append(words, c.Culprits()...)
	found, err := s.book.Find(r.Context(), plainWords(strings.Join(words, " ")), casebook.FindOptions{Size: 6})
	if err != nil {
		return nil, err
	}
	hits := slices.DeleteFunc(found.Hits, func(h casebook.Hit) bool { return h.ID == c.ID })
	return hits[:min(len(hits), 5)], nil
}
