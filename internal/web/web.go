// Package web serves the pages: plain HTML made here, usable without script, asking
// nothing of any other machine. A page is a row of the table of routes, a handler and a
// template; what all pages share is the layout, the style sheet and the guard.
package web

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"time"

	"github.com/alexedwards/scs/v2"
	"golang.org/x/text/language"

	"spile/internal/monitor"
	"spile/internal/report"
	"spile/internal/store"
	"spile/wording"
)

//go:embed pages static
var files embed.FS

// Site is the pages of one server.
type Site struct {
	watch   *monitor.Watch
	log     *slog.Logger
	version string
	meter   *meter
	style   []byte
	styled  string     // where the style sheet is, with its own sum in the name
	tongues []*speaker // English first
	nearest language.Matcher
	scripts scripts
	ended   chan struct{} // closed when the server stops
	handler http.Handler

	sessions       *scs.SessionManager
	secureSessions *scs.SessionManager // over https
	clients        *clients
	beyond         *Beyond // nil: this machine alone
	secure         *Secure // nil: no https

	patience time.Duration // that who sends something has for the forecast to know it
}

// New makes the pages of the cellar that is watched. They are for the loopback address alone, without
// a login, until OpenBeyond lets others in.
//
// It speaks English and the languages that are given.
func New(version string, log *slog.Logger, watch *monitor.Watch, tongues ...*wording.Tongue) *Site {
	s := &Site{watch: watch, log: log, version: version, meter: newMeter(), patience: patience, ended: make(chan struct{})}
	var whole bool
	if s.scripts, whole = readScripts(built); !whole {
		log.Info("pages go without script, which was not built; they work all the same (make bundle builds it)")
	}
	s.style = append(styleSheet(), s.scripts.style...)
	s.styled = summed(s.style, "css")
	s.sessions, s.secureSessions = newSessions(s)
	s.clients = newClients()
	for _, t := range append([]*wording.Tongue{nil}, tongues...) {
		s.learn(t)
	}
	mux := http.NewServeMux()
	for _, r := range s.routes() {
		mux.HandleFunc(r.pattern, s.meter.count(r.pattern, s.entered(r.pattern, scripted(r.handle))))
	}
	for _, r := range s.scriptRoutes() {
		mux.HandleFunc(r.pattern, s.meter.count(r.pattern, r.handle))
	}
	s.handler = s.guard(mux)
	return s
}

// route is one page or door.
type route struct {
	pattern string
	handle  http.HandlerFunc
}

// routes is the table of all that is served.
func (s *Site) routes() []route {
	return []route{
		{"GET /{$}", s.home},
		{"GET /coming-up", s.coming},
		{"GET /vessels/{id}", s.vessel},
		{"GET /vessels/{id}/everything", s.everything},
		{"POST /vessels/{id}/later", s.later},
		{"POST /vessels/{id}/limit-seen", s.limitSeen},
		{"GET /what-i-have", s.have},
		{"GET /add/{kind}", s.addThing},
		{"POST /add/{kind}", s.addThing},
		{"POST /what-i-have/take-back", s.takeBack},
		{"GET /what-i-have/{id}", s.oneThing},
		{"GET /what-i-have/{id}/change", s.changeThing},
		{"POST /what-i-have/{id}/change", s.changeThing},
		{"POST /what-i-have/{id}/gone", s.gone},
		{"POST /what-i-have/{id}/weigh", s.weigh},
		{"GET /fill", s.fill},
		{"POST /fill", s.sendFill},
		{"GET /fill/look", s.lookFill},
		{"POST /fill/start", s.startFill},
		{"GET /fill/yeast/{id}", s.yeastWaiting},
		{"POST /fill/yeast/{id}", s.yeastWaiting},
		{"GET /vessels/{id}/turnaround", s.turnaround},
		{"POST /vessels/{id}/turnaround", s.turnDone},
		{"POST /vessels/{id}/leak-test", s.leakTest},
		{"POST /vessels/{id}/emptied", s.emptied},
		{"GET /stages", s.stages},
		{"GET /stages/{name}", s.oneStage},
		{"GET /vessels/{id}/i-read", s.iRead},
		{"POST /vessels/{id}/i-read", s.iRead},
		{"GET /vessels/{id}/i-did", s.iDid},
		{"POST /vessels/{id}/i-did", s.iDid},
		{"GET /vessels/{id}/i-noticed", s.iNoticed},
		{"POST /vessels/{id}/i-noticed", s.iNoticed},
		{"GET /vessels/{id}/entries/{entry}", s.oneEntry},
		{"POST /vessels/{id}/entries/{entry}", s.oneEntry},
		{"GET " + fromFile, s.readingsFile},
		{"POST " + fromFile, s.readingsFile},
		{"GET " + fromFile + "/{id}", s.oneImport},
		{"POST " + fromFile + "/{id}", s.oneImport},
		{"GET /round", s.round},
		{"POST /round", s.round},
		{"GET /work-it-out", s.path},
		{"GET /work-it-out/{name}", s.question},
		{"GET /work-it-out/{name}/plot.svg", s.plot},
		{"GET /work-it-out/{name}/table", s.table},
		{"GET /on-paper", s.onPaper},
		{"GET /print/door-card", s.doorCard},
		{"GET /print/batch-card", s.batchCard},
		{"GET /print/job-sheet", s.jobSheet},
		{"GET /print/label", s.label},
		{"GET " + paperStyle, s.servePaperStyle},
		{"GET /something-is-wrong", s.wrong},
		{"GET /glossary", s.glossary},
		{"GET /sources", s.sources},
		{"GET /settings", s.settings},
		{"POST /settings", s.keepSettings},
		{"GET /settings/records", s.records},
		{"GET /settings/records/log.jsonl", s.wholeLog},
		{"GET /settings/people", s.people},
		{"POST /settings/people", s.people},
		{"GET /settings/password", s.ownPassword},
		{"POST /settings/password", s.ownPassword},
		{"GET /settings/devices", s.devices},
		{"POST /settings/devices", s.devices},
		{"GET /settings/calendars", s.calendars},
		{"POST /settings/calendars", s.calendars},
		{"GET /calendar/{file}", s.calendar},
		{"GET /login", s.login},
		{"POST /login", s.login},
		{"POST /logout", s.logout},
		{"GET /phone", s.phone},
		{"GET " + trustPath, s.trust},
		{"GET " + authorityPath, s.authority},
		{"POST /in/{key}", s.fromDevice},
		{"POST /api/v1/devices", s.apiNewDevice},
		{"GET /api/v1/tray", s.apiTray},
		{"GET /vessels/{id}/strips.json", s.stripsJSON},
		{"GET /api/v1/openapi.json", s.apiDescription},
		{"GET /api/v1/batches", s.apiList},
		{"POST /api/v1/batches", s.apiNewBatch},
		{"GET /api/v1/batches/{batch}/entries", s.apiTold},
		{"POST /api/v1/batches/{batch}/entries", s.apiTell},
		{"POST /api/v1/batches/{batch}/readings", s.apiReadings},
		{"GET /api/v1/batches/{batch}/forecast", s.apiForecast},
		{"GET /live", s.live},
		{"GET " + s.styled, s.serveStyle},
		{"GET /static/peg.svg", s.servePeg},
		{"GET /healthz", s.healthz},
		{"GET /metrics", s.metrics},
		{"/", s.missing},
	}
}

// ServeHTTP serves one request.
func (s *Site) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// page is what the layout shows around the content of every page.
type page struct {
	Title    wording.Text
	Said     string // in the place of Title: what was said already, or what the person calls it
	Bad      bool   // something on it is wrong
	Here     string // address of the door in the navigation that is open
	Style    string
	Script   string // empty where it was not built
	Theme    string
	Cautious bool  // cautions stand on the page: the plate has the last word
	At       int64 // when it was made, in ms since 1970: a browser may show it when the server is gone
	Again    int   // seconds after which the page is asked for again, 0 for never: something is being worked out
	Version  string
	Who      string // has logged in; empty: nobody
	Role     store.Role
	Content  any
}

// door is a line of the navigation.
type door struct {
	Name wording.Text
	Path string
}

// Doors are the pages that every page leads to.
func (p page) Doors() []door {
	return []door{{"Vessels", "/"}, {"Coming up", "/coming-up"}, {"Work it out", "/work-it-out"}, {"What I have", "/what-i-have"}, {"On paper", "/on-paper"}, {"Settings", "/settings"}}
}

// show writes a page; nothing is sent before the whole of it is made.
func (s *Site) show(w http.ResponseWriter, r *http.Request, status int, name string, p page) {
	p.Style, p.Script, p.Theme, p.Version, p.At = s.styled, s.scripts.at, readTastes(r).Theme, s.version, time.Now().UnixMilli()
	if who := whoIs(r.Context()); who != nil {
		p.Who, p.Role = who.Name, who.Role
	}
	var out bytes.Buffer
	speaker := s.spokenTo(r)
	if err := speaker.pages[name]().Execute(&out, p); err != nil {
		s.log.Error("page", "name", name, "err", err)
		http.Error(w, "The page could not be made. The reason is in the log of the server.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	s.send(w, speaker.ear.heard(out.Bytes()))
}

// fail says that something went wrong here, and keeps the reason in the log of the server.
func (s *Site) fail(w http.ResponseWriter, r *http.Request, err error) {
	var said any = wording.Text("Something went wrong in Spile itself. Nothing was changed. The reason is in the log of the server.")
	var fault *store.Fault
	if errors.As(err, &fault) {
		said = fault.Sentence
	}
	s.log.Error("page", "path", r.URL.Path, "err", err)
	s.show(w, r, http.StatusInternalServerError, "error", page{Title: "That did not work", Content: said})
}

// send writes what is whole; where it is not taken, whoever asked has gone.
func (s *Site) send(w http.ResponseWriter, body []byte) {
	if _, err := w.Write(body); err != nil {
		s.log.Debug("not taken", "err", err)
	}
}

// styleSheet is the colours by meaning, in front of the shapes that use them.
func styleSheet() []byte {
	shapes, err := files.ReadFile("static/spile.css")
	if err != nil {
		panic(err) // it is part of the program
	}
	light, dark := report.Colours()
	colours := fmt.Sprintf(`:root{color-scheme:light dark;%[1]s}
@media (prefers-color-scheme:dark){:root{%[2]s}}
:root[data-theme=light],:root[data-theme=glare]{color-scheme:light;%[1]s}
:root[data-theme=dark]{color-scheme:dark;%[2]s}
`, light, dark)
	return append([]byte(colours+report.DrawingStyle()), shapes...)
}

func (s *Site) serveStyle(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "text/css; charset=utf-8")
	s.keepForever(w, s.style)
}

func (s *Site) servePeg(w http.ResponseWriter, r *http.Request) {
	drawing, err := files.ReadFile("static/peg.svg")
	if err != nil {
		panic(err)
	}
	drawn(w)
	s.keepForever(w, drawing)
}

// drawn is the header of a drawing, whose style stands within it.
func drawn(w http.ResponseWriter) {
	w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'")
	w.Header().Set("Content-Type", "image/svg+xml")
}

// keepForever sends what never changes under its name.
func (s *Site) keepForever(w http.ResponseWriter, body []byte) {
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	s.send(w, body)
}
