package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"time"

	"ruledout/kb"
)

// manifest is the body of a revision of a write-up: everything but the texts, which are records of their own.
type manifest struct {
	Kind    string         `json:"kind"`
	Title   string         `json:"title"`
	URL     string         `json:"url"`
	Site    string         `json:"site"`
	Licence string         `json:"licence"`
	File    string         `json:"file"`
	Posted  *int64         `json:"posted"`
	Posts   []manifestPost `json:"posts"`
}

// manifestPost names one version of a post: the one written at the position.
type manifestPost struct {
	Pos  int64  `json:"pos"`
	Hash string `json:"hash"`
	Page int    `json:"page,omitempty"`
}

// PutWriteup stores a write-up with its masked texts. The same content again is no change: then changed is false and pos
// that of the current version. Of a changed write-up only the posts that differ are written anew.
func (tx *Tx) PutWriteup(w Writeup, at time.Time, actor string) (changed bool, pos int64, err error) {
	next, err := newManifest(w)
	if err != nil {
		return false, 0, err
	}
	if at.IsZero() || actor == "" {
		return false, 0, kb.Errorf(kb.Internal, "a write-up needs an actor and a time")
	}
	old, oldPos, err := currentManifest(tx, w.Key)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return false, 0, tx.s.wrap(err)
	}
	next.keep(old, tx.pos+1)
	if oldPos > 0 && next.same(old) {
		return false, oldPos, nil
	}
	verb := "change"
	if oldPos == 0 {
		verb = "add"
	}
	r := Revision{Kind: EntryWriteup, ID: string(w.Key), Verb: verb, At: toMilli(at), Actor: actor}
	if err := tx.writeWriteup(w, next, &r); err != nil {
		return false, 0, tx.fail(err)
	}
	return true, r.Pos, nil
}

func newManifest(w Writeup) (manifest, error) {
	if w.Key == "" {
		return manifest{}, kb.Errorf(kb.Internal, "a write-up needs a key")
	}
	m := manifest{Kind: w.Kind, Title: w.Title, URL: w.URL, Site: w.Site, Licence: w.Licence, File: w.File, Posts: []manifestPost{}}
	if posted := milli(w.Posted); posted.Valid {
		m.Posted = &posted.Int64
	}
	for i, p := range w.Posts {
		if p.N != i+1 {
			return manifest{}, kb.Errorf(kb.Internal, "post %d of write-up %s is numbered %d", i+1, w.Key, p.N)
		}
		if len(p.Regions) > 0 && !json.Valid(p.Regions) {
			return manifest{}, kb.Errorf(kb.Internal, "the regions of post %d of write-up %s are no JSON", p.N, w.Key)
		}
		m.Posts = append(m.Posts, manifestPost{Hash: p.hash(), Page: p.Page})
	}
	return m, nil
}

// keep points to the versions of the old manifest where a post did not change, and to pos elsewhere.
func (m *manifest) keep(old manifest, pos int64) {
	for i := range m.Posts {
		m.Posts[i].Pos = pos
		if i < len(old.Posts) && old.Posts[i].Hash == m.Posts[i].Hash {
			m.Posts[i].Pos = old.Posts[i].Pos
		}
	}
}

// same tells whether two manifests describe one content; the file that it was read from is no part of it.
func (m manifest) same(old manifest) bool {
	m.File, old.File = "", ""
	a, errA := json.Marshal(m)
	b, errB := json.Marshal(old)
	return errA == nil && errB == nil && bytes.Equal(a, b)
}

// hash is over everything of a post but its number, page and version.
func (p Post) hash() string {
	h := sha256.New()
	at := milli(p.Time)
	for _, part := range []string{p.Author, fmt.Sprint(at.Valid, at.Int64), p.Text, string(p.Regions)} {
		fmt.Fprintf(h, "%d:%s", len(part), part)
	}
	return hex.EncodeToString(h.Sum(nil))
}

func currentManifest(q querier, key kb.WriteupKey) (m manifest, pos int64, err error) {
	var body string
	err = oneRow(q, `SELECT w.pos, r.body FROM writeups w JOIN revisions r ON r.pos = w.pos WHERE w.writeup = $1`, string(key)).Scan(&pos, &body)
	if err != nil {
		return m, 0, err
	}
	if err := json.Unmarshal([]byte(body), &m); err != nil {
		return m, 0, kb.Errorf(kb.Internal, "revision %d holds no readable write-up: %w", pos, err)
	}
	return m, pos, nil
}

func (tx *Tx) writeWriteup(w Writeup, m manifest, r *Revision) error {
	var err error
	if r.Body, err = json.Marshal(m); err != nil {
		return err
	}
	if err := tx.add(r); err != nil {
		return err
	}
	for i, p := range w.Posts {
		if m.Posts[i].Pos != r.Pos {
			continue
		}
		err := tx.exec(`INSERT INTO posts (writeup, n, pos, author, at, body, regions, hash) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
			r.ID, p.N, r.Pos, p.Author, milli(p.Time), p.Text, string(p.Regions), m.Posts[i].Hash)
		if err != nil {
			return err
		}
	}
	return tx.exec(`INSERT INTO writeups (writeup, pos, kind, title, url, site, licence, file, posted, post_count)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
		ON CONFLICT (writeup) DO UPDATE SET pos = excluded.pos, kind = excluded.kind, title = excluded.title, url = excluded.url,
		site = excluded.site, licence = excluded.licence, file = excluded.file, posted = excluded.posted, post_count = excluded.post_count`,
		r.ID, r.Pos, m.Kind, m.Title, m.URL, m.Site, m.Licence, m.File, m.Posted, len(m.Posts))
}

const selectWriteup = `SELECT writeup, pos, kind, title, url, site, licence, file, posted, post_count FROM writeups`

const selectPosts = `SELECT p.n, p.pos, p.author, p.at, p.body, p.regions FROM posts p`

// Writeup gives a write-up as it stands, with its posts.
func (s *Store) Writeup(ctx context.Context, key kb.WriteupKey) (Writeup, error) {
	w, err := writeup(s.view(ctx), key)
	return w, s.wrap(err)
}

// Writeup is Store.Writeup inside the change.
func (tx *Tx) Writeup(key kb.WriteupKey) (Writeup, error) {
	w, err := writeup(tx, key)
	return w, tx.s.wrap(err)
}

func writeup(q querier, key kb.WriteupKey) (Writeup, error) {
	w, count, err := scanWriteup(oneRow(q, selectWriteup+` WHERE writeup = $1`, string(key)))
	if errors.Is(err, sql.ErrNoRows) {
		return w, kb.Errorf(kb.NotFound, "there is no write-up %s", key)
	}
	if err != nil {
		return w, err
	}
	err = each(q, func(row scanner) error {
		p, err := scanPost(row)
		w.Posts = append(w.Posts, p)
		return err
	}, selectPosts+` WHERE p.writeup = $1 AND p.n <= $2
		AND p.pos = (SELECT max(v.pos) FROM posts v WHERE v.writeup = p.writeup AND v.n = p.n AND v.pos <= $3) ORDER BY p.n`, string(key), count, w.Pos)
	if err != nil {
		return w, err
	}
	m, _, err := currentManifest(q, key)
	for i := range w.Posts {
		if i < len(m.Posts) {
			w.Posts[i].Page = m.Posts[i].Page
		}
	}
	return w, err
}

// Titled gives the keys of the write-ups with a title, in order, at most limit. It is asked inside the change, since what is
// already there decides whether a write-up without an address is a new one.
func (tx *Tx) Titled(title string, limit int) ([]kb.WriteupKey, error) {
	var keys []kb.WriteupKey
	err := each(tx, func(row scanner) error {
		var key string
		err := row.Scan(&key)
		keys = append(keys, kb.WriteupKey(key))
		return err
	}, `SELECT writeup FROM writeups WHERE title = $1 ORDER BY writeup LIMIT $2`, title, limit)
	return keys, tx.s.wrap(err)
}

// Writeups gives the write-ups in order of key, without their posts.
func (s *Store) Writeups(ctx context.Context) iter.Seq2[Writeup, error] {
	return func(yield func(Writeup, error) bool) {
		rows, err := s.view(ctx).query(selectWriteup + ` ORDER BY writeup`)
		if err != nil {
			yield(Writeup{}, s.wrap(err))
			return
		}
		defer rows.Close()
		for rows.Next() {
			w, _, err := scanWriteup(rows)
			if !yield(w, s.wrap(err)) || err != nil {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(Writeup{}, s.wrap(err))
		}
	}
}

// Post gives the newest version of one post of a write-up, even if the write-up no longer has it.
func (s *Store) Post(ctx context.Context, key kb.WriteupKey, n int) (Post, error) {
	return s.PostAt(ctx, key, n, 1<<62)
}

// PostAt gives a post as it stood at a position of the log.
func (s *Store) PostAt(ctx context.Context, key kb.WriteupKey, n int, pos int64) (Post, error) {
	p, err := scanPost(oneRow(s.view(ctx), selectPosts+` WHERE p.writeup = $1 AND p.n = $2 AND p.pos <= $3 ORDER BY p.pos DESC LIMIT 1`,
		string(key), n, pos))
	if errors.Is(err, sql.ErrNoRows) {
		return p, kb.Errorf(kb.NotFound, "there is no post %d of write-up %s", n, key)
	}
	return p, s.wrap(err)
}

// EvidencePost gives the version of a post that a span was read from: the newest one that holds the quoted words at the
// offsets. If none does the error is NotFound.
func (s *Store) EvidencePost(ctx context.Context, ev kb.Evidence) (Post, error) {
	p, err := evidencePost(s.view(ctx), ev)
	return p, s.wrap(err)
}

func evidencePost(q querier, ev kb.Evidence) (Post, error) {
	rows, err := q.query(selectPosts+` WHERE p.writeup = $1 AND p.n = $2 ORDER BY p.pos DESC`, string(ev.Writeup), ev.Post)
	if err != nil {
		return Post{}, err
	}
	defer rows.Close()
	for rows.Next() {
		p, err := scanPost(rows)
		if err != nil || p.holds(ev) {
			return p, err
		}
	}
	if err := rows.Err(); err != nil {
		return Post{}, err
	}
	return Post{}, kb.Errorf(kb.NotFound, "no version of post %d of write-up %s holds %q at %d", ev.Post, ev.Writeup, ev.Quote, ev.Start)
}

func (p Post) holds(ev kb.Evidence) bool {
	return ev.Start >= 0 && ev.Start <= ev.End && ev.End <= len(p.Text) && p.Text[ev.Start:ev.End] == ev.Quote
}

func scanWriteup(row scanner) (w Writeup, posts int, err error) {
	var key string
	var posted sql.NullInt64
	err = row.Scan(&key, &w.Pos, &w.Kind, &w.Title, &w.URL, &w.Site, &w.Licence, &w.File, &posted, &posts)
	w.Key, w.Posted = kb.WriteupKey(key), fromMilli(posted)
	return w, posts, err
}

func scanPost(row scanner) (Post, error) {
	var p Post
	var at sql.NullInt64
	var regions string
	err := row.Scan(&p.N, &p.Pos, &p.Author, &at, &p.Text, &regions)
	p.Time = fromMilli(at)
	if regions != "" {
		p.Regions = json.RawMessage(regions)
	}
	return p, err
}
