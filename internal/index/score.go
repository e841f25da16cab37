package index

import (
	"math"
	"slices"

	"github.com/blevesearch/bleve/v2/search"
	api "github.com/blevesearch/bleve_index_api"
)

// The parameters of BM25. These suit texts whose length says little about what they are about; they are the defaults of a
// widely used baseline (k1 0.9, b 0.4) and were not tuned here.
const (
	bm25K1 = 0.9
	bm25B  = 0.4
)

// inverseFrequency gives the weight of a term that df of n documents hold (Robertson and Sparck Jones, kept positive by the 1).
func inverseFrequency(n, df uint64) float64 {
	return math.Log(1 + (float64(n)-float64(df)+0.5)/(float64(df)+0.5))
}

// bm25 gives the score of a term that stands tf times in a text of the length (Robertson and Walker 1994).
func bm25(idf, tf, length, average, k1, b float64) float64 {
	return idf * tf * (k1 + 1) / (tf + k1*(1-b+b*length/average))
}

// leaf is what every searcher here has in common: Bleve's own scoring is not used.
type leaf struct{}

// Weight takes no part in a norm over the query.
func (leaf) Weight() float64 { return 0 }

// SetQueryNorm is not used.
func (leaf) SetQueryNorm(float64) {}

// Min is the number of alternatives that must match.
func (leaf) Min() int { return 0 }

// Size is not accounted for: a query holds few searchers.
func (leaf) Size() int { return 0 }

// termSearcher finds the documents that hold a term in the text, scored by BM25.
type termSearcher struct {
	leaf
	reader  api.TermFieldReader
	now     api.TermFieldDoc
	term    string
	idf     float64
	average float64
}

// Next gives the next document.
func (s *termSearcher) Next(ctx *search.SearchContext) (*search.DocumentMatch, error) {
	doc, err := s.reader.Next(s.now.Reset())
	return s.match(ctx, doc), err
}

// Advance gives the first document not before an id.
func (s *termSearcher) Advance(ctx *search.SearchContext, id api.IndexInternalID) (*search.DocumentMatch, error) {
	doc, err := s.reader.Advance(id, s.now.Reset())
	return s.match(ctx, doc), err
}

func (s *termSearcher) match(ctx *search.SearchContext, doc *api.TermFieldDoc) *search.DocumentMatch {
	if doc == nil {
		return nil
	}
	m := ctx.DocumentMatchPool.Get()
	m.IndexInternalID = api.NewIndexInternalIDFrom(m.IndexInternalID, doc.ID)
	m.Score = bm25(s.idf, float64(doc.Freq), 1/(doc.Norm*doc.Norm), s.average, bm25K1, bm25B)
	for _, v := range doc.Vectors {
		m.FieldTermLocations = appendLocation(m.FieldTermLocations, s.term, v)
	}
	return m
}

// appendLocation keeps a place of a term. The room that an earlier match left behind is used again.
func appendLocation(all []search.FieldTermLocation, term string, v *api.TermFieldVector) []search.FieldTermLocation {
	var item search.ArrayPositions
	if n := len(all); n < cap(all) {
		item = all[:n+1][n].Location.ArrayPositions[:0]
	}
	return append(all, search.FieldTermLocation{Field: v.Field, Term: term, Location: search.Location{
		Pos: v.Pos, Start: v.Start, End: v.End, ArrayPositions: append(item, v.ArrayPositions...)}})
}

// Count gives the number of documents with the term.
func (s *termSearcher) Count() uint64 { return s.reader.Count() }

// Close ends the use.
func (s *termSearcher) Close() error { return s.reader.Close() }

// DocumentMatchPoolSize is how many matches it holds at a time.
func (s *termSearcher) DocumentMatchPoolSize() int { return 1 }

// anySearcher finds the documents that any of its alternatives finds. Alternatives that mean the same give the best of
// their scores, others the sum.
type anySearcher struct {
	leaf
	all     []search.Searcher
	heads   []*search.DocumentMatch
	same    bool
	started bool
}

// Next gives the next document.
func (s *anySearcher) Next(ctx *search.SearchContext) (*search.DocumentMatch, error) {
	if err := s.start(ctx); err != nil {
		return nil, err
	}
	return s.take(ctx)
}

// Advance gives the first document not before an id.
func (s *anySearcher) Advance(ctx *search.SearchContext, id api.IndexInternalID) (*search.DocumentMatch, error) {
	if err := s.start(ctx); err != nil {
		return nil, err
	}
	for i, head := range s.heads {
		if head == nil || head.IndexInternalID.Compare(id) >= 0 {
			continue
		}
		ctx.DocumentMatchPool.Put(head)
		var err error
		if s.heads[i], err = s.all[i].Advance(ctx, id); err != nil {
			return nil, err
		}
	}
	return s.take(ctx)
}

func (s *anySearcher) start(ctx *search.SearchContext) (err error) {
	if s.started {
		return nil
	}
	s.started = true
	s.heads = make([]*search.DocumentMatch, len(s.all))
	for i, one := range s.all {
		if s.heads[i], err = one.Next(ctx); err != nil {
			return err
		}
	}
	return nil
}

// take merges the heads that stand at the first document, and moves them on.
func (s *anySearcher) take(ctx *search.SearchContext) (*search.DocumentMatch, error) {
	var first *search.DocumentMatch
	for _, head := range s.heads {
		if head != nil && (first == nil || head.IndexInternalID.Compare(first.IndexInternalID) < 0) {
			first = head
		}
	}
	if first == nil {
		return nil, nil
	}
	for i, head := range s.heads {
		if head == nil || head.IndexInternalID.Compare(first.IndexInternalID) != 0 {
			continue
		}
		if head != first {
			s.merge(first, head)
			ctx.DocumentMatchPool.Put(head)
		}
		var err error
		if s.heads[i], err = s.all[i].Next(ctx); err != nil {
			return nil, err
		}
	}
	return first, nil
}

func (s *anySearcher) merge(into, other *search.DocumentMatch) {
	if s.same {
		into.Score = max(into.Score, other.Score)
	} else {
		into.Score += other.Score
	}
	into.FieldTermLocations = search.MergeFieldTermLocations(into.FieldTermLocations, []*search.DocumentMatch{other})
}

// Count gives the most documents that can be found.
func (s *anySearcher) Count() uint64 {
	var n uint64
	for _, one := range s.all {
		n += one.Count()
	}
	return n
}

// Close ends the use.
func (s *anySearcher) Close() error {
	var first error
	for _, one := range s.all {
		if err := one.Close(); err != nil && first == nil {
			first = err
		}
	}
	return first
}

// DocumentMatchPoolSize is how many matches it holds at a time.
func (s *anySearcher) DocumentMatchPoolSize() int {
	n := len(s.all)
	for _, one := range s.all {
		n += one.DocumentMatchPoolSize()
	}
	return n
}

// phraseSearcher lets through what another finds where its terms stand one after the other.
type phraseSearcher struct {
	search.Searcher
	terms []string // empty: any word
	keep  bool     // the places are wanted
	found []search.FieldTermLocation
}

// Next gives the next document.
func (s *phraseSearcher) Next(ctx *search.SearchContext) (*search.DocumentMatch, error) {
	m, err := s.Searcher.Next(ctx)
	return s.settle(ctx, m, err)
}

// Advance gives the first document not before an id.
func (s *phraseSearcher) Advance(ctx *search.SearchContext, id api.IndexInternalID) (*search.DocumentMatch, error) {
	m, err := s.Searcher.Advance(ctx, id)
	return s.settle(ctx, m, err)
}

func (s *phraseSearcher) settle(ctx *search.SearchContext, m *search.DocumentMatch, err error) (*search.DocumentMatch, error) {
	for err == nil && m != nil {
		if inPhrase := s.standing(m.FieldTermLocations); len(inPhrase) > 0 {
			m.FieldTermLocations = m.FieldTermLocations[:0]
			if s.keep {
				m.FieldTermLocations = append(m.FieldTermLocations, inPhrase...)
			}
			return m, nil
		}
		ctx.DocumentMatchPool.Put(m)
		m, err = s.Searcher.Next(ctx)
	}
	return nil, err
}

// standing gives the places of the terms where they make the phrase.
func (s *phraseSearcher) standing(all []search.FieldTermLocation) []search.FieldTermLocation {
	s.found = s.found[:0]
	for i := range all {
		if all[i].Term == s.terms[0] {
			s.follow(&all[i].Location, all)
		}
	}
	return s.found
}

// follow adds the places of the phrase that starts at a place, none if it does not stand there.
func (s *phraseSearcher) follow(first *search.Location, all []search.FieldTermLocation) {
	before := len(s.found)
	for i, term := range s.terms {
		if term == "" {
			continue
		}
		at := slices.IndexFunc(all, func(l search.FieldTermLocation) bool {
			return l.Location.Pos == first.Pos+uint64(i) && l.Term == term && slices.Equal(l.Location.ArrayPositions, first.ArrayPositions)
		})
		if at < 0 {
			s.found = s.found[:before]
			return
		}
		s.found = append(s.found, all[at])
	}
}

// keySearcher finds the documents that hold a value in a field; all get the same score.
type keySearcher struct {
	leaf
	reader api.TermFieldReader
	now    api.TermFieldDoc
	score  float64
}

// Next gives the next document.
func (s *keySearcher) Next(ctx *search.SearchContext) (*search.DocumentMatch, error) {
	doc, err := s.reader.Next(s.now.Reset())
	return s.match(ctx, doc), err
}

// Advance gives the first document not before an id.
func (s *keySearcher) Advance(ctx *search.SearchContext, id api.IndexInternalID) (*search.DocumentMatch, error) {
	doc, err := s.reader.Advance(id, s.now.Reset())
	return s.match(ctx, doc), err
}

func (s *keySearcher) match(ctx *search.SearchContext, doc *api.TermFieldDoc) *search.DocumentMatch {
	if doc == nil {
		return nil
	}
	m := ctx.DocumentMatchPool.Get()
	m.IndexInternalID = api.NewIndexInternalIDFrom(m.IndexInternalID, doc.ID)
	m.Score = s.score
	return m
}

// Count gives the number of documents with the value.
func (s *keySearcher) Count() uint64 { return s.reader.Count() }

// Close ends the use.
func (s *keySearcher) Close() error { return s.reader.Close() }

// DocumentMatchPoolSize is how many matches it holds at a time.
func (s *keySearcher) DocumentMatchPoolSize() int { return 1 }
