package index

import "github.com/blevesearch/bleve/v2"

// BM25 and InverseFrequency are the formulas, for tests to hold against published values.
var (
	BM25             = bm25
	InverseFrequency = inverseFrequency
)

// Terms gives the terms of a text with their places.
func Terms(text string) []string {
	var all []string
	for _, token := range (analyzer{}).Analyze([]byte(text)) {
		all = append(all, string(token.Term))
	}
	return all
}

// Tokens gives start, end and position of every term of a text.
func Tokens(text string) [][3]int {
	var all [][3]int
	for _, token := range (analyzer{}).Analyze([]byte(text)) {
		all = append(all, [3]int{token.Start, token.End, token.Position})
	}
	return all
}

// Bare gives the size of an answer of Bleve's own to a plain query for one word, to measure beside Search.
func (x *Index) Bare(word string, size int) (int, error) {
	q := bleve.NewTermQuery(stem(word))
	q.SetField(fieldText)
	r, err := x.bleve.Search(bleve.NewSearchRequestOptions(q, size, 0, false))
	if err != nil {
		return 0, err
	}
	return int(r.Total), nil
}
