package co2

import (
	"math"
	"testing"

	"spile/internal/oracle"
	"spile/unit"
)

// Source: Span and Wagner 1996 equation of state, evaluated by a separate program from its coefficients.
func TestGasAgainstSpanWagner(t *testing.T) {
	z, phi, rho := oracle.NewCheck(t, "Z", 0.002), oracle.NewCheck(t, "phi", 0.002), oracle.NewCheck(t, "density", 0.002)
	back := oracle.NewCheck(t, "pressure from density", 1e-12)
	for _, r := range oracle.Table(t, "co2_gas_Z") {
		tk, p := unit.Celsius(oracle.Number(t, r["t_C"])), unit.Pressure(oracle.Number(t, r["P_abs_bar"])*unit.Bar)
		at := r["t_C"] + " C " + r["P_abs_bar"] + " bar"
		z.Relative(at, Compressibility(tk, p), oracle.Number(t, r["Z_spanwagner"]))
		phi.Relative(at, FugacityCoefficient(tk, p), oracle.Number(t, r["phi_spanwagner"]))
		rho.Relative(at, GasDensity(tk, p), oracle.Number(t, r["rho_spanwagner_kgm3"]))
		back.Relative(at, PressureKernel(GasDensity(tk, p)/MolarMass, float64(tk)), float64(p))
	}
}

// Sources: Weiss 1974 (its own table), Span and Wagner 1996 (limit at zero
// density) and the CRC Handbook, whose polynomial lies 4e-6 m3/mol below both.
func TestSecondVirial(t *testing.T) {
	own, sw, crc := oracle.NewCheck(t, "Weiss, cm3/mol", 0.001), oracle.NewCheck(t, "Span and Wagner, cm3/mol", 0.7), oracle.NewCheck(t, "CRC, cm3/mol", 5)
	for _, r := range oracle.Table(t, "co2_second_virial") {
		got := SecondVirial(unit.Celsius(oracle.Number(t, r["t_C"]))) * 1e6
		own.Absolute(r["t_C"]+" C", got, oracle.Number(t, r["B_weiss1974"]))
		sw.Absolute(r["t_C"]+" C", got, oracle.Number(t, r["B_spanwagner"]))
		crc.Absolute(r["t_C"]+" C", got, oracle.Number(t, r["B_crc"]))
	}
}

// Sources: molar volumes read in the IUPAC-NIST compilation: 24.340 L at 25 C
// and 22.2605 L at 0 C, 101.325 kPa; a gas supplier's sheet gives 1.977 kg/m3.
func TestGasAtOneAtmosphere(t *testing.T) {
	c := oracle.NewCheck(t, "molar volume, L", 0.0005)
	for tC, want := range map[float64]float64{25: 24.340, 0: 22.2605} {
		c.Relative("NIST", MolarMass/GasDensity(unit.Celsius(tC), sealevel)*1e3, want)
	}
	c.Relative("supplier", GasDensity(unit.Celsius(0), sealevel), 1.977)
}

// Source: IAPWS-95 saturation by a public implementation, 0 to 40 C.
func TestVapourPressure(t *testing.T) {
	c := oracle.NewCheck(t, "vapour pressure, kPa", 0.0005)
	for _, r := range oracle.Table(t, "water_properties_0_40C") {
		c.Relative(r["t_C"]+" C", float64(VapourPressure(unit.Celsius(oracle.Number(t, r["t_C"]))))/1e3, oracle.Number(t, r["pw_kPa"]))
	}
}

// Sources: the ancillary equations by a separate program, the full Span and
// Wagner equation, and the R744 table of a university (3 to 4 digits).
func TestSaturation(t *testing.T) {
	anc, eos, tab := oracle.NewCheck(t, "ancillaries", 0.0002), oracle.NewCheck(t, "equation of state", 0.0002), oracle.NewCheck(t, "R744 table", 0.0008)
	for _, r := range oracle.Table(t, "co2_saturation") {
		tk := unit.Celsius(oracle.Number(t, r["t_C"]))
		p, errP := SaturationPressure(tk)
		l, errL := SaturatedLiquidDensity(tk)
		v, errV := SaturatedVapourDensity(tk)
		if errP != nil || errL != nil || errV != nil {
			t.Fatal(errP, errL, errV)
		}
		for suffix, c := range map[string]*oracle.Check{"anc": anc, "eos": eos, "r744": tab} {
			if r["p_"+suffix+"_MPa"] == "" {
				continue
			}
			at := suffix + " " + r["t_C"] + " C"
			c.Relative(at, float64(p)/1e6, oracle.Number(t, r["p_"+suffix+"_MPa"]))
			c.Relative(at, l, oracle.Number(t, r["rhoL_"+suffix]))
			c.Relative(at, v, oracle.Number(t, r["rhoV_"+suffix]))
		}
	}
}

func TestSaturationEnds(t *testing.T) {
	for _, tk := range []unit.Temperature{216.5, 304.13, unit.Temperature(math.NaN())} {
		for name, f := range map[string]func() error{
			"pressure": func() error { _, err := SaturationPressure(tk); return err },
			"liquid":   func() error { _, err := SaturatedLiquidDensity(tk); return err },
			"vapour":   func() error { _, err := SaturatedVapourDensity(tk); return err },
		} {
			if f() == nil {
				t.Errorf("%s at %v K: expected an error, got none", name, tk)
			}
		}
	}
	if p, err := SaturationPressure(CriticalPoint); err != nil || math.Abs(float64(p)-criticalPressure) > 1 {
		t.Errorf("critical pressure: expected %g, got %v, %v", criticalPressure, p, err)
	}
}
