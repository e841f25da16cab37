package web

import (
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/go-chi/httprate"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

// route is one row of the permission table: who may do what.
type route struct {
	method, pattern string
	needs           casebook.Role // least role; Reader: no account, unless the workshop is private
	open            bool          // without an account in a private workshop too
	body            int64         // most bytes that may be sent, 0: maxBody
	perHour         int           // how often an account may do it, without one an address; 0: as often as it likes
	decide          func(*http.Request) (view, error)
}

// Bounds on what may be sent, in bytes.
const (
	maxBody    = 256 << 10
	maxSettled = 3 << 20                         // a whole sheet, encoded in a form
	maxPhoto   = casebook.MaxPhotoBytes + 64<<10 // and the form around it
)

// photoTime is how long sending a photo may take: a phone in a garage has a slow line.
const photoTime = 5 * time.Minute

// routes is the permission table.
func (s *Server) routes() []route {
	const reader, contributor, moderator, administrator = casebook.Reader, casebook.Contributor, casebook.Moderator, casebook.Administrator
	get, post := http.MethodGet, http.MethodPost
	return []route{
		{method: get, pattern: "/", needs: reader, decide: s.lookUp},
		{method: post, pattern: "/", needs: reader, decide: s.lookUp},
		{method: get, pattern: "/case/{id}", needs: reader, decide: s.showCase},
		{method: post, pattern: "/case/{id}/held", needs: contributor, perHour: 60, decide: s.followUp},
		{method: get, pattern: "/code/{issuer}/{code}", needs: reader, decide: s.showCode},
		{method: get, pattern: "/code/{code}", needs: reader, decide: s.showCode},
		{method: get, pattern: "/find", needs: reader, decide: s.find},
		{method: get, pattern: "/track", needs: reader, decide: s.trackPage},

		{method: get, pattern: "/sign-in", open: true, decide: s.signInPage},
		{method: post, pattern: "/sign-in", open: true, perHour: 300, decide: s.signIn},
		{method: get, pattern: casebook.LinkPath + "{token}", open: true, decide: s.linkPage},
		{method: post, pattern: casebook.LinkPath + "{token}", open: true, perHour: 60, decide: s.useLink},
		{method: post, pattern: "/sign-out", needs: contributor, decide: s.signOut},
		{method: get, pattern: "/account", needs: contributor, decide: s.accountPage},
		{method: post, pattern: "/account", needs: contributor, decide: s.setPassword},

		{method: get, pattern: "/jobs", needs: contributor, decide: s.jobs},
		{method: post, pattern: "/jobs", needs: contributor, perHour: 120, decide: s.keep},
		{method: get, pattern: "/jobs/{id}", needs: contributor, decide: s.job},
		{method: post, pattern: "/jobs/{id}", needs: contributor, decide: s.saveJob},
		{method: post, pattern: "/jobs/{id}/settle", needs: contributor, body: maxSettled, decide: s.settleJob},
		{method: post, pattern: "/jobs/{id}/note", needs: contributor, decide: s.adding(addition{"notes", s.addNote})},
		{method: post, pattern: "/jobs/{id}/labour", needs: contributor, decide: s.adding(addition{"money", s.addLabour})},
		{method: post, pattern: "/jobs/{id}/part", needs: contributor, decide: s.adding(addition{"money", s.addPart})},
		{method: post, pattern: "/jobs/{id}/money", needs: contributor, decide: s.setMoney},
		{method: post, pattern: "/jobs/{id}/member", needs: contributor, decide: s.adding(addition{"people", s.addMember})},
		{method: post, pattern: "/jobs/{id}/member/remove", needs: contributor, decide: s.removeMember},
		{method: post, pattern: "/jobs/{id}/photo", needs: contributor, body: maxPhoto, perHour: 240, decide: s.addPhoto},
		{method: get, pattern: "/jobs/{id}/photo/{n}", needs: contributor, decide: s.photo(false)},
		{method: get, pattern: "/jobs/{id}/photo/{n}/small", needs: contributor, decide: s.photo(true)},
		{method: post, pattern: "/jobs/{id}/photo/{n}/delete", needs: contributor, decide: s.deletePhoto},
		{method: get, pattern: "/jobs/{id}/print", needs: contributor, decide: s.printJob},
		{method: get, pattern: "/jobs/{id}/history", needs: contributor, decide: s.jobHistory},
		{method: get, pattern: "/jobs/{id}/close", needs: contributor, decide: s.closePage},
		{method: post, pattern: "/jobs/{id}/close", needs: contributor, decide: s.closeJob},
		{method: post, pattern: "/jobs/{id}/share", needs: contributor, decide: s.shareJob},
		{method: post, pattern: "/jobs/{id}/held", needs: contributor, decide: s.answerReminder},
		{method: post, pattern: "/jobs/{id}/delete", needs: contributor, decide: s.deleteJob},

		{method: get, pattern: "/contribute", needs: contributor, decide: s.contributePage},
		{method: post, pattern: "/contribute", needs: contributor, body: maxUpload + maxBody, perHour: 120, decide: s.contribute},
		{method: get, pattern: "/mine", needs: contributor, decide: s.mine},
		{method: get, pattern: "/draft/{id}", needs: contributor, decide: s.draftPage},
		{method: post, pattern: "/draft/{id}", needs: contributor, perHour: 600, decide: s.correctDraft},
		{method: post, pattern: "/draft/{id}/decide", needs: moderator, decide: s.decideDraft},
		{method: get, pattern: "/review", needs: moderator, decide: s.review},
		{method: get, pattern: "/duplicates", needs: moderator, decide: s.duplicates},
		{method: get, pattern: "/duplicates/{a}/{b}", needs: moderator, decide: s.pairPage},
		{method: post, pattern: "/duplicates/{a}/{b}/apart", needs: moderator, decide: s.keepApart},
		{method: post, pattern: "/duplicates/{a}/{b}/merge", needs: moderator, decide: s.mergePair},
		{method: post, pattern: "/draft/{id}/unmerge", needs: moderator, decide: s.unmerge},
		{method: get, pattern: "/terms", needs: moderator, decide: s.termsPage},
		{method: post, pattern: "/terms", needs: moderator, decide: s.decideTerm},

		{method: get, pattern: "/people", needs: administrator, decide: s.peoplePage},
		{method: post, pattern: "/people", needs: administrator, decide: s.addPerson},
		{method: post, pattern: "/people/{name}", needs: administrator, decide: s.changePerson},
		{method: post, pattern: "/people/erase/{sheet}", needs: administrator, decide: s.eraseSheet},
	}
}

// bound limits what is read of a request. It is told as an error where the form is parsed.
func (rt route) bound(w http.ResponseWriter, r *http.Request) {
	limit := int64(maxBody)
	if rt.body > 0 {
		limit = rt.body
		_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(photoTime)) // where the server can: else its own time limit holds
	}
	r.Body = http.MaxBytesReader(w, r.Body, limit)
}

// limiter counts how often a route is used; nil where it has no limit.
func (rt route) limiter() *httprate.RateLimiter {
	if rt.perHour == 0 {
		return nil
	}
	none := httprate.ResponseHeaders{RetryAfter: "Retry-After"} // the rest tells whoever attacks how to pace it
	return httprate.NewRateLimiter(rt.perHour, time.Hour, httprate.WithResponseHeaders(none))
}

// tooOften tells whether a request is one too many of its account, or of its address where it has none.
func (s *Server) tooOften(limit *httprate.RateLimiter, w http.ResponseWriter, r *http.Request) bool {
	return limit != nil && limit.OnLimit(w, r, s.limitKey(r))
}

func (s *Server) limitKey(r *http.Request) string {
	if me := who(r); me.Name != "" {
		return "account " + me.Name
	}
	return "address " + s.address(r)
}

// allowed lets a request through to its handler, or asks who it is.
func (s *Server) allowed(rt route, r *http.Request) (view, error) {
	me := who(r)
	if me.Name == "" && !rt.open && (s.opt.Private || rt.needs > casebook.Reader) {
		return s.askWho(rt, r)
	}
	if me.Role < rt.needs {
		return view{}, kb.Errorf(kb.Forbidden, "this is for a %s; you are signed in as %s, a %s", rt.needs, me.Name, me.Role)
	}
	if r.Method == http.MethodPost { // of a form with a file in it only the address is read here
		if err := parseForm(r); err != nil {
			return view{}, err
		}
	}
	return rt.decide(r)
}

// askWho leads to the page for signing in. What was sent without a session, because it has ended, is kept on that page.
func (s *Server) askWho(rt route, r *http.Request) (view, error) {
	if r.Method == http.MethodGet {
		return view{to: "/sign-in?" + url.Values{"to": {r.URL.RequestURI()}}.Encode()}, nil
	}
	p := signInPage{base: base{Title: "Sign in", Here: "account"}, To: r.URL.Path}
	if rt.body == maxPhoto {
		p.To, p.Problem = strings.TrimSuffix(p.To, "/photo"), "You are not signed in any more. Sign in, and choose the photo again: it was not kept."
	} else {
		v, err := sentForm(r)
		if err != nil {
			return view{}, err
		}
		p.Kept, p.Problem = v.Encode(), "You are not signed in. What you typed is kept on this page: sign in, and it goes on. A file has to be chosen again."
	}
	return view{name: "sign-in", data: p, status: http.StatusUnauthorized}, nil
}

// sentForm gives the fields of a form, whichever way it was sent, without its files.
func sentForm(r *http.Request) (url.Values, error) {
	parts, err := r.MultipartReader()
	if err != nil {
		err = parseForm(r)
		return r.PostForm, err
	}
	v := url.Values{}
	_, _, err = readParts(parts, v)
	return v, err
}

// parseForm reads the form of a request.
func parseForm(r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return kb.Errorf(kb.Invalid, "the form is longer than %d kB or not whole: nothing was done with it", maxBody>>10)
	}
	return nil
}

// localPath gives a path of this site to go to, "/" for anything else: nobody is led to another site by a link to here.
func localPath(s string) string {
	u, err := url.Parse(s)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(s, "/") || strings.HasPrefix(s, "//") || strings.ContainsAny(s, "\\\r\n\t") {
		return "/"
	}
	return s
}
