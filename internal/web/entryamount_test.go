package web

import (
	"math"
	"strings"
	"testing"

	"spile/estimate"
	"spile/unit"
	"spile/wort"
)

// Factors are exact definitions (international yard and pound agreement, 1959), not read
// from the code under test.
const (
	psiPa = 0.45359237 * 9.80665 / (0.0254 * 0.0254)
	lbKg  = 0.45359237
)

// typings are ways in which people write one reading into its field, and what they mean in
// SI; in is the unit behind the field, in which a bare number counts.
var typings = []struct {
	*amount
	in    string
	want  float64
	texts []string
}{
	{pressureRead, "psi", 12 * psiPa, []string{"12", "12 psi", "12psi", "12 PSI", "12 Psi", "12psi.", "12 psi.", " 12 ", "12.0", "12,0", "12.00 psi", "12,0 psi", "+12", "12.", "12 psig",
		"12 psi g", "12 psi (gauge)", "12\u00a0psi", "12\u202fpsi", "12\tpsi", "12 lbs/in²", "12 lb/in2", "24/2 psi", "about 12", "about 12 psi", "~12", "~ 12 psi", "≈12 psi", "ca. 12 psi", "approx 12 psi",
		"approx. 12", "roughly 12", "around 12 psi", "pressure 12", "pressure: 12 psi", "Pressure = 12 psi", "gauge 12 psi", "dial 12", "the dial shows 12 psi", "dial reads 12", "Dial: 12", "pressure is 12 psi",
		"twelve", "twelve psi", "Twelve PSI", "pressure twelve", "about twelve psi", "12.0 lbf/in2"}},
	{pressureRead, "psi", 12.5 * psiPa, []string{"12.5", "12,5", "12½", "12 ½", "12 1/2 psi", "12½ psi", "12,5 psi", "twelve point five", "twelve and a half", "12 and a half psi", "12.50"}},
	{pressureRead, "psi", 0.7e5, []string{"0.7 bar", "0,7 bar", ".7 bar", ",7 bar", "0.70bar", "0.7 Bar", "0.7 BAR", "0.7 barg", "0.7 bar(g)", "700 mbar", "70 kPa", "70kpa", "70 KPA", "0.07 MPa", "70000 Pa",
		"0.7 bars", "zero point seven bar", "about 0.7 bar", "70 kpa."}},
	{pressureRead, "bar", 0.7e5, []string{"0.7", "0,7", ".7", ",7", "0.70", "0,70", "about 0.7", "zero point seven", "0.7 bar", "70 kPa"}},
	{pressureRead, "kPa", 70e3, []string{"70", "70.0", "70,0", "seventy", "0.7 bar", "70 kPa"}},
	{pressureRead, "psi", 0, []string{"0", "0 psi", "0.0", "-0", "zero", "nought point"[:0] + "0 bar"}},
	{pressureRead, "kPa", -20e3, []string{"-20", "−20", "–20", "minus twenty", "minus 20", "-20 kPa"}},
	{temperatureRead, "°C", 292.15, []string{"19", "19 C", "19C", "19 c", "19c", "19 °C", "19°C", "19 ° C", "19 ºC", "19 ℃", "19°", "19 °", "19 deg", "19 deg.", "19 degrees", "19 deg C", "19 degC",
		"19 degrees C", "19 Celsius", "19 degrees celsius", "19 centigrade", "19.0", "19,0", "19.0 °C", "19,0 C", "+19", "19 C.", "292.15 K", "66.2 F", "66.2 °F", "66.2°F", "66.2 ℉", "66.2 deg F",
		"66.2 Fahrenheit", "66,2 F", "temp 19", "temp: 19 C", "temperature 19 °C", "Temperature is 19", "nineteen", "nineteen degrees", "nineteen degrees celsius", "about 19", "~19 °C", "beer 19 C", "strip 19", "strip: 19 C"}},
	{temperatureRead, "°C", 292.65, []string{"19.5", "19,5", "19½", "19 1/2 C", "nineteen point five", "nineteen and a half degrees", "19.5°"}},
	{temperatureRead, "°C", 272.15, []string{"-1", "−1", "–1 °C", "minus one", "minus 1", "-1 C", "30.2 F", "minus one degrees"}},
	{temperatureRead, "°F", 292.15, []string{"66.2", "66,2", "66.2°", "66.2 degrees", "66.2 F", "sixty-six point two", "sixty six point two degrees fahrenheit", "19 C", "19 °C"}},
	{gravityRead, "", 1.014, []string{"1.014", "1,014", "1.0140", "1.014 SG", "1.014 sg", "SG 1.014", "sg: 1.014", "gravity 1.014", "Gravity: 1,014", "FG 1.014", "one point zero one four", "one point oh one four",
		"specific gravity 1.014", "hydrometer 1.014", "hydrometer shows 1.014", "about 1.014"}},
	{gravityRead, "°P", 1.014, []string{"1.014", "1,014", "1.014 SG"}},
	{gravityRead, "", 0.998, []string{"0.998", "0,998", ".998"}},
	{vesselWeight, "kg", 24.15, []string{"24.15", "24,15", "24.15 kg", "24.15kg", "24,15 KG", "24.15 kilos", "24150 g", "weight 24.15", "vessel 24.15 kg", "it weighs 24.15"[3:]}},
	{vesselWeight, "kg", 53 * lbKg, []string{"53 lb", "53 lbs", "53lb.", "53 pounds"}},
	{vesselWeight, "lb", 53 * lbKg, []string{"53", "53 lb", "fifty-three", "fifty three pounds"}},
	{cylinderWeight, "kg", 5.3, []string{"5.3", "5,3", "5.3 kg", "cylinder 5.3 kg", "five point three", "5300 g"}},
	{sampleVolume, "mL", 0.15e-3, []string{"150", "150 mL", "150ml", "0.15 L", "15 cl", "one hundred and fifty"[:0] + "150 cc"}},
	{drawnVolume, "L", 2e-3, []string{"2", "2 L", "2 litres", "two", "two litres", "2000 mL", "2.0"}},
	{hopsMass, "g", 0.06, []string{"60", "60 g", "60g", "sixty grams", "0.06 kg", "sixty"}},
}

func TestTypings(t *testing.T) {
	count := 0
	for _, w := range typings {
		for _, text := range w.texts {
			count++
			got, d, problem := w.read(unit.Style{}, text, w.in, nil)
			if d != nil || problem != "" {
				t.Errorf("%s %q: %+v %s; want %g", w.Name, text, d, problem, w.want)
				continue
			}
			if math.Abs(got-w.want) > 1e-12*math.Max(1, math.Abs(w.want)) {
				t.Errorf("%s %q with %s behind the field: got %.12g, want %.12g", w.Name, text, w.in, got, w.want)
			}
		}
	}
	if count < 200 {
		t.Errorf("only %d ways of writing are tried; want at least 200", count)
	}
}

// 12 °P is 1.0484 (Plato table, ASBC: 1.04839), 3.6 °P 1.0141.
func TestTypedPlato(t *testing.T) {
	for _, text := range []string{"12", "12 P", "12 °P", "12.0", "12,0 Plato", "12 degrees plato", "twelve"} {
		got, d, problem := gravityRead.read(unit.Style{}, text, "°P", nil)
		if d != nil || problem != "" || math.Abs(got-1.0484) > 2e-4 {
			t.Errorf("%q: %g, %+v, %s; want 1.0484", text, got, d, problem)
		}
	}
}

// What could be meant in two ways is asked about, never guessed.
func TestDoubts(t *testing.T) {
	ten := &estimate.Band{P05: 9 * psiPa, P50: 10 * psiPa, P95: 11 * psiPa}
	wide := &estimate.Band{P05: 0, P50: 10 * psiPa, P95: 15 * psiPa} // before the first reading
	cold := &estimate.Band{P05: 276, P50: 277.15, P95: 278}
	for _, c := range []struct {
		*amount
		typed, in string
		expected  *estimate.Band
		says      string
		take      string
	}{
		{gravityRead, "46", "", nil, "I read 46 as gravity 1.046. Keep it?", "1.046"},
		{gravityRead, "1014", "", nil, "I read 1014 as gravity 1.014. Keep it?", "1.014"},
		{gravityRead, "14", "", nil, "I read 14 as gravity 1.014. Keep it?", "1.014"},
		{pressureRead, "12 bar", "psi", nil, "12 bar is above any limit here. Did you mean 12 psi?", "12 psi"},
		{pressureRead, "12", "bar", nil, "12 bar is above any limit here. Did you mean 12 psi?", "12 psi"},
		{pressureRead, "200 psi", "psi", nil, "200 psi is above any limit here. Did you mean 200 kPa?", "200 kPa"},
		{pressureRead, "70", "psi", ten, "I read 70 psi. Did you mean 70 kPa? That is about what was expected.", "70 kPa"},
		{pressureRead, "0.7", "psi", ten, "I read 0.7 psi. Did you mean 0.7 bar? That is about what was expected.", "0.7 bar"},
		{pressureRead, "0.7", "psi", wide, "I read 0.7 psi. Did you mean 0.7 bar? That is about what was expected.", "0.7 bar"},
		{temperatureRead, "66", "°C", nil, "66 °C cannot be right here. Did you mean 66 °F?", "66 °F"},
		{temperatureRead, "120 C", "°C", nil, "120 C cannot be right here. Did you mean 120 °F?", "120 °F"},
		{pressureRead, "-5 bar", "psi", nil, "-5 bar cannot be right here. Did you mean -5 psi?", "-5 psi"},
		{temperatureRead, "40", "°C", cold, "I read 40 °C. Did you mean 40 °F? That is about what was expected.", "40 °F"},
		{temperatureRead, "4", "°F", cold, "I read 4 °F. Did you mean 4 °C? That is about what was expected.", "4 °C"},
	} {
		si, d, problem := c.read(unit.Style{}, c.typed, c.in, c.expected)
		if d == nil || d.Says != c.says || d.Take != c.take {
			t.Errorf("%q: got %g, %+v, %q; want %q", c.typed, si, d, problem, c.says)
			continue
		}
		if _, problem := c.surely(unit.Style{}, d.Take, c.in); problem != "" {
			t.Errorf("%q: what is offered instead is refused: %s", c.typed, problem)
		}
	}
	for _, c := range []struct {
		*amount
		typed, in string
		expected  *estimate.Band
	}{{pressureRead, "14", "psi", ten}, {pressureRead, "0.7 psi", "bar", ten}, {pressureRead, "30", "psi", ten}, {temperatureRead, "20", "°C", cold}} {
		if _, d, problem := c.read(unit.Style{}, c.typed, c.in, c.expected); d != nil || problem != "" {
			t.Errorf("%q: asked about (%+v, %s); it is what it says", c.typed, d, problem)
		}
	}
}

// The rest is refused with what was read, what is accepted and an example.
func TestRefusedTypings(t *testing.T) {
	for _, c := range []struct {
		*amount
		typed, in, say string
	}{
		{pressureRead, "12", "", "Pressure needs a unit: 10 psi, 0.7 bar or 70 kPa."}, {pressureRead, "quux", "psi", "a number was expected"}, {pressureRead, "12 quux", "psi", "“12 quux”"},
		{pressureRead, "12 psia", "psi", "leave out abs"}, {pressureRead, "1 atm", "psi", "atmosphere"}, {pressureRead, "12 lb", "psi", "psi for pounds"}, {pressureRead, "12 13", "psi", "not known"},
		{pressureRead, "NaN", "psi", "number"}, {pressureRead, "Inf", "psi", "number"}, {pressureRead, "1e999", "psi", "needs a unit"}, {pressureRead, "1.2.3", "psi", "decimal point"}, {pressureRead, "12-13", "psi", "not known"},
		{pressureRead, strings.Repeat("9", 300), "psi", "too long"}, {temperatureRead, "19 R", "°C", "not known"}, {temperatureRead, "warm", "°C", "number"},
		{temperatureRead, "", "°C", "number"}, {gravityRead, "x", "", "number"}, {gravityRead, "1.014 kg", "", "not known"}, {vesselWeight, "-3", "kg", "outside"}, {temperatureRead, "-38", "°C", "I read -38 °C, which is outside -30 to 60 °C. Look once more."}, {vesselWeight, "5 gr", "kg", "grain"},
		{drawnVolume, "2 gal", "mL", "gal (US)"}, {shakenFor, "5 m", "", "months"}, {shakenFor, "5", "", "needs a unit"}, {hopsMass, "2 cups", "g", "not known"},
	} {
		si, d, problem := c.read(unit.Style{}, c.typed, c.in, nil)
		if d != nil || !strings.Contains(problem, c.say) || !strings.Contains(problem, " ") {
			t.Errorf("%q: got %g, %+v, %q; want a refusal with %q", c.typed, si, d, problem, c.say)
		}
	}
	style, err := unit.ParseStyle("F", wort.ExtractFromGravity)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, problem := temperatureRead.read(style, "-38", "°C", nil); !strings.Contains(problem, "outside -22 to 140 °F") {
		t.Errorf("to a brewer who reads Fahrenheit: %q", problem)
	}
}

func TestEcho(t *testing.T) {
	style := func(list string) unit.Style {
		s, err := unit.ParseStyle(list, wort.ExtractFromGravity)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	for _, c := range []struct {
		*amount
		si    float64
		style unit.Style
		want  string
	}{
		{pressureRead, 12 * psiPa, unit.Style{}, "12 psi (0.825 bar)"}, {pressureRead, 12.3 * psiPa, unit.Style{}, "12.3 psi (0.85 bar)"}, {pressureRead, 0.7e5, style("bar"), "0.70 bar (10.15 psi)"},
		{temperatureRead, 292.15, unit.Style{}, "19 °C (66.2 °F)"}, {temperatureRead, 292.15, style("f,comma"), "66,2 °F (19 °C)"}, {gravityRead, 1.014, unit.Style{}, "1.014 (3.57 °P)"},
		{vesselWeight, 24.15, unit.Style{}, "24.15 kg"}, {sampleVolume, 0.15e-3, unit.Style{}, "150 mL"}, {shakenFor, 300, unit.Style{}, "5 min"},
	} {
		if got := c.echo(c.si, c.style); got != c.want {
			t.Errorf("%s %g: got %q, want %q", c.Name, c.si, got, c.want)
		}
	}
}
