package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"github.com/spf13/cobra"

	"ruledout/internal/casebook"
	"ruledout/kb"
	"ruledout/web"
)

// defaultListen is an address that only this machine reaches.
const defaultListen = "127.0.0.1:8080"

// serving says how the pages are served.
type serving struct {
	listen string
	web.Options
}

func (a *app) serveCommand() *cobra.Command {
	var how serving
	c := &cobra.Command{
		Use: "serve", Short: "serve the pages of the casebook", Args: args(cobra.NoArgs),
		Long: `Serves the casebook's pages: look up, cases, codes, find, track record, and for people with an account job sheets. Reading needs
no account unless --private is given. As long as nobody looks after the accounts, a one-time link is printed by which the first administrator
sets a name and a password. The address is this machine's own unless --listen names another; in front of a public one belongs a proxy that
speaks TLS (say --base https://... then, and --behind-proxy). Interrupt to stop.`,
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withBook(c.Context(), false, func(b *casebook.Book) error { return a.serve(c.Context(), b, how) })
		},
	}
	listenFlag(c, &how.listen)
	c.Flags().StringVar(&how.Base, "base", "", "`address` at which people reach the pages, for links (default: the one listened on)")
	c.Flags().BoolVar(&how.Private, "private", false, "reading needs an account too")
	c.Flags().BoolVar(&how.BehindProxy, "behind-proxy", false, "take the client's address from the last entry of X-Forwarded-For")
	return c
}

func listenFlag(c *cobra.Command, listen *string) {
	c.Flags().StringVar(listen, "listen", defaultListen, "`address` to listen on")
}

// setUpLink prints the link by which the first administrator comes in, as long as there is none.
func (a *app) setUpLink(ctx context.Context, b *casebook.Book, base string) error {
	needed, err := b.NeedsSetUp(ctx)
	if err != nil || !needed {
		return err
	}
	l, err := b.SetUpLink(ctx)
	if err != nil {
		return err
	}
	fmt.Fprintln(a.stdout, "Nobody looks after the accounts yet. To set that up, open this link:")
	printLink(a.stdout, linkAt(base, l))
	return nil
}

// serve serves pages until the context ends; requests under way get some seconds to finish.
func (a *app) serve(ctx context.Context, b *casebook.Book, how serving) error {
	how.Log = slog.New(slog.NewTextHandler(a.stderr, nil))
	h, err := web.New(b, how.Options)
	if err != nil {
		return err
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", how.listen)
	if err != nil {
		return kb.Errorf(kb.Unavailable, "listen on %s: %w", how.listen, err)
	}
	server := &http.Server{Handler: h, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 30 * time.Second, WriteTimeout: 2 * time.Minute, IdleTimeout: 2 * time.Minute}
	if err := a.setUpLink(ctx, b, cmp.Or(how.Base, "http://"+l.Addr().String())); err != nil {
		return errors.Join(err, l.Close())
	}
	fmt.Fprintf(a.stdout, "The pages are at http://%s (interrupt to stop)\n", l.Addr())
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(l) }()
	select {
	case err := <-failed:
		return kb.Errorf(kb.Unavailable, "serve: %w", err)
	case <-ctx.Done():
	}
	end, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	if err := server.Shutdown(end); err != nil && !errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return nil
}
