package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"time"

	"ruledout/kb"
)

// Tx is one change in the making. It must not be used after the function given to Update has returned, nor by several
// goroutines at once.
type Tx struct {
	s      *Store
	ctx    context.Context
	tx     *sql.Tx
	stmts  map[string]*sql.Stmt
	pos    int64  // last position taken
	hash   string // of the revision there
	start  int64  // position at the start
	broken error  // a write that failed half-way: nothing of this change may stay
}

// Update runs one change in one transaction: it is kept whole when change returns nil, and leaves nothing otherwise.
// Changes of one store run one after the other, so a change must not start another.
func (s *Store) Update(ctx context.Context, change func(tx *Tx) error) error {
	if s.write == nil {
		return kb.Errorf(kb.Unavailable, "the casebook was opened to be read only")
	}
	conn, err := s.writer(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	sqlTx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return s.wrap(err)
	}
	defer sqlTx.Rollback() // after a commit it does nothing; it also runs when change panics
	tx := &Tx{s: s, ctx: ctx, tx: sqlTx, stmts: map[string]*sql.Stmt{}}
	if err := tx.begin(); err != nil {
		return s.wrap(err)
	}
	if err := change(tx); err != nil {
		return ended(ctx, err)
	}
	if tx.broken != nil {
		return ended(ctx, fmt.Errorf("a part of this change failed, so nothing of it was kept: %w", tx.broken))
	}
	return ended(ctx, s.wrap(tx.commit()))
}

// ended names the end of the context as the cause where there is one: what the database says then ("statement is closed") depends on
// the moment.
func ended(ctx context.Context, err error) error {
	if err == nil || ctx.Err() == nil || errors.Is(err, ctx.Err()) {
		return err
	}
	return fmt.Errorf("%w: %w", ctx.Err(), err)
}

// writer waits for the one writing connection, but no longer than for a lock: a change that starts another would wait
// for itself for ever.
func (s *Store) writer(ctx context.Context) (*sql.Conn, error) {
	limited, cancel := context.WithTimeout(ctx, s.wait)
	defer cancel()
	conn, err := s.write.Conn(limited)
	if err != nil && ctx.Err() == nil && errors.Is(err, context.DeadlineExceeded) {
		return nil, kb.Errorf(kb.Unavailable, "the casebook is busy: another change is taking long; try again when it has finished")
	}
	return conn, s.wrap(err)
}

func (tx *Tx) begin() error {
	err := tx.tx.QueryRowContext(tx.ctx, `SELECT pos, hash FROM log_position`+tx.s.dialect.forUpdate).Scan(&tx.pos, &tx.hash)
	tx.start = tx.pos
	return err
}

func (tx *Tx) commit() error {
	if tx.pos > tx.start {
		if _, err := tx.tx.ExecContext(tx.ctx, `UPDATE log_position SET pos = $1, hash = $2`, tx.pos, tx.hash); err != nil {
			return err
		}
	}
	return tx.tx.Commit()
}

// Position gives the last position of the log as this change sees it.
func (tx *Tx) Position() int64 { return tx.pos }

// Append appends an entry to the log at the next position and brings the current state into step. What is refused as it
// stands (kinds Invalid, NotFound, Conflict) leaves the change as it was, so that a caller may go on with the next entry.
func (tx *Tx) Append(e Entry) (pos int64, err error) {
	r, err := tx.check(e)
	if err != nil {
		return 0, err
	}
	if err := tx.add(&r); err != nil {
		return 0, err
	}
	switch e.Kind {
	case EntryCase:
		err = tx.setCurrent(e, r)
	case EntryProposal:
		err = tx.setProposal(e, r)
	}
	return r.Pos, tx.fail(err)
}

// Put is Append for a case, except that a content equal to the current one is no change: then changed is false and pos
// that of the current revision.
func (tx *Tx) Put(e Entry) (changed bool, pos int64, err error) {
	r, err := tx.check(e)
	if err != nil {
		return false, 0, err
	}
	var body, target string
	err = tx.row(`SELECT r.pos, r.body, r.target FROM cases c JOIN revisions r ON r.pos = c.pos WHERE c.id = $1`, r.ID).Scan(&pos, &body, &target)
	switch {
	case err == nil && e.Kind == EntryCase && body == string(r.Body) && target == string(r.Target):
		return false, pos, nil
	case err != nil && !errors.Is(err, sql.ErrNoRows):
		return false, 0, tx.s.wrap(err)
	}
	pos, err = tx.Append(e)
	return err == nil, pos, err
}

// check gives the revision that an entry makes, without position and hash.
func (tx *Tx) check(e Entry) (Revision, error) {
	r := Revision{Kind: e.Kind, ID: e.ID, Verb: e.Verb, Target: e.Target, At: toMilli(e.At), Actor: e.Actor, Reason: e.Reason, Body: e.Body}
	switch {
	case e.Actor == "" || e.Verb == "" || e.At.IsZero():
		return r, kb.Errorf(kb.Internal, "a revision needs an actor, a verb and a time")
	case e.Kind == EntryMark, e.Kind == EntryParams:
		if !json.Valid(e.Body) || e.Case != nil || e.Target != "" {
			return r, kb.Errorf(kb.Internal, "a revision of kind %s needs a JSON body and no case", e.Kind)
		}
		return r, nil
	case e.Kind == EntryCase, e.Kind == EntryProposal:
		return tx.checkCase(e, r)
	}
	return r, kb.Errorf(kb.Internal, "no entry of kind %q can be appended", e.Kind)
}

func (tx *Tx) checkCase(e Entry, r Revision) (Revision, error) {
	if e.Case == nil {
		if e.Kind == EntryCase || e.ID == "" {
			return r, kb.Errorf(kb.Internal, "an entry of kind %s needs a case", e.Kind)
		}
		return r, tx.mustExist(kb.CaseID(e.ID))
	}
	if e.Case.ID == "" || e.ID != "" && e.ID != string(e.Case.ID) {
		return r, kb.Errorf(kb.Internal, "the case to store has the id %q, the entry %q", e.Case.ID, e.ID)
	}
	if !slices.Contains(kb.States(), e.Case.State) {
		return r, &kb.Error{Kind: kb.Invalid, Field: "state", Msg: fmt.Sprintf("%q is no state of a case", e.Case.State)}
	}
	body, err := kb.EncodeCase(*e.Case)
	if err != nil {
		return r, kb.Errorf(kb.Invalid, "%w", err)
	}
	r.ID, r.State, r.Body = string(e.Case.ID), e.Case.State, body
	if e.Kind == EntryProposal {
		return r, tx.mustExist(e.Case.ID)
	}
	return r, tx.checkTarget(e.Case.ID, e.Case.State, e.Target)
}

func (tx *Tx) mustExist(id kb.CaseID) error {
	var one int
	err := tx.row(`SELECT 1 FROM cases WHERE id = $1`, string(id)).Scan(&one)
	if errors.Is(err, sql.ErrNoRows) {
		return noCase(id)
	}
	return tx.s.wrap(err)
}

func noCase(id kb.CaseID) error { return kb.Errorf(kb.NotFound, "there is no case %s", id) }

// checkTarget sees that a merged case, and no other, leads to another case, and not in a circle.
func (tx *Tx) checkTarget(id kb.CaseID, state kb.State, target kb.CaseID) error {
	if state != kb.Merged {
		if target != "" {
			return kb.Errorf(kb.Internal, "case %s is %s and so can lead to no other", id, state)
		}
		return nil
	}
	if target == "" {
		return &kb.Error{Kind: kb.Invalid, Field: "state", Msg: "merged, but not into which case"}
	}
	if err := tx.mustExist(target); err != nil {
		return err
	}
	for at := target; ; {
		if at == id {
			return kb.Errorf(kb.Conflict, "case %s cannot be merged into %s: that one leads back to it", id, target)
		}
		next, err := redirect(tx, at)
		if err != nil || next == "" {
			return tx.s.wrap(err)
		}
		at = next
	}
}

// add writes a revision at the next position.
func (tx *Tx) add(r *Revision) error {
	r.Pos = tx.pos + 1
	r.Hash = r.chain(tx.hash)
	err := tx.exec(`INSERT INTO revisions (pos, kind, id, verb, state, target, at, actor, reason, body, hash)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`, r.Pos, string(r.Kind), r.ID, r.Verb, string(r.State), string(r.Target),
		r.At.UnixMilli(), r.Actor, r.Reason, string(r.Body), r.Hash)
	if err != nil {
		return tx.fail(err)
	}
	tx.pos, tx.hash = r.Pos, r.Hash
	return nil
}

// chain gives the hash over a revision and the hash of the one before it, so that nothing in the log can be altered,
// left out or put in unnoticed.
func (r *Revision) chain(before string) string {
	h := sha256.New()
	var length []byte
	for _, part := range []string{before, strconv.FormatInt(r.Pos, 10), string(r.Kind), r.ID, r.Verb, string(r.State), string(r.Target),
		strconv.FormatInt(r.At.UnixMilli(), 10), r.Actor, r.Reason, string(r.Body)} {
		length = strconv.AppendInt(length[:0], int64(len(part)), 10)
		h.Write(append(length, ':'))
		h.Write([]byte(part))
	}
	return hex.EncodeToString(h.Sum(nil))
}

// fail remembers a write that failed half-way, so that the change cannot be kept.
func (tx *Tx) fail(err error) error {
	err = tx.s.wrap(err)
	if err != nil && tx.broken == nil {
		tx.broken = err
	}
	return err
}

// stmt prepares a query once for the whole change.
func (tx *Tx) stmt(query string) (*sql.Stmt, error) {
	if st, ok := tx.stmts[query]; ok {
		return st, nil
	}
	st, err := tx.tx.PrepareContext(tx.ctx, query) // closed with the transaction
	if err == nil {
		tx.stmts[query] = st
	}
	return st, err
}

func (tx *Tx) exec(query string, args ...any) error {
	st, err := tx.stmt(query)
	if err != nil {
		return err
	}
	_, err = st.ExecContext(tx.ctx, args...)
	return err
}

func (tx *Tx) query(query string, args ...any) (*sql.Rows, error) {
	st, err := tx.stmt(query)
	if err != nil {
		return nil, err
	}
	return st.QueryContext(tx.ctx, args...)
}

func (tx *Tx) row(query string, args ...any) scanner { return oneRow(tx, query, args...) }

// toMilli gives a time as it will be read back.
func toMilli(t time.Time) time.Time {
	if t.IsZero() {
		return time.Time{}
	}
	return time.UnixMilli(t.UnixMilli()).UTC()
}
