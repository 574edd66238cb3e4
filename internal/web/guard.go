package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"spile/internal/ingest"
	"spile/wording"
)

// mostBody is the largest body that is read.
const mostBody = 64 << 10

// mostOf is the largest body that is read at an address: a file of readings may be larger.
func mostOf(r *http.Request) int64 {
	switch {
	case r.URL.Path == fromFile:
		return mostDrained
	case strings.HasPrefix(r.URL.Path, apiBatches+"/") && strings.HasSuffix(r.URL.Path, "/readings"):
		return ingest.MostBytes
	}
	return mostBody
}

// policy lets a page use what this server gives and nothing else.
const policy = "default-src 'none'; script-src 'self'; connect-src 'self'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// guard stands before everything: headers, a limit on bodies, no word from other sites.
func (s *Site) guard(next http.Handler) http.Handler {
	crossing := http.NewCrossOriginProtection()
	crossing.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		refuse(w, r, http.StatusForbidden, "This came from a page of another site. Open Spile itself and send it from there.")
	}))
	inner := crossing.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
		h.Set("Cache-Control", "no-store")
		if !s.ownName(r) {
			refuse(w, r, http.StatusMisdirectedRequest, "This server answers to localhost and to its own address only.")
			return
		}
		if s.beyond != nil && !s.clients.ask(clientOf(r)) {
			h.Set("Retry-After", "10")
			refuse(w, r, http.StatusTooManyRequests, "That is more than one browser asks. Wait ten seconds.")
			return
		}
		most := mostOf(r)
		if r.ContentLength > most {
			refuse(w, r, http.StatusRequestEntityTooLarge, fmt.Sprintf("That is more than %d kB, which is the most that is read.", most>>10))
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		inner.ServeHTTP(w, s.inTongue(r))
	})
}

// problem is an error of the machine door (RFC 9457).
type problem struct {
	Type   string `json:"type"`
	Title  string `json:"title"`
	Status int    `json:"status"`
	Detail string `json:"detail"`
}

// refuse answers a machine with problem details and anybody else in one line.
func refuse(w http.ResponseWriter, r *http.Request, status int, detail string) {
	if !machine(r) {
		http.Error(w, detail, status)
		return
	}
	body, err := json.Marshal(problem{"about:blank", http.StatusText(status), status, detail})
	if err != nil {
		panic(err) // four plain fields
	}
	w.Header().Set("Content-Type", "application/problem+json")
	w.WriteHeader(status)
	w.Write(body) //nolint:errcheck // whoever asked has gone
}

// machine tells whether a program is asking.
func machine(r *http.Request) bool { return forMachines(r.URL.Path) }

func forMachines(path string) bool {
	return path == "/metrics" || slices.ContainsFunc([]string{"/api/", "/in/", "/calendar/"}, func(door string) bool { return strings.HasPrefix(path, door) })
}

// missing answers for all that is not there.
func (s *Site) missing(w http.ResponseWriter, r *http.Request) {
	if machine(r) {
		refuse(w, r, http.StatusNotFound, "Nothing is kept here under "+r.URL.Path+".")
		return
	}
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		s.show(w, r, http.StatusMethodNotAllowed, "error", page{Title: "This page only shows", Content: wording.Text("It takes nothing in. Start again from Vessels.")})
		return
	}
	s.show(w, r, http.StatusNotFound, "error", page{Title: "There is no such page", Content: wording.Text("Look at the address once more, or start from Vessels.")})
}
