package ingest

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
)

// Texts without lines of name and date: messages exported from a chat, posts headed by names alone, notes that name their writer in
// a line at the top or sign at the end.

var (
	messageClock = regexp.MustCompile(`^\[?\d{1,2}:\d{2}(?::\d{2})?(?:\s?[apAP]\.?[mM]\.?)?\]?(?:\s+[-–]\s+|\s+)`)
	licenceLine  = regexp.MustCompile(`(?i)^\W*licen[cs]e\s*:\s*(\S.{0,60})$`)
	byLine       = regexp.MustCompile(`(?i)^\W*(?:(?:written |posted |taken |noted |notes |reported |typed(?: up)? |typed in |told |submitted |contributed )?(?:by|von|par|por|door|av)|author|writer|name|user(?:name)?|from)\s*:?\s+@?([^,;|(]{2,40}?)\s*(?:[,;|(](.*))?$`)
	signOff      = regexp.MustCompile(`(?i)^(?:(?:many |kind |best |warm )?(?:cheers|thanks|thank you|thx|ta|regards|wishes|greetings|yours|hth|mvg|gru(?:ß|ss)|grüße|groeten|hilsen|saludos)(?: (?:all|again|everyone|everybody|folks|guys|lads|mates?|in advance|for reading|for listening|a lot|so much|and [a-z]+))*\s*[,.!–—-]+|[-–—~]{1,3})\s*@?([^,.!]{2,40}?)\s*(?:[,.!](.*))?$`)
	byYear       = regexp.MustCompile(`(?i)^(?:written )?by \S+,.*\b(?:19|20)\d\d\b`) // a handle in small letters wants its date
	// nameForms are the lines that head a post with a name alone; a thread has the same form above each post.
	nameForms = []*regexp.Regexp{
		regexp.MustCompile(`^#\s?\d{1,5}[.):]?\s+(?:by\s+|[-–|·]\s*)?@?([^:]{2,40})$`),
		regexp.MustCompile(`^@?([^:]{2,40}?)\s*[-–|·(]?\s*#\s?\d{1,5}\)?$`),
		regexp.MustCompile(`(?i)^(?:posted|written|asked|answered|reply|replied|comment|answer) by:?\s+@?([^:]{2,40})$`),
		regexp.MustCompile(`(?i)^(?:user|username|author|name|from|poster)\s*:\s*@?([^:]{2,40})$`),
		regexp.MustCompile(`(?i)^@?([^:]{2,40}?) (?:wrote|says|said|replied|answered|asked|commented)\s*:$`),
	}
)

// message is a line of a chat.
type chatLine struct {
	row    int
	author string
	when   stamp
	text   string
}

// chatAt reads a line such as "[2 May 2024, 14:02] halyard: text" or "14:02 - halyard: text".
func chatAt(row string) (chatLine, bool) {
	row = strings.TrimSpace(row)
	var c chatLine
	rest := row
	if m := messageClock.FindString(row); m != "" {
		rest = row[len(m):]
	} else {
		when, at, ok := findDate(row[:min(len(row), 48)])
		if !ok || at.start > 1 || when.relative {
			return c, false
		}
		c.when, rest = when, row[at.end:]
	}
	rest = strings.TrimLeft(rest, "])-–, |")
	name, text, ok := strings.Cut(rest, ":")
	name = strings.Trim(name, "<>@ ")
	if !ok || !isName(name) || !strings.HasPrefix(text, " ") || strings.TrimSpace(text) == "" {
		return c, false
	}
	c.author, c.text = name, strings.TrimSpace(text)
	return c, true
}

// readChat reads messages exported from a chat: one a line, most lines of the text. Lines between belong to the message above.
func readChat(rows []string) *draft {
	var heads []chatLine
	full := 0
	for i, row := range rows {
		if strings.TrimSpace(row) == "" || licenceLine.MatchString(row) {
			continue
		}
		full++
		if c, ok := chatAt(row); ok {
			c.row = i
			heads = append(heads, c)
		}
	}
	if len(heads) < 3 || len(heads)*2 < full {
		return nil
	}
	d := &draft{title: plainTitle(rows, heads[0].row, true), inOrder: true}
	for i, h := range heads {
		end := len(rows)
		if i+1 < len(heads) {
			end = heads[i+1].row
		}
		d.posts = append(d.posts, draftPost{author: h.author, when: h.when, body: readLines(append([]string{h.text}, rows[h.row+1:end]...))})
	}
	return d
}

// nameHeaders finds the headers of posts that are a name alone. The first one stands at the top, or the names are those of quotes.
func nameHeaders(rows []string) []header {
	var best []header
	for _, form := range nameForms {
		var heads []header
		before := 0 // lines of text above the first header
		for i, row := range rows {
			row = strings.TrimSpace(row)
			m := form.FindStringSubmatch(row)
			if m == nil || !isName(trimName(m[1])) || announcesQuote(rows, i) {
				if row != "" && len(heads) == 0 {
					before++
				}
				continue
			}
			heads = append(heads, header{start: i, end: i + 1, author: trimName(m[1])})
		}
		if len(heads) >= 2 && before <= 5 && len(heads) > len(best) && haveText(rows, heads) {
			best = heads
		}
	}
	return best
}

func announcesQuote(rows []string, i int) bool {
	for _, row := range rows[i+1:] {
		if strings.TrimSpace(row) != "" {
			return quoteMark.MatchString(row)
		}
	}
	return true
}

// haveText tells whether words stand below most headers.
func haveText(rows []string, heads []header) bool {
	with := 0
	for i, h := range heads {
		end := len(rows)
		if i+1 < len(heads) {
			end = heads[i+1].start
		}
		if wordCount(strings.Join(rows[h.end:end], " ")) >= 3 {
			with++
		}
	}
	return with*3 >= len(heads)*2
}

// articleBy finds who wrote a text without headers, and when: in a line at its top, else in the line that closes it.
func articleBy(rows []string) (author string, when stamp) {
	var full []string
	for _, row := range rows {
		if row = strings.TrimSpace(row); row != "" && !licenceLine.MatchString(row) {
			full = append(full, row)
		}
	}
	if author, when = writerOnTop(full); author != "" || len(full) < 2 {
		return author, when
	}
	last, above := full[len(full)-1], full[len(full)-2]
	if m := signOff.FindStringSubmatch(last); m != nil && wordCount(last) <= 10 && isSigned(m[1]) {
		when, _, _ = findDate(last)
		return trimName(m[1]), when
	}
	if m := signOff.FindStringSubmatch(above + " " + last); m != nil && wordCount(above) <= 4 && strings.HasSuffix(above, ",") && isSigned(m[1]) && strings.HasPrefix(last, m[1]) {
		return trimName(m[1]), stamp{}
	}
	return "", stamp{}
}

// writerOnTop finds the line near the top of a text that names its writer.
func writerOnTop(rows []string) (author string, when stamp) {
	seen := 0
	for _, row := range rows {
		if row = strings.TrimSpace(row); row == "" {
			continue
		}
		if seen++; seen > 4 {
			break
		}
		m := byLine.FindStringSubmatch(row)
		if m != nil && len(row) <= 80 && (isSigned(m[1]) || byYear.MatchString(row) && isName(m[1])) {
			when, _, _ = findDate(row)
			return trimName(m[1]), when
		}
	}
	return "", stamp{}
}

// isSigned tells whether words where a writer may be named are a name: a handle with a mark or a digit in it, or capitalised words.
func isSigned(name string) bool {
	name = trimName(name)
	words := strings.Fields(name)
	if !isName(name) || len(words) > 3 {
		return false
	}
	if len(words) == 1 && strings.ContainsAny(name, "_.-0123456789") {
		return true
	}
	if len(words) == 1 && unicode.IsLower(firstRune(name)) {
		return false
	}
	return !slices.ContainsFunc(words, func(w string) bool {
		return isStopWord(w) || !unicode.IsUpper(firstRune(w)) && !unicode.IsDigit(firstRune(w))
	})
}

// licenceOf takes the line out of a text that tells its licence.
func licenceOf(rows []string) (string, []string) {
	for i, row := range rows {
		if m := licenceLine.FindStringSubmatch(row); m != nil {
			return strings.TrimSpace(m[1]), slices.Delete(slices.Clone(rows), i, i+1)
		}
	}
	return "", rows
}
