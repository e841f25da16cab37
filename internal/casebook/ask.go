package casebook

import (
	"context"
	"fmt"
	"io"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"

	"ruledout/ingest"
	"ruledout/kb"
	"ruledout/kb/code"
	"ruledout/kb/rank"
)

// Question is an open case as a person puts it: in words and short statements.
type Question struct {
	Words    string   // codes and the asker's own words
	Machine  string   // "Halden Brisk 3 2019"
	Symptoms []string // noticed
	Absent   []string // looked for and not there
	Passed   []string // "TEST of COMPONENT"
	Failed   []string // "TEST of COMPONENT"
	Readings []string // "TEST of COMPONENT = 84 ohm"
	Tried    []string // "ACTION COMPONENT", done without cure
}

// Understand reads a question into an open case. A statement that cannot be read is an error that names it.
func (b *Book) Understand(q Question) (kb.Case, error) {
	c := kb.Case{V: kb.Version, Status: kb.Open}
	if strings.TrimSpace(q.Words) != "" {
		c = b.understandWords(q.Words)
	}
	if q.Machine != "" {
		c.Machine = ingest.ParseMachine(q.Machine, b.Vocabulary())
	}
	for _, s := range q.Symptoms {
		c.Symptoms = append(c.Symptoms, kb.Symptom{Symptom: s})
	}
	for _, s := range q.Absent {
		c.Symptoms = append(c.Symptoms, kb.Symptom{Symptom: s, Absent: true})
	}
	if err := b.statements(&c, q); err != nil {
		return kb.Case{}, err
	}
	return c, c.CheckRecord()
}

// bareCode is a maker's code as people type it when they ask: nothing else stands beside it to tell that it is one.
var bareCode = regexp.MustCompile(`^[A-Za-z]{1,2}-?[0-9]{1,3}$`)

// understandWords reads words of which some may be codes. What only looks like a code is one if the reader finds no other: whoever
// types "E6 cold floor" means the display.
func (b *Book) understandWords(words string) kb.Case {
	c := b.Reader().Understand(words)
	if len(c.Codes) == 0 {
		var codes []kb.CodeEntry
		var rest []string
		for _, w := range strings.Fields(words) {
			if read, err := code.Parse(w); err == nil && bareCode.MatchString(w) {
				codes = append(codes, kb.CodeEntry{Code: read.String()})
			} else {
				rest = append(rest, w)
			}
		}
		if len(codes) > 0 {
			c = b.Reader().Understand(strings.Join(rest, " "))
			c.Codes = codes
		}
	}
	c.V, c.Status = kb.Version, kb.Open
	return c
}

func (b *Book) statements(c *kb.Case, q Question) error {
	tests := []struct {
		field  string
		list   []string
		result kb.Result
	}{{"--passed", q.Passed, kb.Pass}, {"--failed", q.Failed, kb.Fail}, {"--reading", q.Readings, ""}}
	for _, group := range tests {
		for _, s := range group.list {
			t, err := ingest.ParseTest(s, b.Vocabulary())
			if err != nil {
				return inFlag(group.field, s, err)
			}
			if group.field == "--reading" && t.Reading == nil {
				return inFlag(group.field, s, fmt.Errorf(`want "TEST of COMPONENT = VALUE UNIT"`))
			}
			t.Result = group.result
			c.Tests = joinTest(c.Tests, t)
		}
	}
	for _, s := range q.Tried {
		f, err := ingest.ParseFix(s, b.Vocabulary())
		if err != nil {
			return inFlag("--tried", s, err)
		}
		f.Outcome = kb.NoChange
		c.Fixes = append(c.Fixes, f)
	}
	return nil
}

func inFlag(flag, value string, err error) error {
	return &kb.Error{Kind: kb.Invalid, Field: fmt.Sprintf("%s %q", flag, value), Msg: err.Error()}
}

// joinTest adds a test; a reading of a test already named passed or failed becomes part of that test.
func joinTest(list []kb.Test, t kb.Test) []kb.Test {
	i := slices.IndexFunc(list, func(o kb.Test) bool { return o.Test == t.Test && o.Component == t.Component })
	if i < 0 || t.Reading == nil || list[i].Reading != nil || t.Result != "" && list[i].Result != "" {
		return append(list, t)
	}
	list[i].Reading = t.Reading
	if t.Result != "" {
		list[i].Result = t.Result
	}
	return list
}

// Ask answers an open case from the published evidence. The question never counts itself.
func (b *Book) Ask(ctx context.Context, q kb.Case) (kb.Answer, error) {
	if err := b.follow(ctx); err != nil {
		return kb.Answer{}, fmt.Errorf("ask: %w", err)
	}
	return b.answer(q, nil), nil
}

// kindOf gives the kind of machine of a question: as stated, else the usual one of its make and model.
func (b *Book) kindOf(q kb.Case) string {
	model, _ := b.snapshot()
	known := canonical(q, b.Vocabulary())
	if known.Machine.Kind == "" && known.Machine.Make != "" {
		return model.UsualKind(known.Machine.Make, known.Machine.Model)
	}
	return known.Machine.Kind
}

// answer answers from the evidence as it is, with a plan where opt is not nil.
func (b *Book) answer(q kb.Case, opt *rank.PlanOptions) kb.Answer {
	model, pos := b.snapshot()
	known := canonical(q, b.Vocabulary())
	a := model.Ask(known, rank.Options{MaxCases: 20, Plan: opt})
	a.V, a.ID, a.LogPosition, a.Understood = kb.Version, string(q.ID), pos, known
	a.Understood.Machine = q.Machine // shown as it was named; compared folded
	a.Meaning = b.meanings(known)
	a.Warnings = append(a.Warnings, b.warnings(model, known, a)...)
	b.addCautions(known, b.kindOf(q), &a)
	return complete(a)
}

// meanings says what the codes mean by their standard, and what the vocabulary or the casebook adds.
func (b *Book) meanings(q kb.Case) []kb.Meaning {
	var out []kb.Meaning
	for _, e := range q.Codes {
		c, err := e.Parse()
		if err != nil {
			continue
		}
		m := code.Describe(c)
		if m.Text == "" {
			m.Text, m.Source = "the maker's own code; what it means stands in the maker's documents", "no standard defines it"
		}
		out = append(out, kb.Meaning{Code: c.String(), Text: m.Text, Source: m.Source})
		if term, ok := b.Vocabulary().CodeTerm(c.Text); ok && term.Meaning != "" && term.Meaning != m.Text {
			out = append(out, kb.Meaning{Code: c.String(), Text: term.Meaning, Source: term.Source})
		}
	}
	return out
}

func (b *Book) warnings(model *rank.Model, q kb.Case, a kb.Answer) []string {
	var out []string
	makeless := false
	for _, e := range q.Codes {
		k, err := e.Key(q.Machine.Make)
		if err == nil && k.Issuer == "" {
			makeless = true
			out = append(out, fmt.Sprintf("%s is a maker's own code and means different things per maker: name the machine's make%s", e.Code, knownMakers(model.Issuers(k))))
		}
	}
	for _, term := range b.unknownTerms(q) {
		out = append(out, fmt.Sprintf("%q is not in the vocabulary: it is compared letter by letter", term))
	}
	switch i := slices.IndexFunc(a.Basis, func(l kb.Basis) bool { return l.Level == rank.LevelCode.String() }); {
	case len(a.Fixes) == 0:
		out = append(out, "no published case fits this question: the answer is not known here")
	case i >= 0 && a.Basis[i].Cases == 0 && !makeless:
		out = append(out, "no published case has this code: what follows comes from like codes and machines, and is no more than a hint")
	}
	return out
}

// knownMakers says whose codes of this spelling the book has.
func knownMakers(list []string) string {
	if len(list) == 0 {
		return ""
	}
	return " (the book has it of " + strings.Join(list, ", ") + ")"
}

func (b *Book) unknownTerms(q kb.Case) []string {
	var out []string
	note := func(term string, known bool) {
		if !known && !slices.Contains(out, term) {
			out = append(out, term)
		}
	}
	for _, t := range q.Tests {
		note(t.Component, b.knows(t.Component))
	}
	for _, f := range q.Fixes {
		note(f.Component, b.knows(f.Component))
	}
	return out
}

// knows tells whether the vocabulary has the component, or the one that it is named after ("seat heater fuse" after "fuse").
func (b *Book) knows(component string) bool {
	words := strings.Fields(component)
	for i := range words {
		if _, ok := b.Vocabulary().Component(strings.Join(words[i:], " ")); ok {
			return true
		}
	}
	return false
}

// complete replaces missing lists by empty ones, so that every face and the JSON form show the same shape.
func complete(a kb.Answer) kb.Answer {
	a.Meaning, a.Basis, a.RuledOut = filled(a.Meaning), filled(a.Basis), filled(a.RuledOut)
	a.Next, a.Fixes, a.Cautions, a.Warnings = filled(a.Next), filled(a.Fixes), filled(a.Cautions), filled(a.Warnings)
	a.Unlisted.Nearest = filled(a.Unlisted.Nearest)
	for i := range a.Next {
		n := &a.Next[i]
		n.Cautions, n.Licensed, n.Branches = filled(n.Cautions), filled(n.Licensed), filled(n.Branches)
	}
	for i := range a.Fixes {
		f := &a.Fixes[i]
		f.Actions, f.Cases, f.Because = filled(f.Actions), filled(f.Cases), filled(f.Because)
		for j := range f.Because {
			f.Because[j].Cases = filled(f.Because[j].Cases)
		}
	}
	return a
}

func filled[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

// Reply is the answer to one line of a batch, or why there is none.
type Reply struct {
	ID     string
	Answer kb.Answer
	Err    error
}

// AskBatch answers the open cases of r, one JSON record a line, in order, and hands each reply to emit. A bad line gives a reply with
// an error and the rest goes on. It stops when emit fails.
func (b *Book) AskBatch(ctx context.Context, r io.Reader, file string, emit func(Reply) error) error {
	if err := b.follow(ctx); err != nil {
		return fmt.Errorf("ask: %w", err)
	}
	jobs := func(yield func(func() Reply) bool) {
		for line, err := range kb.Records(r, file) {
			if !yield(func() Reply { return b.reply(line, err) }) {
				return
			}
		}
	}
	return inOrder(ctx, runtime.GOMAXPROCS(0), jobs, emit)
}

func (b *Book) reply(line kb.Line, err error) Reply {
	id := line.ID
	if id == "" {
		id = strconv.Itoa(line.N)
	}
	if err == nil {
		if err = line.Case.CheckRecord(); err != nil {
			err = kb.At(err, "", line.N)
		}
	}
	if err != nil {
		return Reply{ID: id, Err: err}
	}
	a := b.answer(line.Case, nil)
	a.ID = id
	return Reply{ID: id, Answer: a}
}
