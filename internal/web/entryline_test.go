package web

import (
	"maps"
	"strings"
	"testing"
)

func TestLines(t *testing.T) {
	type told = map[string]string
	for line, want := range map[string]told{
		"":                                    {},
		"12 psi, 19 C":                        {"pressure": "12 psi", "temperature": "19 C"},
		"12 psi 19 C":                         {"pressure": "12 psi", "temperature": "19 C"},
		"12psi 19c":                           {"pressure": "12 psi", "temperature": "19 c"},
		"19 C, 12 psi":                        {"pressure": "12 psi", "temperature": "19 C"},
		"12 psi and 19 degrees":               {"pressure": "12 psi", "temperature": "19 degrees"},
		"0,7 bar; 19,5 °C":                    {"pressure": "0,7 bar", "temperature": "19,5 °C"},
		"12,5 psi, 66 F":                      {"pressure": "12,5 psi", "temperature": "66 F"},
		"12 p.s.i., 19 deg. C":                {"pressure": "12 psi", "temperature": "19 deg C"},
		"12 psi\n19 °C":                       {"pressure": "12 psi", "temperature": "19 °C"},
		"twelve psi nineteen degrees celsius": {"pressure": "12 psi", "temperature": "19 degrees celsius"},
		"the dial shows 12 psi and the strip 19 C": {"pressure": "12 psi", "temperature": "19 C"},
		"pressure 12, temperature 19":              {"pressure": "12", "temperature": "19"},
		"one point zero one four":                  {"gravity": "1.014"},
		"gravity one point oh one four and 12 psi": {"gravity": "1.014", "pressure": "12 psi"},
		"1,014, 12 psi":                            {"gravity": "1,014", "pressure": "12 psi"},
		"SG 1.014":                                 {"gravity": "1.014"},
		"3.6 °P":                                   {"gravity": "3.6 °P"},
		"19 C in the beer, 12 psi":                 {"pressure": "12 psi", "temperature": "19 C", whereField: inBeer},
		"air 14 C, 12 psi":                         {"pressure": "12 psi", airField: "14 C"},
		"14 C in the shed and 19 C on the vessel":  {airField: "14 C", "temperature": "19 C"},
		"vessel 24.1 kg":                           {"vessel": "24.1 kg"},
		"24.1 kg":                                  {"vessel": "24.1 kg"},
		"cylinder 5.3 kg, 12 psi":                  {"cylinder": "5.3 kg", "pressure": "12 psi"},
		"weight 53 lb":                             {"vessel": "53 lb"},
		"minus 1 C":                                {"temperature": "-1 C"},
		"about 12 psi, ca. 19 C":                   {"pressure": "12 psi", "temperature": "19 C"},
		"12 lb/in2":                                {"pressure": "12 lb/in2"},
	} {
		got, problem := readLine(nil, line)
		if problem != "" || !maps.Equal(got, want) {
			t.Errorf("%q: got %v, %q; want %v", line, got, problem, want)
		}
	}
	for line, say := range map[string]string{
		"warm": "found no number", "12": "could not tell", "12 19": "could not tell", "12 pounds": "could not tell", "12 psi quux 19 C": "“quux”", "12 quux": "could not tell", "12 psi, 13 psi": "two numbers for the pressure",
		"pressure 19 C": "could not tell", "12 psi, no idea": "found no number", "12 psi !": "“!”",
	} {
		if got, problem := readLine(nil, line); !strings.Contains(problem, say) || !strings.HasSuffix(problem, lineExample+".") {
			t.Errorf("%q: got %v, %q; want %q", line, got, problem, say)
		}
	}
}

// Nothing that is typed or said breaks a line, and what is taken from it is in it.
func FuzzLine(f *testing.F) {
	for _, line := range []string{"12 psi, 19 C", "air 14 C; vessel 24.1 kg", "one point zero one four", "12 p.s.i.", "−1 °C", "½ bar"} {
		f.Add(line)
	}
	f.Fuzz(func(t *testing.T, line string) {
		told, problem := readLine(nil, line)
		if problem != "" && len(told) > 0 {
			t.Errorf("%q: both %v and %q", line, told, problem)
		}
		for field, text := range told {
			if text == "" {
				t.Errorf("%q: nothing for %s", line, field)
			}
		}
	})
}
