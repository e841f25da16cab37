package ingest

// shortestTypo is the length in bytes from which a word is long enough to be told from its neighbours in spite of a slip.
const shortestTypo = 5

// correct gives tokens that no phrase knows the word of a component that they are a slip of: two letters exchanged ("vlave"), a letter
// doubled or not ("conector"). Slips that put another letter in place make too many other words and are left.
func (l *lexicon) correct(toks []token) {
	for i, t := range toks {
		if t.mark || len(t.word) < shortestTypo || t.hasDigit() || l.known[t.word] || i > 0 && t.capital() {
			continue
		}
		if w, ok := l.slipOf(t.word); ok {
			toks[i].word = w
		}
	}
}

// slipOf finds the one word of a component that differs by such a slip.
func (l *lexicon) slipOf(word string) (string, bool) {
	found := ""
	try := func(w string) bool {
		if !l.words[w] || w == found {
			return true
		}
		if found != "" {
			return false
		}
		found = w
		return true
	}
	for i := range len(word) - 1 {
		a, b := word[i], word[i+1]
		switch {
		case a >= 0x80 || b >= 0x80:
			return "", false
		case a == b && isVowel(a): // "steep" is no slip of "step"
		case a == b:
			if !try(word[:i] + word[i+1:]) {
				return "", false
			}
		case !try(word[:i] + string(b) + string(a) + word[i+2:]):
			return "", false
		}
	}
	for i := 1; i < len(word)-1; i++ {
		if !isVowel(word[i]) && !try(word[:i]+word[i:i+1]+word[i:]) {
			return "", false
		}
	}
	return found, found != ""
}

func isVowel(b byte) bool { return b == 'a' || b == 'e' || b == 'i' || b == 'o' || b == 'u' }
