package store

import (
	"context"
	"errors"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"ruledout/kb"
)

// wrap gives an error of the database a kind and plain words. Errors that have a kind, and the end of a context, stay.
func (s *Store) wrap(err error) error {
	var known *kb.Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &known), errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	}
	return s.dialect.explain(err)
}

// explainSQLite tells what a person can do about an error of SQLite.
func explainSQLite(err error) error {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return kb.Errorf(kb.Internal, "casebook: %w", err)
	}
	switch e.Code() & 0xff { // the low byte of an extended code is the code
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return kb.Errorf(kb.Unavailable, "the casebook is busy: another process is writing to it; try again when it has finished (%w)", err)
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM:
		return kb.Errorf(kb.Unavailable, "the casebook cannot be changed: its file or folder is read-only (%w)", err)
	case sqlite3.SQLITE_FULL:
		return kb.Errorf(kb.Unavailable, "the disk is full: nothing of this change was kept (%w)", err)
	case sqlite3.SQLITE_CANTOPEN:
		return kb.Errorf(kb.Unavailable, "the casebook cannot be opened: see that its folder exists and may be read and written (%w)", err)
	case sqlite3.SQLITE_IOERR:
		return kb.Errorf(kb.Unavailable, "the disk did not do what was asked of it (%w)", err)
	case sqlite3.SQLITE_NOTADB:
		return kb.Errorf(kb.Invalid, "this file is no casebook (%w)", err)
	case sqlite3.SQLITE_CORRUPT:
		return kb.Errorf(kb.Internal, "the casebook is damaged: restore it from a backup (%w)", err)
	}
	return kb.Errorf(kb.Internal, "casebook: %w", err)
}

// damaged tells whether an error says that the file of the database is broken.
func damaged(err error) bool {
	var e *sqlite.Error
	return errors.As(err, &e) && e.Code()&0xff == sqlite3.SQLITE_CORRUPT
}
