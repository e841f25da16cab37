package casebook

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"ruledout/internal/store"
	"ruledout/kb"
)

// newSheetID gives an id that cannot be guessed. That somebody knows it opens nothing: every method asks for membership.
func newSheetID() string { return "j" + tokenHash(newToken())[:24] }

// NewSheet keeps an open case as a job sheet; the actor is its first member.
func (b *Book) NewSheet(ctx context.Context, by Actor, open kb.Case, name string) (Sheet, error) {
	if err := by.may(Contributor, "keep job sheets"); err != nil {
		return Sheet{}, err
	}
	facts := SheetFacts{Name: name, Case: open}.tidied()
	if facts.Case.Status != kb.Open {
		return Sheet{}, kb.Errorf(kb.Invalid, "a job sheet starts with an open case")
	}
	body, err := encodeSheet(facts)
	if err != nil {
		return Sheet{}, err
	}
	s := store.Sheet{ID: newSheetID(), Revision: 1, Body: body, Actor: by.Name, Changed: b.now()}
	if err := b.store.Update(ctx, func(tx *store.Tx) error { return tx.AddSheet(s, by.Name) }); err != nil {
		return Sheet{}, fmt.Errorf("new job sheet: %w", err)
	}
	return b.Sheet(ctx, by, s.ID)
}

// noSheet is what everybody who is no member is told, so that nothing can be learnt about the sheets of others.
func noSheet(id string) error { return kb.Errorf(kb.NotFound, "there is no job sheet %q of yours", id) }

// membership lets members pass, and nobody else: an administrator is no exception.
func membership(by Actor, id string, members []string) error {
	if err := by.may(Contributor, "see job sheets"); err != nil {
		return err
	}
	if !slices.Contains(members, by.Name) {
		return noSheet(id)
	}
	return nil
}

// mine gives the members of a job sheet if the actor is one of them.
func (b *Book) mine(ctx context.Context, by Actor, id string) ([]string, error) {
	members, err := b.store.Members(ctx, id)
	if err != nil {
		return nil, err
	}
	return members, membership(by, id, members)
}

// Sheet gives a job sheet with its members, notes and the list of its photos.
func (b *Book) Sheet(ctx context.Context, by Actor, id string) (Sheet, error) {
	members, err := b.mine(ctx, by, id)
	if err != nil {
		return Sheet{}, err
	}
	kept, err := b.store.Sheet(ctx, id)
	if err != nil {
		return Sheet{}, err
	}
	s, err := sheetOf(kept)
	if err != nil {
		return s, err
	}
	s.Members = members
	notes, err := b.store.Notes(ctx, id)
	if err != nil {
		return s, err
	}
	for _, n := range notes {
		s.Notes = append(s.Notes, SheetNote{N: n.N, At: n.At, By: n.Author, Text: n.Text})
	}
	photos, err := b.store.Photos(ctx, id)
	for _, p := range photos {
		s.Photos = append(s.Photos, photoOf(p))
	}
	return s, err
}

// Sheets lists the actor's job sheets, the last changed first, without members, notes and photos.
func (b *Book) Sheets(ctx context.Context, by Actor) ([]Sheet, error) {
	if err := by.may(Contributor, "keep job sheets"); err != nil {
		return nil, err
	}
	kept, err := b.store.SheetsOf(ctx, by.Name)
	if err != nil {
		return nil, err
	}
	return sheetsOf(kept)
}

// SheetHistory gives every revision of a job sheet, oldest first, without members, notes and photos.
func (b *Book) SheetHistory(ctx context.Context, by Actor, id string) ([]Sheet, error) {
	if _, err := b.mine(ctx, by, id); err != nil {
		return nil, err
	}
	kept, err := b.store.SheetRevisions(ctx, id)
	if err != nil {
		return nil, err
	}
	return sheetsOf(kept)
}

func sheetsOf(kept []store.Sheet) ([]Sheet, error) {
	out := []Sheet{}
	for _, k := range kept {
		s, err := sheetOf(k)
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

// SaveSheet keeps changed facts, if s.Revision is still the last one; it gives the sheet as it then stands. Facts like those that are kept are
// no change and no conflict. If somebody else saved meanwhile nothing is changed: the error is a Conflict with *StaleSheet as its cause. On a closed
// sheet the case stays as it is; name, customer, labour and parts can still be put right.
func (b *Book) SaveSheet(ctx context.Context, by Actor, s Sheet) (Sheet, error) {
	facts := s.SheetFacts.tidied()
	err := b.changeSheet(ctx, by, s.ID, func(tx *store.Tx, now *Sheet) error {
		facts.Closed, facts.Reminder = now.Closed, now.Reminder
		differs, err := facts.differs(now.SheetFacts)
		if err != nil {
			return kb.Errorf(kb.Invalid, "job sheet: %w", err)
		}
		if len(differs) == 0 {
			return nil
		}
		if now.Revision != s.Revision {
			return kb.Errorf(kb.Conflict, "%w", &StaleSheet{Newer: *now, Differs: differs})
		}
		if now.Closed == nil && facts.Case.Status != kb.Open {
			return &kb.Error{Kind: kb.Invalid, Field: "case.status", Msg: "a job sheet is closed with what fixed it, not by its status"}
		}
		if now.Closed != nil && slices.ContainsFunc(differs, ofCase) {
			return kb.Errorf(kb.Conflict, "this job is closed: what was found and done stays as it is")
		}
		now.SheetFacts = facts
		return nil
	})
	if err != nil {
		return Sheet{}, err
	}
	return b.Sheet(ctx, by, s.ID)
}

func ofCase(field string) bool { return strings.HasPrefix(field, "case.") }

// changeSheet loads a job sheet for a member, lets edit change its facts, and appends a revision if they changed: one transaction.
func (b *Book) changeSheet(ctx context.Context, by Actor, id string, edit func(*store.Tx, *Sheet) error) error {
	return b.onSheet(ctx, by, id, func(tx *store.Tx, members []string) error {
		kept, err := tx.Sheet(id)
		if err != nil {
			return err
		}
		s, err := sheetOf(kept)
		if err != nil {
			return err
		}
		s.Members = members
		if err := edit(tx, &s); err != nil {
			return err
		}
		body, err := encodeSheet(s.SheetFacts)
		if err != nil || string(body) == string(kept.Body) {
			return err
		}
		_, err = tx.SaveSheet(store.Sheet{ID: id, Revision: kept.Revision, Body: body, Actor: by.Name, Changed: b.now()})
		return err
	})
}

// AddLabour adds time to a job sheet as it stands; two people adding at once both get theirs in.
func (b *Book) AddLabour(ctx context.Context, by Actor, id string, l Labour) (Sheet, error) {
	if l.Who == "" {
		l.Who = by.Name
	}
	if l.Date == "" {
		l.Date = b.today()
	}
	return b.addTo(ctx, by, id, func(f *SheetFacts) { f.Labour = append(f.Labour, l) })
}

// AddPart adds a part to a job sheet as it stands, as AddLabour does.
func (b *Book) AddPart(ctx context.Context, by Actor, id string, p SheetPart) (Sheet, error) {
	return b.addTo(ctx, by, id, func(f *SheetFacts) { f.Parts = append(f.Parts, p) })
}

func (b *Book) addTo(ctx context.Context, by Actor, id string, add func(*SheetFacts)) (Sheet, error) {
	err := b.changeSheet(ctx, by, id, func(_ *store.Tx, now *Sheet) error {
		add(&now.SheetFacts)
		return nil
	})
	if err != nil {
		return Sheet{}, err
	}
	return b.Sheet(ctx, by, id)
}

func (b *Book) today() string { return b.now().UTC().Format("2006-01-02") }

// AddNote adds a remark to a job sheet.
func (b *Book) AddNote(ctx context.Context, by Actor, id, text string) (SheetNote, error) {
	n := store.Note{At: b.now(), Author: by.Name, Text: tidy(text)}
	if n.Text == "" {
		return SheetNote{}, &kb.Error{Kind: kb.Invalid, Field: "note", Msg: "is empty"}
	}
	if err := short("note", n.Text, maxNote); err != nil {
		return SheetNote{}, err
	}
	err := b.onSheet(ctx, by, id, func(tx *store.Tx, _ []string) (err error) {
		if n.N, err = tx.AddNote(id, n); err == nil && n.N > maxEntries {
			err = kb.Errorf(kb.Conflict, "a job sheet holds at most %d notes", maxEntries)
		}
		return err
	})
	return SheetNote{N: n.N, At: n.At, By: n.Author, Text: n.Text}, err
}

// onSheet makes one change of a job sheet, for a member.
func (b *Book) onSheet(ctx context.Context, by Actor, id string, do func(tx *store.Tx, members []string) error) error {
	return b.store.Update(ctx, func(tx *store.Tx) error {
		members, err := tx.Members(id)
		if err == nil {
			err = membership(by, id, members)
		}
		if err != nil {
			return err
		}
		return do(tx, members)
	})
}

// AddMember lets another person onto a job sheet: one who has an account that is not disabled.
func (b *Book) AddMember(ctx context.Context, by Actor, id, name string) error {
	name, err := personName(name)
	if err != nil {
		return err
	}
	return b.onSheet(ctx, by, id, func(tx *store.Tx, members []string) error {
		a, err := tx.Account(name)
		if err != nil {
			return err
		}
		if a.Disabled {
			return kb.Errorf(kb.Conflict, "account %s is disabled", name)
		}
		if len(members) >= maxMembers {
			return kb.Errorf(kb.Conflict, "a job sheet has at most %d members", maxMembers)
		}
		return tx.AddMember(id, name)
	})
}

// RemoveMember takes a person off a job sheet, oneself too. The last member stays: a sheet that nobody can open would be of no use.
func (b *Book) RemoveMember(ctx context.Context, by Actor, id, name string) error {
	return b.onSheet(ctx, by, id, func(tx *store.Tx, members []string) error {
		switch {
		case !slices.Contains(members, name):
			return kb.Errorf(kb.NotFound, "%s is no member of this job sheet", name)
		case len(members) == 1:
			return kb.Errorf(kb.Conflict, "%s is the last member of this job sheet; delete it instead", name)
		}
		return tx.RemoveMember(id, name)
	})
}

// DeleteSheet deletes a job sheet that was not submitted, with its notes, photos and earlier revisions.
func (b *Book) DeleteSheet(ctx context.Context, by Actor, id string) error {
	return b.onSheet(ctx, by, id, func(tx *store.Tx, _ []string) error {
		s, err := tx.Sheet(id)
		if err != nil {
			return err
		}
		if s.CaseID != "" {
			return kb.Errorf(kb.Conflict, "this job sheet was submitted as case %s and is kept beside it", s.CaseID)
		}
		return tx.DropSheet(id)
	})
}

// SheetOutline is what an administrator sees of the job sheets of others: nothing of their content.
type SheetOutline struct {
	ID        string   `json:"id"`
	Created   string   `json:"created"` // date
	Members   []string `json:"members"`
	Submitted bool     `json:"submitted"`
}

// SheetOutlines lists all job sheets for an administrator, so that one can be erased on request; what is in them stays unseen.
func (b *Book) SheetOutlines(ctx context.Context, by Actor) ([]SheetOutline, error) {
	if err := by.may(Administrator, "list job sheets"); err != nil {
		return nil, err
	}
	kept, err := b.store.AllSheets(ctx)
	if err != nil {
		return nil, err
	}
	out := []SheetOutline{}
	for _, s := range kept {
		members, err := b.store.Members(ctx, s.ID)
		if err != nil {
			return nil, err
		}
		out = append(out, SheetOutline{ID: s.ID, Created: s.Created.Format("2006-01-02"), Members: members, Submitted: s.CaseID != ""})
	}
	return out, nil
}

// EraseSheet deletes any job sheet unseen, a submitted one too: an administrator does so when a person whose data it holds demands it. The
// case that it was submitted as stays; it holds none of that data.
func (b *Book) EraseSheet(ctx context.Context, by Actor, id string) error {
	if err := by.may(Administrator, "erase job sheets"); err != nil {
		return err
	}
	return b.store.Update(ctx, func(tx *store.Tx) error {
		if _, err := tx.Sheet(id); err != nil {
			return err
		}
		return tx.DropSheet(id)
	})
}
