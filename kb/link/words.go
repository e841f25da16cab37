package link

import (
	"math"
	"slices"
	"strings"

	"github.com/blevesearch/snowballstem"
	"github.com/blevesearch/snowballstem/english"

	"ruledout/kb"
)

// Text gives the words by which a case is compared: its title, its symptoms and the quotes of its evidence, masked as they are
// stored, each piece once.
func Text(c *kb.Case) []string {
	var out []string
	add := func(s string) {
		if s != "" && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	add(c.Title)
	for _, s := range c.Symptoms {
		add(s.Symptom)
	}
	for _, list := range allEvidence(c) {
		for _, e := range list {
			add(e.Quote)
		}
	}
	return out
}

func allEvidence(c *kb.Case) [][]kb.Evidence {
	out := [][]kb.Evidence{c.Machine.Evidence, c.StatusEvidence}
	for _, e := range c.Codes {
		out = append(out, e.Evidence)
	}
	for _, s := range c.Symptoms {
		out = append(out, s.Evidence)
	}
	for _, t := range c.Tests {
		out = append(out, t.Evidence)
	}
	for _, f := range c.Fixes {
		out = append(out, f.Evidence)
	}
	return out
}

// idle are words that anybody uses.
func idle() []string {
	return strings.Fields("a an the and or but so then now i it its he she they we you my his her their our that this these those there here is are was were be been being am do did does " +
		"have has had will would could can should may might of in on at to from by with without for as if when while after before again just also very not no yes up down out off over " +
		"all any some more most one get got go went come came back new old found find replace replaced fix fixed repair repaired")
}

// wordSet hashes the stems of a text's words, sorted, without idle ones and without those given.
func wordSet(pieces []string, without map[string]bool) []uint64 {
	var out []uint64
	for _, p := range pieces {
		for _, w := range kb.FoldWords(p) {
			if len(w) < 2 || without[w] {
				continue
			}
			out = append(out, hashOf(stem(w)))
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// stem gives the Porter2 stem of an English word (Snowball).
func stem(word string) string {
	env := snowballstem.NewEnv(word)
	english.Stem(env)
	return env.Current()
}

// shingleSize is the number of words in a shingle: two, since the texts are short.
const shingleSize = 2

// shingles hashes the runs of words of each piece, sorted. A piece of fewer words is one shingle.
func shingles(pieces []string) []uint64 {
	var out []uint64
	for _, p := range pieces {
		words := kb.FoldWords(p)
		for i := 0; i == 0 || i+shingleSize <= len(words); i++ {
			out = append(out, hashOf(strings.Join(words[i:min(i+shingleSize, len(words))], " ")))
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// hashOf is FNV-1a with 64 bits, mixed.
func hashOf(s string) uint64 {
	h := uint64(14695981039346656037)
	for i := range len(s) {
		h = (h ^ uint64(s[i])) * 1099511628211
	}
	return mix(h)
}

// common counts what two sorted sets share.
func common(a, b []uint64) int {
	n := 0
	for i, j := 0, 0; i < len(a) && j < len(b); {
		switch {
		case a[i] == b[j]:
			n, i, j = n+1, i+1, j+1
		case a[i] < b[j]:
			i++
		default:
			j++
		}
	}
	return n
}

// Weigh gives the words of records their weight by how rare they are among them, log2(1 + records / records with the word) (inverse
// document frequency; Spärck Jones 1972), so that what anybody tells of a fault counts less than what one person noticed.
func Weigh(records []Record) {
	weighReadings(records)
	in := map[uint64]int{}
	for i := range records {
		for _, w := range records[i].words {
			in[w]++
		}
	}
	for i := range records {
		r := &records[i]
		r.weights = make([]float32, len(r.words))
		for j, w := range r.words {
			r.weights[j] = float32(math.Log2(1 + float64(len(records))/float64(in[w])))
		}
	}
}

// alikeness gives the share of the words of two records, by weight, that is in both: 0 to 1. Unweighed, words count alike.
func alikeness(a, b *Record) float64 {
	shared, all := 0.0, 0.0
	i, j := 0, 0
	for i < len(a.words) || j < len(b.words) {
		switch {
		case j == len(b.words) || i < len(a.words) && a.words[i] < b.words[j]:
			all += a.weight(i)
			i++
		case i == len(a.words) || b.words[j] < a.words[i]:
			all += b.weight(j)
			j++
		default:
			shared += a.weight(i)
			all += a.weight(i)
			i, j = i+1, j+1
		}
	}
	return shared / max(all, 1e-9)
}

func (r *Record) weight(word int) float64 {
	if r.weights == nil {
		return 1
	}
	return float64(r.weights[word])
}

// squashed folds a name and drops its spaces, so that "Brisk 3" meets "brisk3".
func squashed(s string) string { return strings.ReplaceAll(kb.Fold(s), " ", "") }

// editDistance is Levenshtein's, in two rows.
func editDistance(a, b string) int {
	x, y := []rune(a), []rune(b)
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := range x {
		diagonal := row[0]
		row[0] = i + 1
		for j := range y {
			cost := 1
			if x[i] == y[j] {
				cost = 0
			}
			diagonal, row[j+1] = row[j+1], min(row[j+1]+1, row[j]+1, diagonal+cost)
		}
	}
	return row[len(y)]
}

// similar tells whether two squashed names are one but for a slip: their digits are the same, and a letter in five differs at
// most, or the shorter one, of four letters or more, begins the longer one.
func similar(a, b string) bool {
	if a == "" || b == "" || digits(a) != digits(b) {
		return false
	}
	short, long := a, b
	if len(short) > len(long) {
		short, long = long, short
	}
	if len(short) >= 4 && strings.HasPrefix(long, short) {
		return true
	}
	return len(short) >= 4 && editDistance(a, b)*5 <= len(long)
}

func digits(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, s)
}
