package index

import (
	"slices"
	"strings"

	"ruledout/kb"
)

// maxSynonyms bounds how many other ways to write one thing a query looks for.
const maxSynonyms = 24

// synonyms knows the ways to write one thing. They are looked up when a query is read and not put into the index: most have
// several words, which Bleve's own synonyms cannot have, and a new synonym must not mean indexing everything again.
type synonyms struct {
	byWords map[string][]kb.Phrase // folded words -> what they may name
	ways    map[named][]string     // what is named -> as written in the vocabulary
	longest int                    // in words
}

// named is one thing that the vocabulary knows.
type named struct {
	kind kb.TermKind
	name string
}

func newSynonyms(voc *kb.Vocabulary) synonyms {
	s := synonyms{byWords: map[string][]kb.Phrase{}, ways: map[named][]string{}}
	for _, p := range voc.Phrases() {
		if p.Kind == kb.TermAction || p.Absent { // verbs are too common to widen, and "starts fine" is no way to write "no start"
			continue
		}
		key := strings.Join(p.Words, " ")
		s.byWords[key] = append(s.byWords[key], p)
		s.longest = max(s.longest, len(p.Words))
		thing := named{p.Kind, p.Name}
		s.ways[thing] = append(s.ways[thing], p.Written)
	}
	return s
}

// runNodes gives what finds the words of a text, one node for each thing that they name, in any way to write it.
func (x *Index) runNodes(text string) []node {
	var chunks []chunk
	scan(text, func(c chunk) { chunks = append(chunks, c) })
	var out []node
	for i := 0; i < len(chunks); {
		size, ways := x.synonyms.at(text, chunks[i:])
		if n := written(text, chunks[i:i+size], ways); n != nil {
			out = append(out, n)
		}
		i += size
	}
	return out
}

// at finds the most chunks, from the first on, that name one thing, with the other ways to write it. What names nothing is one
// chunk.
func (s synonyms) at(text string, chunks []chunk) (size int, ways []string) {
	for size = min(len(chunks), s.longest); size > 0; size-- {
		original := text[chunks[0].start:chunks[size-1].end]
		var things []named
		for _, p := range s.byWords[strings.Join(kb.FoldWords(original), " ")] {
			if !p.Abbr || original == p.Written || original == strings.ToLower(p.Written) {
				things = append(things, named{p.Kind, p.Name})
			}
		}
		for _, t := range things {
			for _, way := range s.ways[t] {
				if !slices.Contains(ways, way) && len(ways) < maxSynonyms {
					ways = append(ways, way)
				}
			}
		}
		if len(ways) > 0 {
			return size, ways
		}
	}
	return 1, nil
}

// written gives what finds chunks as they stand in the query, or any of the ways.
func written(text string, chunks []chunk, ways []string) node {
	var own allNode
	for _, c := range chunks {
		if n := chunkNode(text, c); n != nil {
			own = append(own, n)
		}
	}
	if len(own) == 0 {
		return nil
	}
	if len(ways) == 0 {
		return own[0] // at names one chunk then
	}
	n := anyNode{same: true, nodes: []node{own}}
	var seen []string
	for _, way := range ways {
		p := phrase(way)
		key := describe(p)
		if p != nil && !slices.Contains(seen, key) {
			seen = append(seen, key)
			n.nodes = append(n.nodes, p)
		}
	}
	return n
}

// describe tells phrases apart by their terms.
func describe(n node) string {
	switch n := n.(type) {
	case termNode:
		return string(n)
	case phraseNode:
		return strings.Join(n, " ")
	}
	return ""
}
