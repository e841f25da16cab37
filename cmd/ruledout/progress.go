package main

import (
	"io"
	"os"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"ruledout/internal/casebook"
)

// progress shows how far long work has come, on a terminal only.
type progress struct {
	out  io.Writer
	bar  *progressbar.ProgressBar
	work string
}

func newProgress(out io.Writer) *progress {
	if f, ok := out.(*os.File); !ok || !term.IsTerminal(int(f.Fd())) {
		return &progress{}
	}
	return &progress{out: out}
}

func (p *progress) show(s casebook.Progress) {
	if p.out == nil {
		return
	}
	if p.bar == nil || p.work != s.Work {
		p.done()
		total := s.Total
		if total == 0 {
			total = -1
		}
		p.work = s.Work
		p.bar = progressbar.NewOptions(total, progressbar.OptionSetWriter(p.out), progressbar.OptionSetDescription(s.Work),
			progressbar.OptionShowCount(), progressbar.OptionClearOnFinish(), progressbar.OptionThrottle(100_000_000))
	}
	_ = p.bar.Set(s.Done) // a progress bar that cannot be drawn is no failure of the work
}

// clear takes the bar off the line, so that something else can be printed; it is drawn again when the work goes on.
func (p *progress) clear() {
	if p != nil && p.bar != nil {
		_ = p.bar.Clear() // as above
	}
}

func (p *progress) done() {
	if p != nil && p.bar != nil {
		_ = p.bar.Finish()
		p.bar = nil
	}
}
