package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"

	"ruledout/kb"
	"ruledout/kb/code"
)

// maxProblems bounds what one check reports: a broken store is broken after a hundred lines too.
const maxProblems = 100

// verifier checks the store as of one moment.
type verifier struct {
	s        *Store
	q        view
	check    string // the check that is running
	found    int    // by it
	problems []Problem
}

func (v *verifier) report(where, format string, args ...any) {
	if v.found++; v.found <= maxProblems {
		v.problems = append(v.problems, Problem{v.check, where, fmt.Sprintf(format, args...)})
	}
}

// Verify checks everything that must hold in a sound store, and gives what does not. It only reads. An error means that the
// check itself could not be done.
func (s *Store) Verify(ctx context.Context) ([]Problem, error) {
	tx, err := s.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, s.wrap(err)
	}
	defer tx.Rollback()
	v := &verifier{s: s, q: view{ctx, tx}}
	checks := []struct {
		name string
		run  func() error
	}{
		{"database", v.database}, {"log", v.log}, {"cases", v.cases}, {"contents", v.contents}, {"redirects", v.redirects},
		{"write-ups", v.writeups}, {"posts", v.posts}, {"evidence", v.evidence}, {"job sheets", v.sheets},
	}
	for _, c := range checks {
		v.check, v.found = c.name, 0
		if err := c.run(); err != nil {
			if !damaged(err) {
				return v.problems, s.wrap(err)
			}
			v.report("file", "%v", err)
		}
		if v.found > maxProblems {
			v.problems = append(v.problems, Problem{c.name, "casebook", fmt.Sprintf("%d more", v.found-maxProblems)})
		}
	}
	return v.problems, nil
}

// database asks the engine to check its own structures.
func (v *verifier) database() error {
	err := each(v.q, func(row scanner) error {
		var line string
		err := row.Scan(&line)
		if line != "ok" {
			v.report("file", "%s", line)
		}
		return err
	}, `PRAGMA integrity_check`)
	if err != nil {
		return err
	}
	return each(v.q, func(row scanner) error {
		var table, parent string
		var id, key sql.NullInt64
		err := row.Scan(&table, &id, &parent, &key)
		v.report("table "+table, "a row refers to a row of %s that is not there", parent)
		return err
	}, `PRAGMA foreign_key_check`)
}

// log sees that positions are gapless, hashes right and the counter at the end.
func (v *verifier) log() error {
	var last Revision
	err := each(v.q, func(row scanner) error {
		r, err := scanRevision(row)
		if err != nil {
			return err
		}
		if r.Pos != last.Pos+1 {
			v.report(at(r.Pos), "follows position %d", last.Pos)
		}
		if r.Hash != r.chain(last.Hash) {
			v.report(at(r.Pos), "the hash does not fit the entry and the one before it")
		}
		last = r
		return nil
	}, selectRevision+` ORDER BY pos`)
	if err != nil {
		return err
	}
	var pos int64
	var hash string
	if err := oneRow(v.q, `SELECT pos, hash FROM log_position`).Scan(&pos, &hash); err != nil {
		return err
	}
	if pos != last.Pos || hash != last.Hash {
		v.report(at(pos), "the counter stands here, the log ends at %d, or their hashes differ", last.Pos)
	}
	return nil
}

func at(pos int64) string { return "position " + strconv.FormatInt(pos, 10) }

// cases sees that the current state of every case is what the log gives: its last revision, its first one, and its
// last proposal if that one has a content.
func (v *verifier) cases() error {
	return each(v.q, func(row scanner) error {
		var id string
		var pos, first, proposal, wantPos, wantFirst, wantProposal sql.NullInt64
		var created, changed, wantCreated, wantChanged sql.NullInt64
		if err := row.Scan(&id, &pos, &first, &proposal, &created, &changed, &wantPos, &wantFirst, &wantProposal, &wantCreated, &wantChanged); err != nil {
			return err
		}
		switch {
		case !wantPos.Valid:
			v.report("case "+id, "is not in the log")
		case !pos.Valid:
			v.report("case "+id, "is in the log at %d, but has no current state", wantPos.Int64)
		case pos != wantPos || first != wantFirst:
			v.report("case "+id, "stands at %d (first %d), the log says %d (%d)", pos.Int64, first.Int64, wantPos.Int64, wantFirst.Int64)
		case proposal != wantProposal:
			v.report("case "+id, "a proposal waits at %d, the log says %d", proposal.Int64, wantProposal.Int64)
		case created != wantCreated || changed != wantChanged:
			v.report("case "+id, "its times are not those of its revisions")
		}
		return nil
	}, `SELECT x.id, c.pos, c.first_pos, c.proposal_pos, c.created, c.changed, l.pos, l.first, w.pos, f.at, r.at
		FROM (SELECT id FROM cases UNION SELECT id FROM revisions WHERE kind IN ('case', 'proposal')) x
		LEFT JOIN cases c ON c.id = x.id
		LEFT JOIN (SELECT id, max(pos) AS pos, min(pos) AS first FROM revisions WHERE kind = 'case' GROUP BY id) l ON l.id = x.id
		LEFT JOIN (SELECT id, max(pos) AS pos FROM revisions WHERE kind = 'proposal' GROUP BY id) lp ON lp.id = x.id
		LEFT JOIN revisions w ON w.pos = lp.pos AND w.body <> ''
		LEFT JOIN revisions f ON f.pos = l.first
		LEFT JOIN revisions r ON r.pos = l.pos
		ORDER BY x.id`)
}

// contents sees that what cases are found by agrees with what they hold.
func (v *verifier) contents() error {
	return v.eachID("case ", v.content, `SELECT id FROM cases ORDER BY id`)
}

// eachID runs a check for every id of a query. The ids are read first: not every engine answers one query inside another.
func (v *verifier) eachID(what string, check func(id string) error, query string) error {
	var ids []string
	err := each(v.q, func(row scanner) error {
		var id string
		err := row.Scan(&id)
		ids = append(ids, id)
		return err
	}, query)
	if err != nil {
		return err
	}
	for _, id := range ids {
		err := check(id)
		switch {
		case errors.Is(err, sql.ErrNoRows):
			v.report(what+id, "the revision that it stands at is not there")
		case err != nil:
			return err
		}
	}
	return nil
}

func (v *verifier) content(id string) error {
	var body string
	have := current{}
	err := oneRow(v.q, `SELECT c.state, c.status, c.kind, c.make, c.model, r.body FROM cases c JOIN revisions r ON r.pos = c.pos WHERE c.id = $1`, id).
		Scan(&have.State, &have.Status, &have.Kind, &have.Make, &have.Model, &body)
	if err != nil {
		return err
	}
	c, err := kb.DecodeCase([]byte(body))
	if err != nil {
		v.report("case "+id, "cannot be read: %v", err)
		return nil
	}
	if string(c.ID) != id {
		v.report("case "+id, "holds the case %s", c.ID)
	}
	if err := v.foundBy(id, &have); err != nil {
		return err
	}
	want := currentOf(&c)
	want.sort()
	if a, b := fmt.Sprint(have), fmt.Sprint(want); a != b {
		v.report("case "+id, "is found by %s, but holds %s", a, b)
	}
	return nil
}

func (v *verifier) foundBy(id string, have *current) error {
	err := each(v.q, func(row scanner) error {
		var scheme, family string
		var k code.Key
		if err := row.Scan(&scheme, &family, &k.Issuer, &k.Code); err != nil {
			return err
		}
		k.Scheme = code.Scheme(scheme)
		if family != k.Family() {
			v.report("case "+id, "code %s stands in the family %q", k, family)
		}
		have.Codes = append(have.Codes, k)
		return nil
	}, `SELECT scheme, family, issuer, code FROM case_codes WHERE case_id = $1`, id)
	if err != nil {
		return err
	}
	err = each(v.q, func(row scanner) error {
		var w string
		err := row.Scan(&w)
		have.Writeups = append(have.Writeups, w)
		return err
	}, `SELECT writeup FROM case_writeups WHERE case_id = $1`, id)
	have.sort()
	return err
}

func (c *current) sort() {
	slices.SortFunc(c.Codes, func(a, b code.Key) int { return slices.Compare([]string{a.String()}, []string{b.String()}) })
	slices.Sort(c.Writeups)
}

// redirects sees that exactly the merged cases lead on, and all to a case that is not merged.
func (v *verifier) redirects() error {
	to := map[string]string{}
	err := each(v.q, func(row scanner) error {
		var id, target, state string
		var next sql.NullString
		if err := row.Scan(&id, &state, &target, &next); err != nil {
			return err
		}
		if next.String != target || (state == string(kb.Merged)) != (target != "") {
			v.report("case "+id, "is %s and leads to %q, the log says %q", state, next.String, target)
		}
		if next.Valid {
			to[id] = next.String
		}
		return nil
	}, `SELECT c.id, c.state, r.target, d.new_id FROM cases c JOIN revisions r ON r.pos = c.pos LEFT JOIN redirects d ON d.old_id = c.id
		WHERE d.new_id IS NOT NULL OR r.target <> '' OR c.state = 'merged' ORDER BY c.id`)
	if err != nil {
		return err
	}
	for _, id := range sortedKeys(to) {
		at := id
		for range to {
			if to[at] == "" {
				break
			}
			at = to[at]
		}
		if to[at] != "" {
			v.report("case "+id, "leads in a circle")
		}
	}
	return nil
}

func sortedKeys(m map[string]string) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// writeups sees that the current state of every write-up is its last revision, with every post that it names.
func (v *verifier) writeups() error {
	err := each(v.q, func(row scanner) error {
		var key string
		var pos, want sql.NullInt64
		err := row.Scan(&key, &pos, &want)
		if pos != want {
			v.report("write-up "+key, "stands at %d, the log says %d", pos.Int64, want.Int64)
		}
		return err
	}, `SELECT x.id, w.pos, l.pos FROM (SELECT writeup AS id FROM writeups UNION SELECT id FROM revisions WHERE kind = 'writeup') x
		LEFT JOIN writeups w ON w.writeup = x.id
		LEFT JOIN (SELECT id, max(pos) AS pos FROM revisions WHERE kind = 'writeup' GROUP BY id) l ON l.id = x.id ORDER BY x.id`)
	if err != nil {
		return err
	}
	return v.eachID("write-up ", v.writeup, `SELECT writeup FROM writeups ORDER BY writeup`)
}

func (v *verifier) writeup(key string) error {
	m, _, err := currentManifest(v.q, kb.WriteupKey(key))
	if unreadable := (*kb.Error)(nil); errors.As(err, &unreadable) {
		v.report("write-up "+key, "%v", err)
		return nil
	}
	if err != nil {
		return err
	}
	w, err := writeup(v.q, kb.WriteupKey(key))
	if err != nil {
		return err
	}
	again, err := newManifest(w)
	if err != nil {
		v.report("write-up "+key, "%v", err)
		return nil
	}
	for i, p := range w.Posts {
		again.Posts[i].Pos = p.Pos
	}
	if !again.same(m) {
		v.report("write-up "+key, "it or its posts are not what its revision says")
	}
	return nil
}

// posts sees that every version of a post, old ones too, is what its hash says, and that its revision names that hash.
func (v *verifier) posts() error {
	return each(v.q, func(row scanner) error {
		var p Post
		var key, regions, hash, kind, id, body string
		var time sql.NullInt64
		if err := row.Scan(&key, &p.N, &p.Pos, &p.Author, &time, &p.Text, &regions, &hash, &kind, &id, &body); err != nil {
			return err
		}
		p.Time, p.Regions = fromMilli(time), json.RawMessage(regions)
		var m manifest
		where := fmt.Sprintf("write-up %s, post %d, %s", key, p.N, at(p.Pos))
		switch {
		case hash != p.hash():
			v.report(where, "its words are not what its hash says")
		case kind != string(EntryWriteup) || id != key || json.Unmarshal([]byte(body), &m) != nil || p.N > len(m.Posts) || m.Posts[p.N-1].Pos != p.Pos || m.Posts[p.N-1].Hash != hash:
			v.report(where, "the revision there does not name it")
		}
		return nil
	}, `SELECT p.writeup, p.n, p.pos, p.author, p.at, p.body, p.regions, p.hash, r.kind, r.id, r.body
		FROM posts p JOIN revisions r ON r.pos = p.pos ORDER BY p.writeup, p.n, p.pos`)
}

// evidence sees that the words quoted by current cases stand where they are said to. Cases may come from elsewhere without
// their write-ups: of a write-up that the store does not have nothing can be said.
func (v *verifier) evidence() error {
	return v.eachID("case ", v.spans, `SELECT DISTINCT cw.case_id FROM case_writeups cw JOIN writeups w ON w.writeup = cw.writeup ORDER BY cw.case_id`)
}

func (v *verifier) spans(id string) error {
	var body string
	if err := oneRow(v.q, `SELECT r.body FROM cases c JOIN revisions r ON r.pos = c.pos WHERE c.id = $1`, id).Scan(&body); err != nil {
		return err
	}
	c, err := kb.DecodeCase([]byte(body))
	if err != nil {
		return nil // reported by contents
	}
	for ev, field := range evidence(&c) {
		if err := v.span(id, field, ev); err != nil {
			return err
		}
	}
	return nil
}

func (v *verifier) span(id, field string, ev kb.Evidence) error {
	var one int
	err := oneRow(v.q, `SELECT 1 FROM writeups WHERE writeup = $1`, string(ev.Writeup)).Scan(&one)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err == nil {
		_, err = evidencePost(v.q, ev)
	}
	if kb.KindOf(err) == kb.NotFound {
		v.report("case "+id, "%s: %v", field, err)
		return nil
	}
	return err
}
