// Package wording says the words of the program in the language of whoever reads them.
//
// A text stands in the program in English, as it is read, and that English is its name in
// the catalogue, as in gettext. A constant that becomes a [Text] is in the catalogue by its
// type alone; no text has a second name, and none can be forgotten. What a [Tongue] has no
// translation for is said in English, whole.
package wording

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Text is what a person reads, in English: a word, a sentence, or a sentence with slots. Slots
// are verbs of package fmt for [Tongue.Say], or names in braces for [Tongue.Fill]. What is typed on the
// command line, as --pressure or spile calc leak, stays in every language: a page puts its own name there.
type Text string

// English is texts as they stand.
func English(texts []Text) (out []string) {
	for _, t := range texts {
		out = append(out, string(t))
	}
	return out
}

// Capital makes the first letter a capital.
func Capital(text string) string {
	first, size := utf8.DecodeRuneInString(text)
	if size == 0 {
		return ""
	}
	return string(unicode.ToUpper(first)) + text[size:]
}

// Tongue is a language. Nil is English, as it is written in the program.
type Tongue struct {
	Code  string // of the page: de, pt-BR (BCP 47)
	Name  string // in the language itself: Deutsch
	texts map[Text][]string
	form  func(n int) int
}

// New makes a language of its translations: of each English text all its forms, of which form
// tells the one for a number. A translation that does not fit its text (see [Misfit]) is left out.
func New(code, name string, texts map[Text][]string, form func(n int) int) *Tongue {
	t := &Tongue{Code: code, Name: name, texts: map[Text][]string{}, form: form}
	for english, forms := range texts {
		if !slices.ContainsFunc(forms, func(f string) bool { return Misfit(english, f) != "" }) {
			t.texts[english] = forms
		}
	}
	return t
}

// Lang is the code of the language; English has one too.
func (t *Tongue) Lang() string {
	if t == nil {
		return "en"
	}
	return t.Code
}

// Word says a text that has no slots, or gives the text whose slots are still to be filled.
func (t *Tongue) Word(english Text) string {
	if t != nil {
		if forms := t.texts[english]; len(forms) > 0 {
			return forms[0]
		}
	}
	return string(english)
}

// Say says a text with its verbs filled as fmt.Sprintf fills them. Slots that are a Text or a
// Sentence are said in the same language.
func (t *Tongue) Say(english Text, slots ...any) string {
	return fmt.Sprintf(t.Word(english), t.each(slots)...)
}

// Many is Say for a text that depends on how many there are: one is said of 1 in English, other
// of all other numbers; a language may have more forms. The number is no slot of itself.
func (t *Tongue) Many(n int, one, other Text, slots ...any) string {
	text := string(other)
	if n == 1 {
		text = string(one)
	}
	if t != nil {
		if forms := t.texts[one]; len(forms) > 0 {
			text = forms[min(max(t.form(n), 0), len(forms)-1)]
		}
	}
	return fmt.Sprintf(text, t.each(slots)...)
}

// Fill says a text with its names in braces filled, from pairs of name and words. Only the text is
// searched: words that fill a slot may hold braces. It panics where a slot stays empty: a mistake
// of the program, not of its input.
func (t *Tongue) Fill(english Text, slots ...string) string {
	return named.ReplaceAllStringFunc(t.Word(english), func(name string) string {
		for i := 0; i+1 < len(slots); i += 2 {
			if name == "{"+slots[i]+"}" {
				return slots[i+1]
			}
		}
		panic(fmt.Sprintf("wording: text %q has an unfilled slot: %s", english, name))
	})
}

// Of says what a Text or a Sentence means, also that of an error that has one; all else is given back.
func (t *Tongue) Of(x any) any {
	switch x := x.(type) {
	case Text:
		return t.Word(x)
	case Sentence:
		return t.Say(x.English, x.Slots...)
	case Moment:
		return t.Time(x.At, x.Layout)
	case Worded:
		return t.Word(x.Wording())
	case refusal:
		return t.Of(x.Sentence())
	}
	return x
}

// Worded is a value that is read as a text, such as a state or an urgency. The constants of a
// type of strings that is Worded are in the catalogue as those of Text are.
type Worded interface{ Wording() Text }

// refusal is an error that can be said in any language.
type refusal interface{ Sentence() Sentence }

// Time writes a moment in a layout of package time, which is a text: a language may order it anew.
// Names of months and days are said.
func (t *Tongue) Time(at time.Time, layout Text) string {
	written := at.Format(t.Word(layout))
	if t == nil {
		return written
	}
	return calendar.ReplaceAllStringFunc(written, func(name string) string { return t.Word(Text(name)) })
}

// Moment is a time with its layout (see [Tongue.Time]), made where nobody knows yet who reads it.
type Moment struct {
	At     time.Time
	Layout Text
}

// String is the moment in English.
func (m Moment) String() string { return m.At.Format(string(m.Layout)) }

// Names are those of the calendar as package time writes them, whole and short.
var Names = []Text{
	"Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun",
	"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December",
	"Jan", "Feb", "Mar", "Apr", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
}

var calendar = func() *regexp.Regexp {
	var names []string
	for _, n := range Names {
		names = append(names, string(n))
	}
	return regexp.MustCompile(`\b(?:` + strings.Join(names, "|") + `)\b`)
}()

func (t *Tongue) each(slots []any) []any {
	said := make([]any, len(slots))
	for i, slot := range slots {
		said[i] = t.Of(slot)
	}
	return said
}

// Sentence is a text with what fills its slots, made where nobody knows yet who reads it.
// As an error it says why something is refused.
type Sentence struct {
	English Text
	Slots   []any
}

// Unsaid is a Sentence of its parts.
func Unsaid(english Text, slots ...any) Sentence { return Sentence{english, slots} }

// String is the sentence in English.
func (s Sentence) String() string { return (*Tongue)(nil).Say(s.English, s.Slots...) }

// Error is the sentence in English.
func (s Sentence) Error() string { return s.String() }

var (
	named = regexp.MustCompile(`\{[^{}]*\}`)
	typed = regexp.MustCompile(`--[a-z]+(?:-[a-z]+)*|\bspile calc [a-z]+(?:-[a-z]+)*`)
	verb  = regexp.MustCompile(`%[-+#0]*\d*(?:\.\d+)?(?:\[\d+\])?[a-zA-Z%]`)
	place = regexp.MustCompile(`\[(\d+)\]`)
)

// Misfit says what keeps a translation from standing for a text: slots that are missing, doubled
// or of its own. It is empty where the translation fits.
func Misfit(english Text, translated string) string {
	if strings.TrimSpace(translated) == "" {
		return "it is empty"
	}
	wants, has := slotsOf(string(english)), slotsOf(translated)
	if !slices.Equal(wants, has) {
		return fmt.Sprintf("its slots are %s, those of the text are %s", strings.Join(has, " "), strings.Join(wants, " "))
	}
	return ""
}

// slotsOf lists the slots of a text, those of verbs with their places: %s %[1]s and %[2]d.
func slotsOf(text string) []string {
	slots, next := append(named.FindAllString(text, -1), typed.FindAllString(text, -1)...), 1
	for _, v := range verb.FindAllString(text, -1) {
		if strings.HasSuffix(v, "%") {
			continue
		}
		if at := place.FindStringSubmatch(v); at != nil {
			fmt.Sscan(at[1], &next)
			v = place.ReplaceAllString(v, "")
		}
		slots = append(slots, fmt.Sprintf("%%[%d]%s", next, v[1:]))
		next++
	}
	slices.Sort(slots)
	return slots
}
