package web

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

//go:embed static
var static embed.FS

// Options say how the pages are served.
type Options struct {
	Log         *slog.Logger // of requests, without what was asked; nil: none
	Private     bool         // reading needs an account too
	Base        string       // address at which people reach the pages, such as https://cases.example; empty: that of the request
	BehindProxy bool         // the client's address is what the proxy in front says it is (X-Forwarded-For)
}

// Server serves the pages of one book.
type Server struct {
	book     *casebook.Book
	opt      Options
	log      *slog.Logger
	pages    *pages
	track    *trackRecord
	pairs    pairs
	sessions *scs.SessionManager
}

// New makes the handler of all pages over a book.
func New(b *casebook.Book, opt Options) (http.Handler, error) {
	s, err := newServer(b, opt)
	if err != nil {
		return nil, err
	}
	files, err := fs.Sub(static, "static")
	if err != nil {
		return nil, err
	}
	return s.sameOrigin(s.router(http.FileServerFS(files))), nil
}

func newServer(b *casebook.Book, opt Options) (*Server, error) {
	p, err := loadPages()
	if err != nil {
		return nil, err
	}
	s := &Server{book: b, opt: opt, log: opt.Log, pages: p, track: newTrackRecord(b, opt.Log)}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	s.sessions = newSessions(b, opt, func(w http.ResponseWriter, r *http.Request, err error) { s.send(w, r, s.failure(r, err)) })
	return s, nil
}

// router leads each request to its route.
func (s *Server) router(files http.Handler) chi.Router {
	r := chi.NewRouter()
	r.Use(middleware.Recoverer, s.logged, headers, middleware.Compress(5))
	r.Handle("/static/*", http.StripPrefix("/static/", cached(files)))
	r.Group(func(r chi.Router) {
		r.Use(s.sessions.LoadAndSave, s.known)
		for _, rt := range s.routes() {
			r.Method(rt.method, rt.pattern, s.handler(rt))
		}
	})
	nowhere := s.sessions.LoadAndSave(s.known(s.handler(route{open: true, decide: func(*http.Request) (view, error) {
		return view{}, kb.Errorf(kb.NotFound, "there is no such page")
	}})))
	r.NotFound(nowhere.ServeHTTP)
	return r
}

// sameOrigin refuses what another site's page sends in a visitor's name.
func (s *Server) sameOrigin(next http.Handler) http.Handler {
	guard := http.NewCrossOriginProtection()
	guard.SetDenyHandler(headers(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.send(w, r, s.failure(r, kb.Errorf(kb.Forbidden, "this was sent from another site; open the page here and send it again")))
	})))
	return guard.Handler(next)
}

// headers keeps pages to themselves: no other site's script, frame or picture, and no address of ours to other sites.
func headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'self'; img-src 'self' data:; style-src 'self'; script-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'self'")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("X-Content-Type-Options", "nosniff")
		next.ServeHTTP(w, r)
	})
}

func cached(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "public, max-age=3600")
		next.ServeHTTP(w, r)
	})
}

// logged writes one line a request: never the query, which may say what somebody asked, nor the token of a one-time link.
func (s *Server) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		start := time.Now()
		rec := middleware.NewWrapResponseWriter(w, r.ProtoMajor)
		next.ServeHTTP(rec, r)
		path, query := r.URL.Path, ""
		if strings.HasPrefix(path, casebook.LinkPath) {
			path = casebook.LinkPath + "masked"
		}
		if r.URL.RawQuery != "" {
			query = "masked"
		}
		s.log.Info("request", "method", r.Method, "path", path, "query", query, "status", rec.Status(), "bytes", rec.BytesWritten(), "took", time.Since(start).Round(time.Microsecond))
	})
}

// view is what a handler decided to show: a page, another page to go to, or a picture.
type view struct {
	name   string // of the page's template
	data   any
	status int    // 0: 200
	to     string // local path to go to instead, after something was done
	jpeg   []byte // a picture instead
	wait   time.Duration
}

// handler makes a handler of a route. This is the only place that lets people in or not, and that turns an error into a page.
func (s *Server) handler(rt route) http.HandlerFunc {
	limit := rt.limiter()
	return func(w http.ResponseWriter, r *http.Request) {
		if s.tooOften(limit, w, r) {
			s.send(w, r, s.failure(r, errTooOften))
			return
		}
		rt.bound(w, r)
		v, err := s.allowed(rt, r)
		if err != nil {
			v = s.failure(r, err)
		}
		s.send(w, r, v)
	}
}

// send renders a page into memory before its first byte is sent.
func (s *Server) send(w http.ResponseWriter, r *http.Request, v view) {
	h := w.Header()
	if who(r).Name != "" || s.opt.Private {
		h.Add("Cache-Control", "private, no-store")
	}
	switch {
	case v.to != "":
		http.Redirect(w, r, v.to, http.StatusSeeOther)
		return
	case v.jpeg != nil:
		h.Set("Content-Type", "image/jpeg")
		_, _ = w.Write(v.jpeg)
		return
	}
	body, err := s.pages.render(v.name, who(r), v.data)
	if err != nil {
		s.log.Error("render", "page", v.name, "error", err)
		http.Error(w, "The page could not be made. What you sent was not lost: go back and try again.", http.StatusInternalServerError)
		return
	}
	h.Set("Content-Type", "text/html; charset=utf-8")
	if v.wait > 0 {
		h.Set("Retry-After", fmt.Sprintf("%.0f", max(1, v.wait.Seconds())))
	}
	if v.status != 0 {
		w.WriteHeader(v.status)
	}
	_, _ = w.Write(body) // nobody is left to tell
}

// errTooOften is what whoever does something too often is told.
var errTooOften = kb.Errorf(kb.Unavailable, "this was done too often within an hour; what you sent was not taken: go back, and send it again later")

// statusOf gives the HTTP status of an error.
func statusOf(err error) int {
	var wait *casebook.Wait
	if errors.As(err, &wait) || errors.Is(err, errTooOften) {
		return http.StatusTooManyRequests
	}
	switch kb.KindOf(err) {
	case kb.NotFound:
		return http.StatusNotFound
	case kb.Invalid:
		return http.StatusBadRequest
	case kb.Conflict:
		return http.StatusConflict
	case kb.Forbidden:
		return http.StatusForbidden
	case kb.Unavailable:
		return http.StatusServiceUnavailable
	}
	return http.StatusInternalServerError
}

// titles of the pages that tell what did not work.
var failureTitles = map[int]string{
	http.StatusNotFound: "Not found", http.StatusBadRequest: "Not understood", http.StatusConflict: "Does not fit", http.StatusForbidden: "Not allowed",
	http.StatusServiceUnavailable: "Not now", http.StatusTooManyRequests: "Too often", http.StatusInternalServerError: "A fault here",
}

func (s *Server) failure(r *http.Request, err error) view {
	status, message := statusOf(err), err.Error()
	if status == http.StatusInternalServerError {
		s.log.Error("page", "path", r.URL.Path, "error", err)
		message = "Something went wrong here; it is written in the log."
	}
	return view{name: "error", data: errorPage{base{Title: failureTitles[status]}, message}, status: status, wait: waitOf(err)}
}

// waitOf gives how long whoever failed too often has to wait.
func waitOf(err error) time.Duration {
	var wait *casebook.Wait
	if errors.As(err, &wait) {
		return wait.For
	}
	return 0
}
