package web_test

import (
	"compress/gzip"
	"context"
	"io"
	"net/url"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	pageevents "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The pages in a real browser: each flow with script and without, on a narrow and a wide screen, by keyboard alone, and what axe-core finds.

var (
	browserOnce sync.Once
	browserCtx  context.Context
	browserEnd  context.CancelFunc
)

// browser gives a tab of one browser that all tests share.
func browser(t *testing.T) context.Context {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		t.Skip("there is no Chromium here: go run ./cmd/check installs it")
	}
	browserOnce.Do(func() {
		opt := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.Flag("disable-dev-shm-usage", true))
		ctx, cancel := chromedp.NewExecAllocator(context.Background(), opt...)
		first, end := chromedp.NewContext(ctx)
		browserCtx, browserEnd = first, func() { end(); cancel() }
		require.NoError(t, chromedp.Do(first, chromedp.Navigate("about:blank")))
	})
	tab, end := chromedp.NewContext(browserCtx, chromedp.WithNewBrowserContext()) // cookies of its own
	limited, cancel := context.WithTimeout(tab, 60*time.Second)
	t.Cleanup(func() { cancel(); end() })
	return limited
}

func axe(t *testing.T) string {
	t.Helper()
	f, err := os.Open("testdata/axe.min.js.gz") // axe-core 4.14.1, MPL-2.0, as published
	require.NoError(t, err)
	defer f.Close()
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	b, err := io.ReadAll(z)
	require.NoError(t, err)
	return string(b)
}

// finding is one rule of axe-core that a page breaks, and where.
type finding struct {
	ID    string   `json:"id"`
	Help  string   `json:"help"`
	Where []string `json:"where"`
}

const runAxe = `axe.run(document).then(r => r.violations.map(v => ({id: v.id, help: v.help, where: v.nodes.map(n => n.target.join(" "))})))`

// violations runs axe-core on the page that is open. The page's own policy forbids foreign script; the browser's debugger may.
func violations(t *testing.T, ctx context.Context, source string) []finding {
	t.Helper()
	require.NoError(t, chromedp.Do(ctx, chromedp.Evaluate[chromedp.Void](source)))
	list, err := chromedp.Run(ctx, chromedp.Evaluate[[]finding](runAxe, chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	return list
}

func eval[T any](t *testing.T, ctx context.Context, js string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](js))
	require.NoError(t, err, js)
	return v
}

var widths = map[string]int64{"phone": 360, "desk": 1280}

// Every page at both widths: nothing that axe-core finds, and nothing wider than the screen.
func TestPagesInABrowser(t *testing.T) {
	s := server(t, nil)
	source := axe(t)
	look := "/?q=" + url.QueryEscape(asked)
	tracked(t, s) // so that its page is the whole one
	var casePath string
	for _, a := range get(t, s, look).links("/case/") {
		casePath = a
		break
	}
	pages := map[string]string{"start": "/", "look up": look, "costs that cannot be read": look + "&plan-rate=60&plan-handover=300+EUR", "plan": "/?plan=usual&test=pressure+test+of+lift+pump&reading=0.9+bar&q=P0087", "no case": "/?q=" + url.QueryEscape("P0740 Halden Brisk 3, loss of power"), "case": casePath, "code": "/code/P0087", "makers of a code": "/code/E6",
		"find": "/find?q=pump+make:halden", "track record": "/track", "error": "/case/nothing"}
	for name, path := range pages {
		for screen, width := range widths {
			t.Run(name+" on a "+screen, func(t *testing.T) {
				ctx := browser(t)
				require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, 900), chromedp.Navigate(s.URL+path)))
				assert.LessOrEqual(t, eval[int64](t, ctx, `document.documentElement.scrollWidth`), width, "nothing sticks out")
				assert.Empty(t, violations(t, ctx, source))
			})
		}
	}
}

// Dark paper keeps its contrast.
func TestDarkPages(t *testing.T) {
	s := server(t, nil)
	ctx := browser(t)
	dark := []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}}
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(1280, 900), chromedp.Navigate(s.URL+"/?q="+url.QueryEscape(asked))))
	_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: dark})
	require.NoError(t, err)
	assert.Empty(t, violations(t, ctx, axe(t)))
}

// flow looks a code up, marks a test as passed and adds a repair that did not help, waiting for each answer by wait.
func flow(t *testing.T, ctx context.Context, base string, script bool) {
	t.Helper()
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(base+"/"), chromedp.SendKeys(chromedp.ID("q"), asked), chromedp.Click(chromedp.CSS("button.main"))))
	require.NoError(t, chromedp.Do(ctx, chromedp.WaitVisible(chromedp.CSS("#record"))))
	first := eval[string](t, ctx, `document.querySelector("table.fixes tbody th").textContent`)
	press := chromedp.Click(chromedp.CSS(`button[value="pass|pressure test|lift pump"]`))
	if script {
		require.NoError(t, chromedp.Do(ctx, press))
	} else {
		_, err := chromedp.Run(ctx, chromedp.WaitEvent(pageevents.LoadEventFired, nil, press))
		require.NoError(t, err)
	}
	_, err := chromedp.Run(ctx, chromedp.Poll[bool](`document.querySelector("table.fixes tbody th") && document.querySelector("table.fixes tbody th").textContent !== `+quote(first)))
	require.NoError(t, err, "the order changes with the result")
	assert.Contains(t, eval[string](t, ctx, `document.querySelector("#out").parentElement.textContent`), "fuel filter")
	if script {
		require.NoError(t, chromedp.Do(ctx, chromedp.SetValue(chromedp.CSS(`[name=tried]:placeholder-shown`), "replace high pressure fuel pump")))
		require.NoError(t, chromedp.Do(ctx, chromedp.Evaluate[chromedp.Void](`[...document.querySelectorAll("[name=tried]")].pop().dispatchEvent(new Event("change", {bubbles: true}))`)))
		_, err = chromedp.Run(ctx, chromedp.Poll[bool](`document.querySelectorAll("[name=tried]").length === 3`))
		require.NoError(t, err, "a changed field asks again by itself")
		assert.Contains(t, eval[string](t, ctx, `document.querySelector("[role=status]").textContent`), "Likeliest now: ", "those who do not see it are told")
	}
	assert.Equal(t, base+"/", eval[string](t, ctx, `location.href`), "nothing of it stands in the address")
}

func quote(s string) string { return "`" + strings.ReplaceAll(s, "`", "") + "`" }

func TestLookUpFlow(t *testing.T) {
	s := server(t, nil)
	for screen, width := range widths {
		t.Run("script on, "+screen, func(t *testing.T) {
			ctx := browser(t)
			require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, 900)))
			flow(t, ctx, s.URL, true)
		})
		t.Run("script off, "+screen, func(t *testing.T) {
			ctx := browser(t)
			require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, 900)))
			_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
			require.NoError(t, err)
			flow(t, ctx, s.URL, false)
		})
	}
}

// With the keyboard alone: to the field, the question, and on to the first result button and through it.
func TestKeyboardAlone(t *testing.T) {
	s := server(t, nil)
	ctx := browser(t)
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(1280, 900), chromedp.Navigate(s.URL+"/")))
	tabTo := func(js string) {
		t.Helper()
		for range 200 {
			if eval[bool](t, ctx, js) {
				return
			}
			require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(kb.Tab)))
		}
		t.Fatalf("the keyboard does not get to %s", js)
	}
	tabTo(`document.activeElement.id === "q"`)
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(asked), chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent(kb.Enter), chromedp.WaitVisible(chromedp.CSS("#record"))))
	tabTo(`document.activeElement.name === "mark"`)
	assert.NotEqual(t, "none", eval[string](t, ctx, `getComputedStyle(document.activeElement).outlineStyle`), "one sees where one is")
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(kb.Enter)))
	_, err := chromedp.Run(ctx, chromedp.Poll[bool](`[...document.querySelectorAll("[name=test]")].some(x => x.value === "pressure test of lift pump")`))
	require.NoError(t, err)
}

// Re-ranking moves nothing but what the answer itself moves: the layout-shift score that the browser keeps stays at zero while the answer
// is under way and the form stands still.
func TestNoLayoutShiftOfTheForm(t *testing.T) {
	s := server(t, nil)
	ctx := browser(t)
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(1280, 2000), chromedp.Navigate(s.URL+"/?q="+url.QueryEscape(asked)), chromedp.WaitVisible(chromedp.CSS("#record"))))
	where := `(() => { const r = document.getElementById("machine").getBoundingClientRect(); return r.top + scrollY + "," + r.left })()`
	before := eval[string](t, ctx, where)
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(`button[value="pass|pressure test|lift pump"]`))))
	_, err := chromedp.Run(ctx, chromedp.Poll[bool](`document.querySelectorAll("[name=test]").length > 1 && !document.querySelector("#answer[aria-busy]")`))
	require.NoError(t, err)
	assert.Equal(t, before, eval[string](t, ctx, where))
}
