package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/web"
)

// The first administrator comes in by the set-up link, adds somebody, and that person comes in by an invitation: once.
func TestFromSetUpToTheFirstContributor(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	w.stranger().get("/sign-in").holds(t, "Nobody looks after this casebook yet")
	l, err := w.book.SetUpLink(t.Context())
	require.NoError(t, err)
	ash := w.stranger()
	path := casebook.LinkPath + l.Token
	ash.get(path).holds(t, "Set up this casebook")
	p := ash.post(path, url.Values{"name": {"ash"}, "password": {"short"}})
	assert.Equal(t, http.StatusBadRequest, p.status)
	p.holds(t, "is too short")
	assert.Equal(t, "ash", p.fields().Get("name"), "the name stays")
	p = ash.post(path, url.Values{"name": {"ash"}, "password": {password}})
	p.holds(t, "You are signed in as <strong>ash</strong>, administrator")
	assert.Equal(t, http.StatusNotFound, w.stranger().get(path).status, "once")
	w.stranger().get("/sign-in").lacks(t, "Nobody looks after")

	p = ash.post("/people", url.Values{"name": {"Quill"}, "role": {"contributor"}})
	require.Equal(t, http.StatusOK, p.status)
	link := regexp.MustCompile(`http://[^<]+/link/[\w-]+`).FindString(p.body)
	require.True(t, strings.HasPrefix(link, w.URL), link)
	quill := w.stranger()
	invited := strings.TrimPrefix(link, w.URL)
	quill.get(invited).holds(t, "Choose the password of the account <strong>quill</strong>")
	quill.post(invited, url.Values{"password": {password}}).holds(t, "You are signed in as <strong>quill</strong>, contributor")
	assert.Equal(t, http.StatusNotFound, w.stranger().get(invited).status)

	p = ash.post("/people", url.Values{"name": {"no spaces!"}, "role": {"contributor"}})
	assert.Equal(t, http.StatusBadRequest, p.status)
	assert.Equal(t, "no spaces!", p.fieldsOf("/people").Get("name"), "what was typed stays")
}

// A role, a closed account and another password hold from the next request on.
func TestChangesOfAnAccountHoldAtOnce(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	ash, quill := w.person("ash", casebook.Administrator), w.person("quill", casebook.Contributor)
	assert.Equal(t, http.StatusForbidden, quill.get("/people").status)
	ash.post("/people/quill", url.Values{"do": {"role"}, "role": {"administrator"}})
	assert.Equal(t, http.StatusOK, quill.get("/people").status)
	ash.post("/people/quill", url.Values{"do": {"disable"}})
	status, to := quill.still(http.MethodGet, "/jobs")
	assert.Equal(t, http.StatusSeeOther, status)
	assert.Equal(t, "/sign-in?to=%2Fjobs", to)
	assert.Equal(t, http.StatusUnprocessableEntity, quill.post("/sign-in", url.Values{"name": {"quill"}, "password": {password}}).status)
	ash.post("/people/quill", url.Values{"do": {"enable"}})
	quill.post("/sign-in", url.Values{"name": {"quill"}, "password": {password}, "to": {"/jobs"}}).holds(t, "Begin a job sheet")

	tablet := w.stranger()
	tablet.post("/sign-in", url.Values{"name": {"quill"}, "password": {password}})
	wrong := quill.post("/account", url.Values{"present": {"not that one"}, "next": {"four brass washers"}})
	assert.Equal(t, http.StatusUnprocessableEntity, wrong.status)
	wrong.holds(t, "the present password is wrong")
	quill.post("/account", url.Values{"present": {password}, "next": {"four brass washers"}}).holds(t, "The password is changed")
	assert.Equal(t, http.StatusOK, quill.get("/account").status, "who changed it stays signed in")
	status, _ = tablet.still(http.MethodGet, "/account")
	assert.Equal(t, http.StatusSeeOther, status, "all other devices are signed out")

	last := ash.post("/people/quill", url.Values{"do": {"disable"}})
	assert.Equal(t, http.StatusOK, last.status)
	last = ash.post("/people/ash", url.Values{"do": {"disable"}})
	assert.Equal(t, http.StatusConflict, last.status)
	last.holds(t, "make another administrator first")
}

func TestSigningOut(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	quill.post("/sign-out", nil)
	status, _ := quill.still(http.MethodGet, "/account")
	assert.Equal(t, http.StatusSeeOther, status)
}

// Wrong passwords get the same answer whether or not there is such a name, and after some of them a pause.
func TestSignInLimits(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	w.account("quill", casebook.Contributor)
	v := w.stranger()
	known := v.post("/sign-in", url.Values{"name": {"quill"}, "password": {"wrong"}})
	unknown := v.post("/sign-in", url.Values{"name": {"nobody"}, "password": {"wrong"}})
	assert.Equal(t, http.StatusUnprocessableEntity, known.status)
	assert.Equal(t, strings.ReplaceAll(known.body, "quill", "nobody"), unknown.body)
	for range 4 {
		v.post("/sign-in", url.Values{"name": {"quill"}, "password": {"wrong"}})
	}
	p := v.post("/sign-in", url.Values{"name": {"quill"}, "password": {password}})
	assert.Equal(t, http.StatusTooManyRequests, p.status)
	assert.NotEmpty(t, p.header.Get("Retry-After"))
	p.holds(t, "try again in")
	w.now = w.now.Add(2 * time.Second)
	v.post("/sign-in", url.Values{"name": {"quill"}, "password": {password}, "to": {"/account"}}).holds(t, "signed in as")
}

// What was sent without a session goes on after signing in: nothing of it is lost.
func TestAFormWithoutASessionIsKept(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	w.account("quill", casebook.Contributor)
	v := w.stranger()
	look := v.post("/", url.Values{"q": {"P1B77 on a Halden Brisk 3 2019, no cabin heat"}})
	p := v.post("/jobs", look.fieldsOf("/"))
	require.Equal(t, http.StatusUnauthorized, p.status)
	form := p.fieldsOf("/sign-in")
	form.Set("name", "quill")
	form.Set("password", "wrong")
	p = v.post("/sign-in", form)
	require.Equal(t, http.StatusUnprocessableEntity, p.status)
	form = p.fieldsOf("/sign-in")
	form.Set("password", password)
	p = v.post("/sign-in", form)
	p.holds(t, "What you had sent before is kept here")
	p = v.post("/jobs", p.fieldsOf("/jobs"))
	require.Equal(t, http.StatusOK, p.status)
	p.holds(t, "Halden Brisk 3 2019, P1B77, 2024-03-01")
	assert.Equal(t, "no cabin heat", p.fields()["symptom"][0])
}

// Another site's page cannot act in a visitor's name, and no link of ours leads to another site.
func TestOtherSites(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	r, err := http.NewRequest(http.MethodPost, w.URL+"/jobs", strings.NewReader("name=evil"))
	require.NoError(t, err)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	got, err := quill.client.Do(r)
	p := answer(t, got, err)
	assert.Equal(t, http.StatusForbidden, p.status)
	p.holds(t, "sent from another site")
	p.holds(t, "ruledout</title>")
	for in, want := range map[string]string{"/jobs?x=1": "/jobs?x=1", "//evil.example": "/", "https://evil.example/": "/", `/\evil.example`: "/", "evil": "/", "": "/", "/a\r\nb": "/"} {
		assert.Equal(t, want, web.LocalPath(in), in)
	}
}

// The log says nothing of one-time links; pages of a person are kept by no cache, and the cookie by no script.
func TestNothingOfAPersonLeaks(t *testing.T) {
	w := newWorkshop(t, web.Options{Base: "https://cases.example"})
	v := w.stranger()
	w.account("quill", casebook.Contributor)
	r, err := v.client.PostForm(w.URL+"/sign-in", url.Values{"name": {"quill"}, "password": {password}, "to": {"/find"}})
	require.NoError(t, err)
	_ = r.Body.Close()
	cookie := r.Request.Response.Header.Get("Set-Cookie")
	for _, want := range []string{"HttpOnly", "SameSite=Lax", "Secure"} {
		assert.Contains(t, cookie, want)
	}
	plain := newWorkshop(t, web.Options{})
	p := plain.person("quill", casebook.Contributor).get("/find")
	assert.Contains(t, strings.Join(p.header.Values("Cache-Control"), ","), "no-store")
	assert.NotContains(t, strings.Join(plain.stranger().get("/find").header.Values("Cache-Control"), ","), "no-store")
}

// An account does some things only so often within an hour, whatever others do.
func TestLimitsOfAnAccount(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill, reed := w.person("quill", casebook.Contributor), w.person("reed", casebook.Contributor)
	for i := range 60 {
		require.NotEqual(t, http.StatusTooManyRequests, quill.post("/case/w1/held", url.Values{"held": {"perhaps"}}).status, i)
	}
	p := quill.post("/case/w1/held", url.Values{"held": {"yes"}})
	assert.Equal(t, http.StatusTooManyRequests, p.status)
	assert.NotEmpty(t, p.header.Get("Retry-After"))
	p.holds(t, "too often within an hour")
	assert.Equal(t, http.StatusBadRequest, reed.post("/case/w1/held", url.Values{"held": {"perhaps"}}).status)
}
