package casebook_test

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ruledout/internal/casebook"
	"ruledout/kb"
)

var _ scs.CtxStore = (*casebook.Sessions)(nil)

var chief = casebook.Actor{Name: "ida", Role: casebook.Administrator}

const (
	words      = "four wet boots outside"
	otherWords = "seven dry hats within"
)

// clock is a time that tests move.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// timed opens a book whose clock stands still until it is moved.
func timed(t *testing.T) (*casebook.Book, *clock) {
	t.Helper()
	c := &clock{now: time.Date(2025, 3, 1, 8, 0, 0, 0, time.UTC)}
	b, err := casebook.Open(t.Context(), casebook.Options{Dir: t.TempDir(), Now: c.Now})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, b.Close()) })
	return b, c
}

// person adds an account with a password.
func person(t *testing.T, b *casebook.Book, name string, role casebook.Role) casebook.Person {
	t.Helper()
	_, err := b.AddUser(t.Context(), chief, name, role)
	require.NoError(t, err)
	l, err := b.NewLink(t.Context(), chief, name)
	require.NoError(t, err)
	p, err := b.UseLink(t.Context(), l.Token, "", words)
	require.NoError(t, err)
	return p
}

func kindIs(t *testing.T, want kb.Kind, err error) {
	t.Helper()
	assert.Equal(t, want, kb.KindOf(err), "%v", err)
}

func TestTheFirstAdministratorComesInByALink(t *testing.T) {
	b, c := timed(t)
	needs, err := b.NeedsSetUp(t.Context())
	require.NoError(t, err)
	assert.True(t, needs)
	late, err := b.SetUpLink(t.Context())
	require.NoError(t, err)
	c.pass(25 * time.Hour)
	_, err = b.UseLink(t.Context(), late.Token, "ida", words)
	kindIs(t, kb.NotFound, err)

	first, err := b.SetUpLink(t.Context())
	require.NoError(t, err)
	second, err := b.SetUpLink(t.Context())
	require.NoError(t, err)
	_, err = b.UseLink(t.Context(), first.Token, "ida", "short")
	kindIs(t, kb.Invalid, err)
	seen, err := b.LookLink(t.Context(), first.Token)
	require.NoError(t, err, "a refused password does not use it up")
	assert.Equal(t, casebook.Link{Kind: casebook.SetUp, Expires: seen.Expires}, seen)
	p, err := b.UseLink(t.Context(), first.Token, " Ida ", words)
	require.NoError(t, err)
	assert.Equal(t, casebook.Actor{Name: "ida", Role: casebook.Administrator}, p.Actor())

	_, err = b.UseLink(t.Context(), first.Token, "eve", words)
	kindIs(t, kb.NotFound, err)
	_, err = b.UseLink(t.Context(), second.Token, "eve", words)
	kindIs(t, kb.Conflict, err)
	_, err = b.SetUpLink(t.Context())
	kindIs(t, kb.Conflict, err)
	whole(t, b)
}

func TestLinksBeforeAreVoid(t *testing.T) {
	b, c := timed(t)
	_, err := b.AddUser(t.Context(), chief, "anna", casebook.Contributor)
	require.NoError(t, err)
	_, err = b.AddUser(t.Context(), chief, "ANNA", casebook.Contributor)
	kindIs(t, kb.Conflict, err)
	first, err := b.NewLink(t.Context(), chief, "anna")
	require.NoError(t, err)
	assert.Equal(t, casebook.Invitation, first.Kind)
	second, err := b.NewLink(t.Context(), chief, "anna")
	require.NoError(t, err)
	_, err = b.UseLink(t.Context(), first.Token, "", words)
	kindIs(t, kb.NotFound, err)
	_, err = b.SignIn(t.Context(), "anna", "", "")
	kindIs(t, kb.Forbidden, err)
	p, err := b.UseLink(t.Context(), second.Token, "somebody else", words)
	require.NoError(t, err)
	assert.Equal(t, "anna", p.Name, "the link says whose it is")

	reset, err := b.NewLink(t.Context(), chief, "anna")
	require.NoError(t, err)
	assert.Equal(t, casebook.Reset, reset.Kind)
	assert.Equal(t, c.Now().Add(24*time.Hour), reset.Expires)
	_, err = b.SignIn(t.Context(), "anna", words, "")
	require.NoError(t, err, "a reset that nobody uses changes nothing")
	_, err = b.UseLink(t.Context(), reset.Token, "", otherWords)
	require.NoError(t, err)
	_, err = b.SignIn(t.Context(), "anna", words, "")
	kindIs(t, kb.Forbidden, err)
	for _, token := range []string{"", "x", first.Token, strings.Repeat("a", 10_000)} {
		_, err = b.LookLink(t.Context(), token)
		kindIs(t, kb.NotFound, err)
	}
}

// TestALinkIsUsedOnce lets several people use the same link at once.
func TestALinkIsUsedOnce(t *testing.T) {
	b, _ := timed(t)
	l, err := b.SetUpLink(t.Context())
	require.NoError(t, err)
	var all sync.WaitGroup
	results := make(chan error, 4)
	for _, name := range []string{"ida", "eve", "kai", "liv"} {
		all.Go(func() {
			_, err := b.UseLink(t.Context(), l.Token, name, words)
			results <- err
		})
	}
	all.Wait()
	close(results)
	done := 0
	for err := range results {
		if err == nil {
			done++
		}
	}
	assert.Equal(t, 1, done)
	users, err := b.Users(t.Context(), chief)
	require.NoError(t, err)
	assert.Len(t, users, 1)
}

func TestSignIn(t *testing.T) {
	b, _ := timed(t)
	p := person(t, b, "anna", casebook.Contributor)
	got, err := b.SignIn(t.Context(), " ANNA", words, "10.0.0.1")
	require.NoError(t, err)
	assert.Equal(t, p, got)
	// The same character composed and decomposed is the same password.
	_, err = b.SetPassword(t.Context(), "anna", words, "neun Ko\u0308che hier", "")
	require.NoError(t, err)
	_, err = b.SignIn(t.Context(), "anna", "neun K\u00f6che hier", "")
	require.NoError(t, err)

	var told []string
	for name, password := range map[string]string{"anna": "wrong", "nobody": words, "x": words, "a b": words, "bert": strings.Repeat("long", 10_000)} {
		_, err := b.SignIn(t.Context(), name, password, "")
		kindIs(t, kb.Forbidden, err)
		told = append(told, err.Error())
	}
	for _, text := range told {
		assert.Equal(t, told[0], text, "nobody learns which names there are")
	}
}

func TestSessionsEndWithThePasswordAndTheAccount(t *testing.T) {
	b, _ := timed(t)
	p := person(t, b, "anna", casebook.Contributor)
	_, err := b.SetRole(t.Context(), chief, "anna", casebook.Moderator)
	require.NoError(t, err)
	now, err := b.SignedIn(t.Context(), p.Name, p.Stamp)
	require.NoError(t, err, "a session goes on with another role")
	assert.Equal(t, casebook.Moderator, now.Role)

	later, err := b.SetPassword(t.Context(), "anna", words, otherWords, "")
	require.NoError(t, err)
	_, err = b.SignedIn(t.Context(), p.Name, p.Stamp)
	kindIs(t, kb.Forbidden, err)
	_, err = b.SignedIn(t.Context(), later.Name, later.Stamp)
	require.NoError(t, err)
	_, err = b.DisableUser(t.Context(), chief, "anna")
	require.NoError(t, err)
	_, err = b.SignedIn(t.Context(), later.Name, later.Stamp)
	kindIs(t, kb.Forbidden, err)
	_, err = b.SignIn(t.Context(), "anna", otherWords, "")
	kindIs(t, kb.Forbidden, err)
	_, err = b.NewLink(t.Context(), chief, "anna")
	kindIs(t, kb.Conflict, err)
	_, err = b.EnableUser(t.Context(), chief, "anna")
	require.NoError(t, err)
	_, err = b.SignedIn(t.Context(), later.Name, later.Stamp)
	kindIs(t, kb.Forbidden, err)
	_, err = b.SignIn(t.Context(), "anna", otherWords, "")
	require.NoError(t, err)
}

func TestFailuresMakeOneWait(t *testing.T) {
	b, c := timed(t)
	person(t, b, "anna", casebook.Contributor)
	wait := func(name, password, address string) time.Duration {
		_, err := b.SignIn(t.Context(), name, password, address)
		var w *casebook.Wait
		if errors.As(err, &w) {
			kindIs(t, kb.Unavailable, err)
			return w.For
		}
		return 0
	}
	for range 5 {
		assert.Zero(t, wait("anna", "wrong", "10.0.0.1"))
	}
	assert.Equal(t, time.Second, wait("anna", words, "10.0.0.2"), "from another address too")
	c.pass(time.Second)
	assert.Zero(t, wait("anna", "wrong", "10.0.0.1"))
	assert.Equal(t, 2*time.Second, wait("anna", words, "10.0.0.1"))
	c.pass(2 * time.Second)
	assert.Zero(t, wait("anna", words, "10.0.0.1"), "the right password ends it")
	assert.Zero(t, wait("anna", "wrong", "10.0.0.1"))

	for n := range 13 { // seven failures of this address stand already
		assert.Zero(t, wait(string(rune('a'+n))+"nobody", "wrong", "10.0.0.1"))
	}
	assert.Equal(t, time.Second, wait("anna", words, "10.0.0.1"), "an address that tries many names")
	assert.Zero(t, wait("anna", words, "10.0.0.3"))
	c.pass(2 * time.Hour)
	assert.Zero(t, wait("anna", words, "10.0.0.1"))
}

func TestTheLongestWaitIsFiveMinutes(t *testing.T) {
	b, c := timed(t)
	for range 40 { // every other attempt is refused, and waited for
		_, err := b.SignIn(t.Context(), "nobody", "wrong", "")
		var w *casebook.Wait
		if errors.As(err, &w) {
			assert.LessOrEqual(t, w.For, 5*time.Minute)
			c.pass(w.For)
		}
	}
	_, err := b.SignIn(t.Context(), "nobody", "wrong", "")
	kindIs(t, kb.Forbidden, err)
	_, err = b.SignIn(t.Context(), "nobody", "wrong", "")
	var w *casebook.Wait
	require.ErrorAs(t, err, &w)
	assert.Equal(t, 5*time.Minute, w.For)
}

func TestPasswordRules(t *testing.T) {
	b, _ := timed(t)
	_, err := b.AddUser(t.Context(), chief, "marguerite", casebook.Contributor)
	require.NoError(t, err)
	l, err := b.NewLink(t.Context(), chief, "marguerite")
	require.NoError(t, err)
	for _, bad := range []string{"", "ninechars", strings.Repeat("ab c", 51), "marguerite", "Marguerite1", "marguerite2024", "password123", "Password1234!",
		"qwertyuiop", "1234567890", "0000000000", "abababababab", "abcdefghijkl", "letmeinletmein", "bad \xff bytes here"} {
		_, err := b.UseLink(t.Context(), l.Token, "", bad)
		kindIs(t, kb.Invalid, err)
		assert.ErrorContains(t, err, "password: ", "%q", bad)
	}
	_, err = b.UseLink(t.Context(), l.Token, "", "ten chars!")
	require.NoError(t, err)
}

func TestNamesOfAccounts(t *testing.T) {
	b, _ := timed(t)
	for name, want := range map[string]string{"Anna": "anna", " j.o-e_2 ": "j.o-e_2", "J\u00f6rg": "j\u00f6rg", "\uff21\uff22": "ab"} {
		p, err := b.AddUser(t.Context(), chief, name, casebook.Contributor)
		require.NoError(t, err, name)
		assert.Equal(t, want, p.Name)
	}
	for _, bad := range []string{"", "a", "-x", "two words", "a/b", "a\x00b", "<b>", strings.Repeat("x", 41), "a\u202eb", "\xff\xff"} {
		_, err := b.AddUser(t.Context(), chief, bad, casebook.Contributor)
		kindIs(t, kb.Invalid, err)
	}
}

func TestOnlyAdministratorsManageAccounts(t *testing.T) {
	b, _ := timed(t)
	person(t, b, "bert", casebook.Contributor)
	for _, by := range []casebook.Actor{rob, anna, vera} {
		_, err := b.AddUser(t.Context(), by, "eve", casebook.Contributor)
		kindIs(t, kb.Forbidden, err)
		_, err = b.SetRole(t.Context(), by, "bert", casebook.Administrator)
		kindIs(t, kb.Forbidden, err)
		_, err = b.DisableUser(t.Context(), by, "bert")
		kindIs(t, kb.Forbidden, err)
		_, err = b.NewLink(t.Context(), by, "bert")
		kindIs(t, kb.Forbidden, err)
		_, err = b.Users(t.Context(), by)
		kindIs(t, kb.Forbidden, err)
	}
}

func TestTheLastAdministratorStays(t *testing.T) {
	b, _ := timed(t)
	person(t, b, "ida", casebook.Administrator)
	person(t, b, "bert", casebook.Contributor)
	_, err := b.SetRole(t.Context(), chief, "ida", casebook.Moderator)
	kindIs(t, kb.Conflict, err)
	_, err = b.DisableUser(t.Context(), chief, "ida")
	kindIs(t, kb.Conflict, err)
	_, err = b.SetRole(t.Context(), chief, "bert", casebook.Administrator)
	require.NoError(t, err)
	_, err = b.DisableUser(t.Context(), chief, "ida")
	require.NoError(t, err)
	_, err = b.SetRole(t.Context(), chief, "nobody", casebook.Moderator)
	kindIs(t, kb.NotFound, err)
	_, err = b.SetRole(t.Context(), chief, "bert", casebook.Reader)
	kindIs(t, kb.Invalid, err)
}

func TestSessionsAreKeptByTheHashOfTheirToken(t *testing.T) {
	b, c := timed(t)
	s := b.Sessions()
	require.NoError(t, s.Commit("token", []byte("data"), c.Now().Add(time.Minute)))
	data, found, err := s.Find("token")
	require.NoError(t, err)
	assert.True(t, found)
	assert.Equal(t, "data", string(data))
	c.pass(time.Minute)
	_, found, err = s.Find("token")
	require.NoError(t, err)
	assert.False(t, found)
	require.NoError(t, s.Delete("token"))
	require.NoError(t, s.Delete("token"))
}

func TestAnOldHashIsMadeAnew(t *testing.T) {
	b, _ := timed(t)
	p := person(t, b, "anna", casebook.Contributor)
	require.NoError(t, b.SetWeakHash(t.Context(), "anna", otherWords))
	weak, err := b.HashOf(t.Context(), "anna")
	require.NoError(t, err)
	_, err = b.SignIn(t.Context(), "anna", words, "")
	kindIs(t, kb.Forbidden, err)
	same, err := b.HashOf(t.Context(), "anna")
	require.NoError(t, err)
	assert.Equal(t, weak, same, "not by a wrong password")
	_, err = b.SignIn(t.Context(), "anna", otherWords, "")
	require.NoError(t, err)
	strong, err := b.HashOf(t.Context(), "anna")
	require.NoError(t, err)
	assert.Contains(t, strong, "m=19456,t=2,p=1")
	_, err = b.SignedIn(t.Context(), "anna", p.Stamp)
	require.NoError(t, err, "sessions go on")
}

// TestSignInWaitsItsTurn takes all turns to hash: whoever comes then waits, for names that there are and for others, and gives up with the request.
func TestSignInWaitsItsTurn(t *testing.T) {
	b, _ := timed(t)
	person(t, b, "anna", casebook.Contributor)
	release := b.HoldHashes()
	for range 8 { // more than the free failures: an attempt that was never made does not count
		for _, name := range []string{"anna", "nobody"} {
			ctx, cancel := context.WithTimeout(t.Context(), time.Millisecond)
			_, err := b.SignIn(ctx, name, words, "10.0.0.1")
			require.ErrorIs(t, err, context.DeadlineExceeded)
			cancel()
		}
	}
	release()
	_, err := b.SignIn(t.Context(), "anna", words, "10.0.0.1")
	require.NoError(t, err)
}
