package web_test

import (
	"context"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	pageevents "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/web"
)

// loads does something that leads to another page, and waits for it.
func loads(t *testing.T, ctx context.Context, do ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	for i, a := range do {
		if i < len(do)-1 {
			require.NoError(t, chromedp.Do(ctx, a))
			continue
		}
		_, err := chromedp.Run(ctx, chromedp.WaitEvent(pageevents.LoadEventFired, nil, a))
		require.NoError(t, err)
	}
}

func signIn(t *testing.T, ctx context.Context, base, name string) {
	t.Helper()
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(base+"/sign-in?to=/jobs")))
	loads(t, ctx, chromedp.SendKeys(chromedp.ID("name"), name), chromedp.SendKeys(chromedp.ID("password"), password), chromedp.Click(chromedp.CSS("button.main")))
	require.Equal(t, base+"/jobs", eval[string](t, ctx, `location.href`))
}

// fullSheet gives a job sheet with something in each of its parts.
func fullSheet(t *testing.T, quill *visitor) string {
	t.Helper()
	path := quill.job(jobWords)
	f := quill.get(path).fieldsOf(path)
	f["test"][0], f["reading"][0] = "coil resistance of heater relay", "84 ohm limit 75 to 95 ohm"
	quill.post(path, f)
	quill.post(path+"/note", url.Values{"note": {"Customer says it began after the wash."}})
	quill.post(path+"/labour", url.Values{"minutes": {"45"}, "what": {"searching"}})
	quill.post(path+"/part", url.Values{"part": {"heater relay"}, "price": {"12.50 EUR"}, "number": {"H-1"}})
	quill.post(path+"/member", url.Values{"member": {"fern"}})
	require.Equal(t, http.StatusOK, quill.upload(path+"/photo", "photo", "relay.png", picture(t), map[string]string{"caption": "burnt contact"}).status)
	return path
}

// closed closes a job.
func (v *visitor) closed(path, share string) {
	f := v.get(path + "/close").fieldsOf(path + "/close")
	f.Set("cure", "replace heater relay")
	f.Set("share", share)
	f.Set("do", "close")
	require.Equal(v.t, http.StatusOK, v.post(path+"/close", f).status)
}

// Every page for people with an account, on both widths and in the dark: nothing that axe-core finds, nothing wider than the screen.
func TestPagesOfPeopleInABrowser(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	w.account("fern", casebook.Moderator)
	quill := w.person("ash", casebook.Administrator)
	open, shut := fullSheet(t, quill), fullSheet(t, quill)
	quill.closed(shut, "publish")
	link, err := w.book.NewLink(t.Context(), keeper, "fern")
	require.NoError(t, err)
	pages := []string{"/jobs", open, open + "/print", open + "/close", open + "/history", shut, shut + "/print", "/people", "/account", casebook.LinkPath + link.Token,
		"/case/" + string(w.sheetAt("ash", shut).CaseID), "/jobs/none"}
	source := axe(t)
	for screen, width := range widths {
		for _, scheme := range []string{"light", "dark"} {
			ctx := browser(t)
			_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
			require.NoError(t, err)
			require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, 900), chromedp.Navigate(w.URL+"/sign-in")))
			look := func(path string) {
				t.Helper()
				assert.LessOrEqual(t, eval[int64](t, ctx, `document.documentElement.scrollWidth`), width, "%s on a %s: nothing sticks out", path, screen)
				assert.Empty(t, violations(t, ctx, source), "%s on a %s, %s", path, screen, scheme)
			}
			look("/sign-in")
			signIn(t, ctx, w.URL, "ash")
			for _, path := range pages {
				require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.URL+path)))
				look(path)
			}
		}
	}
}

// The pages that only a form leads to: a conflict, a form kept while signing in, a form with something that cannot be read, the look at what
// would be shared.
func TestPagesBehindForms(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	quill := w.person("quill", casebook.Contributor)
	path := quill.job(jobWords)
	source := axe(t)
	for screen, width := range widths {
		ctx := browser(t)
		require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, 900)))
		look := func(what, text string) {
			t.Helper()
			assert.Contains(t, eval[string](t, ctx, `document.querySelector("main").textContent`), text)
			assert.LessOrEqual(t, eval[int64](t, ctx, `document.documentElement.scrollWidth`), width, "%s on a %s: nothing sticks out", what, screen)
			assert.Empty(t, violations(t, ctx, source), "%s on a %s", what, screen)
		}
		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.URL+"/?q="+url.QueryEscape(jobWords))))
		loads(t, ctx, chromedp.Click(chromedp.CSS(`button[formaction="/jobs"]`)))
		look("kept while signing in", "What you typed is kept on this page")
		loads(t, ctx, chromedp.SendKeys(chromedp.ID("name"), "quill"), chromedp.SendKeys(chromedp.ID("password"), password), chromedp.Click(chromedp.CSS("button.main")))
		look("to go on", "What you had sent before is kept here")
		loads(t, ctx, chromedp.Click(chromedp.CSS("main button.main")))
		look("a new sheet", "Halden")

		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.URL+path)))
		f := quill.get(path).fieldsOf(path)
		f.Set("name", "changed meanwhile "+screen)
		require.Equal(t, http.StatusOK, quill.post(path, f).status)
		loads(t, ctx, chromedp.Evaluate[chromedp.Void](`(f => { f.elements.name.value = "mine on a `+screen+`"; HTMLFormElement.prototype.submit.call(f) })(document.getElementById("job"))`))
		look("a conflict", "Changed by two at once")

		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.URL+path+"/close")))
		loads(t, ctx, chromedp.SendKeys(chromedp.CSS("[name=cure]"), "frobnicate"), chromedp.Click(chromedp.CSS("button.main")))
		look("not closed", "want ACTION COMPONENT")
		loads(t, ctx, chromedp.SetValue(chromedp.CSS("[name=cure]"), "replace heater relay"), chromedp.Click(chromedp.CSS("button[value=look]")))
		look("what others would see", "This is what others would see")
	}
}

// jobFlow takes a machine from the code to the closed job: looked up, kept, tested, noted, closed and submitted.
func jobFlow(t *testing.T, ctx context.Context, w *workshop, script bool) {
	t.Helper()
	signIn(t, ctx, w.URL, "quill")
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.URL+"/"), chromedp.SendKeys(chromedp.ID("q"), jobWords), chromedp.Click(chromedp.CSS("button.main"))))
	require.NoError(t, chromedp.Do(ctx, chromedp.WaitVisible(chromedp.CSS("#record"))))
	loads(t, ctx, chromedp.Click(chromedp.CSS(`button[formaction="/jobs"]`)))
	path := strings.TrimPrefix(eval[string](t, ctx, `location.href`), w.URL)
	require.True(t, strings.HasPrefix(path, "/jobs/j"), path)

	press := chromedp.Click(chromedp.CSS(`button[name=mark][value^="pass|"]`))
	if script {
		require.NoError(t, chromedp.Do(ctx, press))
	} else {
		loads(t, ctx, press)
	}
	_, err := chromedp.Run(ctx, chromedp.Poll[bool](`document.getElementById("saved").textContent.includes("revision 2")`))
	require.NoError(t, err)
	assert.Len(t, w.sheetAt("quill", path).Case.Tests, 1)
	if script { // a changed field is saved by itself
		require.NoError(t, chromedp.Do(ctx, chromedp.SetValue(chromedp.CSS(`#job [name=variant]`), "long wheelbase"),
			chromedp.Evaluate[chromedp.Void](`document.querySelector("#job [name=variant]").dispatchEvent(new Event("change", {bubbles: true}))`)))
		_, err = chromedp.Run(ctx, chromedp.Poll[bool](`document.getElementById("saved").textContent.includes("revision 3")`))
		require.NoError(t, err)
	}
	loads(t, ctx, chromedp.SendKeys(chromedp.ID("note"), "smells burnt"), chromedp.Click(chromedp.CSS(`form[action$="/note"] button`)))
	assert.Contains(t, eval[string](t, ctx, `document.querySelector("#notes").parentElement.textContent`), "smells burnt")
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.URL+path+"/close")))
	loads(t, ctx, chromedp.SendKeys(chromedp.CSS("[name=cure]"), "replace heater relay"), chromedp.SendKeys(chromedp.CSS("[name=proof]"), "road test of heater"),
		chromedp.SetValue(chromedp.CSS("[name=result]"), "pass"), chromedp.Click(chromedp.CSS("[value=submit]")), chromedp.Click(chromedp.CSS("button.main")))
	assert.Equal(t, w.URL+path, eval[string](t, ctx, `location.href`))
	s := w.sheetAt("quill", path)
	require.NotNil(t, s.Closed)
	assert.NotEmpty(t, s.CaseID)
	assert.Equal(t, "verified", string(s.Case.Confirmation))
}

func TestJobFlow(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	w.account("quill", casebook.Contributor)
	for screen, width := range widths {
		t.Run("script on, "+screen, func(t *testing.T) {
			ctx := browser(t)
			require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, 900)))
			jobFlow(t, ctx, w, true)
		})
		t.Run("script off, "+screen, func(t *testing.T) {
			ctx := browser(t)
			require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, 900)))
			_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
			require.NoError(t, err)
			jobFlow(t, ctx, w, false)
		})
	}
}

// With the keyboard alone from signing in to a saved test and to the page for closing.
func TestAJobByKeyboardAlone(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	path := w.person("quill", casebook.Contributor).job(jobWords)
	ctx := browser(t)
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(1280, 900), chromedp.Navigate(w.URL+"/sign-in?to="+path)))
	tabTo := func(js string) {
		t.Helper()
		for range 300 {
			if eval[bool](t, ctx, js) {
				assert.NotEqual(t, "none", eval[string](t, ctx, `getComputedStyle(document.activeElement).outlineStyle`), "one sees where one is")
				return
			}
			require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(kb.Tab)))
		}
		t.Fatalf("the keyboard does not get to %s", js)
	}
	tabTo(`document.activeElement.id === "name"`)
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent("quill"), chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent(password)))
	loads(t, ctx, chromedp.KeyEvent(kb.Enter))
	tabTo(`document.activeElement.name === "mark"`)
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(kb.Enter)))
	_, err := chromedp.Run(ctx, chromedp.Poll[bool](`document.getElementById("saved").textContent.includes("revision 2") && document.activeElement.id === "answer"`))
	require.NoError(t, err, "saved, and one stands at the answer")
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.URL+path)))
	tabTo(`document.activeElement.textContent === "Close the job"`)
	loads(t, ctx, chromedp.KeyEvent(kb.Enter))
	assert.Equal(t, w.URL+path+"/close", eval[string](t, ctx, `location.href`))
}

// A note that is being typed stays when something else on the sheet is saved by itself.
func TestTypingSurvivesSavingBesideIt(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	path := w.person("quill", casebook.Contributor).job(jobWords)
	ctx := browser(t)
	signIn(t, ctx, w.URL, "quill")
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.URL+path), chromedp.SendKeys(chromedp.ID("note"), "half a no"), chromedp.Click(chromedp.CSS(`button[name=mark][value^="pass|"]`))))
	_, err := chromedp.Run(ctx, chromedp.Poll[bool](`document.getElementById("saved").textContent.includes("revision 2")`))
	require.NoError(t, err)
	assert.Equal(t, "half a no", eval[string](t, ctx, `document.getElementById("note").value`))
	assert.Equal(t, "2", eval[string](t, ctx, `document.getElementById("money-revision").value`), "the forms beside it know of it")
}
