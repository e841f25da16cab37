package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"ruledout/kb"
)

// Sheet is one revision of a job sheet. The store gives its body no meaning; it is no part of the log of cases.
type Sheet struct {
	ID       string
	Revision int64     // 1, 2, ... without a gap
	Body     []byte    // JSON
	CaseID   kb.CaseID // the case that it was submitted as, empty if it was not
	Actor    string    // who made this revision
	Changed  time.Time // when
	Created  time.Time
}

// Note is a remark on a job sheet. Notes are numbered 1, 2, ... and never change.
type Note struct {
	N      int
	At     time.Time
	Author string
	Text   string
}

// Photo is a picture on a job sheet, numbered in the order in which they came; a number is not given again.
type Photo struct {
	N             int
	At            time.Time
	Author        string
	Caption       string
	Width, Height int    // of the picture, in pixels
	Picture       []byte // JPEG; empty in lists
	Small         []byte // JPEG; empty in lists
}

const selectSheet = `SELECT s.id, r.revision, r.body, s.case_id, r.actor, r.at, s.created FROM sheets s JOIN sheet_revisions r ON r.sheet = s.id`

// Sheet gives the last revision of a job sheet.
func (s *Store) Sheet(ctx context.Context, id string) (Sheet, error) {
	sheet, err := sheet(s.view(ctx), id)
	return sheet, s.wrap(err)
}

// Sheet is Store.Sheet inside the change.
func (tx *Tx) Sheet(id string) (Sheet, error) {
	sheet, err := sheet(tx, id)
	return sheet, tx.s.wrap(err)
}

func sheet(q querier, id string) (Sheet, error) {
	one, err := scanSheet(oneRow(q, selectSheet+` AND r.revision = s.revision WHERE s.id = $1`, id))
	if errors.Is(err, sql.ErrNoRows) {
		return one, noSheet(id)
	}
	return one, err
}

func noSheet(id string) error { return kb.Errorf(kb.NotFound, "there is no job sheet %q", id) }

func scanSheet(row scanner) (Sheet, error) {
	var s Sheet
	var body, caseID string
	var changed, created sql.NullInt64
	err := row.Scan(&s.ID, &s.Revision, &body, &caseID, &s.Actor, &changed, &created)
	s.Body, s.CaseID, s.Changed, s.Created = []byte(body), kb.CaseID(caseID), fromMilli(changed), fromMilli(created)
	return s, err
}

func sheets(q querier, where string, args ...any) ([]Sheet, error) {
	var all []Sheet
	err := each(q, func(row scanner) error {
		one, err := scanSheet(row)
		all = append(all, one)
		return err
	}, selectSheet+where, args...)
	return all, err
}

// SheetsOf gives the job sheets that a person is a member of, the last changed first.
func (s *Store) SheetsOf(ctx context.Context, name string) ([]Sheet, error) {
	all, err := sheets(s.view(ctx), ` AND r.revision = s.revision WHERE s.id IN (SELECT sheet FROM sheet_members WHERE name = $1)
		ORDER BY r.at DESC, s.id`, name)
	return all, s.wrap(err)
}

// AllSheets gives every job sheet in order of id, without its body.
func (s *Store) AllSheets(ctx context.Context) ([]Sheet, error) {
	var all []Sheet
	err := each(s.view(ctx), func(row scanner) error {
		var one Sheet
		var caseID string
		var created sql.NullInt64
		err := row.Scan(&one.ID, &one.Revision, &caseID, &created)
		one.CaseID, one.Created = kb.CaseID(caseID), fromMilli(created)
		all = append(all, one)
		return err
	}, `SELECT id, revision, case_id, created FROM sheets ORDER BY id`)
	return all, s.wrap(err)
}

// SheetRevisions gives every revision of a job sheet, oldest first.
func (s *Store) SheetRevisions(ctx context.Context, id string) ([]Sheet, error) {
	all, err := sheets(s.view(ctx), ` WHERE s.id = $1 ORDER BY r.revision`, id)
	if err == nil && len(all) == 0 {
		err = noSheet(id)
	}
	return all, s.wrap(err)
}

// SheetRevision gives one revision of a job sheet.
func (tx *Tx) SheetRevision(id string, revision int64) (Sheet, error) {
	one, err := scanSheet(oneRow(tx, selectSheet+` WHERE s.id = $1 AND r.revision = $2`, id, revision))
	if errors.Is(err, sql.ErrNoRows) {
		return one, kb.Errorf(kb.NotFound, "there is no revision %d of job sheet %q", revision, id)
	}
	return one, tx.s.wrap(err)
}

// AddSheet keeps a new job sheet with its first member.
func (tx *Tx) AddSheet(s Sheet, member string) error {
	err := tx.exec(`INSERT INTO sheets (id, revision, case_id, created) VALUES ($1, 1, '', $2)`, s.ID, s.Changed.UnixMilli())
	if err == nil {
		err = tx.addSheetRevision(s, 1)
	}
	if err == nil {
		err = tx.AddMember(s.ID, member)
	}
	return tx.fail(err)
}

func (tx *Tx) addSheetRevision(s Sheet, revision int64) error {
	return tx.exec(`INSERT INTO sheet_revisions (sheet, revision, at, actor, body) VALUES ($1, $2, $3, $4, $5)`,
		s.ID, revision, s.Changed.UnixMilli(), s.Actor, string(s.Body))
}

// SaveSheet appends a revision to a job sheet, if s.Revision is still its last one, and gives the new number. Otherwise
// it changes nothing and gives Conflict: what somebody else saved meanwhile must be seen first.
func (tx *Tx) SaveSheet(s Sheet) (int64, error) {
	var revision int64
	err := tx.row(`UPDATE sheets SET revision = revision + 1 WHERE id = $1 AND revision = $2 RETURNING revision`, s.ID, s.Revision).Scan(&revision)
	if errors.Is(err, sql.ErrNoRows) {
		if _, err := sheet(tx, s.ID); err != nil {
			return 0, tx.s.wrap(err)
		}
		return 0, kb.Errorf(kb.Conflict, "job sheet %q was changed meanwhile", s.ID)
	}
	if err == nil {
		err = tx.addSheetRevision(s, revision)
	}
	return revision, tx.fail(err)
}

// SubmitSheet notes which case a job sheet became.
func (tx *Tx) SubmitSheet(id string, as kb.CaseID) error {
	return tx.fail(tx.exec(`UPDATE sheets SET case_id = $2 WHERE id = $1`, id, string(as)))
}

// DropSheet deletes a job sheet with all that belongs to it, older revisions too.
func (tx *Tx) DropSheet(id string) error {
	for _, query := range []string{`DELETE FROM sheet_photos WHERE sheet = $1`, `DELETE FROM sheet_notes WHERE sheet = $1`,
		`DELETE FROM sheet_members WHERE sheet = $1`, `DELETE FROM sheet_revisions WHERE sheet = $1`, `DELETE FROM sheets WHERE id = $1`} {
		if err := tx.exec(query, id); err != nil {
			return tx.fail(err)
		}
	}
	return nil
}

// Members lists the members of a job sheet in order of name.
func (s *Store) Members(ctx context.Context, sheet string) ([]string, error) {
	all, err := members(s.view(ctx), sheet)
	return all, s.wrap(err)
}

// Members is Store.Members inside the change.
func (tx *Tx) Members(sheet string) ([]string, error) {
	all, err := members(tx, sheet)
	return all, tx.s.wrap(err)
}

func members(q querier, sheet string) ([]string, error) {
	var all []string
	err := each(q, func(row scanner) error {
		var name string
		err := row.Scan(&name)
		all = append(all, name)
		return err
	}, `SELECT name FROM sheet_members WHERE sheet = $1 ORDER BY name`, sheet)
	return all, err
}

// AddMember makes a person a member of a job sheet; one who is stays one.
func (tx *Tx) AddMember(sheet, name string) error {
	return tx.fail(tx.exec(`INSERT INTO sheet_members (sheet, name) VALUES ($1, $2) ON CONFLICT (sheet, name) DO NOTHING`, sheet, name))
}

// RemoveMember takes a person off a job sheet.
func (tx *Tx) RemoveMember(sheet, name string) error {
	return tx.fail(tx.exec(`DELETE FROM sheet_members WHERE sheet = $1 AND name = $2`, sheet, name))
}

// AddNote appends a remark to a job sheet and gives its number.
func (tx *Tx) AddNote(sheet string, n Note) (int, error) {
	err := tx.row(`SELECT coalesce(max(n), 0) + 1 FROM sheet_notes WHERE sheet = $1`, sheet).Scan(&n.N)
	if err == nil {
		err = tx.exec(`INSERT INTO sheet_notes (sheet, n, at, author, body) VALUES ($1, $2, $3, $4, $5)`, sheet, n.N, n.At.UnixMilli(), n.Author, n.Text)
	}
	return n.N, tx.fail(err)
}

// Notes gives the remarks on a job sheet, oldest first.
func (s *Store) Notes(ctx context.Context, sheet string) ([]Note, error) {
	var all []Note
	err := each(s.view(ctx), func(row scanner) error {
		var n Note
		var at sql.NullInt64
		err := row.Scan(&n.N, &at, &n.Author, &n.Text)
		n.At = fromMilli(at)
		all = append(all, n)
		return err
	}, `SELECT n, at, author, body FROM sheet_notes WHERE sheet = $1 ORDER BY n`, sheet)
	return all, s.wrap(err)
}

// Photos lists the pictures on a job sheet in order, without their bytes.
func (s *Store) Photos(ctx context.Context, sheet string) ([]Photo, error) {
	all, err := photos(s.view(ctx), sheet)
	return all, s.wrap(err)
}

// Photos is Store.Photos inside the change.
func (tx *Tx) Photos(sheet string) ([]Photo, error) {
	all, err := photos(tx, sheet)
	return all, tx.s.wrap(err)
}

func photos(q querier, sheet string) ([]Photo, error) {
	var all []Photo
	err := each(q, func(row scanner) error {
		var p Photo
		var at sql.NullInt64
		err := row.Scan(&p.N, &at, &p.Author, &p.Caption, &p.Width, &p.Height)
		p.At = fromMilli(at)
		all = append(all, p)
		return err
	}, `SELECT n, at, author, caption, width, height FROM sheet_photos WHERE sheet = $1 AND width > 0 ORDER BY n`, sheet)
	return all, err
}

// Photo gives one picture with its bytes.
func (s *Store) Photo(ctx context.Context, sheet string, n int) (Photo, error) {
	var p Photo
	var at sql.NullInt64
	err := oneRow(s.view(ctx), `SELECT n, at, author, caption, width, height, picture, small FROM sheet_photos
		WHERE sheet = $1 AND n = $2 AND width > 0`, sheet, n).
		Scan(&p.N, &at, &p.Author, &p.Caption, &p.Width, &p.Height, &p.Picture, &p.Small)
	if errors.Is(err, sql.ErrNoRows) {
		return p, kb.Errorf(kb.NotFound, "there is no photo %d on this job sheet", n)
	}
	p.At = fromMilli(at)
	return p, s.wrap(err)
}

// AddPhoto adds a picture to a job sheet and gives its number.
func (tx *Tx) AddPhoto(sheet string, p Photo) (int, error) {
	err := tx.row(`SELECT coalesce(max(n), 0) + 1 FROM sheet_photos WHERE sheet = $1`, sheet).Scan(&p.N)
	if err == nil {
		err = tx.exec(`INSERT INTO sheet_photos (sheet, n, at, author, caption, width, height, picture, small) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
			sheet, p.N, p.At.UnixMilli(), p.Author, p.Caption, p.Width, p.Height, p.Picture, p.Small)
	}
	return p.N, tx.fail(err)
}

// DropPhoto deletes a picture. Its number stays taken, so that an address of it never shows another one.
func (tx *Tx) DropPhoto(sheet string, n int) error {
	var one int
	err := tx.row(`UPDATE sheet_photos SET width = 0, height = 0, caption = '', picture = $3, small = $3 WHERE sheet = $1 AND n = $2 AND width > 0
		RETURNING n`, sheet, n, []byte{}).Scan(&one)
	if errors.Is(err, sql.ErrNoRows) {
		return kb.Errorf(kb.NotFound, "there is no photo %d on this job sheet", n)
	}
	return tx.fail(err)
}
