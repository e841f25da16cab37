package casebook_test

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// TestAClosedJobBecomesACase closes a job full of private things and looks at what others get.
func TestAClosedJobBecomesACase(t *testing.T) {
	b := open(t, t.TempDir())
	s := job(t, b)
	s.Customer, s.Case.Reporter = "secretcustomer", "secretreporter"
	s.Case.Title = "No heat, call +49 30 1234567 or mail mira@example.org"
	s.Case.Ext = map[string]json.RawMessage{"own": json.RawMessage(`"secretext"`)}
	s.Case.Doubts = []kb.Doubt{{About: "case", Question: "secretdoubt"}}
	s.Rate, s.Labour = eur("61.17"), []casebook.Labour{{What: "secretwork", Who: "secrethand", Minutes: 30}}
	s.Parts = []casebook.SheetPart{{Name: "secretpart", Price: eur("77.77")}}
	s.Plan = &casebook.SheetPlan{PlanWish: casebook.PlanWish{HandOver: "99.17 EUR", Have: []string{"secrettool"}, Cannot: []string{"secrettest"}}}
	s, err := b.SaveSheet(t.Context(), anna, s)
	require.NoError(t, err)
	_, err = b.AddNote(t.Context(), anna, s.ID, "secretnote")
	require.NoError(t, err)
	_, err = b.AddPhoto(t.Context(), anna, s.ID, pngOf(t, 4, 4), "secretcaption")
	require.NoError(t, err)

	coding, volts := true, 12.4
	how := casebook.SheetClosing{
		Fixed: []kb.Fix{{Action: kb.Replace, Component: "heater relay", PartsCost: eur("88.88"),
			Part: &kb.Part{Number: "HR-030-1234567", Origin: kb.UsedPart, NeedsCoding: &coding}}},
		Proof: []kb.Test{{Test: "supply voltage", Component: "heater relay", Result: kb.Pass, Reading: &kb.Reading{Value: &volts, Unit: "V"}}},
		Share: &casebook.SheetSharing{},
	}
	closed, err := b.CloseSheet(t.Context(), anna, s.ID, s.Revision, how)
	require.NoError(t, err)
	require.NotEmpty(t, closed.CaseID)
	assert.Equal(t, "anna", closed.Closed.By)
	assert.Equal(t, kb.Verified, closed.Case.Confirmation, "a test after the repair passed")
	assert.Equal(t, eur("88.88"), closed.Case.Fixes[0].PartsCost, "the sheet keeps the price")
	whole(t, b)

	v, err := b.Show(t.Context(), closed.CaseID)
	require.NoError(t, err)
	c := v.Case
	assert.Equal(t, kb.Draft, c.State, "a moderator has not seen it")
	assert.Equal(t, "anna", c.Contributor)
	assert.Equal(t, []kb.Source{{Kind: "job sheet", Posted: "2025-03-01"}}, c.Sources)
	assert.Equal(t, &kb.Part{Number: "HR-030-1234567", Origin: kb.UsedPart, NeedsCoding: &coding}, c.Fixes[0].Part)
	assert.Len(t, c.Proofs(), 1)
	var all bytes.Buffer
	_, err = b.Export(t.Context(), &all, casebook.ExportOptions{})
	require.NoError(t, err)
	history, err := json.Marshal(v)
	require.NoError(t, err)
	for _, private := range []string{"secret", "88.88", "77.77", "61.17", "99.17", "1234567 or", "mira@", "postman"} {
		assert.NotContains(t, all.String()+string(history), private)
	}

	assert.Empty(t, leader(t, b, cold), "a draft does not count")
	_, err = b.Accept(t.Context(), vera, closed.CaseID, "")
	require.NoError(t, err)
	assert.Equal(t, "heater relay", leader(t, b, cold))
	whole(t, b)

	_, err = b.CloseSheet(t.Context(), anna, s.ID, closed.Revision, how)
	kindIs(t, kb.Conflict, err)
	_, err = b.ShareSheet(t.Context(), anna, s.ID, casebook.SheetSharing{})
	kindIs(t, kb.Conflict, err)
	kindIs(t, kb.Conflict, b.DeleteSheet(t.Context(), anna, s.ID))
	late := closed
	late.Labour = append(late.Labour, casebook.Labour{Minutes: 5})
	late, err = b.SaveSheet(t.Context(), anna, late)
	require.NoError(t, err, "the bill can still be put right")
	late.Case.Title = "other"
	_, err = b.SaveSheet(t.Context(), anna, late)
	kindIs(t, kb.Conflict, err)
}

func TestSharingLaterWithPricesAndAtOnce(t *testing.T) {
	b := open(t, t.TempDir())
	s := job(t, b)
	_, err := b.ShareSheet(t.Context(), anna, s.ID, casebook.SheetSharing{})
	kindIs(t, kb.Conflict, err)
	fix := kb.Fix{Action: kb.Replace, Component: "heater relay", PartsCost: eur("88.88")}
	how := casebook.SheetClosing{Fixed: []kb.Fix{fix}, Share: &casebook.SheetSharing{Publish: true}}
	_, err = b.CloseSheet(t.Context(), anna, s.ID, 1, how)
	kindIs(t, kb.Forbidden, err)
	how.Share = nil
	s, err = b.CloseSheet(t.Context(), anna, s.ID, 1, how)
	require.NoError(t, err)
	assert.Equal(t, kb.Reported, s.Case.Confirmation)
	assert.Empty(t, s.CaseID)

	chiefAnna := casebook.Actor{Name: "anna", Role: casebook.Moderator}
	shown, err := b.SharedCase(s, chiefAnna, casebook.SheetSharing{Prices: true, Publish: true})
	require.NoError(t, err)
	s, err = b.ShareSheet(t.Context(), chiefAnna, s.ID, casebook.SheetSharing{Prices: true, Publish: true})
	require.NoError(t, err)
	v, err := b.Show(t.Context(), s.CaseID)
	require.NoError(t, err)
	assert.Equal(t, shown, v.Case, "what was shown before is what others get")
	assert.Equal(t, eur("88.88"), v.Case.Fixes[0].PartsCost)
	assert.Equal(t, "heater relay", leader(t, b, cold))
	whole(t, b)
}

func TestClosingNeedsACureAndAnHonestProof(t *testing.T) {
	b := open(t, t.TempDir())
	s := job(t, b)
	fixed := []kb.Fix{{Action: kb.Replace, Component: "heater relay"}}
	low, high, ohms := 75.0, 95.0, 84.0
	reading := func(value float64) kb.Test {
		return kb.Test{Test: "coil resistance", Component: "heater relay",
			Reading: &kb.Reading{Value: &value, Unit: "ohm", Limit: &kb.Limit{Low: &low, High: &high, Unit: "ohm"}}}
	}
	for name, how := range map[string]casebook.SheetClosing{
		"no cure":           {},
		"no proof":          {Fixed: fixed, Confirmation: kb.Verified},
		"failed proof":      {Fixed: fixed, Proof: []kb.Test{{Test: "drive", Component: "heater relay", Result: kb.Fail}}},
		"reading out":       {Fixed: fixed, Proof: []kb.Test{reading(2000)}},
		"borderline proves": {Fixed: fixed, Confirmation: kb.Verified, Proof: []kb.Test{reading(95)}},
		"bypass":            {Fixed: []kb.Fix{{Action: kb.Bypass, Component: "heater relay"}}},
		"no such end":       {As: "thrown away"},
		"negative days":     {Fixed: fixed, Days: -1},
		"nothing held":      {As: kb.HandedOver, Days: 10},
		"too far":           {Fixed: fixed, Kilometres: math.NaN()},
		"odd fix":           {Fixed: []kb.Fix{{Action: "polish", Component: "heater relay"}}},
	} {
		_, err := b.CloseSheet(t.Context(), anna, s.ID, 1, how)
		assert.Equal(t, kb.Invalid, kb.KindOf(err), "%s: %v", name, err)
	}
	s, err := b.CloseSheet(t.Context(), anna, s.ID, 1, casebook.SheetClosing{Fixed: fixed, Proof: []kb.Test{reading(ohms)}})
	require.NoError(t, err)
	assert.Equal(t, kb.Verified, s.Case.Confirmation, "by a reading well within its limit")
}

func TestReminderByDate(t *testing.T) {
	b, c := timed(t)
	s := job(t, b)
	how := casebook.SheetClosing{Fixed: []kb.Fix{{Action: kb.Replace, Component: "heater relay"}}, Share: &casebook.SheetSharing{}, Days: 30}
	s, err := b.CloseSheet(t.Context(), anna, s.ID, 1, how)
	require.NoError(t, err)
	assert.Equal(t, &casebook.Reminder{Date: "2025-03-31"}, s.Reminder)
	due := func() bool {
		list, err := b.Reminders(t.Context(), anna)
		require.NoError(t, err)
		require.Len(t, list, 1)
		return list[0].Due
	}
	assert.False(t, due())
	_, err = b.AnswerReminder(t.Context(), anna, s.ID, casebook.ReminderAnswer{Held: true})
	kindIs(t, kb.Conflict, err)
	assert.ErrorContains(t, err, "due on 2025-03-31")
	c.pass(30 * 24 * time.Hour)
	assert.True(t, due())

	s, err = b.AnswerReminder(t.Context(), anna, s.ID, casebook.ReminderAnswer{Held: true, Note: "the customer rang"})
	require.NoError(t, err)
	assert.Equal(t, kb.Verified, s.Case.Held())
	require.Len(t, s.Notes, 1)
	v, err := b.Show(t.Context(), s.CaseID)
	require.NoError(t, err)
	assert.Equal(t, kb.Reported, v.Case.Confirmation)
	assert.Equal(t, kb.Verified, v.Case.Held())
	assert.Empty(t, v.Case.FollowUps[0].Note, "the note stays on the sheet")
	list, err := b.Reminders(t.Context(), anna)
	require.NoError(t, err)
	assert.Empty(t, list)
	_, err = b.AnswerReminder(t.Context(), anna, s.ID, casebook.ReminderAnswer{Held: false})
	kindIs(t, kb.Conflict, err)
	whole(t, b)
}

func TestReminderByDistance(t *testing.T) {
	b, _ := timed(t)
	s := job(t, b)
	how := casebook.SheetClosing{Fixed: []kb.Fix{{Action: kb.Replace, Component: "heater relay"}}, Kilometres: 1000}
	s, err := b.CloseSheet(t.Context(), anna, s.ID, 1, how)
	require.NoError(t, err)
	assert.Equal(t, &casebook.Reminder{Odometer: &kb.Measure{Value: 82200, Unit: "km"}}, s.Reminder)
	for _, at := range []*kb.Measure{nil, {Value: 82199, Unit: "km"}, {Value: 51_000, Unit: "mi"}} {
		_, err = b.AnswerReminder(t.Context(), anna, s.ID, casebook.ReminderAnswer{Held: true, Odometer: at})
		kindIs(t, kb.Conflict, err)
	}
	s, err = b.AnswerReminder(t.Context(), anna, s.ID, casebook.ReminderAnswer{Held: true, Odometer: &kb.Measure{Value: 51_100, Unit: "mi"}}) // 82,237 km
	require.NoError(t, err)
	assert.Equal(t, kb.Verified, s.Case.Held())
}

func TestAReturnTakesTheCreditBack(t *testing.T) {
	b, _ := timed(t)
	s := job(t, b)
	moderator := casebook.Actor{Name: "anna", Role: casebook.Moderator}
	s, err := b.CloseSheet(t.Context(), moderator, s.ID, 1, casebook.SheetClosing{Fixed: []kb.Fix{{Action: kb.Replace, Component: "heater relay"}},
		Share: &casebook.SheetSharing{Publish: true}, Days: 90})
	require.NoError(t, err)
	assert.Equal(t, "heater relay", leader(t, b, cold))
	_, err = b.AnswerReminder(t.Context(), anna, s.ID, casebook.ReminderAnswer{Held: false})
	require.NoError(t, err, "a return is told at any time")
	v, err := b.Show(t.Context(), s.CaseID)
	require.NoError(t, err)
	assert.Equal(t, kb.Unconfirmed, v.Case.Held())
	assert.False(t, v.Case.IsEvidence())
	whole(t, b)
}

func TestDeletingAndErasing(t *testing.T) {
	b := open(t, t.TempDir())
	s := job(t, b)
	other := job(t, b)
	other, err := b.CloseSheet(t.Context(), anna, other.ID, 1, casebook.SheetClosing{As: kb.WentAway, Share: &casebook.SheetSharing{}})
	require.NoError(t, err)
	require.NoError(t, b.DeleteSheet(t.Context(), anna, s.ID))
	_, err = b.Sheet(t.Context(), anna, s.ID)
	kindIs(t, kb.NotFound, err)

	_, err = b.SheetOutlines(t.Context(), vera)
	kindIs(t, kb.Forbidden, err)
	outlines, err := b.SheetOutlines(t.Context(), chief)
	require.NoError(t, err)
	assert.Equal(t, []casebook.SheetOutline{{ID: other.ID, Created: "2025-03-01", Members: []string{"anna"}, Submitted: true}}, outlines)
	kindIs(t, kb.Forbidden, b.EraseSheet(t.Context(), vera, other.ID))
	require.NoError(t, b.EraseSheet(t.Context(), chief, other.ID))
	kindIs(t, kb.NotFound, b.EraseSheet(t.Context(), chief, other.ID))
	_, err = b.Show(t.Context(), other.CaseID)
	require.NoError(t, err, "the case stays")
	whole(t, b)
}
