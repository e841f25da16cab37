// Package casebook is the one door through which the program changes the casebook and asks it questions.
//
// It brings together the store (the truth: an append-only log of revisions), the text index and the evidence table (both derived,
// both at a log position, both rebuilt from the log when lost), the readers of write-ups and the ranker. The command line and
// the pages are thin faces over it. Every method that changes something takes a context and an actor.
//
// Beside the cases it keeps the job sheets, private to their members until one is submitted, and the accounts of the pages.
package casebook

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"ruledout/ingest"
	"ruledout/internal/index"
	"ruledout/internal/store"
	"ruledout/kb"
	"ruledout/kb/link"
	"ruledout/kb/rank"
)

// Names of the files in the data folder.
const (
	storeFile        = "casebook.db"
	indexFolder      = "index"
	evidenceFile     = "evidence.cache"
	vocabularyFolder = "vocabulary" // takes the place of the built-in vocabulary
)

// Options say how to open a book.
type Options struct {
	Dir      string           // data folder; made if missing unless ReadOnly
	ReadOnly bool             // for questions only
	Now      func() time.Time // clock, time.Now if nil
	Progress func(Progress)   // told of long work, may be nil
}

// Progress says how far a long piece of work has come.
type Progress struct {
	Work  string // "reading write-ups", "importing", "building the evidence table", "indexing"
	Done  int
	Total int // 0 if unknown
	Item  string
}

// Book is an open casebook. It is safe for use by several goroutines.
type Book struct {
	dir      string
	readOnly bool
	store    *store.Store
	files    *kb.Vocabulary                // of the files alone
	voc      atomic.Pointer[kb.Vocabulary] // with what moderators decided on terms
	now      func() time.Time
	progress func(Progress)
	reader   atomic.Pointer[func() *ingest.Extractor]
	people   *people
	photos   chan struct{}   // pictures being decoded: one at a time, they take memory
	ending   context.Context // ends when the book is closed
	end      context.CancelFunc
	long     sync.WaitGroup // long work that Close stops and waits for

	mu      sync.Mutex        // guards what follows
	decided []kb.TermDecision // that voc holds
	params  rank.Params       // constants in force at reached
	table   *rank.Table
	model   *rank.Model
	reached int64 // log position of table
	stale   bool  // model is older than table
	idx     *index.Index
	linker  *link.Linker // of the last search for duplicates, nil if none was made
	closed  bool
}

// Open opens the casebook in a folder, or starts one there.
func Open(ctx context.Context, opt Options) (*Book, error) {
	voc, err := VocabularyIn(opt.Dir)
	if err != nil {
		return nil, fmt.Errorf("open casebook: %w", err)
	}
	b := &Book{dir: opt.Dir, readOnly: opt.ReadOnly, files: voc, now: opt.Now, progress: opt.Progress, params: rank.DefaultParams(), stale: true,
		people: newPeople(), photos: make(chan struct{}, 1)}
	b.ending, b.end = context.WithCancel(context.WithoutCancel(ctx))
	b.useVocabulary(voc)
	if b.now == nil {
		b.now = time.Now
	}
	if b.progress == nil {
		b.progress = func(Progress) {}
	}
	if err := b.prepareFolder(); err != nil {
		return nil, err
	}
	b.store, err = store.Open(ctx, filepath.Join(opt.Dir, storeFile), store.Options{ReadOnly: opt.ReadOnly})
	if err != nil {
		return nil, fmt.Errorf("open casebook in %s: %w", opt.Dir, err)
	}
	if err := b.loadTerms(ctx); err != nil {
		return nil, errors.Join(fmt.Errorf("open casebook in %s: %w", opt.Dir, err), b.store.Close())
	}
	b.table = rank.NewTable(b.Vocabulary())
	return b, nil
}

// useVocabulary puts a vocabulary into force.
func (b *Book) useVocabulary(v *kb.Vocabulary) {
	b.voc.Store(v)
	make := sync.OnceValue(func() *ingest.Extractor { return ingest.NewExtractor(v) })
	b.reader.Store(&make)
}

// VocabularyIn gives the vocabulary of a data folder: that of its folder "vocabulary" where there is one, else the built-in one.
func VocabularyIn(dir string) (*kb.Vocabulary, error) {
	own := filepath.Join(dir, vocabularyFolder)
	if info, err := os.Stat(own); err == nil && info.IsDir() {
		return kb.ParseVocabulary(os.DirFS(own))
	}
	return kb.BuiltinVocabulary()
}

func (b *Book) prepareFolder() error {
	if b.readOnly {
		if _, err := os.Stat(filepath.Join(b.dir, storeFile)); errors.Is(err, fs.ErrNotExist) {
			return kb.Errorf(kb.NotFound, "there is no casebook in %s yet; add or import something first", b.dir)
		}
		return nil
	}
	// Job sheets and accounts are in it: for its owner alone, unless somebody opens it to others.
	if err := os.MkdirAll(b.dir, 0o700); err != nil {
		return kb.Errorf(kb.Unavailable, "make the data folder: %w", err)
	}
	return nil
}

// Close stops long work that is under way, waits for its end and lets go of the book's files; closing again does nothing.
func (b *Book) Close() error {
	b.mu.Lock()
	closed := b.closed
	b.closed = true
	b.mu.Unlock()
	if closed {
		return nil
	}
	b.end()
	b.long.Wait()
	b.mu.Lock()
	defer b.mu.Unlock()
	var err error
	if b.idx != nil {
		err = b.idx.Close()
	}
	return errors.Join(err, b.store.Close())
}

// begin gives long work a context that ends with the book too; done must be called at its end.
func (b *Book) begin(ctx context.Context) (_ context.Context, done func(), err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.closed {
		return nil, nil, kb.Errorf(kb.Unavailable, "the book is closed")
	}
	b.long.Add(1)
	ctx, cancel := context.WithCancel(ctx)
	stop := context.AfterFunc(b.ending, cancel)
	return ctx, func() { stop(); cancel(); b.long.Done() }, nil
}

// Reader gives what reads drafts out of write-ups by the book's vocabulary; it is made at first use.
func (b *Book) Reader() *ingest.Extractor { return (*b.reader.Load())() }

// Vocabulary gives the vocabulary that the book reads and counts by.
func (b *Book) Vocabulary() *kb.Vocabulary { return b.voc.Load() }

// Now gives the time by the book's clock.
func (b *Book) Now() time.Time { return b.now() }

// Count says how much the book holds.
func (b *Book) Count(ctx context.Context) (store.Counts, error) { return b.store.Count(ctx) }

// Position gives the log position up to which the book is written.
func (b *Book) Position(ctx context.Context) (int64, error) { return b.store.Position(ctx) }

// Role is what an actor may do; each role may do what those before it may.
type Role int

// The roles.
const (
	Reader Role = iota
	Contributor
	Moderator
	Administrator
)

// Actor is who changes something: the name stands in the history.
type Actor struct {
	Name string
	Role Role
}

// path gives the place of a file in the data folder.
func (b *Book) path(name string) string { return filepath.Join(b.dir, name) }

func (a Actor) may(needed Role, what string) error {
	if a.Role < needed {
		return kb.Errorf(kb.Forbidden, "%s may not %s", a.Name, what)
	}
	return nil
}
