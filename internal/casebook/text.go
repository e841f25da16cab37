package casebook

import (
	"context"
	"fmt"

	"ruledout/kb"
)

// SourceText is the masked text of a write-up that a case was read from.
type SourceText struct {
	kb.Source
	Posts []SourcePost `json:"posts"` // none where the licence does not let readers see it
}

// SourcePost is one post with its text as it is stored; evidence points into it.
type SourcePost struct {
	N      int    `json:"n"`
	Author string `json:"author"`
	Date   string `json:"date,omitempty"` // ISO 8601
	Text   string `json:"text"`
}

// Texts gives the write-ups of a case. Where a source carries no licence, readers see facts, a link and short quotes: its posts are left out.
func (b *Book) Texts(ctx context.Context, c kb.Case) ([]SourceText, error) {
	var out []SourceText
	for _, s := range c.Sources {
		t := SourceText{Source: s}
		w, err := b.store.Writeup(ctx, s.Writeup)
		switch {
		case kb.KindOf(err) == kb.NotFound:
		case err != nil:
			return nil, fmt.Errorf("texts: %w", err)
		case s.Licence != "":
			for _, p := range w.Posts {
				date := ""
				if !p.Time.IsZero() {
					date = p.Time.UTC().Format("2006-01-02")
				}
				t.Posts = append(t.Posts, SourcePost{N: p.N, Author: p.Author, Date: date, Text: p.Text})
			}
		}
		out = append(out, t)
	}
	return out, nil
}
