package web

import (
	"fmt"
	"net/url"
	"regexp"
	"slices"
	"strings"

	"spile/calc"
	"spile/wording"
)

// field is one input of a calculation.
type field struct {
	asking
	Flag    calc.Flag
	Sample  string
	Alone   bool   // a number is understood without a unit typed behind it
	Assumed string // what is taken where nobody knows; empty: nothing is
}

// form is a question with what was typed into its fields.
type form struct {
	row    *calc.Calculation
	tastes tastes
	asked  bool
	Fields []*field
	Beside string // what is wrong with the answers together, where no field is named
}

// glossaryOf leads from a kind of input to the word that explains it.
var glossaryOf = map[string]string{"gravity": "gravity", "carbonation": "carbonation", "pressure": "gauge"}

// readForm takes the query of a page: a flag each, and "unknown" for what is not known.
func readForm(row *calc.Calculation, query url.Values, t tastes) *form {
	row = row.In(t.Style)
	f := &form{row: row, tastes: t}
	worked := example(row)
	for _, flag := range row.Flags {
		in := fieldOf(row, flag, t)
		if in.Options == nil {
			in.Sample = sampleOf(flag, worked, t)
			in.Hint = strings.TrimSpace(in.Hint + " " + t.Style.Say("For example %s.", calc.Said(t.Style.Tongue, in.Sample)))
		}
		in.Typed = strings.TrimSpace(query.Get(flag.Name))
		if flag.Kind.Choices != nil && in.Typed == unknown {
			in.Typed = ""
		}
		f.asked = f.asked || query.Has(flag.Name)
		if flag.Default != "" {
			in.Assumed = assumed(flag, t)
			chosen := in.Typed == "" && (flag.Kind.Choices != nil || !query.Has(flag.Name) || slices.Contains(query[unknown], flag.Name))
			in.Others = []otherwise{{unknown, t.Style.Say("I do not know: %s is taken", in.Assumed), chosen}}
		}
		f.Fields = append(f.Fields, in)
	}
	return f
}

// fieldOf is the input for a flag, empty.
func fieldOf(row *calc.Calculation, flag calc.Flag, t tastes) *field {
	in := &field{Flag: flag}
	in.Name, in.Word, in.Optional = flag.Name, glossaryOf[flag.Kind.Name], !flag.Required && flag.Default == ""
	in.Label, in.Hint = label(row, flag)
	for _, word := range flag.Kind.Choices {
		in.Options, in.Word = append(in.Options, option{string(word), wording.Capital(t.Style.Word(word))}), ""
	}
	m := t.Units.Of(flag.JSONKey())
	if t.Units.Chosen(flag.JSONKey()) {
		in.Unit = m.Unit
	}
	in.Alone = in.Unit != "" || m.Unit == "" && flag.Kind.Suffix == "" && flag.Kind.Name != "dilution" || flag.Kind.Suffix == "sg" && m.Unit == ""
	in.Numeric = in.Alone && !belowZero(flag, in.Unit)
	return in
}

// belowZero tells that a flag takes a number below zero in a unit. A dial begins at zero (common practice, no source).
func belowZero(flag calc.Flag, in string) bool {
	_, err := flag.Given(withUnit("-1", in))
	return err == nil && flag.Kind.Name != "pressure"
}

// sampleOf is how a flag may be typed, as in the example of its row, in the units and with the decimal mark chosen.
func sampleOf(flag calc.Flag, example map[string]string, t tastes) string {
	text, found := example[flag.Name]
	if !found || flag.Default != "" {
		text = flag.Example()
	}
	if g, err := flag.Given(text); err == nil && t.Units.Chosen(flag.JSONKey()) {
		text = t.Units.In(t.Style, g)
	}
	return t.Style.Decimal(text)
}

// assumed is the default of a flag as it is said.
func assumed(flag calc.Flag, t tastes) string {
	g, err := flag.Given(flag.Default)
	if err != nil {
		return flag.Default
	}
	g.Default = true
	return t.Style.Decimal(t.Units.In(t.Style, g))
}

// example is the worked case of a calculation.
func example(row *calc.Calculation) map[string]string {
	values := map[string]string{}
	for i := 0; i+1 < len(row.Example); i += 2 {
		values[row.Example[i]] = row.Example[i+1]
	}
	return values
}

var (
	bareNumber    = regexp.MustCompile(`^[+-]?[0-9]+([.,][0-9]+)?$`)
	threeDecimals = regexp.MustCompile(`^[01][.,][0-9]{3}$`) // 1.046 is a gravity, whatever unit was chosen
)

// withUnit gives a bare number the unit that stands behind its field, where one does: it is then
// understood alike when other units are chosen.
func withUnit(typed, in string) string {
	if in == "" || !bareNumber.MatchString(typed) || in == "°P" && threeDecimals.MatchString(typed) {
		return typed
	}
	return typed + " " + in
}

// values are what was typed, a bare number with the unit that stands behind its field.
func (f *form) values() map[string]string {
	values := map[string]string{}
	for _, in := range f.Fields {
		if in.Typed == "" {
			continue
		}
		values[in.Flag.Name] = withUnit(calc.Typed(f.tastes.Style.Tongue, in.Typed), in.Unit)
	}
	return values
}

// address is where the question stands with these values, so that it can be kept.
func address(row *calc.Calculation, values map[string]string, below string) string {
	q := url.Values{}
	for name, text := range values {
		q.Set(name, text)
	}
	return "/work-it-out/" + row.Name + below + "?" + q.Encode()
}

// complete tells whether the query holds the values as they are, nothing less or more.
func (f *form) complete(query url.Values) bool {
	values := f.values()
	for name := range query {
		if query.Get(name) != values[name] || values[name] == "" {
			return false
		}
	}
	return true
}

// evaluate answers, or says beside each field what is wrong with it.
func (f *form) evaluate() *calc.Answer {
	f.checkMissing()
	values := f.values()
	a, err := f.row.Evaluate(values)
	if err == nil && !f.Bad() {
		return a
	}
	f.checkFields(values)
	if !f.Bad() {
		f.together(err)
	}
	return nil
}

// checkMissing finds what must be given and is not.
func (f *form) checkMissing() {
	for _, in := range f.Fields {
		switch {
		case in.Typed != "" || in.instead(unknown):
		case in.Assumed != "":
			in.Error = f.tastes.Style.Word("Type a value, or choose “I do not know”.")
		case in.Flag.Required && in.Flag.Kind.Choices != nil:
			in.Error = f.tastes.Style.Word("Choose one of these.")
		case in.Flag.Required:
			in.Error = in.absent(f.tastes.Style.Tongue)
		}
	}
}

// absent says that a number is missing, and how it is written.
func (f *field) absent(t *wording.Tongue) string {
	if f.Alone {
		return t.Say("Type a number here, for example %s.", calc.Said(t, f.Sample))
	}
	return t.Say("Type a number with its unit here, for example %s.", calc.Said(t, f.Sample))
}

// checkFields finds what cannot be read.
func (f *form) checkFields(values map[string]string) {
	for _, in := range f.Fields {
		if text, typed := values[in.Flag.Name]; typed {
			in.Error = misread(f.row, in.Flag, text)
		}
	}
}

// misread is what is wrong with one value by itself.
func misread(row *calc.Calculation, flag calc.Flag, text string) string {
	if _, err := flag.Given(text); err != nil {
		return reason(row, err)
	}
	return ""
}

// together puts what is wrong with the values together beside the fields it names.
func (f *form) together(err error) {
	text, named := reason(f.row, err), false
	for _, in := range f.Fields {
		for _, flag := range flagName.FindAllStringSubmatch(err.Error(), -1) {
			if flag[1] == in.Flag.Name && !named {
				in.Error, named = text, true
			}
		}
	}
	if !named {
		f.Beside = text
	}
}

// refused is what is said of a value that could not be read; empty where it could.
func refused(t *wording.Tongue, err error) string {
	if err == nil {
		return ""
	}
	return sentence(fmt.Sprint(t.Of(err)))
}

// sentence begins with a capital and ends with a stop; nothing stays nothing.
func sentence(text string) string {
	if text == "" {
		return ""
	}
	text = wording.Capital(text)
	if !strings.HasSuffix(text, ".") && !strings.HasSuffix(text, "?") {
		text += "."
	}
	return text
}

// Bad tells whether anything is wrong.
func (f *form) Bad() bool {
	return f.Beside != "" || slices.ContainsFunc(f.Fields, func(in *field) bool { return in.Error != "" })
}

// Needed are the fields that have no default, Rest those that have one.
func (f *form) Needed() []*field { return f.which(false) }

// Rest are the fields for which something is assumed unless it is given.
func (f *form) Rest() []*field { return f.which(true) }

func (f *form) which(assumed bool) (out []*field) {
	for _, in := range f.Fields {
		if (in.Assumed != "") == assumed {
			out = append(out, in)
		}
	}
	return out
}
