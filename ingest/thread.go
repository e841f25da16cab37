// Package ingest turns what people wrote about a repair into draft cases.
//
// The way through it: Read recognises the format and gives Threads; Mask takes personal data out of every post before
// anything else sees it; Extract reads draft kb.Cases from the masked thread. Every fact of a draft carries the span of
// masked text it was read from. The package does no I/O of its own and reads no clock.
package ingest

import (
	"time"

	"ruledout/kb"
)

// Kind is the kind of a write-up.
type Kind string

// The kinds of write-up.
const (
	KindThread  Kind = "thread"  // posts by one or more people
	KindArticle Kind = "article" // one text by one person
	KindRow     Kind = "row"     // one row of a table
)

// Thread is one write-up: a document with posts by one or more people.
type Thread struct {
	Key      string // identity of the write-up: see Key rules in design section 4; set by Read
	Kind     Kind
	Title    string
	URL      string // canonical address, empty if none is known
	Site     string // name of the site or list, empty if none is known
	Licence  string // as stated by the write-up, empty if none is stated
	Language string // as stated, empty if none is stated
	Page     int    // 1-based place of the page among those of its thread as it tells itself, 0 if it does not
	Pages    int    // how many pages its thread has as far as it tells, 0 if it does not
	Posts    []Post
	File     string // where it was read from, for messages
}

// Post is what one person wrote at one time.
type Post struct {
	N       int       // 1-based position in the thread
	Author  string    // handle as shown, masked if it is a full name of a private person
	Time    time.Time // zero if unknown
	Text    string    // readable text; offsets of evidence index it
	Page    int       // Page of the thread it was read from
	Regions []Region  // parts of Text that are not the author's running words; sorted by Start, may nest
}

// RegionKind tells what a marked part of a post is.
type RegionKind string

// The kinds of region. Text outside every region is the author's own running text.
const (
	RegionQuote     RegionKind = "quote"     // words of somebody else (Author) quoted by the post's author
	RegionSignature RegionKind = "signature" // standing lines below a post: machines owned, jokes, addresses
	RegionEdit      RegionKind = "edit"      // "last edited by ..." note; what follows a colon in it is the author's text
	RegionHeading   RegionKind = "heading"   // a heading line; it names the section up to the next heading
	RegionItem      RegionKind = "item"      // a list item
	RegionCell      RegionKind = "cell"      // a table row, cells separated by " | "; Name is the first cell
	RegionCode      RegionKind = "code"      // preformatted text: scanner output and the like
	RegionField     RegionKind = "field"     // a named field of a table row (Name: id, found, done, machine, date, code ...)
	RegionMasked    RegionKind = "masked"    // a place where personal data stood
)

// Region is a marked part of a post's text.
type Region struct {
	Start, End int
	Kind       RegionKind
	Author     string       // for quotes: who is quoted, empty if unknown
	Name       string       // for fields and cells: the column or label; for masked: what was masked
	VIN        *kb.VINFacts // for a masked VIN: what may be kept of it, never its serial
}
