package index

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"github.com/blevesearch/bleve/v2/mapping"
	"github.com/blevesearch/bleve/v2/search"
	"github.com/blevesearch/bleve/v2/search/searcher"
	api "github.com/blevesearch/bleve_index_api"

	"ruledout/kb"
)

// node is one part of a query that finds documents.
type node interface {
	searcher(b *builder) (search.Searcher, error)
}

type (
	termNode   string   // a term of the text
	phraseNode []string // terms of the text, one after the other; empty ones stand for any word
	allNode    []node   // every one of them
	anyNode    struct { // one of them at least
		nodes []node
		same  bool // they mean the same
	}
	keyNode struct { // a value of a field
		field, value string
		scored       bool
	}
)

// plan is a query as it is carried out.
type plan struct {
	words []node // what is scored, and may be loosened
	must  []node
	not   []node
}

// builder makes searchers on one reader of the index.
type builder struct {
	ctx     context.Context
	reader  api.IndexReader
	options search.SearcherOptions
	places  bool // the places of hits are wanted
	docs    uint64
	average float64 // length of a text
}

func (n termNode) searcher(b *builder) (search.Searcher, error) { return b.term(string(n), b.places) }

func (b *builder) term(term string, places bool) (search.Searcher, error) {
	r, err := b.reader.TermFieldReader(b.ctx, []byte(term), fieldText, true, true, places)
	if err != nil {
		return nil, err
	}
	return &termSearcher{reader: r, term: term, idf: inverseFrequency(b.docs, r.Count()), average: b.average}, nil
}

func (n keyNode) searcher(b *builder) (search.Searcher, error) {
	r, err := b.reader.TermFieldReader(b.ctx, []byte(n.value), n.field, false, false, false)
	if err != nil {
		return nil, err
	}
	s := &keySearcher{reader: r}
	if n.scored {
		s.score = inverseFrequency(b.docs, r.Count())
	}
	return s, nil
}

func (n phraseNode) searcher(b *builder) (search.Searcher, error) {
	var all []search.Searcher
	for i, term := range n {
		if term == "" || slices.Contains(n[:i], term) {
			continue
		}
		s, err := b.term(term, true)
		if err != nil {
			return nil, closed(all, err)
		}
		all = append(all, s)
	}
	s, err := b.conjunction(all)
	return &phraseSearcher{Searcher: s, terms: n, keep: b.places}, err
}

func (n allNode) searcher(b *builder) (search.Searcher, error) {
	all, err := b.each(n)
	if err != nil {
		return nil, err
	}
	return b.conjunction(all)
}

func (n anyNode) searcher(b *builder) (search.Searcher, error) {
	all, err := b.each(n.nodes)
	if err != nil {
		return nil, err
	}
	if len(all) == 1 {
		return all[0], nil
	}
	return &anySearcher{all: all, same: n.same}, nil
}

func (b *builder) each(nodes []node) ([]search.Searcher, error) {
	var all []search.Searcher
	for _, n := range nodes {
		s, err := n.searcher(b)
		if err != nil {
			return nil, closed(all, err)
		}
		all = append(all, s)
	}
	return all, nil
}

func closed(all []search.Searcher, err error) error {
	for _, s := range all {
		s.Close()
	}
	return err
}

func (b *builder) conjunction(all []search.Searcher) (search.Searcher, error) {
	if len(all) == 1 {
		return all[0], nil
	}
	s, err := searcher.NewConjunctionSearcher(b.ctx, b.reader, all, b.options)
	if err != nil {
		return nil, closed(all, err)
	}
	return s, nil
}

// tree is a plan as Bleve takes a query.
type tree struct {
	x      *Index
	plan   plan
	loose  bool // one of the words is enough
	places bool
}

// Searcher makes the searchers of the plan.
func (t tree) Searcher(ctx context.Context, r api.IndexReader, _ mapping.IndexMapping, options search.SearcherOptions) (search.Searcher, error) {
	docs, average, err := t.x.lengths(ctx, r)
	if err != nil {
		return nil, err
	}
	b := &builder{ctx: ctx, reader: r, options: options, places: t.places, docs: docs, average: average}
	must := slices.Clone(t.plan.must)
	switch {
	case t.loose && len(t.plan.words) > 1:
		must = append(must, anyNode{nodes: t.plan.words})
	default:
		must = append(must, t.plan.words...)
	}
	if len(must) == 0 {
		must = append(must, keyNode{field: fieldText, value: everyDocument})
	}
	found, err := allNode(must).searcher(b)
	if err != nil || len(t.plan.not) == 0 {
		return found, err
	}
	without, err := anyNode{nodes: t.plan.not}.searcher(b)
	if err != nil {
		return nil, closed([]search.Searcher{found}, err)
	}
	return searcher.NewBooleanSearcher(ctx, r, found, nil, without, options)
}

// newPlan turns the clauses of a query into a plan. Words that stand together are read together, since several may name one
// thing.
func (x *Index) newPlan(clauses []Clause) (plan, error) {
	var p plan
	var run []string
	flush := func() {
		p.words = append(p.words, x.runNodes(strings.Join(run, " "))...)
		run = nil
	}
	for _, c := range clauses {
		if c.Field == "" && !c.Not && !c.Phrase {
			run = append(run, c.Text)
			continue
		}
		flush()
		n, err := x.clauseNode(c)
		if err != nil {
			return p, err
		}
		switch {
		case n == nil:
		case c.Not:
			p.not = append(p.not, n)
		default:
			p.must = append(p.must, n)
		}
	}
	flush()
	return p, nil
}

// clauseNode gives what a clause finds, nil if it holds nothing that could be found.
func (x *Index) clauseNode(c Clause) (node, error) {
	switch {
	case c.Field != "":
		return x.fieldNode(c)
	case c.Phrase:
		return phrase(c.Text), nil
	}
	nodes := x.runNodes(c.Text)
	if len(nodes) == 0 {
		return nil, nil
	}
	return allNode(nodes), nil
}

func (x *Index) fieldNode(c Clause) (node, error) {
	key := func(value string) node { return keyNode{field: c.Field, value: value} }
	switch c.Field {
	case "code":
		return keyNode{field: fieldForm, value: askedForm(c.Text)}, nil
	case "make":
		return keyNode{field: fieldMake, value: kb.Fold(c.Text)}, nil
	case "model":
		return keyNode{field: fieldModel, value: kb.Fold(c.Text)}, nil
	case "component":
		return key(x.voc.CanonicalComponent(c.Text)), nil
	case "kind":
		if k, ok := x.voc.MachineKind(c.Text); ok {
			return key(k.Name), nil
		}
		return key(kb.Fold(c.Text)), nil
	case "action":
		if a, ok := x.voc.Action(c.Text); ok {
			return key(string(a)), nil
		}
	case "year":
		return years(c)
	}
	return key(strings.ToLower(c.Text)), nil
}

// years reads a year or a range of years.
func years(c Clause) (node, error) {
	from, to, isRange := strings.Cut(c.Text, "..")
	if !isRange {
		to = from
	}
	first, err1 := strconv.Atoi(from)
	last, err2 := strconv.Atoi(to)
	if err1 != nil || err2 != nil || first > last || first < 1800 || last > 2200 {
		return nil, queryError(c.At, "%q is no year; want one such as 2015, or 2015..2018", c.Text)
	}
	n := anyNode{same: true}
	for y := first; y <= last; y++ {
		n.nodes = append(n.nodes, keyNode{field: "year", value: strconv.Itoa(y)})
	}
	return n, nil
}

// phrase gives what finds words that stand one after the other, nil if there are none.
func phrase(text string) node {
	var terms []string
	scan(text, func(c chunk) { terms = append(terms, c.phraseTerms()...) })
	for len(terms) > 0 && terms[0] == "" {
		terms = terms[1:]
	}
	for len(terms) > 0 && terms[len(terms)-1] == "" {
		terms = terms[:len(terms)-1]
	}
	switch len(terms) {
	case 0:
		return nil
	case 1:
		return termNode(terms[0])
	}
	return phraseNode(terms)
}

// phraseTerms gives one term for every place that a chunk takes.
func (c chunk) phraseTerms() []string {
	if len(c.parts) < 2 && len(c.whole) > 0 {
		return c.whole[:1]
	}
	return c.words()
}

// chunkNode gives what finds a chunk in any of its spellings, nil if it is only stop words.
func chunkNode(text string, c chunk) node {
	n := anyNode{same: true}
	switch {
	case len(c.whole) > 0 && len(c.parts) < 2:
		n.nodes = append(n.nodes, termNode(c.whole[0]))
	case len(c.whole) > 0:
		for _, w := range c.whole {
			n.nodes = append(n.nodes, termNode(w))
		}
		fallthrough
	default:
		if p := phrase(text[c.start:c.end]); p != nil {
			n.nodes = append(n.nodes, p)
		}
	}
	if written := text[c.start:c.end]; strings.ContainsAny(written, "0123456789") && strings.ContainsFunc(written, isLetter) {
		n.nodes = append(n.nodes, keyNode{field: fieldForm, value: askedForm(written), scored: true})
	}
	switch len(n.nodes) {
	case 0:
		return nil
	case 1:
		return n.nodes[0]
	}
	return n
}

func isLetter(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' }
