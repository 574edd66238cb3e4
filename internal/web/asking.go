package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"spile/wording"
)

// asking is one question of a form.
type asking struct {
	Name     string // of the field
	Label    string
	Hint     string
	Word     string   // of the glossary, that "What is this?" leads to; empty: none
	What     string   // what it is and where it is found
	Caution  string   // what to take care of; empty: nothing
	Options  []option // to choose one from; nil: it is typed
	Many     bool     // of the options several may be chosen
	Typed    string   // what was typed or chosen
	Unit     string   // written behind the field: what a bare number counts in
	Step     string   // of the buttons beside the field, in its unit; empty: none
	Begins   string   // where those begin, in its unit
	Numeric  bool     // a keyboard of digits is enough: no word, unit or sign is an answer
	Long     bool     // several lines may be typed
	Secret   bool     // a password: not shown, and never sent back
	Kept     string   // what a browser may fill in by itself, as HTML names it; empty: nothing
	Optional bool     // may stay empty
	Others   []otherwise
	Error    string
}

// otherwise is an answer beside the value: not known, or not there, and what that costs.
type otherwise struct {
	Group  string // unknown or none
	Words  string
	Chosen bool
}

// The groups of answers beside a value.
const (
	unknown = "unknown" // I do not know
	nothing = "none"    // I do not have one
)

// whenAsked asks when something was, with a time of late as an example.
func whenAsked(t *wording.Tongue, name string, lately wording.Text) *asking {
	return &asking{Name: name, Label: t.Word("About when?"), Hint: t.Say("For example %s, yesterday evening or 14:30.", lately), Optional: true}
}

// ID is where the field stands in the page.
func (a *asking) ID() string { return "field-" + a.Name }

// Heading is the label before what is wrong with the answer.
func (a *asking) Heading() string {
	if strings.HasSuffix(a.Label, "?") {
		return a.Label
	}
	return a.Label + ":"
}

// Explained tells that something stands below the label, which helps to answer.
func (a *asking) Explained() bool { return a.Hint+a.Word != "" }

// Described are the texts that go with the field, for readers; empty: none.
func (a *asking) Described() string {
	var ids []string
	if a.Error != "" {
		ids = append(ids, a.ID()+"-error")
	}
	if a.Explained() {
		ids = append(ids, a.ID()+"-hint")
	}
	if a.Unit != "" {
		ids = append(ids, a.ID()+"-unit")
	}
	return strings.Join(ids, " ")
}

// Ticked tells whether an option is chosen.
func (a *asking) Ticked(value string) bool {
	return a.Typed == value || a.Many && slices.Contains(strings.Fields(a.Typed), value)
}

// Known tells whether a value was given.
func (a *asking) Known() bool { return a.Typed != "" && !a.instead(unknown) && !a.instead(nothing) }

// instead tells whether the answer of that group was chosen in the place of a value.
func (a *asking) instead(group string) bool {
	return slices.ContainsFunc(a.Others, func(o otherwise) bool { return o.Group == group && o.Chosen })
}

// sheet is a form that is sent, with what was typed into it.
type sheet struct {
	Fields []*asking
	Beside string // what is wrong with the answers together, where no field is named
	How    *door  // the working of what is said of the answers together; nil: none
}

// field is the question of that name. It is a mistake to ask for one that is not there.
func (f *sheet) field(name string) *asking {
	for _, a := range f.Fields {
		if a.Name == name {
			return a
		}
	}
	panic("no field " + name)
}

// read takes what was sent. A form that was not sent changes nothing.
func (f *sheet) read(r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	f.take(r.PostForm)
	return nil
}

// take puts in what was typed.
func (f *sheet) take(values url.Values) {
	for _, a := range f.Fields {
		a.Typed = strings.TrimSpace(values.Get(a.Name))
		for i := range a.Others {
			o := &a.Others[i]
			o.Chosen = a.Options != nil && a.Typed == o.Group || a.Options == nil && a.Typed == "" && slices.Contains(values[o.Group], a.Name)
		}
		if a.Many {
			a.Typed = strings.Join(values[a.Name], " ")
		} else if a.Options != nil && !known(a.Options, a.Typed) {
			a.Typed = ""
		}
	}
}

// missing puts a word beside each question that has no answer.
func (f *sheet) missing(t *wording.Tongue) {
	for _, a := range f.Fields {
		answered := a.Typed != "" || a.Optional || slices.ContainsFunc(a.Others, func(o otherwise) bool { return o.Chosen })
		switch {
		case answered || a.Error != "":
		case len(a.Others) > 0:
			a.Error = t.Say("Answer this, or choose “%s”.", a.Others[0].short())
		case a.Options != nil:
			a.Error = t.Word("Choose one of these.")
		default:
			a.Error = t.Word("Answer this.")
		}
	}
}

// short is the answer without what it costs.
func (o otherwise) short() string {
	words, _, _ := strings.Cut(o.Words, ":")
	return words
}

// Bad tells whether anything is wrong.
func (f *sheet) Bad() bool {
	return f.Beside != "" || slices.ContainsFunc(f.Fields, func(a *asking) bool { return a.Error != "" })
}
