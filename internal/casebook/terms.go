package casebook

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"ruledout/internal/store"
	"ruledout/kb"
	"ruledout/kb/rank"
)

// Verbs of marks about terms.
const (
	verbTerm     = "decide on term"
	verbTermUndo = "undo term"
)

// termMark is what ids of marks about terms begin with.
const termMark = "term "

func termID(kind kb.TermKind, term string) string { return termMark + string(kind) + " " + term }

func isTermMark(r store.Revision) bool {
	return r.Kind == store.EntryMark && strings.HasPrefix(r.ID, termMark)
}

// TermDecided is a decision on a term that is in force.
type TermDecided struct {
	kb.TermDecision
	By     string    `json:"by"`
	At     time.Time `json:"at"`
	Reason string    `json:"reason,omitempty"`
}

// TermDecisions lists the decisions on terms that are in force, in the order in which they were made.
func (b *Book) TermDecisions(ctx context.Context) ([]TermDecided, error) {
	last := map[string]store.Revision{}
	for r, err := range b.store.Entries(ctx, store.EntryMark) {
		if err != nil {
			return nil, err
		}
		if isTermMark(r) {
			last[r.ID] = r
		}
	}
	kept := []store.Revision{}
	for _, r := range last {
		if r.Verb == verbTerm {
			kept = append(kept, r)
		}
	}
	slices.SortFunc(kept, func(x, y store.Revision) int { return cmp.Compare(x.Pos, y.Pos) })
	out := []TermDecided{}
	for _, r := range kept {
		d := TermDecided{By: r.Actor, At: r.At, Reason: r.Reason}
		if err := json.Unmarshal(r.Body, &d.TermDecision); err != nil {
			return nil, kb.Errorf(kb.Internal, "the decision on a term at position %d cannot be read: %w", r.Pos, err)
		}
		out = append(out, d)
	}
	return out, nil
}

// loadTerms puts the vocabulary into force that the files and the decisions give. A decision that no longer fits, since the files know the
// term by now, is passed over.
func (b *Book) loadTerms(ctx context.Context) error {
	list, err := b.TermDecisions(ctx)
	if err != nil || slices.Equal(plainDecisions(list), b.decided) {
		return err
	}
	b.decided = plainDecisions(list)
	v, _ := b.files.With(b.decided)
	b.useVocabulary(v)
	return nil
}

func plainDecisions(list []TermDecided) []kb.TermDecision {
	var out []kb.TermDecision
	for _, d := range list {
		out = append(out, d.TermDecision)
	}
	return out
}

// refill begins the evidence table anew by the vocabulary of the log's end, and the index if it is another vocabulary: a term's other name
// reaches every case. b.mu is held.
func (b *Book) refill(ctx context.Context) error {
	before := b.Vocabulary()
	if err := b.loadTerms(ctx); err != nil {
		return err
	}
	b.table, b.reached = rank.NewTable(b.Vocabulary()), 0
	if b.idx != nil && b.Vocabulary() != before {
		if err := b.idx.Close(); err != nil {
			return fmt.Errorf("close the index of the vocabulary before: %w", err)
		}
		b.idx = nil
	}
	return b.fill(ctx)
}

// DecideTerm keeps a decision on a term that the vocabulary does not know, and applies it to all cases: they keep the words that they were
// written in, and are counted and found by the term's place in the vocabulary.
func (b *Book) DecideTerm(ctx context.Context, by Actor, d kb.TermDecision, reason string) error {
	if err := by.may(Moderator, "decide on terms"); err != nil {
		return err
	}
	d.Term, d.Of, d.System = kb.Fold(d.Term), tidy(d.Of), tidy(d.System)
	list, err := b.TermDecisions(ctx)
	if err != nil {
		return err
	}
	list = slices.DeleteFunc(list, func(x TermDecided) bool { return x.Kind == d.Kind && x.Term == d.Term })
	_, old := b.files.With(plainDecisions(list))
	if _, problems := b.files.With(append(plainDecisions(list), d)); len(problems) > len(old) {
		return problems[len(problems)-1]
	}
	body, err := json.Marshal(d)
	if err != nil {
		return err
	}
	return b.markTerm(ctx, store.Entry{Kind: store.EntryMark, ID: termID(d.Kind, d.Term), Verb: verbTerm, Actor: by.Name, Reason: tidy(reason), At: b.now(), Body: body})
}

// UndoTerm takes a decision on a term back.
func (b *Book) UndoTerm(ctx context.Context, by Actor, kind kb.TermKind, term, reason string) error {
	if err := by.may(Moderator, "decide on terms"); err != nil {
		return err
	}
	term = kb.Fold(term)
	list, err := b.TermDecisions(ctx)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(list, func(d TermDecided) bool { return d.Kind == kind && d.Term == term }) {
		return kb.Errorf(kb.NotFound, "there is no decision on the %s %q", kind, term)
	}
	return b.markTerm(ctx, store.Entry{Kind: store.EntryMark, ID: termID(kind, term), Verb: verbTermUndo, Actor: by.Name, Reason: tidy(reason), At: b.now(), Body: []byte("{}")})
}

func (b *Book) markTerm(ctx context.Context, e store.Entry) error {
	err := b.store.Update(ctx, func(tx *store.Tx) error {
		_, err := tx.Append(e)
		return err
	})
	if err != nil {
		return fmt.Errorf("%s: %w", e.Verb, err)
	}
	if err := b.follow(ctx); err != nil {
		return err
	}
	return b.catchUp(ctx)
}

// Term is a word for a component, a symptom or a method that cases use and the vocabulary does not know.
type Term struct {
	Kind     kb.TermKind `json:"kind"`
	Term     string      `json:"term"`
	Cases    int         `json:"cases"`
	Examples []kb.CaseID `json:"examples"` // at most termExamples
	Near     []string    `json:"near"`     // known terms that share most words with it
}

const (
	termExamples = 4
	nearTerms    = 4
)

// NewTerms lists the terms that published cases and drafts use and nobody has decided on, in most cases first; at most size of them, all if it is 0.
func (b *Book) NewTerms(ctx context.Context, by Actor, size int) ([]Term, error) {
	if err := by.may(Moderator, "look after the vocabulary"); err != nil {
		return nil, err
	}
	decided, err := b.TermDecisions(ctx)
	if err != nil {
		return nil, err
	}
	found := map[string]*Term{}
	for r, err := range b.store.Cases(ctx, store.Filter{States: []kb.State{kb.Draft, kb.Published}}) {
		if err != nil {
			return nil, fmt.Errorf("new terms: %w", err)
		}
		b.gatherTerms(found, canonical(r.Case, b.Vocabulary()))
	}
	out := []Term{}
	for id, t := range found {
		if !slices.ContainsFunc(decided, func(d TermDecided) bool { return termID(d.Kind, d.Term) == id }) {
			out = append(out, *t)
		}
	}
	slices.SortFunc(out, func(x, y Term) int {
		return cmp.Or(cmp.Compare(y.Cases, x.Cases), cmp.Compare(x.Kind, y.Kind), cmp.Compare(x.Term, y.Term))
	})
	if size > 0 {
		out = out[:min(size, len(out))]
	}
	b.suggest(out)
	return out, nil
}

// gatherTerms notes the unknown terms of one case, each once.
func (b *Book) gatherTerms(found map[string]*Term, c kb.Case) {
	voc := b.Vocabulary()
	seen := map[string]bool{}
	note := func(kind kb.TermKind, term string, known bool) {
		id := termID(kind, term)
		if known || term == "" || seen[id] {
			return
		}
		seen[id] = true
		t := found[id]
		if t == nil {
			t = &Term{Kind: kind, Term: term, Examples: []kb.CaseID{}, Near: []string{}}
			found[id] = t
		}
		if t.Cases++; len(t.Examples) < termExamples {
			t.Examples = append(t.Examples, c.ID)
		}
	}
	part := func(term string) {
		_, known := voc.Component(term)
		note(kb.TermComponent, term, known)
	}
	for _, t := range c.Tests {
		part(t.Component)
		if t.Method == "" {
			_, known := voc.Method(t.Test)
			note(kb.TermMethod, kb.Fold(t.Test), known)
		}
	}
	for _, f := range c.Fixes {
		part(f.Component)
	}
	for _, s := range c.Symptoms {
		_, known := voc.Symptom(s.Symptom)
		note(kb.TermSymptom, s.Symptom, known)
	}
}

// suggest gives each term the known ones that share most words with it.
func (b *Book) suggest(list []Term) {
	voc := b.Vocabulary()
	names := map[kb.TermKind][]string{}
	for _, c := range voc.Components() {
		names[kb.TermComponent] = append(names[kb.TermComponent], c.Name)
	}
	for _, s := range voc.Symptoms() {
		names[kb.TermSymptom] = append(names[kb.TermSymptom], s.Name)
	}
	for _, m := range voc.Methods() {
		names[kb.TermMethod] = append(names[kb.TermMethod], m.Name)
	}
	for i, t := range list {
		list[i].Near = nearest(t.Term, names[t.Kind])
	}
}

// nearest gives the names that share most words with a term: by the share of words in common (Jaccard), the last word, the noun, counting twice.
func nearest(term string, names []string) []string {
	type scored struct {
		name  string
		score float64
	}
	words := strings.Fields(term)
	var all []scored
	for _, name := range names {
		other := strings.Fields(name)
		common := 0
		for _, w := range words {
			if slices.Contains(other, w) {
				common++
			}
		}
		if common == 0 {
			continue
		}
		bonus := 0
		if words[len(words)-1] == other[len(other)-1] {
			bonus = 1
		}
		all = append(all, scored{name, float64(common+bonus) / float64(len(words)+len(other)-common+1)})
	}
	slices.SortFunc(all, func(x, y scored) int { return cmp.Or(cmp.Compare(y.score, x.score), cmp.Compare(x.name, y.name)) })
	out := []string{}
	for _, x := range all[:min(len(all), nearTerms)] {
		out = append(out, x.name)
	}
	return out
}
