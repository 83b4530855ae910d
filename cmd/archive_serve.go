package cmd

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/archive"
	"handback/report"
	"handback/report/page"
	"handback/report/web"
)

type archiveServeOptions struct {
	*archiveAt
	listen string
	names  []string
}

func newArchiveServe(at *archiveAt) *cobra.Command {
	o := &archiveServeOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "serve", Short: "show the archive to browsers on this machine; nothing can be changed", Args: exactly(),
		Long: `Show the archive to people who look rather than type, with a browser on this machine:
find jobs, see how each stands, its states, handover and bag. The archive is opened for
reading, and nothing that a browser sends can change anything. No script is needed or run.

It answers on an address of this machine for itself alone (loopback) and asks nobody who
they are: whoever works on this machine sees all of it. To show it to others put the
owner's proxy in front, which asks who they are and encrypts, and give --name the name
that browsers ask for.

Ctrl-C ends it.`,
		Example: "  handback archive serve\n  handback archive serve --listen 127.0.0.1:9000 --name archive.example",
		RunE:    taking(runArchiveServe, o),
	}
	c.Flags().StringVar(&o.listen, "listen", "127.0.0.1:8437", "address of this machine for itself, and port; port 0 takes a free one")
	c.Flags().StringSliceVar(&o.names, "name", nil, "name that browsers ask for where a proxy stands in front")
	return c
}

func runArchiveServe(ctx context.Context, o *archiveServeOptions) error {
	host, _, err := net.SplitHostPort(o.listen)
	if err != nil || !web.Loopback(host) {
		return session.Usagef("--listen %s: an address of this machine for itself is wanted, such as 127.0.0.1:8437; a proxy in front shows it to others", o.listen)
	}
	for i, n := range o.names {
		o.names[i] = strings.ToLower(n)
	}
	return o.reading(ctx, func(a *archive.Archive) error {
		h, err := web.Handler(a, o.names, o.course(a))
		if err != nil {
			return err
		}
		var d net.ListenConfig
		on, err := d.Listen(ctx, "tcp", o.listen)
		if err != nil {
			return fmt.Errorf("listen on %s: %w", o.listen, err)
		}
		if _, err := fmt.Fprintf(o.env.Out, "http://%s/\n", on.Addr()); err != nil {
			on.Close()
			return err
		}
		fmt.Fprintln(o.env.Err, "shown until Ctrl-C")
		return serve(ctx, web.Server(h), on)
	})
}

// course works out how a value went over the years, for a page.
func (o *archiveServeOptions) course(a *archive.Archive) web.Course {
	quiet := *o.env
	quiet.Err = io.Discard // what was left out is told where it is typed
	at := &archiveAt{env: &quiet, path: o.path}
	return func(ctx context.Context, c archive.Course) (out web.Went, err error) {
		values, err := a.Values(ctx, c)
		if err == nil && len(values) == 0 {
			err = archive.ErrNoJob
		}
		if err != nil {
			return out, err
		}
		x := &archiveTrendOptions{archiveAt: at, name: c.Plant + "/" + c.Check + "/" + c.Key}
		if x.single(values) != nil {
			return out, archive.ErrSeveral
		}
		t, err := x.work(ctx, a, values)
		if err != nil {
			return out, err
		}
		out = web.Went{Title: t.Name, Picture: page.YearsFile(&t, t.Name)}
		for _, s := range t.Says {
			out.Says = append(out.Says, report.GroupWords("trend", s))
		}
		return out, nil
	}
}

// lastAnswers is how long answers that are under way may take when it ends.
const lastAnswers = 5 * time.Second

// serve answers until the context ends, which is how it is meant to end.
func serve(ctx context.Context, s *http.Server, on net.Listener) error {
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(on) }()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), lastAnswers)
	defer cancel()
	if err := s.Shutdown(last); err != nil {
		s.Close() // who takes longer is cut off
	}
	if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}
