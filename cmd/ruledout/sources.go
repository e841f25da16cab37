package main

import (
	"bytes"
	"context"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"strings"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/kb"
)

// source is one thing to read: a file, an archive, or why something is not read.
type source struct {
	name string   // as it is shown
	root *os.Root // the folder it was found in, nil for what was named itself
	path string
	err  error
}

// sources are the write-ups that were named, found and not yet opened.
type sources struct {
	app       *app
	list      []source
	roots     []*os.Root
	keepGoing bool
}

// sourcesOf lists what is to be read: each name as it is, and of a folder everything readable in it. Links are followed as long as
// they stay in the folder; what is no file is passed over.
func (a *app) sourcesOf(names []string) (*sources, error) {
	s := &sources{app: a}
	for _, name := range names {
		if name == "-" {
			s.list = append(s.list, source{name: "standard input", path: name})
			continue
		}
		info, err := os.Stat(name)
		if err == nil && info.IsDir() {
			err = s.addFolder(name)
		} else if err == nil {
			s.list = append(s.list, source{name: name, path: name})
		}
		if err != nil {
			s.close()
			return nil, kb.Errorf(kb.Invalid, "%w", err)
		}
	}
	for _, one := range s.list {
		var over *ingest.Skipped
		if !asSkipped(one.err, &over) {
			return s, nil
		}
	}
	s.close()
	return nil, &kb.Error{Kind: kb.Invalid, File: strings.Join(names, ", "), Msg: "there is no write-up in it (looked for .md .html .txt .mbox .csv .zip and the like)"}
}

func (s *sources) addFolder(dir string) error {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return err
	}
	s.roots = append(s.roots, root)
	others := ingest.Others{}
	err = fs.WalkDir(root.FS(), ".", func(path string, d fs.DirEntry, err error) error {
		one := source{name: filepath.Join(dir, filepath.FromSlash(path)), root: root, path: path}
		switch {
		case err != nil:
			one.err = &kb.Error{Kind: kb.Invalid, File: one.name, Msg: "cannot be read", Err: err}
			s.list = append(s.list, one)
			return fs.SkipDir
		case path != "." && ingest.Hidden(path):
			if d.IsDir() {
				return fs.SkipDir
			}
			return nil
		case d.IsDir():
			return nil
		case !ingest.Readable(path) && !isZip(path) && d.Type().IsRegular():
			others.Add(path)
			return nil
		}
		if why := oddFile(root, path, d); why != "" {
			one.err = &ingest.Skipped{Name: one.name, Why: why}
		}
		s.list = append(s.list, one)
		return nil
	})
	if over := others.Skipped(dir); over != nil && err == nil {
		s.list = append(s.list, source{name: dir, err: over})
	}
	return err
}

// oddFile says why something in a folder is not read although its name would do; empty if it is an ordinary file.
func oddFile(root *os.Root, path string, d fs.DirEntry) string {
	kind := d.Type()
	if kind&fs.ModeSymlink != 0 {
		info, err := root.Stat(path)
		if err != nil {
			return "a link that leads out of the folder or nowhere"
		}
		if info.IsDir() {
			return "a link to a folder"
		}
		if kind = info.Mode().Type(); kind.IsRegular() && !ingest.Readable(path) && !isZip(path) {
			return "a link to something else than a write-up"
		}
	}
	switch {
	case kind&fs.ModeNamedPipe != 0:
		return "a pipe, no file"
	case kind&fs.ModeSocket != 0:
		return "a socket, no file"
	case !kind.IsRegular():
		return "a device, no file"
	}
	return ""
}

func isZip(path string) bool { return strings.EqualFold(filepath.Ext(path), ".zip") }

func (s *sources) close() {
	for _, r := range s.roots {
		r.Close()
	}
}

// total is the number of files for progress, 0 if an archive makes it unknown.
func (s *sources) total() int {
	for _, one := range s.list {
		if isZip(one.path) {
			return 0
		}
	}
	return len(s.list)
}

// files opens and reads the sources one by one.
func (s *sources) files(ctx context.Context, opt ingest.Options) iter.Seq2[ingest.File, error] {
	return func(yield func(ingest.File, error) bool) {
		for _, one := range s.list {
			if one.err != nil {
				if !yield(ingest.File{Name: one.name}, one.err) {
					return
				}
				continue
			}
			if !s.read(ctx, one, opt, yield) {
				return
			}
		}
	}
}

// read reads one file, but never more of it than a reader of write-ups would take; of an archive it goes through the files inside.
func (s *sources) read(ctx context.Context, one source, opt ingest.Options, yield func(ingest.File, error) bool) bool {
	f, err := s.open(one)
	if err != nil {
		return yield(ingest.File{Name: one.name}, &kb.Error{Kind: kb.Invalid, File: one.name, Msg: "cannot be read", Err: err})
	}
	defer f.Close()
	head := make([]byte, 4)
	n, _ := io.ReadFull(f, head) // a short file is read again below
	in := io.MultiReader(bytes.NewReader(head[:n]), f)
	if file, ok := f.(*os.File); ok && ingest.IsArchive(head[:n]) {
		if info, err := file.Stat(); err == nil && info.Mode().IsRegular() {
			return s.archive(ctx, one.name, file, info.Size(), opt, yield)
		}
	}
	data, err := io.ReadAll(io.LimitReader(in, ingest.DefaultMaxBytes+1))
	if err != nil {
		err = &kb.Error{Kind: kb.Invalid, File: one.name, Msg: "cannot be read", Err: err}
	}
	if err == nil && ingest.IsArchive(data) && len(data) <= ingest.DefaultMaxBytes {
		return s.archive(ctx, one.name, bytes.NewReader(data), int64(len(data)), opt, yield)
	}
	return yield(ingest.File{Name: one.name, Data: data}, err)
}

func (s *sources) open(one source) (io.ReadCloser, error) {
	switch {
	case one.path == "-":
		return io.NopCloser(s.app.stdin), nil
	case one.root != nil:
		return one.root.Open(one.path)
	}
	return os.Open(one.path)
}

// archive reads what an archive holds. It goes in whole or not at all, unless the rest was asked for.
func (s *sources) archive(ctx context.Context, name string, r io.ReaderAt, size int64, opt ingest.Options, yield func(ingest.File, error) bool) bool {
	inside := ingest.Unpack(name, r, size, opt)
	if !s.keepGoing {
		bad, err := casebook.Check(ctx, inside, opt)
		for _, b := range bad {
			if !yield(ingest.File{Name: b.File}, b.Err) {
				return false
			}
		}
		if err == nil && len(bad) > 0 {
			err = &kb.Error{Kind: kb.Invalid, File: name, Msg: "nothing of it was taken in; --keep-going takes in the rest"}
		}
		if err != nil {
			return yield(ingest.File{Name: name}, err)
		}
	}
	for f, err := range inside {
		if !yield(f, err) {
			return false
		}
	}
	return true
}
