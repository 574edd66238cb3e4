package web

import (
	"context"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"sync"

	"golang.org/x/text/language"

	"spile/calc"
	"spile/internal/catalogue"
	"spile/unit"
	"spile/wording"
)

// speaker is a language with all pages in it.
type speaker struct {
	tongue    *wording.Tongue
	pages     map[string]func() *template.Template // each is made when it is first shown: all of them take as much memory as all else
	tradeWord *regexp.Regexp                       // finds the longest word of the trade
	anchors   map[string]string                    // where it is explained
	glossary  []explained
	kept      func(string) string // with each number and its unit on one line
	ear       ear
}

// speak makes the pages in a language.
func speak(t *wording.Tongue) *speaker {
	v := &speaker{tongue: t, pages: map[string]func() *template.Template{}, kept: unit.Unbroken(t), ear: newEar(t)}
	v.anchors, v.tradeWord = tradeWords(t)
	v.glossary = glossaryIn(t)
	paths, err := fs.Glob(files, "pages/*.html")
	if err != nil {
		panic(err) // the pattern is written above
	}
	shared := template.New("layout.html").Funcs(template.FuncMap{"nb": v.unbroken, "unit": v.unit, "amount": v.amount, "trade": v.trade, "first": v.first, "edge": edge, "lang": t.Lang, "scriptWords": v.scriptWords})
	var own []string
	for _, path := range paths {
		switch name := pageName(path); {
		case name == "layout":
			v.add(shared, path)
		case strings.HasPrefix(name, "part-"):
			v.add(shared.New(name), path)
		default:
			own = append(own, path)
		}
	}
	for _, path := range own {
		v.pages[pageName(path)] = sync.OnceValue(func() *template.Template {
			page := template.Must(shared.Clone())
			v.add(page.New(pageName(path)), path)
			return page
		})
	}
	return v
}

func pageName(path string) string {
	return strings.TrimSuffix(strings.TrimPrefix(path, "pages/"), ".html")
}

// add parses one file into a template.
func (v *speaker) add(to *template.Template, path string) {
	source, err := files.ReadFile(path)
	if err != nil {
		panic(err) // it is part of the program
	}
	catalogue.Parse(to, string(source), v.tongue)
}

// said is the text of what a page shows.
func (v *speaker) said(x any) string { return fmt.Sprint(v.tongue.Of(x)) }

// unit says a unit.
func (v *speaker) unit(name string) string { return v.tongue.Word(wording.Text(name)) }

// amount says an amount that is kept as it is typed in English.
func (v *speaker) amount(typed string) string { return calc.Said(v.tongue, typed) }

func (v *speaker) first(x any) string { return wording.Capital(v.said(x)) }

// unbroken keeps a number and its unit on one line.
func (v *speaker) unbroken(x any) string { return v.kept(v.said(x)) }

// tongueCookie keeps the language that was chosen.
const tongueCookie = "spile-language"

// inRequest is the key of the language of a request.
type inRequest struct{}

// learn adds a language to those of the pages.
func (s *Site) learn(t *wording.Tongue) {
	s.tongues = append(s.tongues, speak(t))
	tags := make([]language.Tag, len(s.tongues))
	for i, v := range s.tongues {
		tags[i] = language.Make(v.tongue.Lang())
	}
	s.nearest = language.NewMatcher(tags)
}

// inTongue puts the language of the pages to a request: the one chosen, else the one the browser asks for.
func (s *Site) inTongue(r *http.Request) *http.Request {
	if len(s.tongues) == 1 {
		return r
	}
	return r.WithContext(context.WithValue(r.Context(), inRequest{}, s.wished(r)))
}

func (s *Site) wished(r *http.Request) *speaker {
	if v := s.called(cookie(r, tongueCookie)); v != nil {
		return v
	}
	asked, _, err := language.ParseAcceptLanguage(r.Header.Get("Accept-Language"))
	if err != nil {
		return s.tongues[0]
	}
	_, i, _ := s.nearest.Match(asked...)
	return s.tongues[i]
}

// called is the language of a code; nil where there is none.
func (s *Site) called(code string) *speaker {
	if i := slices.IndexFunc(s.tongues, func(v *speaker) bool { return v.tongue.Lang() == code }); i >= 0 {
		return s.tongues[i]
	}
	return nil
}

// tongueCalled is the language of a code; English where it is none that is there.
func (s *Site) tongueCalled(code string) *wording.Tongue {
	if v := s.called(code); v != nil {
		return v.tongue
	}
	return nil
}

// spokenTo is the language of a request; English where there is no other.
func (s *Site) spokenTo(r *http.Request) *speaker {
	if v, ok := r.Context().Value(inRequest{}).(*speaker); ok {
		return v
	}
	return s.tongues[0]
}

// tongueOf is the language in which a request is answered.
func tongueOf(r *http.Request) *wording.Tongue {
	if v, ok := r.Context().Value(inRequest{}).(*speaker); ok {
		return v.tongue
	}
	return nil
}

// languages are the languages to choose from; none where there is English alone.
func (s *Site) languages() []option {
	if len(s.tongues) == 1 {
		return nil
	}
	out := []option{{"en", "English"}}
	for _, v := range s.tongues[1:] {
		out = append(out, option{v.tongue.Code, v.tongue.Name})
	}
	return out
}
