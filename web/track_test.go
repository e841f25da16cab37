package web_test

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/web"
)

// madeUp is a book whose backtest takes as long as the test wants.
type madeUp struct {
	web.TrackRecord
	runs    atomic.Int64 // begun
	at      atomic.Int64 // log position
	minutes atomic.Int64 // of the clock
	release chan error   // what the backtest under way comes to
	log     bytes.Buffer
}

func newMadeUp() *madeUp {
	m := &madeUp{release: make(chan error)}
	m.at.Store(7)
	begin := time.Date(2024, 3, 1, 9, 0, 0, 0, time.UTC)
	try := func(ctx context.Context, told func(done, total int)) (casebook.Backtest, error) {
		m.runs.Add(1)
		pos := m.at.Load()
		told(120, 500)
		if err := <-m.release; err != nil {
			if err.Error() == "panic" {
				panic(err)
			}
			return casebook.Backtest{}, err
		}
		return casebook.Backtest{LogPosition: pos, Asked: 500, Cases: 510, Split: "10 folds"}, nil
	}
	m.TrackRecord = web.NewTrackRecord(try, m.at.Load, func() time.Time { return begin.Add(time.Duration(m.minutes.Load()) * time.Minute) }, 20*time.Millisecond,
		slog.New(slog.NewTextHandler(&m.log, nil)))
	return m
}

func (m *madeUp) page(t *testing.T) string {
	t.Helper()
	s, err := m.Page(t.Context())
	require.NoError(t, err)
	return s
}

// The track record is made once in the background, whoever asks; the last one is shown while a newer one is made.
func TestTrackRecordInTheBackground(t *testing.T) {
	m := newMadeUp()
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			s, err := m.Page(context.Background())
			assert.NoError(t, err)
			assert.Contains(t, s, "It is being made")
		})
	}
	all.Wait()
	s := m.page(t)
	assert.Contains(t, s, "Begun 09:00 UTC, 120 of 500 questions asked")
	assert.Contains(t, s, `<a href="/track">Look again</a>`)
	assert.EqualValues(t, 1, m.runs.Load(), "never two at once")
	m.release <- nil
	m.Settle()
	s = m.page(t)
	assert.Contains(t, s, "500 questions, 510 cases, 10 folds; made 2024-03-01 09:00 UTC at log position 7.")
	assert.NotContains(t, s, "Look again")

	m.at.Store(9)
	assert.Contains(t, m.page(t), "log position 7; the book is at 9 now", "it says how old it is")
	m.minutes.Store(61)
	s = m.page(t)
	assert.Contains(t, s, "A newer one is being made")
	assert.Contains(t, s, "made 2024-03-01 09:00 UTC at log position 7")
	m.release <- nil
	m.Settle()
	assert.Contains(t, m.page(t), "made 2024-03-01 10:01 UTC at log position 9.")
	m.minutes.Store(600)
	assert.NotContains(t, m.page(t), "being made", "an old one of an unchanged book is as good as a new one")
	assert.EqualValues(t, 2, m.runs.Load())
}

// A failure is told and logged, without what is none of the reader's business, and tried again later; a panic is a failure too.
func TestATrackRecordThatFails(t *testing.T) {
	for _, x := range []struct {
		err    error
		want   string
		hidden string
	}{
		{kb.Errorf(kb.NotFound, "there is nothing to test"), "there is nothing to test", ""},
		{errors.New("disk on fire"), "why is written in the log", "disk on fire"},
		{errors.New("panic"), "why is written in the log", "goroutine"},
		{context.DeadlineExceeded, "longer than an hour", ""},
	} {
		m := newMadeUp()
		m.page(t)
		m.release <- x.err
		m.Settle()
		s := m.page(t)
		assert.Contains(t, s, x.want)
		if x.hidden != "" {
			assert.NotContains(t, s, x.hidden)
		}
		assert.Contains(t, m.log.String(), x.err.Error())
		assert.EqualValues(t, 1, m.runs.Load(), "not at once again")
		m.minutes.Store(2)
		m.page(t)
		m.release <- nil
		m.Settle()
		s = m.page(t)
		assert.Contains(t, s, "500 questions")
		assert.NotContains(t, s, x.want)
	}
}
