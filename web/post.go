package web

import (
	"cmp"
	"fmt"
	"html/template"
	"slices"
	"strings"

	"ruledout/ingest"
	"ruledout/kb"
)

// A post is kept as plain text with its regions: what was Markdown or HTML came in as that. It is shown with its structure again - headings,
// lists, tables, quotes, preformatted lines - and with the words of facts marked. Every letter of it is escaped here, so nothing that
// somebody wrote can be markup.

// postWriter writes one post as HTML.
type postWriter struct {
	text  string
	marks []mark
	next  int // the first mark whose places have not all been written
	out   strings.Builder
}

// mark is words of facts, overlapping spans as one; places are where the spans begin, to lead to.
type mark struct {
	start, end int
	places     []place
}

type place struct {
	at int
	id string
}

// postHTML shows a post.
func postHTML(text string, regions []ingest.Region, spans []kb.Evidence) template.HTML {
	w := postWriter{text: text, marks: joinedMarks(text, spans)}
	w.blocks(0, len(text), blockRegions(text, regions))
	w.places(len(text) + 1) // of spans without a letter that is shown
	return template.HTML(w.out.String())
}

// joinedMarks joins spans that overlap. A span that does not fit the text (it was edited since) is left out.
func joinedMarks(text string, spans []kb.Evidence) []mark {
	spans = slices.DeleteFunc(slices.Clone(spans), func(e kb.Evidence) bool {
		return e.Start < 0 || e.End > len(text) || e.Start >= e.End || text[e.Start:e.End] != e.Quote
	})
	slices.SortStableFunc(spans, func(a, b kb.Evidence) int { return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.End, b.End)) })
	var out []mark
	for _, e := range spans {
		if n := len(out); n == 0 || e.Start >= out[n-1].end {
			out = append(out, mark{start: e.Start})
		}
		m := &out[len(out)-1]
		m.end = max(m.end, e.End)
		if n := len(m.places); n == 0 || m.places[n-1].at != e.Start {
			m.places = append(m.places, place{e.Start, anchor(e)})
		}
	}
	return out
}

// blockRegions gives the regions that are blocks, in order, without those that do not fit.
func blockRegions(text string, regions []ingest.Region) []ingest.Region {
	out := slices.DeleteFunc(slices.Clone(regions), func(r ingest.Region) bool {
		return r.Kind == ingest.RegionMasked || r.Start < 0 || r.End > len(text) || r.Start >= r.End
	})
	slices.SortStableFunc(out, func(a, b ingest.Region) int { return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(b.End, a.End)) })
	return out
}

// blocks writes the text from from to to, whose blocks are given; what stands in no block is paragraphs.
func (w *postWriter) blocks(from, to int, list []ingest.Region) {
	at := from
	for i := 0; i < len(list); {
		r := list[i]
		if r.Start < at || r.End > to { // it crosses the one before: its text stays running text
			i++
			continue
		}
		w.paragraphs(at, r.Start)
		n := w.block(list[i:])
		at, i = list[i+n-1].End, i+n
		for i < len(list) && list[i].Start < at { // those within were written with it
			i++
		}
	}
	w.paragraphs(at, to)
}

// block writes the first block of a list and those that belong with it, such as the other items of its list; it gives their number.
func (w *postWriter) block(list []ingest.Region) int {
	r := list[0]
	switch r.Kind {
	case ingest.RegionQuote:
		w.out.WriteString("<blockquote>")
		if r.Author != "" {
			fmt.Fprintf(&w.out, `<p class="note">%s:</p>`, template.HTMLEscapeString(r.Author))
		}
		var within []ingest.Region
		for _, x := range list[1:] {
			if x.End <= r.End {
				within = append(within, x)
			}
		}
		w.blocks(r.Start, r.End, within)
		w.out.WriteString("</blockquote>")
		return 1
	case ingest.RegionItem:
		return w.run(list, "<ul>", "</ul>", func(x ingest.Region) { w.wrapped("<li>", x.Start, x.End, "</li>") })
	case ingest.RegionCell:
		return w.run(list, "<table><tbody>", "</tbody></table>", w.tableRow)
	case ingest.RegionField:
		return w.run(list, "<table><tbody>", "</tbody></table>", func(x ingest.Region) {
			w.wrapped("<tr><th scope=\"row\">"+template.HTMLEscapeString(x.Name)+"</th><td>", x.Start, x.End, "</td></tr>")
		})
	case ingest.RegionHeading: // no heading of the page: it would stand in nobody's order
		w.wrapped("<p><strong>", r.Start, r.End, "</strong></p>")
	case ingest.RegionCode:
		w.wrapped("<pre>", r.Start, r.End, "</pre>")
	default: // signature, note of an edit
		w.wrapped(`<p class="note">`, r.Start, r.End, "</p>")
	}
	return 1
}

// run writes blocks of one kind that only space parts.
func (w *postWriter) run(list []ingest.Region, open, shut string, one func(ingest.Region)) int {
	w.out.WriteString(open)
	n := 0
	for i, r := range list {
		if i > 0 && (r.Kind != list[0].Kind || r.Start < list[i-1].End || strings.TrimSpace(w.text[list[i-1].End:r.Start]) != "") {
			break
		}
		one(r)
		n++
	}
	w.out.WriteString(shut)
	return n
}

func (w *postWriter) tableRow(r ingest.Region) {
	const between = " | "
	w.out.WriteString("<tr>")
	at := r.Start
	for at <= r.End {
		end := r.End
		if i := strings.Index(w.text[at:r.End], between); i >= 0 {
			end = at + i
		}
		w.wrapped("<td>", at, end, "</td>")
		at = end + len(between)
	}
	w.out.WriteString("</tr>")
}

func (w *postWriter) wrapped(open string, from, to int, shut string) {
	w.out.WriteString(open)
	w.words(from, to)
	w.out.WriteString(shut)
}

// paragraphs writes running text: an empty line parts paragraphs, a line ends where its writer ended it.
func (w *postWriter) paragraphs(from, to int) {
	for from < to {
		end := to
		next := to
		if i := strings.Index(w.text[from:to], "\n\n"); i >= 0 {
			end, next = from+i, from+i+2
		}
		if strings.TrimSpace(w.text[from:end]) != "" {
			w.out.WriteString("<p>")
			for line := from; line < end; {
				stop := end
				if i := strings.IndexByte(w.text[line:end], '\n'); i >= 0 {
					stop = line + i
				}
				w.words(line, stop)
				if line = stop + 1; line < end && strings.TrimSpace(w.text[line:end]) != "" {
					w.out.WriteString("<br>")
				}
			}
			w.out.WriteString("</p>")
		}
		from = next
	}
}

// words writes a piece of text with the marks in it.
func (w *postWriter) words(from, to int) {
	for from < to {
		i := slices.IndexFunc(w.marks, func(m mark) bool { return m.end > from })
		if i < 0 || w.marks[i].start >= to {
			w.escape(from, to)
			return
		}
		m := w.marks[i]
		w.escape(from, max(from, m.start))
		from = max(from, m.start)
		w.places(from) // of spans whose beginning is not shown
		w.out.WriteString("<mark")
		w.openMark(m.start, from)
		w.places(from + 1)
		stop := min(m.end, to)
		for from < stop {
			piece := stop
			if p, ok := w.nextPlace(); ok && p.at > from && p.at < stop {
				piece = p.at
			}
			w.escape(from, piece)
			from = piece
			if from < stop {
				w.places(from + 1)
			}
		}
		w.out.WriteString("</mark>")
	}
}

// openMark ends the opening tag of a mark; the place that begins there is the mark itself.
func (w *postWriter) openMark(start, at int) {
	if p, ok := w.nextPlace(); ok && p.at == at && at == start {
		fmt.Fprintf(&w.out, ` id="%s"`, template.HTMLEscapeString(p.id))
		w.written()
	}
	w.out.WriteString(">")
}

// nextPlace gives the first place that has not been written.
func (w *postWriter) nextPlace() (place, bool) {
	for w.next < len(w.marks) {
		if list := w.marks[w.next].places; len(list) > 0 {
			return list[0], true
		}
		w.next++
	}
	return place{}, false
}

func (w *postWriter) written() { w.marks[w.next].places = w.marks[w.next].places[1:] }

// places writes the places before an offset that have not been written.
func (w *postWriter) places(before int) {
	for {
		p, ok := w.nextPlace()
		if !ok || p.at >= before {
			return
		}
		fmt.Fprintf(&w.out, `<span id="%s"></span>`, template.HTMLEscapeString(p.id))
		w.written()
	}
}

func (w *postWriter) escape(from, to int) {
	if from < to {
		w.out.WriteString(template.HTMLEscapeString(w.text[from:to]))
	}
}
