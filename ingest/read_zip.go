package ingest

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"iter"
	"maps"
	"path"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"ruledout/kb"
)

// Limits of an archive: generous for a collection of saved pages, small enough that one made to swell is refused.
const (
	DefaultMaxEntries  = 20_000  // files in one archive
	DefaultMaxUnpacked = 1 << 30 // bytes of all files of one archive
	maxDirectory       = 16 << 20
	maxRatio           = 200     // of unpacked to packed size: text packs to a tenth, seldom to a fiftieth
	ratioCounts        = 1 << 20 // bytes from which the ratio is looked at
)

// readable are the endings of the files that are taken from a folder or an archive.
var readable = []string{".md", ".markdown", ".mdown", ".html", ".htm", ".xhtml", ".txt", ".mbox", ".mbx", ".eml", ".csv", ".tsv"}

// Readable tells whether a file in a folder or an archive is taken for a write-up, by the ending of its name; hidden ones are not.
func Readable(name string) bool {
	return slices.Contains(readable, strings.ToLower(path.Ext(name))) && !Hidden(name)
}

// Hidden tells whether a file, or a folder above it, is one that its system does not show: a name with a dot in front, and what one
// system adds to its archives.
func Hidden(name string) bool {
	for part := range strings.SplitSeq(name, "/") {
		if strings.HasPrefix(part, ".") && part != "." && part != ".." || part == "__MACOSX" {
			return true
		}
	}
	return false
}

// IsArchive tells whether data begins as a ZIP archive does.
func IsArchive(head []byte) bool {
	return bytes.HasPrefix(head, []byte("PK\x03\x04")) || bytes.HasPrefix(head, []byte("PK\x05\x06"))
}

// Skipped says that a file was passed over, and why. It is no fault of the input.
type Skipped struct {
	Name string
	Why  string
}

// Error gives name and reason.
func (s *Skipped) Error() string { return s.Name + ": passed over: " + s.Why }

// Others collects the endings of files that are no write-ups.
type Others map[string]int

// Add counts a file.
func (o Others) Add(name string) {
	ending := strings.ToLower(path.Ext(name))
	if ending == "" {
		ending = "no ending"
	}
	o[ending]++
}

// Skipped says how many files of which endings were passed over, nil if none.
func (o Others) Skipped(name string) error {
	if len(o) == 0 {
		return nil
	}
	var parts []string
	for _, ending := range slices.Sorted(maps.Keys(o)) {
		parts = append(parts, fmt.Sprintf("%d %s", o[ending], ending))
	}
	const most = 8
	if len(parts) > most {
		parts = append(parts[:most], "others")
	}
	return &Skipped{Name: name, Why: "no write-ups by their names: " + strings.Join(parts, ", ")}
}

// Unpack gives the write-ups of a ZIP archive one by one, each unpacked when it is asked for. A file is named "ARCHIVE:PATH"; the path
// is a label only and nothing is ever written. What cannot be read comes as an error, what is passed over as a *Skipped; of an
// archive that breaks a limit the rest is not read. An archive inside an archive is refused.
func Unpack(name string, r io.ReaderAt, size int64, opt Options) iter.Seq2[File, error] {
	opt = opt.withDefaults()
	return func(yield func(File, error) bool) {
		fail := func(format string, args ...any) {
			yield(File{Name: name}, failure(File{Name: name}, 0, format, args...))
		}
		dir := &limitedAt{r: r, left: maxDirectory}
		z, err := zip.NewReader(dir, size)
		if errors.Is(err, errTooMuch) || err == nil && len(z.File) > opt.MaxEntries {
			fail("too many files in it: the limit is %d", opt.MaxEntries)
			return
		}
		if err != nil && !errors.Is(err, zip.ErrInsecurePath) {
			fail("broken archive: %v", err)
			return
		}
		dir.left = -1
		u := unpacker{archive: name, opt: opt, left: opt.MaxUnpacked, seen: map[string]int{}, others: Others{}}
		for _, entry := range z.File {
			f, err, wanted := u.next(entry)
			if wanted && !yield(f, err) {
				return
			}
			if u.left < 0 {
				fail("unpacks to more than %d bytes; the rest was not read", opt.MaxUnpacked)
				return
			}
		}
		if err := u.others.Skipped(name); err != nil {
			yield(File{Name: name}, err)
		}
	}
}

// unpacker goes through the files of one archive.
type unpacker struct {
	archive string
	opt     Options
	left    int64 // bytes that may still be unpacked
	seen    map[string]int
	others  Others
}

// next reads one file of the archive; wanted is false for what is no write-up by its name.
func (u *unpacker) next(entry *zip.File) (f File, err error, wanted bool) {
	inside := entryName(entry)
	if entry.FileInfo().IsDir() || strings.HasSuffix(entry.Name, `\`) || Hidden(inside) {
		return f, nil, false
	}
	f.Name = u.archive + ":" + inside
	if u.seen[inside]++; u.seen[inside] > 1 {
		f.Name = fmt.Sprintf("%s (%d)", f.Name, u.seen[inside])
	}
	switch ending := strings.ToLower(path.Ext(inside)); {
	case !entry.Mode().IsRegular():
		return f, &Skipped{Name: f.Name, Why: "a link or a device, no file"}, true
	case ending == ".zip":
		return f, failure(f, 0, "an archive inside an archive is not opened: unpack it and add what it holds"), true
	case !Readable(inside):
		u.others.Add(inside)
		return f, nil, false
	case entry.Flags&1 != 0:
		return f, failure(f, 0, "encrypted: unpack it with its password and add what it holds"), true
	}
	f.Data, err = u.read(f, entry)
	return f, err, true
}

// read unpacks one file within its limits, whatever size the archive claims for it.
func (u *unpacker) read(f File, entry *zip.File) ([]byte, error) {
	limit := min(u.opt.MaxBytes, max(ratioCounts, int64(min(entry.CompressedSize64, 1<<40))*maxRatio), u.left)
	r, err := entry.Open()
	if errors.Is(err, zip.ErrAlgorithm) {
		return nil, failure(f, 0, "packed by a method that is not known (number %d)", entry.Method)
	}
	if err != nil {
		return nil, failure(f, 0, "broken in the archive: %v", err)
	}
	defer r.Close()
	data, err := io.ReadAll(io.LimitReader(r, limit+1))
	u.left -= int64(len(data))
	switch {
	case int64(len(data)) <= limit && err != nil:
		return nil, failure(f, 0, "broken in the archive: %v", err)
	case int64(len(data)) <= limit:
		return data, nil
	case limit == u.opt.MaxBytes:
		return nil, failure(f, 0, "too big: more than %d bytes", limit)
	case u.left >= 0:
		return nil, failure(f, 0, "unpacks to more than %d times its size: refused", maxRatio)
	}
	return nil, failure(f, 0, "not read: the archive unpacks to too much")
}

var driveLetter = regexp.MustCompile(`^[A-Za-z]:`)

// entryName is the path of a file inside its archive, as it is shown: no root, no way up, no backslashes, nothing invisible. Names that
// are not marked as UTF-8 are read as code page 437 unless they are UTF-8 all the same (APPNOTE of the format, appendix D).
func entryName(entry *zip.File) string {
	name := entry.Name
	if entry.NonUTF8 && !utf8.ValidString(name) {
		if decoded, err := charmap.CodePage437.NewDecoder().String(name); err == nil {
			name = decoded
		}
	}
	name = driveLetter.ReplaceAllString(strings.ReplaceAll(name, `\`, "/"), "")
	name = visible(strings.TrimPrefix(path.Clean("/"+name), "/"))
	if name == "" {
		return "unnamed"
	}
	return name
}

// limitedAt reads no more than so much while the directory of an archive is read; less than nothing left is no limit.
type limitedAt struct {
	r    io.ReaderAt
	left int64
}

var errTooMuch = kb.Errorf(kb.Invalid, "too much to read")

func (l *limitedAt) ReadAt(p []byte, off int64) (int, error) {
	if l.left >= 0 {
		if l.left < int64(len(p)) {
			return 0, errTooMuch
		}
		l.left -= int64(len(p))
	}
	return l.r.ReadAt(p, off)
}
