package web

import (
	"context"
	"html/template"
	"net/http"

	"github.com/go-chi/chi/v5"

	"log/slog"
	"time"

	"ruledout/ingest"
	"ruledout/internal/casebook"
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

// PostHTML shows what the case page does with a post.
func PostHTML(text string, regions []ingest.Region, spans []kb.Evidence) string {
	return string(postHTML(text, regions, spans))
}

// LinkText writes a question as words.
func LinkText(c kb.Case) string { return linkText(c) }

// RouteRow is a row of the permission table.
type RouteRow struct {
	Method, Pattern string
	Needs           casebook.Role
	Open            bool
}

// RouteTable gives the permission table.
func RouteTable() []RouteRow {
	var out []RouteRow
	for _, r := range (&Server{}).routes() {
		out = append(out, RouteRow{r.method, r.pattern, r.needs, r.open})
	}
	return out
}

// RouterOf gives the routes that a book's pages are served by.
func RouterOf(b *casebook.Book) (chi.Router, error) {
	s, err := newServer(b, Options{})
	if err != nil {
		return nil, err
	}
	return s.router(http.NotFoundHandler()), nil
}

// LocalPath is where a page leads on to.
func LocalPath(s string) string { return localPath(s) }

// Strip draws what others measured.
func Strip(m kb.Measured, reading *float64) template.HTML { return strip(m, reading) }

// ShareBar draws a share.
func ShareBar(p float64) template.HTML { return shareBar(p) }

// AreaNames are the licence areas in words.
var AreaNames = areaNames

// TrackRecord is a track record over a book that is made up.
type TrackRecord struct{ *trackRecord }

// NewTrackRecord makes one; now is its clock, patience how long it waits for the first.
func NewTrackRecord(try func(context.Context, func(done, total int)) (casebook.Backtest, error), position func() int64, now func() time.Time, patience time.Duration,
	log *slog.Logger) TrackRecord {
	return TrackRecord{&trackRecord{try: try, position: func(context.Context) (int64, error) { return position(), nil }, now: now, patience: patience, log: log}}
}

// Page gives the page as it is now.
func (t TrackRecord) Page(ctx context.Context) (string, error) {
	p, err := loadPages()
	if err != nil {
		return "", err
	}
	state, err := t.get(ctx)
	if err != nil {
		return "", err
	}
	body, err := p.render("track", casebook.Person{}, trackPage{base{Title: "Track record"}, state})
	return string(body), err
}

// Settle waits until nothing is under way.
func (t TrackRecord) Settle() {
	t.mu.Lock()
	run := t.run
	t.mu.Unlock()
	if run != nil {
		<-run.end
	}
}
