package web_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	term "ruledout/kb"
	"ruledout/web"
)

// told hands in n write-ups of different machines.
func (v *visitor) told(n int) {
	for i := range n {
		p := v.post("/contribute", url.Values{"text": {fmt.Sprintf("My Halden Brisk 3 20%02d had P1B%02d and no cabin heat. Heater fuse is good. Replaced the heater relay, fixed.", i%25, 10+i)}, "do": {"hand in"}})
		require.Less(v.t, p.status, 400)
	}
}

var grumbling = term.TermDecision{Kind: term.TermSymptom, Term: "grumbling", Choice: term.TermNew}

// The pages of contributors and moderators, on both widths and in the dark.
func TestPagesOfTheDeskInABrowser(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	w.account("fern", casebook.Moderator)
	quill := w.person("quill", casebook.Contributor)
	quill.told(2)
	_, err := w.book.Import(t.Context(), keeper, strings.NewReader(`{"v":1,"id":"o1","codes":["P1B77"],"symptoms":["sulking"],"fixes":[{"step":1,"action":"replace","component":"clicky box","outcome":"fixed"}],"status":"closed","closed_as":"repaired"}`+"\n"), casebook.ImportOptions{})
	require.NoError(t, err)
	require.NoError(t, w.book.DecideTerm(t.Context(), keeper, grumbling, ""))
	mine, err := w.book.Mine(t.Context(), casebook.Actor{Name: "quill", Role: casebook.Contributor})
	require.NoError(t, err)
	source := axe(t)
	for screen, width := range widths {
		for _, scheme := range []string{"light", "dark"} {
			ctx := browser(t)
			_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
			require.NoError(t, err)
			require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, 900)))
			look := func(what string) {
				t.Helper()
				assert.LessOrEqual(t, eval[int64](t, ctx, `document.documentElement.scrollWidth`), width, "%s on a %s: nothing sticks out", what, screen)
				assert.Empty(t, violations(t, ctx, source), "%s on a %s, %s", what, screen, scheme)
			}
			signIn(t, ctx, w.URL, "fern")
			for _, path := range []string{"/contribute", "/mine", "/review", "/terms", "/duplicates", "/duplicates/w1/w3", "/draft/" + string(mine[0].ID), "/case/w1"} {
				require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.URL+path)))
				look(path)
			}
			require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.URL+"/contribute")))
			require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.ID("text"), writeup), chromedp.KeyEvent(kb.Tab)))
			_, err = chromedp.Run(ctx, chromedp.Poll[bool](`document.querySelector("#answer .told") !== null`))
			require.NoError(t, err, "what is understood comes by itself when one leaves the text")
			look("what is understood")
			assert.Contains(t, eval[string](t, ctx, `document.querySelector("#answer").textContent`), "What fixed it")
		}
	}
}

// A write-up is handed in from the page, with script and without, and leads to its draft.
func TestHandingInInABrowser(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	w.account("quill", casebook.Contributor)
	for i, script := range []bool{true, false} {
		ctx := browser(t)
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !script})
		require.NoError(t, err)
		signIn(t, ctx, w.URL, "quill")
		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(w.URL+"/contribute"), chromedp.SendKeys(chromedp.ID("text"), strings.ReplaceAll(writeup, "2019", fmt.Sprint(2019-i)))))
		require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS("button[value=read]")), chromedp.WaitVisible(chromedp.CSS(`button[value="hand in"]`)), chromedp.Click(chromedp.CSS(`button[value="hand in"]`))))
		there := func() bool { // asked anew each time: the page goes away meanwhile
			ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`location.pathname.startsWith("/draft/") && document.getElementById("draft") !== null`))
			return err == nil && ok
		}
		require.Eventually(t, there, 20*time.Second, 50*time.Millisecond, "script: %v", script)
	}
}

// A moderator gets through the queue with the keyboard alone, and the pages take so little of the time that fifty an hour are easy: at
// 72 s a case, less than two go to the machine.
func TestFiftyAnHour(t *testing.T) {
	w := newWorkshop(t, web.Options{})
	w.account("fern", casebook.Moderator)
	w.person("quill", casebook.Contributor).told(12)
	q, err := w.book.Queue(t.Context(), 0, 0)
	require.NoError(t, err)
	ctx := browser(t)
	signIn(t, ctx, w.URL, "fern")
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(1280, 900), chromedp.Navigate(w.URL+"/review")))
	focused := func(js, what string) { // autofocus comes a moment after the page
		t.Helper()
		_, err := chromedp.Run(ctx, chromedp.Poll[bool](js))
		require.NoError(t, err, what)
	}
	focused(`document.activeElement.tagName === "A"`, "the first of the queue has the focus")
	loads(t, ctx, chromedp.KeyEvent(kb.Enter))
	begin := time.Now()
	for i := range q.Total {
		require.True(t, strings.HasPrefix(eval[string](t, ctx, `location.pathname`), "/draft/"))
		focused(`document.activeElement.textContent === "Accept"`, "the decision has the focus")
		if i == 1 { // one goes back, with a reason
			require.NoError(t, chromedp.Do(ctx, chromedp.Focus(chromedp.ID("why")), chromedp.KeyEvent("which fuse?"), chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent(kb.Tab)))
			require.Equal(t, "Send back", eval[string](t, ctx, `document.activeElement.textContent`))
		}
		loads(t, ctx, chromedp.KeyEvent(kb.Enter))
	}
	each := time.Since(begin) / time.Duration(q.Total)
	t.Logf("%v a case for the pages", each.Round(time.Millisecond))
	assert.Less(t, each, 2*time.Second)
	left, err := w.book.Queue(t.Context(), 0, 0)
	require.NoError(t, err)
	assert.Equal(t, 1, left.Total, "what was sent back waits for its contributor")
}
