package wort

import (
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"spile/internal/oracle"
	"spile/unit"
)

// celsius reads the column t_C of a row.
func celsius(t testing.TB, r oracle.Row) unit.Temperature {
	return unit.Celsius(oracle.Number(t, r["t_C"]))
}

// Sources: Tanaka et al. 2001 by a separate program, IAPWS-95, and Kell 1975 as ICUMSA uses it.
func TestWaterDensity(t *testing.T) {
	tanaka, iapws, kell75 := oracle.NewCheck(t, "Tanaka 2001, kg/m3", 0.0001), oracle.NewCheck(t, "IAPWS-95, kg/m3", 0.0012), oracle.NewCheck(t, "Kell 1975, kg/m3", 0.0001)
	for _, r := range oracle.Table(t, "water_properties_0_40C") {
		tk := celsius(t, r)
		tanaka.Absolute(r["t_C"]+" C", WaterDensity(tk), oracle.Number(t, r["rho_tanaka2001"]))
		iapws.Absolute(r["t_C"]+" C", WaterDensity(tk), oracle.Number(t, r["rho_iapws95"]))
		kell75.Absolute(r["t_C"]+" C", kell(tk.Celsius()), oracle.Number(t, r["rho_kell1975"]))
	}
}

// Source: IAPWS-95 density and IAPWS 2008 viscosity by the Debian package python3-iapws, run now.
func TestWaterAgainstIAPWS(t *testing.T) {
	const python = "/usr/bin/python3"
	script := `import json
from iapws import IAPWS95
print(json.dumps([[t, w.rho, w.mu] for t in range(1, 41) for w in [IAPWS95(T=t + 273.15, P=0.101325)]]))`
	out := oracle.Run(t, []string{python, "-c", "import iapws"}, script, python, "-")
	var rows [][3]float64
	if err := json.Unmarshal([]byte(out), &rows); err != nil {
		t.Fatal(err, out)
	}
	rho, mu := oracle.NewCheck(t, "python3-iapws density, kg/m3", 0.0012), oracle.NewCheck(t, "python3-iapws viscosity", 0.001)
	for _, r := range rows {
		rho.Absolute(fmt.Sprint(r[0]), WaterDensity(unit.Celsius(r[0])), r[1])
		mu.Relative(fmt.Sprint(r[0]), WaterViscosity(unit.Celsius(r[0])), r[2])
	}
}

// Source: OIML R 22 (1975): five values of its tables, and the general formula by a separate program.
func TestEthanolWater(t *testing.T) {
	tables, formula := oracle.NewCheck(t, "OIML R 22 tables, kg/m3", 0.006), oracle.NewCheck(t, "OIML R 22 formula, kg/m3", 0.0001)
	for _, r := range oracle.Table(t, "ethanol_oiml_r22_check") {
		got := EthanolWaterDensity(unit.Ratio(oracle.Number(t, r["p"])), celsius(t, r))
		at := r["p"] + " at " + r["t_C"] + " C"
		formula.Absolute(at, got, oracle.Number(t, r["rho_computed"]))
		if r["rho_published"] != "" {
			tables.Absolute(at, got, oracle.Number(t, r["rho_published"]))
		}
	}
	strength := oracle.NewCheck(t, "OIML R 22 strength by volume", 0.0001)
	for _, r := range oracle.Table(t, "ethanol_abv_abw") {
		p := unit.Ratio(oracle.Number(t, r["abw_pct"]) / 100)
		abv := float64(p) * EthanolWaterDensity(p, standard) / EthanolWaterDensity(1, standard)
		strength.Relative(r["abv_pct"]+" % vol", 100*abv, oracle.Number(t, r["abv_pct"]))
	}
}

// Sources: the ICUMSA formula by a separate program; NBS Circular 440 Table 114, weighed in air.
func TestSucrose(t *testing.T) {
	c := oracle.NewCheck(t, "ICUMSA, kg/m3", 0.001)
	for _, r := range oracle.Table(t, "sucrose_density_vs_T") {
		got := SucroseDensity(unit.Plato(oracle.Number(t, r["plato"])), celsius(t, r))
		c.Absolute(r["plato"]+" P "+r["t_C"]+" C", got, oracle.Number(t, r["rho"]))
	}
	nbs := oracle.NewCheck(t, "NBS C440 by ICUMSA density in air", 0.0001)
	for _, r := range oracle.Table(t, "sucrose_plato_sg_0_30") {
		const air = 1.2 // kg/m3
		got := (SucroseDensity(unit.Plato(oracle.Number(t, r["plato"])), standard) - air) / (WaterDensity(standard) - air)
		nbs.Absolute(r["plato"]+" P", got, oracle.Number(t, r["sg_nbs_apparent"]))
	}
}

// Source: the density functions by a separate program: 12 P wort, and beer of 5 % vol and gravity 1.010.
func TestExpansion(t *testing.T) {
	const extract, ethanol = 0.04407, 0.03914
	rho, alpha := oracle.NewCheck(t, "density, kg/m3", 0.02), oracle.NewCheck(t, "expansion, 1e-6/K", 0.2)
	for _, r := range oracle.Table(t, "thermal_expansion") {
		tk := celsius(t, r)
		rho.Absolute("wort at "+r["t_C"], BeerDensity(unit.Plato(12), 0, tk), oracle.Number(t, r["rho_wort12P"]))
		rho.Absolute("beer at "+r["t_C"], BeerDensity(extract, ethanol, tk), oracle.Number(t, r["rho_beer"]))
		alpha.Absolute("wort at "+r["t_C"], 1e6*Expansion(unit.Plato(12), 0, tk), oracle.Number(t, r["alpha_wort12P"]))
		alpha.Absolute("beer at "+r["t_C"], 1e6*Expansion(extract, ethanol, tk), oracle.Number(t, r["alpha_beer"]))
	}
}

func TestBeerDensityReducesToItsParts(t *testing.T) {
	for _, tC := range []float64{0, 4, 20, 30} {
		tk := unit.Celsius(tC)
		for what, d := range map[string]float64{
			"water":   BeerDensity(0, 0, tk) - WaterDensity(tk),
			"ethanol": BeerDensity(0, 0.05, tk) - EthanolWaterDensity(0.05, tk),
			"sucrose": BeerDensity(0.12, 0, tk) - SucroseDensity(0.12, tk),
		} {
			if math.Abs(d) > 0.01 { // the formulas differ in their water
				t.Errorf("%s at %g C: expected its own table, got %.4f kg/m3 off", what, tC, d)
			}
		}
	}
}

// Source: Liger-Belair and Cilindre 2021, Table 1: lager of 5 % vol with 5.49 g/L
// CO2 at 6 C, 1010 +- 1 kg/m3. Its extract is not given; 4.4 P is usual at that strength.
func TestBeerDensityMeasured(t *testing.T) {
	got := Carbonated(BeerDensity(0.044, 0.0391, unit.Celsius(6)), 5.49)
	oracle.NewCheck(t, "lager at 6 C, kg/m3", 2.5).Absolute("with 5.49 g/L", got, 1010)
}

// Weiss 1974: 32.3 cm3/mol. A volume (1.9635 g/L) then adds 0.52 kg/m3 to water.
func TestCarbonatedByHand(t *testing.T) {
	rise := Carbonated(1000, 1.9635) - 1000
	want := 1.9635 - 1.9635/44.0095*32.3 // kg/m3: mass added less water displaced at 1000 kg/m3
	oracle.NewCheck(t, "rise by one volume, kg/m3", 1e-9).Absolute("1000 kg/m3", rise, want)
}

// Source: IAPWS 2008 by python3-iapws, stored; Mathlouthi and Génotelle 1995 by a
// separate program; the lager of Liger-Belair and Cilindre 2021.
func TestViscosity(t *testing.T) {
	water := oracle.NewCheck(t, "IAPWS 2008 viscosity", 0.001)
	for _, r := range oracle.Table(t, "water_properties_0_40C") {
		water.Relative(r["t_C"]+" C", WaterViscosity(celsius(t, r))*1e3, oracle.Number(t, r["mu_mPas"]))
	}
	sugar, zero := oracle.NewCheck(t, "sucrose formula", 1e-4), oracle.NewCheck(t, "sucrose formula at 0 P over water", 0.04)
	for _, r := range oracle.Table(t, "liquid_viscosity") {
		if r["system"] != "sucrose-water formula" {
			continue
		}
		tk := celsius(t, r)
		sugar.Relative("5 P "+r["t_C"], WortViscosity(unit.Plato(5), tk)*1e3, oracle.Number(t, r["mu_1"]))
		sugar.Relative("12 P "+r["t_C"], WortViscosity(unit.Plato(12), tk)*1e3, oracle.Number(t, r["mu_2"]))
		zero.Relative(r["t_C"], WortViscosity(0, tk), WaterViscosity(tk))
	}
	oracle.NewCheck(t, "lager at 6 C, mPa s", 0.03).Absolute("5 % vol", BeerViscosity(unit.Celsius(6))*1e3, 2.42)
}

// Source: Lange's Handbook (ethanol and water) to 9 % vol, printed to 0.1 K.
func TestFreezingPoint(t *testing.T) {
	c := oracle.NewCheck(t, "Lange's Handbook, K", 0.1)
	for _, r := range oracle.Table(t, "freezing_point_ethanol") {
		abw := oracle.Number(t, r["abw_pct"])
		if r["status"] == "computed" || r["status"] == "memory" || abw > 7 {
			continue
		}
		c.Absolute(r["abw_pct"]+" % by mass", FreezingPoint(0, unit.Ratio(abw/100)).Celsius(), oracle.Number(t, r["tf_C"]))
	}
	// Memory: a rule of the trade for 3.9 % by mass from 12 P gives -2.32 C; not the only check.
	f := FromApparent(unit.Plato(12), unit.Plato(2.6))
	oracle.NewCheck(t, "rule of the trade (memory), K", 0.5).Absolute("12 P", FreezingPoint(f.Real, f.Ethanol).Celsius(), -2.32)
}

// Sources: beer 4050 J/(kg K), second hand after Briggs et al. 2004; IAPWS-95 for
// water; the constant 4016 of a published ferment model, whose wort had 108 g/L sugars and about 14 P.
func TestHeatCapacity(t *testing.T) {
	c, model := oracle.NewCheck(t, "heat capacity", 0.02), oracle.NewCheck(t, "heat capacity in a ferment model", 0.045)
	c.Relative("beer of 4.2 P", HeatCapacity(unit.Plato(4.2), unit.Celsius(10)), 4050)
	model.Relative("wort", HeatCapacity(unit.Plato(14), unit.Celsius(12)), 4016)
	c.Relative("water, IAPWS-95", HeatCapacity(0, unit.Celsius(15)), 4188.5)
}
