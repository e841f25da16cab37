package index

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"syscall"
	"time"

	"github.com/blevesearch/bleve/v2"
	"github.com/blevesearch/bleve/v2/analysis"
	"github.com/blevesearch/bleve/v2/index/scorch"
	"github.com/blevesearch/bleve/v2/registry"
	"go.etcd.io/bbolt"
	bolterrors "go.etcd.io/bbolt/errors"

	"ruledout/kb"
)

// lockWait is how long opening waits for another process to let go of the index.
const lockWait = time.Second

// Open opens the index in a folder, and makes it if there is none. An index that is damaged, or that other rules or another
// vocabulary made, is deleted and made anew: then fresh is true, its position is 0, and it wants everything. One that another
// process holds open is left alone: that error is Unavailable.
func Open(dir string, voc *kb.Vocabulary) (x *Index, fresh bool, err error) {
	lost, err := shared()
	if err != nil {
		return nil, false, kb.Errorf(kb.Internal, "index: %w", err)
	}
	x = &Index{dir: dir, voc: voc, synonyms: newSynonyms(voc), faults: lost}
	lost.forget(storeOf(dir))
	version := mappingVersion + " " + voc.Version()
	if x.bleve, err = openExisting(dir); err == nil {
		if x.readMarks(version) {
			return x, x.position == 0, nil
		}
		err = x.bleve.Close()
	}
	if err = inUse(err); err == nil {
		err = free(dir)
	}
	if err != nil {
		return nil, false, err
	}
	if err = x.create(version); err != nil {
		return nil, false, err
	}
	return x, true, nil
}

func config() map[string]any {
	return map[string]any{"bolt_timeout": lockWait.String(), "asyncErrorCallbackName": registeredName}
}

// openExisting opens an index as it is. Damaged files can make Bleve panic.
func openExisting(dir string) (b bleve.Index, err error) {
	defer func() {
		if p := recover(); p != nil {
			b, err = nil, fmt.Errorf("damaged: %v", p)
		}
	}()
	return bleve.OpenUsing(dir, config())
}

// readMarks reads the position, and tells whether the index was made by the same rules.
func (x *Index) readMarks(version string) bool {
	have, err := x.bleve.GetInternal([]byte(keyVersion))
	if err != nil || string(have) != version {
		return false
	}
	pos, err := x.bleve.GetInternal([]byte(keyPosition))
	if err != nil || len(pos) == 0 {
		return err == nil
	}
	x.position, err = strconv.ParseInt(string(pos), 10, 64)
	return err == nil
}

// create makes a new index in place of what is there. Only files of an index are deleted: the folder may be a wrong one.
func (x *Index) create(version string) error {
	for _, own := range []string{filepath.Join(x.dir, "index_meta.json"), storeOf(x.dir)} {
		if err := os.RemoveAll(own); err != nil {
			return kb.Errorf(kb.Unavailable, "the index cannot be made anew: %w", err)
		}
	}
	x.position = 0
	var err error
	x.bleve, err = bleve.NewUsing(x.dir, newMapping(), scorch.Name, scorch.Name, config())
	if err == nil {
		err = x.bleve.SetInternal([]byte(keyVersion), []byte(version))
	}
	if held := inUse(err); held != nil {
		return held
	}
	if err != nil {
		return kb.Errorf(kb.Internal, "make the index in %s: %w", x.dir, err)
	}
	return nil
}

func storeOf(dir string) string { return dir + string(os.PathSeparator) + "store" }

// free sees that no other process is just making or using the index that is about to be deleted.
func free(dir string) error {
	root := filepath.Join(storeOf(dir), "root.bolt")
	if _, err := os.Stat(root); err != nil {
		return nil
	}
	db, err := bbolt.Open(root, 0o600, &bbolt.Options{Timeout: lockWait})
	if err == nil {
		err = db.Close()
	}
	return inUse(err)
}

// inUse gives an error if err says that the index must be left alone: another process holds it, or it cannot be read or
// written for now. Anything else means that it is damaged or not there.
func inUse(err error) error {
	if errors.Is(err, bolterrors.ErrTimeout) {
		return kb.Errorf(kb.Unavailable, "another process has the index open: use it through that one, or end it (%w)", err)
	}
	for _, passing := range []error{fs.ErrPermission, syscall.EROFS, syscall.ENOSPC, syscall.EDQUOT, syscall.EMFILE, syscall.ENFILE, syscall.ENOMEM} {
		if errors.Is(err, passing) {
			return kb.Errorf(kb.Unavailable, "the index cannot be opened: %w", err)
		}
	}
	return nil
}

// registeredName is what Bleve knows our analyzer and error callback by.
const registeredName = "ruledout"

// faults keeps what goes wrong in Bleve's own goroutines, by the folder of the index: without this it would be lost.
type faults struct {
	mu  sync.Mutex
	all map[string]error
}

func (f *faults) add(err error, dir string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.all[dir] == nil {
		f.all[dir] = err
	}
}

func (f *faults) forget(dir string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	delete(f.all, dir)
}

func (f *faults) of(dir string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.all[dir]
}

// shared registers, once for the process, what Bleve keeps by name.
var shared = sync.OnceValues(func() (*faults, error) {
	f := &faults{all: map[string]error{}}
	scorch.RegistryAsyncErrorCallbacks[registeredName] = f.add
	return f, registry.RegisterAnalyzer(registeredName, func(map[string]any, *registry.Cache) (analysis.Analyzer, error) {
		return analyzer{}, nil
	})
})
