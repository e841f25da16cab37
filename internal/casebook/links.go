package casebook

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"time"

	"ruledout/internal/store"
	"ruledout/kb"
)

// LinkKind tells what a one-time link is for.
type LinkKind string

// The kinds of one-time link.
const (
	SetUp      LinkKind = "set-up"     // the first administrator takes a name and a password
	Invitation LinkKind = "invitation" // a new account's first password
	Reset      LinkKind = "reset"      // another password for an account that has one
)

// LinkPath is where the pages take one-time links: the token follows it.
const LinkPath = "/link/"

// How long links may be used.
const (
	invitationLasts = 7 * 24 * time.Hour
	otherLinksLast  = 24 * time.Hour
)

// Link is a one-time link as it is handed out, once: of its token only a hash is kept.
type Link struct {
	Token   string    `json:"token,omitempty"` // empty when a link is looked at
	Kind    LinkKind  `json:"kind"`
	Name    string    `json:"name,omitempty"` // of the account, empty for SetUp
	Expires time.Time `json:"expires"`
}

// newToken gives 256 random bits as 43 characters that may stand in an address.
func newToken() string {
	b := make([]byte, 32)
	_, _ = rand.Read(b) // it never fails, see crypto/rand
	return base64.RawURLEncoding.EncodeToString(b)
}

// tokenHash is what is kept of a token. A token is random through and through, so a fast hash does.
func tokenHash(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

// SetUpLink makes the link by which the first administrator comes in. It gives Conflict once somebody can sign in as administrator.
// Whoever starts the program gets it; there is nobody yet who could be asked.
func (b *Book) SetUpLink(ctx context.Context) (Link, error) {
	l := Link{Token: newToken(), Kind: SetUp, Expires: b.now().Add(otherLinksLast)}
	err := b.store.Update(ctx, func(tx *store.Tx) error {
		if err := wantsSetUp(tx); err != nil {
			return err
		}
		return tx.AddLink(b.kept(l, "set-up"))
	})
	if err != nil {
		return Link{}, fmt.Errorf("set-up link: %w", err)
	}
	return l, nil
}

// NeedsSetUp tells whether nobody can sign in as administrator yet.
func (b *Book) NeedsSetUp(ctx context.Context) (bool, error) {
	all, err := b.store.Accounts(ctx)
	return err == nil && !hasAdministrator(all), err
}

func wantsSetUp(tx *store.Tx) error {
	all, err := tx.Accounts()
	if err == nil && hasAdministrator(all) {
		return kb.Errorf(kb.Conflict, "there is an administrator already; ask them for an invitation")
	}
	return err
}

// kept is the form in which a link is stored.
func (b *Book) kept(l Link, by string) store.Link {
	return store.Link{Hash: tokenHash(l.Token), Kind: string(l.Kind), Name: l.Name, MadeBy: by, Created: b.now(), Expires: l.Expires}
}

// NewLink makes the one-time link by which a person sets a password: an invitation for an account that has none, else a reset. Links
// that were made for the account before are void from then on.
func (b *Book) NewLink(ctx context.Context, by Actor, name string) (Link, error) {
	if err := by.may(Administrator, "make links"); err != nil {
		return Link{}, err
	}
	name, err := personName(name)
	if err != nil {
		return Link{}, err
	}
	l := Link{Token: newToken(), Kind: Invitation, Name: name, Expires: b.now().Add(invitationLasts)}
	err = b.store.Update(ctx, func(tx *store.Tx) error {
		a, err := tx.Account(name)
		if err != nil {
			return err
		}
		if a.Disabled {
			return kb.Errorf(kb.Conflict, "account %s is disabled; enable it first", name)
		}
		if a.Password != "" {
			l.Kind, l.Expires = Reset, b.now().Add(otherLinksLast)
		}
		if err := tx.DropLinks(name); err != nil {
			return err
		}
		return tx.AddLink(b.kept(l, by.Name))
	})
	if err != nil {
		return Link{}, fmt.Errorf("link for %s: %w", name, err)
	}
	return l, nil
}

// LookLink tells what a link is for, without using it up. One that is unknown, used or expired gives NotFound.
func (b *Book) LookLink(ctx context.Context, token string) (Link, error) {
	l, err := b.store.Link(ctx, tokenHash(token))
	return b.usable(l, err)
}

func (b *Book) usable(l store.Link, err error) (Link, error) {
	if kb.KindOf(err) == kb.NotFound || err == nil && (!l.Used.IsZero() || !b.now().Before(l.Expires)) {
		return Link{}, kb.Errorf(kb.NotFound, "this link was used, has expired or never was; ask an administrator for another")
	}
	return Link{Kind: LinkKind(l.Kind), Name: l.Name, Expires: l.Expires}, err
}

// UseLink sets a password by a one-time link and gives the person, whom the caller may sign in. The name is asked for by a set-up link
// alone: the administrator's account is made, or taken over if it was added without a password. All sessions of the account end.
func (b *Book) UseLink(ctx context.Context, token, name, password string) (Person, error) {
	l, err := b.LookLink(ctx, token)
	if err != nil {
		return Person{}, err
	}
	if l.Kind != SetUp {
		name = l.Name
	}
	if name, err = personName(name); err != nil {
		return Person{}, err
	}
	if err := checkPassword(password, name); err != nil {
		return Person{}, err
	}
	hash, err := b.people.hash(ctx, password)
	if err != nil {
		return Person{}, err
	}
	var after store.Account
	err = b.store.Update(ctx, func(tx *store.Tx) error {
		if _, err := b.usable(tx.Link(tokenHash(token))); err != nil {
			return err
		}
		if l.Kind == SetUp {
			err = b.firstAdministrator(tx, name)
		}
		if err == nil {
			after, err = tx.Account(name)
		}
		if err != nil {
			return err
		}
		if after.Disabled {
			return kb.Errorf(kb.Forbidden, "account %s is disabled", name)
		}
		after.Password, after.Stamp, after.Changed = hash, after.Stamp+1, b.now()
		if err := tx.SetAccount(after); err != nil {
			return err
		}
		return tx.UseLink(tokenHash(token), b.now())
	})
	if err != nil {
		return Person{}, err
	}
	b.people.failures.forget("name " + name)
	return personOf(after)
}

// firstAdministrator makes the account of the first administrator, or an administrator of one that nobody has used yet.
func (b *Book) firstAdministrator(tx *store.Tx, name string) error {
	if err := wantsSetUp(tx); err != nil {
		return err
	}
	a, err := tx.Account(name)
	if kb.KindOf(err) == kb.NotFound {
		return tx.AddAccount(store.Account{Name: name, Role: Administrator.String(), Stamp: 1, Created: b.now(), Changed: b.now()})
	}
	if err != nil {
		return err
	}
	if a.Password != "" {
		return kb.Errorf(kb.Conflict, "there is an account %s already; take another name", name)
	}
	a.Role, a.Changed = Administrator.String(), b.now()
	return tx.SetAccount(a)
}
