package rank

import (
	"maps"
	"slices"

	"ruledout/kb"
	"ruledout/kb/code"
)

// Clone gives a table of its own with the same cases.
func (t *Table) Clone() *Table { return &Table{terms: t.terms, rows: maps.Clone(t.rows)} }

// Near gives a table of at most so many cases: those named, then those that share the code, its family, the kind of machine, then others; of one
// closeness in the order of a hash of their ids, so that it is a fair sample of them.
func (t *Table) Near(key code.Key, kind string, own []kb.CaseID, most int) *Table {
	type place struct {
		id   kb.CaseID
		far  int
		hash uint64
	}
	var list []place
	for id, r := range t.rows {
		far := 3
		switch {
		case slices.Contains(own, id):
			far = -1
		case slices.ContainsFunc(r.Codes, func(k keyed) bool { return k.Key == key }):
			far = 0
		case key.Family() != "" && slices.ContainsFunc(r.Codes, func(k keyed) bool { return k.Key.Scheme == key.Scheme && k.Key.Family() == key.Family() }):
			far = 1
		case kind != "" && r.Machine.Kind == kind:
			far = 2
		}
		list = append(list, place{id, far, hashOf(id)})
	}
	slices.SortFunc(list, func(a, b place) int {
		return slices.Compare([]uint64{uint64(a.far + 1), a.hash}, []uint64{uint64(b.far + 1), b.hash})
	})
	out := NewTable(t.terms)
	for _, p := range list[:min(most, len(list))] {
		out.rows[p.id] = t.rows[p.id]
	}
	return out
}
