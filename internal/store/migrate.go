package store

import (
	"context"
	"fmt"
	"os"
	"time"

	"github.com/pressly/goose/v3"

	"ruledout/kb"
)

// prepare sees that the file is a casebook with the schema that this program knows; an older one is migrated.
func (s *Store) prepare(ctx context.Context) error {
	p, err := s.provider()
	if err != nil {
		return err
	}
	have, err := s.schemaVersion(ctx)
	if err != nil {
		return err
	}
	sources := p.ListSources()
	want := sources[len(sources)-1].Version
	switch {
	case have > want:
		return kb.Errorf(kb.Conflict, "a newer version of this program wrote this casebook (schema %d, known is %d): use that version", have, want)
	case have == want:
		return nil
	case s.write == nil && have == 0:
		return kb.Errorf(kb.Invalid, "this file is no casebook")
	case s.write == nil:
		return kb.Errorf(kb.Conflict, "an older version of this program wrote this casebook (schema %d, known is %d): open it for writing once", have, want)
	}
	return s.migrate(ctx, p, want)
}

func (s *Store) provider() (*goose.Provider, error) {
	schema, err := s.dialect.schema()
	if err != nil {
		return nil, err
	}
	db := s.write
	if db == nil {
		db = s.read
	}
	return goose.NewProvider(s.dialect.goose, db, schema)
}

// How often and after which pause a migration is tried again: another process may be at the same one, and each step of it may fail here
// because it was done there a moment ago.
const (
	migrateTries = 60
	migratePause = 25 * time.Millisecond
)

func (s *Store) migrate(ctx context.Context, p *goose.Provider, want int64) error {
	var err error
	for range migrateTries {
		if _, err = p.Up(ctx); err == nil {
			return nil
		}
		if have, again := s.schemaVersion(ctx); again == nil && have == want {
			return nil // the other one was quicker
		}
		select {
		case <-ctx.Done():
			return fmt.Errorf("bring the schema up to date: %w", ctx.Err())
		case <-time.After(migratePause):
		}
	}
	return fmt.Errorf("bring the schema up to date: %w", s.wrap(err))
}

// schemaVersion gives the version of the schema in the file, 0 if it is new or empty. It only reads: another program's
// database must stay as it is.
func (s *Store) schemaVersion(ctx context.Context) (int64, error) {
	if info, err := os.Stat(s.path); err != nil || info.Size() == 0 {
		return 0, nil
	}
	var mark, tables int64
	if err := s.read.QueryRowContext(ctx, `PRAGMA application_id`).Scan(&mark); err != nil {
		return 0, s.wrap(err)
	}
	own := `SELECT count(*) FROM sqlite_schema WHERE name NOT LIKE 'goose_db_version%' AND name NOT LIKE 'sqlite_%'`
	if err := s.read.QueryRowContext(ctx, own).Scan(&tables); err != nil {
		return 0, s.wrap(err)
	}
	switch {
	case mark == applicationID:
	case mark == 0 && tables == 0:
		return 0, nil
	default:
		return 0, kb.Errorf(kb.Invalid, "this file is another program's database and no casebook")
	}
	var version int64
	err := s.read.QueryRowContext(ctx, `SELECT coalesce(max(version_id), 0) FROM goose_db_version WHERE is_applied`).Scan(&version)
	return version, s.wrap(err)
}
