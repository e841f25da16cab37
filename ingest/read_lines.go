package ingest

import (
	"regexp"
	"strings"
	"unicode"
)

// lineReader turns lines of plain text into a passage: ">" marks and "Quote:" blocks become quotes, the lines below
// "-- " a signature, and lines that were only wrapped are joined again.
type lineReader struct {
	f      flow
	rows   []string
	width  int   // at which the text was wrapped, 0 if it was not
	levels []int // open quotes by ">" level
	label  int   // region of an open "Quote:" block
	quoted bool  // whether such a block is open
	last   int   // length of the running line before, 0 if there is none to join
	item   int   // region of the open list item
	inItem bool
	opened bool // the line before announced a quote
}

var (
	itemMark           = regexp.MustCompile(`^\s*(?:[-*•+·–]|\d{1,2}[.)]|[a-z]\))\s+`)
	wrappedAttribution = regexp.MustCompile(`^[> ]*On .*[^:]$`)
	quoteMark          = regexp.MustCompile(`^(?:\s{0,2}>)+ ?`)
	quoteLabel         = regexp.MustCompile(`(?i)^\W*(?:quote|zitat|citation|cita|citaat)\s*:\s*(.*)$`)
)

const maxQuoteLevels = 20

func readLines(rows []string) passage { return readWrapped(rows, wrapWidth(rows)) }

// mailWidth is the length from which a line of a mail is taken for wrapped: mail programs wrap between 65 and 78.
const mailWidth = 72

func readWrapped(rows []string, width int) passage {
	rows = joinAttributions(rows)
	r := lineReader{rows: rows, width: width}
	for i := range rows {
		if r.signatureAt(i) {
			r.signature(i + 1)
			break
		}
		r.line(i)
	}
	r.closeAll()
	return r.f.done()
}

// joinAttributions joins "On 3 May, X <address>" and "wrote:" where the line was wrapped between.
func joinAttributions(rows []string) []string {
	var out []string
	for i := 0; i < len(rows); i++ {
		row := rows[i]
		if i+1 < len(rows) && wrappedAttribution.MatchString(row) && wordCount(rows[i+1]) <= 6 {
			joined := row + " " + strings.TrimSpace(quoteMark.ReplaceAllString(rows[i+1], ""))
			if _, _, ok := quotedBy(quoteMark.ReplaceAllString(joined, "")); ok {
				row, i = joined, i+1
			}
		}
		out = append(out, row)
	}
	return out
}

// wrapWidth tells at which width lines were wrapped: that of the longest, if text wrapped by a person or program looks so.
func wrapWidth(rows []string) int {
	longest, long := 0, 0
	for _, row := range rows {
		longest = max(longest, len([]rune(row)))
	}
	for _, row := range rows {
		if len([]rune(row)) > longest-20 {
			long++
		}
	}
	if longest < 40 || longest > 100 || long < 3 {
		return 0
	}
	return longest
}

func (r *lineReader) signatureAt(i int) bool {
	rule := strings.TrimSpace(r.rows[i])
	if rule != "--" && !(len(rule) >= 3 && strings.Trim(rule, "_") == "") {
		return false
	}
	rest := strings.TrimSpace(strings.Join(r.rows[i+1:], "\n"))
	return rest != "" && len(rest) < maxSignature
}

func (r *lineReader) signature(from int) {
	r.closeAll()
	r.f.line()
	region := r.f.begin(RegionSignature)
	for _, row := range r.rows[from:] {
		if isNoise(row) && strings.TrimSpace(row) != "" {
			continue
		}
		r.f.line()
		r.f.text(row)
	}
	r.f.end(region)
}

func (r *lineReader) line(i int) {
	row := r.rows[i]
	level := 0
	if mark := quoteMark.FindString(row); mark != "" {
		level, row = min(strings.Count(mark, ">"), maxQuoteLevels), row[len(mark):]
	}
	trimmed := strings.TrimSpace(row)
	switch {
	case trimmed == "":
		r.blank(level)
		return
	case level == 0 && ruleLine.MatchString(row):
		r.closeAll()
		r.f.para()
		return
	case level == 0 && isNoise(row):
		r.closeAll()
		r.f.line()
		return
	}
	if m := quoteLabel.FindStringSubmatch(row); m != nil && level == 0 {
		r.openLabel(strings.TrimSpace(m[1]))
		return
	}
	author, attributes := r.attributesNext(i, level, trimmed)
	r.toLevel(level)
	r.opened = attributes
	if attributes {
		r.f.line()
		r.closeItem()
		r.levels = append(r.levels, r.f.begin(RegionQuote))
		r.f.regions[r.levels[level]].Author = author
		r.last = 0
	}
	r.words(row, trimmed)
	if attributes {
		r.last = 0
	}
}

func (r *lineReader) blank(level int) {
	if !r.opened {
		r.toLevel(level)
	}
	r.closeItem()
	if r.quoted && r.f.regions[r.label].Start != unwritten {
		r.closeLabel()
	}
	r.f.para()
	r.last = 0
}

// openLabel begins a block after "Quote:"; it ends at a blank line.
func (r *lineReader) openLabel(rest string) {
	r.closeAll()
	r.f.line()
	r.label, r.quoted = r.f.begin(RegionQuote), true
	if rest != "" {
		r.words(rest, rest)
	}
}

// attributesNext tells whether a line such as "X wrote:" announces a quote that is marked one level deeper.
func (r *lineReader) attributesNext(i, level int, row string) (string, bool) {
	author, _, ok := quotedBy(row)
	if !ok {
		return "", false
	}
	next := i + 1
	for next < len(r.rows) && strings.TrimSpace(r.rows[next]) == "" {
		next++
	}
	if next >= len(r.rows) {
		return "", false
	}
	deeper := strings.Count(quoteMark.FindString(r.rows[next]), ">") > level
	return author, deeper && level < maxQuoteLevels
}

// toLevel opens and closes quotes so that the next words stand in so many of them. A quote that was just announced holds
// the announcement at the level above, so that it stays open for its first marked line.
func (r *lineReader) toLevel(level int) {
	for len(r.levels) > level {
		r.closeItem()
		r.f.end(r.levels[len(r.levels)-1])
		r.levels = r.levels[:len(r.levels)-1]
		r.f.line()
		r.last = 0
	}
	for len(r.levels) < level {
		r.closeItem()
		r.closeLabel()
		r.f.line()
		r.levels = append(r.levels, r.f.begin(RegionQuote))
		r.last = 0
	}
}

func (r *lineReader) words(row, trimmed string) {
	item := itemMark.MatchString(row)
	joins := !item && r.last > 0 && r.width > 0 && (r.last+1+len([]rune(firstWord(trimmed))) > r.width-8 || r.runsOn(trimmed))
	if !joins {
		r.closeItem()
		r.f.line()
	} else {
		r.f.text(" ")
	}
	if r.quoted && r.f.regions[r.label].Author == "" {
		r.f.regions[r.label].Author = labelAuthor(trimmed)
	}
	edit := editNote.MatchString(trimmed) && !joins
	switch {
	case edit:
		region := r.f.begin(RegionEdit)
		r.f.text(trimmed)
		r.f.end(region)
	case item:
		r.item, r.inItem = r.f.begin(RegionItem), true
		r.f.text(trimmed)
	default:
		r.f.text(trimmed)
	}
	r.last = len([]rune(strings.TrimRight(row, " ")))
}

// runsOn tells whether a line goes on in the middle of a sentence, as quoted lines do that were wrapped by hand.
func (r *lineReader) runsOn(next string) bool {
	written := r.f.b.String()
	end, start := rune(written[len(written)-1]), firstRune(next)
	return len(r.levels) > 0 && (isAlnum(end) || end == ',') && unicode.IsLower(start)
}

func firstWord(s string) string {
	word, _, _ := strings.Cut(s, " ")
	return word
}

// labelAuthor reads who is quoted from the first line of a "Quote:" block.
func labelAuthor(row string) string {
	if author, _, ok := quotedBy(row); ok {
		return author
	}
	return ""
}

func (r *lineReader) closeItem() {
	if r.inItem {
		r.f.end(r.item)
		r.inItem = false
	}
}

func (r *lineReader) closeLabel() {
	if r.quoted {
		r.f.end(r.label)
		r.quoted = false
	}
}

func (r *lineReader) closeAll() {
	r.toLevel(0)
	r.closeItem()
	r.closeLabel()
	r.last = 0
}
