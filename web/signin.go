package web

import (
	"context"
	"errors"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/go-chi/chi/v5"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// sessionLasts is how long one stays signed in: a workshop's tablet is not asked every morning.
const sessionLasts = 14 * 24 * time.Hour

// What a session remembers of its person.
const (
	sessionName  = "name"
	sessionStamp = "stamp"
)

// newSessions makes the manager of sessions. It is not made by scs.New, whose store in memory would go on cleaning itself beside ours.
func newSessions(b *casebook.Book, opt Options, failed func(http.ResponseWriter, *http.Request, error)) *scs.SessionManager {
	return &scs.SessionManager{
		Lifetime: sessionLasts, Store: b.Sessions(), Codec: scs.GobCodec{}, ErrorFunc: failed,
		Cookie: scs.SessionCookie{Name: "ruledout", Path: "/", HttpOnly: true, Persist: true, SameSite: http.SameSiteLaxMode, Secure: strings.HasPrefix(opt.Base, "https://")},
	}
}

type personKey struct{}

// who gives the person who is signed in; a Person without a name is nobody.
func who(r *http.Request) casebook.Person {
	p, _ := r.Context().Value(personKey{}).(casebook.Person)
	return p
}

// actor gives whoever asks, for what the book lets them do.
func actor(r *http.Request) casebook.Actor { return who(r).Actor() }

// known finds out who is signed in, with the role that they have now.
func (s *Server) known(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		ctx := r.Context()
		if name := s.sessions.GetString(ctx, sessionName); name != "" {
			p, err := s.book.SignedIn(ctx, name, s.sessions.GetInt64(ctx, sessionStamp))
			switch {
			case err == nil:
				ctx = context.WithValue(ctx, personKey{}, p)
			case kb.KindOf(err) == kb.Forbidden:
				err = s.sessions.Destroy(ctx)
			}
			if err != nil {
				s.send(w, r, s.failure(r, err))
				return
			}
		}
		next.ServeHTTP(w, r.WithContext(ctx))
	})
}

// begin signs a person in under a new token.
func (s *Server) begin(ctx context.Context, p casebook.Person) error {
	if err := s.sessions.RenewToken(ctx); err != nil {
		return kb.Errorf(kb.Unavailable, "sign in: %w", err)
	}
	s.sessions.Put(ctx, sessionName, p.Name)
	s.sessions.Put(ctx, sessionStamp, p.Stamp)
	return nil
}

// signInPage asks for a name and a password.
type signInPage struct {
	base
	Name    string
	To      string // where to go on
	Kept    string // a form that was sent without a session, encoded; sent on after signing in
	Problem string
	SetUp   bool // nobody can sign in as administrator yet
}

func (s *Server) signInPage(r *http.Request) (view, error) {
	if who(r).Name != "" {
		return view{to: localPath(r.URL.Query().Get("to"))}, nil
	}
	setUp, err := s.book.NeedsSetUp(r.Context())
	p := signInPage{base: base{Title: "Sign in", Here: "account"}, To: localPath(r.URL.Query().Get("to")), SetUp: setUp}
	return view{name: "sign-in", data: p}, err
}

// keptPage sends on what was sent without a session.
type keptPage struct {
	base
	To     string
	Fields []keptField
}

type keptField struct{ Name, Value string }

func (s *Server) signIn(r *http.Request) (view, error) {
	f := r.PostForm
	p := signInPage{base: base{Title: "Sign in", Here: "account"}, Name: f.Get("name"), To: localPath(f.Get("to")), Kept: f.Get("kept")}
	me, err := s.book.SignIn(r.Context(), p.Name, f.Get("password"), s.address(r))
	if status := formStatus(err); err != nil && status != http.StatusInternalServerError {
		p.Problem = plain(err)
		return view{name: "sign-in", data: p, status: status, wait: waitOf(err)}, nil
	}
	if err == nil {
		err = s.begin(r.Context(), me)
	}
	if err != nil || p.Kept == "" {
		return view{to: p.To}, err
	}
	return view{name: "kept", data: keptPage{base{Title: "You are signed in", Here: "account"}, p.To, keptFields(p.Kept)}}, nil
}

// formStatus is statusOf for a form with a password in it: a wrong one is a field to be put right, and forbids nothing.
func formStatus(err error) int {
	if status := statusOf(err); status != http.StatusForbidden {
		return status
	}
	return http.StatusUnprocessableEntity
}

func keptFields(encoded string) []keptField {
	var out []keptField
	for pair := range strings.SplitSeq(encoded, "&") { // in the order of the form, which url.Values would lose
		name, value, _ := strings.Cut(pair, "=")
		n, err1 := url.QueryUnescape(name)
		v, err2 := url.QueryUnescape(value)
		if err1 == nil && err2 == nil && n != "" {
			out = append(out, keptField{n, v})
		}
	}
	return out
}

func (s *Server) signOut(r *http.Request) (view, error) {
	return view{to: "/"}, s.sessions.Destroy(r.Context())
}

// address gives where a request comes from, without the port.
func (s *Server) address(r *http.Request) string {
	if s.opt.BehindProxy {
		list := strings.Split(r.Header.Get("X-Forwarded-For"), ",") // the last entry is the proxy's own: those before it can be made up
		if last := strings.TrimSpace(list[len(list)-1]); last != "" {
			return last
		}
	}
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}

// linkPage is what a one-time link opens.
type linkPage struct {
	base
	Link    casebook.Link
	Path    string
	Name    string // as typed, with a set-up link
	Problem string
	Least   int // characters of a password
}

func (s *Server) linkPage(r *http.Request) (view, error) {
	l, err := s.book.LookLink(r.Context(), chi.URLParam(r, "token"))
	return view{name: "link", data: newLinkPage(r, l)}, err
}

func newLinkPage(r *http.Request, l casebook.Link) linkPage {
	title := map[casebook.LinkKind]string{casebook.SetUp: "Set up this casebook", casebook.Invitation: "Welcome", casebook.Reset: "Set another password"}[l.Kind]
	return linkPage{base: base{Title: title, Here: "account"}, Link: l, Path: r.URL.EscapedPath(), Least: casebook.MinPassword}
}

func (s *Server) useLink(r *http.Request) (view, error) {
	token := chi.URLParam(r, "token")
	l, err := s.book.LookLink(r.Context(), token)
	if err != nil {
		return view{}, err
	}
	p := newLinkPage(r, l)
	p.Name = r.PostForm.Get("name")
	me, err := s.book.UseLink(r.Context(), token, p.Name, r.PostForm.Get("password"))
	if status := statusOf(err); err != nil && status != http.StatusInternalServerError {
		p.Problem = plain(err)
		return view{name: "link", data: p, status: status}, nil
	}
	if err != nil {
		return view{}, err
	}
	return view{to: "/account"}, s.begin(r.Context(), me)
}

// accountPage is a person's own account.
type accountPage struct {
	base
	Me      casebook.Person
	Problem string
	Done    string
	Least   int
}

func (s *Server) accountPage(r *http.Request) (view, error) {
	return view{name: "account", data: accountOf(r)}, nil
}

func accountOf(r *http.Request) accountPage {
	return accountPage{base: base{Title: "Your account", Here: "account"}, Me: who(r), Least: casebook.MinPassword}
}

func (s *Server) setPassword(r *http.Request) (view, error) {
	p := accountOf(r)
	me, err := s.book.SetPassword(r.Context(), p.Me.Name, r.PostForm.Get("present"), r.PostForm.Get("next"), s.address(r))
	if status := formStatus(err); err != nil && status != http.StatusInternalServerError {
		p.Problem = strings.Replace(plain(err), "the name or the password is wrong", "the present password is wrong", 1)
		return view{name: "account", data: p, status: status, wait: waitOf(err)}, nil
	}
	if err == nil {
		err = s.begin(r.Context(), me)
	}
	p.Done = "The password is changed. Other devices have to sign in again."
	return view{name: "account", data: p}, err
}

// plain gives what an error says to a person who has the field before them.
func plain(err error) string {
	var e *kb.Error
	if errors.As(err, &e) && e.Field != "" && e.Msg != "" {
		return e.Field + ": " + e.Msg
	}
	return err.Error()
}
