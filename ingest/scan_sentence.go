package ingest

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// sentence is one sentence, list item, heading, cell or line of a post, with its words and what was found in them.
type sentence struct {
	post       int // index of the post in the thread
	start, end int
	toks       []token
	place      RegionKind // empty for running text
	label      string     // name of the cell or field
	section    string     // folded heading that it stands under
	asked      bool       // ends with a question mark
	clauses    []clause
	mentions   []mention
	comps      []nounPhrase // components, once named
	named      bool
	text       string // the post's whole text
}

// quote gives the words of tokens from..to (exclusive) as they stand in the post.
func (s *sentence) quote(from, to int) string { return s.text[s.toks[from].start:s.toks[to-1].end] }

// stretch is a piece of a text.
type stretch struct{ start, end int }

// scanPost cuts the author's own words of a post into sentences. Quotations, signatures and notes of editing are left out.
func scanPost(n int, p Post) []*sentence {
	var out []*sentence
	section := ""
	for _, piece := range ownPieces(p) {
		for _, sp := range splitSentences(p.Text, piece.start, piece.end) {
			s := &sentence{post: n, start: sp.start, end: sp.end, text: p.Text, section: section}
			s.place, s.label = placeOf(p.Regions, sp.start)
			s.toks = tokens(p.Text, sp.start, sp.end)
			if len(s.toks) == 0 {
				continue
			}
			s.asked = strings.HasSuffix(strings.TrimRight(p.Text[sp.start:sp.end], " )\"'”\n"), "?")
			if s.place == RegionHeading {
				section = joinWords(s.toks)
			}
			out = append(out, s)
		}
	}
	return out
}

func joinWords(toks []token) string {
	var b strings.Builder
	for _, t := range toks {
		if t.mark {
			continue
		}
		if b.Len() > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(t.word)
	}
	return b.String()
}

// ownPieces gives what the author wrote, cut at the borders of regions so that no sentence runs across one.
func ownPieces(p Post) []stretch {
	cuts := []int{0, len(p.Text)}
	for _, r := range p.Regions {
		if r.Kind != RegionMasked {
			cuts = append(cuts, r.Start, r.End)
		}
	}
	slices.Sort(cuts)
	var out []stretch
	for i := 1; i < len(cuts); i++ {
		from, to := cuts[i-1], cuts[i]
		if from >= to || from < 0 || to > len(p.Text) || foreign(p.Regions, from) {
			continue
		}
		out = append(out, stretch{afterNote(p, from, to), to})
	}
	return out
}

// foreign tells whether a place belongs to somebody else's words or to standing lines.
func foreign(regions []Region, at int) bool {
	return slices.ContainsFunc(regions, func(r Region) bool {
		return at >= r.Start && at < r.End && (r.Kind == RegionQuote || r.Kind == RegionSignature)
	})
}

// afterNote gives where the author's words begin in a note of editing: after its last colon, or nowhere. Clock times have
// colons too, so that only a colon before a blank counts.
func afterNote(p Post, from, to int) int {
	for _, r := range p.Regions {
		if r.Kind == RegionEdit && from >= r.Start && from < r.End {
			if i := strings.LastIndex(p.Text[from:to], ": "); i >= 0 {
				return from + i + 2
			}
			return to
		}
	}
	return from
}

// placeOf gives the innermost list item, heading, cell, field or preformatted text that a place stands in.
func placeOf(regions []Region, at int) (RegionKind, string) {
	var place RegionKind
	label := ""
	for _, r := range regions {
		if at < r.Start || at >= r.End {
			continue
		}
		switch r.Kind {
		case RegionHeading, RegionItem, RegionCell, RegionCode, RegionField:
			place, label = r.Kind, r.Name
		}
	}
	return place, label
}

// splitSentences cuts text[start:end]. A sentence ends at a stop before a blank, except after an abbreviation, and at the
// end of a line, unless the line looks broken in the middle of running text by a mail program.
func splitSentences(text string, start, end int) []stretch {
	var out []stretch
	from := start
	emit := func(to int) {
		if sp, ok := trimmed(text, from, to); ok {
			out = append(out, sp)
		}
		from = to
	}
	for i := start; i < end; {
		r, size := utf8.DecodeRuneInString(text[i:end])
		i += size
		switch {
		case r == '\n':
			if !brokenLine(text, from, i-1, end) {
				emit(i)
			}
		case isStop(r):
			for i < end && strings.ContainsRune(".!?…)\"'”’", rune(text[i])) {
				i++
			}
			if i >= end || unicode.IsSpace(rune(text[i])) && !(r == '.' && abbreviated(text[from:i], text[i:end])) {
				emit(i)
			}
		}
	}
	emit(end)
	return out
}

func isStop(r rune) bool { return r == '.' || r == '!' || r == '?' || r == '…' || r == '。' }

func trimmed(text string, from, to int) (stretch, bool) {
	for from < to && isBlank(text[from]) {
		from++
	}
	for to > from && isBlank(text[to-1]) {
		to--
	}
	return stretch{from, to}, from < to
}

func isBlank(b byte) bool { return b == ' ' || b == '\n' || b == '\t' || b == '\r' }

// brokenLine tells whether the line that ends at nl goes on in the next one: it is long, ends without a stop, and the next
// begins with a small letter or digit.
func brokenLine(text string, from, nl, end int) bool {
	const full = 55 // mail programs break at 72 or 76; a shorter line was ended by its writer
	lineStart := max(strings.LastIndexByte(text[:nl], '\n')+1, from)
	line := strings.TrimRight(text[lineStart:nl], " \t\r")
	if len(line) < full || strings.ContainsAny(line[len(line)-1:], ".!?:;|") {
		return false
	}
	rest := text[nl+1 : end]
	r, _ := utf8.DecodeRuneInString(rest)
	return unicode.IsLetter(r) || unicode.IsDigit(r) || r == '('
}

// abbreviated tells whether a text that ends with a full stop ends with an abbreviation, which ends no sentence.
func abbreviated(text, rest string) bool {
	text = strings.TrimSuffix(text, ".")
	i := strings.LastIndexFunc(text, func(r rune) bool { return unicode.IsSpace(r) || r == '(' })
	switch strings.ToLower(text[i+1:]) {
	case "approx", "e.g", "i.e", "eg", "vs", "fig", "ca", "incl", "max", "min", "nr", "mr", "mrs", "dr", "tel", "ref",
		"resp", "abt", "avg", "temp", "esp", "misc", "qty", "assy", "p.s", "a.k.a", "w.r.t", "inc":
		return true
	case "no":
		rest = strings.TrimLeft(rest, " ")
		return rest != "" && unicode.IsDigit(rune(rest[0]))
	}
	return false
}
