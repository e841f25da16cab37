package store

import (
	"context"
	"database/sql"
	"time"
)

// querier is what a change, a view and the pool of reading connections have in common.
type querier interface {
	query(query string, args ...any) (*sql.Rows, error)
}

// scanner is one row, or the error why there is none.
type scanner interface{ Scan(dest ...any) error }

// view reads with a context from a pool or from one transaction.
type view struct {
	ctx context.Context
	db  interface {
		QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	}
}

func (s *Store) view(ctx context.Context) view { return view{ctx, s.read} }

func (v view) query(query string, args ...any) (*sql.Rows, error) {
	return v.db.QueryContext(v.ctx, query, args...)
}

// firstRow scans the first row of a query and closes it.
type firstRow struct {
	rows *sql.Rows
	err  error
}

func oneRow(q querier, query string, args ...any) scanner {
	rows, err := q.query(query, args...)
	return firstRow{rows, err}
}

// Scan copies the row, or gives sql.ErrNoRows.
func (r firstRow) Scan(dest ...any) error {
	if r.err != nil {
		return r.err
	}
	defer r.rows.Close()
	if !r.rows.Next() {
		if err := r.rows.Err(); err != nil {
			return err
		}
		return sql.ErrNoRows
	}
	if err := r.rows.Scan(dest...); err != nil {
		return err
	}
	return r.rows.Close()
}

// each scans every row of a query.
func each(q querier, scan func(scanner) error, query string, args ...any) error {
	rows, err := q.query(query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := scan(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// milli is a time as the database holds it: NULL if it is not known.
func milli(t time.Time) sql.NullInt64 {
	return sql.NullInt64{Int64: t.UnixMilli(), Valid: !t.IsZero()}
}

func fromMilli(n sql.NullInt64) time.Time {
	if !n.Valid {
		return time.Time{}
	}
	return time.UnixMilli(n.Int64).UTC()
}
