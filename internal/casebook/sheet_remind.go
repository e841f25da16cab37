package casebook

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"ruledout/internal/store"
	"ruledout/kb"
)

// Reminder asks some time after a repair whether it held: when a day has come, or the odometer passes a reading, whichever is first.
type Reminder struct {
	Date     string      `json:"date,omitempty"` // ISO 8601
	Odometer *kb.Measure `json:"odometer,omitempty"`
	Answered string      `json:"answered,omitempty"` // date of the answer
	Held     bool        `json:"held,omitempty"`     // the answer
}

// Due tells whether the time to ask has come: on a day, at a reading of the odometer (nil if none is known) in the reminder's unit.
func (r Reminder) Due(now time.Time, odometer *kb.Measure) bool {
	if r.Date != "" && now.UTC().Format(time.DateOnly) >= r.Date {
		return true
	}
	return r.Odometer != nil && odometer != nil && kilometres(*odometer) >= kilometres(*r.Odometer)
}

func kilometres(m kb.Measure) float64 {
	if m.Unit == "mi" {
		return m.Value * kmPerMile
	}
	return m.Value
}

// reminder gives the reminder that was asked for, nil if none.
func (how SheetClosing) reminder(c kb.Case, now time.Time) (*Reminder, error) {
	if how.Days == 0 && how.Kilometres == 0 {
		return nil, nil
	}
	if how.Days < 0 || how.Days > 3650 {
		return nil, &kb.Error{Kind: kb.Invalid, Field: "days", Msg: "want a number of days from 1 to 3650"}
	}
	if !(how.Kilometres >= 0 && how.Kilometres <= 1_000_000) {
		return nil, &kb.Error{Kind: kb.Invalid, Field: "kilometres", Msg: "want kilometres from 1 to 1000000"}
	}
	if c.ClosedAs != kb.Repaired {
		return nil, &kb.Error{Kind: kb.Invalid, Field: "days", Msg: "there is a repair to ask about only if the job was closed as repaired"}
	}
	var r Reminder
	if how.Days > 0 {
		r.Date = now.UTC().AddDate(0, 0, how.Days).Format(time.DateOnly)
	}
	if how.Kilometres > 0 {
		at := c.Machine.Odometer
		if at == nil || at.Unit != "km" && at.Unit != "mi" {
			return nil, &kb.Error{Kind: kb.Invalid, Field: "kilometres", Msg: "enter the odometer reading of the machine in km or mi first, or take days"}
		}
		r.Odometer = &kb.Measure{Value: at.Value + how.Kilometres, Unit: "km"}
		if at.Unit == "mi" {
			r.Odometer = &kb.Measure{Value: at.Value + how.Kilometres/kmPerMile, Unit: "mi"}
		}
	}
	return &r, nil
}

// SheetReminder is a repair that was to be asked about.
type SheetReminder struct {
	Sheet Sheet `json:"sheet"` // without members, notes and photos
	Due   bool  `json:"due"`   // its day has come; one by distance alone waits for somebody to read the odometer
}

// Reminders lists the unanswered reminders of the actor's job sheets: due ones first, then by date, those by distance alone last.
func (b *Book) Reminders(ctx context.Context, by Actor) ([]SheetReminder, error) {
	all, err := b.Sheets(ctx, by)
	if err != nil {
		return nil, err
	}
	out := []SheetReminder{}
	for _, s := range all {
		if s.Reminder != nil && s.Reminder.Answered == "" {
			out = append(out, SheetReminder{s, s.Reminder.Due(b.now(), nil)})
		}
	}
	slices.SortStableFunc(out, func(x, y SheetReminder) int {
		return cmp.Or(cmp.Compare(dateOrLast(x), dateOrLast(y)), cmp.Compare(x.Sheet.ID, y.Sheet.ID))
	})
	return out, nil
}

func dateOrLast(r SheetReminder) string { return cmp.Or(r.Sheet.Reminder.Date, "9999-12-31") }

// ReminderAnswer tells whether the repair held.
type ReminderAnswer struct {
	Held     bool
	Odometer *kb.Measure // now; may be nil
	Note     string      // stays on the sheet
}

// AnswerReminder answers the reminder of a job sheet: the repair held, which makes it verified, or the fault returned. The follow-up goes to the
// case that the sheet was submitted as, too. "Held" can be said once the reminder is due, "returned" at any time.
func (b *Book) AnswerReminder(ctx context.Context, by Actor, id string, a ReminderAnswer) (Sheet, error) {
	note := tidy(a.Note)
	if err := short("note", note, maxNote); err != nil {
		return Sheet{}, err
	}
	err := b.changeSheet(ctx, by, id, func(tx *store.Tx, now *Sheet) error {
		r := now.Reminder
		switch {
		case r == nil || r.Answered != "":
			return kb.Errorf(kb.Conflict, "there is nothing to be answered on this job sheet")
		case a.Held && !r.Due(b.now(), a.Odometer):
			return kb.Errorf(kb.Conflict, "the repair has not held long enough yet to count as verified: %s", r.until())
		}
		f := kb.FollowUp{Date: b.today(), Held: a.Held, Odometer: a.Odometer}
		now.Reminder = &Reminder{Date: r.Date, Odometer: r.Odometer, Answered: f.Date, Held: a.Held}
		now.Case.FollowUps = append(now.Case.FollowUps[:len(now.Case.FollowUps):len(now.Case.FollowUps)], f)
		if note != "" {
			if _, err := tx.AddNote(id, store.Note{At: b.now(), Author: by.Name, Text: note}); err != nil {
				return err
			}
		}
		return b.followUpShared(tx, by, now.CaseID, f)
	})
	if err != nil {
		return Sheet{}, err
	}
	return b.Sheet(ctx, by, id)
}

// until says when a reminder is due.
func (r Reminder) until() string {
	switch {
	case r.Odometer == nil:
		return "it is due on " + r.Date
	case r.Date == "":
		return fmt.Sprintf("it is due at %.0f %s; enter the odometer reading", r.Odometer.Value, r.Odometer.Unit)
	}
	return fmt.Sprintf("it is due on %s or at %.0f %s", r.Date, r.Odometer.Value, r.Odometer.Unit)
}

// followUpShared adds a follow-up to the case of a submitted job sheet, or to the one that it was merged into.
func (b *Book) followUpShared(tx *store.Tx, by Actor, id kb.CaseID, f kb.FollowUp) error {
	if id == "" {
		return nil
	}
	r, err := tx.Case(id)
	if err != nil {
		return err
	}
	c := r.Case
	c.FollowUps = append(c.FollowUps[:len(c.FollowUps):len(c.FollowUps)], f)
	_, err = tx.Append(store.Entry{Kind: store.EntryCase, ID: string(c.ID), Verb: "follow up", Actor: by.Name, At: b.now(), Case: &c})
	return err
}
