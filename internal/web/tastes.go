package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"
	_ "time/tzdata" // zones of time on machines that have no table of them

	"spile/calc"
	"spile/internal/ingest"
	"spile/unit"
	"spile/wording"
	"spile/wort"
)

// tastes is what somebody chose for this browser: a unit for each quantity, and the look.
type tastes struct {
	Theme string // "" follows the device
	Words []string
	Units calc.Units
	Style unit.Style
}

// themes are the looks to choose from, by their name in the style sheet.
var themes = []choice{{"", "As the device says"}, {"light", "Light"}, {"dark", "Dark"}, {"glare", "Glare: black on white, for outdoors"}}

// option is one of several to choose from.
type option struct{ Value, Name string }

// choice is an option as it stands in a table, to be said.
type choice struct {
	Value string
	Name  wording.Text
}

// options says what there is to choose from.
func options(t *wording.Tongue, all ...choice) (out []option) {
	for _, c := range all {
		out = append(out, option{c.Value, t.Word(c.Name)})
	}
	return out
}

// quantity is something to choose how to write.
type quantity struct {
	Name    wording.Text
	Field   string
	Usual   wording.Text // what is shown where nothing is chosen
	Options []option
}

// quantities are those that people write in more than one way.
func quantities(t *wording.Tongue) []quantity {
	var out []quantity
	for q, x := range [...]quantity{
		unit.OfPressure: {Name: "Pressure", Usual: "psi (bar)"}, unit.OfTemperature: {Name: "Temperature", Usual: "°C"}, unit.OfVolume: {Name: "Volume", Usual: "L"},
		unit.OfGravity: {Name: "Gravity", Usual: "1.046"}, unit.OfGas: {Name: "Gas in the beer", Usual: "volumes (g/L)"}, unit.OfMass: {Name: "Mass", Usual: "g"},
	} {
		x.Field, _, _ = strings.Cut(strings.ToLower(string(x.Name)), " ")
		for _, c := range unit.Choices(unit.Quantity(q)) {
			name, told := gravityNames[c.Word]
			if !told {
				name = wording.Text(unitNames(t, c.Units))
			}
			x.Options = append(x.Options, option{c.Word, t.Word(name)})
		}
		out = append(out, x)
	}
	return append(out, quantity{"Decimal mark", "mark", "a point", options(t, choice{"point", "a point: 1.5 L"}, choice{"comma", "a comma: 1,5 L"})})
}

// unitNames are the units of one choice.
func unitNames(t *wording.Tongue, units []wording.Text) string {
	said := t.Word(units[0])
	for _, u := range units[1:] {
		said = t.Say("%s and %s", said, u)
	}
	return said
}

// gravityNames say how gravity is typed, in place of its units.
var gravityNames = map[string]wording.Text{"sg": "1.046, three decimals", "p": "°P; what has three decimals, as 1.046, is still read as gravity"}

const (
	unitsCookie = "spile-units"
	themeCookie = "spile-theme"
	zoneCookie  = "spile-zone"
)

// readTastes reads what was chosen before; what cannot be read counts as not chosen.
func readTastes(r *http.Request) (t tastes) {
	if theme := cookie(r, themeCookie); known(options(nil, themes...), theme) {
		t.Theme = theme
	}
	if list, err := url.QueryUnescape(cookie(r, unitsCookie)); err == nil {
		t.take(list)
	}
	t.Style.Zone, t.Style.Tongue = zoneOf(r), tongueOf(r)
	return t
}

// take chooses units by their words; where they cannot be read, none.
func (t *tastes) take(list string) {
	if style, err := unit.ParseStyle(list, wort.ExtractFromGravity); err == nil && list != "" {
		t.Words, t.Style, t.Units = strings.Split(list, ","), style, calc.UnitsOf(style)
	}
}

// zoneOf is the zone of time that was chosen before; nil: that of each batch.
func zoneOf(r *http.Request) *time.Location {
	name, err := url.QueryUnescape(cookie(r, zoneCookie))
	if err != nil {
		return nil
	}
	zone, err := parseZone(name)
	if err != nil {
		return nil
	}
	return zone
}

// parseZone reads the name of a zone of time, as Europe/London; an empty one chooses none.
func parseZone(name string) (*time.Location, error) {
	if name == "" {
		return nil, nil
	}
	if zone := ingest.NamedZone(name); zone != nil {
		return zone, nil
	}
	return nil, wording.Unsaid("I read “%s”. Write a zone of time by continent and city, for example Europe/London, or UTC", name)
}

func known(options []option, value string) bool {
	return slices.ContainsFunc(options, func(o option) bool { return o.Value == value })
}

// settingsView is the page of settings.
type settingsView struct {
	Quantities []quantity
	Themes     []option
	Languages  []option // none: English alone
	Language   string
	Chosen     map[string]string // by field
	Theme      string
	Zone       string
	Problem    string // with the zone
	Kept       bool
	Back       string
}

func (s *Site) settings(w http.ResponseWriter, r *http.Request) {
	s.showSettings(w, r, http.StatusOK, "", "")
}

// showSettings shows what is chosen, with what is wrong about a zone that was typed.
func (s *Site) showSettings(w http.ResponseWriter, r *http.Request, status int, typed, problem string) {
	t := readTastes(r)
	v := settingsView{Quantities: quantities(tongueOf(r)), Themes: options(tongueOf(r), themes...), Languages: s.languages(), Language: tongueOf(r).Lang(), Chosen: map[string]string{}, Theme: t.Theme,
		Kept: r.URL.Query().Has("kept"), Back: ownPath(r.URL.Query().Get("back"))}
	for _, q := range quantities(nil) {
		for _, word := range t.Words {
			if known(q.Options, word) {
				v.Chosen[q.Field] = word
			}
		}
	}
	v.Zone, v.Problem = typed, problem
	if z := t.Style.Zone; z != nil && problem == "" {
		v.Zone = z.String()
	}
	s.show(w, r, status, "settings", page{Title: "Settings", Here: "/settings", Content: v})
}

// keepSettings keeps the choices in this browser. What is not among them is left out.
func (s *Site) keepSettings(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.unreadable(w, r)
		return
	}
	zone := strings.TrimSpace(r.PostForm.Get("zone"))
	if _, err := parseZone(zone); err != nil {
		s.showSettings(w, r, http.StatusUnprocessableEntity, zone, refused(tongueOf(r), err))
		return
	}
	keep(w, r, zoneCookie, url.QueryEscape(zone))
	var words []string
	for _, q := range quantities(nil) {
		if word := r.PostForm.Get(q.Field); known(q.Options, word) {
			words = append(words, word)
		}
	}
	keep(w, r, unitsCookie, url.QueryEscape(strings.Join(words, ",")))
	if theme := r.PostForm.Get("theme"); known(options(nil, themes...), theme) {
		keep(w, r, themeCookie, theme)
	}
	if code := r.PostForm.Get("language"); known(s.languages(), code) {
		keep(w, r, tongueCookie, code)
	}
	to := "/settings?kept"
	if back := ownPath(r.PostForm.Get("back")); back != "" {
		to = back
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// keep sets a cookie for a year; an empty value takes it away.
func keep(w http.ResponseWriter, r *http.Request, name, value string) {
	age := 365 * 24 * 3600
	if value == "" {
		age = -1
	}
	http.SetCookie(w, &http.Cookie{Name: secureName(r, name), Value: value, Path: "/", MaxAge: age, HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteLaxMode})
}

// ownPath is a path of this server, or empty: nobody is sent elsewhere.
func ownPath(path string) string {
	u, err := url.Parse(path)
	if err != nil || u.Host != "" || u.Scheme != "" || !strings.HasPrefix(path, "/") || strings.HasPrefix(path, "//") || strings.ContainsAny(path, "\\\r\n") {
		return ""
	}
	return path
}
