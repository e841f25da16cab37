package web_test

import (
	"bytes"
	"context"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"ruledout/internal/casebook"
	"ruledout/web"
)

// password is what everybody in these tests signs in with.
const password = "three brass washers"

// workshop is a server over a book of its own, which a test may change, with a clock that it sets.
type workshop struct {
	*httptest.Server
	t    testing.TB
	book *casebook.Book
	now  time.Time
}

// records are the cases of a workshop's book.
const records = `{"v":1,"id":"w1","title":"Cold heater","machine":{"kind":"van","make":"Halden","model":"Brisk 3","year":2019},"codes":["P1B77"],"symptoms":["no cabin heat"],"tests":[{"step":1,"test":"coil resistance","component":"heater relay","result":"fail","reading":{"value":300,"unit":"ohm","limit":{"low":75,"high":95,"unit":"ohm"}}}],"fixes":[{"step":2,"action":"replace","component":"heater relay","outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"verified"}
{"v":1,"id":"w2","machine":{"kind":"van","make":"Halden","model":"Brisk 3","year":2018},"codes":["P1B77"],"symptoms":["no cabin heat"],"tests":[{"step":1,"test":"coil resistance","component":"heater relay","result":"pass","reading":{"value":84,"unit":"ohm"}}],"fixes":[{"step":2,"action":"repair","component":"heater wiring harness","outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"reported"}
{"v":1,"id":"w3","machine":{"kind":"van","make":"Halden","model":"Brisk 3","year":2020},"codes":["P1B77"],"symptoms":["no cabin heat"],"fixes":[{"step":1,"action":"replace","component":"heater relay","outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"reported"}
{"v":1,"id":"w4","state":"draft","machine":{"kind":"van","make":"Halden","model":"Brisk 3"},"codes":["P1B77"],"fixes":[{"step":1,"action":"replace","component":"heater fuse","outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"reported"}
`

// keeper may do everything, from outside the pages.
var keeper = casebook.Actor{Name: "keeper", Role: casebook.Administrator}

func newWorkshop(t testing.TB, opt web.Options) *workshop {
	t.Helper()
	w := &workshop{t: t, now: time.Date(2024, 3, 1, 9, 0, 0, 0, time.UTC)}
	var err error
	w.book, err = casebook.Open(context.Background(), casebook.Options{Dir: t.TempDir(), Now: func() time.Time { return w.now }})
	require.NoError(t, err)
	_, err = w.book.Import(context.Background(), keeper, strings.NewReader(records), casebook.ImportOptions{})
	require.NoError(t, err)
	h, err := web.New(w.book, opt)
	require.NoError(t, err)
	w.Server = httptest.NewServer(h)
	t.Cleanup(func() { w.Close(); _ = w.book.Close() })
	return w
}

// visitor is one person's browser.
type visitor struct {
	t      testing.TB
	client *http.Client
	base   string
	name   string
}

// stranger is somebody who is not signed in.
func (w *workshop) stranger() *visitor {
	jar, err := cookiejar.New(nil)
	require.NoError(w.t, err)
	return &visitor{w.t, &http.Client{Jar: jar}, w.URL, ""}
}

// person makes an account with a password and signs its person in through the pages.
func (w *workshop) person(name string, role casebook.Role) *visitor {
	w.t.Helper()
	w.account(name, role)
	v := w.stranger()
	v.name = name
	p := v.post("/sign-in", url.Values{"name": {name}, "password": {password}, "to": {"/account"}})
	require.Equal(w.t, http.StatusOK, p.status)
	p.holds(w.t, "You are signed in as <strong>"+name)
	return v
}

func (w *workshop) account(name string, role casebook.Role) {
	w.t.Helper()
	ctx := context.Background()
	_, err := w.book.AddUser(ctx, keeper, name, role)
	require.NoError(w.t, err)
	l, err := w.book.NewLink(ctx, keeper, name)
	require.NoError(w.t, err)
	_, err = w.book.UseLink(ctx, l.Token, "", password)
	require.NoError(w.t, err)
}

func (v *visitor) get(path string) page {
	r, err := v.client.Get(v.base + path)
	return answer(v.t.(require.TestingT), r, err)
}

func (v *visitor) post(path string, form url.Values) page {
	r, err := v.client.PostForm(v.base+path, form)
	return answer(v.t.(require.TestingT), r, err)
}

// upload sends a file in a form of several parts.
func (v *visitor) upload(path, field, file string, data []byte, fields map[string]string) page {
	var body bytes.Buffer
	m := multipart.NewWriter(&body)
	for name, value := range fields {
		require.NoError(v.t, m.WriteField(name, value))
	}
	part, err := m.CreateFormFile(field, file)
	require.NoError(v.t, err)
	_, err = part.Write(data)
	require.NoError(v.t, err)
	require.NoError(v.t, m.Close())
	r, err := v.client.Post(v.base+path, m.FormDataContentType(), &body)
	return answer(v.t.(require.TestingT), r, err)
}

// still sends a request without following where it leads, and gives the status and the address it leads to.
func (v *visitor) still(method, path string) (int, string) {
	client := *v.client
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	r, err := http.NewRequest(method, v.base+path, http.NoBody)
	require.NoError(v.t, err)
	if method == http.MethodPost {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	got, err := client.Do(r)
	require.NoError(v.t, err)
	_ = got.Body.Close()
	return got.StatusCode, got.Header.Get("Location")
}

// fieldsOf gives the fields of the form that is sent to an address.
func (p page) fieldsOf(action string) url.Values {
	if form := firstNode(p.root, func(n *html.Node) bool { return n.Data == "form" && attr(n, "action") == action }); form != nil {
		return page{root: form}.fields()
	}
	return url.Values{}
}

// firstNode gives the first element of a page that fits, nil if there is none.
func firstNode(n *html.Node, fits func(*html.Node) bool) *html.Node {
	if n.Type == html.ElementNode && fits(n) {
		return n
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if x := firstNode(c, fits); x != nil {
			return x
		}
	}
	return nil
}
