package ingest

// ClassesIn gives the classes of cue that are found in a sentence, for tests of the tables of cues.
func (x *Extractor) ClassesIn(words string) []string {
	var out []string
	for _, m := range x.plainSentence(words).mentions {
		if m.kind == termCue || m.kind == "action" {
			out = append(out, m.name)
		}
	}
	return out
}

// CueExamples gives the class and the example of every group of cues and of spoken actions.
func CueExamples() [][2]string {
	var out [][2]string
	for _, table := range [][]cueGroup{outcomeCues(), kindCues(), spokenActions()} {
		for _, g := range table {
			out = append(out, [2]string{g.class, g.example})
		}
	}
	return out
}
