package main

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// told is what a running command has printed so far.
type told struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (w *told) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.b.Write(p)
}

func (w *told) String() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.b.String()
}

// served runs "ruledout serve" until the test ends, and gives what it printed once it listens.
func served(t *testing.T, dir string, args ...string) string {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	var out told
	a := &app{stdin: strings.NewReader(""), stdout: &out, stderr: io.Discard}
	root := a.root()
	root.SetArgs(append([]string{"--data", dir, "serve", "--listen", "127.0.0.1:0"}, args...))
	end := make(chan error, 1)
	go func() { end <- root.ExecuteContext(ctx) }()
	t.Cleanup(func() {
		stop()
		assert.NoError(t, <-end)
	})
	require.Eventually(t, func() bool { return strings.Contains(out.String(), "The pages are at") }, 20*time.Second, 5*time.Millisecond)
	return out.String()
}

// The first start prints a one-time link by which the administrator comes in; once that is done no later start prints one. A private
// workshop shows nothing to strangers.
func TestServingFromTheFirstStart(t *testing.T) {
	dir := t.TempDir()
	out := served(t, dir, "--private")
	link := regexp.MustCompile(`http://\S+/link/\S+`).FindString(out)
	require.NotEmpty(t, link)
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	ash := &http.Client{Jar: jar}
	r, err := ash.PostForm(link, url.Values{"name": {"ash"}, "password": {"three brass washers"}})
	require.NoError(t, err)
	body, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	_ = r.Body.Close()
	assert.Contains(t, string(body), "ash</strong>, administrator")
	home := regexp.MustCompile(`http://127[^/\s]+`).FindString(link)
	for client, want := range map[*http.Client]string{ash: home + "/find", http.DefaultClient: home + "/sign-in?to=%2Ffind"} {
		r, err := client.Get(home + "/find")
		require.NoError(t, err)
		_ = r.Body.Close()
		assert.Equal(t, want, r.Request.URL.String())
	}
	again := served(t, dir, "--base", "https://cases.example/")
	assert.NotContains(t, again, "/link/")
}
