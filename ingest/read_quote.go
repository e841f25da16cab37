package ingest

import (
	"cmp"
	"slices"
	"strings"
)

// markQuotes finds quotes that stand in running text without markup, and tells who is quoted where a quote does not.
func markQuotes(posts []draftPost) {
	said := make([]string, 0, len(posts)) // own words of the posts so far
	for i := range posts {
		e := earlier{posts: posts, said: said}
		posts[i].body = e.mark(posts[i].body)
		told := 0
		for j := range posts[i].body.regions {
			if r := &posts[i].body.regions[j]; r.Kind == RegionQuote && told < maxQuotes {
				r.Author = e.quoted(posts[i], *r)
				told++
			}
		}
		said = append(said, ownWords(posts[i].body, 0, len(posts[i].body.text)))
	}
}

// earlier is what stands before a post in its thread.
type earlier struct {
	posts []draftPost // the whole thread, for its names
	said  []string    // own words of the earlier posts
}

// mark finds an attribution to somebody of the thread followed by words of an earlier post.
func (e earlier) mark(p passage) passage {
	var quotes []Region
	for _, r := range p.regions {
		if r.Kind == RegionQuote {
			quotes = append(quotes, r)
		}
	}
	rows := lines(p.text)
	marked := 0 // end of the quotes that begin above a line
	for i := 0; i < len(rows); i++ {
		row := rows[i]
		for len(quotes) > 0 && quotes[0].Start <= row.start {
			marked = max(marked, quotes[0].End)
			quotes = quotes[1:]
		}
		if row.start < marked {
			continue
		}
		author, words, ok := e.attribution(p.text[row.start:row.end])
		if !ok {
			continue
		}
		end, next := quotedSpan(p.text, rows, i, row.start+words, e.wordsOf(author))
		if end > 0 {
			p.regions = append(p.regions, Region{Start: row.start, End: end, Kind: RegionQuote, Author: author})
			i = next
		}
	}
	sortRegions(p.regions)
	return p
}

// attribution reads "X said:" or "X:" where X writes in the thread.
func (e earlier) attribution(line string) (author string, words int, ok bool) {
	line, _, _ = strings.Cut(line, "\n")
	if author, words, ok = quotedBy(line); !ok {
		name, _, found := strings.Cut(line, ":")
		author, words, ok = strings.TrimSpace(name), len(name)+1, found && len(name) <= maxNameLen
	}
	return author, words, ok && author != "" && slices.ContainsFunc(e.posts, func(p draftPost) bool { return strings.EqualFold(p.author, author) })
}

func (e earlier) wordsOf(author string) string {
	var b strings.Builder
	for i, said := range e.said {
		if strings.EqualFold(e.posts[i].author, author) {
			b.WriteString(said)
			b.WriteByte('\n')
		}
	}
	return b.String()
}

// quoted tells who is quoted: as the quote says, under the name used in the thread, else whose words they are.
func (e earlier) quoted(p draftPost, r Region) string {
	if r.Author != "" {
		return e.knownAs(r.Author)
	}
	if author, _, ok := e.attribution(p.body.text[r.Start:r.End]); ok {
		return e.knownAs(author)
	}
	return e.writerOf(ownWords(p.body, r.Start, r.End), p.author)
}

const (
	maxLookBack = 300 // posts in which the words of a quote are looked for
	maxQuotes   = 500 // quotes of one post whose author is looked for
)

// writerOf finds who wrote words in earlier posts, the latest first; another author is likelier quoted than the same.
func (e earlier) writerOf(words, self string) string {
	const enough = 60
	if len(words) < 8 {
		return ""
	}
	words = strings.ToValidUTF8(words[:min(len(words), enough)], "")
	own := ""
	for i := len(e.said) - 1; i >= max(0, len(e.said)-maxLookBack); i-- {
		if !strings.Contains(e.said[i], words) {
			continue
		}
		if !strings.EqualFold(e.posts[i].author, self) {
			return e.posts[i].author
		}
		own = e.posts[i].author
	}
	return own
}

// knownAs gives the name of the one author in the thread whom a name can mean: the same, or one that begins with it.
func (e earlier) knownAs(name string) string {
	found := ""
	for _, p := range e.posts {
		switch {
		case strings.EqualFold(p.author, name):
			return p.author
		case strings.HasPrefix(strings.ToLower(p.author), strings.ToLower(name)+" "):
			if found != "" && found != p.author {
				return name
			}
			found = p.author
		}
	}
	return cmp.Or(found, name)
}

// quotedSpan gives where the quoted words after an attribution end, and the last line that belongs to them; 0 if nothing
// of it was said before.
func quotedSpan(text string, rows []span, i, from int, said string) (end, last int) {
	for j := i; j < len(rows) && j <= i+40; j++ {
		start := max(rows[j].start, from)
		if start >= rows[j].end {
			continue
		}
		words := squeeze(text[start:rows[j].end])
		if words == "" {
			continue
		}
		if !strings.Contains(said, words) || len(words) < 8 && end == 0 {
			return end, last
		}
		end, last = rows[j].end, j
	}
	return end, last
}

// ownWords squeezes a part of a text without the quotes inside it.
func ownWords(p passage, start, end int) string {
	var b strings.Builder
	at := start
	for _, r := range p.regions {
		if r.Kind != RegionQuote || r.Start < at || r.End > end || r.Start == start && r.End == end {
			continue
		}
		b.WriteString(p.text[at:r.Start])
		at = r.End
	}
	b.WriteString(p.text[at:end])
	return squeeze(b.String())
}

// squeeze keeps letters and digits only, for comparing text that was wrapped or marked up differently.
func squeeze(s string) string {
	return strings.Map(func(r rune) rune {
		if isAlnum(r) {
			return r
		}
		return -1
	}, strings.ToLower(s))
}

func inRegion(regions []Region, kind RegionKind, at int) bool {
	return slices.ContainsFunc(regions, func(r Region) bool { return r.Kind == kind && r.Start <= at && at < r.End })
}
