package store

import (
	"database/sql"
	"embed"
	"io/fs"
	"net/url"
	"path/filepath"
	"strconv"
	"time"

	"github.com/pressly/goose/v3"
	_ "modernc.org/sqlite" // the driver "sqlite"
)

//go:embed migrations
var migrations embed.FS

// dialect holds what differs between database engines. The query texts are the same: numbered parameters, times as
// milliseconds in whole numbers, JSON as text.
type dialect struct {
	goose      goose.Dialect
	migrations string            // folder of the schema
	forUpdate  string            // ends a SELECT that locks its rows until the transaction ends
	explain    func(error) error // gives an error of the driver a kind and plain words
}

// applicationID marks a SQLite file as a casebook: "RLDO". The first migration writes it.
const applicationID = 0x524c444f

func sqliteDialect() dialect {
	// Every transaction of the writing pool takes the write lock at its start (_txlock=immediate): the busy handler is
	// not called on a lock upgrade, so a deferred one would fail at once where it should wait.
	return dialect{goose: goose.DialectSQLite3, migrations: "migrations/sqlite", explain: explainSQLite}
}

func (d dialect) schema() (fs.FS, error) { return fs.Sub(migrations, d.migrations) }

// sqliteName gives the data source name of a file. All settings stand in it, so that every connection of a pool has them.
func sqliteName(path string, set url.Values, pragmas ...string) (string, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	set["_pragma"] = append(set["_pragma"], pragmas...)
	u := url.URL{Scheme: "file", Path: filepath.ToSlash(abs), RawQuery: set.Encode()}
	return u.String(), nil
}

func openSQLite(path string, opt Options) (write, read *sql.DB, err error) {
	busy := "busy_timeout(" + strconv.FormatInt(opt.BusyTimeout.Milliseconds(), 10) + ")"
	if !opt.ReadOnly {
		// What is deleted is overwritten (secure_delete): a job sheet, an account's old password.
		name, err := sqliteName(path, url.Values{"_txlock": {"immediate"}}, busy, "journal_mode(WAL)", "synchronous(FULL)",
			"foreign_keys(1)", "recursive_triggers(1)", "secure_delete(1)", "cache_size(-32000)", "journal_size_limit(67108864)")
		if err != nil {
			return nil, nil, err
		}
		if write, err = sql.Open("sqlite", name); err != nil {
			return nil, nil, err
		}
		write.SetMaxOpenConns(1) // changes queue here, fairly, and not at the lock of the file
	}
	set := url.Values{"mode": {"ro"}}
	if opt.ReadOnly && frozen(path) {
		set.Set("immutable", "1")
	}
	name, err := sqliteName(path, set, busy, "query_only(1)", "foreign_keys(1)")
	if err != nil {
		return write, nil, err
	}
	read, err = sql.Open("sqlite", name)
	if err == nil {
		read.SetMaxIdleConns(8)
		read.SetConnMaxIdleTime(time.Minute)
	}
	return write, read, err
}
