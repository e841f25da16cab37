package ingest

import (
	"cmp"
	"slices"
	"strings"
	"sync"

	"ruledout/kb"
)

// termCue marks a phrase that tells how a statement is meant, beside the terms of the vocabulary.
const termCue kb.TermKind = "cue"

// term is what one phrase stands for.
type term struct {
	kind   kb.TermKind
	name   string
	abbr   string // spelling of an abbreviation, which is matched in its own letter case or all small
	absent bool
}

// mention is a phrase found in a sentence: tokens from..to (exclusive).
type mention struct {
	from, to int
	term
}

// lexicon finds phrases word by word.
type lexicon struct {
	root  *node
	words map[string]bool // every word of a component's phrase
	known map[string]bool // every word of any phrase
}

type node struct {
	next  map[string]*node
	any   *node // one word, whatever it is
	terms []term
}

func (n *node) step(word string) *node {
	if word == "*" {
		if n.any == nil {
			n.any = &node{}
		}
		return n.any
	}
	if n.next == nil {
		n.next = map[string]*node{}
	}
	child := n.next[word]
	if child == nil {
		child = &node{}
		n.next[word] = child
	}
	return child
}

// newLexicon builds the trie of the vocabulary's phrases and of the cues.
func newLexicon(v *kb.Vocabulary) *lexicon {
	l := &lexicon{root: &node{}, words: map[string]bool{}, known: map[string]bool{}}
	phrases := v.Phrases()
	l.addRefusals(phrases)
	for _, p := range phrases {
		t := term{kind: p.Kind, name: p.Name, absent: p.Absent}
		if p.Abbr {
			t.abbr = p.Written
		}
		l.add(p.Words, t)
		if p.Kind == kb.TermComponent {
			for _, w := range p.Words {
				l.words[w] = true
			}
		}
	}
	for _, c := range cuePhrases() {
		l.add(c.words, c.term)
	}
	return l
}

// addRefusals adds a symptom that is told as a refusal in the other ways to say so, unless the vocabulary has them for another symptom: who
// writes "won't close" may write "will not close", "doesn't close" or "refuses to close".
func (l *lexicon) addRefusals(phrases []kb.Phrase) {
	taken := map[string]bool{}
	for _, p := range phrases {
		if p.Kind == kb.TermSymptom {
			taken[strings.Join(p.Words, " ")] = true
		}
	}
	for _, p := range phrases {
		at, size := refusalIn(p.Words)
		if p.Kind != kb.TermSymptom || p.Absent || size == 0 || at+size == len(p.Words) {
			continue
		}
		for _, way := range refusals() {
			words := slices.Concat(p.Words[:at], way, p.Words[at+size:])
			if key := strings.Join(words, " "); !taken[key] {
				taken[key] = true
				l.add(words, term{kind: p.Kind, name: p.Name})
			}
		}
	}
}

// refusals gives the ways to say that a machine will not do something, word by word.
func refusals() [][]string {
	return [][]string{{"wont"}, {"will", "not"}, {"doesnt"}, {"does", "not"}, {"dont"}, {"do", "not"}, {"would", "not"}, {"wouldnt"}, {"refuse", "to"}, {"refused", "to"}, {"refusing", "to"}, {"fail", "to"}, {"didnt"}, {"did", "not"}}
}

// refusalIn gives where such a way stands in a phrase, and how many words it has; 0 if none does.
func refusalIn(words []string) (at, size int) {
	for i := range words {
		for _, way := range refusals()[:4] {
			if i+len(way) <= len(words) && slices.Equal(words[i:i+len(way)], way) {
				return i, len(way)
			}
		}
	}
	return 0, 0
}

// wordedTerm is one word sequence of a cue or of a spoken action.
type wordedTerm struct {
	words []string
	term  term
}

// cuePhrases gives the tables of cues word by word. They are the same for every vocabulary, so that they are read only once.
var cuePhrases = sync.OnceValue(func() []wordedTerm {
	var all []wordedTerm
	for _, c := range cueTable() {
		for _, words := range expand(c.phrase) {
			all = append(all, wordedTerm{words, term{kind: termCue, name: c.class}})
		}
	}
	for _, c := range spokenActionTable() {
		for _, words := range expand(c.phrase) {
			all = append(all, wordedTerm{words, spokenTerm(c)})
		}
	}
	return all
})

func (l *lexicon) add(words []string, t term) {
	if len(words) == 0 {
		return
	}
	n := l.root
	for _, w := range words {
		l.known[w] = true
		n = n.step(w)
	}
	n.terms = append(n.terms, t)
}

// expand gives the word sequences of a cue: "a|b" are alternatives, "c?" may be missing, "*" is any one word, "d_e" are two
// words.
func expand(phrase string) [][]string {
	all := [][]string{nil}
	for field := range strings.FieldsSeq(phrase) {
		optional := strings.HasSuffix(field, "?")
		var next [][]string
		for _, alt := range strings.Split(strings.TrimSuffix(field, "?"), "|") {
			words := []string{"*"}
			if alt != "*" {
				words = kb.FoldWords(strings.ReplaceAll(alt, "_", " "))
			}
			for _, head := range all {
				next = append(next, append(slices.Clone(head), words...))
			}
		}
		if optional {
			next = append(next, all...)
		}
		all = next
	}
	return all
}

// find gives all mentions in the tokens: of each kind and name the longest at each place. Articles in the text may be passed
// over, marks end a phrase.
func (l *lexicon) find(toks []token) []mention {
	var out []mention
	for i := range toks {
		if toks[i].mark {
			continue
		}
		out = l.walk(l.root, toks, i, i, out)
	}
	return longest(out)
}

func (l *lexicon) walk(n *node, toks []token, from, at int, out []mention) []mention {
	for _, t := range n.terms {
		if t.abbr == "" || spelled(toks[from:at], t.abbr) {
			out = append(out, mention{from, at, t})
		}
	}
	if at == len(toks) || toks[at].mark {
		return out
	}
	if at > from && kb.IsArticle(toks[at].word) {
		out = l.walk1(n, toks, from, at+1, out)
	}
	if child := n.next[toks[at].word]; child != nil {
		out = l.walk(child, toks, from, at+1, out)
	}
	if n.any != nil && at > from {
		out = l.walk(n.any, toks, from, at+1, out)
	}
	return out
}

// walk1 goes on after an article without reporting what ended before it again.
func (l *lexicon) walk1(n *node, toks []token, from, at int, out []mention) []mention {
	if at == len(toks) || toks[at].mark {
		return out
	}
	if child := n.next[toks[at].word]; child != nil {
		out = l.walk(child, toks, from, at+1, out)
	}
	if n.any != nil {
		out = l.walk(n.any, toks, from, at+1, out)
	}
	return out
}

// spelled tells whether tokens are written as an abbreviation is, in all capitals, or all small (at least three letters: "it"
// and "or" are words).
func spelled(toks []token, abbr string) bool {
	raw := ""
	for _, t := range toks {
		raw += t.raw
	}
	raw = strings.TrimSuffix(raw, "s")
	abbr = strings.ReplaceAll(abbr, " ", "")
	raw = strings.ReplaceAll(raw, " ", "")
	if raw != abbr && isEverydayWord(strings.ToLower(raw)) {
		return false
	}
	return raw == abbr || raw == strings.ToLower(abbr) && len(raw) > 2 || raw == strings.ToUpper(abbr) && len(raw) > 2
}

// isEverydayWord tells whether an abbreviation in small letters is a common word: those count only as they are spelled.
func isEverydayWord(word string) bool {
	switch word {
	case "can", "map", "cat", "tap", "app", "rest", "bed", "fan", "cap", "it", "is", "as", "or", "so", "do", "act", "art", "tip", "top", "mid", "mad", "sas", "abs", "cop", "dim", "air", "mil", "has", "was", "lip", "pet", "pot", "ham":
		return true
	}
	return false
}

// longest drops a mention that lies inside a longer one of the same kind, and of equal ones all but the first; cues stay all.
func longest(all []mention) []mention {
	slices.SortStableFunc(all, func(a, b mention) int {
		return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(b.to, a.to))
	})
	var out []mention
	for _, m := range all {
		covered := slices.ContainsFunc(out, func(k mention) bool {
			same := k.kind == m.kind && (m.kind != termCue || k.name == m.name)
			return same && k.from < m.to && m.from < k.to
		})
		if !covered {
			out = append(out, m)
		}
	}
	return out
}
