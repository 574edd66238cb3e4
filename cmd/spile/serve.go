package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"os"
	"os/signal"
	"strings"
	"sync"
	"syscall"
	"time"

	"spile/internal/catalogue"
	"spile/internal/monitor"
	"spile/internal/store"
	"spile/internal/web"
)

// ServeCmd serves the pages until it is told to stop.
type ServeCmd struct {
	cellarFlag
	Listen string `default:"127.0.0.1:8417" placeholder:"ADDRESS:PORT" help:"Where the pages are served; this machine alone unless a wider address is asked for, as 0.0.0.0:8417. The first start of that asks for an owner's password (or takes SPILE_OWNER_PASSWORD)."`
}

// stopWithin is how long answers under way may take once the server is told to stop.
const stopWithin = 5 * time.Second

// Run serves until SIGINT or SIGTERM.
func (c *ServeCmd) Run(ctx *Context) error {
	wide, err := widely(c.Listen)
	if err != nil {
		return badInput(err)
	}
	password := ""
	if wide {
		if password, err = c.ownerPassword(ctx); err != nil {
			return err
		}
	}
	stopped, release := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer release()
	return c.writing(func(asked context.Context, cellar *store.Store) error {
		if password != "" {
			if _, err := cellar.AddPerson(asked, ownerName, store.Owner, password); err != nil {
				return err
			}
		}
		return serve(stopped, ctx, c.Listen, cellar)
	})
}

// serve answers on the address until the context ends, then lets what is under way finish.
func serve(until context.Context, ctx *Context, listen string, cellar *store.Store) error {
	tongues, err := catalogue.Tongues()
	if err != nil {
		return err
	}
	l, err := net.Listen("tcp", listen)
	if err != nil {
		return listenError(listen, err)
	}
	log := slog.New(slog.NewTextHandler(ctx.Stderr, nil))
	watch := monitor.New(cellar, log, time.Now)
	rest := renew(watch, log)
	defer rest()
	site := web.New(version(), log, watch, tongues...)
	welcome := fmt.Sprintf("Spile is open at http://%s\nStop it with Ctrl-C.\n", l.Addr())
	if !l.Addr().(*net.TCPAddr).IP.IsLoopback() {
		if welcome, err = openBeyond(until, site, l.Addr().(*net.TCPAddr), cellar); err != nil {
			return errors.Join(err, l.Close())
		}
		l = newPerClient(l)
	}
	server := &http.Server{
		Handler:           site,
		ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 30 * time.Second, WriteTimeout: time.Minute, IdleTimeout: 2 * time.Minute,
		MaxHeaderBytes: 32 << 10,
	}
	server.RegisterOnShutdown(site.End)
	if _, err := fmt.Fprint(ctx.Stdout, welcome); err != nil {
		return errors.Join(err, l.Close())
	}
	return open(until, server, l)
}

// renew keeps beliefs and backups up to date until it is told to rest.
func renew(watch *monitor.Watch, log *slog.Logger) (rest func()) {
	watching, unwatch := context.WithCancel(context.Background())
	var renewing sync.WaitGroup
	renewing.Go(func() {
		if err := watch.Run(watching); err != nil && !errors.Is(err, context.Canceled) {
			log.Error("renewing", "err", err)
		}
	})
	renewing.Go(func() {
		if err := watch.BackupNightly(watching); err != nil {
			log.Error("nightly backups", "err", err)
		}
	})
	return func() {
		unwatch()
		renewing.Wait()
	}
}

// open serves until the context ends, then lets what is under way finish.
func open(until context.Context, server *http.Server, l net.Listener) error {
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(l) }()
	select {
	case err := <-ended:
		return err
	case <-until.Done():
	}
	last, cancel := context.WithTimeout(context.Background(), stopWithin)
	defer cancel()
	if err := server.Shutdown(last); err != nil {
		return fmt.Errorf("stopped, with answers still under way after %v: %w", stopWithin, err)
	}
	if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// widely tells whether others could reach what listens there.
func widely(listen string) (bool, error) {
	host, _, err := net.SplitHostPort(listen)
	if err != nil {
		return false, fmt.Errorf("--listen: read %q; accepted is an address and a port, for example 127.0.0.1:8417", listen)
	}
	address, err := netip.ParseAddr(host)
	return !strings.EqualFold(host, "localhost") && !(err == nil && address.IsLoopback()), nil
}

// listenError says in one line why the address cannot be had.
func listenError(listen string, err error) error {
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		return fmt.Errorf("--listen: %s is taken by another program, perhaps Spile itself; stop that or take another port, for example --listen 127.0.0.1:8418", listen)
	case errors.Is(err, syscall.EACCES):
		return fmt.Errorf("--listen: %s is kept for the system; take a port above 1023, for example --listen 127.0.0.1:8417", listen)
	}
	return badInput(fmt.Errorf("--listen: %s cannot be had: %v", listen, err))
}
