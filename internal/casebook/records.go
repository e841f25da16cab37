package casebook

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"

	"ruledout/internal/store"
	"ruledout/kb"
)

// ImportOptions say how case records are taken in.
type ImportOptions struct {
	KeepGoing bool // skip bad lines and list them; otherwise one bad line keeps everything out
	Trusted   bool // the source counts in full, each case as 1
	File      string
}

// ImportReport says what an import did.
type ImportReport struct {
	New     int     `json:"new"`
	Changed int     `json:"changed"`
	Same    int     `json:"same"`
	Kept    int     `json:"kept,omitempty"` // merged here meanwhile, and left so
	Bad     []error `json:"-"`
}

// maxListed is how many bad lines an import lists before it only counts them.
const maxListed = 1000

// Import takes in case records, one a line: a record whose id and content are known is a no-op, the same id with other content is a
// new revision. A record without a state is published. Without KeepGoing a bad line leaves the book as it was.
func (b *Book) Import(ctx context.Context, by Actor, r io.Reader, opt ImportOptions) (ImportReport, error) {
	if err := by.may(Moderator, "import cases"); err != nil {
		return ImportReport{}, err
	}
	var report ImportReport
	err := b.store.Update(ctx, func(tx *store.Tx) error {
		report = ImportReport{}
		return b.importAll(tx, by, r, opt, &report)
	})
	if err != nil {
		return ImportReport{Bad: report.Bad}, fmt.Errorf("import: %w", err)
	}
	return report, b.catchUp(ctx)
}

func (b *Book) importAll(tx *store.Tx, by Actor, r io.Reader, opt ImportOptions, report *ImportReport) error {
	n := 0
	var merged []kb.Line // they need the case that they lead to, wherever it stands
	for line, err := range kb.Records(r, opt.File) {
		if err == nil && line.Case.State == kb.Merged && line.Case.MergedInto != "" {
			n++
			merged = append(merged, line)
			continue
		}
		if n++; n%1000 == 0 {
			b.progress(Progress{Work: "importing", Done: n})
		}
		if err == nil {
			err = b.importOne(tx, by, line, opt, report)
		}
		if err := report.note(err); err != nil {
			return err
		}
	}
	if err := b.importMerged(tx, by, merged, opt, report); err != nil {
		return err
	}
	if len(report.Bad) > 0 && !opt.KeepGoing {
		return &kb.Error{Kind: kb.Invalid, Msg: fmt.Sprintf("%d bad lines; nothing was taken in", len(report.Bad))}
	}
	if n == 0 {
		return &kb.Error{Kind: kb.Invalid, File: opt.File, Msg: "there is no case record in it"}
	}
	return nil
}

// note lists an error of a line; any other ends the import.
func (r *ImportReport) note(err error) error {
	var e *kb.Error
	if err != nil && !(errors.As(err, &e) && e.Kind == kb.Invalid) {
		return err
	}
	if err != nil && len(r.Bad) < maxListed {
		r.Bad = append(r.Bad, err)
	}
	return nil
}

// importMerged takes in merged cases, each after the one that it leads to. Those left over lead to no case, or in a circle.
func (b *Book) importMerged(tx *store.Tx, by Actor, lines []kb.Line, opt ImportOptions, report *ImportReport) error {
	for progress := true; progress; {
		progress = false
		var left []kb.Line
		for _, line := range lines {
			waits := slices.ContainsFunc(lines, func(o kb.Line) bool { return o.Case.ID == line.Case.MergedInto })
			if waits {
				left = append(left, line)
				continue
			}
			progress = true
			err := b.importOne(tx, by, line, opt, report)
			if kind := kb.KindOf(err); kind == kb.NotFound || kind == kb.Conflict {
				err = &kb.Error{Kind: kb.Invalid, File: opt.File, Line: line.N, Field: "merged_into", Msg: err.Error()}
			}
			if err := report.note(err); err != nil {
				return err
			}
		}
		lines = left
	}
	for _, line := range lines {
		err := &kb.Error{Kind: kb.Invalid, File: opt.File, Line: line.N, Field: "merged_into", Msg: "leads in a circle"}
		if err := report.note(err); err != nil {
			return err
		}
	}
	return nil
}

func (b *Book) importOne(tx *store.Tx, by Actor, line kb.Line, opt ImportOptions, report *ImportReport) error {
	c := line.Case
	if err := c.CheckRecord(); err != nil {
		return kb.At(err, opt.File, line.N)
	}
	c = taken(c, opt.Trusted)
	c, err := c.WithID()
	if err != nil {
		return err
	}
	if old, err := tx.Record(c.ID); err == nil && old.Case.State == kb.Merged && c.State != kb.Merged {
		report.Kept++ // its facts count in the case that it leads to
		return nil
	}
	verb, err := importVerb(tx, c)
	if err != nil || verb == "" {
		report.Same++
		return err
	}
	_, err = tx.Append(store.Entry{Kind: store.EntryCase, ID: string(c.ID), Verb: verb, Actor: by.Name, At: b.now(), Case: &c, Target: c.MergedInto})
	if err != nil {
		return err
	}
	if verb == "import" {
		report.New++
	} else {
		report.Changed++
	}
	return nil
}

// taken gives a record the form in which it is stored: codes spelled by rule, a state, and the mark of a trusted source.
func taken(c kb.Case, trusted bool) kb.Case {
	for i := range c.Codes {
		if read, err := c.Codes[i].Parse(); err == nil {
			c.Codes[i].Code = read.String()
		}
	}
	if c.State == "" {
		c.State = kb.Published
	}
	if c.Status == "" {
		c.Status = kb.Open
	}
	if trusted {
		if len(c.Sources) == 0 {
			c.Sources = []kb.Source{{Kind: "record"}}
		}
		for i := range c.Sources {
			c.Sources[i].Trusted = true
		}
	}
	return c
}

// importVerb tells what taking in c amounts to: "import" for a new case, "change" for other content, nothing for the same content.
func importVerb(tx *store.Tx, c kb.Case) (string, error) {
	old, err := tx.Record(c.ID)
	if kb.KindOf(err) == kb.NotFound {
		return "import", nil
	}
	if err != nil {
		return "", err
	}
	same, err := equal(old.Case, c)
	if err != nil || same {
		return "", err
	}
	return "change", nil
}

func equal(a, b kb.Case) (bool, error) {
	x, err := kb.EncodeCase(a)
	if err != nil {
		return false, err
	}
	y, err := kb.EncodeCase(b)
	return string(x) == string(y), err
}

// ExportOptions choose what is exported.
type ExportOptions struct {
	States   []kb.State // all if empty
	Licences []string   // only cases whose every source carries one of these; all if empty
}

// Export writes the current state of the cases, one record a line in order of id, and gives their number.
func (b *Book) Export(ctx context.Context, w io.Writer, opt ExportOptions) (int, error) {
	out := bufio.NewWriter(w)
	n := 0
	for r, err := range b.store.Cases(ctx, store.Filter{States: opt.States}) {
		if err != nil {
			return n, fmt.Errorf("export: %w", err)
		}
		if !licensed(r.Case, opt.Licences) {
			continue
		}
		line, err := kb.EncodeCase(r.Case)
		if err != nil {
			return n, fmt.Errorf("export: %w", err)
		}
		if _, err := out.Write(append(line, '\n')); err != nil {
			return n, fmt.Errorf("export: %w", err)
		}
		n++
	}
	return n, out.Flush()
}

func licensed(c kb.Case, licences []string) bool {
	if len(licences) == 0 {
		return true
	}
	for _, s := range c.Sources {
		found := false
		for _, l := range licences {
			found = found || s.Licence == l
		}
		if !found {
			return false
		}
	}
	return len(c.Sources) > 0
}
