package web

import (
	"context"
	"net/http"
	"sync"
	"time"

	"ruledout/internal/casebook"
)

// trackPage is how well the book answers cases that it has not seen.
type trackPage struct {
	base
	Test   casebook.Backtest
	Date   string
	Reason string // why there are no figures
}

// trackRecord keeps the last backtest: it asks every case once, which takes its time.
type trackRecord struct {
	book *casebook.Book
	mu   sync.Mutex
	kept casebook.Backtest
	at   time.Time
}

// keptFor is how long a backtest is shown before it is made anew.
const keptFor = time.Hour

func (t *trackRecord) get(ctx context.Context) (casebook.Backtest, time.Time, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if !t.at.IsZero() && time.Since(t.at) < keptFor {
		return t.kept, t.at, nil
	}
	b, err := t.book.Backtest(ctx, casebook.BacktestOptions{})
	if err != nil {
		return b, time.Time{}, err
	}
	t.kept, t.at = b, time.Now()
	return b, t.at, nil
}

func (s *Server) trackPage(r *http.Request) (view, error) {
	p := trackPage{base: base{Title: "Track record", Here: "track"}}
	b, at, err := s.track.get(r.Context())
	if err != nil {
		p.Reason = err.Error()
	}
	p.Test, p.Date = b, at.UTC().Format("2006-01-02 15:04 UTC")
	return view{name: "track", data: p}, nil
}
