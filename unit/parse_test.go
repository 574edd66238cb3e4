package unit

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
)

// parsers gives every parser the same shape: text in, SI number and exact text out.
var parsers = map[string]func(string) (float64, fmt.Stringer, error){
	"gauge":    func(s string) (float64, fmt.Stringer, error) { v, err := ParseGauge(s); return float64(v), v, err },
	"supply":   func(s string) (float64, fmt.Stringer, error) { v, err := ParseSupply(s); return float64(v), v, err },
	"absolute": func(s string) (float64, fmt.Stringer, error) { v, err := ParseAbsolute(s); return float64(v), v, err },
	"temperature": func(s string) (float64, fmt.Stringer, error) {
		v, err := ParseTemperature(s)
		return float64(v), v, err
	},
	"difference": func(s string) (float64, fmt.Stringer, error) {
		v, err := ParseTemperatureDifference(s)
		return float64(v), v, err
	},
	"volume": func(s string) (float64, fmt.Stringer, error) { v, err := ParseVolume(s); return float64(v), v, err },
	"mass":   func(s string) (float64, fmt.Stringer, error) { v, err := ParseMass(s); return float64(v), v, err },
	"length": func(s string) (float64, fmt.Stringer, error) { v, err := ParseLength(s); return float64(v), v, err },
	"power":  func(s string) (float64, fmt.Stringer, error) { v, err := ParsePower(s); return float64(v), v, err },
	"conductance": func(s string) (float64, fmt.Stringer, error) {
		v, err := ParseConductance(s)
		return float64(v), v, err
	},
	"massrate":   func(s string) (float64, fmt.Stringer, error) { v, err := ParseMassRate(s); return float64(v), v, err },
	"volumerate": func(s string) (float64, fmt.Stringer, error) { v, err := ParseVolumeRate(s); return float64(v), v, err },
	"frequency":  func(s string) (float64, fmt.Stringer, error) { v, err := ParseFrequency(s); return float64(v), v, err },
	"duration":   func(s string) (float64, fmt.Stringer, error) { v, err := ParseDuration(s); return float64(v), v, err },
	"extract":    func(s string) (float64, fmt.Stringer, error) { v, err := ParseExtract(s); return float64(v), v, err },
	"volumes":    func(s string) (float64, fmt.Stringer, error) { v, err := ParseVolumes(s); return float64(v), v, err },
	"percent":    func(s string) (float64, fmt.Stringer, error) { v, err := ParsePercent(s); return float64(v), v, err },
	"abv":        func(s string) (float64, fmt.Stringer, error) { v, err := ParseABV(s); return float64(v), v, err },
	"bitterness": func(s string) (float64, fmt.Stringer, error) { v, err := ParseBitterness(s); return float64(v), v, err },
	"gravity": func(s string) (float64, fmt.Stringer, error) {
		v, err := ParseGravity(s, nil)
		return float64(v), v, err
	},
	"dilution": func(s string) (float64, fmt.Stringer, error) { v, err := ParseDilution(s); return float64(v), v, err },
}

// writings are ways in which people write quantities, and what they mean in SI.
// The factors are exact definitions (international yard and pound agreement 1959;
// US and UK gallon by law), not read from the code under test.
var writings = []struct {
	parser string
	want   float64
	texts  []string
}{
	{"gauge", 10 * 0.45359237 * 9.80665 / (0.0254 * 0.0254), []string{
		"10 psi", "10psi", "10 PSI", "10 Psi", "10psi.", " 10 psi ", "10 psig", "10 psi g", "10 psi (gauge)", "10 psi gauge",
		"10.0 psi", "10,0 psi", "+10 psi", "10\u00a0psi", "10\u202fpsi", "10\tpsi", "1e1 psi", "10. psi", "10 lbs/in²", "20/2 psi"}},
	{"gauge", 70e3, []string{"0.7 bar", "0,7 bar", ".7 bar", ",7 bar", "0.70bar", "0.7 Bar", "0.7 barg", "0.7 bar(g)", "0.7 bar g",
		"700 mbar", "70 kPa", "70kpa", "70 KPA", "70 kPag", "70 kPa (gauge)", "0.07 MPa", "70000 Pa", "0.7 bars"}},
	{"gauge", -20e3, []string{"-20 kPa", "\u221220 kPa", "–20 kPa", "- 0.2 bar"[0:1] + "0.2 bar"}},
	{"gauge", 98066.5, []string{"1 kg/cm2", "1 kgf/cm²"}},
	{"gauge", 0, []string{"0 psi", "0 bar", "0.0 kPa", "-0 Pa"}},
	{"supply", 57e5, []string{"57 bar", "5700 kPa", "57,0 bar"}},
	{"absolute", 101325, []string{"1013.25 hPa", "101.325 kPa abs", "1 atm", "101325 Pa abs", "1.01325 bar abs", "1.01325 bara",
		"1.01325 bar(a)", "1013.25 mbar abs", "101.325 kPa(abs)", "101.325 kPa a", "1.01325 bar absolute"}},
	{"absolute", 6894.757293168361, []string{"1 psia", "1 psi a", "1 psi abs", "1 PSIA"}},
	{"temperature", 291.15, []string{"18 C", "18C", "18 °C", "18°C", "18 ° C", "18 ºC", "18 ℃", "18 deg C", "18 degC", "18 degrees C",
		"18 Celsius", "18 celsius", "18 degrees celsius", "18.0 c", "18,0 °C", "64.4 F", "64.4 °F", "64.4°F", "64.4 ℉", "64.4 deg F",
		"64.4 Fahrenheit", "291.15 K", "291.15 kelvin", "+18 C", "18 C."}},
	{"temperature", 272.15, []string{"-1 C", "−1 °C", "–1°C", "30.2 F"}},
	{"temperature", 255.3722222222222, []string{"0 °F", "0F"}},
	{"difference", 2, []string{"2 K", "2 C", "2 °C", "3.6 °F", "2 deg C"}},
	{"volume", 0.023, []string{"23 L", "23L", "23 l", "23 litres", "23 liter", "23 Liters", "23 ltr", "23,0 L", "23000 mL", "0.023 m3",
		"0.023 m³", "0.23 hL", "23 dm3", "23 L."}},
	{"volume", 6 * 231 * 0.0254 * 0.0254 * 0.0254, []string{"6 gal (US)", "6 gal(US)", "6 US gal", "6 us gallons", "6 gal US", "6 gallons (US)", "24 qt (US)", "48 pt (US)", "48 US pints"}},
	{"volume", 5 * 4.54609e-3, []string{"5 gal (UK)", "5 imp gal", "5 imperial gallons", "5 UK gal", "5 gal (imperial)", "40 pt (UK)", "40 imperial pints"}},
	{"volume", 0.0005, []string{"500 mL", "500ml", "500 ML", "50 cl", "5 dl", "500 cc", "0.5 L", "½ L", "1/2 L"}},
	{"volume", 0.0015, []string{"1½ L", "1 1/2 L", "1,5 L"}},
	{"volume", 0, []string{"0 L"}},
	{"mass", 0.0115, []string{"11.5 g", "11,5 g", "11.5g", "11.5 grams", "11.5 gm", "0.0115 kg", "11500 mg", "11.5 G"}},
	{"mass", 2.6, []string{"2.6 kg", "2.6kg", "2.6 KG", "2.6 kilos", "2600 g"}},
	{"mass", 0.45359237, []string{"1 lb", "1 lbs", "1 pound", "16 oz", "16 ounces", "1lb."}},
	{"length", 0.30, []string{"0.30 m", "0,30 m", "30 cm", "300 mm", "30cm", "300 millimetres"[0:4] + "mm", "0.3 metres"}},
	{"length", 3.0 / 16 * 0.0254, []string{"3/16 in", "3/16 inch", "3/16\"", "3/16in", "3 / 16 in", "3/16 ″"}},
	{"length", 1.5 * 0.0254, []string{"1 1/2 in", "1½ in", "1.5 inches"}},
	{"length", 2 * 0.3048, []string{"2 ft", "2 feet", "2'", "24 in", "2’"}},
	{"length", 40, []string{"40 m", "40m", "40 meters", "0.04 km"}},
	{"length", -3, []string{"-3 m", "−3 m"}},
	{"power", 30, []string{"30 W", "30W", "30 watts", "0.03 kW"}},
	{"conductance", 4, []string{"4 W/K", "4W/K", "4 W / K", "4 W/°C", "4 W per K"}},
	{"massrate", 10e-3 / 86400, []string{"10 g/day", "10 g/d", "10g/day", "10 g per day", "0.01 kg/day", "70 g/week"}},
	{"massrate", 1e-3 / 3600, []string{"1 g/h", "1 g per hour", "0.001 kg/h"}},
	{"volumerate", 2e-3 / 60, []string{"2 L/min", "2 l/min", "2 lpm", "2000 mL/min", "120 L/h"}},
	{"frequency", 0.3 / 3600, []string{"0.3 per h", "0.3/h", "0.3 /h", "0.3 per hour", "0.3 ACH", "7.2 per day"}},
	{"duration", 96 * 3600, []string{"96 h", "96h", "96 hours", "96 hrs", "4 days", "4 d", "4d", "5760 min", "345600 s"}},
	{"duration", 14 * 86400, []string{"2 weeks", "2 wk", "14 days", "14 Days"}},
	{"duration", 0.5 * 365.25 * 86400, []string{"6 months", "6 month", "6 mo", "0.5 years", "½ year"}},
	{"duration", 300, []string{"5 min", "5 minutes", "5 mins", "300 sec"}},
	{"extract", 0.12, []string{"12 °P", "12 P", "12P", "12.0 °P", "12,0 °P", "12 Plato", "12 degrees Plato", "0.12 kg/kg"}},
	{"volumes", 2.5, []string{"2.5 volumes", "2.5 vol", "2,5 vol", "2.5 vols", "2.5 vol.", "2.5vol", "2.5 vol CO2", "2.5 volumes of CO2", "2,500 vol"}},
	{"percent", 0.77, []string{"77 %", "77%", "77 percent", "77,0 %", "77 pct"}},
	{"abv", 0.048, []string{"4.8 %", "4.8%", "4,8 %", "4.8 % ABV", "4.8 % vol", "4.8 vol %", "4.8% abv", "4.8 % (v/v)"}},
	{"bitterness", 28, []string{"28 IBU", "28 ibu", "28IBU"}},
	{"gravity", 1.048, []string{"1.048", "1,048", "1.048 SG", "1.048 sg", " 1.0480 ", "1,048 SG"}},
	{"gravity", 0.998, []string{"0.998", "0,998", ".998"}},
	{"dilution", 1.0 / 400, []string{"1:400", "1 : 400", " 1:400 ", "2.5:1000"}},
}

func TestWritings(t *testing.T) {
	count := 0
	for _, w := range writings {
		for _, text := range w.texts {
			count++
			got, _, err := parsers[w.parser](text)
			if err != nil {
				t.Errorf("%s %q: %v; want %g", w.parser, text, err, w.want)
				continue
			}
			if math.Abs(got-w.want) > 4e-15*math.Abs(w.want)+1e-300 {
				t.Errorf("%s %q: got %.17g, want %.17g, tolerance 4e-15 relative", w.parser, text, got, w.want)
			}
		}
	}
	if count < 200 {
		t.Errorf("only %d ways of writing are tried; want at least 200", count)
	}
}

// refusals are writings that must be refused, and a word of the reason or suggestion.
var refusals = []struct{ parser, text, say string }{
	{"gauge", "10", "needs a unit"}, {"gauge", "", "number was expected"}, {"gauge", "psi", "number was expected"},
	{"gauge", "NaN", "number"}, {"gauge", "NaN psi", "number"}, {"gauge", "Inf psi", "number"}, {"gauge", "-Inf bar", "number"},
	{"gauge", "1e999 psi", "outside"}, {"gauge", "12 bar", "Did you mean 12 psi?"}, {"gauge", "200 psi", "Did you mean 200 kPa?"},
	{"gauge", "10 psia", "leave out abs"}, {"gauge", "1 bar abs", "leave out abs"}, {"gauge", "1 atm", "atmosphere"},
	{"gauge", "10 lb", "psi"}, {"gauge", "70 mPa", "capital"}, {"gauge", "10 quux", `"quux" is not known`}, {"gauge", "-2 bar", "outside"},
	{"gauge", "1.234,5 kPa", "one decimal point"}, {"gauge", "1.2.3 psi", "one decimal point"}, {"gauge", "10 000 Pa", "not known"},
	{"gauge", "1,000 kPa", "comma"}, {"gauge", "3/0 psi", "divided by 0"}, {"gauge", "0x10 psi", "not known"},
	{"gauge", strings.Repeat("9", 100) + " psi", "too long"}, {"gauge", "about 10 psi", "number"}, {"gauge", "1e9999 psi", "not known"},
	{"supply", "-1 bar", "outside"}, {"supply", "400 bar", "Did you mean 400 psi?"},
	{"absolute", "101.3 kPa", "say abs"}, {"absolute", "14.7 psi", "say abs"}, {"absolute", "-1 atm", "outside"},
	{"temperature", "18", "needs a unit"}, {"temperature", "180 C", "Did you mean 180 °F?"}, {"temperature", "291 C", "Did you mean 291 K?"},
	{"temperature", "-300 C", "outside"}, {"temperature", "18 R", "not known"}, {"difference", "300 K", "outside"},
	{"volume", "6 gal", "gal (US)"}, {"volume", "6 gallons", "gal (US)"}, {"volume", "2 pints", "(US)"}, {"volume", "12 oz", "(US)"},
	{"volume", "23", "needs a unit"}, {"volume", "-1 L", "outside"}, {"volume", "1,000 L", "comma"}, {"volume", "20 g", "mass"},
	{"mass", "11.5", "needs a unit"}, {"mass", "5 gr", "grain"}, {"mass", "-5 g", "outside"}, {"mass", "1 lb 4 oz", "not known"},
	{"length", "0.3", "needs a unit"}, {"length", "10 km", "Did you mean 10 mm?"}, {"power", "30", "needs a unit"},
	{"conductance", "4", "needs a unit"}, {"massrate", "10 g", "not known"}, {"volumerate", "2 L", "not known"},
	{"frequency", "0.3", "needs a unit"}, {"duration", "5 m", "minutes or months"}, {"duration", "24", "needs a unit"},
	{"duration", "-1 h", "outside"}, {"duration", "1000 years", "outside"},
	{"extract", "12", "needs a unit"}, {"extract", "12 °Bx", "°P"}, {"extract", "70 °P", "outside"},
	{"volumes", "2.5", "needs a unit"}, {"volumes", "25 vol", "outside"}, {"volumes", "2.5 v", "write volumes"},
	{"percent", "77", "needs a unit"}, {"abv", "4.8", "needs a unit"}, {"abv", "4 % w/w", "by volume"}, {"bitterness", "28", "needs a unit"},
	{"gravity", "46", "Did you mean 1.046?"}, {"gravity", "1048", "Did you mean 1.048?"}, {"gravity", "1.48", "Did you mean 1.001?"},
	{"gravity", "0.5", "outside"}, {"gravity", "500", "outside"}, {"gravity", "12 °P", "not known"}, {"gravity", "x", "number"}, {"gravity", "1.048 kg", "not known"},
	{"dilution", "400", "colon"}, {"dilution", "1:x", "colon"}, {"dilution", "1:0", "outside"}, {"dilution", "4:1", "outside"},
	{"dilution", strings.Repeat("1", 80) + ":400", "colon"},
}

func TestRefusals(t *testing.T) {
	for _, r := range refusals {
		v, _, err := parsers[r.parser](r.text)
		var bad *ParseError
		if !errors.As(err, &bad) {
			t.Errorf("%s %q: got %g, %v; want a ParseError", r.parser, r.text, v, err)
			continue
		}
		if line := err.Error(); !strings.Contains(line, r.say) || strings.ContainsAny(line, "\n\r") || bad.Accepted == "" {
			t.Errorf("%s %q: got %q; want one line that says %q and what is accepted", r.parser, r.text, line, r.say)
		}
	}
}

func TestErrorIsOneLine(t *testing.T) {
	_, err := ParseGauge("10\npsi\n\n extra")
	if err == nil || strings.Contains(err.Error(), "\n") {
		t.Errorf("got %q; want an error of one line", err)
	}
	want := `read "12 bar" as pressure: that is outside -1 to 10 bar, above any limit here; accepted: 10 psi, 0.7 bar or 70 kPa. Did you mean 12 psi?`
	if _, err := ParseGauge("12 bar"); err == nil || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
}

func TestGravityFromPlato(t *testing.T) {
	fromPlato := func(e Extract) Gravity { return Gravity(1 + 4*float64(e)/10) } // any function will do here
	for _, c := range []struct {
		text string
		want Gravity
		bad  bool
	}{{"12 °P", 1.048, false}, {"1.050", 1.05, false}, {"70 °P", 0, true}, {"12", 0, true}, {"x P", 0, true}} {
		got, err := ParseGravity(c.text, fromPlato)
		if (err != nil) != c.bad || math.Abs(float64(got-c.want)) > 1e-15 {
			t.Errorf("%q: got %v, %v; want %v, refused %v", c.text, got, err, c.want, c.bad)
		}
	}
}

// One volume is one litre of ideal gas at 0 C and 101.325 kPa. CODATA 2018 gives R
// exactly as 8.31446261815324 J/(mol K); 44.0095 g/mol is the IUPAC molar mass of CO2.
func TestGramsPerVolume(t *testing.T) {
	want := 44.0095e-3 * 101325 / (8.31446261815324 * 273.15)
	if got := Volumes(1).GramsPerLitre(); math.Abs(got-want) > 1e-7 {
		t.Errorf("one volume: got %.8f g/L, want %.8f, tolerance 1e-7", got, want)
	}
	if got := VolumesFromGramsPerLitre(Volumes(2.5).GramsPerLitre()); math.Abs(float64(got)-2.5) > 1e-15 {
		t.Errorf("g/L and back: got %v, want 2.5, tolerance 1e-15", float64(got))
	}
}

func FuzzParse(f *testing.F) {
	for _, w := range writings {
		f.Add(w.texts[0])
	}
	for _, r := range refusals {
		f.Add(r.text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for name, parse := range parsers {
			v, exact, err := parse(text)
			if err != nil {
				if strings.ContainsAny(err.Error(), "\n\r") {
					t.Errorf("%s %q: the error has more than one line: %q", name, text, err)
				}
				continue
			}
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("%s %q: got %g; want a finite number or an error", name, text, v)
			}
			again(t, name, v, exact.String())
		}
	})
}

// again parses the exact text of v and wants the same bits.
func again(t *testing.T, name string, v float64, text string) {
	t.Helper()
	if name == "dilution" {
		name = "percent" // its exact text
	}
	if back, _, err := parsers[name](text); err != nil || back != v {
		t.Errorf("%s: %g printed as %q, parsed as %g, %v; want the same bits", name, v, text, back, err)
	}
}
