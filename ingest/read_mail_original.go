package ingest

import (
	"regexp"
	"strings"
)

// Mails that carry the one they answer below them without marks: below a line such as "-----Original Message-----", or below a block
// that repeats its header.

var (
	originalMark = regexp.MustCompile(`(?i)^\W{0,3}[-_]{2,}\s*(?:original (?:message|e?-?mail)|forwarded message|ursprüngliche nachricht|originalnachricht|weitergeleitete nachricht|message d'origine|message original|mensaje original|oorspronkelijk bericht|opprinnelig melding|ursprungligt meddelande)\s*[-_]{2,}\W{0,3}$|^begin forwarded message:$`)
	fromField    = regexp.MustCompile(`(?i)^\W*(?:from|von|de|van|fra|från)\s*:\W*(\S.*)$`)
	headField    = regexp.MustCompile(`(?i)^\W*(?:sent|date|to|cc|subject|gesendet|datum|an|betreff|envoyé|à|objet|enviado|para|asunto|verzonden|aan|onderwerp|sendt|til|emne|skickat|till|ämne)\s*:`)
	mailInName   = regexp.MustCompile(`\s*[<\[(].*$|\s*` + Veil + `.*$`)
)

// quoteOriginal marks the mail that another one carries below it as a quote.
func quoteOriginal(p passage) passage {
	rows := lines(p.text)
	for i, row := range rows {
		line := p.text[row.start:row.end]
		if i > 0 && (originalMark.MatchString(line) || repeatsHeader(p.text, rows[i:])) {
			r := Region{Start: row.start, End: len(p.text), Kind: RegionQuote}
			for _, next := range rows[i:min(len(rows), i+4)] {
				if m := fromField.FindStringSubmatch(p.text[next.start:next.end]); m != nil && r.Author == "" {
					if name := strings.Trim(mailInName.ReplaceAllString(m[1], ""), `"' `); isName(name) {
						r.Author = name
					}
				}
			}
			p.regions = append(p.regions, r)
			sortRegions(p.regions)
			return p
		}
	}
	return p
}

// repeatsHeader tells whether lines begin with the sender of a mail and two more of its fields.
func repeatsHeader(text string, rows []span) bool {
	if !fromField.MatchString(text[rows[0].start:rows[0].end]) {
		return false
	}
	fields := 0
	for _, row := range rows[1:min(len(rows), 5)] {
		if headField.MatchString(text[row.start:row.end]) {
			fields++
		}
	}
	return fields >= 2
}
