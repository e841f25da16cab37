package casebook

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"ruledout/internal/store"
	"ruledout/kb"
)

// Person is an account as others may see it.
type Person struct {
	Name     string    `json:"name"`
	Role     Role      `json:"role"`
	Disabled bool      `json:"disabled,omitempty"`
	Ready    bool      `json:"ready"` // a password has been set
	Stamp    int64     `json:"-"`     // a session remembers it: another one later ends the session, see Book.SignedIn
	Created  time.Time `json:"created"`
}

// Actor gives what the person may do.
func (p Person) Actor() Actor { return Actor{Name: p.Name, Role: p.Role} }

// people is what a book keeps in memory about signing in.
type people struct {
	turns    chan struct{} // hashes in flight
	failures failures
	dummy    func() string // a hash that no password has, for names that have none
}

func newPeople() *people {
	return &people{turns: make(chan struct{}, hashesAtOnce), failures: failures{seen: map[string]failed{}},
		dummy: sync.OnceValue(func() string { return hashPassword(newToken(), presentHashing()) })}
}

// Roles lists the roles that an account can have, least first.
func Roles() []Role { return []Role{Contributor, Moderator, Administrator} }

// String gives the role's word.
func (r Role) String() string {
	switch r {
	case Contributor:
		return "contributor"
	case Moderator:
		return "moderator"
	case Administrator:
		return "administrator"
	}
	return "reader"
}

// MarshalText gives the role's word.
func (r Role) MarshalText() ([]byte, error) { return []byte(r.String()), nil }

// ParseRole reads the word of a role that an account can have.
func ParseRole(s string) (Role, error) {
	for _, r := range Roles() {
		if strings.EqualFold(strings.TrimSpace(s), r.String()) {
			return r, nil
		}
	}
	return Reader, &kb.Error{Kind: kb.Invalid, Field: "role", Msg: fmt.Sprintf("%q is no role of an account; want contributor, moderator or administrator", s)}
}

// personName gives a name the one spelling under which it is kept, or says what is wrong with it.
func personName(s string) (string, error) {
	name := strings.ToLower(norm.NFKC.String(strings.TrimSpace(s)))
	n := utf8.RuneCountInString(name)
	bad := func(msg string) (string, error) {
		return "", &kb.Error{Kind: kb.Invalid, Field: "name", Msg: msg}
	}
	if n < 2 || n > 40 || !utf8.ValidString(name) {
		return bad("want a name of 2 to 40 characters")
	}
	for i, r := range name {
		letter := unicode.IsLetter(r) || unicode.IsDigit(r)
		if !letter && (i == 0 || !strings.ContainsRune(".-_", r)) && !unicode.Is(unicode.Mn, r) {
			return bad("want letters and digits, with full stops, hyphens and underscores between them")
		}
	}
	return name, nil
}

func personOf(a store.Account) (Person, error) {
	role, err := ParseRole(a.Role)
	if err != nil {
		return Person{}, kb.Errorf(kb.Internal, "account %s has the unknown role %q", a.Name, a.Role)
	}
	return Person{Name: a.Name, Role: role, Disabled: a.Disabled, Ready: a.Password != "", Stamp: a.Stamp, Created: a.Created}, nil
}

// AddUser makes an account without a password: its first one is set through an invitation, see NewLink.
func (b *Book) AddUser(ctx context.Context, by Actor, name string, role Role) (Person, error) {
	if err := by.may(Administrator, "add accounts"); err != nil {
		return Person{}, err
	}
	name, err := personName(name)
	if err != nil {
		return Person{}, err
	}
	if role < Contributor || role > Administrator {
		return Person{}, &kb.Error{Kind: kb.Invalid, Field: "role", Msg: "is no role of an account"}
	}
	a := store.Account{Name: name, Role: role.String(), Stamp: 1, Created: b.now(), Changed: b.now()}
	if err := b.store.Update(ctx, func(tx *store.Tx) error { return tx.AddAccount(a) }); err != nil {
		return Person{}, fmt.Errorf("add user: %w", err)
	}
	return personOf(a)
}

// Users lists all accounts in order of name.
func (b *Book) Users(ctx context.Context, by Actor) ([]Person, error) {
	if err := by.may(Administrator, "list accounts"); err != nil {
		return nil, err
	}
	all, err := b.store.Accounts(ctx)
	if err != nil {
		return nil, err
	}
	out := []Person{}
	for _, a := range all {
		p, err := personOf(a)
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

// SetRole gives an account another role; it holds from the person's next request on. The last administrator stays one.
func (b *Book) SetRole(ctx context.Context, by Actor, name string, role Role) (Person, error) {
	return b.changeUser(ctx, by, name, "set roles", func(a *store.Account) error {
		if role < Contributor || role > Administrator {
			return &kb.Error{Kind: kb.Invalid, Field: "role", Msg: "is no role of an account"}
		}
		a.Role = role.String()
		return nil
	})
}

// DisableUser closes an account: its sessions end at once, its links are void. The last administrator cannot be disabled.
func (b *Book) DisableUser(ctx context.Context, by Actor, name string) (Person, error) {
	return b.changeUser(ctx, by, name, "disable accounts", func(a *store.Account) error {
		if !a.Disabled {
			a.Disabled, a.Stamp = true, a.Stamp+1
		}
		return nil
	})
}

// EnableUser opens a disabled account again; the password is as before.
func (b *Book) EnableUser(ctx context.Context, by Actor, name string) (Person, error) {
	return b.changeUser(ctx, by, name, "enable accounts", func(a *store.Account) error {
		a.Disabled = false
		return nil
	})
}

func (b *Book) changeUser(ctx context.Context, by Actor, name, what string, edit func(*store.Account) error) (Person, error) {
	if err := by.may(Administrator, what); err != nil {
		return Person{}, err
	}
	name, err := personName(name)
	if err != nil {
		return Person{}, err
	}
	var after store.Account
	err = b.store.Update(ctx, func(tx *store.Tx) error {
		if after, err = tx.Account(name); err != nil {
			return err
		}
		before := after
		if err := edit(&after); err != nil {
			return err
		}
		after.Changed = b.now()
		if err := tx.SetAccount(after); err != nil {
			return err
		}
		if after.Disabled {
			if err := tx.DropLinks(name); err != nil {
				return err
			}
		}
		return administratorLeft(tx, before)
	})
	if err != nil {
		return Person{}, fmt.Errorf("%s: %w", what, err)
	}
	return personOf(after)
}

// administratorLeft refuses a change of an administrator after which there is none.
func administratorLeft(tx *store.Tx, before store.Account) error {
	if before.Role != Administrator.String() || before.Disabled {
		return nil
	}
	all, err := tx.Accounts()
	if err != nil {
		return err
	}
	for _, a := range all {
		if a.Role == Administrator.String() && !a.Disabled {
			return nil
		}
	}
	return kb.Errorf(kb.Conflict, "nobody could manage accounts any more; make another administrator first")
}

// hasAdministrator tells whether somebody can sign in as administrator.
func hasAdministrator(all []store.Account) bool {
	for _, a := range all {
		if a.Role == Administrator.String() && !a.Disabled && a.Password != "" {
			return true
		}
	}
	return false
}
