package ingest

import (
	"cmp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// flow builds readable text with regions: runs of blanks are folded, blocks become lines, and what no reader sees
// (control, zero-width and direction marks) is left out.
type flow struct {
	b       strings.Builder
	regions []Region
	open    []int // regions begun and not ended
	breaks  int   // line ends to write before the next text
	space   bool  // blank to write before the next text
	pre     int   // inside preformatted text when above 0
}

const unwritten = -1 // start of a region that holds no text yet

func (f *flow) text(s string) {
	for at := 0; at < len(s); {
		if n := plainRun(s[at:]); n > 0 {
			f.flush()
			f.b.WriteString(s[at : at+n])
			at += n
			continue
		}
		r, size := utf8.DecodeRuneInString(s[at:])
		at += size
		switch {
		case f.pre > 0 && r == '\n':
			f.breaks++
			f.space = false
		case f.pre > 0 && (r == ' ' || r == '\t') && f.breaks == 0 && f.b.Len() > 0:
			f.b.WriteByte(' ')
		case unicode.IsSpace(r):
			f.space = true
		case invisible(r):
		default:
			f.flush()
			f.b.WriteRune(r)
		}
	}
}

// plainRun is the length of the visible ASCII characters that a text begins with.
func plainRun(s string) int {
	for i := range len(s) {
		if s[i] <= ' ' || s[i] >= 0x7F {
			return i
		}
	}
	return len(s)
}

func (f *flow) flush() {
	if f.b.Len() > 0 {
		switch {
		case f.breaks > 0:
			f.b.WriteString("\n\n"[:min(f.breaks, 2)])
		case f.space:
			f.b.WriteByte(' ')
		}
	}
	f.breaks, f.space = 0, false
	for _, i := range f.open {
		if f.regions[i].Start == unwritten {
			f.regions[i].Start = f.b.Len()
		}
	}
}

// line makes the next text start on a line of its own.
func (f *flow) line() { f.breaks = max(f.breaks, 1) }

// para makes a blank line before the next text.
func (f *flow) para() { f.breaks = max(f.breaks, 2) }

// begin opens a region that starts with the next text.
func (f *flow) begin(kind RegionKind) int {
	f.regions = append(f.regions, Region{Start: unwritten, Kind: kind})
	f.open = append(f.open, len(f.regions)-1)
	return len(f.regions) - 1
}

// end closes the region after the last text; a region that got no text is dropped later.
func (f *flow) end(i int) {
	f.regions[i].End = f.b.Len()
	f.open = slices.DeleteFunc(f.open, func(o int) bool { return o == i })
}

// inside tells whether the next text stands in an open region of a kind.
func (f *flow) inside(kind RegionKind) bool {
	return slices.ContainsFunc(f.open, func(i int) bool { return f.regions[i].Kind == kind })
}

// done gives the text and its regions, sorted; it may be called once the last region is closed.
func (f *flow) done() passage {
	p := passage{text: strings.TrimRight(f.b.String(), " \n")}
	for _, r := range f.regions {
		r.End = min(r.End, len(p.text))
		if r.Start != unwritten && r.Start < r.End {
			p.regions = append(p.regions, r)
		}
	}
	sortRegions(p.regions)
	p.regions = slices.CompactFunc(p.regions, Region.repeats)
	return p
}

// repeats tells whether another region marks the same text as the same thing.
func (r Region) repeats(other Region) bool {
	return r.Kind == other.Kind && r.Start == other.Start && r.End == other.End
}

func sortRegions(regions []Region) {
	slices.SortStableFunc(regions, func(a, b Region) int {
		return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(b.End, a.End))
	})
}

// invisible tells characters that no reader sees: control characters, zero-width and direction marks, soft hyphens.
func invisible(r rune) bool {
	return unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == '\ufffd' || r >= 0xFE00 && r <= 0xFE0F
}

// visible is s without invisible characters and with blanks folded.
func visible(s string) string {
	var f flow
	f.text(s)
	return f.b.String()
}

// passage is text with its regions.
type passage struct {
	text    string
	regions []Region
}

// edit replaces a piece of a passage; edits are sorted and do not overlap.
type edit struct {
	start, end int
	repl       string
}

// rewrite applies edits and moves the regions along; a region that loses all its text goes.
func (p passage) rewrite(edits []edit) passage {
	if len(edits) == 0 {
		return p
	}
	var b strings.Builder
	at := 0
	for _, e := range edits {
		b.WriteString(p.text[at:e.start])
		b.WriteString(e.repl)
		at = e.end
	}
	b.WriteString(p.text[at:])
	out := passage{text: b.String()}
	for _, r := range p.regions {
		r.Start, r.End = moved(r.Start, edits, false), moved(r.End, edits, true)
		if r.Start < r.End {
			out.regions = append(out.regions, r)
		}
	}
	sortRegions(out.regions)
	return out
}

// moved gives the new place of an offset; one inside an edit goes to the edit's start, or its end for the end of a region.
func moved(at int, edits []edit, isEnd bool) int {
	shift := 0
	for _, e := range edits {
		if e.end <= at {
			shift += len(e.repl) - (e.end - e.start)
			continue
		}
		if e.start < at && isEnd {
			return e.start + shift + len(e.repl)
		}
		return min(at, e.start) + shift
	}
	return at + shift
}

// span is a piece of text.
type span struct{ start, end int }

// lines gives the lines of a text without their line ends.
func lines(text string) []span {
	var out []span
	at := 0
	for at <= len(text) {
		end := strings.IndexByte(text[at:], '\n')
		if end < 0 {
			return append(out, span{at, len(text)})
		}
		out = append(out, span{at, at + end})
		at += end + 1
	}
	return out
}
