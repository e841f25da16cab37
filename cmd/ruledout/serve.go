package main

import (
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

func (a *app) serveCommand() *cobra.Command {
	var listen string
	c := &cobra.Command{
		Use: "serve", Short: "serve the pages of the casebook", Args: args(cobra.NoArgs),
		Long: `Serves the casebook's pages: look up, cases, codes, find, track record. Reading needs no account. The address is this machine's
own unless --listen names another; in front of a public one belongs a proxy that speaks TLS. Interrupt to stop.`,
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withBook(c.Context(), false, func(b *casebook.Book) error { return a.serve(c.Context(), b, listen) })
		},
	}
	c.Flags().StringVar(&listen, "listen", defaultListen, "`address` to listen on")
	return c
}

// serve serves pages until the context ends; requests under way get some seconds to finish.
func (a *app) serve(ctx context.Context, b *casebook.Book, listen string) error {
	h, err := web.New(b, web.Options{Log: slog.New(slog.NewTextHandler(a.stderr, nil))})
	if err != nil {
		return err
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", listen)
	if err != nil {
		return kb.Errorf(kb.Unavailable, "listen on %s: %w", listen, err)
	}
	server := &http.Server{Handler: h, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 30 * time.Second, WriteTimeout: 2 * time.Minute, IdleTimeout: 2 * time.Minute}
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
