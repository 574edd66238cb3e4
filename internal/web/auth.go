package web

import (
	"context"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"time"

	"github.com/alexedwards/scs/v2"

	"spile/batch"
	"spile/internal/store"
	"spile/wording"
)

// On this machine alone there is no login. Beyond it everybody logs in, but for what shows
// nothing of the cellar: "Something is wrong" must open for whoever stands in the shed.

// Beyond is how a server is reached from other machines.
type Beyond struct {
	Names []string // this machine's own, besides its addresses
	Open  []string // what a phone in the same network opens, the likeliest first
}

// OpenBeyond lets other machines in, with a login. It is called before anything is served.
func (s *Site) OpenBeyond(b Beyond) { s.beyond = &b }

const (
	sessionCookie = "spile-session"
	sessionLasts  = 30 * 24 * time.Hour
	personKey     = "person" // in a session: whose it is,
	stampKey      = "stamp"  // and the stamp of the password it was begun with
)

// newSessions keeps sessions in the cellar, under checksums of what the browsers hold: those over http, and
// over https under a cookie that never travels otherwise.
func newSessions(s *Site) (plain, secure *scs.SessionManager) {
	m := scs.New()
	m.Store, m.HashTokenInStore, m.Lifetime = s.watch.Store().Sessions(), true, sessionLasts
	m.Cookie.Name, m.Cookie.HttpOnly, m.Cookie.SameSite = sessionCookie, true, http.SameSiteLaxMode
	m.ErrorFunc = func(w http.ResponseWriter, r *http.Request, err error) {
		if machine(r) {
			s.failMachine(w, r, err)
			return
		}
		s.fail(w, r, err)
	}
	same := *m // within, both are one
	same.Cookie.Name, same.Cookie.Secure = securePrefix+sessionCookie, true
	return m, &same
}

// anyone are the routes that need no login. Scripts and styles are besides.
var anyone = map[string]bool{
	"GET /something-is-wrong": true, "GET /healthz": true, "GET /static/peg.svg": true, "POST /in/{key}": true,
	"GET /api/v1/openapi.json": true, "GET /calendar/{file}": true, "GET " + trustPath: true, "GET " + authorityPath: true,
}

// loggingIn are those that somebody uses to log in.
var loggingIn = map[string]bool{"GET /login": true, "POST /login": true, "POST /logout": true}

// forOwners are those of the owner alone.
var forOwners = map[string]bool{"GET /settings/people": true, "POST /settings/people": true}

// forEverybody are what also a viewer may send: it changes nothing of the cellar.
var forEverybody = map[string]bool{"POST /settings": true, "POST /settings/password": true, "POST /settings/calendars": true, "POST /vessels/{id}/later": true, "POST /logout": true}

// personIn is the key of a context under which the person stands.
type personIn struct{}

// whoIs is the person that asks; nil: somebody at this machine who did not log in.
func whoIs(ctx context.Context) *store.Person {
	p, _ := ctx.Value(personIn{}).(*store.Person)
	return p
}

// signed puts the name of the person who asks onto entries that bear none.
func signed(ctx context.Context, entries []batch.Entry) []batch.Entry {
	if p := whoIs(ctx); p != nil {
		for i := range entries {
			if entries[i].By == "" {
				entries[i].By = p.Name
			}
		}
	}
	return entries
}

// entered lets in who may use a route.
func (s *Site) entered(pattern string, handle http.HandlerFunc) http.HandlerFunc {
	if anyone[pattern] || pattern == "GET "+s.styled {
		return handle
	}
	in := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		p, err := s.sessionOf(r)
		switch {
		case err != nil:
			s.sessions.ErrorFunc(w, r, err)
		case p == nil && s.beyond != nil && !loggingIn[pattern]:
			s.askLogin(w, r)
		case p != nil && !may(p.Role, pattern):
			s.notAllowed(w, r, p)
		case p == nil:
			handle(w, r)
		default:
			handle(w, r.WithContext(context.WithValue(r.Context(), personIn{}, p)))
		}
	})
	plain, secure := s.sessions.LoadAndSave(in), s.secureSessions.LoadAndSave(in)
	return func(w http.ResponseWriter, r *http.Request) {
		if r.TLS != nil {
			secure.ServeHTTP(w, r)
			return
		}
		plain.ServeHTTP(w, r)
	}
}

// may tells whether a role may use a route.
func may(role store.Role, pattern string) bool {
	switch {
	case role == store.Owner || loggingIn[pattern] || forEverybody[pattern]:
		return true
	case forOwners[pattern]:
		return false
	case role == store.Brewer:
		return true
	}
	return role == store.Viewer && strings.HasPrefix(pattern, "GET ")
}

// sessionOf is whose session it is, nil where there is none any more.
func (s *Site) sessionOf(r *http.Request) (*store.Person, error) {
	id := s.sessions.GetString(r.Context(), personKey)
	if id == "" {
		return nil, nil
	}
	people, err := s.watch.Store().People(r.Context())
	for i := range people {
		if p := &people[i]; p.ID.String() == id && p.Stamp == s.sessions.GetString(r.Context(), stampKey) {
			return p, nil
		}
	}
	return nil, err
}

// notAllowed says that somebody may see this and not do it.
func (s *Site) notAllowed(w http.ResponseWriter, r *http.Request, p *store.Person) {
	say := wording.Unsaid("%s may look and keep nothing here. An owner can change that, under Settings. Nothing was changed.", p.Name)
	if p.Role == store.Brewer {
		say = wording.Unsaid("This is for an owner. Nothing was changed.")
	}
	if machine(r) {
		refuse(w, r, http.StatusForbidden, say.String())
		return
	}
	r = r.WithContext(context.WithValue(r.Context(), personIn{}, p)) // who can log out here, to be somebody else
	s.show(w, r, http.StatusForbidden, "error", page{Title: "That is not yours to do", Content: say})
}

// ownName tells whether the host asked for is this machine, so that no foreign name that
// was made to point here reads what stands on these pages: DNS rebinding. Beyond this
// machine that is the address the line came in by, or a name of its own.
func (s *Site) ownName(r *http.Request) bool {
	name, _, err := net.SplitHostPort(r.Host)
	if err != nil {
		name = r.Host
	}
	name = strings.TrimSuffix(strings.ToLower(name), ".")
	if name == "localhost" {
		return true
	}
	if address, err := netip.ParseAddr(strings.Trim(name, "[]")); err == nil {
		return address.IsLoopback() || s.beyond != nil && address.Unmap().WithZone("") == localAddress(r)
	}
	if s.beyond == nil {
		return false
	}
	for _, own := range s.beyond.Names {
		if own = strings.ToLower(own); own != "" && (name == own || name == own+".local") {
			return true
		}
	}
	return false
}

// localAddress is that of this machine by which a request came in.
func localAddress(r *http.Request) netip.Addr {
	if a, ok := r.Context().Value(http.LocalAddrContextKey).(*net.TCPAddr); ok {
		return a.AddrPort().Addr().Unmap().WithZone("")
	}
	return netip.Addr{}
}
