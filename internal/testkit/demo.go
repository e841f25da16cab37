package testkit

import (
	"context"
	"io/fs"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/internal/demo"
)

// DemoBook makes a book of the demo's write-ups in a folder, everything published.
func DemoBook(ctx context.Context, dir string) (*casebook.Book, error) {
	b, err := casebook.Open(ctx, casebook.Options{Dir: dir})
	if err != nil {
		return nil, err
	}
	files := demo.Files()
	names, err := fs.Glob(files, "*")
	if err != nil {
		return nil, err
	}
	all := func(yield func(ingest.File, error) bool) {
		for _, name := range names {
			data, err := fs.ReadFile(files, name)
			if !yield(ingest.File{Name: name, Data: data}, err) {
				return
			}
		}
	}
	err = b.Add(ctx, casebook.Actor{Name: "demo", Role: casebook.Moderator}, all, casebook.AddOptions{Accept: true}, func(r casebook.FileReport) error { return r.Err })
	return b, err
}
