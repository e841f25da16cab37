package casebook_test

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/kb/limit"
)

var bert = casebook.Actor{Name: "bert", Role: casebook.Contributor}

// job starts a job sheet of anna's on a cold van.
func job(t *testing.T, b *casebook.Book) casebook.Sheet {
	t.Helper()
	c, err := b.Understand(cold)
	require.NoError(t, err)
	c.Machine.Odometer = &kb.Measure{Value: 81200, Unit: "km"}
	s, err := b.NewSheet(t.Context(), anna, c, " The postman's van ")
	require.NoError(t, err)
	return s
}

// together makes bert a member of a sheet of anna's.
func together(t *testing.T, b *casebook.Book, s casebook.Sheet) {
	t.Helper()
	_, err := b.AddUser(t.Context(), chief, "bert", casebook.Contributor)
	require.NoError(t, err)
	require.NoError(t, b.AddMember(t.Context(), anna, s.ID, "Bert"))
}

func eur(amount string) *kb.Money { return &kb.Money{Amount: amount, Currency: "EUR"} }

func TestASheetIsKeptAndComesBack(t *testing.T) {
	b := open(t, t.TempDir())
	s := job(t, b)
	assert.Equal(t, "The postman's van", s.Name)
	assert.Equal(t, []string{"anna"}, s.Members)
	assert.Equal(t, kb.Open, s.Case.Status)
	assert.Empty(t, s.Case.ID)

	low, high, ohms := 75.0, 95.0, 84.0
	s.Customer = "House at the weir, pays in cash"
	s.Case.Tests = []kb.Test{{Step: 1, Test: "coil resistance", Component: "heater relay", Minutes: 10,
		Reading: &kb.Reading{Value: &ohms, Unit: "ohm", Limit: &kb.Limit{Low: &low, High: &high, Unit: "ohm"}}},
		{Step: 2, Test: "looked at", Component: "heater fuse", Result: kb.Pass}}
	saved, err := b.SaveSheet(t.Context(), anna, s)
	require.NoError(t, err)
	assert.Equal(t, int64(2), saved.Revision)
	again, err := b.SaveSheet(t.Context(), anna, saved)
	require.NoError(t, err)
	assert.Equal(t, int64(2), again.Revision, "the same is no change")
	assert.Equal(t, saved.SheetFacts, again.SheetFacts)

	verdicts := saved.Verdicts()
	require.Len(t, verdicts, 2)
	require.NotNil(t, verdicts[0])
	assert.Equal(t, limit.Conforms, verdicts[0].Decision)
	assert.Nil(t, verdicts[1])

	list, err := b.Sheets(t.Context(), anna)
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.Equal(t, saved.SheetFacts, list[0].SheetFacts)
	history, err := b.SheetHistory(t.Context(), anna, s.ID)
	require.NoError(t, err)
	require.Len(t, history, 2)
	assert.Empty(t, history[0].Customer)
	whole(t, b)
}

// TestASheetIsInNothingOfTheBook looks for a sheet everywhere where cases are seen.
func TestASheetIsInNothingOfTheBook(t *testing.T) {
	b := open(t, t.TempDir())
	add(t, b, true, writeup("a.md", relayText))
	before, err := b.Count(t.Context())
	require.NoError(t, err)
	s := job(t, b)
	s.Case.Title, s.Case.Symptoms = "zanderfish smell", []kb.Symptom{{Symptom: "zanderfish smell"}}
	_, err = b.SaveSheet(t.Context(), anna, s)
	require.NoError(t, err)
	_, err = b.AddNote(t.Context(), anna, s.ID, "zanderfish")
	require.NoError(t, err)
	_, err = b.CloseSheet(t.Context(), anna, s.ID, 2, casebook.SheetClosing{Fixed: []kb.Fix{{Action: kb.Replace, Component: "heater fuse"}}})
	require.NoError(t, err)

	after, err := b.Count(t.Context())
	require.NoError(t, err)
	assert.Equal(t, before, after)
	var out bytes.Buffer
	_, err = b.Export(t.Context(), &out, casebook.ExportOptions{})
	require.NoError(t, err)
	assert.NotContains(t, out.String(), "zanderfish")
	found, err := b.Find(t.Context(), "zanderfish", casebook.FindOptions{States: kb.States()})
	require.NoError(t, err)
	assert.Zero(t, found.Total)
	assert.Equal(t, "heater relay", leader(t, b, cold))
	whole(t, b)
}

func TestAConcurrentEditIsShown(t *testing.T) {
	b := open(t, t.TempDir())
	s := job(t, b)
	together(t, b, s)
	theirs := s
	theirs.Name, theirs.Case.Title = "Van of the post", "no heat"
	_, err := b.SaveSheet(t.Context(), bert, theirs)
	require.NoError(t, err)

	mine := s
	mine.Case.Title, mine.Rate = "cold", eur("60")
	_, err = b.SaveSheet(t.Context(), anna, mine)
	kindIs(t, kb.Conflict, err)
	var stale *casebook.StaleSheet
	require.ErrorAs(t, err, &stale)
	assert.Equal(t, "Van of the post", stale.Newer.Name)
	assert.Equal(t, "bert", stale.Newer.By)
	assert.Equal(t, int64(2), stale.Newer.Revision)
	assert.Equal(t, []string{"case.title", "name", "rate"}, stale.Differs)
	now, err := b.Sheet(t.Context(), anna, s.ID)
	require.NoError(t, err)
	assert.Equal(t, "no heat", now.Case.Title, "nothing of it was changed")

	mine.Revision = stale.Newer.Revision // seen, and decided
	_, err = b.SaveSheet(t.Context(), anna, mine)
	require.NoError(t, err)
	_, err = b.CloseSheet(t.Context(), bert, s.ID, 2, casebook.SheetClosing{As: kb.WentAway})
	kindIs(t, kb.Conflict, err)
	require.ErrorAs(t, err, &stale)
	assert.Equal(t, []string{"case.title", "name", "rate"}, stale.Differs, "between what bert saw and how it stands")
	same, err := b.Sheet(t.Context(), anna, s.ID)
	require.NoError(t, err)
	same.Revision = 1
	_, err = b.SaveSheet(t.Context(), bert, same)
	require.NoError(t, err, "two who write the same do not disagree")

	// What is only added needs no revision.
	for _, by := range []casebook.Actor{anna, bert} {
		_, err = b.AddLabour(t.Context(), by, s.ID, casebook.Labour{Minutes: 15})
		require.NoError(t, err)
		_, err = b.AddPart(t.Context(), by, s.ID, casebook.SheetPart{Name: "fuse"})
		require.NoError(t, err)
	}
	now, err = b.Sheet(t.Context(), anna, s.ID)
	require.NoError(t, err)
	assert.Len(t, now.Parts, 2)
	assert.Equal(t, []casebook.Labour{{Who: "anna", Date: "2025-03-01", Minutes: 15}, {Who: "bert", Date: "2025-03-01", Minutes: 15}}, now.Labour)
}

// TestNobodyElseSeesASheet calls every method on a sheet as everybody who is no member.
func TestNobodyElseSeesASheet(t *testing.T) {
	b := open(t, t.TempDir())
	s := job(t, b)
	_, err := b.AddPhoto(t.Context(), anna, s.ID, pngOf(t, 8, 6), "")
	require.NoError(t, err)
	ctx := t.Context()
	methods := map[string]func(by casebook.Actor) error{
		"Sheet":        func(by casebook.Actor) error { _, err := b.Sheet(ctx, by, s.ID); return err },
		"SheetHistory": func(by casebook.Actor) error { _, err := b.SheetHistory(ctx, by, s.ID); return err },
		"SaveSheet":    func(by casebook.Actor) error { _, err := b.SaveSheet(ctx, by, s); return err },
		"stale save": func(by casebook.Actor) error {
			old := s
			old.Revision = 9
			_, err := b.SaveSheet(ctx, by, old)
			return err
		},
		"AddLabour": func(by casebook.Actor) error { _, err := b.AddLabour(ctx, by, s.ID, casebook.Labour{}); return err },
		"AddPart": func(by casebook.Actor) error {
			_, err := b.AddPart(ctx, by, s.ID, casebook.SheetPart{Name: "x"})
			return err
		},
		"AddNote":      func(by casebook.Actor) error { _, err := b.AddNote(ctx, by, s.ID, "x"); return err },
		"AddMember":    func(by casebook.Actor) error { return b.AddMember(ctx, by, s.ID, by.Name) },
		"RemoveMember": func(by casebook.Actor) error { return b.RemoveMember(ctx, by, s.ID, "anna") },
		"AddPhoto":     func(by casebook.Actor) error { _, err := b.AddPhoto(ctx, by, s.ID, pngOf(t, 2, 2), ""); return err },
		"Photo":        func(by casebook.Actor) error { _, _, _, err := b.Photo(ctx, by, s.ID, 1); return err },
		"DeletePhoto":  func(by casebook.Actor) error { return b.DeletePhoto(ctx, by, s.ID, 1) },
		"CloseSheet": func(by casebook.Actor) error {
			_, err := b.CloseSheet(ctx, by, s.ID, 1, casebook.SheetClosing{As: kb.WentAway})
			return err
		},
		"ShareSheet": func(by casebook.Actor) error {
			_, err := b.ShareSheet(ctx, by, s.ID, casebook.SheetSharing{})
			return err
		},
		"AnswerReminder": func(by casebook.Actor) error {
			_, err := b.AnswerReminder(ctx, by, s.ID, casebook.ReminderAnswer{})
			return err
		},
		"DeleteSheet": func(by casebook.Actor) error { return b.DeleteSheet(ctx, by, s.ID) },
	}
	_, unknown := b.Sheet(ctx, bert, "jnone")
	for name, method := range methods {
		for _, by := range []casebook.Actor{bert, vera, chief, {Name: "Anna", Role: casebook.Contributor}} {
			err := method(by)
			kindIs(t, kb.NotFound, err)
			assert.Equal(t, strings.Replace(unknown.Error(), "jnone", s.ID, 1), err.Error(), "%s: as if it did not exist", name)
		}
		kindIs(t, kb.Forbidden, method(casebook.Actor{Name: "anna", Role: casebook.Reader}))
	}
	list, err := b.Sheets(ctx, chief)
	require.NoError(t, err)
	assert.Empty(t, list)
	reminders, err := b.Reminders(ctx, chief)
	require.NoError(t, err)
	assert.Empty(t, reminders)
	now, err := b.Sheet(ctx, anna, s.ID)
	require.NoError(t, err)
	assert.Equal(t, s.Revision, now.Revision)
	assert.Empty(t, now.Notes)
	assert.Len(t, now.Photos, 1)
}

func TestMembersComeAndGo(t *testing.T) {
	b := open(t, t.TempDir())
	s := job(t, b)
	kindIs(t, kb.NotFound, b.AddMember(t.Context(), anna, s.ID, "bert"))
	kindIs(t, kb.Conflict, b.RemoveMember(t.Context(), anna, s.ID, "anna"))
	together(t, b, s)
	_, err := b.Sheet(t.Context(), bert, s.ID)
	require.NoError(t, err)
	require.NoError(t, b.RemoveMember(t.Context(), bert, s.ID, "anna"))
	_, err = b.Sheet(t.Context(), anna, s.ID)
	kindIs(t, kb.NotFound, err)
	kindIs(t, kb.NotFound, b.RemoveMember(t.Context(), bert, s.ID, "anna"))
	_, err = b.AddUser(t.Context(), chief, "kai", casebook.Contributor)
	require.NoError(t, err)
	_, err = b.DisableUser(t.Context(), chief, "kai")
	require.NoError(t, err)
	kindIs(t, kb.Conflict, b.AddMember(t.Context(), bert, s.ID, "kai"))
	whole(t, b)
}

func TestOddInputOnASheetIsRefusedByField(t *testing.T) {
	b := open(t, t.TempDir())
	s := job(t, b)
	nan := math.NaN()
	for field, edit := range map[string]func(*casebook.Sheet){
		"name": func(s *casebook.Sheet) { s.Name = " \x00 " },
		"plan": func(s *casebook.Sheet) {
			s.Plan = &casebook.SheetPlan{PlanWish: casebook.PlanWish{Have: []string{strings.Repeat("x", 201)}}}
		},
		"plan.rate":                func(s *casebook.Sheet) { s.Plan = &casebook.SheetPlan{PlanWish: casebook.PlanWish{Rate: "60 EUR/h"}} },
		"customer":                 func(s *casebook.Sheet) { s.Customer = strings.Repeat("x", 2001) },
		"case.title":               func(s *casebook.Sheet) { s.Case.Title = strings.Repeat("x", 201) },
		"case.status":              func(s *casebook.Sheet) { s.Case.Status, s.Case.ClosedAs = kb.Closed, kb.Repaired },
		"case.tests[0].result":     func(s *casebook.Sheet) { s.Case.Tests = []kb.Test{{Component: "relay", Result: "good"}} },
		"case.machine.year":        func(s *casebook.Sheet) { s.Case.Machine.Year = -3 },
		"labour[0].minutes":        func(s *casebook.Sheet) { s.Labour = []casebook.Labour{{Minutes: -1}} },
		"labour[1].date":           func(s *casebook.Sheet) { s.Labour = []casebook.Labour{{}, {Date: "yesterday"}} },
		"parts[0].name":            func(s *casebook.Sheet) { s.Parts = []casebook.SheetPart{{}} },
		"parts[0].quantity":        func(s *casebook.Sheet) { s.Parts = []casebook.SheetPart{{Name: "x", Quantity: -1}} },
		"parts[0].origin":          func(s *casebook.Sheet) { s.Parts = []casebook.SheetPart{{Name: "x", Part: kb.Part{Origin: "stolen"}}} },
		"parts[0].price":           func(s *casebook.Sheet) { s.Parts = []casebook.SheetPart{{Name: "x", Price: eur("1,50")}} },
		"rate":                     func(s *casebook.Sheet) { s.Rate = &kb.Money{Amount: "60", Currency: "eur"} },
		"case.machine.hours":       func(s *casebook.Sheet) { s.Case.Machine.Hours = &nan },
		"case.fixes[0].action":     func(s *casebook.Sheet) { s.Case.Fixes = []kb.Fix{{Component: "relay"}} },
		"case.symptoms[0].symptom": func(s *casebook.Sheet) { s.Case.Symptoms = []kb.Symptom{{Symptom: strings.Repeat("x", 401)}} },
		"case.codes[0].code":       func(s *casebook.Sheet) { s.Case.Codes = []kb.CodeEntry{{Code: ""}} },
		"case.fixes[0].part.origin": func(s *casebook.Sheet) {
			s.Case.Fixes = []kb.Fix{{Component: "x", Action: kb.Repair, Part: &kb.Part{Origin: "?"}}}
		},
	} {
		odd := s
		edit(&odd)
		_, err := b.SaveSheet(t.Context(), anna, odd)
		if field == "case.machine.hours" { // a number that JSON cannot say
			assert.Error(t, err)
			continue
		}
		kindIs(t, kb.Invalid, err)
		var e *kb.Error
		require.ErrorAs(t, err, &e)
		assert.Equal(t, field, e.Field)
	}
	_, err := b.AddLabour(t.Context(), anna, s.ID, casebook.Labour{Minutes: math.Inf(1)})
	kindIs(t, kb.Invalid, err)
	_, err = b.AddNote(t.Context(), anna, s.ID, " ")
	kindIs(t, kb.Invalid, err)
	_, err = b.AddNote(t.Context(), anna, s.ID, strings.Repeat("\u00fc", 10_001))
	kindIs(t, kb.Invalid, err)
	note, err := b.AddNote(t.Context(), anna, s.ID, "<script>alert(1)</script>\x00 \xff \u202e'; DROP TABLE sheets --")
	require.NoError(t, err)
	assert.Equal(t, "<script>alert(1)</script> \ufffd \u202e'; DROP TABLE sheets --", note.Text)
	now, err := b.Sheet(t.Context(), anna, s.ID)
	require.NoError(t, err)
	assert.Equal(t, []casebook.SheetNote{note}, now.Notes)
	assert.Equal(t, int64(1), now.Revision)
	_, err = b.NewSheet(t.Context(), rob, kb.Case{}, "x")
	kindIs(t, kb.Forbidden, err)
	_, err = b.NewSheet(t.Context(), anna, kb.Case{Status: kb.Closed, ClosedAs: kb.WentAway}, "x")
	kindIs(t, kb.Invalid, err)
}

func TestEstimate(t *testing.T) {
	f := casebook.SheetFacts{Rate: eur("62.50"), Labour: []casebook.Labour{{Minutes: 20}, {Minutes: 25}},
		Parts: []casebook.SheetPart{{Name: "fuse", Quantity: 3, Price: eur("0.35")}, {Name: "relay", Price: eur("12.505")}, {Name: "wire"}}}
	e, ok, err := f.Estimate()
	require.NoError(t, err)
	assert.True(t, ok)
	// 45 min at 62.50 an hour: 46.875, half up 46.88. 3 x 0.35 + 12.505 = 13.555, half up 13.56. By hand.
	assert.Equal(t, casebook.Estimate{Minutes: 45, Labour: *eur("46.88"), Parts: *eur("13.56"), Total: *eur("60.44"), Unpriced: []string{"wire"}}, e)

	f.Parts[1].Price = &kb.Money{Amount: "3", Currency: "CHF"}
	_, _, err = f.Estimate()
	kindIs(t, kb.Invalid, err)
	assert.EqualError(t, err, "parts[1].price: is in CHF but rate is in EUR; an estimate has one currency, nothing is converted")

	f = casebook.SheetFacts{Labour: []casebook.Labour{{Minutes: 10}}}
	e, ok, err = f.Estimate()
	require.NoError(t, err)
	assert.False(t, ok)
	assert.True(t, e.NoRate)
	e, ok, err = casebook.SheetFacts{Rate: eur("60")}.Estimate()
	require.NoError(t, err)
	assert.True(t, ok)
	assert.Equal(t, *eur("0.00"), e.Total)
}

func TestASheetHoldsSoMuch(t *testing.T) {
	b := open(t, t.TempDir())
	s := job(t, b)
	for range 60 {
		_, err := b.AddPhoto(t.Context(), anna, s.ID, pngOf(t, 2, 2), "")
		require.NoError(t, err)
	}
	_, err := b.AddPhoto(t.Context(), anna, s.ID, pngOf(t, 2, 2), "")
	kindIs(t, kb.Conflict, err)
	require.NoError(t, b.DeletePhoto(t.Context(), anna, s.ID, 7))
	_, err = b.AddPhoto(t.Context(), anna, s.ID, pngOf(t, 2, 2), "")
	require.NoError(t, err)

	for range 500 {
		_, err := b.AddNote(t.Context(), anna, s.ID, "x")
		require.NoError(t, err)
	}
	_, err = b.AddNote(t.Context(), anna, s.ID, "x")
	kindIs(t, kb.Conflict, err)
	s, err = b.Sheet(t.Context(), anna, s.ID)
	require.NoError(t, err)
	assert.Len(t, s.Notes, 500)

	s.Labour = make([]casebook.Labour, 500)
	s, err = b.SaveSheet(t.Context(), anna, s)
	require.NoError(t, err)
	_, err = b.AddLabour(t.Context(), anna, s.ID, casebook.Labour{Minutes: 1})
	kindIs(t, kb.Invalid, err)
	s.Labour = nil
	for range 500 {
		s.Parts = append(s.Parts, casebook.SheetPart{Name: strings.Repeat("x", 2000)})
	}
	s.Case.Ext = map[string]json.RawMessage{"long": json.RawMessage(`"` + strings.Repeat("x", 100_000) + `"`)}
	_, err = b.SaveSheet(t.Context(), anna, s)
	kindIs(t, kb.Invalid, err)
	assert.ErrorContains(t, err, "too long")
}
