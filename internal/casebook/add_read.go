package casebook

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"runtime"

	"ruledout/ingest"
	"ruledout/kb"
)

// Reading is what was read from one file, or from several that hold pages of one thread: the masked write-ups and the drafts of each.
type Reading struct {
	File    string
	More    []string // further files that were read together with it
	Threads []ingest.Thread
	Drafts  [][]kb.Case // drafts of each thread, in the order of Threads
	Err     error       // why nothing could be read
}

// ReadFile reads one file into masked write-ups and draft cases. Nothing is stored. It does no I/O.
func ReadFile(f ingest.File, opt ingest.Options, x *ingest.Extractor) Reading {
	r := readThreads(f, opt)
	r.extract(x)
	return r
}

func readThreads(f ingest.File, opt ingest.Options) (r Reading) {
	r.File = f.Name
	defer r.faulty()
	r.Threads, r.Err = ingest.Read(f, opt)
	return r
}

// faulty turns a fault of the program into the error of this one file, so that the others still go in.
func (r *Reading) faulty() {
	if p := recover(); p != nil {
		r.Threads, r.Drafts = nil, nil
		r.Err = &kb.Error{Kind: kb.Internal, File: r.File, Msg: fmt.Sprintf("a fault of the program while reading: %v", p)}
	}
}

func (r *Reading) extract(x *ingest.Extractor) {
	defer r.faulty()
	for _, t := range r.Threads {
		r.Drafts = append(r.Drafts, draftsOf(t, x))
	}
}

func draftsOf(t ingest.Thread, x *ingest.Extractor) []kb.Case {
	drafts := x.Extract(t)
	for i := range drafts {
		for j := range drafts[i].Codes {
			drafts[i].Codes[j] = spelled(drafts[i].Codes[j])
		}
	}
	return drafts
}

// spelled writes a code by the rule of its scheme and leaves everything else as it was read.
func spelled(e kb.CodeEntry) kb.CodeEntry {
	e.Code = normalCode(e).Code
	return e
}

// part tells whether a file holds a page of a thread that has more of them.
func (r *Reading) part() bool {
	for _, t := range r.Threads {
		if t.Part() {
			return true
		}
	}
	return false
}

// maxHeld bounds the text of pages that wait for the other pages of their threads, in bytes. Beyond it they go on as they are; what
// of a thread comes later is joined to them by the book.
const maxHeld = 64 << 20

// ReadFiles reads many files on all cores and hands over the readings in order. Pages of one thread are handed over together, joined,
// when all files are read.
func ReadFiles(ctx context.Context, files iter.Seq2[ingest.File, error], opt ingest.Options, x *ingest.Extractor, emit func(Reading) error) error {
	jobs := func(yield func(func() Reading) bool) {
		for f, err := range files {
			job := func() Reading { return Reading{File: f.Name, Err: err} }
			if err == nil {
				job = func() Reading {
					r := readThreads(f, opt)
					if !r.part() {
						r.extract(x)
					}
					return r
				}
			}
			if !yield(job) {
				return
			}
		}
	}
	h := held{ctx: ctx, x: x, emit: emit}
	if err := inOrder(ctx, runtime.GOMAXPROCS(0), jobs, h.take); err != nil {
		return err
	}
	return h.release()
}

// held keeps the pages of threads that may have more of them.
type held struct {
	ctx      context.Context
	x        *ingest.Extractor
	emit     func(Reading) error
	readings []Reading
	size     int
}

func (h *held) take(r Reading) error {
	if !r.part() {
		return h.emit(r)
	}
	h.readings = append(h.readings, r)
	for _, t := range r.Threads {
		for _, p := range t.Posts {
			h.size += len(p.Text)
		}
	}
	if h.size > maxHeld {
		return h.release()
	}
	return nil
}

// release joins what was held and hands it over.
func (h *held) release() error {
	joined := joinReadings(h.readings)
	h.readings, h.size = nil, 0
	jobs := func(yield func(func() Reading) bool) {
		for _, r := range joined {
			if !yield(func() Reading { r.extract(h.x); return r }) {
				return
			}
		}
	}
	return inOrder(h.ctx, runtime.GOMAXPROCS(0), jobs, h.emit)
}

// joinReadings makes one reading of all files that hold pages of one thread.
func joinReadings(list []Reading) []Reading {
	var threads []ingest.Thread
	var from []int // reading of each thread
	for i, r := range list {
		for _, t := range r.Threads {
			threads = append(threads, t)
			from = append(from, i)
		}
	}
	groups := ingest.GroupPages(threads)
	lead := make([]int, len(list)) // of each reading: the one that it goes with
	for i := range lead {
		lead[i] = i
	}
	for _, g := range groups {
		for _, i := range g[1:] {
			joinLeads(lead, from[g[0]], from[i])
		}
	}
	out := make([]Reading, len(list))
	for i, r := range list {
		if lead[i] == i {
			out[i].File = r.File
		} else {
			out[lead[i]].More = append(out[lead[i]].More, r.File)
		}
	}
	for _, g := range groups {
		var pages []ingest.Thread
		for _, i := range g {
			pages = append(pages, threads[i])
		}
		to := lead[from[g[0]]]
		out[to].Threads = append(out[to].Threads, ingest.JoinPages(pages)...)
	}
	var kept []Reading
	for i, r := range out {
		if lead[i] == i {
			kept = append(kept, r)
		}
	}
	return kept
}

func joinLeads(lead []int, a, b int) {
	from, to := max(lead[a], lead[b]), min(lead[a], lead[b])
	for i, l := range lead {
		if l == from {
			lead[i] = to
		}
	}
}

// Check reads files and keeps nothing of them; it gives those that cannot be read.
func Check(ctx context.Context, files iter.Seq2[ingest.File, error], opt ingest.Options) ([]Reading, error) {
	jobs := func(yield func(func() Reading) bool) {
		for f, err := range files {
			job := func() Reading { return Reading{File: f.Name, Err: err} }
			if err == nil {
				job = func() Reading { return Reading{File: f.Name, Err: readThreads(f, opt).Err} }
			}
			if !yield(job) {
				return
			}
		}
	}
	var bad []Reading
	err := inOrder(ctx, runtime.GOMAXPROCS(0), jobs, func(r Reading) error {
		var over *ingest.Skipped
		if r.Err != nil && !errors.As(r.Err, &over) {
			bad = append(bad, r)
		}
		return nil
	})
	return bad, err
}
