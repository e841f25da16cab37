package store

import (
	"context"
	"database/sql"
	"errors"
	"iter"

	"ruledout/kb"
)

const selectRevision = `SELECT pos, kind, id, verb, state, target, at, actor, reason, body, hash FROM revisions`

// Revisions gives the log after a position, in order, at most limit entries (0: all). A follower that goes on from the
// last position it got sees every entry once.
func (s *Store) Revisions(ctx context.Context, after int64, limit int) ([]Revision, error) {
	if limit <= 0 {
		limit = 1<<31 - 1
	}
	all, err := revisions(s.view(ctx), ` WHERE pos > $1 ORDER BY pos LIMIT $2`, after, limit)
	return all, s.wrap(err)
}

// History gives all revisions and proposals of a case, oldest first. An id that never was gives NotFound.
func (s *Store) History(ctx context.Context, id kb.CaseID) ([]Revision, error) {
	all, err := history(s.view(ctx), id)
	return all, s.wrap(err)
}

// History is Store.History inside the change.
func (tx *Tx) History(id kb.CaseID) ([]Revision, error) {
	all, err := history(tx, id)
	return all, tx.s.wrap(err)
}

func history(q querier, id kb.CaseID) ([]Revision, error) {
	all, err := revisions(q, ` WHERE kind IN ('case', 'proposal') AND id = $1 ORDER BY pos`, string(id))
	if err == nil && len(all) == 0 {
		err = noCase(id)
	}
	return all, err
}

// TouchedBy gives the cases of which a person made a revision, the last touched first.
func (s *Store) TouchedBy(ctx context.Context, actor string) ([]kb.CaseID, error) {
	var out []kb.CaseID
	err := each(s.view(ctx), func(row scanner) error {
		var id string
		err := row.Scan(&id)
		out = append(out, kb.CaseID(id))
		return err
	}, `SELECT id FROM revisions WHERE kind = 'case' AND actor = $1 GROUP BY id ORDER BY max(pos) DESC`, actor)
	return out, s.wrap(err)
}

// CaseDeed is who did what to which case.
type CaseDeed struct {
	ID          kb.CaseID
	Verb, Actor string
}

// Deeds lists the revisions of cases with one of some verbs, oldest first, without their contents.
func (s *Store) Deeds(ctx context.Context, verbs ...string) ([]CaseDeed, error) {
	var out []CaseDeed
	for _, verb := range verbs {
		err := each(s.view(ctx), func(row scanner) error {
			d := CaseDeed{Verb: verb}
			var id string
			err := row.Scan(&id, &d.Actor)
			d.ID = kb.CaseID(id)
			out = append(out, d)
			return err
		}, `SELECT id, actor FROM revisions WHERE kind = 'case' AND verb = $1 ORDER BY pos`, verb)
		if err != nil {
			return nil, s.wrap(err)
		}
	}
	return out, nil
}

// Latest gives the last entry of a kind about one thing, such as the parameters in force.
func (s *Store) Latest(ctx context.Context, kind EntryKind, id string) (Revision, error) {
	r, err := latest(s.view(ctx), kind, id)
	return r, s.wrap(err)
}

// Latest is Store.Latest inside the change.
func (tx *Tx) Latest(kind EntryKind, id string) (Revision, error) {
	r, err := latest(tx, kind, id)
	return r, tx.s.wrap(err)
}

// Marks gives the marks made after a position whose id begins like this, in order.
func (tx *Tx) Marks(after int64, prefix string) ([]Revision, error) {
	all, err := revisions(tx, ` WHERE kind = $1 AND pos > $2 AND substr(id, 1, $3) = $4 ORDER BY pos LIMIT 1000`, string(EntryMark), after, len(prefix), prefix)
	return all, tx.s.wrap(err)
}

func latest(q querier, kind EntryKind, id string) (Revision, error) {
	r, err := scanRevision(oneRow(q, selectRevision+` WHERE kind = $1 AND id = $2 ORDER BY pos DESC LIMIT 1`, string(kind), id))
	if errors.Is(err, sql.ErrNoRows) {
		return r, kb.Errorf(kb.NotFound, "there is no %s %q", kind, id)
	}
	return r, err
}

// Entries gives every entry of a kind in order of the log, few in memory at a time.
func (s *Store) Entries(ctx context.Context, kind EntryKind) iter.Seq2[Revision, error] {
	return func(yield func(Revision, error) bool) {
		rows, err := s.view(ctx).query(selectRevision+` WHERE kind = $1 ORDER BY pos`, string(kind))
		if err != nil {
			yield(Revision{}, s.wrap(err))
			return
		}
		defer rows.Close()
		for rows.Next() {
			r, err := scanRevision(rows)
			if !yield(r, s.wrap(err)) || err != nil {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(Revision{}, s.wrap(err))
		}
	}
}

func revisions(q querier, where string, args ...any) ([]Revision, error) {
	var all []Revision
	err := each(q, func(row scanner) error {
		r, err := scanRevision(row)
		all = append(all, r)
		return err
	}, selectRevision+where, args...)
	return all, err
}

func scanRevision(row scanner) (Revision, error) {
	var r Revision
	var kind, state, target, body string
	var at sql.NullInt64
	err := row.Scan(&r.Pos, &kind, &r.ID, &r.Verb, &state, &target, &at, &r.Actor, &r.Reason, &body, &r.Hash)
	r.Kind, r.State, r.Target, r.At, r.Body = EntryKind(kind), kb.State(state), kb.CaseID(target), fromMilli(at), []byte(body)
	return r, err
}
