package rank

import (
	"math"
	"slices"

	"ruledout/kb"
)

// lean is a row in numbers, for looking through many rows at a question. Equal numbers are equal words; 0 is nothing said.
type lean struct {
	kind, make, model, variant int32
	year                       int32
	codes                      []leanCode
	topics                     []int32 // what the row speaks of, see observation.topic; each once
	mask                       uint64  // of topics, see maskOf
	tests                      []int32 // tests that could be done again, by number
	proofs                     []int32 // passed proofs, by number
	cures                      []leanCure
}

type leanCode struct{ key, family, subtype int32 }

type leanCure struct {
	culprit int32
	action  int32
}

// kindOfTest is a test whatever its result.
type kindOfTest struct {
	component, method string
	bench             bool
}

// numbers gives words their numbers.
type numbers struct {
	words map[string]int32
	tests map[kindOfTest]int32
	list  []kindOfTest // by number
}

func (n *numbers) word(s string) int32 {
	if s == "" {
		return 0
	}
	id, ok := n.words[s]
	if !ok {
		id = int32(len(n.words) + 1)
		n.words[s] = id
	}
	return id
}

// known is word for a question, which adds none: -1 for a word that no row has.
func (n *numbers) known(s string) int32 {
	if s == "" {
		return 0
	}
	if id, ok := n.words[s]; ok {
		return id
	}
	return -1
}

func (n *numbers) test(k kindOfTest) int32 {
	id, ok := n.tests[k]
	if !ok {
		id = int32(len(n.list))
		n.tests[k] = id
		n.list = append(n.list, k)
	}
	return id
}

// maskOf gives the bit of a topic: rows whose mask shares none with a question's speak of nothing that it asks.
func maskOf(topic int32) uint64 { return 1 << (uint32(topic) % 64) }

// thin turns the rows into numbers.
func (m *Model) thin() {
	m.numbers = &numbers{words: map[string]int32{}, tests: map[kindOfTest]int32{}}
	m.lean = make([]lean, len(m.rows))
	for i, r := range m.rows {
		m.lean[i] = m.thinRow(r)
	}
}

func (m *Model) thinRow(r *row) lean {
	n := m.numbers
	out := lean{kind: n.word(r.Machine.Kind), make: n.word(r.Machine.Make), model: n.word(r.Machine.Model), variant: n.word(r.Machine.Variant), year: int32(r.Machine.Year)}
	for _, k := range r.Codes {
		out.codes = append(out.codes, leanCode{n.word("key " + k.Key.String()), n.word(familyOf(k)), n.word(k.Subtype)})
	}
	for _, t := range topicsOf(r) {
		id := n.word(t)
		out.topics = append(out.topics, id)
		out.mask |= maskOf(id)
	}
	for _, o := range r.Tests {
		if o.Result != kb.Inconclusive && !isCode(o.Method) && !o.Left {
			out.tests = appendOnce(out.tests, n.test(kindOfTest{o.Component, o.Method, o.Bench}))
		}
	}
	for _, o := range r.Proofs {
		if o.Result == kb.Pass {
			out.proofs = appendOnce(out.proofs, n.test(kindOfTest{o.Component, o.Method, false}))
		}
	}
	for _, c := range r.Cures {
		if f, ok := m.index[c.Component]; ok {
			out.cures = append(out.cures, leanCure{f, int32(slices.Index(kb.Actions(), c.Action))})
		}
	}
	return out
}

func familyOf(k keyed) string {
	if f := k.Key.Family(); f != "" {
		return "family " + string(k.Key.Scheme) + " " + f
	}
	return ""
}

func appendOnce(list []int32, x int32) []int32 {
	if slices.Contains(list, x) {
		return list
	}
	return append(list, x)
}

// topicsOf lists what a row speaks of.
func topicsOf(r *row) []string {
	var out []string
	for j := range r.Codes {
		out = appendNew(out, observation{code: &r.Codes[j]}.topic())
	}
	for j := range r.Symptoms {
		out = appendNew(out, observation{symptom: &r.Symptoms[j]}.topic())
	}
	for j := range r.Tests {
		out = appendNew(out, observation{test: &r.Tests[j]}.topic())
	}
	for _, list := range [][]attempt{r.Tried, r.Cures} {
		for j := range list {
			out = appendNew(out, observation{tried: &list[j]}.topic())
		}
	}
	return out
}

// asking is a question in numbers.
type asking struct {
	lean
	subject map[int32][]int // factors by topic
}

func (r *reply) asking() asking {
	n, q := r.m.numbers, r.q
	out := asking{subject: map[int32][]int{}}
	out.lean = lean{kind: n.known(q.Machine.Kind), make: n.known(q.Machine.Make), model: n.known(q.Machine.Model), variant: n.known(q.Machine.Variant), year: int32(q.Machine.Year)}
	for _, k := range q.Codes {
		out.codes = append(out.codes, leanCode{n.known("key " + k.Key.String()), n.known(familyOf(k)), n.known(k.Subtype)})
	}
	for j, x := range r.factors {
		if id := n.known(x.about.topic()); id > 0 {
			out.subject[id] = append(out.subject[id], j)
			out.mask |= maskOf(id)
		}
	}
	return out
}

// levelOf gives the deepest level of the chain that a row shares with the question.
func (q *asking) levelOf(x *lean) Level {
	level := LevelAll
	if q.kind > 0 && q.kind == x.kind {
		level = LevelKind
	}
	if len(q.codes) > 0 {
		shared := q.codeLevel(x)
		if shared < LevelCode {
			return max(level, shared)
		}
		level = shared
	}
	switch {
	case q.make <= 0 || q.make != x.make:
		return level
	case q.model <= 0 || q.model != x.model:
		return LevelMake
	case q.variant <= 0 || q.variant != x.variant:
		return LevelModel
	}
	return LevelVariant
}

func (q *asking) codeLevel(x *lean) Level {
	level := LevelAll
	for _, asked := range q.codes {
		for _, got := range x.codes {
			switch {
			case asked.key == got.key && asked.subtype > 0 && asked.subtype == got.subtype:
				level = max(level, LevelSubtype)
			case asked.key == got.key:
				level = max(level, LevelCode)
			case asked.family > 0 && asked.family == got.family:
				level = max(level, LevelFamily)
			}
		}
	}
	return level
}

// sameMachine tells whether a row's machine is of the kind and make that the question states.
func (q *asking) sameMachine(x *lean) bool {
	return (q.kind == 0 || q.kind == x.kind) && (q.make == 0 || q.make == x.make)
}

func (q *asking) yearsTo(x *lean) int32 {
	if q.year == 0 || x.year == 0 {
		return math.MaxInt32
	}
	return max(q.year-x.year, x.year-q.year)
}
