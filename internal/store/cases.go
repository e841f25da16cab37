package store

import (
	"context"
	"database/sql"
	"errors"
	"iter"
	"strconv"
	"strings"

	"ruledout/kb"
	"ruledout/kb/code"
)

const selectRecord = `SELECT c.id, c.pos, c.created, c.changed, r.body, c.proposal_pos, p.body
	FROM cases c JOIN revisions r ON r.pos = c.pos LEFT JOIN revisions p ON p.pos = c.proposal_pos`

// Case gives a case as it stands. An id that was merged into another case gives that other one.
func (s *Store) Case(ctx context.Context, id kb.CaseID) (Record, error) {
	r, err := followed(s.view(ctx), id)
	return r, s.wrap(err)
}

// Record gives a case as it stands under exactly this id, merged or not.
func (s *Store) Record(ctx context.Context, id kb.CaseID) (Record, error) {
	r, err := record(s.view(ctx), id)
	return r, s.wrap(err)
}

// Case is Store.Case inside the change.
func (tx *Tx) Case(id kb.CaseID) (Record, error) {
	r, err := followed(tx, id)
	return r, tx.s.wrap(err)
}

// Record is Store.Record inside the change.
func (tx *Tx) Record(id kb.CaseID) (Record, error) {
	r, err := record(tx, id)
	return r, tx.s.wrap(err)
}

// Redirects lists the ids that were merged into a case, directly, in order.
func (s *Store) Redirects(ctx context.Context, id kb.CaseID) ([]kb.CaseID, error) {
	var ids []kb.CaseID
	err := each(s.view(ctx), func(row scanner) error {
		var old string
		err := row.Scan(&old)
		ids = append(ids, kb.CaseID(old))
		return err
	}, `SELECT old_id FROM redirects WHERE new_id = $1 ORDER BY old_id`, string(id))
	return ids, s.wrap(err)
}

// IsTarget tells whether other ids lead to a case.
func (tx *Tx) IsTarget(id kb.CaseID) (bool, error) {
	var n int
	err := tx.row(`SELECT count(*) FROM redirects WHERE new_id = $1`, string(id)).Scan(&n)
	return n > 0, tx.s.wrap(err)
}

func followed(q querier, id kb.CaseID) (Record, error) {
	for { // Append lets no circle come about
		next, err := redirect(q, id)
		if err != nil {
			return Record{}, err
		}
		if next == "" {
			return record(q, id)
		}
		id = next
	}
}

// redirect gives the case that an id was merged into, empty if it was not.
func redirect(q querier, id kb.CaseID) (kb.CaseID, error) {
	var next string
	err := oneRow(q, `SELECT new_id FROM redirects WHERE old_id = $1`, string(id)).Scan(&next)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return kb.CaseID(next), err
}

func record(q querier, id kb.CaseID) (Record, error) {
	r, err := scanRecord(oneRow(q, selectRecord+` WHERE c.id = $1`, string(id)))
	if errors.Is(err, sql.ErrNoRows) {
		return Record{}, noCase(id)
	}
	return r, err
}

func scanRecord(row scanner) (Record, error) {
	var (
		r                Record
		id, body         string
		created, changed sql.NullInt64
		proposalPos      sql.NullInt64
		proposal         sql.NullString
	)
	if err := row.Scan(&id, &r.Pos, &created, &changed, &body, &proposalPos, &proposal); err != nil {
		return Record{}, err
	}
	var err error
	if r.Case, err = decodeCase([]byte(body), r.Pos); err != nil {
		return Record{}, err
	}
	r.Created, r.Changed = fromMilli(created), fromMilli(changed)
	if proposalPos.Valid {
		c, err := decodeCase([]byte(proposal.String), proposalPos.Int64)
		if err != nil {
			return Record{}, err
		}
		r.Proposal, r.ProposalPos = &c, proposalPos.Int64
	}
	return r, nil
}

func decodeCase(body []byte, pos int64) (kb.Case, error) {
	c, err := kb.DecodeCase(body)
	if err != nil {
		return c, kb.Errorf(kb.Internal, "revision %d holds no readable case: %w", pos, err)
	}
	return c, nil
}

// Cases gives the cases that a filter lets through, in order of id, as of one moment. Few are in memory at a time; the
// store may be used meanwhile.
func (s *Store) Cases(ctx context.Context, f Filter) iter.Seq2[Record, error] {
	where, args := f.where()
	return func(yield func(Record, error) bool) {
		rows, err := s.view(ctx).query(selectRecord+where, args...)
		if err != nil {
			yield(Record{}, s.wrap(err))
			return
		}
		defer rows.Close()
		for rows.Next() {
			r, err := scanRecord(rows)
			if !yield(r, s.wrap(err)) || err != nil {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(Record{}, s.wrap(err))
		}
	}
}

// conditions collects what a query asks for, with its numbered arguments.
type conditions struct {
	list []string
	args []any
}

// arg adds an argument and gives its place in the query.
func (c *conditions) arg(value any) string {
	c.args = append(c.args, value)
	return "$" + strconv.Itoa(len(c.args))
}

func (c *conditions) equal(column, value string) {
	if value != "" {
		c.list = append(c.list, column+" = "+c.arg(value))
	}
}

func (c *conditions) String() string {
	if len(c.list) == 0 {
		return ""
	}
	return " WHERE " + strings.Join(c.list, " AND ")
}

func (f Filter) where() (string, []any) {
	var c conditions
	if len(f.States) > 0 {
		var places []string
		for _, state := range f.States {
			places = append(places, c.arg(string(state)))
		}
		c.list = append(c.list, "c.state IN ("+strings.Join(places, ", ")+")")
	}
	c.equal("c.status", string(f.Status))
	c.equal("c.kind", kb.Fold(f.Kind))
	c.equal("c.make", kb.Fold(f.Make))
	c.equal("c.model", kb.Fold(f.Model))
	if len(f.Keys) > 0 {
		c.list = append(c.list, "c.id IN (SELECT case_id FROM case_codes WHERE "+c.anyKey(f.Keys)+")")
	}
	if f.Writeup != "" {
		c.list = append(c.list, "c.id IN (SELECT case_id FROM case_writeups WHERE writeup = "+c.arg(string(f.Writeup))+")")
	}
	if f.Proposals {
		c.list = append(c.list, "c.proposal_pos IS NOT NULL")
	}
	if f.ChangedPos > 0 {
		pos := c.arg(f.ChangedPos)
		c.list = append(c.list, "(c.pos > "+pos+" OR c.proposal_pos > "+pos+")")
	}
	if f.After != "" {
		c.list = append(c.list, "c.id > "+c.arg(string(f.After)))
	}
	text := c.String() + " ORDER BY c.id"
	if f.Limit > 0 {
		text += " LIMIT " + c.arg(f.Limit)
	}
	return text, c.args
}

func (c *conditions) anyKey(keys []code.Key) string {
	var alternatives []string
	for _, k := range keys {
		alternatives = append(alternatives, "(scheme = "+c.arg(string(k.Scheme))+" AND family = "+c.arg(k.Family())+" AND issuer = "+c.arg(k.Issuer)+
			" AND code = "+c.arg(k.Code)+")")
	}
	return strings.Join(alternatives, " OR ")
}

// Count says how much the store holds.
func (s *Store) Count(ctx context.Context) (Counts, error) {
	n := Counts{Cases: map[kb.State]int{}}
	q := s.view(ctx)
	err := each(q, func(row scanner) error {
		var state, status string
		var count int
		if err := row.Scan(&state, &status, &count); err != nil {
			return err
		}
		n.Cases[kb.State(state)] += count
		switch {
		case kb.State(state) == kb.Published && kb.Status(status) == kb.Closed:
			n.Closed += count
		case kb.State(state) == kb.Published:
			n.Open += count
		}
		return nil
	}, `SELECT state, status, count(*) FROM cases GROUP BY state, status`)
	if err != nil {
		return Counts{}, s.wrap(err)
	}
	err = oneRow(q, `SELECT (SELECT count(*) FROM cases WHERE proposal_pos IS NOT NULL), (SELECT count(*) FROM writeups),
		(SELECT count(*) FROM posts), (SELECT pos FROM log_position)`).Scan(&n.Proposals, &n.Writeups, &n.Posts, &n.Revisions)
	return n, s.wrap(err)
}
