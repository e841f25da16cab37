package casebook

import (
	"context"
	"fmt"
	"slices"
	"time"

	"ruledout/kb"
)

// QuoteLimit is how many characters of a write-up without a licence a reader sees at a time.
const QuoteLimit = 200

// View is one case as a person looks at it.
type View struct {
	Pos     int64     `json:"pos"` // of the present content, to guard a change by
	Case    kb.Case   `json:"case"`
	Counts  bool      `json:"counts"`            // whether it is evidence for others
	Waiting *kb.Case  `json:"waiting,omitempty"` // a later reading of its write-up that a moderator has not decided on
	History []Event   `json:"history"`
	Sources []Origin  `json:"sources"`
	Created time.Time `json:"created"`
	Changed time.Time `json:"changed"`
}

// Event is one revision of a case.
type Event struct {
	Pos    int64     `json:"pos"`
	At     time.Time `json:"at"`
	Actor  string    `json:"actor"`
	Verb   string    `json:"verb"`
	Reason string    `json:"reason,omitempty"`
	State  kb.State  `json:"state"`
}

// Origin is a source with what is kept of it.
type Origin struct {
	kb.Source
	Posts int `json:"posts"` // 0: no text is kept
}

// Show gives one case with its history and sources. An id that was redirected leads to the case it stands for.
func (b *Book) Show(ctx context.Context, id kb.CaseID) (View, error) {
	rec, err := b.store.Case(ctx, id)
	if err != nil {
		return View{}, fmt.Errorf("show: %w", err)
	}
	known := canonical(rec.Case, b.Vocabulary())
	v := View{Pos: rec.Pos, Case: shortened(rec.Case), Counts: known.IsEvidence(), Waiting: rec.Proposal, Created: rec.Created, Changed: rec.Changed}
	v.Case.Tests = withLimits(v.Case.Tests, known.Tests)
	if v.History, err = b.history(ctx, rec.Case.ID); err != nil {
		return View{}, fmt.Errorf("show: %w", err)
	}
	for _, s := range rec.Case.Sources {
		o := Origin{Source: s}
		w, err := b.store.Writeup(ctx, s.Writeup)
		if err == nil {
			o.Posts = len(w.Posts)
		} else if kb.KindOf(err) != kb.NotFound {
			return View{}, fmt.Errorf("show: %w", err)
		}
		v.Sources = append(v.Sources, o)
	}
	v.Sources = filled(v.Sources)
	return v, nil
}

func (b *Book) history(ctx context.Context, id kb.CaseID) ([]Event, error) {
	revisions, err := b.store.History(ctx, id)
	if err != nil {
		return nil, err
	}
	events := []Event{}
	for _, r := range revisions {
		events = append(events, Event{Pos: r.Pos, At: r.At, Actor: r.Actor, Verb: r.Verb, Reason: r.Reason, State: r.State})
	}
	return events, nil
}

// shortened cuts every quote to what readers may see where its source carries no licence. A case that was merged has several sources; a quote of
// none of them is free only where all are.
func shortened(c kb.Case) kb.Case {
	free := map[kb.WriteupKey]bool{}
	all := len(c.Sources) > 0
	for _, s := range c.Sources {
		free[s.Writeup] = s.Licence != ""
		all = all && s.Licence != ""
	}
	if all {
		return c
	}
	cut := func(list []kb.Evidence) []kb.Evidence {
		var out []kb.Evidence
		for _, e := range list {
			if free[e.Writeup] && e.Writeup != "" {
				out = append(out, e)
				continue
			}
			e.Quote = firstRunes(e.Quote, QuoteLimit)
			e.End = e.Start + len(e.Quote)
			out = append(out, e)
		}
		return out
	}
	c.Machine.Evidence, c.StatusEvidence = cut(c.Machine.Evidence), cut(c.StatusEvidence)
	c.Codes, c.Symptoms = mapped(c.Codes, func(x kb.CodeEntry) kb.CodeEntry { x.Evidence = cut(x.Evidence); return x }),
		mapped(c.Symptoms, func(x kb.Symptom) kb.Symptom { x.Evidence = cut(x.Evidence); return x })
	c.Tests, c.Fixes = mapped(c.Tests, func(x kb.Test) kb.Test { x.Evidence = cut(x.Evidence); return x }),
		mapped(c.Fixes, func(x kb.Fix) kb.Fix { x.Evidence = cut(x.Evidence); return x })
	return c
}

func mapped[T any](list []T, f func(T) T) []T {
	var out []T
	for _, x := range list {
		out = append(out, f(x))
	}
	return out
}

func firstRunes(s string, n int) string {
	for i := range s {
		if n == 0 {
			return s[:i]
		}
		n--
	}
	return s
}

// withLimits shows each reading with the published limit that it is judged by, where the record names none.
func withLimits(shown, known []kb.Test) []kb.Test {
	out := slices.Clone(shown)
	for i := range out {
		if r := known[i].Reading; r != nil && r.Limit != nil && out[i].Reading.Limit == nil {
			out[i].Reading = new(*out[i].Reading)
			out[i].Reading.Limit = r.Limit
		}
	}
	return out
}
