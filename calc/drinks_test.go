package calc

import (
	"fmt"
	"strings"
	"testing"

	"spile/internal/oracle"
	"spile/wording"
)

// Source: GNU units and its data file (alcoholunitau and its like, after each country's public body; ethanol 0.7893 g/mL
// after the CRC Handbook), run now. Ours reckons 0.789 g/mL, as standards of drinks do.
func TestDrinksAgainstGNUUnits(t *testing.T) {
	national := map[string]string{"Australia": "alcoholunitau", "Canada": "alcoholunitca", "United Kingdom": "alcoholunituk", "United States": "alcoholunitus"}
	type pour struct {
		country, unit string
		ml, percent   float64
	}
	var pours []pour
	var input strings.Builder
	for _, country := range wording.English(countries) {
		for _, percent := range []float64{0.5, 3.5, 4.5, 8} {
			if name, ok := national[country]; ok {
				pours = append(pours, pour{country, name, 425, percent}, pour{country, name, 20000, percent})
			}
		}
	}
	for _, p := range pours {
		fmt.Fprintf(&input, "%g mL * %g%%\n%s\n%g mL * %g%% * ethanoldensity\ng\n", p.ml, p.percent, p.unit, p.ml, p.percent)
	}
	out := strings.Fields(oracle.Run(t, []string{"units", "-t", "alcoholunitau"}, input.String(), "units", "-q", "-t", "-o", "%.12g"))
	if len(out) != 2*len(pours) || len(pours) != 8*len(national) {
		t.Fatalf("units: expected two numbers for each of %d pours, got %q", len(pours), out)
	}
	drinks, grams := oracle.NewCheck(t, "GNU units, standard drinks", 0.001), oracle.NewCheck(t, "GNU units, grams of alcohol", 0.001)
	for i, p := range pours {
		a, err := ask(fmt.Sprintf("%g mL", p.ml), fmt.Sprintf("%g %%", p.percent), p.country)
		if err != nil {
			t.Fatal(err)
		}
		at := fmt.Sprint(p)
		drinks.Relative(at, a.Value("standard_drinks"), oracle.Number(t, out[2*i]))
		grams.Relative(at, a.Value("alcohol_g"), oracle.Number(t, out[2*i+1]))
	}
}

// ask is drinks with values that hold blanks.
func ask(volume, abv, country string) (*Answer, error) {
	row, _ := Find("drinks")
	return row.Evaluate(map[string]string{"volume": volume, "abv": abv, "country": country})
}

// Sources: published lists of national standard drinks (testdata/standard_drink_sizes.csv, read), in grams; and a table of
// drinks computed apart (testdata/standard_drinks_computed.csv), printed to two decimals.
func TestDrinksAgainstLists(t *testing.T) {
	published := map[string]string{}
	for _, r := range oracle.Table(t, "standard_drink_sizes") {
		published[r["country"]] = r["grams"]
	}
	sizes := oracle.NewCheck(t, "published standard drinks, grams", 1e-9)
	for i, country := range wording.English(countries) {
		low, high, isRange := strings.Cut(published[country], " to ") // of a range, the upper end is the one of public bodies
		if isRange {
			low = high
		}
		sizes.Absolute(country, drinkGrams[i], oracle.Number(t, low))
	}
	grams, drinks := oracle.NewCheck(t, "alcohol computed apart, g", 0.051), oracle.NewCheck(t, "drinks computed apart", 0.0051)
	for _, r := range oracle.Table(t, "standard_drinks_computed") {
		for column, country := range map[string]string{"drinks_10g": "Australia", "drinks_8g": "United Kingdom", "drinks_14g": "United States"} {
			a, err := ask(r["ml"]+" mL", r["abv_pct"]+" %", country)
			if err != nil {
				t.Fatal(err)
			}
			grams.Absolute(fmt.Sprint(r), a.Value("alcohol_g"), oracle.Number(t, r["alcohol_g"]))
			drinks.Absolute(fmt.Sprint(r), a.Value("standard_drinks"), oracle.Number(t, r[column]))
		}
	}
}
