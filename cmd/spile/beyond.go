package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"golang.org/x/term"

	"spile/internal/store"
	"spile/internal/web"
)

// ownerName is what the first owner is called until another one is added.
const ownerName = "Owner"

// ownerVariable holds the password of the first owner where no terminal can ask. It is
// never a flag: those stand in the list of processes and in the history of the shell.
const ownerVariable = "SPILE_OWNER_PASSWORD"

// ownerPassword is the password for the first owner of a cellar, empty where it has one.
// Nothing is made yet.
func (c *ServeCmd) ownerPassword(ctx *Context) (string, error) {
	if _, err := os.Stat(filepath.Join(c.Data, store.DataFile)); !errors.Is(err, fs.ErrNotExist) {
		has := false
		err := c.reading(func(asked context.Context, s *store.Store) (err error) {
			has, err = s.HasOwner(asked)
			return err
		})
		if err != nil || has {
			return "", err
		}
	}
	password := os.Getenv(ownerVariable)
	if password == "" && term.IsTerminal(int(os.Stdin.Fd())) {
		fmt.Fprintln(ctx.Stderr, "Others could reach "+c.Listen+", so its owner needs a password of 8 letters or more. It is asked for this once, and not shown.")
		var err error
		if password, err = askPassword(ctx); err != nil {
			return "", err
		}
	}
	if password == "" {
		return "", badInput(fmt.Errorf("--listen: read %q; others could reach that, which needs an owner's password, and there is none yet; accepted: a start from a terminal, which asks for it, or the password in %s", c.Listen, ownerVariable))
	}
	return password, faulted(store.CheckPassword(password))
}

// askPassword asks for a password: twice and unseen at a terminal, else the first line of what comes in.
func askPassword(ctx *Context) (string, error) {
	in := int(os.Stdin.Fd())
	if !term.IsTerminal(in) {
		line, err := bufio.NewReader(os.Stdin).ReadString('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return "", err
		}
		if line = strings.TrimSpace(line); line == "" {
			return "", badInput(errors.New("no password; accepted: one line on standard input, or a terminal that can ask"))
		}
		return line, nil
	}
	return typeTwice(ctx.Stderr, func() (string, error) {
		line, err := term.ReadPassword(in)
		return strings.TrimSpace(string(line)), err
	})
}

// mostTypings is how often a password that was refused, or typed differently, is asked for.
const mostTypings = 3

// typeTwice asks for a password that is typed twice, and says at once what is wrong with it.
func typeTwice(to io.Writer, read func() (string, error)) (string, error) {
	ask := func(say string) (string, error) {
		fmt.Fprint(to, say)
		line, err := read()
		fmt.Fprintln(to)
		return line, err
	}
	for try := 1; ; try++ {
		first, err := ask("Password: ")
		if err != nil {
			return "", err
		}
		wrong := store.CheckPassword(first)
		if wrong == nil {
			again, err := ask("Once more: ")
			if err != nil || again == first {
				return first, err
			}
			wrong = &store.Fault{Usage: true, Sentence: "the two passwords differ; nothing was changed"}
		}
		if try == mostTypings {
			return "", faulted(wrong)
		}
		fmt.Fprintln(to, wrong)
	}
}

// openBeyond lets other machines in, and says how to come in.
func openBeyond(ctx context.Context, site *web.Site, at *net.TCPAddr, cellar *store.Store) (welcome string, err error) {
	if has, err := cellar.HasOwner(ctx); err != nil {
		return "", err
	} else if !has {
		return "", badInput(errors.New("others could reach this, and there is no owner yet; spile serve from a terminal asks for a password"))
	}
	b := web.Beyond{Names: ownNames()}
	for _, a := range phoneAddresses(at) {
		b.Open = append(b.Open, fmt.Sprintf("http://%s", netip.AddrPortFrom(a, uint16(at.Port))))
	}
	site.OpenBeyond(b)
	if len(b.Open) == 0 {
		return fmt.Sprintf("Spile is open at http://%s, with a login. This machine is in no network that a phone could share.\n", at), nil
	}
	square, err := web.QRText(b.Open[0])
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("Spile is open at %s, with a login.\nOn a phone in the same network, photograph this:\n%s", strings.Join(b.Open, " and "), square), nil
}

// ownNames are what this machine is called, whole and short.
func ownNames() []string {
	name, err := os.Hostname()
	if err != nil || name == "" {
		return nil // its addresses reach it
	}
	first, _, _ := strings.Cut(name, ".")
	return slices.Compact([]string{name, first})
}

// mostOpen is how many addresses are told.
const mostOpen = 3

// phoneAddresses are those of this machine that a phone in the same network can reach, the
// one that leads out of the house first.
func phoneAddresses(at *net.TCPAddr) []netip.Addr {
	if own := at.AddrPort().Addr().Unmap(); !own.IsUnspecified() {
		return []netip.Addr{own}
	}
	var out []netip.Addr
	add := func(a netip.Addr) {
		if a = a.Unmap(); a.Is4() && !a.IsLoopback() && !a.IsLinkLocalUnicast() && !slices.Contains(out, a) && len(out) < mostOpen {
			out = append(out, a)
		}
	}
	// Connecting a UDP socket sends nothing; it tells which of our addresses the way out has.
	// The far one is kept for examples (RFC 5737).
	if way, err := net.Dial("udp4", "192.0.2.1:9"); err == nil {
		add(way.LocalAddr().(*net.UDPAddr).AddrPort().Addr())
		way.Close()
	}
	all, err := net.InterfaceAddrs()
	if err != nil {
		return out // what is known already
	}
	for _, a := range all {
		if n, ok := a.(*net.IPNet); ok {
			if address, ok := netip.AddrFromSlice(n.IP); ok {
				add(address)
			}
		}
	}
	return out
}

// linesPerClient is how many connections one machine may have open: a browser takes six
// and one for each page that follows.
const linesPerClient = 128

// perClient lets no one machine take all connections.
type perClient struct {
	net.Listener
	mu   sync.Mutex
	open map[netip.Addr]int
}

func newPerClient(l net.Listener) *perClient {
	return &perClient{Listener: l, open: map[netip.Addr]int{}}
}

// Accept waits for a connection of a machine that has not too many already.
func (p *perClient) Accept() (net.Conn, error) {
	for {
		c, err := p.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from := c.RemoteAddr().(*net.TCPAddr).AddrPort().Addr()
		if p.count(from, 1) <= linesPerClient {
			return &openLine{Conn: c, end: sync.OnceFunc(func() { p.count(from, -1) })}, nil
		}
		p.count(from, -1)
		c.Close() //nolint:errcheck // it is let go unheard
	}
}

func (p *perClient) count(from netip.Addr, by int) int {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.open[from] += by
	n := p.open[from]
	if n == 0 {
		delete(p.open, from)
	}
	return n
}

// openLine is a connection that is counted until it is closed.
type openLine struct {
	net.Conn
	end func()
}

// Close closes the connection.
func (l *openLine) Close() error {
	l.end()
	return l.Conn.Close()
}
