package code

import (
	"strings"
	"unicode/utf8"
)

const invisible = "\u00ad\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"

// cleaned is a text without the signs that nobody sees and with plain spaces and hyphens, as forums put them into copied
// words. at maps its offsets back; it is nil where nothing was changed.
type cleaned struct {
	text string
	at   []int
}

func clean(text string) cleaned {
	if !strings.ContainsAny(text, invisible+"\u00a0\u202f\u2009\u2010\u2011") {
		return cleaned{text: text}
	}
	var b strings.Builder
	var at []int
	for i, r := range text {
		size := utf8.RuneLen(r)
		if r == utf8.RuneError {
			_, size = utf8.DecodeRuneInString(text[i:])
		}
		piece := text[i : i+size]
		switch {
		case strings.ContainsRune(invisible, r):
			continue
		case strings.ContainsRune("\u00a0\u202f\u2009", r):
			piece = " "
		case r == '\u2010', r == '\u2011':
			piece = "-"
		}
		b.WriteString(piece)
		for range len(piece) {
			at = append(at, i)
		}
	}
	return cleaned{b.String(), append(at, len(text))}
}

// restore brings found places back to the text that was cleaned.
func (c cleaned) restore(found []Found) {
	if c.at == nil {
		return
	}
	for i := range found {
		end := c.at[found[i].End-1] + 1 // the last sign of a code is one byte
		found[i].Start, found[i].End = c.at[found[i].Start], end
	}
}
