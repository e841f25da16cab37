package rank

import (
	"encoding/gob"
	"fmt"
	"io"

	"ruledout/kb"
)

// snapshotVersion changes whenever the form of a row or the crediting changes.
const snapshotVersion = 4

// snapshot is a table with its credits, as it is kept between runs. It can always be thrown away and built again from the cases.
type snapshot struct {
	Version int
	Stamp   string // of what it was made from and under which constants
	Rows    []row
	Credits [][]kept
}

// kept is a share of credit by the culprit's number in order of name.
type kept struct {
	F int32
	R float64
}

// Encode writes the model's cases and credits. The stamp says what they were made from.
func (m *Model) Encode(w io.Writer, stamp string) error {
	s := snapshot{Version: snapshotVersion, Stamp: m.stamp(stamp), Credits: make([][]kept, len(m.rows))}
	for i, r := range m.raw {
		s.Rows = append(s.Rows, *r)
		for _, c := range m.credit[i] {
			s.Credits[i] = append(s.Credits[i], kept{c.f, c.r})
		}
	}
	return gob.NewEncoder(w).Encode(s)
}

func (m *Model) stamp(of string) string { return fmt.Sprintf("%s %+v", of, m.p) }

// Decode reads what Encode wrote. Anything that was made from something else, or under other constants, is an error: build afresh then.
func Decode(r io.Reader, t Terms, p Params, stamp string) (*Table, *Model, error) {
	var s snapshot
	if err := gob.NewDecoder(r).Decode(&s); err != nil {
		return nil, nil, fmt.Errorf("read the evidence snapshot: %w", err)
	}
	table := NewTable(t)
	m := table.bare(p)
	if s.Version != snapshotVersion || s.Stamp != m.stamp(stamp) || len(s.Credits) != len(s.Rows) {
		return nil, nil, &kb.Error{Kind: kb.Conflict, Msg: "the evidence snapshot was made from something else"}
	}
	for i := range s.Rows {
		table.rows[s.Rows[i].ID] = &s.Rows[i]
	}
	m = table.bare(p)
	for i, list := range s.Credits {
		m.credit[i] = m.credit[i][:0]
		for _, c := range list {
			if c.F < 0 || int(c.F) >= len(m.names) {
				return nil, nil, &kb.Error{Kind: kb.Conflict, Msg: "the evidence snapshot is damaged"}
			}
			m.credit[i] = append(m.credit[i], share{c.F, c.R})
		}
	}
	m.stats = m.count()
	return table, m, nil
}
