package casebook

import (
	"cmp"
	"slices"

	"ruledout/kb"
	"ruledout/kb/code"
	"ruledout/kb/rank"
)

// mostChanges is for how many codes, those with the most cases, a refit tells what became of the answer.
const mostChanges = 10

// AnswerChange is what a refit did to the answer to one code alone.
type AnswerChange struct {
	Code   string  `json:"code"`
	Issuer string  `json:"issuer"`
	Cases  int     `json:"cases"`
	Leader string  `json:"leader"` // likeliest culprit before
	Before float64 `json:"before"` // its probability
	After  float64 `json:"after"`
	Now    string  `json:"now,omitempty"` // likeliest culprit after, where that is another
}

// answerChanges asks two models for the codes with the most cases.
func answerChanges(cases []kb.Case, old, now *rank.Model) []AnswerChange {
	n, first := map[code.Key]int{}, map[code.Key]kb.Case{}
	var keys []code.Key
	for i := range cases {
		for _, k := range keysOf(&cases[i]) {
			if n[k]++; n[k] == 1 {
				first[k] = codeAlone(&cases[i], k)
				keys = append(keys, k)
			}
		}
	}
	slices.SortFunc(keys, func(a, b code.Key) int { return cmp.Or(cmp.Compare(n[b], n[a]), cmp.Compare(a.String(), b.String())) })
	out := []AnswerChange{}
	for _, k := range keys[:min(len(keys), mostChanges)] {
		x := AnswerChange{Code: k.Code, Issuer: k.Issuer, Cases: n[k]}
		before, after := old.Ask(first[k], rank.Options{NoNext: true}).Fixes, now.Ask(first[k], rank.Options{NoNext: true}).Fixes
		if len(before) == 0 || len(after) == 0 {
			continue
		}
		x.Leader, x.Before = before[0].Component, before[0].Probability
		for _, f := range after {
			if f.Component == x.Leader {
				x.After = f.Probability
			}
		}
		if after[0].Component != x.Leader {
			x.Now = after[0].Component
		}
		out = append(out, x)
	}
	return out
}

// codeAlone asks for one code of a case and nothing else; the make stays where the code is the maker's own.
func codeAlone(c *kb.Case, k code.Key) kb.Case {
	q := kb.Case{V: kb.Version, Status: kb.Open}
	for _, e := range c.Codes {
		if own, err := e.Key(c.Machine.Make); err != nil || own != k {
			continue
		}
		if read, err := e.Parse(); err == nil {
			q.Codes = []kb.CodeEntry{{Code: read.Text, Scheme: e.Scheme, Issuer: e.Issuer}}
			break
		}
	}
	if k.Issuer == c.Machine.Make {
		q.Machine.Make = c.Machine.Make
	}
	return q
}
