package web

import (
	"net/http"
	"slices"
	"time"

	"spile/wording"
)

// Secure is how the same pages are reached over https, and what a browser must trust for it.
type Secure struct {
	Open        []string // the addresses, the likeliest for a phone first
	Certificate []byte   // of the authority, DER; anybody may have it
	Name        string   // what phones call the authority
	Fingerprint string   // SHA-256 of the certificate
	Ends        time.Time
}

// OfferSecure says that the pages are served over https too. It is called before anything is served.
func (s *Site) OfferSecure(how Secure) { s.secure = &how }

// securePrefix begins the names of cookies that are kept over https.
const securePrefix = "__Host-"

// secureName is what a cookie is called over https: browsers then let nothing that came over http stand in
// its place, or be kept out by it (RFC 6265bis, 4.1.3.2).
func secureName(r *http.Request, name string) string {
	if r.TLS != nil {
		return securePrefix + name
	}
	return name
}

// cookie is what this browser keeps under a name; empty where it keeps nothing.
func cookie(r *http.Request, name string) string {
	c, err := r.Cookie(secureName(r, name))
	if err != nil {
		return ""
	}
	return c.Value
}

// secured is what a start that serves https too is asked for.
const secured = " --tls"

// Where the way to trust the authority is told, and where phones fetch it.
const (
	trustPath     = "/trust"
	authorityPath = "/authority.crt"
)

// authority sends the certificate of the authority.
func (s *Site) authority(w http.ResponseWriter, r *http.Request) {
	if s.secure == nil {
		s.missing(w, r)
		return
	}
	w.Header().Set("Content-Type", "application/x-x509-ca-cert")
	s.send(w, s.secure.Certificate)
}

// fingerprintPart is eight bytes of a fingerprint, as it is written.
const fingerprintPart = 8 * len("AA:")

// trustView is the way to trust the authority of the cellar.
type trustView struct {
	*Secure               // nil: there is no https
	Here, There []opening // where the page is opened on a phone, if one can, and then Spile itself
	Authority   string    // where its certificate is
	Until       string    // the day on which it ends
	Parts       []string  // of its fingerprint, between which a line may end
	Command     string    // that serves https
}

// trust tells in three steps how a phone comes to trust this cellar. It shows nothing of the cellar, and needs no login.
func (s *Site) trust(w http.ResponseWriter, r *http.Request) {
	v := trustView{Secure: s.secure, Authority: authorityPath, Command: opensBeyond + secured}
	if s.secure != nil {
		for part := range slices.Chunk([]byte(s.secure.Fingerprint), fingerprintPart) {
			v.Parts = append(v.Parts, string(part))
		}
		v.Until = dayWords(s.secure.Ends, readTastes(r).Style)
		var err error
		if v.There, err = squares(s.secure.Open, tongueOf(r)); err == nil && s.beyond != nil {
			var here []string
			for _, address := range s.beyond.Open {
				here = append(here, address+trustPath)
			}
			v.Here, err = squares(here, tongueOf(r))
		}
		if err != nil {
			s.fail(w, r, err)
			return
		}
	}
	s.show(w, r, http.StatusOK, "trust", page{Title: trustTitle, Here: "/settings", Content: &v})
}

const trustTitle wording.Text = "Trust this cellar"
