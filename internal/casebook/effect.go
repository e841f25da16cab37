package casebook

import (
	"cmp"
	"context"
	"slices"

	"ruledout/kb"
	"ruledout/kb/code"
	"ruledout/kb/rank"
)

// What an effect is computed from and shows.
const (
	exactUpTo   = 4000 // cases; of a larger book those nearest to the question, so that it takes no longer
	mostLeading = 5    // culprits shown, of each answer
)

// AnswerEffect is what a change does to the answer for one code, or without codes for a make and model.
type AnswerEffect struct {
	Code     string      `json:"code"`
	Machine  string      `json:"machine"`
	Cases    int         `json:"cases"`   // that the answer before was counted from
	Nearest  bool        `json:"nearest"` // only from the cases nearest to the question: both probabilities may be a little off, not their difference
	Fixes    []FixEffect `json:"fixes"`   // leading culprits of before and after, by the higher probability
	Unlisted FixEffect   `json:"unlisted"`
}

// FixEffect is the probability of a culprit before and after.
type FixEffect struct {
	Component string  `json:"component"`
	Before    float64 `json:"before"`
	After     float64 `json:"after"`
}

// EffectOf tells what a decision would do to the answers for the codes of the cases that it changes. The decision is taken in a transaction
// that is not kept, so it fails just as it would; the answers are computed outside of it. In a book of more than a few thousand cases they are
// counted from the cases that share the code, its family and the kind of machine.
func (b *Book) EffectOf(ctx context.Context, by Actor, change Change) ([]AnswerEffect, error) {
	changed, err := b.tried(ctx, by, change)
	if err != nil {
		return nil, err
	}
	if err := b.follow(ctx); err != nil {
		return nil, err
	}
	b.mu.Lock()
	table, params := b.table.Clone(), b.params
	b.mu.Unlock()
	out := []AnswerEffect{}
	for _, q := range effectQuestions(changed) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		out = append(out, b.effectOn(q, changed, table, params))
	}
	return out, nil
}

// effectQuestions gives the questions that the changed cases bear on: each code on each make and model once.
func effectQuestions(changed []Changed) []kb.Case {
	var out []kb.Case
	add := func(c kb.Case, codes []kb.CodeEntry) {
		m := kb.Machine{Kind: c.Machine.Kind, Make: c.Machine.Make, Model: c.Machine.Model}
		q := kb.Case{V: kb.Version, Status: kb.Open, Machine: m, Codes: codes}
		if !slices.ContainsFunc(out, func(o kb.Case) bool { return questionKey(o) == questionKey(q) }) {
			out = append(out, q)
		}
	}
	for _, x := range changed {
		for _, c := range []kb.Case{x.Before, x.After} {
			for _, e := range c.Codes {
				add(c, []kb.CodeEntry{{Code: e.Code, Scheme: e.Scheme, Issuer: e.Issuer}})
			}
			if len(c.Codes) == 0 && c.Machine.Make != "" {
				add(c, nil)
			}
		}
	}
	return out
}

func questionKey(q kb.Case) string {
	key := foldName(q.Machine.Make) + "|" + foldName(q.Machine.Model)
	for _, e := range q.Codes {
		key += "|" + normalCode(e).Code
	}
	return key
}

func (b *Book) effectOn(q kb.Case, changed []Changed, table *rank.Table, params rank.Params) AnswerEffect {
	out := AnswerEffect{Machine: MachineName(q.Machine)}
	known := canonical(q, b.Vocabulary())
	var key code.Key
	if len(known.Codes) > 0 {
		out.Code = known.Codes[0].Code
		key, _ = known.Codes[0].Key(known.Machine.Make) // one that cannot be read is near to none
	}
	before := table
	if table.Len() > exactUpTo {
		var own []kb.CaseID
		for _, x := range changed {
			own = append(own, x.Before.ID, x.After.ID)
		}
		before, out.Nearest = table.Near(key, known.Machine.Kind, own, exactUpTo), true
	}
	after := before.Clone()
	for _, x := range changed {
		after.Put(canonical(x.After, b.Vocabulary()))
	}
	out.Cases = before.Len()
	now, then := before.Model(params).Ask(known, rank.Options{NoNext: true}), after.Model(params).Ask(known, rank.Options{NoNext: true})
	out.Fixes = fixEffects(now.Fixes, then.Fixes)
	out.Unlisted = FixEffect{"not listed", now.Unlisted.Probability, then.Unlisted.Probability}
	return out
}

// fixEffects sets the leading culprits of two answers side by side.
func fixEffects(before, after []kb.RankedFix) []FixEffect {
	p := func(list []kb.RankedFix, component string) float64 {
		for _, f := range list {
			if f.Component == component {
				return f.Probability
			}
		}
		return 0
	}
	out := []FixEffect{}
	for _, list := range [][]kb.RankedFix{before, after} {
		for _, f := range list[:min(len(list), mostLeading)] {
			if !slices.ContainsFunc(out, func(x FixEffect) bool { return x.Component == f.Component }) {
				out = append(out, FixEffect{f.Component, p(before, f.Component), p(after, f.Component)})
			}
		}
	}
	slices.SortFunc(out, func(x, y FixEffect) int {
		return cmp.Or(cmp.Compare(max(y.Before, y.After), max(x.Before, x.After)), cmp.Compare(x.Component, y.Component))
	})
	return out
}
