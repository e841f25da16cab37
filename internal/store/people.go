package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"ruledout/kb"
)

// Account is a person who may do more than read. The store gives name and role no meaning.
type Account struct {
	Name     string
	Role     string
	Password string // hash as a PHC string; empty: none set yet
	Disabled bool
	Stamp    int64 // goes up whenever sessions begun before must end
	Created  time.Time
	Changed  time.Time
}

// Link is a one-time link. Of its token only the hash is kept.
type Link struct {
	Hash    string
	Kind    string
	Name    string // of the account that it is for, empty if for none yet
	MadeBy  string
	Created time.Time
	Expires time.Time
	Used    time.Time // zero: not yet
}

const selectAccount = `SELECT name, role, password, disabled, stamp, created, changed FROM accounts`

// Account gives an account by its name.
func (s *Store) Account(ctx context.Context, name string) (Account, error) {
	a, err := account(s.view(ctx), name)
	return a, s.wrap(err)
}

// Account is Store.Account inside the change.
func (tx *Tx) Account(name string) (Account, error) {
	a, err := account(tx, name)
	return a, tx.s.wrap(err)
}

// Accounts lists all accounts in order of name.
func (s *Store) Accounts(ctx context.Context) ([]Account, error) {
	all, err := accounts(s.view(ctx))
	return all, s.wrap(err)
}

// Accounts is Store.Accounts inside the change.
func (tx *Tx) Accounts() ([]Account, error) {
	all, err := accounts(tx)
	return all, tx.s.wrap(err)
}

func account(q querier, name string) (Account, error) {
	a, err := scanAccount(oneRow(q, selectAccount+` WHERE name = $1`, name))
	if errors.Is(err, sql.ErrNoRows) {
		return a, kb.Errorf(kb.NotFound, "there is no account %q", name)
	}
	return a, err
}

func accounts(q querier) ([]Account, error) {
	var all []Account
	err := each(q, func(row scanner) error {
		a, err := scanAccount(row)
		all = append(all, a)
		return err
	}, selectAccount+` ORDER BY name`)
	return all, err
}

func scanAccount(row scanner) (Account, error) {
	var a Account
	var disabled int64
	var created, changed sql.NullInt64
	err := row.Scan(&a.Name, &a.Role, &a.Password, &disabled, &a.Stamp, &created, &changed)
	a.Disabled, a.Created, a.Changed = disabled != 0, fromMilli(created), fromMilli(changed)
	return a, err
}

// AddAccount adds an account whose name must not be taken.
func (tx *Tx) AddAccount(a Account) error {
	_, err := account(tx, a.Name)
	switch {
	case err == nil:
		return kb.Errorf(kb.Conflict, "there is an account %q already", a.Name)
	case kb.KindOf(err) != kb.NotFound:
		return tx.s.wrap(err)
	}
	return tx.fail(tx.exec(`INSERT INTO accounts (name, role, password, disabled, stamp, created, changed) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
		a.Name, a.Role, a.Password, number(a.Disabled), a.Stamp, a.Created.UnixMilli(), a.Changed.UnixMilli()))
}

// SetAccount gives an account a new content; the time of its making stays.
func (tx *Tx) SetAccount(a Account) error {
	if _, err := account(tx, a.Name); err != nil {
		return tx.s.wrap(err)
	}
	return tx.fail(tx.exec(`UPDATE accounts SET role = $2, password = $3, disabled = $4, stamp = $5, changed = $6 WHERE name = $1`,
		a.Name, a.Role, a.Password, number(a.Disabled), a.Stamp, a.Changed.UnixMilli()))
}

// number is a truth value as the database holds it.
func number(b bool) int64 {
	if b {
		return 1
	}
	return 0
}

// AddLink keeps a one-time link.
func (tx *Tx) AddLink(l Link) error {
	return tx.fail(tx.exec(`INSERT INTO links (hash, kind, name, made_by, created, expires) VALUES ($1, $2, $3, $4, $5, $6)`,
		l.Hash, l.Kind, l.Name, l.MadeBy, l.Created.UnixMilli(), l.Expires.UnixMilli()))
}

// Link gives a one-time link by the hash of its token, used or expired ones too.
func (s *Store) Link(ctx context.Context, hash string) (Link, error) {
	l, err := link(s.view(ctx), hash)
	return l, s.wrap(err)
}

// Link is Store.Link inside the change.
func (tx *Tx) Link(hash string) (Link, error) {
	l, err := link(tx, hash)
	return l, tx.s.wrap(err)
}

func link(q querier, hash string) (Link, error) {
	var l Link
	var created, expires, used sql.NullInt64
	err := oneRow(q, `SELECT hash, kind, name, made_by, created, expires, used FROM links WHERE hash = $1`, hash).
		Scan(&l.Hash, &l.Kind, &l.Name, &l.MadeBy, &created, &expires, &used)
	if errors.Is(err, sql.ErrNoRows) {
		return l, kb.Errorf(kb.NotFound, "there is no such link")
	}
	l.Created, l.Expires, l.Used = fromMilli(created), fromMilli(expires), fromMilli(used)
	return l, err
}

// UseLink marks a link as used; one that is used already gives Conflict.
func (tx *Tx) UseLink(hash string, at time.Time) error {
	var name string
	err := tx.row(`UPDATE links SET used = $2 WHERE hash = $1 AND used IS NULL RETURNING name`, hash, at.UnixMilli()).Scan(&name)
	if errors.Is(err, sql.ErrNoRows) {
		return kb.Errorf(kb.Conflict, "this link has been used already, or never was")
	}
	return tx.fail(err)
}

// DropLinks forgets the unused links of an account.
func (tx *Tx) DropLinks(name string) error {
	return tx.fail(tx.exec(`DELETE FROM links WHERE name = $1 AND used IS NULL`, name))
}

// Session gives the data of a session by the hash of its token; found is false where there is none or it has expired.
func (s *Store) Session(ctx context.Context, hash string, now time.Time) (data []byte, found bool, err error) {
	err = oneRow(s.view(ctx), `SELECT data FROM sessions WHERE hash = $1 AND expires > $2`, hash, now.UnixMilli()).Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, false, nil
	}
	return data, err == nil, s.wrap(err)
}

// PutSession keeps the data of a session, in place of what was kept of it before, and forgets the sessions that have expired by now.
func (tx *Tx) PutSession(hash string, data []byte, expires, now time.Time) error {
	if data == nil {
		data = []byte{}
	}
	err := tx.exec(`INSERT INTO sessions (hash, data, expires) VALUES ($1, $2, $3)
		ON CONFLICT (hash) DO UPDATE SET data = excluded.data, expires = excluded.expires`, hash, data, expires.UnixMilli())
	if err == nil {
		err = tx.exec(`DELETE FROM sessions WHERE expires <= $1`, now.UnixMilli())
	}
	return tx.fail(err)
}

// DropSession ends a session; one that is not there is ended already.
func (tx *Tx) DropSession(hash string) error {
	return tx.fail(tx.exec(`DELETE FROM sessions WHERE hash = $1`, hash))
}
