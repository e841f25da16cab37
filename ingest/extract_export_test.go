package ingest

// SentencesOf gives the sentences of a text as start and end offsets, for tests of the rule.
func SentencesOf(text string) [][2]int {
	var out [][2]int
	for _, sp := range splitSentences(text, 0, len(text)) {
		out = append(out, [2]int{sp.start, sp.end})
	}
	return out
}
