package ingest

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"time"
)

// draft is a write-up as a reader found it: nothing is masked, dates are as written.
type draft struct {
	kind     Kind
	title    string
	url      string
	site     string
	licence  string
	language string
	rowID    string // of a table's row: identity within the table
	posts    []draftPost
	pager    pager
	inOrder  bool // the order of posts is final
}

type draftPost struct {
	author string
	when   stamp
	at     time.Time // known without doubt; else when is resolved with the thread
	body   passage
}

// finish turns drafts into threads: dates are placed, quotes in running text found, personal data masked, keys made.
func finish(f File, drafts []*draft, opt Options) ([]Thread, error) {
	var threads []Thread
	posts := 0
	for _, d := range drafts {
		d.settle()
		if posts += len(d.posts); posts > opt.MaxPosts {
			return nil, failure(f, 0, "too many posts: the limit is %d", opt.MaxPosts)
		}
		if len(d.posts) > 0 {
			threads = append(threads, d.thread(f, opt))
		}
	}
	if len(threads) == 0 {
		return nil, failure(f, 0, "no readable text in it")
	}
	return threads, nil
}

// settle drops posts without text, places the dates and puts the posts in the order in which they were written.
func (d *draft) settle() {
	d.posts = slices.DeleteFunc(d.posts, func(p draftPost) bool { return strings.TrimSpace(p.body.text) == "" })
	stamps := make([]stamp, len(d.posts))
	for i, p := range d.posts {
		stamps[i] = p.when
	}
	allTimed := true
	for i, t := range resolve(stamps) {
		if d.posts[i].at.IsZero() {
			d.posts[i].at = t
		}
		allTimed = allTimed && !d.posts[i].at.IsZero()
	}
	if allTimed && !d.inOrder {
		slices.SortStableFunc(d.posts, func(a, b draftPost) int { return a.at.Compare(b.at) })
	}
	if d.kind != KindRow {
		d.kind = KindArticle
		if len(d.posts) > 1 {
			d.kind = KindThread
		}
		markQuotes(d.posts)
	}
}

func (d *draft) thread(f File, opt Options) Thread {
	title, onPage := bareTitle(visible(d.title))
	if d.pager.page == 0 && onPage > 0 {
		d.pager = pager{onPage, max(d.pager.pages, onPage)}
	}
	t := Thread{Kind: d.kind, Page: d.pager.page, Pages: d.pager.pages, URL: maskAddress(canonicalURL(cmp.Or(d.url, opt.URL))), Site: visible(d.site), Licence: visible(cmp.Or(d.licence, opt.Licence)),
		Language: visible(d.language), File: f.Name}
	m := newMasker(title, d.posts)
	t.Title = m.line(title)
	t.Site = m.line(t.Site)
	t.Posts = make([]Post, len(d.posts))
	each(len(d.posts), func(i int) {
		p := d.posts[i]
		latest := 0
		if !p.at.IsZero() {
			latest = p.at.Year() + 1
		}
		body := m.passage(p.body, latest)
		t.Posts[i] = Post{N: i + 1, Author: m.author(p.author), Time: p.at.UTC(), Text: body.text, Page: t.Page, Regions: body.regions}
	})
	t.Key = d.key(t)
	return t
}

// key identifies the write-up: see design section 4.
func (d *draft) key(t Thread) string {
	if d.kind == KindRow {
		return "row:" + d.rowID
	}
	if t.URL != "" {
		return t.URL
	}
	first := t.Posts[0]
	posted := ""
	if !first.Time.IsZero() {
		posted = first.Time.UTC().Format(time.RFC3339)
	}
	return strings.Join([]string{"post", first.Author, posted, shortHash(first.Text)}, ":")
}

func shortHash(s string) string {
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:8])
}
