package main

import (
	"crypto/tls"
	"fmt"
	"log/slog"
	"net"
	"net/netip"
	"strconv"
	"strings"
	"time"

	"spile/internal/authority"
	"spile/internal/store"
	"spile/internal/web"
)

// offerSecure makes ready what is served over https, and says how a phone comes to trust it.
func offerSecure(site *web.Site, at *net.TCPAddr, cellar *store.Store, log *slog.Logger) (config *tls.Config, said string, err error) {
	host, names := "", []string(nil)
	for i, n := range ownNames() {
		if i == 0 {
			host = n
		}
		names = append(names, n, n+".local")
	}
	vouching, err := authority.Open(cellar.Dir(), host, time.Now, log)
	if err != nil {
		return nil, "", err
	}
	config = vouching.Serve(names, heardAt(at))
	config.NextProtos = []string{"h2", "http/1.1"}
	how := web.Secure{Certificate: vouching.DER(), Name: vouching.Name(), Fingerprint: vouching.Fingerprint(), Ends: vouching.Ends()}
	for _, a := range phoneAddresses(at) {
		if vouching.Permits(a) {
			how.Open = append(how.Open, "https://"+netip.AddrPortFrom(a, uint16(at.Port)).String())
		}
	}
	if len(how.Open) == 0 { // no address of a home: by its name, or from itself
		name := "localhost"
		if host != "" && !at.IP.IsLoopback() {
			name = names[len(names)-1]
		}
		how.Open = []string{"https://" + net.JoinHostPort(name, strconv.Itoa(at.Port))}
	}
	site.OfferSecure(how)
	return config, fmt.Sprintf("Over https: %s. A phone comes to trust that in three steps, on the page Use it on my phone.\nIts authority, %s, has the fingerprint (SHA-256)\n%s\n",
		strings.Join(how.Open, " and "), how.Name, how.Fingerprint), nil
}

// heardAt are all addresses by which a server is reached that listens there.
func heardAt(at *net.TCPAddr) (out []netip.Addr) {
	if own := at.AddrPort().Addr(); !own.IsUnspecified() {
		return []netip.Addr{own}
	}
	all, err := net.InterfaceAddrs()
	if err != nil {
		return phoneAddresses(at) // what is known; others are joined as lines come in by them
	}
	for _, a := range all {
		if n, ok := a.(*net.IPNet); ok {
			if address, ok := netip.AddrFromSlice(n.IP); ok {
				out = append(out, address)
			}
		}
	}
	return out
}
