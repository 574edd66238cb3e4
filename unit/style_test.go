package unit

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// linear stands in for the table of wort, which a higher package holds: 4 points a degree (invented, near the truth).
func linear(g Gravity) Extract { return Plato(g.Points() / 4) }

func fromLinear(e Extract) Gravity { return FromPoints(4 * e.Plato()) }

func styled(t testing.TB, list string) Style {
	t.Helper()
	s, err := ParseStyle(list, linear)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// The zero Style writes as is usual here; each other in its unit. The values are conversions that are
// exact by definition: 1 bar = 14.5038 psi = 100 kPa, 20 °C = 68 °F, 20 L = 5.283 gal (US) = 4.399 gal (UK), 28.3495 g an ounce.
func TestStyles(t *testing.T) {
	usual, other := Style{}, styled(t, "bar,F,gal(us),P,g/L,oz,comma")
	third := styled(t, "kPa, °C, gal (UK), SG, volumes, g, point")
	for _, c := range []struct{ got, want string }{
		{usual.Pressure(Bar, 0), "14.5 psi"}, {other.Pressure(Bar, 0), "1,00 bar"}, {third.Pressure(Bar, 0), "100 kPa"},
		{usual.Dials(0.7*Bar, 0), "10 psi (0.70 bar)"}, {other.Dials(0.7*Bar, 0), "0,70 bar"}, {styled(t, "psi").Dials(0.7*Bar, 0), "10 psi"},
		{usual.Temperature(Celsius(20.3), 0), "20.5 °C"}, {other.Temperature(Celsius(20), 0), "68 °F"}, {other.Temperature(Celsius(20.2), 10), "70 °F"},
		{other.Difference(2, 0), "4 °F"}, {third.Difference(2, 0), "2 °C"},
		{usual.Volume(20*Litre, 0), "20 L"}, {other.Volume(20*Litre, 0), "5,3 gal (US)"}, {third.Volume(20*Litre, 0), "4.4 gal (UK)"},
		{usual.Volume(100*Millilitre, 0), "100 mL"}, {other.Volume(100*Millilitre, 0), "3,4 fl oz (US)"}, {third.Volume(Litre, 0), "35 fl oz (UK)"},
		{usual.Gravity(1.0481, 0), "1.048"}, {other.Gravity(1.0481, 0), "12,0 °P"}, {third.Gravity(1.0481, 0.009), "1.050"},
		{usual.Gas(2.53, 0), "2.5 volumes (4.9 g/L)"}, {other.Gas(2.5, 0), "4,9 g/L"}, {third.Gas(2.5, 0), "2.5 volumes"},
		{usual.Mass(11.5*Gram, 0), "11.5 g"}, {other.Mass(11.5*Gram, 0), "0,41 oz"}, {other.Mass(64*Gram, 0), "2,25 oz"}, {other.Mass(2.6, 0), "5,75 lb"},
		{usual.ABV(0.0484, 0), "4.8 %"}, {other.ABV(0.0484, 0), "4,8 %"},
		{usual.Limit(2.5 * Bar), "36 psi"}, {usual.Limit(36 * PSI), "36 psi"}, {other.Limit(36 * PSI), "2,45 bar"}, {third.Limit(36 * PSI), "245 kPa"},
		{usual.Falls(1).With(usual.Falls(1).Number(3.2, 0)), "3 points"}, {other.Falls(1).With(other.Falls(1).Number(3.2, 0)), "0,8 °P"},
		{other.Decimal("Set 10.5 psi. Then 1.05."), "Set 10,5 psi. Then 1,05."}, {usual.Decimal("1.05"), "1.05"},
		{other.Chosen(OfMass) + third.Chosen(OfMass) + usual.Chosen(OfMass), "ozg"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
	if lo, hi := usual.Between(OfPressure, 9.6*PSI, 10.4*PSI); lo != "9.5 psi" || hi != "10.5 psi" {
		t.Errorf("expected edges rounded away from the middle, got %s and %s", lo, hi)
	}
	noon := time.Date(2026, 11, 28, 12, 0, 0, 0, time.UTC)
	east := Style{Zone: time.FixedZone("", 9*3600)}
	if h := east.In(noon, time.UTC).Hour(); h != 21 || usual.In(noon, time.UTC).Hour() != 12 {
		t.Errorf("expected 21 in the zone of the style and 12 where there is none, got %d", h)
	}
}

func TestStylesRefused(t *testing.T) {
	for list, want := range map[string]string{
		"furlong": `read "furlong"; accepted are psi, bar, kpa, c, f,`, "psi,bar": `read "bar", the second unit for pressure`, "h": "accepted are", "%": "accepted are", "": "accepted are",
	} {
		if _, err := ParseStyle(list, linear); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: expected %q, got %v", list, want, err)
		}
	}
	if _, err := ParseStyle("P", nil); err == nil {
		t.Error("expected degrees Plato to be refused without the relation")
	}
}

// every list chooses each way of writing each quantity once.
var every = []string{"psi,c,l,sg,volumes,g", "bar,f,gal(us),p,g/l,oz", "kpa,gal(uk)", "psi,f,comma", "bar,p,oz,comma,g/l", "point"}

// What is written and read again is the value within half the step in which it was written, in every unit; and the
// step is never finer than a third of the band, nor than the trade's (voice section 10).
func TestWritingAndReading(t *testing.T) {
	readers := [quantities]func(string) (float64, error){
		OfPressure:    func(s string) (float64, error) { v, err := ParseGauge(s); return float64(v), err },
		OfTemperature: func(s string) (float64, error) { v, err := ParseTemperature(s); return float64(v), err },
		OfVolume:      func(s string) (float64, error) { v, err := ParseVolume(s); return float64(v), err },
		OfGravity:     func(s string) (float64, error) { v, err := ParseGravity(s, fromLinear); return float64(v), err },
		OfGas:         func(s string) (float64, error) { v, err := ParseVolumes(s); return float64(v), err },
		OfMass:        func(s string) (float64, error) { v, err := ParseMass(s); return float64(v), err },
		OfAlcohol:     func(s string) (float64, error) { v, err := ParseABV(s); return float64(v), err },
	}
	ranges := [quantities][2]float64{OfPressure: {-0.3 * Bar, 5 * Bar}, OfTemperature: {268, 320}, OfVolume: {0, 0.3}, OfGravity: {1.0, 1.12}, OfGas: {0, 4}, OfMass: {0, 40}, OfAlcohol: {0, 0.12}}
	for _, list := range every {
		style := styled(t, list)
		rapid.Check(t, func(t *rapid.T) {
			for q, r := range ranges {
				si := rapid.Float64Range(r[0], r[1]).Draw(t, "value")
				band := rapid.Float64Range(0, (r[1]-r[0])/10).Draw(t, "band")
				m := style.Of(Quantity(q), si)
				step := m.Step(si-band/2, si+band/2)
				if shown := math.Abs(m.Shown(si+band/2) - m.Shown(si-band/2)); step < m.Finest*(1-1e-9) || step < shown/3*(1-1e-9) {
					t.Fatalf("%s: a step of %g is finer than %g or a third of %g", m.Unit, step, m.Finest, shown)
				}
				text := m.words(si, band)
				back, err := readers[q](text)
				if err != nil {
					t.Fatalf("%q is not read: %v", text, err)
				}
				if off := math.Abs(m.Shown(back) - m.Shown(si)); off > step/2*(1+1e-6)+1e-9 {
					t.Fatalf("%q for %.9g %s: off by %g, more than half a step of %g", text, m.Shown(si), m.Unit, off, step)
				}
			}
		})
	}
}

// A limit is never written above itself, an edge never inside its band.
func TestLimitsAndEdgesAreSafe(t *testing.T) {
	for _, list := range every {
		style := styled(t, list)
		rapid.Check(t, func(t *rapid.T) {
			g := Gauge(rapid.Float64Range(0, 6*Bar).Draw(t, "limit"))
			if back, err := ParseGauge(style.Limit(g)); err != nil || back > g*(1+1e-9) {
				t.Fatalf("limit %v written as %q, %v", g, style.Limit(g), err)
			}
			width := rapid.Float64Range(0, Bar).Draw(t, "width")
			lo, hi := style.Between(OfPressure, float64(g), float64(g)+width)
			low, err1 := ParseGauge(lo)
			high, err2 := ParseGauge(hi)
			if err1 != nil || err2 != nil || float64(low) > float64(g)+1e-3 || float64(high) < float64(g)+width-1e-3 {
				t.Fatalf("band %v to %v written as %s to %s", g, float64(g)+width, lo, hi)
			}
		})
	}
}
