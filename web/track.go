package web

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"runtime"
	"runtime/debug"
	"sync"
	"sync/atomic"
	"time"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// trackPage is how well the book answers cases that it has not seen.
type trackPage struct {
	base
	trackState
}

// trackState is what is known of the book's track record at a moment.
type trackState struct {
	Test     *casebook.Backtest // the last one made, nil: none yet
	At       time.Time          // when that was
	Position int64              // where the book is now
	Run      *trackRun          // the one being made, nil: none
	Reason   string             // why the last attempt gave none
}

// trackRun is a backtest under way.
type trackRun struct {
	Began       time.Time
	done, total atomic.Int64
	end         chan struct{} // closed at its end
}

// trackRecord keeps the last backtest. It asks every case of the book once, which takes its time on a large one: so it runs in the
// background, one at a time, and ends with the book at the latest.
type trackRecord struct {
	try      func(ctx context.Context, told func(done, total int)) (casebook.Backtest, error)
	position func(context.Context) (int64, error)
	now      func() time.Time
	patience time.Duration // how long a request waits for the first
	log      *slog.Logger

	mu      sync.Mutex // guards what follows
	test    *casebook.Backtest
	at      time.Time
	run     *trackRun
	failure error     // of the last attempt
	again   time.Time // before that it is not tried again
}

// Bounds of the track record.
const (
	keptFor       = time.Hour // how long one is shown before it is made anew, if the book has changed
	trackLimit    = time.Hour // that making one may take
	trackPatience = 2 * time.Second
	retryAfter    = time.Minute // after an attempt that failed, at least: else as long as it took
)

func newTrackRecord(b *casebook.Book, log *slog.Logger) *trackRecord {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	run := func(ctx context.Context, told func(done, total int)) (casebook.Backtest, error) {
		return b.Backtest(ctx, casebook.BacktestOptions{Workers: max(1, runtime.GOMAXPROCS(0)/2), Progress: told})
	}
	return &trackRecord{try: run, position: b.Position, now: time.Now, patience: trackPatience, log: log}
}

// get gives the last track record, and has one made where there is none or the book has moved on. It waits a little where there is none.
func (t *trackRecord) get(ctx context.Context) (trackState, error) {
	pos, err := t.position(ctx)
	if err != nil {
		return trackState{}, err
	}
	t.start(pos)
	state := t.state(pos)
	if state.Test != nil || state.Run == nil {
		return state, nil
	}
	select {
	case <-state.Run.end:
	case <-time.After(t.patience):
	case <-ctx.Done():
	}
	return t.state(pos), nil
}

// start has a track record made if it is time to.
func (t *trackRecord) start(pos int64) {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	fresh := t.test != nil && (t.test.LogPosition == pos || now.Sub(t.at) < keptFor)
	if t.run != nil || fresh || now.Before(t.again) {
		return
	}
	t.run = &trackRun{Began: now, end: make(chan struct{})}
	go t.work(t.run)
}

// work makes a track record.
func (t *trackRecord) work(run *trackRun) {
	ctx, cancel := context.WithTimeout(context.Background(), trackLimit)
	defer cancel()
	test, err := t.attempt(ctx, run)
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	if t.run, t.failure = nil, err; err == nil {
		t.test, t.at = &test, now
	} else {
		t.again = now.Add(max(retryAfter, now.Sub(run.Began)))
		t.log.Error("track record", "error", err)
	}
	close(run.end)
}

// attempt makes a track record; a panic is an error of it and no end of the program.
func (t *trackRecord) attempt(ctx context.Context, run *trackRun) (test casebook.Backtest, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v\n%s", p, debug.Stack())
		}
	}()
	return t.try(ctx, func(done, total int) {
		run.done.Store(int64(done))
		run.total.Store(int64(total))
	})
}

func (t *trackRecord) state(pos int64) trackState {
	t.mu.Lock()
	defer t.mu.Unlock()
	s := trackState{Test: t.test, At: t.at, Position: pos, Run: t.run}
	var known *kb.Error
	switch {
	case t.failure == nil:
	case errors.Is(t.failure, context.DeadlineExceeded):
		s.Reason = "It took longer than an hour and was given up."
	case errors.As(t.failure, &known) && known.Kind != kb.Internal:
		s.Reason = t.failure.Error()
	default:
		s.Reason = "It could not be made; why is written in the log."
	}
	return s
}

// Made says when the shown track record was made.
func (s trackState) Made() string { return s.At.UTC().Format("2006-01-02 15:04 UTC") }

// Old tells whether the book has changed since.
func (s trackState) Old() bool { return s.Test != nil && s.Test.LogPosition != s.Position }

// Since says when a run began.
func (r *trackRun) Since() string { return r.Began.UTC().Format("15:04 UTC") }

// Done is how many questions were asked.
func (r *trackRun) Done() int64 { return r.done.Load() }

// Total is how many questions there are, 0 if that is not known yet.
func (r *trackRun) Total() int64 { return r.total.Load() }

func (s *Server) trackPage(r *http.Request) (view, error) {
	state, err := s.track.get(r.Context())
	return view{name: "track", data: trackPage{base{Title: "Track record", Here: "track"}, state}}, err
}
