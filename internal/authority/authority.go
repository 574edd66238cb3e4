// Package authority lets a cellar be served over https in a home, where no public
// authority vouches for anything: it keeps one of the cellar's own, which can vouch for
// this machine and for addresses inside a home, and for nothing else.
package authority

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"math/big"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"spile/internal/batchfile"
)

// The files of the authority in the folder of the cellar. Each holds a certificate and its key.
const (
	File     = "authority.pem" // what phones are told to trust
	LeafFile = "https.pem"     // what is shown to them; made anew whenever it has to be
)

const (
	years    = 10
	leafDays = 397                 // the most that browsers take of a public one
	renewAt  = 30 * 24 * time.Hour // so long before a leaf ends another one is made
	early    = time.Hour           // a phone's clock may be behind
)

// homeNames are those that no public authority vouches for (RFC 6761, RFC 6762).
var homeNames = []string{"localhost", "local"}

// homeRanges are loopback (RFC 1122, RFC 4291), private (RFC 1918, RFC 4193) and link-local (RFC 3927, RFC 4291) addresses.
var homeRanges = []string{"127.0.0.0/8", "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "::1/128", "fc00::/7", "fe80::/10"}

var (
	hostName = regexp.MustCompile(`^[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9-]*[a-z0-9])?)*$`)
	bareWord = regexp.MustCompile(`^([a-z]+|xn--.*)$`)
)

// Authority vouches for the pages of one cellar.
type Authority struct {
	dir  string
	now  func() time.Time
	log  *slog.Logger
	cert *x509.Certificate
	key  *ecdsa.PrivateKey

	mu        sync.Mutex
	names     []string // that the leaf is for, sorted
	addresses []netip.Addr
	leaf      *tls.Certificate
}

// Open reads the authority of the cellar in a folder, and makes it where there is none, for a machine
// that is called host. One that is damaged, ended or open to others is an error, and is left as it is.
func Open(dir, host string, now func() time.Time, log *slog.Logger) (*Authority, error) {
	a := &Authority{dir: dir, now: now, log: log}
	path := filepath.Join(dir, File)
	_, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		if a.cert, a.key, err = found(host, now()); err != nil {
			return nil, err
		}
		if err := keep(path, a.cert, a.key); err != nil {
			return nil, fmt.Errorf("%s cannot be kept: %w", path, err)
		}
		return a, nil
	}
	if a.cert, a.key, err = read(path); err == nil {
		err = a.limited()
	}
	if err == nil && !now().Before(a.cert.NotAfter) {
		err = a.endures()
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w. Nothing was changed. Put a copy of it back; or move it away, and one that no phone trusts yet is made", path, err)
	}
	return a, nil
}

// found makes an authority.
func found(host string, now time.Time) (*x509.Certificate, *ecdsa.PrivateKey, error) {
	short, _, _ := strings.Cut(host, ".")
	if short == "" || len(short) > 32 { // RFC 5280, ub-common-name: 64 in all
		short = "this machine"
	}
	t := &x509.Certificate{
		Subject:   pkix.Name{CommonName: fmt.Sprintf("Spile cellar on %s, %s", short, now.Format(time.DateOnly))},
		NotBefore: now.Add(-early).Truncate(time.Second), NotAfter: now.AddDate(years, 0, 0).Truncate(time.Second),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true,
		KeyUsage: x509.KeyUsageCertSign, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: permittedNames(host),
	}
	for _, r := range homeRanges {
		_, n, err := net.ParseCIDR(r)
		if err != nil {
			return nil, nil, err
		}
		t.PermittedIPRanges = append(t.PermittedIPRanges, n)
	}
	return sign(t, nil, nil)
}

// permittedNames are those that an authority may vouch for, each with all below it: of the home, and of the
// machine, whole and short. A name of letters alone may be the end of names out in the internet, and is left
// out; with .local behind it is permitted anyway.
func permittedNames(host string) []string {
	out := slices.Clone(homeNames)
	host = strings.ToLower(host)
	short, _, _ := strings.Cut(host, ".")
	for _, name := range []string{host, short} {
		if hostName.MatchString(name) && !bareWord.MatchString(name) && !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	return out
}

// sign makes a key and its certificate; by signed by itself where there is no parent.
func sign(t, parent *x509.Certificate, by *ecdsa.PrivateKey) (*x509.Certificate, *ecdsa.PrivateKey, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, nil, err
	}
	if parent == nil {
		parent, by = t, key
	}
	if t.SerialNumber, err = rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127)); err != nil {
		return nil, nil, err
	}
	t.SerialNumber.Add(t.SerialNumber, big.NewInt(1)) // RFC 5280, 4.1.2.2: above zero
	der, err := x509.CreateCertificate(rand.Reader, t, parent, key.Public(), by)
	if err != nil {
		return nil, nil, err
	}
	cert, err := x509.ParseCertificate(der)
	return cert, key, err
}

// keep writes a certificate and its key into one file.
func keep(path string, cert *x509.Certificate, key *ecdsa.PrivateKey) error {
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return err
	}
	both := append(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: cert.Raw}), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der})...)
	return batchfile.WriteSecret(path, both)
}

// read reads what keep wrote.
func read(path string) (*x509.Certificate, *ecdsa.PrivateKey, error) {
	if about, err := os.Stat(path); err != nil {
		return nil, nil, err
	} else if runtime.GOOS != "windows" && about.Mode().Perm()&0o077 != 0 { // where modes say who may read
		return nil, nil, fmt.Errorf("others may read the key in it (mode %o); accepted: 600", about.Mode().Perm())
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, nil, err
	}
	pair, err := tls.X509KeyPair(text, text)
	if err != nil {
		return nil, nil, fmt.Errorf("it is damaged (%s)", strings.TrimPrefix(err.Error(), "tls: "))
	}
	key, ok := pair.PrivateKey.(*ecdsa.PrivateKey)
	if !ok {
		return nil, nil, errors.New("its key is of a kind that Spile does not make")
	}
	return pair.Leaf, key, nil
}

// limited refuses what was put in the place of an authority.
func (a *Authority) limited() error {
	if c := a.cert; !c.IsCA || c.MaxPathLen != 0 || !c.PermittedDNSDomainsCritical || len(c.PermittedDNSDomains) == 0 || len(c.PermittedIPRanges) == 0 {
		return errors.New("it is no authority that is limited to a home")
	}
	return nil
}

// endures says why it does not hold now. Where the clock is behind, as it is in small machines that
// have just started, it holds again by itself.
func (a *Authority) endures() error {
	switch now := a.now(); {
	case now.Before(a.cert.NotBefore):
		return fmt.Errorf("it begins on %s, and the clock of this machine says %s", a.cert.NotBefore.Format(time.DateOnly), now.Format(time.DateOnly))
	case !now.Before(a.cert.NotAfter):
		return fmt.Errorf("it ended on %s", a.cert.NotAfter.Format(time.DateOnly))
	}
	return nil
}

// Name is what phones call it.
func (a *Authority) Name() string { return a.cert.Subject.CommonName }

// Ends is when it ends; then phones must be told to trust another one.
func (a *Authority) Ends() time.Time { return a.cert.NotAfter }

// DER is its certificate, which anybody may have. The key is not in it.
func (a *Authority) DER() []byte { return slices.Clone(a.cert.Raw) }

// Fingerprint is the SHA-256 of the certificate, as phones show it.
func (a *Authority) Fingerprint() string {
	return strings.ReplaceAll(fmt.Sprintf("% X", sha256.Sum256(a.cert.Raw)), " ", ":")
}
