package web

import (
	"errors"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// Limits on what one client may ask. A page takes a handful of requests; a round of readings a dozen.
const (
	asksPerSecond = 20
	asksAtOnce    = 200

	sendsPerSecond = 5 // of one device
	sendsAtOnce    = 100

	guesses     = 10 // of a password, by one client within guessesIn
	guessesIn   = time.Minute
	mostClients = 4096
)

var errTooMany = errors.New("10 passwords were tried within a minute. Wait a minute")

// clients remembers what each client asked of late.
type clients struct {
	mu   sync.Mutex
	each map[string]*client
	now  func() time.Time
}

type client struct {
	rate    *rate.Limiter
	guessed []time.Time
	seen    time.Time
}

func newClients() *clients { return &clients{each: map[string]*client{}, now: time.Now} }

// of is the record of a client; the lock is held.
func (c *clients) of(name string, perSecond rate.Limit, atOnce int) *client {
	now := c.now()
	one := c.each[name]
	if one == nil {
		if len(c.each) >= mostClients {
			c.forget(now)
		}
		one = &client{rate: rate.NewLimiter(perSecond, atOnce)}
		c.each[name] = one
	}
	one.seen = now
	return one
}

// forget lets go of those that were quiet for a minute; where all are new, of any that did not guess.
func (c *clients) forget(now time.Time) {
	for name, one := range c.each {
		if now.Sub(one.seen) > guessesIn {
			delete(c.each, name)
		}
	}
	for name, one := range c.each {
		if len(c.each) < mostClients {
			return
		}
		if len(one.guessed) == 0 {
			delete(c.each, name)
		}
	}
}

// ask tells whether one more request of a client is answered.
func (c *clients) ask(name string) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.of(name, asksPerSecond, asksAtOnce).rate.AllowN(c.now(), 1)
}

// send tells whether one more message of a device is read.
func (c *clients) send(device string) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.of("device "+device, sendsPerSecond, sendsAtOnce).rate.AllowN(c.now(), 1)
}

// guess tells whether a client may try one more password: at most so many within any minute.
func (c *clients) guess(name string) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	one, now := c.of(name, asksPerSecond, asksAtOnce), c.now()
	if n := len(one.guessed); n >= guesses && now.Sub(one.guessed[n-guesses]) < guessesIn {
		return false
	}
	one.guessed = append(one.guessed, now)
	if n := len(one.guessed); n > guesses {
		one.guessed = one.guessed[n-guesses:]
	}
	return true
}

// clientOf names who asks: an address, of IPv6 the network that one household has.
func clientOf(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	address, err := netip.ParseAddr(host)
	if err != nil {
		return host
	}
	if address = address.Unmap().WithZone(""); address.Is4() {
		return address.String()
	}
	network, err := address.Prefix(64)
	if err != nil {
		return address.String()
	}
	return network.String()
}
