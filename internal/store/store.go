package store

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"ruledout/kb"
)

// DefaultBusyTimeout is how long a change waits for another one to end.
const DefaultBusyTimeout = 10 * time.Second

// Options are the ways to open a store.
type Options struct {
	ReadOnly    bool          // nothing is written, not even a newer schema
	BusyTimeout time.Duration // how long a change waits for another one to end; 0: DefaultBusyTimeout
}

// Store is an open casebook. It may be used by many goroutines at once, and by several processes on the same file.
type Store struct {
	dialect dialect
	write   *sql.DB // nil if read-only
	read    *sql.DB
	path    string
	wait    time.Duration
}

// Open opens the casebook in a file, makes it if there is none, and brings its schema up to date. The folder must exist.
// With ReadOnly the file must exist and have the schema of this program.
func Open(ctx context.Context, path string, opt Options) (*Store, error) {
	if opt.BusyTimeout <= 0 {
		opt.BusyTimeout = DefaultBusyTimeout
	}
	s := &Store{dialect: sqliteDialect(), path: path, wait: opt.BusyTimeout}
	if err := checkPlace(path, opt.ReadOnly); err != nil {
		return nil, err
	}
	var err error
	if s.write, s.read, err = openSQLite(path, opt); err == nil {
		err = s.prepare(ctx)
	}
	if err != nil {
		s.Close() // the first error says more
		return nil, kb.At(s.wrap(err), path, 0)
	}
	return s, nil
}

// checkPlace gives plain errors for what the database would only call "cannot open".
func checkPlace(path string, mustExist bool) error {
	if info, err := os.Stat(filepath.Dir(path)); err != nil || !info.IsDir() {
		return &kb.Error{Kind: kb.NotFound, File: path, Msg: "there is no such folder"}
	}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist) && mustExist:
		return &kb.Error{Kind: kb.NotFound, File: path, Msg: "there is no casebook here"}
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return &kb.Error{Kind: kb.Unavailable, File: path, Msg: "cannot be read", Err: err}
	case info.IsDir():
		return &kb.Error{Kind: kb.Invalid, File: path, Msg: "this is a folder; want the file of a casebook"}
	}
	return nil
}

// frozen tells whether nobody can be writing to a file that only ever is read here: its folder takes no new file, and
// nothing waits in a write-ahead log. SQLite then needs to be told, or it fails where it cannot make its shared memory.
func frozen(path string) bool {
	if info, err := os.Stat(path + "-wal"); err == nil && info.Size() > 0 {
		return false
	}
	probe, err := os.CreateTemp(filepath.Dir(path), ".probe-*")
	if err != nil {
		return true
	}
	probe.Close()
	os.Remove(probe.Name())
	return false
}

// Close ends the use of the store.
func (s *Store) Close() error {
	var errs []error
	if s.read != nil {
		errs = append(errs, s.read.Close())
	}
	if s.write != nil { // last: the one who closes last empties the write-ahead log into the file
		errs = append(errs, s.write.Close())
	}
	return s.wrap(errors.Join(errs...))
}

// Position gives the last position of the log, 0 if it is empty.
func (s *Store) Position(ctx context.Context) (int64, error) {
	var pos int64
	err := s.read.QueryRowContext(ctx, `SELECT pos FROM log_position`).Scan(&pos)
	return pos, s.wrap(err)
}

// Backup writes a complete copy of the casebook, history included, to a file that must not exist yet. Others may go on
// writing meanwhile; the copy is of one moment.
func (s *Store) Backup(ctx context.Context, path string) error {
	if _, err := os.Lstat(path); err == nil {
		return &kb.Error{Kind: kb.Conflict, File: path, Msg: "there is a file of this name already"}
	}
	if err := checkPlace(path, false); err != nil {
		return err
	}
	if err := s.copyTo(ctx, path); err != nil {
		os.Remove(path) // half a copy
		return kb.At(s.wrap(err), path, 0)
	}
	return nil
}

// copyTo copies over a reading connection, so that nobody who writes has to wait.
func (s *Store) copyTo(ctx context.Context, path string) error {
	conn, err := s.read.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, `PRAGMA query_only = 0`); err != nil {
		return err
	}
	_, err = conn.ExecContext(ctx, `VACUUM INTO $1`, path)
	_, again := conn.ExecContext(context.WithoutCancel(ctx), `PRAGMA query_only = 1`)
	return errors.Join(err, again)
}
