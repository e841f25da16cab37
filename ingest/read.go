package ingest

import (
	"bytes"
	"encoding/binary"
	"path"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/net/html/charset"
	"golang.org/x/text/encoding/charmap"

	"ruledout/kb"
)

// Defaults of Options: generous for any real write-up, small enough that a hostile one is refused.
const (
	DefaultMaxBytes = 16 << 20 // bytes of one file
	DefaultMaxPosts = 5000     // posts or rows of one file
	DefaultMaxDepth = 200      // nesting of elements, values, quotes and message parts
)

// File is one write-up as it was supplied.
type File struct {
	Name string // for recognising the format and for messages
	Data []byte
}

// Options say how files are read. The zero value uses the defaults.
type Options struct {
	Columns  map[string]string // for tables: role (id, found, done, machine, code, date, author, reading, ...) to column; only these are read
	MaxBytes int64             // 0: DefaultMaxBytes
	MaxPosts int               // 0: DefaultMaxPosts
	MaxDepth int               // 0: DefaultMaxDepth

	MaxEntries  int   // files in one archive; 0: DefaultMaxEntries
	MaxUnpacked int64 // bytes of all files of one archive; 0: DefaultMaxUnpacked

	Licence string // licence of write-ups that state none themselves
	URL     string // address of write-ups that state none themselves
}

// Format is the form a write-up comes in.
type Format string

// The formats of write-ups.
const (
	FormatMarkdown Format = "markdown"
	FormatHTML     Format = "html"
	FormatText     Format = "text"
	FormatMail     Format = "mbox"
	FormatTable    Format = "csv"
	FormatBinary   Format = "binary" // cannot be read
	FormatEmpty    Format = "empty"  // holds nothing
)

// Read recognises the format of a file by content and name, reads its threads and masks personal data in all of them.
// Errors are *kb.Error and name the file and, where there is one, the line.
func Read(f File, opt Options) ([]Thread, error) {
	opt = opt.withDefaults()
	if int64(len(f.Data)) > opt.MaxBytes {
		return nil, failure(f, 0, "too big: %d bytes, the limit is %d", len(f.Data), opt.MaxBytes)
	}
	format := FormatOf(f)
	if format != FormatMail && format != FormatEmpty && format != FormatBinary {
		text, err := decode(f, format)
		if err != nil {
			return nil, err
		}
		f.Data = text
	}
	drafts, err := readFormat(f, format, opt)
	if err != nil {
		return nil, err
	}
	return finish(f, drafts, opt)
}

func readFormat(f File, format Format, opt Options) ([]*draft, error) {
	switch format {
	case FormatEmpty:
		return nil, failure(f, 0, "the file is empty")
	case FormatBinary:
		return nil, failure(f, lineOf(f.Data, bytes.IndexByte(f.Data, 0)), "binary data, not text")
	case FormatHTML:
		return readHTML(f, opt)
	case FormatMarkdown:
		return withPager(f, opt, readMarkdown)
	case FormatMail:
		return readMail(f, opt)
	case FormatTable:
		return readTable(f, opt)
	default:
		return withPager(f, opt, func(f File, _ Options) ([]*draft, error) { return readPlain(string(f.Data)), nil })
	}
}

// withPager reads a text that is no HTML and the marks of its place among the pages of its thread.
func withPager(f File, opt Options, read func(File, Options) ([]*draft, error)) ([]*draft, error) {
	drafts, err := read(f, opt)
	if len(drafts) == 1 {
		drafts[0].pager = linePager(string(f.Data))
	}
	return drafts, err
}

func (o Options) withDefaults() Options {
	if o.MaxBytes <= 0 {
		o.MaxBytes = DefaultMaxBytes
	}
	if o.MaxPosts <= 0 {
		o.MaxPosts = DefaultMaxPosts
	}
	if o.MaxDepth <= 0 {
		o.MaxDepth = DefaultMaxDepth
	}
	if o.MaxEntries <= 0 {
		o.MaxEntries = DefaultMaxEntries
	}
	if o.MaxUnpacked <= 0 {
		o.MaxUnpacked = DefaultMaxUnpacked
	}
	return o
}

// FormatOf recognises the format of a file: by its content where that is telling, else by its name.
func FormatOf(f File) Format {
	data := f.Data
	if len(bytes.TrimSpace(data)) == 0 {
		return FormatEmpty
	}
	if utf16Order(data) == nil && bytes.IndexByte(data, 0) >= 0 {
		return FormatBinary
	}
	head := strings.ToLower(strings.TrimLeft(string(sniffable(data)), "\ufeff \t\r\n"))
	switch {
	case strings.HasPrefix(head, "<!doctype html"), strings.HasPrefix(head, "<html"),
		strings.HasPrefix(head, "<?xml") && strings.Contains(head, "<html"):
		return FormatHTML
	case looksLikeMail(head):
		return FormatMail
	}
	switch strings.ToLower(path.Ext(f.Name)) {
	case ".html", ".htm", ".xhtml":
		return FormatHTML
	case ".md", ".markdown", ".mdown":
		return FormatMarkdown
	case ".mbox", ".eml", ".mbx":
		return FormatMail
	case ".csv", ".tsv":
		return FormatTable
	}
	if strings.HasPrefix(head, "<body") || strings.Contains(head, "<div") && strings.Contains(head, "</") {
		return FormatHTML
	}
	return FormatText
}

func sniffable(data []byte) []byte {
	const enough = 4096
	if order := utf16Order(data); order != nil {
		return decodeUTF16(withoutMark(data[:min(len(data)&^1, enough)]), order)
	}
	return data[:min(len(data), enough)]
}

func looksLikeMail(head string) bool {
	if strings.HasPrefix(head, "from ") && strings.Contains(head, "\nfrom:") {
		return true
	}
	block, _, _ := strings.Cut(strings.ReplaceAll(head, "\r\n", "\n"), "\n\n")
	named := 0
	for line := range strings.SplitSeq(block, "\n") {
		name, _, ok := strings.Cut(line, ":")
		switch {
		case strings.HasPrefix(line, " ") || strings.HasPrefix(line, "\t"):
		case !ok || strings.ContainsAny(name, " \t"):
			return false
		case name == "from" || name == "subject" || name == "received" || name == "message-id" || name == "date":
			named++
		}
	}
	return named >= 2
}

// decode gives the content as UTF-8 with plain line ends and without a byte order mark.
func decode(f File, format Format) ([]byte, error) {
	data := f.Data
	if order := utf16Order(data); order != nil {
		if len(data)%2 != 0 {
			return nil, failure(f, 0, "cannot be decoded: UTF-16 with an odd number of bytes")
		}
		data = decodeUTF16(withoutMark(data), order)
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if !utf8.Valid(data) {
		decoded, err := decodeLegacy(data, format)
		if err != nil {
			return nil, failure(f, lineOf(data, invalidAt(data)), "cannot be decoded: %v", err)
		}
		data = decoded
	}
	if bytes.IndexByte(data, 0) >= 0 {
		return nil, failure(f, lineOf(data, bytes.IndexByte(data, 0)), "binary data, not text")
	}
	return bytes.ReplaceAll(bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n")), []byte("\r"), []byte("\n")), nil
}

// decodeLegacy decodes what is no UTF-8: by the charset that a page declares, else as windows-1252.
func decodeLegacy(data []byte, format Format) ([]byte, error) {
	if format == FormatHTML {
		if enc, name, _ := charset.DetermineEncoding(data, ""); name != "utf-8" {
			return enc.NewDecoder().Bytes(data)
		}
	}
	return charmap.Windows1252.NewDecoder().Bytes(data)
}

// utf16Order tells the order of bytes in UTF-16, nil if the data is none: by its mark, else by the zero bytes of Latin letters, which
// stand in every second place.
func utf16Order(data []byte) binary.ByteOrder {
	switch {
	case bytes.HasPrefix(data, []byte{0xFF, 0xFE}):
		return binary.LittleEndian
	case bytes.HasPrefix(data, []byte{0xFE, 0xFF}):
		return binary.BigEndian
	}
	const enough = 1024
	head := data[:min(len(data)&^1, enough)]
	even, odd := 0, 0
	for i, c := range head {
		switch {
		case c != 0:
		case i%2 == 0:
			even++
		default:
			odd++
		}
	}
	switch pairs := len(head) / 2; {
	case pairs < 4:
	case odd*10 >= pairs*7 && even*50 <= pairs:
		return binary.LittleEndian
	case even*10 >= pairs*7 && odd*50 <= pairs:
		return binary.BigEndian
	}
	return nil
}

// withoutMark is UTF-16 without its byte order mark.
func withoutMark(data []byte) []byte {
	if bytes.HasPrefix(data, []byte{0xFF, 0xFE}) || bytes.HasPrefix(data, []byte{0xFE, 0xFF}) {
		return data[2:]
	}
	return data
}

func decodeUTF16(data []byte, order binary.ByteOrder) []byte {
	units := make([]uint16, len(data)/2)
	for i := range units {
		units[i] = order.Uint16(data[2*i:])
	}
	return []byte(string(utf16.Decode(units)))
}

func invalidAt(data []byte) int {
	for i := 0; i < len(data); {
		r, size := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && size == 1 {
			return i
		}
		i += size
	}
	return -1
}

func lineOf(data []byte, at int) int {
	if at < 0 {
		return 0
	}
	return 1 + bytes.Count(data[:at], []byte("\n"))
}

func failure(f File, line int, format string, args ...any) *kb.Error {
	err := kb.Errorf(kb.Invalid, format, args...)
	err.File, err.Line = f.Name, line
	return err
}
