package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/spf13/cobra"

	"ruledout/internal/casebook"
)

func (a *app) userCommand() *cobra.Command {
	c := &cobra.Command{
		Use: "user", Short: "the accounts of the pages: who may do more than read",
		Long: `Keeps the accounts of the pages. A contributor writes up cases and keeps job sheets, a moderator reviews what others
wrote up, an administrator keeps the accounts. Nobody but a person sets their password: an account is made without one, and a
one-time link lets the person in to set it. Whoever may write to the data folder may use these commands.`,
		Args: args(cobra.NoArgs),
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(a.userAddCommand(), a.userRoleCommand(), a.userDisableCommand(), a.userLinkCommand(), a.userListCommand())
	return c
}

// printedLink is a one-time link as it is printed: the only time that it is seen.
type printedLink struct {
	casebook.Link
	URL string `json:"url"`
}

// printedUser is an account, with the link that was made for it, if one was.
type printedUser struct {
	casebook.Person
	Link *printedLink `json:"link,omitempty"`
}

// baseFlag gives a command the --base flag.
func baseFlag(c *cobra.Command, base *string) {
	c.Flags().StringVar(base, "base", "http://127.0.0.1:8080", "`address` at which people reach the pages, for the link")
}

func linkAt(base string, l casebook.Link) *printedLink {
	return &printedLink{l, strings.TrimRight(base, "/") + casebook.LinkPath + l.Token}
}

func (a *app) userAddCommand() *cobra.Command {
	var role, base string
	c := &cobra.Command{
		Use: "add NAME", Short: "make an account and print the link by which its person sets a password", Args: args(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, list []string) error {
			r, err := casebook.ParseRole(role)
			if err != nil {
				return err
			}
			return a.withBook(c.Context(), false, func(b *casebook.Book) error {
				p, err := b.AddUser(c.Context(), a.who(), list[0], r)
				if err != nil {
					return err
				}
				l, err := b.NewLink(c.Context(), a.who(), p.Name)
				if err != nil {
					return err
				}
				return a.printUser(printedUser{p, linkAt(base, l)})
			})
		},
	}
	c.Flags().StringVar(&role, "role", casebook.Contributor.String(), "contributor, moderator or administrator")
	baseFlag(c, &base)
	a.jsonFlag(c, "print the account and the link as JSON")
	return c
}

func (a *app) userRoleCommand() *cobra.Command {
	c := &cobra.Command{
		Use: "role NAME ROLE", Short: "give an account another role: contributor, moderator or administrator", Args: args(cobra.ExactArgs(2)),
		RunE: func(c *cobra.Command, list []string) error {
			r, err := casebook.ParseRole(list[1])
			if err != nil {
				return err
			}
			return a.withBook(c.Context(), false, func(b *casebook.Book) error {
				p, err := b.SetRole(c.Context(), a.who(), list[0], r)
				if err != nil {
					return err
				}
				return a.printUser(printedUser{Person: p})
			})
		},
	}
	a.jsonFlag(c, "print the account as JSON")
	return c
}

func (a *app) userDisableCommand() *cobra.Command {
	var undo bool
	c := &cobra.Command{
		Use: "disable NAME", Short: "close an account: its sessions end at once (--undo opens it again)", Args: args(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, list []string) error {
			return a.withBook(c.Context(), false, func(b *casebook.Book) error {
				change := b.DisableUser
				if undo {
					change = b.EnableUser
				}
				p, err := change(c.Context(), a.who(), list[0])
				if err != nil {
					return err
				}
				return a.printUser(printedUser{Person: p})
			})
		},
	}
	c.Flags().BoolVar(&undo, "undo", false, "open the account again")
	a.jsonFlag(c, "print the account as JSON")
	return c
}

func (a *app) userLinkCommand() *cobra.Command {
	var setUp bool
	var base string
	c := &cobra.Command{
		Use: "link [NAME]", Short: "print a one-time link by which a person sets a new password", Args: args(cobra.MaximumNArgs(1)),
		Long: `Prints a one-time link: an invitation for an account that has no password yet, else one to set another password. Links made for
the account before are void. --setup prints the link by which the first administrator takes a name and a password; there is one
as long as nobody can sign in as administrator.`,
		RunE: func(c *cobra.Command, list []string) error {
			if setUp == (len(list) == 1) {
				return usage{fmt.Errorf("link: name an account, or say --setup")}
			}
			return a.withBook(c.Context(), false, func(b *casebook.Book) error {
				l, err := casebook.Link{}, error(nil)
				if setUp {
					l, err = b.SetUpLink(c.Context())
				} else {
					l, err = b.NewLink(c.Context(), a.who(), list[0])
				}
				if err != nil {
					return err
				}
				if a.json {
					return a.printJSON(linkAt(base, l))
				}
				printLink(a.stdout, linkAt(base, l))
				return nil
			})
		},
	}
	c.Flags().BoolVar(&setUp, "setup", false, "for the first administrator")
	baseFlag(c, &base)
	a.jsonFlag(c, "print the link as JSON")
	return c
}

func (a *app) userListCommand() *cobra.Command {
	c := &cobra.Command{
		Use: "list", Short: "list the accounts", Args: args(cobra.NoArgs),
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withBook(c.Context(), true, func(b *casebook.Book) error {
				all, err := b.Users(c.Context(), a.who())
				if err != nil {
					return err
				}
				if a.json {
					return a.printJSON(all)
				}
				printUsers(a.stdout, all)
				return nil
			})
		},
	}
	a.jsonFlag(c, "print the accounts as JSON")
	return c
}

func (a *app) printUser(u printedUser) error {
	if a.json {
		return a.printJSON(u)
	}
	_, err := fmt.Fprintf(a.stdout, "%s  %s%s\n", u.Name, u.Role, stateOf(u.Person))
	if u.Link != nil {
		printLink(a.stdout, u.Link)
	}
	return err
}

// stateOf says what keeps a person from signing in.
func stateOf(p casebook.Person) string {
	switch {
	case p.Disabled:
		return ", disabled"
	case !p.Ready:
		return ", no password yet"
	}
	return ""
}

func printLink(w io.Writer, l *printedLink) {
	fmt.Fprintf(w, "%s, once, until %s:\n  %s\n", l.Kind, l.Expires.UTC().Format("2006-01-02 15:04 MST"), l.URL)
}

func printUsers(w io.Writer, all []casebook.Person) {
	if len(all) == 0 {
		fmt.Fprintln(w, "no accounts")
		return
	}
	t := table.NewWriter()
	t.SetStyle(plainStyle())
	t.AppendHeader(table.Row{"name", "role", "since", ""})
	for _, p := range all {
		t.AppendRow(table.Row{p.Name, p.Role, p.Created.UTC().Format("2006-01-02"), strings.TrimPrefix(stateOf(p), ", ")})
	}
	for line := range strings.Lines(t.Render()) {
		fmt.Fprintln(w, strings.TrimRight(line, " \n"))
	}
}
