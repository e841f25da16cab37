package store

import (
	"slices"

	"ruledout/kb"
	"ruledout/kb/code"
)

// current is what the tables of the current state hold of a case beside positions and times: what it can be found by.
type current struct {
	State, Status, Kind, Make, Model string
	Codes                            []code.Key
	Writeups                         []string
}

// currentOf derives it from the content. Codes that cannot be read are not found by code.
func currentOf(c *kb.Case) current {
	now := current{State: string(c.State), Status: string(c.Status), Kind: kb.Fold(c.Machine.Kind), Make: kb.Fold(c.Machine.Make),
		Model: kb.Fold(c.Machine.Model)}
	for _, e := range c.Codes {
		if k, err := e.Key(c.Machine.Make); err == nil && !slices.Contains(now.Codes, k) {
			now.Codes = append(now.Codes, k)
		}
	}
	add := func(w kb.WriteupKey) {
		if w != "" && !slices.Contains(now.Writeups, string(w)) {
			now.Writeups = append(now.Writeups, string(w))
		}
	}
	for _, src := range c.Sources {
		add(src.Writeup)
	}
	for ev := range evidence(c) {
		add(ev.Writeup)
	}
	return now
}

// evidence visits every span that a case was read from, with the field it belongs to.
func evidence(c *kb.Case) func(yield func(kb.Evidence, string) bool) {
	lists := []fieldEvidence{{"machine", c.Machine.Evidence}, {"status", c.StatusEvidence}}
	for _, e := range c.Codes {
		lists = append(lists, fieldEvidence{"codes", e.Evidence})
	}
	for _, x := range c.Symptoms {
		lists = append(lists, fieldEvidence{"symptoms", x.Evidence})
	}
	for _, t := range c.Tests {
		lists = append(lists, fieldEvidence{"tests", t.Evidence})
	}
	for _, f := range c.Fixes {
		lists = append(lists, fieldEvidence{"fixes", f.Evidence})
	}
	for _, d := range c.Doubts {
		lists = append(lists, fieldEvidence{"doubts", d.Evidence})
	}
	return func(yield func(kb.Evidence, string) bool) {
		for _, l := range lists {
			for _, ev := range l.list {
				if !yield(ev, l.field) {
					return
				}
			}
		}
	}
}

type fieldEvidence struct {
	field string
	list  []kb.Evidence
}

// setCurrent makes the content of a revision the current one of its case.
func (tx *Tx) setCurrent(e Entry, r Revision) error {
	now := currentOf(e.Case)
	var first int64
	err := tx.row(`INSERT INTO cases (id, pos, first_pos, created, changed, state, status, kind, make, model)
		VALUES ($1, $2, $2, $3, $3, $4, $5, $6, $7, $8)
		ON CONFLICT (id) DO UPDATE SET pos = excluded.pos, changed = excluded.changed, state = excluded.state, status = excluded.status,
		kind = excluded.kind, make = excluded.make, model = excluded.model
		RETURNING first_pos`, r.ID, r.Pos, r.At.UnixMilli(), now.State, now.Status, now.Kind, now.Make, now.Model).Scan(&first)
	if err != nil {
		return err
	}
	if first != r.Pos {
		if err := tx.forget(r.ID); err != nil {
			return err
		}
	}
	for _, k := range now.Codes {
		err := tx.exec(`INSERT INTO case_codes (case_id, scheme, family, issuer, code) VALUES ($1, $2, $3, $4, $5)`,
			r.ID, string(k.Scheme), k.Family(), k.Issuer, k.Code)
		if err != nil {
			return err
		}
	}
	for _, w := range now.Writeups {
		if err := tx.exec(`INSERT INTO case_writeups (case_id, writeup) VALUES ($1, $2)`, r.ID, w); err != nil {
			return err
		}
	}
	if e.Target == "" {
		return nil
	}
	return tx.exec(`INSERT INTO redirects (old_id, new_id, pos) VALUES ($1, $2, $3)`, r.ID, string(e.Target), r.Pos)
}

// forget drops what the last content of a case was found by.
func (tx *Tx) forget(id string) error {
	for _, query := range []string{`DELETE FROM case_codes WHERE case_id = $1`, `DELETE FROM case_writeups WHERE case_id = $1`,
		`DELETE FROM redirects WHERE old_id = $1`} {
		if err := tx.exec(query, id); err != nil {
			return err
		}
	}
	return nil
}

// setProposal lets a content wait for a moderator, or none any more.
func (tx *Tx) setProposal(e Entry, r Revision) error {
	var pos any
	if e.Case != nil {
		pos = r.Pos
	}
	return tx.exec(`UPDATE cases SET proposal_pos = $2 WHERE id = $1`, r.ID, pos)
}
