package rank

import (
	"cmp"
	"maps"
	"slices"
	"sync"

	"ruledout/kb"
	"ruledout/kb/code"
)

// share is a part of a case's credit.
type share struct {
	f int32
	r float64
}

// Model is a snapshot of the evidence under given constants. It is immutable to its users and safe for concurrent use.
type Model struct {
	p     Params
	terms Terms

	raw    []*row // as they were put in, in order of id
	rows   []*row // as the model reads them, see spell
	byID   map[kb.CaseID]int32
	names  []string // culprits named anywhere, in order; a culprit is its place here, omega is len(names)
	index  map[string]int32
	named  [][]int32   // culprits that a row names
	credit [][]share   // in order of culprit
	weight [][]float64 // of a row, for each of its codes (one for a row without codes)

	byCode    map[code.Key][]int32
	byCulprit [][]int32
	topics    map[topic]*told
	byTopic   map[code.Key][]topic // the culprits of a code, the most named first
	stats     *counts
	overlaps  *overlaps
	kinds     map[machineOfModel]string // usual kinds of machine
	common    map[string]int            // symptoms that the vocabulary does not know but several cases word alike
	numbers   *numbers
	lean      []lean
	times     map[kindOfTest]float64 // median minutes of tests

	mu        sync.Mutex
	trees     map[shape]*tree
	relations map[string][]kb.Relation
	spoken    map[spokenKey]*spoken
	silences  map[string]*silence
	pairs     map[pair]kb.Relation

	priceOnce sync.Once
	priced    *prices // see Model.prices
}

// topic is a culprit under a code; what several sources tell of it is believed in full.
type topic struct {
	key     code.Key
	culprit int32
}

// told holds the rows that tell of one topic.
type told struct {
	rows    []member
	sources map[string]int // number of rows by source; the empty source stands for many
}

// member is a row in a group, by the place of the code in the row.
type member struct{ row, code int32 }

// Model makes a snapshot of the table: credits, rates and counts under the given constants.
func (t *Table) Model(p Params) *Model {
	m := t.bare(p)
	m.stats = m.count()
	for range p.Passes {
		m.recredit()
	}
	return m
}

// bare makes a model in which only the named culprits have credit and nothing is counted yet.
func (t *Table) bare(p Params) *Model {
	m := &Model{p: p, terms: t.terms, byID: map[kb.CaseID]int32{}, index: map[string]int32{}, byCode: map[code.Key][]int32{},
		topics: map[topic]*told{}, trees: map[shape]*tree{}, relations: map[string][]kb.Relation{}, pairs: map[pair]kb.Relation{}, spoken: map[spokenKey]*spoken{}, silences: map[string]*silence{}}
	ids := slices.Sorted(maps.Keys(t.rows))
	for i, id := range ids {
		m.raw = append(m.raw, t.rows[id])
		m.byID[id] = int32(i)
	}
	m.learnKinds()
	m.learnTerms()
	for _, r := range m.raw {
		m.rows = append(m.rows, m.spell(r))
	}
	m.name()
	m.group()
	m.rankTopics()
	m.weigh()
	m.overlaps = newOverlaps(m.rows, m.named)
	m.thin()
	m.timeTests()
	return m
}

// name numbers the culprits and credits the named ones alone.
func (m *Model) name() {
	for _, r := range m.rows {
		m.names = append(m.names, r.Culprits...)
	}
	slices.Sort(m.names)
	m.names = slices.Compact(m.names)
	for i, n := range m.names {
		m.index[n] = int32(i)
	}
	m.byCulprit = make([][]int32, len(m.names))
	m.named = make([][]int32, len(m.rows))
	m.credit = make([][]share, len(m.rows))
	for i, r := range m.rows {
		for _, c := range r.Culprits {
			m.named[i] = append(m.named[i], m.index[c])
		}
		slices.Sort(m.named[i])
		for _, f := range m.named[i] {
			m.byCulprit[f] = append(m.byCulprit[f], int32(i))
			m.credit[i] = append(m.credit[i], share{f, 1 / float64(len(m.named[i]))})
		}
		for j, k := range r.Codes {
			if !slices.ContainsFunc(r.Codes[:j], func(o keyed) bool { return o.Key == k.Key }) { // a code with and without its failure type is cited once
				m.byCode[k.Key] = append(m.byCode[k.Key], int32(i))
			}
		}
	}
}

// keysOf gives the code keys under which a row counts; a row without codes counts under the empty key.
func keysOf(r *row) []code.Key {
	if len(r.Codes) == 0 {
		return []code.Key{{}}
	}
	out := make([]code.Key, len(r.Codes))
	for i, k := range r.Codes {
		out[i] = k.Key
	}
	return out
}

// group collects what each source tells of each code and culprit.
func (m *Model) group() {
	for i, r := range m.rows {
		for j, k := range keysOf(r) {
			for _, f := range m.named[i] {
				x := m.topics[topic{k, f}]
				if x == nil {
					x = &told{sources: map[string]int{}}
					m.topics[topic{k, f}] = x
				}
				x.rows = append(x.rows, member{int32(i), int32(j)})
				x.sources[r.Source]++
			}
		}
	}
}

func (m *Model) weigh() {
	m.weight = make([][]float64, len(m.rows))
	for i, r := range m.rows {
		for _, k := range keysOf(r) {
			m.weight[i] = append(m.weight[i], m.weightOf(int32(i), k, nil))
		}
	}
}

// weightOf gives how much a row counts under a code: 1, or n^(-1/2) where its source alone, in n cases, names this culprit. Of several
// culprits the one that counts most decides. Rows in without are taken as absent.
func (m *Model) weightOf(i int32, k code.Key, without map[int32]bool) float64 {
	r := m.rows[i]
	if r.Source == "" {
		return 1
	}
	best := 0.0
	for _, f := range m.named[i] {
		best = max(best, m.topics[topic{k, f}].weight(m, r.Source, without))
	}
	return best
}

// weight gives how much each case of a source counts on a topic.
func (x *told) weight(m *Model, source string, without map[int32]bool) float64 {
	own, others := x.sources[source], len(x.rows)-x.sources[source]
	for _, t := range x.rows {
		if len(without) == 0 || others > len(without) {
			break
		}
		if without[t.row] && m.rows[t.row].Source == source {
			own--
		} else if without[t.row] {
			others--
		}
	}
	if own <= 1 || others > 0 {
		return 1
	}
	return invSqrt(own)
}

// relation gives how one culprit stands to a tested component. Counting needs few of all the pairs that there are.
func (m *Model) relation(tested string, f int32) kb.Relation {
	m.mu.Lock()
	defer m.mu.Unlock()
	k := pair{tested, f}
	r, ok := m.pairs[k]
	if !ok {
		r = m.relate(tested, m.names[f])
		m.pairs[k] = r
	}
	return r
}

func (m *Model) relate(tested, culprit string) kb.Relation {
	if tested == culprit {
		return kb.Same
	}
	return m.terms.Relation(tested, culprit)
}

// related gives how every culprit stands to a tested component; omega is unrelated.
func (m *Model) related(tested string) []kb.Relation {
	m.mu.Lock()
	defer m.mu.Unlock()
	if r, ok := m.relations[tested]; ok {
		return r
	}
	r := make([]kb.Relation, len(m.names)+1)
	for f, name := range m.names {
		r[f] = m.relate(tested, name)
	}
	m.relations[tested] = r
	return r
}

// exclusion is what a question may not count: itself and what was merged into it. changes are the rows whose weights differ by it.
type exclusion struct {
	rows    map[int32]bool
	changes []change
}

// change is the difference of a row's weight under one of its codes; code 0 also stands for the row as a whole.
type change struct {
	member
	by float64
}

func (m *Model) exclude(rows map[int32]bool) exclusion {
	ex := exclusion{rows: rows}
	touched := map[member]bool{}
	for _, i := range slices.Sorted(maps.Keys(rows)) {
		for j, k := range keysOf(m.rows[i]) {
			ex.changes = append(ex.changes, change{member{i, int32(j)}, -m.weight[i][j]})
			for _, f := range m.named[i] {
				m.touch(touched, m.topics[topic{k, f}], rows)
			}
		}
	}
	for _, x := range sortedMembers(touched) {
		w := m.weightOf(x.row, keysOf(m.rows[x.row])[x.code], rows)
		if by := w - m.weight[x.row][x.code]; by != 0 {
			ex.changes = append(ex.changes, change{x, by})
		}
	}
	return ex
}

// touch notes the rows whose weight may change when rows that tell of a topic go: with enough other sources none does.
func (m *Model) touch(touched map[member]bool, x *told, without map[int32]bool) {
	if len(x.sources)-len(without) >= 2 || x.sources[""] > len(without) {
		return
	}
	for _, t := range x.rows {
		if !without[t.row] && m.rows[t.row].Source != "" {
			touched[t] = true
		}
	}
}

func sortedMembers(set map[member]bool) []member {
	return slices.SortedFunc(maps.Keys(set), func(a, b member) int {
		if a.row != b.row {
			return int(a.row - b.row)
		}
		return int(a.code - b.code)
	})
}

// Issuers lists the makers in whose cases a code of the maker's own stands, most cases first.
func (m *Model) Issuers(k code.Key) []string {
	n := map[string]int{}
	for other, rows := range m.byCode {
		if other.Scheme == k.Scheme && other.Code == k.Code && other.Issuer != "" {
			n[other.Issuer] += len(rows)
		}
	}
	return slices.SortedFunc(maps.Keys(n), func(a, b string) int { return cmp.Or(cmp.Compare(n[b], n[a]), cmp.Compare(a, b)) })
}

// machineOfModel is a make and model, or a make alone.
type machineOfModel struct{ make, model string }

// learnKinds notes the usual kind of every make and model, and of every make.
func (m *Model) learnKinds() {
	n := map[machineOfModel]map[string]int{}
	for _, r := range m.raw {
		if r.Machine.Kind == "" || r.Machine.Make == "" {
			continue
		}
		for _, k := range []machineOfModel{{r.Machine.Make, r.Machine.Model}, {make: r.Machine.Make}} {
			if n[k] == nil {
				n[k] = map[string]int{}
			}
			n[k][r.Machine.Kind]++
		}
	}
	m.kinds = map[machineOfModel]string{}
	for k, kinds := range n {
		m.kinds[k] = slices.MaxFunc(slices.Sorted(maps.Keys(kinds)), func(a, b string) int { return cmp.Or(cmp.Compare(kinds[a], kinds[b]), cmp.Compare(b, a)) })
	}
}

// commonTerm is the number of cases from which a symptom that the vocabulary does not know is a term of its own.
const commonTerm = 3

// learnTerms notes the symptoms that the vocabulary does not know but several cases word alike.
func (m *Model) learnTerms() {
	n := map[string]int{}
	for _, r := range m.raw {
		for _, s := range r.Symptoms {
			n[s.Term]++
		}
	}
	maps.DeleteFunc(n, func(_ string, n int) bool { return n < commonTerm })
	m.common = n
}

// spell gives a case as the model reads it. It takes the usual kind of the make and model where none is named: most writers say what they
// drive, few what kind of thing it is, and a case of no kind would be far from every question that names one. A symptom in own words that
// few others word alike is replaced by those words.
func (m *Model) spell(r *row) *row {
	out := *r
	out.Machine.Kind = cmp.Or(r.Machine.Kind, m.UsualKind(r.Machine.Make, r.Machine.Model))
	out.Symptoms = nil
	add := func(n noticed) {
		if !slices.ContainsFunc(out.Symptoms, func(o noticed) bool { return o.Term == n.Term }) {
			out.Symptoms = append(out.Symptoms, n)
		}
	}
	for _, s := range r.Symptoms {
		if s.Absent || len(s.Words) == 0 || m.common[s.Term] > 0 {
			add(noticed{Term: s.Term, Absent: s.Absent})
			continue
		}
		for _, w := range s.Words {
			add(noticed{Term: w})
		}
	}
	return &out
}

// asked gives a question as the model reads it.
func (m *Model) asked(q kb.Case) *row { return m.spell((&Table{terms: m.terms}).rowOf(q)) }

// UsualKind gives the kind of machine that most cases of a make and model name, of the make if none of the model does, empty if none
// does.
func (m *Model) UsualKind(maker, model string) string {
	return cmp.Or(m.kinds[machineOfModel{maker, model}], m.kinds[machineOfModel{make: maker}])
}
