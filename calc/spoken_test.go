package calc

import (
	"strings"
	"testing"

	"spile/unit"
	"spile/wording"
)

// shouted is a language that has every unit in capitals, with a mark behind.
func shouted() *wording.Tongue {
	texts := map[wording.Text][]string{}
	for i := range measures {
		if name := measures[i].Unit; name != "" {
			texts[wording.Text(name)] = []string{strings.ToUpper(name) + "ø"}
		}
	}
	texts["Pressure on the dial"] = []string{"TRYK"}
	texts["give two of --temperature, --pressure and --volumes"] = []string{"to af --volumes, --pressure og --temperature"}
	return wording.New("da", "Dansk", texts, func(int) int { return 0 })
}

// What is said of an amount in a language is read again; what was typed in English is too.
func TestUnitsAreReadAsTheyAreSaid(t *testing.T) {
	tongue := shouted()
	for i := range measures {
		m := measures[i].In(unit.Style{Tongue: tongue})
		if m.Unit == "" {
			continue
		}
		said, english := m.With("2.5"), "2.5 "+m.Unit
		if said == english || Typed(tongue, said) != english || Said(tongue, english) != said || Typed(tongue, strings.ToLower(said)) != english || Typed(tongue, english) != english {
			t.Errorf("%s is said as %s, and that is read as %s", english, said, Typed(tongue, said))
		}
	}
	for _, typed := range []string{"", "1.046", "1:400", "-3", "volumes"} {
		if got := Typed(tongue, typed); got != typed {
			t.Errorf("%q is read as %q", typed, got)
		}
	}
}

// A calculation answers and refuses in the language of whoever reads it; the one in the table stays in English.
func TestCalculationInALanguage(t *testing.T) {
	row, _ := Find("carbonation")
	a, err := row.In(unit.Style{Tongue: shouted()}).Evaluate(map[string]string{"temperature": "1 C", "volumes": "2.5 volumes"})
	if err != nil {
		t.Fatal(err)
	}
	if r := a.Results[0]; !strings.HasSuffix(r.Words, " BARø)") || shouted().Word(r.Name) != "TRYK" {
		t.Errorf("got %s: %s", r.Name, r.Words)
	}
	if _, err = row.Evaluate(map[string]string{"pressure": "10 psi"}); shouted().Of(errTwoOfThree) != "to af --volumes, --pressure og --temperature" || !strings.Contains(err.Error(), "give two of --temperature") {
		t.Error(err)
	}
	if a, err = row.Evaluate(map[string]string{"temperature": "1 C", "volumes": "2.5 volumes"}); err != nil || !strings.HasSuffix(a.Results[0].Words, " bar)") {
		t.Error(a, err)
	}
}

// The unit of a key is that of its kind: a density, kg/L, was read as litres, and said in gallons where those were chosen.
func TestKeysEndInTheUnitOfTheirKind(t *testing.T) {
	for _, row := range Table() {
		for _, f := range row.Flags {
			if got := suffixOf(f.JSONKey()); f.Kind.Suffix != "" && got != f.Kind.Suffix {
				t.Errorf("%s --%s: the unit of %s is read as %s", row.Name, f.Name, f.JSONKey(), got)
			}
		}
	}
}
