package ingest

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// wordIndex tells by whom words are used in a thread, so that no post is read again for each name that is looked for.
type wordIndex struct {
	posts  []Post
	people map[string]int32 // number of each author, from 1
	users  map[string]users // by word in small letters
}

// users are the first two people who use a word, by their number.
type users struct{ first, second int32 }

// shortestIndexed is the length in bytes below which words are not looked for.
const shortestIndexed = 3

func newWordIndex(posts []Post) *wordIndex {
	x := &wordIndex{posts: posts, people: map[string]int32{}, users: map[string]users{}}
	for _, p := range posts {
		name := foldCase(p.Author)
		if x.people[name] == 0 {
			x.people[name] = int32(len(x.people) + 1)
		}
		who := x.people[name]
		eachWord(strings.ToLower(p.Text), func(word string) {
			u := x.users[word]
			switch {
			case u.first == 0:
				x.users[word] = users{first: who}
			case u.first != who && u.second == 0:
				x.users[word] = users{u.first, who}
			}
		})
	}
	return x
}

// eachWord visits the runs of letters and digits in a text, but for the shortest.
func eachWord(text string, visit func(string)) {
	for i := 0; i < len(text); i++ {
		from := i
		for i < len(text) && isLetterOrDigit(text[i]) {
			i++
		}
		if i-from >= shortestIndexed {
			visit(text[from:i])
		}
	}
}

// byOthers tells whether somebody else than the writer of a post uses a word, which is in small letters.
func (x *wordIndex) byOthers(post int, word string) bool {
	plain := true
	for i := range len(word) {
		plain = plain && isLetterOrDigit(word[i])
	}
	author := x.posts[post].Author
	if plain {
		u := x.users[word]
		return u.second != 0 || u.first != 0 && u.first != x.people[foldCase(author)]
	}
	known := true
	eachWord(word, func(part string) { known = known && x.users[part].first != 0 })
	if !known {
		return false
	}
	for _, p := range x.posts {
		if !strings.EqualFold(p.Author, author) && containsWord(strings.ToLower(p.Text), word) {
			return true
		}
	}
	return false
}

// foldCase gives the same for names that differ in the case of letters only.
func foldCase(s string) string {
	for i := range len(s) {
		if s[i] >= utf8.RuneSelf {
			return strings.Map(smallestCase, s)
		}
	}
	return strings.ToLower(s)
}

// smallestCase gives the first of the letters that differ from r by case only; of those in ASCII it is the small one.
func smallestCase(r rune) rune {
	least := r
	for f := unicode.SimpleFold(r); f != r; f = unicode.SimpleFold(f) {
		least = min(least, f)
	}
	if least < utf8.RuneSelf {
		return unicode.ToLower(least)
	}
	return least
}
