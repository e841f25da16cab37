package ingest

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/clipperhouse/uax29/v2/words"

	"ruledout/kb"
)

// token is one folded word or one mark of a post. "12V" gives two tokens, "A/C" one.
type token struct {
	start, end int    // bytes of the post's text
	raw        string // as written
	word       string // folded and in the singular; a mark stands for itself
	mark       bool   // punctuation or another sign
}

// capital tells whether the token is written with a capital first letter.
func (t token) capital() bool {
	r, _ := utf8.DecodeRuneInString(t.raw)
	return unicode.IsUpper(r)
}

// number tells whether the token is made of digits (and points).
func (t token) number() bool {
	return t.word != "" && strings.IndexFunc(t.word, func(r rune) bool { return !unicode.IsDigit(r) && r != '.' }) < 0
}

// hasDigit tells whether any digit is in the token.
func (t token) hasDigit() bool { return strings.ContainsFunc(t.word, unicode.IsDigit) }

// tokens cuts text[start:end] into words and marks (Unicode UAX 29 words; "-", "/" and ":" join what stands around them, a
// leading "+" or "-" belongs to its number).
func tokens(text string, start, end int) []token {
	seg := words.FromString(text[start:end])
	seg.Joiners(&words.Joiners[string]{Middle: []rune("-/:&"), Leading: []rune("+-")})
	out := make([]token, 0, (end-start)/5+2)
	at := start
	for seg.Next() {
		raw := seg.Value()
		out = appendTokens(out, raw, at)
		at += len(raw)
	}
	return out
}

// appendTokens adds the folded words of one raw word, or the mark that it is.
func appendTokens(out []token, raw string, at int) []token {
	if strings.TrimSpace(raw) == "" {
		return out
	}
	if word, ok := kb.FoldWord(raw); ok {
		return append(out, token{start: at, end: at + len(raw), raw: raw, word: word})
	}
	folded := kb.FoldWords(raw)
	if len(folded) == 0 {
		return append(out, token{start: at, end: at + len(raw), raw: raw, word: raw, mark: true})
	}
	from := 0
	for i, w := range folded {
		begin := from
		if i > 0 {
			begin = pieceStart(raw, from+nextPiece(raw[from:], w))
			last := &out[len(out)-1]
			if trimmed := strings.TrimRight(raw[last.start-at:begin], "-/.,:&'’ "); trimmed != "" {
				last.raw, last.end = trimmed, last.start+len(trimmed)
			}
		}
		out = append(out, token{start: at + begin, end: at + len(raw), raw: raw[begin:], word: w})
		from = pieceStart(raw, begin+len(w))
	}
	return out
}

// pieceStart moves an offset into a raw word back to where a character begins, and away from its end.
func pieceStart(raw string, at int) int {
	at = min(at, len(raw)-1)
	for at > 0 && !utf8.RuneStart(raw[at]) {
		at--
	}
	return at
}

// nextPiece finds where the folded word w begins in the rest of a raw word; 0 if it cannot be told.
func nextPiece(rest, w string) int {
	head := w[:min(len(w), 2)]
	return max(strings.Index(strings.ToLower(rest), head), 0)
}
