package kb

import (
	"slices"
	"strings"
	"unicode"

	"github.com/blevesearch/snowballstem"
	"github.com/blevesearch/snowballstem/english"
)

// idle are words that say nothing of a fault. Words such as no, not, off, on and out do say something and stay.
var idle = strings.Fields("a an and are as at be been being by for from had has have in into is it its need needed needs of that the then there this to was were when while with")

// SymptomFeatures gives what a symptom is counted by: a symptom of the vocabulary by its name; one in somebody's own words by the stems of
// those words that say something, since hardly anybody words a complaint twice alike. Sides of the machine are left out.
func (v *Vocabulary) SymptomFeatures(term string) []string {
	if s, ok := v.Symptom(term); ok {
		return []string{s.Name}
	}
	_, rest := SplitPosition(term)
	var out []string
	for _, w := range FoldWords(rest) {
		if slices.Contains(idle, w) || len(w) < 2 && !strings.ContainsFunc(w, unicode.IsDigit) {
			continue
		}
		if f := "word " + stem(w); !slices.Contains(out, f) {
			out = append(out, f)
		}
	}
	if len(out) == 0 {
		return []string{Fold(term)}
	}
	return out
}

// stem gives the Porter2 stem of an English word (Snowball).
func stem(word string) string {
	env := snowballstem.NewEnv(word)
	english.Stem(env)
	return env.Current()
}
