package web_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/web"
)

// manyCases writes n closed cases of some hundred codes as records.
func manyCases(n int) string {
	parts := []string{"heater relay", "heater fuse", "wiring harness", "coolant pump", "egr valve", "boost hose", "flow switch"}
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, `{"v":1,"id":"c%07d","machine":{"kind":"van","make":"Halden","model":"Brisk %d","year":%d},"codes":["P%04d"],"symptoms":["loss of power"],"fixes":[{"step":1,"action":"replace","component":%q,"outcome":"fixed"}],"status":"closed","closed_as":"repaired","confirmation":"verified"}`+"\n",
			i, i%9, 2005+i%18, i%400, parts[(i*7+i/400)%len(parts)])
	}
	return b.String()
}

// BenchmarkLookUp measures a look-up page, request and rendering included, beside the bare question on the same book of 100,000 cases.
func BenchmarkLookUp(b *testing.B) {
	book, err := casebook.Open(b.Context(), casebook.Options{Dir: b.TempDir()})
	require.NoError(b, err)
	b.Cleanup(func() { _ = book.Close() })
	_, err = book.Import(b.Context(), casebook.Actor{Name: "bench", Role: casebook.Administrator}, strings.NewReader(manyCases(100_000)), casebook.ImportOptions{})
	require.NoError(b, err)
	h, err := web.New(book, web.Options{})
	require.NoError(b, err)
	const words = "P0087 Halden Brisk 3 2018, loss of power"
	q, err := book.Understand(casebook.Question{Words: words})
	require.NoError(b, err)
	ask := func() {
		if _, err := book.Ask(b.Context(), q); err != nil {
			b.Fatal(err)
		}
	}
	form := url.Values{"code": {"P0087"}, "machine": {"Halden Brisk 3 2018"}, "symptom": {"loss of power"}}.Encode()
	look := func() {
		r := httptest.NewRequest(http.MethodPost, "/", strings.NewReader(form))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != http.StatusOK {
			b.Fatal(w.Code)
		}
	}
	ask()
	look()
	bare := fastest(ask)
	for b.Loop() {
		look()
	}
	page := fastest(look)
	b.ReportMetric(page/bare, "of-a-bare-question")
	b.ReportMetric(bare*1e3, "ms/question")
}

// fastest gives the seconds of the quickest of some runs.
func fastest(f func()) float64 {
	best := 1e9
	for range 20 {
		begin := time.Now()
		f()
		best = min(best, time.Since(begin).Seconds())
	}
	return best
}
