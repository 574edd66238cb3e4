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
	plot   []byte // the style of the drawings
	at     string // where page is, with its own sum in the name
}

// readScripts takes what was built; whole says that nothing of it is missing.
func readScripts(from fs.FS) (s scripts, whole bool) {
	for name, to := range map[string]*[]byte{"spile.js": &s.page, "worker.js": &s.worker, "plot.css": &s.plot} {
		body, err := fs.ReadFile(from, "built/"+name)
		if err != nil {
			return scripts{}, false
		}
		*to = body
	}
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
