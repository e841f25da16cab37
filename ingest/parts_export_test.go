package ingest

// Span is a piece of a text, in bytes.
type Span struct{ Start, End int }

// PartsOf gives where the words for components stand in one line of text.
func (x *Extractor) PartsOf(text string) []Span {
	s := x.plainSentence(text)
	var out []Span
	for _, np := range x.components(s) {
		out = append(out, Span{s.toks[np.from].start, s.toks[np.to-1].end})
	}
	return out
}
