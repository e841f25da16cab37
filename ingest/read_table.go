package ingest

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"errors"
	"io"
	"maps"
	"path"
	"slices"
	"strconv"
	"strings"
)

// roleOrder is the order in which the fields of a row stand in its text; other roles follow by name.
var roleOrder = [...]string{"id", "date", "author", "machine", "make", "model", "year", "odometer", "code", "found", "test", "reading", "done", "outcome"}

// readTable reads a table with named columns: each row is a write-up of its own, its mapped columns are named fields.
func readTable(f File, opt Options) ([]*draft, error) {
	r := csv.NewReader(bytes.NewReader(f.Data))
	r.Comma = delimiter(f.Data)
	r.FieldsPerRecord = -1
	r.LazyQuotes = false
	head, err := r.Read()
	if err != nil {
		return nil, tableError(f, err)
	}
	columns := opt.Columns
	if len(columns) == 0 {
		columns = ownColumns(head)
	}
	if len(columns) == 0 {
		return nil, failure(f, 1, "a table needs to be told which columns hold what; it has: %s", strings.Join(head, ", "))
	}
	roles, at, err := mapColumns(f, head, columns)
	if err != nil {
		return nil, err
	}
	table := tableName(f, head)
	var drafts []*draft
	for n := 1; ; n++ {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			return drafts, nil
		}
		if err != nil {
			return nil, tableError(f, err)
		}
		line, _ := r.FieldPos(0)
		if len(record) != len(head) {
			return nil, failure(f, line, "the row has %d columns, the header has %d", len(record), len(head))
		}
		if len(drafts) >= opt.MaxPosts {
			return nil, failure(f, line, "too many rows: the limit is %d", opt.MaxPosts)
		}
		if d := rowDraft(record, roles, at, n); d != nil {
			d.rowID = table + "/" + d.rowID
			drafts = append(drafts, d)
		}
	}
}

// columnNames are the column names that need no telling, with their roles. What was found and what was done make a table readable.
var columnNames = map[string]string{"id": "id", "date": "date", "author": "author", "machine": "machine", "make": "make", "model": "model", "year": "year",
	"odometer": "odometer", "code": "code", "found": "found", "symptom": "found", "problem": "found", "test": "test", "reading": "reading",
	"done": "done", "fix": "done", "action": "done", "outcome": "outcome", "licence": "licence"}

// ownColumns maps the columns of a table that names them in our own words; nothing unless it says what was found and what was done.
func ownColumns(head []string) map[string]string {
	out := map[string]string{}
	for _, h := range head {
		role, ok := columnNames[strings.ToLower(strings.TrimSpace(h))]
		if _, taken := out[role]; ok && !taken {
			out[role] = strings.TrimSpace(h)
		}
	}
	if out["found"] == "" || out["done"] == "" {
		return nil
	}
	return out
}

func tableError(f File, err error) error {
	var broken *csv.ParseError
	if errors.As(err, &broken) {
		e := failure(f, broken.Line, "broken table: %v in column %d", broken.Err, broken.Column)
		return e
	}
	return failure(f, 1, "broken table: %v", err)
}

// delimiter tells what separates columns: the candidate that the header holds most of, outside quotes.
func delimiter(data []byte) rune {
	head, _, _ := bytes.Cut(data, []byte("\n"))
	best, count := ',', 0
	for _, c := range []rune{',', ';', '\t', '|'} {
		n, quoted := 0, false
		for _, r := range string(head) {
			if r == '"' {
				quoted = !quoted
			}
			if r == c && !quoted {
				n++
			}
		}
		if n > count {
			best, count = c, n
		}
	}
	return best
}

// mapColumns finds the columns of the roles; names are compared without regard to case and blanks around them.
func mapColumns(f File, head []string, columns map[string]string) ([]string, map[string]int, error) {
	at := map[string]int{}
	roles := slices.SortedFunc(maps.Keys(columns), func(a, b string) int { return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(a, b)) })
	for _, role := range roles {
		want := strings.TrimSpace(columns[role])
		i := slices.IndexFunc(head, func(h string) bool { return strings.EqualFold(strings.TrimSpace(h), want) })
		if i < 0 {
			err := failure(f, 1, "no column %q; there are: %s", want, strings.Join(head, ", "))
			err.Field = role
			return nil, nil, err
		}
		at[role] = i
	}
	return roles, at, nil
}

func rank(role string) int {
	if i := slices.Index(roleOrder[:], role); i >= 0 {
		return i
	}
	return len(roleOrder)
}

// tableName tells tables apart: file name without folder and ending, which with the row's id makes the key.
func tableName(f File, head []string) string {
	base := path.Base(strings.ReplaceAll(f.Name, `\`, "/"))
	return strings.TrimSuffix(base, path.Ext(base)) + ":" + shortHash(strings.Join(head, "\x1f"))
}

// rowDraft makes a write-up of one row: every mapped field that is not empty stands on a line of its own.
func rowDraft(record, roles []string, at map[string]int, n int) *draft {
	d := &draft{kind: KindRow, rowID: strconv.Itoa(n)}
	post := draftPost{}
	var f flow
	for _, role := range roles {
		value := strings.TrimSpace(record[at[role]])
		if value == "" {
			continue
		}
		switch role {
		case "id":
			d.rowID = visible(value)
		case "author":
			post.author = visible(value)
		case "date":
			post.when, _, _ = findDate(value)
		}
		f.line()
		r := f.begin(RegionField)
		f.text(strings.ReplaceAll(value, "\n", " "))
		f.regions[r].Name = role
		f.end(r)
	}
	post.body = f.done()
	if post.body.text == "" {
		return nil
	}
	d.posts = []draftPost{post}
	return d
}
