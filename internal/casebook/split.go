package casebook

import (
	"ruledout/internal/store"
	"ruledout/kb"
)

// unsplit puts the parts of a split back together.
func (b *Book) unsplit(_ *store.Tx, _ Actor, r store.Record, _ string) ([]Changed, error) {
	return nil, kb.Errorf(kb.Conflict, "case %s was not merged into another, nor split off one", r.Case.ID)
}
