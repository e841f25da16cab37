package index

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"ruledout/kb"
)

// The limits of a query: beyond them it is no question of a person.
const (
	maxQuery   = 2000 // bytes
	maxClauses = 200
)

// Clause is one demand of a query.
type Clause struct {
	Not    bool   // what matches is left out
	Field  string // empty: the text
	Phrase bool   // the words stand one after the other
	Text   string
	At     int // byte at which it starts in the query
}

// QueryFields lists the fields that a query can ask for, as in "make:halden".
func QueryFields() []string {
	return []string{"code", "make", "model", "kind", "component", "action", "confirmation", "year", "state", "status"}
}

// ParseQuery reads a query: words, "phrases", field:value, field:"several words", year:2015..2018, and a minus before any of
// them for what must not be there. Errors name the place.
func ParseQuery(text string) ([]Clause, error) {
	if len(text) > maxQuery {
		return nil, queryError(maxQuery, "the query is longer than %d characters", maxQuery)
	}
	if !utf8.ValidString(text) {
		return nil, queryError(0, "the query is no valid text (UTF-8)")
	}
	p := parser{text: text}
	var all []Clause
	for p.skipSpace(); p.at < len(p.text); p.skipSpace() {
		c, err := p.clause()
		if err != nil {
			return nil, err
		}
		if c.Text == "" { // a dash or a mark between spaces
			continue
		}
		if all = append(all, c); len(all) > maxClauses {
			return nil, queryError(c.At, "more than %d words", maxClauses)
		}
	}
	return all, nil
}

func queryError(at int, format string, args ...any) error {
	return &kb.Error{Kind: kb.Invalid, Field: "query", Msg: fmt.Sprintf("at character %d: ", at+1) + fmt.Sprintf(format, args...)}
}

type parser struct {
	text string
	at   int
}

func (p *parser) skipSpace() {
	p.at += len(p.text[p.at:]) - len(strings.TrimLeftFunc(p.text[p.at:], unicode.IsSpace))
}

func (p *parser) clause() (Clause, error) {
	c := Clause{At: p.at}
	if rest := p.text[p.at:]; len(rest) > 1 && rest[0] == '-' && !startsWithSpace(rest[1:]) {
		c.Not = true
		p.at++
	}
	field, length, err := p.field()
	if err != nil {
		return c, err
	}
	c.Field = field
	p.at += length
	if field != "" {
		p.skipSpace() // "make: halden"
	}
	if strings.HasPrefix(p.text[p.at:], `"`) {
		c.Phrase = true
		c.Text, err = p.quoted()
		if err == nil && c.Text == "" {
			err = queryError(c.At, "nothing stands between the quotation marks")
		}
		return c, err
	}
	c.Text = p.word()
	if c.Field != "" && c.Text == "" {
		return c, queryError(p.at, "%s: wants a value after it", c.Field)
	}
	if c.Field == "" && !strings.ContainsFunc(c.Text, isWordRune) {
		c.Text = ""
	}
	return c, nil
}

func startsWithSpace(s string) bool {
	r, _ := utf8.DecodeRuneInString(s)
	return unicode.IsSpace(r)
}

// field reads "name:" with the length that it takes. Only what looks like a field is held against the list: a code
// ("U0293:00"), a time or an address is a word, and so is a word at the end of a sentence's first half ("fault: none").
func (p *parser) field() (name string, length int, err error) {
	rest := p.text[p.at:]
	end := strings.IndexFunc(rest, func(r rune) bool { return !unicode.IsLetter(r) && r != '_' })
	if end < 1 || rest[end] != ':' {
		return "", 0, nil
	}
	name = strings.ToLower(rest[:end])
	if slices.Contains(QueryFields(), name) {
		return name, end + 1, nil
	}
	after := rest[end+1:]
	if name == "spn" || name == "fmi" || after == "" || startsWithSpace(after) || strings.HasPrefix(after, "/") {
		return "", 0, nil
	}
	return "", 0, queryError(p.at, "there is no field %q; the fields are %s", name, strings.Join(QueryFields(), ", "))
}

func (p *parser) quoted() (string, error) {
	start := p.at
	length := strings.IndexByte(p.text[start+1:], '"')
	if length < 0 {
		return "", queryError(start, "this quotation mark has no partner")
	}
	p.at = start + 1 + length + 1
	return strings.TrimSpace(p.text[start+1 : start+1+length]), nil
}

func (p *parser) word() string {
	start := p.at
	length := strings.IndexFunc(p.text[start:], unicode.IsSpace)
	if length < 0 {
		length = len(p.text) - start
	}
	p.at += length
	return p.text[start:p.at]
}
