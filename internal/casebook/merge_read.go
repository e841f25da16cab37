package casebook

import (
	"ruledout/internal/store"
	"ruledout/kb"
)

// readAgain gives what a case is after a new reading of its write-up. A case that stands for merged ones is not only that write-up: the reading
// is joined to it.
func (b *Book) readAgain(tx *store.Tx, read, old kb.Case) (kb.Case, error) {
	joined, err := tx.IsTarget(old.ID)
	if err != nil || !joined {
		return carryOver(read, old), err
	}
	return b.joinedReading(read, old)
}

// joinedReading joins a reading to a case: what people settled there stays, and new facts are added.
func (b *Book) joinedReading(read, old kb.Case) (kb.Case, error) {
	read.ID, read.State, read.MergedInto = "read", old.State, ""
	take := map[string]kb.CaseID{}
	for _, f := range []string{"title", "reporter", "contributor", "status", "state"} {
		take[f] = old.ID
	}
	return kb.Merge(old, []kb.Case{read}, kb.MergeOptions{Vocabulary: b.Vocabulary(), Take: take})
}

// withWaiting gives a case that stands for merged ones together with the reading that waits beside it, so that one reading does not take the
// place of another telling's.
func (b *Book) withWaiting(tx *store.Tx, r store.Record) (kb.Case, error) {
	joined, err := tx.IsTarget(r.Case.ID)
	if err != nil || !joined || r.Proposal == nil {
		return r.Case, err
	}
	return b.joinedReading(*r.Proposal, r.Case)
}

func withState(c kb.Case, s kb.State) kb.Case {
	c.State = s
	return c
}

// addToSurvivor lets new facts of the write-up of a merged case wait for a moderator beside the case that stands for it. The merged case
// itself stays as it is, and known facts change nothing.
func (b *Book) addToSurvivor(tx *store.Tx, by Actor, d kb.Case, known bool) (Added, error) {
	r, err := tx.Case(d.ID)
	if err != nil || known || r.Case.State == kb.Withdrawn {
		return Added{Case: r.Case, Effect: EffectKept}, err
	}
	base, err := b.withWaiting(tx, r)
	if err != nil {
		return Added{}, err
	}
	next, err := b.joinedReading(d, base)
	if err != nil {
		return Added{}, err
	}
	for _, have := range []*kb.Case{&r.Case, r.Proposal} {
		if have == nil {
			continue
		}
		if same, err := equal(next, *have); err != nil || same {
			return Added{Case: r.Case, Effect: EffectKept}, err
		}
	}
	return b.appendRead(tx, by, next, store.EntryProposal, verbReread, EffectProposed)
}

// wasSplit tells whether a person parted a case into several: a reading of the whole write-up would put the facts of all back into one.
func wasSplit(tx *store.Tx, id kb.CaseID) (bool, error) {
	_, err := tx.Latest(store.EntryMark, splitMarkID(id))
	if kb.KindOf(err) == kb.NotFound {
		return false, nil
	}
	return err == nil, err
}
