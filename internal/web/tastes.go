package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"spile/calc"
	"spile/unit"
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
var themes = []option{{"", "As the device says"}, {"light", "Light"}, {"dark", "Dark"}, {"glare", "Glare: black on white, for outdoors"}}

// option is one of several to choose from.
type option struct{ Value, Name string }

// quantity is something to choose a unit for.
type quantity struct {
	Name    string
	Field   string
	Usual   string // what is shown where nothing is chosen
	Options []option
}

// quantities are those that people write in more than one unit.
var quantities = []quantity{
	{"Pressure", "pressure", "psi (bar)", []option{{"psi", "psi"}, {"bar", "bar"}, {"kpa", "kPa"}}},
	{"Temperature", "temperature", "°C", []option{{"c", "°C"}, {"f", "°F"}}},
	{"Volume", "volume", "L", []option{{"l", "L"}, {"gal(us)", "gal (US)"}, {"gal(uk)", "gal (UK)"}}},
	{"Gravity", "gravity", "1.046, three decimals", []option{{"sg", "1.046, three decimals"}, {"p", "°P, and 1.046 with three decimals as such"}}},
	{"Gas in the beer", "gas", "volumes (g/L)", []option{{"volumes", "volumes"}, {"g/l", "g/L"}}},
	{"Mass", "mass", "g", []option{{"g", "g"}, {"oz", "oz"}}},
}

const (
	unitsCookie = "spile-units"
	themeCookie = "spile-theme"
)

// readTastes reads what was chosen before; what cannot be read counts as not chosen.
func readTastes(r *http.Request) tastes {
	var t tastes
	if c, err := r.Cookie(themeCookie); err == nil && known(themes, c.Value) {
		t.Theme = c.Value
	}
	c, err := r.Cookie(unitsCookie)
	if err != nil {
		return t
	}
	list, err := url.QueryUnescape(c.Value)
	if err != nil || list == "" {
		return t
	}
	units, err := calc.ParseUnits(list)
	if err != nil {
		return t
	}
	t.Units, t.Words = units, strings.Split(list, ",")
	if style, err := unit.ParseStyle(list, wort.ExtractFromGravity); err == nil {
		t.Style = style
	}
	return t
}

func known(options []option, value string) bool {
	return slices.ContainsFunc(options, func(o option) bool { return o.Value == value })
}

// settingsView is the page of settings.
type settingsView struct {
	Quantities []quantity
	Themes     []option
	Chosen     map[string]string // by field
	Theme      string
	Kept       bool
	Back       string
}

func (s *Site) settings(w http.ResponseWriter, r *http.Request) {
	t := readTastes(r)
	v := settingsView{Quantities: quantities, Themes: themes, Chosen: map[string]string{}, Theme: t.Theme,
		Kept: r.URL.Query().Has("kept"), Back: ownPath(r.URL.Query().Get("back"))}
	for _, q := range quantities {
		for _, word := range t.Words {
			if known(q.Options, word) {
				v.Chosen[q.Field] = word
			}
		}
	}
	s.show(w, r, http.StatusOK, "settings", page{Title: "Settings", Here: "/settings", Content: v})
}

// keepSettings keeps the choices in this browser. What is not among them is left out.
func (s *Site) keepSettings(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.show(w, r, http.StatusBadRequest, "error", page{Title: "The form could not be read", Content: "Nothing was changed. Go back and send it once more."})
		return
	}
	var words []string
	for _, q := range quantities {
		if word := r.PostForm.Get(q.Field); known(q.Options, word) {
			words = append(words, word)
		}
	}
	keep(w, unitsCookie, url.QueryEscape(strings.Join(words, ",")))
	if theme := r.PostForm.Get("theme"); known(themes, theme) {
		keep(w, themeCookie, theme)
	}
	to := "/settings?kept"
	if back := ownPath(r.PostForm.Get("back")); back != "" {
		to = back
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// keep sets a cookie for a year; an empty value takes it away.
func keep(w http.ResponseWriter, name, value string) {
	age := 365 * 24 * 3600
	if value == "" {
		age = -1
	}
	http.SetCookie(w, &http.Cookie{Name: name, Value: value, Path: "/", MaxAge: age, HttpOnly: true, SameSite: http.SameSiteLaxMode})
}

// ownPath is a path of this server, or empty: nobody is sent elsewhere.
func ownPath(path string) string {
	u, err := url.Parse(path)
	if err != nil || u.Host != "" || u.Scheme != "" || !strings.HasPrefix(path, "/") || strings.HasPrefix(path, "//") || strings.ContainsAny(path, "\\\r\n") {
		return ""
	}
	return path
}
