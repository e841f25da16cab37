package casebook

import (
	"context"
	"fmt"
	"sync"
	"time"

	"ruledout/internal/store"
	"ruledout/kb"
)

// Limits on failed attempts to sign in. After so many of a name or an address each further attempt waits: a second first, doubled with every
// failure up to the longest wait. What has been quiet for forgetAfter counts no more.
const (
	freeFailuresName    = 5
	freeFailuresAddress = 20
	longestWait         = 5 * time.Minute
	forgetAfter         = time.Hour
	mostRemembered      = 20_000
)

// Wait is the cause of an error of SignIn: too many attempts failed.
type Wait struct{ For time.Duration }

// Error tells how long to wait.
func (w *Wait) Error() string {
	return fmt.Sprintf("too many attempts failed; try again in %v", w.For.Round(time.Second))
}

// failures counts attempts by name and by address. It is kept in memory: each process has its own.
type failures struct {
	mu   sync.Mutex
	seen map[string]failed
}

type failed struct {
	count int
	last  time.Time
}

// attempt counts an attempt as failed before it is known how it ends, so that many at once gain nothing; or it gives how long to wait.
func (f *failures) attempt(now time.Time, keys map[string]int) time.Duration {
	f.mu.Lock()
	defer f.mu.Unlock()
	var wait time.Duration
	for key, free := range keys {
		wait = max(wait, f.seen[key].wait(now, free))
	}
	if wait > 0 {
		return wait
	}
	if len(f.seen) >= mostRemembered {
		f.prune(now)
	}
	for key := range keys {
		x := f.seen[key]
		if now.Sub(x.last) > forgetAfter {
			x.count = 0
		}
		f.seen[key] = failed{x.count + 1, now}
	}
	return 0
}

func (x failed) wait(now time.Time, free int) time.Duration {
	if x.count < free || now.Sub(x.last) > forgetAfter {
		return 0
	}
	pause := longestWait
	if over := x.count - free; over < 9 { // 2^9 s is longer than the longest wait
		pause = min(pause, time.Second<<over)
	}
	return max(0, x.last.Add(pause).Sub(now))
}

// prune forgets what is old, and everything if that does not help: an attacker with so many addresses gains little by it, and memory is bounded.
func (f *failures) prune(now time.Time) {
	for key, x := range f.seen {
		if now.Sub(x.last) > forgetAfter {
			delete(f.seen, key)
		}
	}
	if len(f.seen) >= mostRemembered {
		clear(f.seen)
	}
}

func (f *failures) forget(key string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	delete(f.seen, key)
}

// undo takes back one counted failure: the attempt went well, or was never made.
func (f *failures) undo(key string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if x := f.seen[key]; x.count > 1 {
		f.seen[key] = failed{x.count - 1, x.last}
	} else {
		delete(f.seen, key)
	}
}

// errSignIn says the same of an unknown name, a wrong password and a disabled account.
func errSignIn() error { return kb.Errorf(kb.Forbidden, "the name or the password is wrong") }

// SignIn checks a name and a password, sent from an address (empty if unknown). A wrong pair gives Forbidden, and takes the same time
// and words whether or not there is such an account. Too many failures give Unavailable with *Wait as the cause.
func (b *Book) SignIn(ctx context.Context, name, password, address string) (Person, error) {
	name, err := personName(name)
	if err != nil || len(password) > 4*MaxPassword {
		return Person{}, errSignIn()
	}
	byName, byAddress := "name "+name, "address "+address
	keys := map[string]int{byName: freeFailuresName}
	if address != "" {
		keys[byAddress] = freeFailuresAddress
	}
	if wait := b.people.failures.attempt(b.now(), keys); wait > 0 {
		return Person{}, kb.Errorf(kb.Unavailable, "%w", &Wait{For: wait})
	}
	a, ok, err := b.verifyPassword(ctx, name, password)
	if err != nil { // nothing was tried
		b.people.failures.undo(byName)
		b.people.failures.undo(byAddress)
		return Person{}, fmt.Errorf("sign in: %w", err)
	}
	if !ok {
		return Person{}, errSignIn()
	}
	b.people.failures.forget(byName)
	b.people.failures.undo(byAddress)
	return personOf(a)
}

// verifyPassword hashes in every case, so that the time says nothing.
func (b *Book) verifyPassword(ctx context.Context, name, password string) (store.Account, bool, error) {
	a, err := b.store.Account(ctx, name)
	if err != nil && kb.KindOf(err) != kb.NotFound {
		return a, false, err
	}
	hash := a.Password
	if hash == "" {
		hash = b.people.dummy()
	}
	release, err := b.people.hashTurn(ctx)
	if err != nil {
		return a, false, err
	}
	defer release()
	ok, present, err := matches(password, hash)
	if err != nil || !ok || a.Password == "" || a.Disabled {
		return a, false, err
	}
	if !present && !b.readOnly {
		err = b.rehash(ctx, a, password)
	}
	return a, true, err
}

// rehash keeps the hash of a right password by the present parameters; sessions go on.
func (b *Book) rehash(ctx context.Context, was store.Account, password string) error {
	hash := hashPassword(password, presentHashing())
	return b.store.Update(ctx, func(tx *store.Tx) error {
		a, err := tx.Account(was.Name)
		if err != nil || a.Password != was.Password { // another password was set meanwhile
			return err
		}
		a.Password = hash
		return tx.SetAccount(a)
	})
}

// SignedIn gives the person of a session that remembers a name and a stamp. It gives Forbidden where the session must end: the password
// was changed, the account disabled. The role is the present one.
func (b *Book) SignedIn(ctx context.Context, name string, stamp int64) (Person, error) {
	a, err := b.store.Account(ctx, name)
	if kb.KindOf(err) == kb.NotFound || err == nil && (a.Disabled || a.Stamp != stamp) {
		return Person{}, kb.Errorf(kb.Forbidden, "this session has ended; sign in again")
	}
	if err != nil {
		return Person{}, err
	}
	return personOf(a)
}

// SetPassword changes a person's own password; the present one is asked for again. All sessions end, the caller may begin a new one.
func (b *Book) SetPassword(ctx context.Context, name, present, next, address string) (Person, error) {
	p, err := b.SignIn(ctx, name, present, address)
	if err != nil {
		return Person{}, err
	}
	if err := checkPassword(next, p.Name); err != nil {
		return Person{}, err
	}
	hash, err := b.people.hash(ctx, next)
	if err != nil {
		return Person{}, err
	}
	err = b.store.Update(ctx, func(tx *store.Tx) error {
		a, err := tx.Account(p.Name)
		if err != nil {
			return err
		}
		if a.Stamp != p.Stamp || a.Disabled {
			return kb.Errorf(kb.Conflict, "the account was changed meanwhile; sign in again")
		}
		a.Password, a.Stamp, a.Changed = hash, a.Stamp+1, b.now()
		p.Stamp = a.Stamp
		return tx.SetAccount(a)
	})
	return p, err
}
