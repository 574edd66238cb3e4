package unit

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestFormats(t *testing.T) {
	psi, bar, usual, inBar, inKPa, inF := Gauge(PSI), Gauge(Bar), Style{}, styled(t, "bar"), styled(t, "kPa"), styled(t, "F")
	for _, c := range []struct{ got, want string }{
		// voice: gravity 0.001, always three decimals, never finer than a third of the band
		{FormatGravity(1.0141, 0), "1.014"}, {FormatGravity(1.01, 0), "1.010"}, {FormatGravity(0.9984, 0), "0.998"},
		{FormatGravity(1.0141, 0.003), "1.014"}, {FormatGravity(1.0133, 0.006), "1.014"}, {FormatGravity(1.0133, 0.012), "1.015"},
		{usual.Pressure(10.2*psi, 0), "10 psi"}, {usual.Pressure(10.3*psi, 0), "10.5 psi"}, {usual.Pressure(-0.1*psi, 0), "0 psi"}, {usual.Pressure(11*psi, 6*psi), "10 psi"},
		{inBar.Pressure(0.71*bar, 0), "0.70 bar"}, {FormatDials(0.71*bar, 0), "10.5 psi (0.70 bar)"}, {inBar.Pressure(0.76*bar, 0), "0.75 bar"}, {inKPa.Pressure(0.71*bar, 0), "70 kPa"},
		{FormatCelsius(Celsius(18.6), 0), "18.5 °C"}, {FormatCelsius(Celsius(18.9), 0), "19 °C"}, {FormatCelsius(Celsius(-0.8), 0), "-1 °C"},
		{inF.Temperature(Celsius(18), 0), "64 °F"}, {FormatCelsius(Celsius(18.6), 3), "19 °C"},
		{FormatVolumes(2.53, 0), "2.5 volumes (4.9 g/L)"}, {FormatVolumes(2.53, 0.6), "2.6 volumes (5.1 g/L)"}, {FormatABV(0.0484, 0), "4.8 %"},
		{FormatVolume(20*Litre, 0), "20 L"}, {FormatVolume(20.26*Litre, 0), "20.3 L"}, {FormatVolume(152*Millilitre, 0), "150 mL"}, {FormatVolume(998*Millilitre, 0), "1 L"},
		{FormatMass(11.5*Gram, 0), "11.5 g"}, {FormatMass(64.4*Gram, 0), "64 g"}, {FormatMass(2.6, 0), "2.6 kg"}, {FormatMass(999.7*Gram, 0), "1 kg"},
		{FormatDuration(45*Minute, 0), "45 min"}, {FormatDuration(14.7*Hour, 0), "15 h"}, {FormatDuration(96*Hour, 0), "4 days"}, {FormatDuration(96*Hour, 9*Day), "5 days"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// Two units of one number agree: that in brackets is converted from what stands before it, and a round setting in bar still reads as it was set.
func TestDialsAgree(t *testing.T) {
	for _, c := range []struct {
		g, band Gauge
		want    string
	}{
		{0.26 * Bar, 0.9 * Bar, "5 psi (0.35 bar)"}, {0.61 * Bar, 1.1 * Bar, "10 psi (0.70 bar)"}, {10 * PSI, 0, "10 psi (0.70 bar)"}, {-0.2 * PSI, 0, "0 psi (0.00 bar)"},
	} {
		if got := FormatDials(c.g, c.band); got != c.want {
			t.Errorf("%.2f bar in a band of %.2f: got %q, want %q", c.g.Bar(), c.band.Bar(), got, c.want)
		}
	}
	for i := range 100 {
		set := Gauge(0.05 * Bar * float64(i))
		if want := fmt.Sprintf("(%.2f bar)", set.Bar()); !strings.HasSuffix(FormatDials(set, 0), want) {
			t.Errorf("got %q, want it to end in %q", FormatDials(set, 0), want)
		}
	}
}

func TestResolution(t *testing.T) {
	for _, c := range []struct{ finest, band, want float64 }{
		{0.001, 0, 0.001}, {0.001, 0.003, 0.001}, {0.001, 0.0061, 0.005}, {0.5, 1.5, 0.5}, {0.5, 2, 1}, {1, 16, 10},
		{1, math.NaN(), 1}, {1, math.Inf(1), 1},
	} {
		if got := Resolution(c.finest, c.band); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("Resolution(%g, %g): got %g, want %g", c.finest, c.band, got, c.want)
		}
	}
}

// The conversions below are exact by definition.
func TestConversions(t *testing.T) {
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"64.4 F in C", Fahrenheit(64.4).Celsius(), 18}, {"18 C in F", Celsius(18).Fahrenheit(), 64.4},
		{"10 psi gauge at 1 atm", float64(Gauge(10 * PSI).Absolute(Atmosphere)), 68947.57293168361 + 101325},
		{"and back", Pressure(68947.57293168361 + 101325).Gauge(Atmosphere).PSI(), 10},
		{"12 °P", float64(Plato(12)), 0.12}, {"0.12 in °P", Extract(0.12).Plato(), 12}, {"points of 1.046", Gravity(1.046).Points(), 46},
		{"46 points", float64(FromPoints(46)), 1.046}, {"ABV", ABV(0.048).Percent(), 4.8}, {"bar", Gauge(7e4).Bar(), 0.7},
		{"kPa", Gauge(7e4).Kilopascals(), 70}, {"hours", Duration(7200).Hours(), 2}, {"days", Duration(86400).Days(), 1},
		{"litres", Volume(0.02).Litres(), 20}, {"grams", Mass(0.5).Grams(), 500}, {"percent", Ratio(0.77).Percent(), 77},
	} {
		if math.Abs(c.got-c.want) > 1e-12*math.Max(1, math.Abs(c.want)) {
			t.Errorf("%s: got %.15g, want %.15g, tolerance 1e-12 relative", c.what, c.got, c.want)
		}
	}
}

// Whatever is printed in exact form is parsed back to the same bits.
func TestPrintParse(t *testing.T) {
	samples := map[string]func(v float64) fmt.Stringer{
		"gauge":       func(v float64) fmt.Stringer { return Gauge(v * 9e5) },
		"absolute":    func(v float64) fmt.Stringer { return Pressure(v * 9e5) },
		"temperature": func(v float64) fmt.Stringer { return Temperature(240 + v*100) },
		"difference":  func(v float64) fmt.Stringer { return TemperatureDifference(v * 100) },
		"volume":      func(v float64) fmt.Stringer { return Volume(v) },
		"mass":        func(v float64) fmt.Stringer { return Mass(v * 100) },
		"length":      func(v float64) fmt.Stringer { return Length(v * 1e-3) },
		"power":       func(v float64) fmt.Stringer { return Power(v * 1e3) },
		"conductance": func(v float64) fmt.Stringer { return Conductance(v * 10) },
		"massrate":    func(v float64) fmt.Stringer { return MassRate(v * 1e-7) },
		"volumerate":  func(v float64) fmt.Stringer { return VolumeRate(v * 1e-4) },
		"frequency":   func(v float64) fmt.Stringer { return Frequency(v * 1e-4) },
		"duration":    func(v float64) fmt.Stringer { return Duration(v * 1e9) },
		"extract":     func(v float64) fmt.Stringer { return Extract(v * 0.6) },
		"volumes":     func(v float64) fmt.Stringer { return Volumes(v * 9) },
		"percent":     func(v float64) fmt.Stringer { return Ratio(v) },
		"abv":         func(v float64) fmt.Stringer { return ABV(v) },
		"bitterness":  func(v float64) fmt.Stringer { return Bitterness(v * 100) },
		"gravity":     func(v float64) fmt.Stringer { return Gravity(0.98 + v*0.2) },
	}
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(0, 1).Draw(t, "v")
		for name, quantity := range samples {
			printed := quantity(v)
			parsed, exact, err := parsers[name](printed.String())
			if err != nil || exact != printed {
				t.Fatalf("%s: %q parsed as %.17g, %v; want the same bits", name, printed, parsed, err)
			}
		}
	})
}
