package wort

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/oracle"
	"spile/unit"
)

// Source: NBS Circular 440 Table 114, 0 to 30 P. The cubic of the American
// Society of Brewing Chemists must agree where brewers use it.
func TestPlatoTable(t *testing.T) {
	p, s := oracle.NewCheck(t, "NBS C440, P", 0.005), oracle.NewCheck(t, "NBS C440, gravity", 0.00002)
	asbc := oracle.NewCheck(t, "ASBC cubic to 22 P, P", 0.003)
	for _, r := range oracle.Table(t, "sucrose_plato_sg_0_30") {
		plato, sg := oracle.Number(t, r["plato"]), oracle.Number(t, r["sg_nbs_apparent"])
		p.Absolute(r["plato"], ExtractFromGravity(unit.Gravity(sg)).Plato(), plato)
		s.Absolute(r["plato"], float64(GravityFromExtract(unit.Plato(plato))), sg)
		if plato <= 22 {
			asbc.Absolute(r["plato"], ExtractFromGravity(unit.Gravity(sg)).Plato(), -616.868+sg*(1111.14+sg*(-630.272+sg*135.997)))
		}
	}
}

// Source: GNU units, whose unit "brix" interpolates NBS C440 Table 114 in its own data file; run now.
func TestPlatoAgainstGNUUnits(t *testing.T) {
	var input strings.Builder
	for p := 1; p <= 30; p++ {
		fmt.Fprintf(&input, "brix(%d)\n0.99717 g/cm^3\n", p)
	}
	out := oracle.Run(t, []string{"units", "--version"}, input.String(), "units", "-q", "-t", "-o", "%.8g")
	lines := strings.Fields(out)
	if len(lines) != 30 {
		t.Fatalf("units: expected 30 numbers, got %q", out)
	}
	c := oracle.NewCheck(t, "GNU units brix, gravity", 0.00002)
	for i, line := range lines {
		c.Absolute(fmt.Sprintf("%d P", i+1), float64(GravityFromExtract(unit.Plato(float64(i+1)))), oracle.Number(t, line))
	}
}

func TestPlatoRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := unit.Plato(rapid.Float64Range(-4, 30).Draw(t, "plato"))
		g := GravityFromExtract(e)
		if back := ExtractFromGravity(g); math.Abs(float64(back-e)) > 1e-12 {
			t.Fatalf("expected %v, got %v", e, back)
		}
		if GravityFromExtract(e+1e-6) <= g {
			t.Fatalf("gravity must rise with extract at %v", e)
		}
	})
}

func TestCheckGravity(t *testing.T) {
	for _, g := range []float64{0.5, 0.98, 1.2, 1048, math.NaN(), math.Inf(1)} {
		if err := CheckGravity("original gravity", unit.Gravity(g)); err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%v: expected one clear line, got %v", g, err)
		}
	}
	if err := CheckGravity("final gravity", 0.998); err != nil {
		t.Errorf("0.998: expected no error, got %v", err)
	}
}
