package casebook

import (
	"context"
	"encoding/json"
	"fmt"

	"ruledout/ingest"
	"ruledout/internal/store"
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

	Regions []ingest.Region `json:"-"` // what is quoted, an item, a row of a table ...
}

// Texts gives the write-ups of a case. Where a source carries no licence, readers see facts, a link and short quotes: its posts are left out,
// except for moderators.
func (b *Book) Texts(ctx context.Context, by Actor, c kb.Case) ([]SourceText, error) {
	return b.texts(ctx, c, by.Role >= Moderator)
}

func (b *Book) texts(ctx context.Context, c kb.Case, all bool) ([]SourceText, error) {
	var out []SourceText
	for _, s := range c.Sources {
		t := SourceText{Source: s}
		w, err := b.store.Writeup(ctx, s.Writeup)
		switch {
		case kb.KindOf(err) == kb.NotFound:
		case err != nil:
			return nil, fmt.Errorf("texts: %w", err)
		case s.Licence != "" || all:
			if t.Posts, err = sourcePosts(w.Posts); err != nil {
				return nil, fmt.Errorf("texts: %w", err)
			}
		}
		out = append(out, t)
	}
	return out, nil
}

func sourcePosts(kept []store.Post) ([]SourcePost, error) {
	var out []SourcePost
	for _, p := range kept {
		x := SourcePost{N: p.N, Author: p.Author, Text: p.Text}
		if !p.Time.IsZero() {
			x.Date = p.Time.UTC().Format("2006-01-02")
		}
		if len(p.Regions) > 0 {
			if err := json.Unmarshal(p.Regions, &x.Regions); err != nil {
				return nil, kb.Errorf(kb.Internal, "post %d holds no readable regions: %w", p.N, err)
			}
		}
		out = append(out, x)
	}
	return out, nil
}
