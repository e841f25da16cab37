// Package index finds cases by words: full text over titles and write-ups, fields, and counts of field values.
//
// The index is derived from the store and holds no text. It carries the log position that it has reached, and can be
// deleted and filled again at any time without loss. Exact reads of codes belong to the store.
//
// It stands on Bleve for its files, postings, collectors and facets. What a word is (scan.go), how a query is read
// (parse.go, plan.go) and how a hit is scored (score.go) is this package's own: Bleve's scoring takes the square root of
// term frequencies, weighs rare terms twice, and divides by the share of alternatives that matched, which would punish a
// document for using one synonym and not all.
package index
