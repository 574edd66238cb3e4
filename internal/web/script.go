package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
)

// What make bundle made of the folder script. Without it the pages are served all the same.
//
//go:embed built
var built embed.FS

// scripts only add to pages that work without them. All are empty where they were not built.
type scripts struct {
	page   []byte // what every page loads
	worker []byte // what stays with the browser to open pages while the server is away
	style  []byte // of what they add
	at     string // where page is, with its own sum in the name
}

// readScripts takes what was built; whole says that nothing of it is missing.
func readScripts(from fs.FS) (s scripts, whole bool) {
	for _, part := range []struct {
		name string
		to   *[]byte
	}{{"spile.js", &s.page}, {"worker.js", &s.worker}, {"plot.css", &s.style}} {
		body, err := fs.ReadFile(from, "built/"+part.name)
		if err != nil {
			return scripts{}, false
		}
		*part.to = body
	}
	own, err := files.ReadFile("static/script.css")
	if err != nil {
		panic(err) // it is part of the program
	}
	s.style = append(s.style, own...)
	s.at = summed(s.page, "js")
	return s, true
}

// summed is the address of what never changes under its name.
func summed(body []byte, kind string) string {
	sum := sha256.Sum256(body)
	return "/static/" + hex.EncodeToString(sum[:6]) + "." + kind
}

func (s *Site) serveScript(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	s.keepForever(w, s.scripts.page)
}

// serveWorker is asked for anew by the browser, which keeps what it had where nothing changed.
func (s *Site) serveWorker(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	s.send(w, s.scripts.worker)
}

// scripted answers a form that a script has sent: where a browser would be sent on, it is
// told where to, so that it knows what was taken from what was only answered.
func scripted(handle http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost && r.Header.Get("Spile-Script") != "" {
			w = &sentOn{w}
		}
		handle(w, r)
	}
}

// sentOn says where somebody is sent on to instead of sending them.
type sentOn struct{ http.ResponseWriter }

func (s *sentOn) WriteHeader(code int) {
	if h := s.Header(); code == http.StatusSeeOther {
		h.Set("Spile-To", h.Get("Location"))
		h.Del("Location")
		code = http.StatusNoContent
	}
	s.ResponseWriter.WriteHeader(code)
}

// Unwrap lets the standard library reach what is below.
func (s *sentOn) Unwrap() http.ResponseWriter { return s.ResponseWriter }

// scriptRoutes are there where the scripts were built.
func (s *Site) scriptRoutes() []route {
	if s.scripts.page == nil {
		return nil
	}
	return []route{
		{"GET " + s.scripts.at, s.serveScript},
		{"GET /worker.js", s.serveWorker},
	}
}
