package web

import (
	"errors"
	"fmt"
	"html/template"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"spile/internal/monitor"
	"spile/internal/store"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// quiet is a log that nobody reads.
var quiet = slog.New(slog.NewTextHandler(io.Discard, nil))

// newSite is the pages of an empty cellar in memory.
func newSite(t testing.TB) *Site {
	t.Helper()
	s, err := store.OpenMemory()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return New("test", quiet, monitor.New(s, quiet, time.Now))
}

// Every page can be made in every language there is: they are made when they are first shown.
func TestPagesAreMade(t *testing.T) {
	s := newSite(t)
	s.learn(unreal(t))
	for _, v := range s.tongues {
		if len(v.pages) < 30 {
			t.Errorf("%s: only %d pages", v.tongue.Lang(), len(v.pages))
		}
		for name, page := range v.pages {
			if page().Lookup("content") == nil {
				t.Errorf("%s has no content", name)
			}
			// What stands where it cannot be escaped is told before a page is made of anything.
			var fault *template.Error
			if err := page().Execute(io.Discard, nil); errors.As(err, &fault) {
				t.Errorf("%s: %v", name, fault)
			}
		}
	}
}

// get asks for a page as a browser on this machine does.
func get(s *Site, address string, cookies ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodGet, "http://localhost:8417"+address, nil)
	if len(cookies) > 0 {
		r.Header.Set("Cookie", strings.Join(cookies, "; "))
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

// document is a page that was read back.
type document struct {
	root *html.Node
	ids  map[string]*html.Node
}

func parse(t *testing.T, w *httptest.ResponseRecorder) *document {
	t.Helper()
	root, err := html.Parse(strings.NewReader(w.Body.String()))
	if err != nil {
		t.Fatal(err)
	}
	d := &document{root, map[string]*html.Node{}}
	for n := range root.Descendants() {
		if id := attribute(n, "id"); id != "" {
			d.ids[id] = n
		}
	}
	return d
}

func attribute(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

// all gives the elements of a kind.
func (d *document) all(kind atom.Atom) (out []*html.Node) {
	for n := range d.root.Descendants() {
		if n.Type == html.ElementNode && n.DataAtom == kind {
			out = append(out, n)
		}
	}
	return out
}

func (d *document) class(name string) (out []*html.Node) {
	for n := range d.root.Descendants() {
		if slices.Contains(strings.Fields(attribute(n, "class")), name) {
			out = append(out, n)
		}
	}
	return out
}

// text is what people read below n: no working, no commands.
func text(n *html.Node) string {
	var b strings.Builder
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		switch {
		case n.Type == html.TextNode:
			b.WriteString(n.Data)
		case attribute(n, "class") == "working" || n.DataAtom == atom.Code || n.DataAtom == atom.Style:
			return
		case attribute(n, "class") == "hidden" && n.PrevSibling != nil && n.PrevSibling.DataAtom == atom.Span && attribute(n.PrevSibling, "aria-hidden") == "true":
			return // only heard, in place of what stands before it
		}
		for c := range n.ChildNodes() {
			walk(c)
		}
		if n.Type == html.ElementNode && n.DataAtom != atom.A && n.DataAtom != atom.Span {
			b.WriteString("\n")
		}
	}
	walk(n)
	return strings.ReplaceAll(b.String(), "\u00a0", " ")
}

// void are the elements without an end.
var void = []string{"meta", "link", "input", "img", "br", "hr", "wbr"}

// malformed says where tags are not closed in the order in which they were opened, or an
// id stands twice.
func malformed(page string) string {
	var open []string
	ids := map[string]bool{}
	z := html.NewTokenizer(strings.NewReader(page))
	for {
		kind := z.Next()
		token := z.Token()
		for _, a := range token.Attr {
			if a.Key == "id" && ids[a.Val] {
				return fmt.Sprintf("id %q stands twice", a.Val)
			}
			if a.Key == "id" {
				ids[a.Val] = true
			}
			if a.Key == "style" || strings.HasPrefix(a.Key, "on") {
				return fmt.Sprintf("<%s %s>, which the policy of content forbids", token.Data, a.Key)
			}
		}
		switch {
		case kind == html.ErrorToken && z.Err() == io.EOF && len(open) == 0:
			return ""
		case kind == html.ErrorToken:
			return fmt.Sprintf("ends within %v: %v", open, z.Err())
		case kind == html.StartTagToken && !slices.Contains(void, token.Data):
			open = append(open, token.Data)
		case kind == html.EndTagToken && (len(open) == 0 || open[len(open)-1] != token.Data):
			return fmt.Sprintf("</%s> closes %v", token.Data, open)
		case kind == html.EndTagToken:
			open = open[:len(open)-1]
		}
	}
}

// dangling says which references within a page lead nowhere.
func (d *document) dangling() (bad []string) {
	for n := range d.root.Descendants() {
		for _, name := range []string{"for", "aria-describedby", "aria-labelledby"} {
			for _, id := range strings.Fields(attribute(n, name)) {
				if d.ids[id] == nil {
					bad = append(bad, name+" "+id)
				}
			}
		}
		if n.DataAtom == atom.Input && attribute(n, "type") == "text" {
			labelled := slices.ContainsFunc(d.all(atom.Label), func(l *html.Node) bool { return attribute(l, "for") == attribute(n, "id") })
			if !labelled {
				bad = append(bad, "no label for "+attribute(n, "id"))
			}
		}
	}
	return bad
}

// links are the addresses on this server that a page leads to.
func (d *document) links() (out []string) {
	for n := range d.root.Descendants() {
		for _, name := range []string{"href", "src"} {
			if to := attribute(n, name); to != "" {
				out = append(out, to)
			}
		}
	}
	return out
}

// Words that stay in the workshop, and those that say nothing to who made a mistake.
var banned = regexp.MustCompile(`(?i)\b(belief|prior|posterior|ensemble|particles?|percentiles?|p05|p50|p95|credible|pareto|likelihood|conductance|kl a|ua|vicinal diketones|hysteresis|conditioning|renewal|milestones?|entry|payload|token|mapping|` +
	`recipe|mash|brew day|session|profile|equipment|inventory|dashboard|widget|status|mode|wizard|smart|doctor|pilot|fizz|kit|` +
	`please|sorry|valid|invalid|forbidden|illegal|oops|an error occurred|this field is required)\b|!|--[a-z]`)

// numbers finds each number and what stands around it.
var numbers = regexp.MustCompile(`[-−+]?\d[\d.,]*\d|\d`)

// after is what may follow a number: a unit, or the thing that is counted.
var after = regexp.MustCompile(`^(:\d|(\s?(%|°C|°F|°P|C\b|F\b|K\b|psi|bar|kPa|gal \(U[SK]\)|L\b|mL|m³|m3|mm²?|cm|m\b|g\b|kg|MB|fl oz|oz|lb|W\b|W/K|g/h|g/L|mg/L|kg/L|g/day|g a day|L/min|N\b|s\b|min\b|h\b|days?|months?|minutes|volumes|points|per h|ppm|IBU|(more )?weeks?\b|glass(es)?\b|thousand million|times|cases|atm|decimals|as gravity|opens?\b|futures|hours?\b|earlier (lines?|since)|readings?\b|rows?\b|lines?\b|January|February|March|April|May|June|July|August|September|October|November|December|(Jan|Feb|Mar|Apr|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b)))`)

// alone are numbers that are whole by themselves: gravity, and the end of a ratio.
var alone = regexp.MustCompile(`^(0\.9\d\d|1\.[01]\d\d|-0\.00\d)$`)

var letter = regexp.MustCompile(`[A-Za-z]$`)

// calendar finds days and times of the clock.
var calendar = regexp.MustCompile(`\b\d{1,2} (January|February|March|April|May|June|July|August|September|October|November|December)( \d{4})?\b|\b\d{4}-\d\d-\d\d\b|\b\d\d:\d\d\b`)

// unitless lists the numbers in text that stand without a unit.
func unitless(line string) (bad []string) {
	line = calendar.ReplaceAllString(line, "")
	for _, at := range numbers.FindAllStringIndex(line, -1) {
		number := line[at[0]:at[1]]
		rest, before := line[at[1]:], line[:at[0]]
		switch {
		case letter.MatchString(before): // a name: A4, CO2
		case alone.MatchString(strings.TrimRight(number, ".,")), after.MatchString(rest), strings.HasSuffix(before, ":"):
		case regexp.MustCompile(`^( and| to| of|, ?)`).MatchString(rest) && numbers.MatchString(rest): // the unit follows the second
		default:
			bad = append(bad, number)
		}
	}
	return bad
}

// follow goes where a browser would after a form was sent.
func follow(t *testing.T, s *Site, w *httptest.ResponseRecorder) *httptest.ResponseRecorder {
	t.Helper()
	for range 3 {
		if w.Code != http.StatusSeeOther {
			return w
		}
		w = get(s, w.Header().Get("Location"))
	}
	t.Fatal("it goes round in circles")
	return nil
}

// sent is the query that a browser sends for a form in which only these fields are filled.
func (d *document) sent(values map[string]string) string {
	q := url.Values{}
	for _, n := range d.all(atom.Input) {
		name, value := attribute(n, "name"), attribute(n, "value")
		_, checked := attributes(n)["checked"]
		switch {
		case attribute(n, "type") == "text":
			q.Set(name, values[name])
		case attribute(n, "type") == "radio" && values[name] != "":
			q.Set(name, values[name])
		case checked:
			q.Add(name, value)
		}
	}
	return q.Encode()
}

func attributes(n *html.Node) map[string]string {
	out := map[string]string{}
	for _, a := range n.Attr {
		out[a.Key] = a.Val
	}
	return out
}
