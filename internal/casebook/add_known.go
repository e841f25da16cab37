package casebook

import (
	"encoding/json"
	"reflect"

	"ruledout/ingest"
	"ruledout/internal/store"
	"ruledout/kb"
)

// maxTitled bounds the write-ups of one title that a new one is compared with.
const maxTitled = 50

// joined gives a thread with the posts of it that the book has, and its drafts. A case is read from all posts of its thread, so
// that a page which is added alone is read with those that came before.
func (b *Book) joined(tx *store.Tx, t ingest.Thread, drafts []kb.Case) (ingest.Thread, []kb.Case, error) {
	known, err := knownThread(tx, t)
	if err != nil || known.Key == "" {
		return t, drafts, err
	}
	whole := ingest.Join(known, t)
	if reflect.DeepEqual(whole, t) {
		return t, drafts, nil
	}
	return whole, draftsOf(whole, b.Reader()), nil
}

// knownThread gives what the book has of a thread: under its key, or under another one where its title and posts leave no doubt that
// it is the same. A thread without a key is none.
func knownThread(tx *store.Tx, t ingest.Thread) (ingest.Thread, error) {
	w, err := tx.Writeup(kb.WriteupKey(t.Key))
	if err == nil {
		return threadOf(w)
	}
	if kb.KindOf(err) != kb.NotFound || t.Kind == ingest.KindRow || t.Title == "" {
		return ingest.Thread{}, noneThere(err)
	}
	keys, err := tx.Titled(t.Title, maxTitled)
	if err != nil {
		return ingest.Thread{}, err
	}
	var found ingest.Thread
	for _, key := range keys {
		w, err := tx.Writeup(key)
		if err != nil {
			return ingest.Thread{}, err
		}
		other, err := threadOf(w)
		if err != nil {
			return ingest.Thread{}, err
		}
		if !ingest.SameThread(other, t) {
			continue
		}
		if found.Key != "" {
			return ingest.Thread{}, nil // it could be either: it stays on its own
		}
		found = other
	}
	return found, nil
}

// noneThere lets pass that something is not there.
func noneThere(err error) error {
	if kb.KindOf(err) == kb.NotFound {
		return nil
	}
	return err
}

// threadOf gives a kept write-up the form in which it was read.
func threadOf(w store.Writeup) (ingest.Thread, error) {
	t := ingest.Thread{Key: string(w.Key), Kind: ingest.Kind(w.Kind), Title: w.Title, URL: w.URL, Site: w.Site, Licence: w.Licence, File: w.File}
	for _, p := range w.Posts {
		post := ingest.Post{N: p.N, Author: p.Author, Time: p.Time, Text: p.Text, Page: p.Page}
		if len(p.Regions) > 0 {
			if err := json.Unmarshal(p.Regions, &post.Regions); err != nil {
				return t, kb.Errorf(kb.Internal, "the regions of post %d of write-up %s cannot be read: %w", p.N, w.Key, err)
			}
		}
		if p.Page > 0 && (t.Page == 0 || p.Page < t.Page) {
			t.Page = p.Page
		}
		t.Posts = append(t.Posts, post)
	}
	return t, nil
}
