package casebook

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"ruledout/kb"
)

// SheetChoice says whose version of a field is taken where two people changed a job sheet at once.
type SheetChoice string

// The choices. Both is for lists: what either added is in, what either took out is out.
const (
	TakeMine   SheetChoice = "mine"
	TakeTheirs SheetChoice = "theirs"
	TakeBoth   SheetChoice = "both"
)

// SheetDifference is a field in which the version to be saved differs from the one that stands.
type SheetDifference struct {
	Field string      // as in StaleSheet.Differs
	List  bool        // both can be taken
	Usual SheetChoice // what loses nothing; empty: both changed it, and one has to be chosen
}

// Differences compares a version to be saved with the one that stands, where both were made from base.
func (f SheetFacts) Differences(base, theirs SheetFacts) ([]SheetDifference, error) {
	names, err := f.differs(theirs)
	if err != nil {
		return nil, err
	}
	three, err := fieldsOf(f, base, theirs)
	if err != nil {
		return nil, err
	}
	var out []SheetDifference
	for _, name := range names {
		if name == "closed" || name == "reminder" { // never saved this way
			continue
		}
		mine, was, now := three[0][name], three[1][name], three[2][name]
		d := SheetDifference{Field: name, List: isList(mine) && isList(now)}
		switch {
		case string(mine) == string(was):
			d.Usual = TakeTheirs
		case string(now) == string(was):
			d.Usual = TakeMine
		case d.List:
			d.Usual = TakeBoth
		}
		out = append(out, d)
	}
	return out, nil
}

// Settle joins a version to be saved with the one that stands, where both were made from base: each field by the choice for it, else by
// its usual one. A field that both changed and nobody chose for is an error that names it.
func (f SheetFacts) Settle(base, theirs SheetFacts, take map[string]SheetChoice) (SheetFacts, error) {
	list, err := f.Differences(base, theirs)
	if err != nil {
		return SheetFacts{}, err
	}
	three, err := fieldsOf(f, base, theirs)
	if err != nil {
		return SheetFacts{}, err
	}
	out := three[2]
	for _, d := range list {
		choice := d.Usual
		if c, ok := take[d.Field]; ok {
			choice = c
		}
		switch {
		case choice == TakeTheirs:
		case choice == TakeMine:
			out[d.Field] = three[0][d.Field]
		case choice == TakeBoth && d.List:
			if out[d.Field], err = joinLists(three[0][d.Field], three[1][d.Field], three[2][d.Field]); err != nil {
				return SheetFacts{}, err
			}
		default:
			return SheetFacts{}, &kb.Error{Kind: kb.Invalid, Field: d.Field, Msg: "both of you changed it: choose one of the two"}
		}
	}
	return factsOf(out)
}

func fieldsOf(list ...SheetFacts) ([]map[string]json.RawMessage, error) {
	var out []map[string]json.RawMessage
	for _, f := range list {
		m, err := fields(f)
		if err != nil {
			return nil, err
		}
		out = append(out, m)
	}
	return out, nil
}

// factsOf is the way back from fields.
func factsOf(m map[string]json.RawMessage) (SheetFacts, error) {
	all, inCase := map[string]json.RawMessage{}, map[string]json.RawMessage{}
	for name, x := range m {
		switch within, ok := strings.CutPrefix(name, "case."); {
		case x == nil: // the version that was taken has no such field
		case ok:
			inCase[within] = x
		default:
			all[name] = x
		}
	}
	var f SheetFacts
	body, err := json.Marshal(inCase)
	if err == nil {
		all["case"] = body
		body, err = json.Marshal(all)
	}
	if err == nil {
		err = json.Unmarshal(body, &f)
	}
	return f, err
}

// isList tells whether a field is a list; one that is not there may be an empty one.
func isList(x json.RawMessage) bool { return x == nil || len(x) > 0 && x[0] == '[' }

// joinLists gives theirs without what I took out of the list, and with what I put in.
func joinLists(mine, base, theirs json.RawMessage) (json.RawMessage, error) {
	var lists [3][]json.RawMessage
	for i, x := range []json.RawMessage{mine, base, theirs} {
		if x == nil {
			continue
		}
		if err := json.Unmarshal(x, &lists[i]); err != nil {
			return nil, err
		}
	}
	out := []json.RawMessage{}
	for _, x := range lists[2] {
		if !holds(lists[1], x) || holds(lists[0], x) {
			out = append(out, x)
		}
	}
	for _, x := range lists[0] {
		if !holds(lists[1], x) && !holds(lists[2], x) {
			out = append(out, x)
		}
	}
	if len(out) == 0 {
		return nil, nil
	}
	return json.Marshal(out)
}

func holds(list []json.RawMessage, x json.RawMessage) bool {
	return slices.ContainsFunc(list, func(y json.RawMessage) bool { return string(x) == string(y) })
}

// SheetAt gives a job sheet as it stood at a revision, without members, notes and photos.
func (b *Book) SheetAt(ctx context.Context, by Actor, id string, revision int64) (Sheet, error) {
	all, err := b.SheetHistory(ctx, by, id)
	if err != nil {
		return Sheet{}, err
	}
	i := slices.IndexFunc(all, func(s Sheet) bool { return s.Revision == revision })
	if i < 0 {
		return Sheet{}, kb.Errorf(kb.NotFound, "job sheet %s has no revision %d", id, revision)
	}
	return all[i], nil
}

// RevisionDiffers lists for each revision of a job sheet, oldest first, the fields in which it differs from the one before.
func RevisionDiffers(all []Sheet) ([][]string, error) {
	out := make([][]string, len(all))
	for i := 1; i < len(all); i++ {
		list, err := all[i].SheetFacts.differs(all[i-1].SheetFacts)
		if err != nil {
			return nil, fmt.Errorf("history: %w", err)
		}
		out[i] = list
	}
	return out, nil
}
