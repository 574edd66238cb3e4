package advice

import (
	"reflect"
	"regexp"
	"strings"
	"testing"

	"spile/unit"
	"spile/wort"
)

// systems are the ways to write each quantity: the word that chooses it, and what must then not be found.
var systems = [][]struct{ word, foreign string }{
	{{"psi", `\d (bar|kPa)\b`}, {"bar", `\d (psi|kPa)\b`}, {"kpa", `\d (psi|bar)\b`}},
	{{"c", `°F`}, {"f", `°C`}},
	{{"l", `\d (gal|fl oz)\b`}, {"gal(us)", `\d m?L\b|\(UK\)`}, {"gal(uk)", `\d m?L\b|\(US\)`}},
	{{"sg", `°P`}, {"p", `\b1\.\d{3}\b|\bpoints?\b of|\d points?\b`}},
	{{"volumes", `\d g/L`}, {"g/l", `\d volumes`}},
	{{"g", `\d (oz|lb)\b`}, {"oz", `\d k?g[ .,;)]`}},
	{{"point", `\d,\d`}, {"comma", `\d\.\d`}},
}

// own are words that no style changes: water reads 1.000 on every hydrometer, and a plan keeps the words it was written in.
var own = regexp.MustCompile(`It should read 1\.000\.|As planned: [^\n]*`)

// wordsOf is every string in v, one a line.
func wordsOf(v reflect.Value) string {
	var out strings.Builder
	switch v.Kind() {
	case reflect.String:
		out.WriteString(v.String() + "\n")
	case reflect.Slice:
		for i := range v.Len() {
			out.WriteString(wordsOf(v.Index(i)))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			out.WriteString(wordsOf(v.Field(i)))
		}
	}
	return out.String()
}

// Every sentence about every case follows the style, each quantity by itself: whoever chose bar reads no psi.
func TestEveryWordFollowsTheStyle(t *testing.T) {
	defer func() { written = unit.Style{} }()
	for _, quantity := range systems {
		for _, s := range quantity {
			var err error
			if written, err = unit.ParseStyle(s.word, wort.ExtractFromGravity); err != nil {
				t.Fatal(err)
			}
			foreign := regexp.MustCompile(s.foreign)
			for _, c := range cases {
				text := own.ReplaceAllString(wordsOf(reflect.ValueOf(c.said())), "")
				if at := foreign.FindStringIndex(text); at != nil {
					t.Errorf("%s in %q: found %q in …%s…", c.what, s.word, text[at[0]:at[1]], text[max(at[0]-60, 0):min(at[1]+20, len(text))])
				}
			}
		}
	}
}

// What is said in one style is said in every other: only numbers and units differ.
func TestStylesSayTheSame(t *testing.T) {
	defer func() { written = unit.Style{} }()
	quantity := regexp.MustCompile(`-?[\d.,]+ ?(psi|bar|kPa|°[CFP]|m?L|gal \(U[SK]\)|fl oz \(U[SK]\)|volumes|g/L|k?g|oz|lb|points?)?( \([\d.]+ (bar|g/L)\))?`)
	bare := func(c int) string { return quantity.ReplaceAllString(cases[c].said().Next[0].Do, "#") }
	for i := range cases {
		written = unit.Style{}
		usual := bare(i)
		for _, list := range []string{"bar,f,gal(us),g/l,oz,comma", "kpa,gal(uk)"} {
			var err error
			if written, err = unit.ParseStyle(list, wort.ExtractFromGravity); err != nil {
				t.Fatal(err)
			}
			if got := bare(i); !strings.EqualFold(got, usual) {
				t.Errorf("%s in %s: expected %q, got %q", cases[i].what, list, usual, got)
			}
		}
	}
}
