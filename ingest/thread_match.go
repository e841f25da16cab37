package ingest

import (
	"slices"
	"strings"
	"time"
)

// matching pairs the posts of two readings of one thread. Each post has at most one partner.
type matching struct {
	known, later []Post
	of           []int // of each later post: the known one that it is, -1 if none
	taken        []bool
	strong       int // pairs that can hardly be chance
	words        [2][]map[string]bool
}

const (
	tellingText  = 40 // bytes of a text that two people hardly write alike
	minSharedSet = 8  // words below which likeness says nothing
	nearbyPosts  = 50 // candidates by the same author that an edited post is compared with
)

// matchPosts finds which posts two readings share: first those with the same words, then those that were edited in between, which
// are known by their author and time, or by author and likeness.
func matchPosts(known, later []Post) *matching {
	m := &matching{known: known, later: later, of: make([]int, len(later)), taken: make([]bool, len(known))}
	for i := range m.of {
		m.of[i] = -1
	}
	m.words = [2][]map[string]bool{make([]map[string]bool, len(known)), make([]map[string]bool, len(later))}
	m.pass(func(p Post) string { return fold(p.Author) + "\x00" + p.Text }, m.sameWords)
	m.pass(func(p Post) string { return fold(p.Author) }, m.sameMoment)
	m.pass(func(p Post) string { return clockOf(p.Time) }, m.renamed)
	m.pass(func(p Post) string { return fold(p.Author) }, m.edited)
	return m
}

// pass pairs the posts without a partner that share a key and satisfy a rule, each with the first that does.
func (m *matching) pass(key func(Post) string, same func(i, j int) (ok, strong bool)) {
	byKey := map[string][]int{}
	for i, p := range m.known {
		if k := key(p); !m.taken[i] {
			byKey[k] = append(byKey[k], i)
		}
	}
	for j, p := range m.later {
		if m.of[j] >= 0 {
			continue
		}
		tried := 0
		for _, i := range byKey[key(p)] {
			if m.taken[i] {
				continue
			}
			ok, strong := same(i, j)
			if ok {
				m.of[j], m.taken[i] = i, true
				if strong {
					m.strong++
				}
				break
			}
			if tried++; tried > nearbyPosts {
				break
			}
		}
		byKey[key(p)] = dropTaken(byKey[key(p)], m.taken)
	}
}

// dropTaken cuts the posts off the front that have a partner.
func dropTaken(list []int, taken []bool) []int {
	for len(list) > 0 && taken[list[0]] {
		list = list[1:]
	}
	return list
}

// sameWords holds for the same words by the same author. Short words ("thanks") are said more than once: those must not stand on
// different pages, and nothing may contradict in time.
func (m *matching) sameWords(i, j int) (ok, strong bool) {
	a, b := m.known[i], m.later[j]
	if !timesAgree(a.Time, b.Time) {
		return false, false
	}
	sure := len(a.Text) >= tellingText
	return sure || hasClock(a.Time) && a.Time.Equal(b.Time) || !otherPage(a, b), sure
}

// sameMoment holds for posts by one author at one time of day: the words were edited.
func (m *matching) sameMoment(i, j int) (ok, strong bool) {
	a, b := m.known[i], m.later[j]
	same := hasClock(a.Time) && a.Time.Equal(b.Time)
	return same, same && a.Author != ""
}

// renamed holds for posts of one moment with like words: the name is shown otherwise.
func (m *matching) renamed(i, j int) (ok, strong bool) {
	same := hasClock(m.known[i].Time) && m.alike(i, j)
	return same, same
}

// edited holds for like words by one author where the times do not tell.
func (m *matching) edited(i, j int) (ok, strong bool) {
	a, b := m.known[i], m.later[j]
	same := timesAgree(a.Time, b.Time) && !otherPage(a, b) && m.alike(i, j)
	return same, same && a.Author != ""
}

func otherPage(a, b Post) bool { return a.Page > 0 && b.Page > 0 && a.Page != b.Page }

// alike tells whether one text goes on from the other, or most words of the shorter one stand in the other.
func (m *matching) alike(i, j int) bool {
	a, b := m.known[i].Text, m.later[j].Text
	if short := min(len(a), len(b)); short >= tellingText && a[:short] == b[:short] {
		return true
	}
	x, y := m.wordSet(0, i, a), m.wordSet(1, j, b)
	if len(x) > len(y) {
		x, y = y, x
	}
	if len(x) < minSharedSet || len(y) > 4*len(x) {
		return false
	}
	shared := 0
	for w := range x {
		if y[w] {
			shared++
		}
	}
	return shared*10 >= len(x)*7
}

func (m *matching) wordSet(side, at int, text string) map[string]bool {
	if m.words[side][at] == nil {
		set := map[string]bool{}
		for w := range strings.FieldsSeq(strings.ToLower(text)) {
			set[strings.Trim(w, ".,;:!?()\"'")] = true
		}
		m.words[side][at] = set
	}
	return m.words[side][at]
}

// timesAgree tells whether two times can be one: equal, one of them unknown, or a bare date beside a time within a day of it (the
// same moment has two dates in two time zones).
func timesAgree(a, b time.Time) bool {
	if a.IsZero() || b.IsZero() || a.Equal(b) {
		return true
	}
	return (!hasClock(a) || !hasClock(b)) && hasClock(a) != hasClock(b) && a.Sub(b).Abs() <= 48*time.Hour
}

// hasClock tells whether a time has a time of day: a bare date is kept as midnight.
func hasClock(t time.Time) bool {
	h, m, s := t.UTC().Clock()
	return !t.IsZero() && h+m+s > 0
}

func clockOf(t time.Time) string {
	if !hasClock(t) {
		return ""
	}
	return t.UTC().Format(time.RFC3339)
}

func fold(s string) string { return strings.ToLower(strings.TrimSpace(s)) }

// backbone gives the longest run of pairs that stand in one order in both readings, by later post. Longest increasing subsequence
// by patience sorting, O(n log n).
func (m *matching) backbone() []int {
	var tails []int // of each length: the later post that ends the best run so far
	before := make([]int, len(m.later))
	for j, i := range m.of {
		if i < 0 {
			continue
		}
		at, _ := slices.BinarySearchFunc(tails, i, func(j, i int) int { return m.of[j] - i })
		before[j] = -1
		if at > 0 {
			before[j] = tails[at-1]
		}
		if at == len(tails) {
			tails = append(tails, j)
		} else {
			tails[at] = j
		}
	}
	var run []int
	if len(tails) > 0 {
		for j := tails[len(tails)-1]; j >= 0; j = before[j] {
			run = append(run, j)
		}
	}
	slices.Reverse(run)
	return run
}
