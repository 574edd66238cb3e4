package web

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"

	"spile/batch"
	"spile/limit"
	"spile/unit"
	"spile/wording"
)

// thing is something of the cellar whatever it is, with its record as it is kept.
type thing struct {
	Is   string
	ID   batch.ID
	Name string
	Gone bool
	doc  map[string]any
}

// allThings are the things of a cellar, kind by kind and by name.
func allThings(c *batch.Cellar) []thing {
	var out []thing
	add := func(list []thing) { out = append(out, list...) }
	add(asThings("vessel", c.Vessels))
	add(asThings("cylinder", c.Cylinders))
	add(asThings("regulator", c.Regulators))
	add(asThings("line", c.Lines))
	add(asThings("instrument", c.Instruments))
	add(asThings("place", c.Places))
	add(asThings("wort pack", c.WortPacks))
	add(asThings("yeast pack", c.YeastPacks))
	return out
}

func asThings[T any](is string, list []batch.Thing[T]) (out []thing) {
	for _, t := range list {
		text, err := json.Marshal(t.Facts)
		doc := map[string]any{}
		if err == nil {
			err = json.Unmarshal(text, &doc)
		}
		if err != nil {
			panic(err) // it was read from JSON
		}
		out = append(out, thing{is, t.ID, t.Name, t.Gone, doc})
	}
	return out
}

// asDoc is the body of an entry, which was read before it was kept, as a record.
func asDoc(body []byte) map[string]any {
	doc := map[string]any{}
	if err := json.Unmarshal(body, &doc); err != nil {
		panic(err)
	}
	return doc
}

// thingOf is the thing under an id, nil where there is none.
func thingOf(c *batch.Cellar, id batch.ID) *thing {
	for _, t := range allThings(c) {
		if t.ID == id {
			return &t
		}
	}
	return nil
}

// Kind is what is asked of such a thing.
func (t thing) Kind() *kindOfThing { return kindNamed(t.Is) }

// Path is the page of the thing.
func (t thing) Path() string { return thingPath(t.ID) }

func thingPath(id batch.ID) string { return "/what-i-have/" + id.String() }

// value is what stands in a record under a key, which may lead into an object.
func value(doc map[string]any, key string) any {
	outer, inner, nested := strings.Cut(key, ".")
	if !nested {
		return doc[key]
	}
	within, _ := doc[outer].(map[string]any)
	return within[inner]
}

// put sets what stands under a key; nil takes it away.
func put(doc map[string]any, key string, v any) {
	outer, inner, nested := strings.Cut(key, ".")
	if nested && v != nil {
		v = map[string]any{inner: v}
	}
	doc[outer] = v
}

// figure is what the fact is typed as, nil where it is no number.
func (f *fact) figure(doc map[string]any) *figure {
	if f.figOf != nil {
		return f.figOf(doc)
	}
	return f.fig
}

// tooMuch is the figure in which the offset of an instrument is told.
func tooMuch(doc map[string]any) *figure {
	reads, _ := doc["reads"].(string)
	if strings.HasSuffix(reads, "mass") {
		return offsets["mass"]
	}
	if f := offsets[reads]; f != nil {
		return f
	}
	return offsets["gravity"]
}

// said is how a fact reads, empty where nothing is told.
func (f *fact) said(doc map[string]any, c *batch.Cellar, style unit.Style) string {
	v := value(doc, f.key)
	switch v := v.(type) {
	case nil:
		return ""
	case float64:
		if f.figure(doc) == nil {
			return strconv.FormatFloat(v, 'g', 4, 64)
		}
		return f.figure(doc).write(v, style)
	case bool:
		return f.named(strconv.FormatBool(v), c, style.Tongue)
	case []any:
		var names []string
		for _, one := range v {
			names = append(names, f.named(fmt.Sprint(one), c, style.Tongue))
		}
		return strings.Join(names, ", ")
	}
	text := fmt.Sprint(v)
	if at, err := time.Parse(time.RFC3339, text); f.day && err == nil {
		return dayWords(at, style)
	}
	return f.named(text, c, style.Tongue)
}

// named is the name of an option, or of a thing that is gone.
func (f *fact) named(v string, c *batch.Cellar, tongue *wording.Tongue) string {
	if f.choose == nil {
		return v
	}
	for _, o := range f.choose(c, tongue) {
		if o.Value == v {
			return o.Name
		}
	}
	if id, err := batch.ParseID(v); err == nil {
		if t := thingOf(c, id); t != nil {
			return tongue.Say("%s (no longer there)", t.Name)
		}
		return tongue.Word("something no longer there")
	}
	return v
}

// typedAs is how a fact stands in its field, so that it is read back as it is.
func (f *fact) typedAs(doc map[string]any, style unit.Style) string {
	switch v := value(doc, f.key).(type) {
	case nil:
		return ""
	case float64:
		return f.figure(doc).typed(v, style)
	case bool:
		return strconv.FormatBool(v)
	case []any:
		var words []string
		for _, one := range v {
			words = append(words, fmt.Sprint(one))
		}
		return strings.Join(words, " ")
	case string:
		if at, err := time.Parse(time.RFC3339, v); f.day && err == nil {
			return at.Format(time.DateOnly)
		}
		return v
	}
	return ""
}

// ask is the question about a fact.
func (f *fact) ask(doc map[string]any, c *batch.Cellar, style unit.Style) *asking {
	a := &asking{Name: f.key, Label: style.Word(f.label), Hint: style.Word(f.hint), What: style.Word(f.what), Optional: !f.need && f.cost == "" && f.none == "", Many: f.many}
	if f.care != "" {
		a.Caution = limit.Say(style, f.care)
	}
	if f.choose != nil {
		a.Options = f.choose(c, style.Tongue)
		if len(a.Options) == 0 {
			return nil // there is nothing to choose from yet
		}
		return a
	}
	switch fig := f.figure(doc); {
	case f.day:
		a.Hint = strings.TrimSpace(a.Hint + " " + style.Word("For example 12 March 2027 or 2027-03-12."))
	case fig != nil:
		a.Hint = strings.TrimSpace(a.Hint + " " + style.Say("For example %s.", fig.example(style)))
		a.Unit, a.Numeric = fig.behind(style), fig.digits(style)
	}
	if f.cost != "" {
		a.Others = append(a.Others, otherwise{unknown, style.Word(f.cost), false})
	}
	if f.none != "" {
		a.Others = append(a.Others, otherwise{nothing, style.Word(f.none), false})
	}
	return a
}

// answer puts what was typed into the record, or a word beside the question.
func (f *fact) answer(a *asking, doc map[string]any, style unit.Style) {
	if !a.Known() {
		put(doc, f.key, nil)
		return
	}
	switch fig := f.figure(doc); {
	case f.many:
		put(doc, f.key, strings.Fields(a.Typed))
	case f.choose != nil && (a.Typed == "true" || a.Typed == "false"):
		put(doc, f.key, a.Typed == "true")
	case f.day:
		at, problem := readCalendar(style.Tongue, a.Typed)
		a.Error = problem
		put(doc, f.key, at.Format(time.RFC3339))
	case fig != nil:
		si, problem := fig.read(a.Typed, style)
		a.Error = problem
		put(doc, f.key, si)
	default:
		put(doc, f.key, a.Typed)
	}
}

// dayWords writes a day of the calendar.
func dayWords(at time.Time, style unit.Style) string { return style.Time(at, "2 January 2006") }

// layouts are how people write a day; an order of numbers that could be read in two ways is
// not among them.
var layouts = []string{time.DateOnly, "2 January 2006", "2 Jan 2006", "January 2 2006", "Jan 2 2006", "January 2006", "Jan 2006", "2006-01"}

// readCalendar reads a day. A month alone is its last day, as on labels.
func readCalendar(t *wording.Tongue, typed string) (at time.Time, problem string) {
	text := strings.Join(strings.Fields(strings.NewReplacer(",", " ", ".", " ").Replace(typed)), " ")
	for i, layout := range layouts {
		at, err := time.Parse(layout, text)
		if err != nil || at.Year() < 1970 || at.Year() > 2199 {
			continue
		}
		if i > 4 {
			at = at.AddDate(0, 1, -1)
		}
		return at, ""
	}
	return time.Time{}, t.Say("I read “%s” and could not tell the day. Write it as %s or %s.", typed, "12 March 2027", "2027-03-12")
}
