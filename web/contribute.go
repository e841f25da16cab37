package web

import (
	"cmp"
	"context"
	"io"
	"iter"
	"mime/multipart"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strings"
	"unicode/utf8"

	"ruledout/ingest"
	"ruledout/internal/casebook"
	"ruledout/kb"
)

// contributePage takes a write-up: its text, and what was understood of it before it is handed in.
type contributePage struct {
	base
	Text    string
	File    string // the name of what was uploaded
	URL     string
	Licence string
	Problem string
	Read    []readThread
	Cases   int
}

// readThread is a write-up as it was understood.
type readThread struct {
	Title string
	Cases []readCase
	Text  textBlock
}

type readCase struct {
	Title    string
	Machine  string
	Codes    []codeLine
	Facts    []factGroup
	Timeline []timelineItem
	Doubts   []string
}

// licences are under what a contributor may publish their own text; empty: it is somebody else's.
var licences = []string{"", "CC BY-SA 4.0", "CC BY 4.0", "CC0 1.0"}

// maxUpload bounds a write-up that is handed in by the pages, in bytes.
const maxUpload = 4 << 20

// maxShownText bounds what is shown in the field for text; what is longer is handed in without a look before.
const maxShownText = 100_000

func (s *Server) contributePage(r *http.Request) (view, error) {
	return view{name: "contribute", data: contributePage{base: base{Title: "Contribute", Here: "mine"}}}, nil
}

// contribute shows what is understood of a write-up, or hands it in.
func (s *Server) contribute(r *http.Request) (view, error) {
	p, data, do, err := contributed(r)
	if err != nil {
		return view{}, err
	}
	f := ingest.File{Name: cmp.Or(p.File, "pasted.txt"), Data: data}
	switch {
	case len(strings.TrimSpace(string(data))) == 0:
		err = &kb.Error{Kind: kb.Invalid, Field: "text", Msg: "paste the write-up, or choose its file"}
	case !slices.Contains(licences, p.Licence):
		err = &kb.Error{Kind: kb.Invalid, Field: "licence", Msg: "choose one of those below"}
	case p.URL != "" && !isAddress(p.URL):
		err = &kb.Error{Kind: kb.Invalid, Field: "address", Msg: "want one that begins with https:// or http://"}
	case !utf8.Valid(data) || len(data) > maxShownText || do == "hand in":
		var to string
		if to, err = s.handIn(r, f, p); err == nil {
			return view{to: to}, nil
		}
	default:
		err = s.understood(&p, f)
	}
	if err == nil {
		return view{name: "contribute", data: p}, nil
	}
	if k := kb.KindOf(err); k != kb.Invalid && k != kb.Conflict {
		return view{}, err
	}
	p.Problem = plain(err)
	return view{name: "contribute", data: p, status: http.StatusUnprocessableEntity}, nil
}

// contributed reads the form, whether it came with a file or not.
func contributed(r *http.Request) (p contributePage, data []byte, do string, err error) {
	p.base = base{Title: "Contribute", Here: "mine"}
	v := url.Values{}
	parts, err := r.MultipartReader()
	if err != nil { // without a file
		v = r.PostForm
	} else if data, p.File, err = readParts(parts, v); err != nil {
		return p, nil, "", err
	}
	p.URL, p.Licence = strings.TrimSpace(v.Get("url")), v.Get("licence")
	if data == nil {
		p.File, data = path.Base(v.Get("name")), []byte(strings.ReplaceAll(v.Get("text"), "\r\n", "\n"))
		if p.File == "." || p.File == "/" {
			p.File = ""
		}
	}
	if utf8.Valid(data) && len(data) <= maxShownText {
		p.Text = string(data)
	}
	return p, data, v.Get("do"), nil
}

// readParts reads a form with a file in it; a file that is empty was not chosen.
func readParts(parts *multipart.Reader, v url.Values) (data []byte, file string, err error) {
	for {
		part, err := parts.NextPart()
		if err == io.EOF {
			return data, file, nil
		}
		if err != nil {
			return nil, "", tooLong()
		}
		b, err := io.ReadAll(part)
		if err != nil {
			return nil, "", tooLong()
		}
		if part.FormName() != "file" {
			v.Add(part.FormName(), string(b))
		} else if len(b) > 0 {
			data, file = b, path.Base(strings.ReplaceAll(part.FileName(), `\`, "/"))
		}
	}
}

func tooLong() error {
	return kb.Errorf(kb.Invalid, "the write-up did not come whole, or is larger than %d MB", maxUpload>>20)
}

func isAddress(s string) bool {
	u, err := url.Parse(s)
	return err == nil && (u.Scheme == "https" || u.Scheme == "http") && u.Host != ""
}

func (p contributePage) options() ingest.Options {
	return ingest.Options{URL: p.URL, Licence: p.Licence}
}

// understood reads a write-up and keeps nothing.
func (s *Server) understood(p *contributePage, f ingest.File) error {
	read := casebook.ReadFile(f, p.options(), s.book.Reader())
	if read.Err != nil {
		return read.Err
	}
	for i, t := range read.Threads {
		x := readThread{Title: cmp.Or(t.Title, p.File, "your text")}
		source := casebook.SourceText{Source: kb.Source{Writeup: kb.WriteupKey(t.Key), Title: t.Title, URL: t.URL, Licence: t.Licence}}
		for _, post := range t.Posts {
			source.Posts = append(source.Posts, casebook.SourcePost{N: post.N, Author: post.Author, Text: post.Text, Regions: post.Regions})
		}
		shown := anchorsOf([]casebook.SourceText{source})
		all := kb.Case{}
		for _, c := range read.Drafts[i] {
			x.Cases = append(x.Cases, caseRead(c, shown))
			all.StatusEvidence = append(all.StatusEvidence, evidenceOf(c)...)
			p.Cases++
		}
		x.Text = block(source, all)
		p.Read = append(p.Read, x)
	}
	return nil
}

func caseRead(c kb.Case, shown anchors) readCase {
	x := readCase{Title: title(c), Machine: machineWords(c.Machine), Codes: codesOf(c, shown), Facts: factsOf(c, shown), Timeline: timelineOf(c, shown)}
	for _, d := range c.Doubts {
		x.Doubts = append(x.Doubts, aboutWords(d.About, c)+": "+d.Question)
	}
	return x
}

// handIn keeps a write-up and its drafts, which wait for a moderator, and gives where to go on.
func (s *Server) handIn(r *http.Request, f ingest.File, p contributePage) (string, error) {
	one := func(yield func(ingest.File, error) bool) { yield(f, nil) }
	opt := casebook.AddOptions{Contributor: who(r).Name, Read: p.options(), Total: 1}
	var cases []casebook.Added
	err := s.book.Add(context.WithoutCancel(r.Context()), actor(r), iter.Seq2[ingest.File, error](one), opt, func(done casebook.FileReport) error {
		cases = append(cases, done.Cases...)
		return done.Err
	})
	switch {
	case err != nil:
		return "", err
	case len(cases) == 0:
		return "", kb.Errorf(kb.Invalid, "no repair was found in it: a case wants a machine or a code, and what was done")
	case len(cases) == 1 && cases[0].Case.Contributor == who(r).Name:
		return draftPath(cases[0].Case.ID), nil
	}
	return "/mine", nil
}

// minePage lists what a person handed in.
type minePage struct {
	base
	Cases []casebook.Submission
}

func (s *Server) mine(r *http.Request) (view, error) {
	list, err := s.book.Mine(r.Context(), actor(r))
	return view{name: "mine", data: minePage{base{Title: "Your contributions", Here: "mine"}, list}}, err
}
