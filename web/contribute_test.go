package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/web"
)

const writeup = "Halden Brisk 3 2019, code P1B77, no cabin heat. The heater fuse is good. Replaced the heater relay and the heat is back. Call Jo on +49 30 1234567."

// What is handed in is looked at first, masked, with its facts marked; nothing of it is kept before.
func TestLookingBeforeHandingIn(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	p := quill.post("/contribute", url.Values{"text": {writeup}, "url": {"https://sheds.example/1"}, "licence": {"CC BY-SA 4.0"}, "do": {"read"}})
	require.Equal(t, http.StatusOK, p.status)
	for _, want := range []string{"What fixed it", "replace heater relay", "<mark", "Hand it in"} {
		p.holds(t, want)
	}
	for _, a := range p.links("#w-") {
		p.holds(t, `id="`+strings.TrimPrefix(a, "#")+`"`)
	}
	shown := firstNode(p.root, func(n *html.Node) bool { return attr(n, "class") == "shown" })
	assert.NotContains(t, text(shown), "1234567", "as it would be kept")
	f := p.fieldsOf("/contribute")
	assert.Equal(t, writeup, strings.TrimSpace(f.Get("text")), "what was typed stays")
	assert.Equal(t, "https://sheds.example/1", f.Get("url"))
	mine, err := w.book.Mine(t.Context(), casebook.Actor{Name: "quill", Role: casebook.Contributor})
	require.NoError(t, err)
	assert.Empty(t, mine)
	for _, bad := range []url.Values{{"text": {""}}, {"text": {writeup}, "url": {"sheds"}}, {"text": {"nothing to do with a machine"}, "do": {"hand in"}, "licence": {"CC BY 4.0"}}} {
		p := quill.post("/contribute", bad)
		assert.Equal(t, http.StatusUnprocessableEntity, p.status, bad)
		assert.Equal(t, bad.Get("text"), strings.TrimSpace(p.fieldsOf("/contribute").Get("text")))
	}
}

// From the write-up to the published case: handed in, put right by its contributor, sent back with a reason, put right again, accepted.
func TestFromTheWriteUpToTheCase(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill, fern := w.person("quill", casebook.Contributor), w.person("fern", casebook.Moderator)
	p := quill.post("/contribute", url.Values{"text": {writeup}, "licence": {"CC BY-SA 4.0"}, "do": {"hand in"}})
	require.Equal(t, http.StatusOK, p.status)
	mine, err := w.book.Mine(t.Context(), casebook.Actor{Name: "quill", Role: casebook.Contributor})
	require.NoError(t, err)
	require.Len(t, mine, 1)
	id := string(mine[0].ID)
	path := "/draft/" + id
	assert.Equal(t, http.StatusNotFound, w.person("reed", casebook.Contributor).get(path).status, "somebody else's draft")
	assert.Equal(t, http.StatusNotFound, w.stranger().get("/case/"+id).status)

	f := quill.get(path).fieldsOf(path)
	f.Set("variant", "long wheelbase")
	p = quill.post(path, f)
	require.Equal(t, http.StatusOK, p.status)
	assert.Equal(t, "long wheelbase", p.fieldsOf(path).Get("variant"))
	bad := p.fieldsOf(path)
	bad["fix"][0] = "frobnicate it"
	bad.Set("title", "my own title")
	p = quill.post(path, bad)
	assert.Equal(t, http.StatusBadRequest, p.status)
	p.holds(t, "nothing was saved")
	assert.Contains(t, p.fieldsOf(path)["fix"], "frobnicate it")
	assert.Equal(t, "my own title", p.fieldsOf(path).Get("title"))

	fern.get("/review").holds(t, id)
	decide := path + "/decide"
	f = fern.get(path).fieldsOf(decide)
	p = fern.post(decide, url.Values{"revision": f["revision"], "do": {"send back"}})
	assert.Equal(t, http.StatusBadRequest, p.status)
	p.holds(t, "say why")
	fern.post(decide, url.Values{"revision": f["revision"], "do": {"send back"}, "reason": {"which relay was it?"}})
	quill.get("/mine").holds(t, "which relay was it?")
	p = quill.get(path)
	p.holds(t, "which relay was it?")
	f = p.fieldsOf(path)
	stale := fern.get(path).fieldsOf(decide)
	f["settled"] = []string{"0", "1", "2", "3", "4", "5", "6", "7", "8", "9"}
	require.Equal(t, http.StatusOK, quill.post(path, f).status)
	p = fern.post(decide, url.Values{"revision": stale["revision"], "do": {"accept"}})
	assert.Equal(t, http.StatusConflict, p.status, "it was changed meanwhile")
	p.holds(t, "was changed meanwhile")
	p = fern.post(decide, url.Values{"revision": p.fieldsOf(decide)["revision"], "do": {"accept"}})
	require.Equal(t, http.StatusOK, p.status)
	c := w.stranger().get("/case/" + id)
	require.Equal(t, http.StatusOK, c.status)
	c.holds(t, "CC BY-SA 4.0")
	c.lacks(t, "1234567")
	quill.get("/mine").holds(t, "published")
	quill.get(path).lacks(t, "Save what was put right")
}

// A file is read as what it is; one that cannot be read says why.
func TestHandingInAFile(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	p := quill.upload("/contribute", "file", `C:\stuff\story.md`, []byte("# P1B77\n\n"+writeup), map[string]string{"do": "read", "text": "", "url": "", "licence": ""})
	require.Equal(t, http.StatusOK, p.status)
	p.holds(t, "from story.md")
	p.holds(t, "What fixed it")
	f := p.fieldsOf("/contribute")
	f.Set("do", "hand in")
	quill.post("/contribute", f).holds(t, "The text")
	p = quill.upload("/contribute", "file", "broken.zip", []byte("PK\x03\x04 nothing of the kind \xff"), map[string]string{"do": "read", "url": "https://sheds.example/2"})
	assert.Equal(t, http.StatusUnprocessableEntity, p.status)
	assert.Equal(t, "https://sheds.example/2", p.fieldsOf("/contribute").Get("url"))
	big := quill.upload("/contribute", "file", "big.txt", []byte(strings.Repeat("words ", 1<<20)), map[string]string{"do": "read"})
	assert.Equal(t, http.StatusBadRequest, big.status)
	big.holds(t, "larger than")
}

// A write-up that was typed without a session is kept while signing in.
func TestAWriteUpWithoutASessionIsKept(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	w.account("quill", casebook.Contributor)
	v := w.stranger()
	p := v.upload("/contribute", "file", "", nil, map[string]string{"text": writeup, "do": "read", "licence": "CC BY 4.0"})
	require.Equal(t, http.StatusUnauthorized, p.status)
	form := p.fieldsOf("/sign-in")
	form.Set("name", "quill")
	form.Set("password", password)
	p = v.post("/sign-in", form)
	p = v.post("/contribute", p.fieldsOf("/contribute"))
	p.holds(t, "What fixed it")
	assert.Equal(t, writeup, strings.TrimSpace(p.fieldsOf("/contribute").Get("text")))
}

// The queue leads from case to case until nothing waits.
func TestThroughTheQueue(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill, fern := w.person("quill", casebook.Contributor), w.person("fern", casebook.Moderator)
	for i := range 3 {
		quill.post("/contribute", url.Values{"text": {fmt.Sprintf("My Halden Brisk 3 201%d had P1B7%d and no cabin heat. Replaced the heater relay, fixed.", i, i)}, "do": {"hand in"}})
	}
	q, err := w.book.Queue(t.Context(), 0, 0)
	require.NoError(t, err)
	total := q.Total
	require.GreaterOrEqual(t, total, 4)
	p := fern.get("/draft/" + string(q.Waiting[0].ID))
	var seen []string
	for range total {
		form := firstNode(p.root, func(n *html.Node) bool { return strings.HasSuffix(attr(n, "action"), "/decide") })
		require.NotNil(t, form)
		action := attr(form, "action")
		require.False(t, slices.Contains(seen, action))
		seen = append(seen, action)
		p = fern.post(action, url.Values{"revision": p.fieldsOf(action)["revision"], "do": {"accept"}})
		require.Equal(t, http.StatusOK, p.status)
	}
	p.holds(t, "Nothing waits")
}

// A draft's form that is sent as it came changes nothing.
func TestADraftsFormLosesNothing(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	fern := w.person("fern", casebook.Moderator)
	quill := w.person("quill", casebook.Contributor)
	quill.post("/contribute", url.Values{"text": {writeup}, "do": {"hand in"}})
	q, err := w.book.Queue(t.Context(), 0, 0)
	require.NoError(t, err)
	for _, x := range q.Waiting {
		path := "/draft/" + string(x.ID)
		f := fern.get(path).fieldsOf(path)
		p := fern.post(path, f)
		assert.Equal(t, http.StatusConflict, p.status)
		p.holds(t, "nothing was changed")
	}
}

// Hostile and odd input on the desk is shown as text and breaks nothing.
func TestHostileInputOnTheDesk(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	fern := w.person("fern", casebook.Moderator)
	for _, evil := range []string{`<script>alert(1)</script>`, "\x00\xff\xfe", strings.Repeat("x ", 9000), "-1", "NaN"} {
		for _, path := range []string{"/contribute", "/draft/w4", "/draft/w4/decide"} {
			f := url.Values{}
			for _, name := range []string{"text", "name", "url", "licence", "do", "revision", "title", "ended", "sure", "reason", "settled", "make", "year", "code", "code-status", "symptom", "test", "test-was",
				"test-step", "where", "result", "reading", "fix", "fix-was", "fix-step", "outcome", "odometer"} {
				f.Set(name, evil)
			}
			p := fern.post(path, f)
			assert.Less(t, p.status, 500, "%s %.20q", path, evil)
			p.lacks(t, "<script>alert")
		}
	}
	c, err := w.book.Show(t.Context(), "w4")
	require.NoError(t, err)
	assert.Equal(t, kb.Draft, c.Case.State)
}

// A term that nobody knows is decided on for all cases, and undone; what does not fit comes back as typed.
func TestDecidingOnATerm(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	fern := w.person("fern", casebook.Moderator)
	_, err := w.book.Import(t.Context(), keeper, strings.NewReader(`{"v":1,"id":"o1","machine":{"kind":"van","make":"Halden","model":"Brisk 3"},"codes":["P1B77"],"fixes":[{"step":1,"action":"replace","component":"clicky box","outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"verified"}`+"\n"), casebook.ImportOptions{})
	require.NoError(t, err)
	p := fern.get("/terms")
	p.holds(t, "clicky box")
	term := url.Values{"kind": {"component"}, "term": {"clicky box"}, "choice": {"synonym"}, "of": {"no such part"}, "reason": {"my words"}}
	p = fern.post("/terms", term)
	assert.Equal(t, http.StatusBadRequest, p.status)
	p.holds(t, "is not known")
	p.holds(t, `value="no such part"`)
	p.holds(t, `value="my words"`)
	term.Set("of", "heater relay")
	p = fern.post("/terms", term)
	require.Equal(t, http.StatusOK, p.status)
	p.holds(t, "is another name of heater relay")
	w.stranger().post("/", url.Values{"q": {"P1B77 Halden Brisk 3"}}).lacks(t, "clicky")
	fern.post("/terms", url.Values{"kind": {"component"}, "term": {"clicky box"}, "choice": {"undo"}}).lacks(t, "is another name of heater relay")
	w.stranger().post("/", url.Values{"q": {"P1B77 Halden Brisk 3"}}).holds(t, "clicky")
}

// A repair that is told twice is shown as such to moderators, side by side; kept apart it is not asked about again.
func TestToldTwice(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill, reed, fern := w.person("quill", casebook.Contributor), w.person("reed", casebook.Contributor), w.person("fern", casebook.Moderator)
	const first = "My Halden Brisk 3 2019 with 84,000 km had P1B77 and no cabin heat. The heater fuse is good. Coil resistance of the heater relay was 300 ohm. Replaced the heater relay and the heat is back."
	const second = "Brisk 3 again: Halden Brisk 3 2019, 84,000 km, code P1B77, no cabin heat. Coil resistance of the heater relay 300 ohm, so I replaced the heater relay. The heat is back."
	quill.post("/contribute", url.Values{"text": {first}, "url": {"https://sheds.example/1"}, "do": {"hand in"}})
	reed.post("/contribute", url.Values{"text": {second}, "url": {"https://barn.example/9"}, "do": {"hand in"}})
	p := fern.get("/duplicates")
	pairs := p.links("/duplicates/")
	require.NotEmpty(t, pairs)
	p = fern.get(pairs[0])
	require.Equal(t, http.StatusOK, p.status)
	for _, want := range []string{"What speaks for one repair", "Side by side", "sheds.example", "barn.example"} {
		p.holds(t, want)
	}
	mine, err := w.book.Mine(t.Context(), casebook.Actor{Name: "quill", Role: casebook.Contributor})
	require.NoError(t, err)
	fern.get("/draft/"+string(mine[0].ID)).holds(t, "May be told twice")
	quill.get("/draft/"+string(mine[0].ID)).lacks(t, "May be told twice")
	f := p.fieldsOf(pairs[0] + "/merge")
	f.Set("reason", "one van")
	stale := url.Values{"seen-a": {"1"}, "seen-b": {"1"}, "reason": {"my words"}}
	c := fern.post(pairs[0]+"/merge", stale)
	assert.Equal(t, http.StatusConflict, c.status)
	c.holds(t, `value="my words"`)
	one := fern.post(pairs[0]+"/merge", f)
	require.Equal(t, http.StatusOK, one.status)
	one.holds(t, "Merged into it")
	one.holds(t, "sheds.example")
	one.holds(t, "barn.example")
	form := firstNode(one.root, func(n *html.Node) bool { return strings.HasSuffix(attr(n, "action"), "/unmerge") })
	require.NotNil(t, form)
	back := fern.post(attr(form, "action"), page{root: form}.fields())
	require.Equal(t, http.StatusOK, back.status)
	back.lacks(t, "Merged into it")
	p = fern.post(pairs[0]+"/apart", url.Values{"reason": {"two vans of one fleet"}})
	require.Equal(t, http.StatusOK, p.status)
	assert.NotContains(t, p.links("/duplicates/"), pairs[0])
	assert.Equal(t, http.StatusNotFound, fern.get("/duplicates/w1/nothing").status)
}
