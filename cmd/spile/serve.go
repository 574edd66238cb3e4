package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"os"
	"os/signal"
	"runtime/debug"
	"strconv"
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
	TLS    bool   `name:"tls" help:"Serve https too, at the port after that; the pages say how a phone comes to trust it."`
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
		return c.serve(stopped, ctx, cellar)
	})
}

// serve answers on the address until the context ends, then lets what is under way finish.
func (c *ServeCmd) serve(until context.Context, ctx *Context, cellar *store.Store) error {
	tongues, err := catalogue.Tongues()
	if err != nil {
		return err
	}
	l, err := c.listen()
	if err != nil {
		return err
	}
	log := slog.New(slog.NewTextHandler(ctx.Stderr, nil))
	watch := monitor.New(cellar, log, time.Now)
	rest := renew(watch, log)
	defer rest()
	site := web.New(version(), log, watch, tongues...)
	welcome, err := l.welcome(until, site, cellar, log)
	if err == nil {
		_, err = fmt.Fprint(ctx.Stdout, welcome+"Stop it with Ctrl-C.\n")
	}
	if err != nil {
		return errors.Join(err, l.close())
	}
	server := &http.Server{
		Handler:           thrifty(site),
		ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 30 * time.Second, WriteTimeout: time.Minute, IdleTimeout: 2 * time.Minute,
		MaxHeaderBytes: 32 << 10,
	}
	server.RegisterOnShutdown(site.End)
	return l.open(until, server)
}

// rested is how long nobody has asked for anything before memory is given back.
const rested = 2 * time.Second

// thrifty keeps small what stands in a shed all year, on a small machine beside other programs: garbage is collected at half
// of what lives instead of all of it, which takes one hundredth more of the processor while forecasts are made, and what
// was used for an answer goes back to the system when nobody asks for more.
func thrifty(pages http.Handler) http.Handler {
	if os.Getenv("GOGC") == "" { // else its owner knows better
		debug.SetGCPercent(50)
	}
	rest := time.AfterFunc(rested, debug.FreeOSMemory)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		rest.Reset(rested)
		pages.ServeHTTP(w, r)
	})
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

// lines are where a server listens.
type lines struct {
	plain  net.Listener
	secure net.Listener // nil: no https
}

// listen takes the address, and for https the port after it; where the system chooses the one, it chooses the other.
func (c *ServeCmd) listen() (l lines, err error) {
	if l.plain, err = net.Listen("tcp", c.Listen); err != nil {
		return l, listenError(c.Listen, err)
	}
	if !c.TLS {
		return l, nil
	}
	host, asked, err := net.SplitHostPort(c.Listen)
	if err != nil {
		return l, errors.Join(err, l.close())
	}
	next := l.plain.Addr().(*net.TCPAddr).Port + 1
	if asked == "0" {
		next = 0
	}
	at := net.JoinHostPort(host, strconv.Itoa(next))
	if l.secure, err = net.Listen("tcp", at); err != nil {
		return l, errors.Join(secureError(at, err), l.close())
	}
	return l, nil
}

// close lets go of the addresses.
func (l *lines) close() error {
	if l.secure == nil {
		return l.plain.Close()
	}
	return errors.Join(l.plain.Close(), l.secure.Close())
}

// welcome makes ready what is served, and says how to come in.
func (l *lines) welcome(ctx context.Context, site *web.Site, cellar *store.Store, log *slog.Logger) (said string, err error) {
	said = fmt.Sprintf("Spile is open at http://%s\n", l.plain.Addr())
	wide := !l.plain.Addr().(*net.TCPAddr).IP.IsLoopback()
	if wide {
		if said, err = openBeyond(ctx, site, l.plain.Addr().(*net.TCPAddr), cellar); err != nil {
			return "", err
		}
		l.plain = newPerClient(l.plain)
	}
	if l.secure == nil {
		return said, nil
	}
	config, more, err := offerSecure(site, l.secure.Addr().(*net.TCPAddr), cellar, log)
	if err != nil {
		return "", err
	}
	if wide {
		l.secure = newPerClient(l.secure)
	}
	l.secure = tls.NewListener(l.secure, config)
	return said + more, nil
}

// open serves until the context ends, then lets what is under way finish.
func (l *lines) open(until context.Context, server *http.Server) error {
	ended, serving := make(chan error, 2), 1
	go func() { ended <- server.Serve(l.plain) }()
	if l.secure != nil {
		serving++
		go func() { ended <- server.Serve(l.secure) }()
	}
	select {
	case err := <-ended:
		return errors.Join(err, server.Close())
	case <-until.Done():
	}
	last, cancel := context.WithTimeout(context.Background(), stopWithin)
	defer cancel()
	if err := server.Shutdown(last); err != nil {
		return fmt.Errorf("stopped, with answers still under way after %v: %w", stopWithin, err)
	}
	for range serving {
		if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
			return err
		}
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
		return fmt.Errorf("--listen: %s is taken by another program, perhaps Spile itself; stop that or take another port, for example --listen %s", listen, atPort(listen, "8418"))
	case errors.Is(err, syscall.EACCES):
		return fmt.Errorf("--listen: %s is kept for the system; take a port above 1023, for example --listen %s", listen, atPort(listen, "8417"))
	}
	return badInput(fmt.Errorf("--listen: %s cannot be had: %v", listen, err))
}

// atPort is the address that was asked for, at another port: as open to others as it was meant.
func atPort(listen, port string) string {
	host, _, err := net.SplitHostPort(listen)
	if err != nil {
		host = "127.0.0.1" // it was listened to, so it was read before
	}
	return net.JoinHostPort(host, port)
}

// secureError says in one line why the address of https cannot be had.
func secureError(at string, err error) error {
	if errors.Is(err, syscall.EADDRINUSE) {
		return fmt.Errorf("--tls: https takes the port after that of --listen, and %s is taken by another program; stop that or take another port, for example --listen %s", at, atPort(at, "8427"))
	}
	return badInput(fmt.Errorf("--tls: https takes the port after that of --listen, and %s cannot be had: %v", at, err))
}
