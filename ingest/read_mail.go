package ingest

import (
	"bytes"
	"cmp"
	"encoding/base64"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"regexp"
	"slices"
	"strings"
	"time"

	"golang.org/x/net/html/charset"
)

// message is one mail of a mailbox.
type message struct {
	id      string
	refs    []string // messages it answers, the direct one last
	subject string
	author  string
	at      time.Time
	list    string
	url     string
	body    passage
}

var mboxLine = regexp.MustCompile(`(?m)^From \S+.*\n`)

// readMail reads a mailbox or a single mail; each conversation in it is a thread of its own.
func readMail(f File, opt Options) ([]*draft, error) {
	data := bytes.ReplaceAll(bytes.TrimPrefix(f.Data, []byte("\ufeff")), []byte("\r\n"), []byte("\n"))
	parts := splitMailbox(data)
	if len(parts) > opt.MaxPosts {
		return nil, failure(f, 0, "too many posts: %d, the limit is %d", len(parts), opt.MaxPosts)
	}
	var messages []*message
	boxed := parts[0].start > 0
	for _, part := range parts {
		raw := data[part.start:part.end]
		if boxed {
			raw = escapedFrom.ReplaceAll(raw, []byte("$1")) // RFC 4155, appendix A, and its kin that escape deeper lines too
		}
		m, err := readMessage(raw, opt)
		if err != nil {
			return nil, failure(f, lineOf(data, part.start), "broken mail: %v", err)
		}
		messages = append(messages, m)
	}
	var drafts []*draft
	for _, talk := range conversations(messages) {
		drafts = append(drafts, mailDraft(talk))
	}
	return drafts, nil
}

// splitMailbox finds the messages: each begins below a "From " line that stands at the top or after an empty line and is
// followed by a header.
func splitMailbox(data []byte) []span {
	var out []span
	text := string(data)
	for _, m := range mboxLine.FindAllStringIndex(text, -1) {
		if m[0] > 0 && !bytes.HasSuffix(data[:m[0]], []byte("\n\n")) || !headerLine.MatchString(text[m[1]:]) {
			continue
		}
		if len(out) > 0 {
			out[len(out)-1].end = m[0]
		}
		out = append(out, span{m[1], len(data)})
	}
	if len(out) == 0 {
		return []span{{0, len(data)}}
	}
	return out
}

var escapedFrom = regexp.MustCompile(`(?m)^>(>*From )`)

var headerLine = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9-]*:`)

func readMessage(data []byte, opt Options) (*message, error) {
	msg, err := mail.ReadMessage(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	h := msg.Header
	m := &message{id: strings.TrimSpace(h.Get("Message-Id")), subject: decodeWords(h.Get("Subject")), url: strings.Trim(h.Get("Archived-At"), "<> ")}
	m.refs = append(strings.Fields(h.Get("References")), strings.Fields(h.Get("In-Reply-To"))...)
	m.author = mailAuthor(h.Get("From"))
	m.list = listName(h.Get("List-Id"))
	if t, err := mail.ParseDate(h.Get("Date")); err == nil {
		m.at = t
	} else if when, _, ok := findDate(h.Get("Date")); ok {
		m.at = when.time(true)
	}
	m.body, err = mailBody(h.Get("Content-Type"), h.Get("Content-Transfer-Encoding"), msg.Body, min(opt.MaxDepth, 20))
	return m, err
}

func decodeWords(s string) string {
	dec := mime.WordDecoder{CharsetReader: func(label string, r io.Reader) (io.Reader, error) { return charset.NewReaderLabel(label, r) }}
	if out, err := dec.DecodeHeader(s); err == nil {
		return visible(out)
	}
	return visible(s)
}

var listTag = regexp.MustCompile(`^\s*<?([^<>]*)>?\s*$`)

func listName(id string) string {
	if name, _, ok := strings.Cut(id, "<"); ok && strings.TrimSpace(name) != "" {
		return strings.Trim(decodeWords(name), `" `)
	}
	return listTag.ReplaceAllString(id, "$1")
}

// mailAuthor is the name in a From header, else the part of the address before "@".
func mailAuthor(from string) string {
	parser := mail.AddressParser{WordDecoder: &mime.WordDecoder{CharsetReader: func(label string, r io.Reader) (io.Reader, error) { return charset.NewReaderLabel(label, r) }}}
	if a, err := parser.Parse(from); err == nil {
		name := visible(a.Name)
		local, _, _ := strings.Cut(a.Address, "@")
		if name == "" || strings.Contains(name, "@") {
			return local
		}
		return name
	}
	name := decodeWords(strings.Trim(addressPart.ReplaceAllString(from, ""), `"'() `))
	local, _, _ := strings.Cut(name, "@")
	return local
}

var addressPart = regexp.MustCompile(`<[^>]*>`)

// mailBody reads the text of a message or of a part of it; plain text is preferred to HTML, attachments are passed over.
func mailBody(contentType, encoding string, r io.Reader, levels int) (passage, error) {
	kind, params, err := mime.ParseMediaType(cmp.Or(contentType, "text/plain"))
	if err != nil {
		kind, params = "text/plain", nil
	}
	if strings.HasPrefix(kind, "multipart/") && params["boundary"] != "" {
		if levels <= 0 {
			return passage{}, io.ErrUnexpectedEOF
		}
		return multipartBody(kind, multipart.NewReader(r, params["boundary"]), levels-1)
	}
	if !strings.HasPrefix(kind, "text/") {
		return passage{}, nil
	}
	data, err := io.ReadAll(transferDecoder(encoding, r))
	if err != nil && len(data) == 0 {
		return passage{}, err
	}
	text, err := mailText(data, params["charset"])
	if err != nil {
		return passage{}, err
	}
	if kind == "text/html" {
		return quoteOriginal(htmlFragment(text)), nil
	}
	rows := dropListFooter(plainLines(strings.ReplaceAll(text, "\r\n", "\n")))
	return quoteOriginal(readWrapped(rows, mailWidth)), nil
}

func multipartBody(kind string, parts *multipart.Reader, levels int) (passage, error) {
	var plain, other passage
	for {
		part, err := parts.NextRawPart()
		if err != nil {
			break // the end, or a broken tail: what was read counts
		}
		if disposition, _, _ := mime.ParseMediaType(part.Header.Get("Content-Disposition")); disposition == "attachment" {
			continue
		}
		contentType := part.Header.Get("Content-Type")
		body, err := mailBody(contentType, part.Header.Get("Content-Transfer-Encoding"), part, levels)
		if err != nil {
			return passage{}, err
		}
		switch isHTML := strings.HasPrefix(strings.ToLower(contentType), "text/html"); {
		case body.text == "":
		case isHTML && other.text == "":
			other = body
		case !isHTML && plain.text == "":
			plain = body
		case !isHTML && kind != "multipart/alternative":
			plain = plain.joined(body)
		}
	}
	if plain.text != "" {
		return plain, nil
	}
	return other, nil
}

func (p passage) joined(q passage) passage {
	shift := len(p.text) + 2
	out := passage{text: p.text + "\n\n" + q.text, regions: slices.Clone(p.regions)}
	for _, r := range q.regions {
		r.Start, r.End = r.Start+shift, r.End+shift
		out.regions = append(out.regions, r)
	}
	return out
}

func transferDecoder(encoding string, r io.Reader) io.Reader {
	switch strings.ToLower(strings.TrimSpace(encoding)) {
	case "quoted-printable":
		return quotedprintable.NewReader(r)
	case "base64":
		return base64.NewDecoder(base64.StdEncoding, r)
	}
	return r
}

func mailText(data []byte, label string) (string, error) {
	switch strings.ToLower(label) {
	case "", "utf-8", "us-ascii":
		out, err := decode(File{Data: data}, FormatText)
		return string(out), err
	}
	r, err := charset.NewReaderLabel(label, bytes.NewReader(data))
	if err != nil {
		return "", err
	}
	out, err := io.ReadAll(r)
	return string(out), err
}

var listFooter = regexp.MustCompile(`(?i)mailing list|unsubscribe|list archive|listinfo|sent from my|to leave the list`)

// dropListFooter cuts what a mailing list adds below a line of underscores.
func dropListFooter(rows []string) []string {
	for i, row := range rows {
		rule := strings.TrimSpace(row)
		if len(rule) < 5 || strings.Trim(rule, "_-=") != "" {
			continue
		}
		if rest := strings.Join(rows[i+1:], "\n"); len(rest) < 600 && listFooter.MatchString(rest) {
			return rows[:i]
		}
	}
	return rows
}

var replyMark = regexp.MustCompile(`(?i)^\s*(?:(?:re|aw|sv|antw|fwd?|wg|vs)(?:\[\d+\])?\s*:|\[[^\]]{1,40}\])\s*`)

func bareSubject(s string) string {
	for replyMark.MatchString(s) {
		s = replyMark.ReplaceAllString(s, "")
	}
	return s
}

// conversations groups messages that answer one another, or that share a subject where nothing tells what they answer.
func conversations(messages []*message) [][]*message {
	group := map[string]int{} // message id or subject to group
	var out [][]*message
	for _, m := range messages {
		keys := []string{"s:" + strings.ToLower(bareSubject(m.subject))}
		if m.id != "" {
			keys = append(keys, m.id)
		}
		keys = append(keys, m.refs...)
		at := -1
		for _, k := range append(slices.Clone(m.refs), keys...) {
			if g, ok := group[k]; ok && at < 0 && (k[0] != 's' || len(k) > 2) {
				at = g
			}
		}
		if at < 0 {
			at = len(out)
			out = append(out, nil)
		}
		out[at] = append(out[at], m)
		for _, k := range keys {
			if _, ok := group[k]; !ok {
				group[k] = at
			}
		}
	}
	return out
}

// mailDraft orders a conversation by time, an answer never before what it answers.
func mailDraft(talk []*message) *draft {
	slices.SortStableFunc(talk, func(a, b *message) int { return a.at.Compare(b.at) })
	d := &draft{inOrder: true}
	done := map[string]bool{}
	present := map[string]bool{}
	for _, m := range talk {
		present[m.id] = m.id != ""
	}
	for len(talk) > 0 {
		next := slices.IndexFunc(talk, func(m *message) bool {
			return !slices.ContainsFunc(m.refs, func(ref string) bool { return present[ref] && !done[ref] && ref != m.id })
		})
		m := talk[max(next, 0)]
		done[m.id] = true
		talk = slices.Delete(talk, max(next, 0), max(next, 0)+1)
		d.title, d.url, d.site = first(d.title, bareSubject(m.subject)), first(d.url, m.url), first(d.site, m.list)
		d.posts = append(d.posts, draftPost{author: m.author, at: m.at, body: m.body})
	}
	return d
}
