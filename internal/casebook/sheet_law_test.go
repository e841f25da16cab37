package casebook_test

import (
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// writer is a person with a page open: the sheet as they last saw it, and what became of each of their edits.
type writer struct {
	by    casebook.Actor
	seen  casebook.Sheet
	kept  []string // saved
	asked []string // reported as a conflict
}

// edit changes one field of the page by a mark of its own and saves it.
func (w *writer) edit(rt *rapid.T, b *casebook.Book, mark string) {
	next := w.seen
	field := rapid.SampledFrom([]string{"symptom", "test", "part", "labour", "note"}).Draw(rt, "field")
	var err error
	switch field {
	case "symptom":
		next.Case.Symptoms = append(slices.Clone(next.Case.Symptoms), kb.Symptom{Symptom: mark})
	case "test":
		next.Case.Tests = append(slices.Clone(next.Case.Tests), kb.Test{Test: mark, Component: "heater relay", Result: kb.Pass})
	case "part":
		next.Parts = append(slices.Clone(next.Parts), casebook.SheetPart{Name: mark})
	case "labour": // added to the sheet as it stands: the page stays as it was
		_, err = b.AddLabour(rt.Context(), w.by, next.ID, casebook.Labour{What: mark, Minutes: 1})
		require.NoError(rt, err)
		w.kept = append(w.kept, mark)
		return
	case "note":
		_, err = b.AddNote(rt.Context(), w.by, next.ID, mark)
		require.NoError(rt, err)
		w.kept = append(w.kept, mark)
		return
	}
	saved, err := b.SaveSheet(rt.Context(), w.by, next)
	var stale *casebook.StaleSheet
	switch {
	case err == nil:
		w.seen, w.kept = saved, append(w.kept, mark)
	case errors.As(err, &stale):
		require.Equal(rt, kb.Conflict, kb.KindOf(err))
		require.Greater(rt, stale.Newer.Revision, w.seen.Revision)
		w.asked = append(w.asked, mark)
		if rapid.Bool().Draw(rt, "reload") {
			w.seen = stale.Newer
		}
	default:
		require.NoError(rt, err)
	}
}

func marksOf(s casebook.Sheet) (out []string) {
	for _, x := range s.Case.Symptoms {
		out = append(out, x.Symptom)
	}
	for _, x := range s.Case.Tests {
		out = append(out, x.Test)
	}
	for _, x := range s.Parts {
		out = append(out, x.Name)
	}
	for _, x := range s.Labour {
		out = append(out, x.What)
	}
	for _, x := range s.Notes {
		out = append(out, x.Text)
	}
	return out
}

// TestNoEditIsLost lets two people edit from pages of any age: each edit is on the sheet, once, or was reported as a conflict.
func TestNoEditIsLost(t *testing.T) {
	b := open(t, t.TempDir())
	together(t, b, job(t, b)) // makes bert's account
	rapid.Check(t, func(rt *rapid.T) {
		s, err := b.NewSheet(rt.Context(), anna, kb.Case{}, "law")
		require.NoError(rt, err)
		require.NoError(rt, b.AddMember(rt.Context(), anna, s.ID, "bert"))
		people := []*writer{{by: anna, seen: s}, {by: bert, seen: s}}
		for n := range rapid.IntRange(1, 12).Draw(rt, "edits") {
			w := rapid.SampledFrom(people).Draw(rt, "who")
			if rapid.IntRange(0, 3).Draw(rt, "look") == 0 {
				w.seen, err = b.Sheet(rt.Context(), w.by, s.ID)
				require.NoError(rt, err)
			}
			w.edit(rt, b, fmt.Sprintf("mark %d of %s", n, w.by.Name))
		}
		now, err := b.Sheet(rt.Context(), anna, s.ID)
		require.NoError(rt, err)
		require.ElementsMatch(rt, slices.Concat(people[0].kept, people[1].kept), marksOf(now))
	})
}

// TestNoEditIsLostAtOnce has two processes on the same file save at the same time.
func TestNoEditIsLostAtOnce(t *testing.T) {
	dir := t.TempDir()
	b := open(t, dir)
	s := job(t, b)
	together(t, b, s)
	var all sync.WaitGroup
	kept := make(chan string, 40)
	for _, by := range []casebook.Actor{anna, bert} {
		own := open(t, dir)
		all.Go(func() {
			for n := range 15 {
				seen, err := own.Sheet(t.Context(), by, s.ID)
				if err != nil {
					t.Error(err)
					return
				}
				mark := fmt.Sprint(by.Name, " ", n)
				seen.Parts = append(seen.Parts, casebook.SheetPart{Name: mark})
				_, err = own.SaveSheet(t.Context(), by, seen)
				if err == nil {
					kept <- mark
				} else if kb.KindOf(err) != kb.Conflict {
					t.Error(err)
				}
			}
		})
	}
	all.Wait()
	close(kept)
	now, err := b.Sheet(t.Context(), anna, s.ID)
	require.NoError(t, err)
	var want []string
	for mark := range kept {
		want = append(want, mark)
	}
	require.NotEmpty(t, want)
	require.ElementsMatch(t, want, marksOf(now))
	require.Equal(t, int64(len(want)+1), now.Revision)
	whole(t, b)
}
