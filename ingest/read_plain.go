package ingest

import (
	"regexp"
	"slices"
	"strings"
)

// header is the lines above a post in pasted text that tell who wrote it and when.
type header struct {
	start, end int // lines: the post's text begins at end
	author     string
	when       stamp
}

// readPlain reads text pasted from a page. Posts are told apart by lines that hold a date and little else, with the name
// in the same line or on top of the lines above it, or by names alone. Without any such line the text is one article.
func readPlain(text string) []*draft {
	licence, rows := licenceOf(plainLines(text))
	if d := readChat(rows); d != nil {
		d.licence = licence
		return []*draft{d}
	}
	heads := plainHeaders(rows)
	if writer, _ := writerOnTop(rows); writer != "" && len(heads) == 1 && heads[0].author != writer {
		heads = nil // a heading with its date
	}
	if len(heads) == 0 {
		heads = nameHeaders(rows)
	}
	d := &draft{licence: licence}
	if len(heads) == 0 {
		d.title = plainTitle(rows, len(rows), false)
		author, when := articleBy(rows)
		d.posts = []draftPost{{author: author, when: when, body: plainBody(rows, false)}}
		return []*draft{d}
	}
	d.title = first(titleInHeaders(rows, heads), plainTitle(rows, heads[0].start, true))
	cut := actionsEndPosts(rows, heads)
	for i, h := range heads {
		end := len(rows)
		if i+1 < len(heads) {
			end = heads[i+1].start
		}
		d.posts = append(d.posts, draftPost{author: h.author, when: h.when, body: plainBody(rows[h.end:end], cut)})
	}
	return []*draft{d}
}

func plainLines(text string) []string {
	rows := strings.Split(text, "\n")
	for i, row := range rows {
		row = strings.ReplaceAll(row, "\t", "    ")
		rows[i] = strings.TrimRight(strings.Map(func(r rune) rune {
			if invisible(r) {
				return -1
			}
			return r
		}, row), " \u00a0")
	}
	return rows
}

// plainHeaders finds the headers of posts.
func plainHeaders(rows []string) []header {
	var heads []header
	floor := 0
	for i, row := range rows {
		h, ok := headerAt(rows, i, floor)
		if !ok || editNote.MatchString(row) || strings.HasPrefix(strings.TrimSpace(row), ">") {
			continue
		}
		heads = append(heads, h)
		floor = h.end
	}
	named := 0
	for _, h := range heads {
		if h.author != "" {
			named++
		}
	}
	if named < len(heads) { // a date among text that belongs to nobody is no header
		var kept []header
		for _, h := range heads {
			if h.author != "" {
				kept = append(kept, h)
			}
		}
		return kept
	}
	return heads
}

var (
	startedBy = regexp.MustCompile(`(?i)\bstarted by\b|\bthread starter\b|\bstart date\b|\bdiscussion in\b|\bjoined\b|\bregistered\b|\blast (?:visit|post|activ)`)
	keyedName = regexp.MustCompile(`(?i)^\s*(?:posted by|author|from|name|user|by|von|par)\s*:\s*@?(.+)$`)
	replyLine = regexp.MustCompile(`(?i)^\s*(?:re|aw|sv|antw)\s*:`)
	ruleLine  = regexp.MustCompile(`^\s*[-=_*~#·•]{3,}\s*$`)
)

// headerAt reads the header whose date stands in line i, looking up no further than line floor.
func headerAt(rows []string, i, floor int) (header, bool) {
	row := rows[i]
	if len(row) > maxBylineLen || startedBy.MatchString(row) {
		return header{}, false
	}
	by, ok := parseByline(row, nil)
	if !ok || wordCount(leftover(row, by)) > 8 {
		return header{}, false
	}
	h := header{start: i, end: i + 1, author: by.author, when: by.when}
	if h.author != "" {
		if strings.ContainsAny(row[by.end:], ".!?") && wordCount(row[by.end:]) > 3 {
			return header{}, false
		}
		return h.withMeta(rows, floor), true
	}
	start, author, ok := nameAbove(rows, i, floor)
	if !ok {
		return header{}, false
	}
	h.start, h.author = start, author
	return h, true
}

// leftover is what a byline's line holds besides name and date.
func leftover(row string, by byline) string {
	_, at, _ := findDate(row)
	rest := strip(strings.Replace(row[:at.start], by.author, "", 1))
	return rest + " " + strings.Trim(row[at.end:], " |·")
}

// withMeta takes in the lines right above that tell about the author.
func (h header) withMeta(rows []string, floor int) header {
	for h.start > floor && (metaLine.MatchString(rows[h.start-1]) || strings.TrimSpace(rows[h.start-1]) == h.author || replyLine.MatchString(rows[h.start-1])) {
		h.start--
	}
	for h.end < len(rows) && metaLine.MatchString(rows[h.end]) {
		h.end++
	}
	return h
}

// nameAbove finds the author above a line that holds only a date: the first line of the block of short lines it belongs
// to, or of the block above if only the topic stands between.
func nameAbove(rows []string, i, floor int) (start int, author string, ok bool) {
	top := blockTop(rows, i, floor)
	if top < i && keyedName.MatchString(rows[i-1]) {
		name := trimName(keyedName.FindStringSubmatch(rows[i-1])[1])
		return i - 1, name, isDatedName(name)
	}
	if top == i || onlyTopic(rows[top:i]) || i-top == 1 && metaAbove(rows, top, floor) {
		above := top - 1
		for above >= floor && strings.TrimSpace(rows[above]) == "" {
			above--
		}
		if above < floor {
			return 0, "", false
		}
		top = blockTop(rows, above, floor)
	}
	for top < i && (isNoise(rows[top]) || ruleLine.MatchString(rows[top])) {
		top++
	}
	if top >= i || i-top > 8 {
		return 0, "", false
	}
	for _, row := range rows[top+1 : i] {
		if len(row) > 80 || wordCount(row) > 12 {
			return 0, "", false
		}
	}
	name := strings.TrimPrefix(strings.TrimSpace(rows[top]), "@")
	name = roleNote.ReplaceAllString(name, "")
	beside := !slices.ContainsFunc(rows[top+1:i], func(row string) bool { return !metaLine.MatchString(row) })
	return top, name, isName(name) || beside && isDatedName(name)
}

func blockTop(rows []string, i, floor int) int {
	for i > floor && strings.TrimSpace(rows[i-1]) != "" && !ruleLine.MatchString(rows[i-1]) {
		i--
	}
	return i
}

// onlyTopic tells whether the lines between name and date repeat the topic.
func onlyTopic(rows []string) bool {
	return len(rows) == 1 && !isDatedName(strings.TrimSpace(rows[0])) || len(rows) > 0 && replyLine.MatchString(rows[0])
}

// metaAbove tells whether the block above a line ends in what is known of an author, so that the line is no name.
func metaAbove(rows []string, top, floor int) bool {
	for top--; top >= floor; top-- {
		if strings.TrimSpace(rows[top]) != "" {
			return metaLine.MatchString(rows[top]) && top > floor && isName(strings.TrimSpace(rows[blockTop(rows, top, floor)]))
		}
	}
	return false
}

// actionsEndPosts tells whether a line of buttons closes each post, so that what follows it belongs to the page.
func actionsEndPosts(rows []string, heads []header) bool {
	closed := 0
	for i, h := range heads {
		end := len(rows)
		if i+1 < len(heads) {
			end = heads[i+1].start
		}
		seen := false
		for _, row := range rows[h.end:end] {
			if strings.TrimSpace(row) == "" {
				continue
			}
			if seen && isNoise(row) {
				closed++
				break
			}
			seen = seen || !isNoise(row)
		}
	}
	return closed*2 > len(heads)
}

// plainBody makes the text of a post from its lines: buttons and notices go, quotes become regions.
func plainBody(rows []string, cutAtActions bool) passage {
	if cutAtActions {
		rows = rows[:firstActions(rows)]
	}
	return readLines(rows)
}

// firstActions gives the index of the first line of buttons after some text.
func firstActions(rows []string) int {
	said := false
	for i, row := range rows {
		noise := isNoise(row)
		if noise && said {
			return i
		}
		said = said || !noise && strings.TrimSpace(row) != "" && !ruleLine.MatchString(row)
	}
	return len(rows)
}

var subjectLine = regexp.MustCompile(`(?i)^(?:subject|topic|title|betreff|sujet|asunto|oggetto|onderwerp)\s*:\s*(?:(?:re|aw|fwd?|sv|antw)\s*:\s*)*(\S.{2,})$`)

// plainTitle finds the topic among the lines above the first post: the one that says so, else the one with most words that is no
// navigation.
func plainTitle(rows []string, end int, above bool) string {
	best, words := "", 0
	for _, row := range rows[:end] {
		row = strings.TrimSpace(row)
		if m := subjectLine.FindStringSubmatch(row); m != nil {
			return m[1]
		}
		if row == "" || isNoise(row) || ruleLine.MatchString(row) || isNavigation(row) {
			continue
		}
		if !above {
			if len(row) <= 120 {
				return row
			}
			return ""
		}
		if n := wordCount(row); n >= words {
			best, words = row, n
		}
	}
	return best
}

var navigation = regexp.MustCompile(`(?i)\s[>›»<|/]\s|(?:^|\s)(?:log ?in|sign (?:up|in)|register)(?:\s|$)|^\W*(?:tags?|ad no|forum|board|started|thread starter|discussion in|topic)\b.*[:.]|\]\s*\[|\s{3,}|\bstarted by\b`)

func isNavigation(row string) bool { return navigation.MatchString(row) }

// titleInHeaders finds the topic that is repeated between name and date.
func titleInHeaders(rows []string, heads []header) string {
	for _, h := range heads {
		for _, row := range rows[h.start:h.end] {
			if m := replyLine.FindString(row); m != "" {
				return strings.TrimSpace(row[len(m):])
			}
		}
	}
	return ""
}
