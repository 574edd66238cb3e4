package authority

import (
	"cmp"
	"crypto/ecdsa"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"net"
	"net/netip"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// Serve is what a server needs to answer by these names and addresses, and by localhost. Those that the
// authority may not vouch for are left out. An address by which a line comes in is joined to them.
func (a *Authority) Serve(names []string, addresses []netip.Addr) *tls.Config {
	a.mu.Lock()
	defer a.mu.Unlock()
	for _, n := range append([]string{"localhost"}, names...) {
		if n = strings.ToLower(strings.TrimSuffix(n, ".")); a.permitsName(n) && !slices.Contains(a.names, n) {
			a.names = append(a.names, n)
		}
	}
	slices.Sort(a.names)
	for _, at := range append([]netip.Addr{netip.AddrFrom4([4]byte{127, 0, 0, 1}), netip.IPv6Loopback()}, addresses...) {
		a.join(at)
	}
	if _, err := a.current(); err != nil {
		a.log.Error("https waits", "err", err)
	}
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: a.certificate}
}

func (a *Authority) permitsName(name string) bool {
	return hostName.MatchString(name) && slices.ContainsFunc(a.cert.PermittedDNSDomains, func(d string) bool { return name == d || strings.HasSuffix(name, "."+d) })
}

// Permits tells whether it may vouch for an address.
func (a *Authority) Permits(at netip.Addr) bool {
	within := func(n *net.IPNet) bool { return n.Contains(at.Unmap().AsSlice()) }
	return at.IsValid() && slices.ContainsFunc(a.cert.PermittedIPRanges, within)
}

// join adds an address that the authority may vouch for.
func (a *Authority) join(at netip.Addr) {
	if at = at.Unmap().WithZone(""); a.Permits(at) && !slices.Contains(a.addresses, at) {
		a.addresses = append(a.addresses, at)
		slices.SortFunc(a.addresses, netip.Addr.Compare)
	}
}

// certificate is what a line that comes in is shown.
func (a *Authority) certificate(hello *tls.ClientHelloInfo) (*tls.Certificate, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if at, ok := hello.Conn.LocalAddr().(*net.TCPAddr); ok {
		a.join(at.AddrPort().Addr())
	}
	return a.current()
}

// current is a leaf that holds: the one that is at hand, the one that was kept, or a new one.
func (a *Authority) current() (*tls.Certificate, error) {
	if err := a.endures(); err != nil {
		return nil, err
	}
	if a.leaf != nil && a.holds(a.leaf.Leaf) {
		return a.leaf, nil
	}
	path := filepath.Join(a.dir, LeafFile)
	cert, key, err := read(path)
	if err != nil || !a.holds(cert) { // what cannot be read can be made
		if cert, key, err = sign(a.wanted(), a.cert, a.key); err != nil {
			return nil, err
		}
		if err := keep(path, cert, key); err != nil {
			a.log.Error("the certificate for https is used and not kept", "err", err)
		}
	}
	a.leaf = chained(cert, key)
	return a.leaf, nil
}

func chained(cert *x509.Certificate, key *ecdsa.PrivateKey) *tls.Certificate {
	return &tls.Certificate{Certificate: [][]byte{cert.Raw}, PrivateKey: key, Leaf: cert}
}

// wanted is a leaf for the names and addresses, as long as the authority at most.
func (a *Authority) wanted() *x509.Certificate {
	begins := a.now().Add(-early)
	t := &x509.Certificate{
		Subject:   pkix.Name{CommonName: "Spile"},
		NotBefore: begins.Truncate(time.Second), NotAfter: begins.AddDate(0, 0, leafDays).Truncate(time.Second).Add(-time.Second),
		BasicConstraintsValid: true,
		KeyUsage:              x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames: a.names,
	}
	if t.NotBefore.Before(a.cert.NotBefore) {
		t.NotBefore = a.cert.NotBefore
	}
	if t.NotAfter.After(a.cert.NotAfter) {
		t.NotAfter = a.cert.NotAfter
	}
	for _, at := range a.addresses {
		t.IPAddresses = append(t.IPAddresses, at.AsSlice())
	}
	return t
}

// holds tells whether a leaf is of this authority, for what is wanted of it, and does not end soon.
func (a *Authority) holds(leaf *x509.Certificate) bool {
	now := a.now()
	same := func(ip net.IP, at netip.Addr) int {
		own, _ := netip.AddrFromSlice(ip) // what is none differs from every one
		return own.Unmap().Compare(at)
	}
	return leaf.CheckSignatureFrom(a.cert) == nil && !now.Before(leaf.NotBefore) &&
		(now.Before(leaf.NotAfter.Add(-renewAt)) || now.Before(leaf.NotAfter) && leaf.NotAfter.Equal(a.cert.NotAfter)) &&
		slices.CompareFunc(leaf.DNSNames, a.names, cmp.Compare[string]) == 0 && slices.CompareFunc(leaf.IPAddresses, a.addresses, same) == 0
}
