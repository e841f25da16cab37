package web

import (
	"embed"
	"errors"
	"io/fs"
	"log/slog"
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

//go:embed static
var static embed.FS

// Options say how the pages are served.
type Options struct {
	Log *slog.Logger // of requests, without what was asked; nil: none
}

// Server serves the pages of one book.
type Server struct {
	book  *casebook.Book
	log   *slog.Logger
	pages *pages
	track *trackRecord
}

// New makes the handler of all pages over a book.
func New(b *casebook.Book, opt Options) (http.Handler, error) {
	p, err := loadPages()
	if err != nil {
		return nil, err
	}
	s := &Server{book: b, log: opt.Log, pages: p, track: &trackRecord{book: b}}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	files, err := fs.Sub(static, "static")
	if err != nil {
		return nil, err
	}
	r := chi.NewRouter()
	r.Use(middleware.Recoverer, s.logged, headers, middleware.RequestSize(maxBody), middleware.Compress(5))
	r.Handle("/static/*", http.StripPrefix("/static/", cached(http.FileServerFS(files))))
	r.Get("/", s.page(s.lookUp))
	r.Post("/", s.page(s.lookUp))
	r.Get("/case/{id}", s.page(s.showCase))
	r.Get("/code/{issuer}/{code}", s.page(s.showCode))
	r.Get("/code/{code}", s.page(s.showCode))
	r.Get("/find", s.page(s.find))
	r.Get("/track", s.page(s.trackPage))
	r.NotFound(s.page(func(*http.Request) (view, error) {
		return view{}, kb.Errorf(kb.NotFound, "there is no such page")
	}))
	return r, nil
}

// maxBody bounds what a form may send, in bytes.
const maxBody = 256 << 10

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

// logged writes one line a request: never the query, which may say what somebody asked.
func (s *Server) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		start := time.Now()
		rec := middleware.NewWrapResponseWriter(w, r.ProtoMajor)
		next.ServeHTTP(rec, r)
		query := ""
		if r.URL.RawQuery != "" {
			query = "masked"
		}
		s.log.Info("request", "method", r.Method, "path", r.URL.Path, "query", query, "status", rec.Status(), "bytes", rec.BytesWritten(), "took", time.Since(start).Round(time.Microsecond))
	})
}

// view is what a handler decided to show.
type view struct {
	name   string // of the page's template
	data   any
	status int // 0: 200
}

// page makes a handler of a function that decides what to show. The page is rendered into memory before its first byte is sent; this is the
// only place that turns an error into a page.
func (s *Server) page(decide func(*http.Request) (view, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v, err := decide(r)
		if err != nil {
			v = s.failure(r, err)
		}
		body, err := s.pages.render(v.name, v.data)
		if err != nil {
			s.log.Error("render", "page", v.name, "error", err)
			http.Error(w, "The page could not be made. What you sent was not lost: go back and try again.", http.StatusInternalServerError)
			return
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		if v.status != 0 {
			w.WriteHeader(v.status)
		}
		_, _ = w.Write(body) // nobody is left to tell
	}
}

func (s *Server) failure(r *http.Request, err error) view {
	status := http.StatusInternalServerError
	message := "Something went wrong here; it is written in the log."
	var known *kb.Error
	if errors.As(err, &known) {
		message = err.Error()
		switch known.Kind {
		case kb.NotFound:
			status = http.StatusNotFound
		case kb.Invalid:
			status = http.StatusBadRequest
		case kb.Conflict:
			status = http.StatusConflict
		case kb.Unavailable:
			status = http.StatusServiceUnavailable
		}
	}
	if status == http.StatusInternalServerError {
		s.log.Error("page", "path", r.URL.Path, "error", err)
	}
	return view{"error", errorPage{base{Title: "Not found"}, message}, status}
}
