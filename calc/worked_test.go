package calc

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"spile/co2"
	"spile/internal/oracle"
	"spile/unit"
)

// workedBy says which call answers a worked example: a result, or "=symbol" for a line of its working, and what turns
// its unit into that of the example.
var workedBy = map[string]struct {
	name, flags, of string
	scale           float64
}{
	"H1":  {"line", "flow=3.8L/min pressure=10psi bore=5mm temperature=3C rise=0m tap-loss=0", "=Re", 1},
	"H2":  {"line", "flow=3.8L/min pressure=10psi bore=5mm temperature=3C rise=0m tap-loss=0", "=d", 1},
	"H3":  {"line", "flow=3.8L/min pressure=10psi bore=5mm temperature=3C rise=0m tap-loss=0", "length_m", 1},
	"H4":  {"line", "flow=3.8L/min pressure=10psi bore=5mm temperature=3C rise=0.5m tap-loss=5", "length_m", 1},
	"H7":  {"line", "flow=3.785411784L/min pressure=30psi bore=4.76mm temperature=3C rise=0m tap-loss=0", "=d", 0.3048 / psiKPa},
	"H8":  {"line", "length=2m pressure=12psi bore=4.76mm temperature=3C rise=0.5m tap-loss=5", "flow_l_per_min", 1},
	"H9":  {"line", "flow=3L/min pressure=20psi rise=1m", "=ph", 1},
	"E1":  {"carbonation", "temperature=1C pressure=10psi", "co2_volumes", 1},
	"E2":  {"carbonation", "temperature=4C volumes=2.5vol", "pressure_kpa", 1 / psiKPa},
	"E3":  {"relief", "temperature=20C volumes=2.5vol", "pressure_kpa", 1 / psiKPa},
	"E4":  {"carbonation", "temperature=20C pressure=0psi", "co2_volumes", 1},
	"G1":  {"cylinder", "volume=20L from-volumes=0.86vol to-volumes=2.5vol push=20L pressure=10psi temperature=3C", "carbonate_g", 1},
	"G2":  {"cylinder", "volume=20L from-volumes=0.86vol to-volumes=2.5vol push=20L pressure=10psi temperature=3C", "push_g", 1},
	"G3":  {"purge", "pressure=15psi cycles=5", "oxygen_ppm", 1},
	"G4":  {"purge", "pressure=15psi target=1000ppm", "cycles", 1},
	"G5":  {"purge", "pressure=30psi target=1000ppm", "cycles", 1},
	"K4":  {"absorption", "temperature=1C pressure=10psi from-volumes=1.4vol time=10.8388days volume=23L diameter=0.30m", "co2_volumes", 1},
	"S1":  {"warming", "from=1C to=30C volume=19L capacity=20L volumes=2.5vol", "end_pressure_kpa", 1 / psiKPa},
	"S1b": {"warming", "from=1C to=30C volume=19L capacity=20L volumes=2.5vol", "end_pressure_kpa", 0.01},
	"S2":  {"warming", "from=1C to=30C volume=16L capacity=20L volumes=2.5vol", "end_pressure_kpa", 1 / psiKPa},
	"S2b": {"warming", "from=1C to=30C volume=16L capacity=20L volumes=2.5vol", "end_pressure_kpa", 0.01},
	"S3":  {"warming", "from=1C to=30C volume=16L capacity=20L volumes=2.5vol", "start_pressure_kpa", 1 / psiKPa},
	"S7":  {"leak", "volume=5L from-pressure=10psi to-pressure=9psi from-temperature=20C to-temperature=20C time=1h", "leak_g_per_day", 1},
	"R3":  {"room-air", "room=10m3 rate=12.42g/h air-changes=0.3perh time=1000h", "steady_ppm", 1},
	"R4":  {"room-air", "room=10m3 released=2.6kg air-changes=0.3perh time=1h", "start_ppm", 1e-4},
	"T4":  {"chill", "from=20C to=1C volume=20L capacity=25L pressure=0psi", "end_pressure_kpa", 0.01},
	"V1":  {"relief", "seat=1mm supply=57.3bar set=2.4bar", "area_mm2", 1},
	"A1":  {"drinks", "volume=425mL abv=4.5% country=Australia", "alcohol_g", 1},
	"A2":  {"drinks", "volume=425mL abv=4.5% country=Australia", "standard_drinks", 1},
	"D1":  {"sanitiser", "volume=20L ratio=1:400", "dose_ml", 1},
	"D2":  {"sanitiser", "volume=20L strength=150ppm product=15% density=1.12", "dose_ml", 1},
}

// workedElsewhere are answered by a relation that no question asks for as such: here, or beside that relation.
var workedElsewhere = map[string]func(t *testing.T) float64{
	"T3": func(t *testing.T) float64 {
		return evaluate(t, "heating", "power=25W ua=4W/K ambient=16C").Value("steady_c") - 16
	},
	"T5": func(t *testing.T) float64 {
		return co2.Warmed(unit.Atmosphere, unit.Celsius(20), unit.Celsius(1)).Gauge(unit.Atmosphere).Bar()
	},
	"K2": func(t *testing.T) float64 { return ninetyPercent(t, "") / 24 },
	"K3": func(t *testing.T) float64 { return ninetyPercent(t, "uptake=0.01106386perh") / 24 }, // 1e-6 m/s over 23 L in 0.30 m
	"K5": func(t *testing.T) float64 { return ninetyPercent(t, "uptake=10.8perh") * 60 },
	"T1": func(t *testing.T) float64 { return exampleHeat(t, "=tau") },
	"T2": func(t *testing.T) float64 { return exampleHeat(t, "time_h") },
}

// ninetyPercent is the time, h, to nine tenths of the way to rest.
func ninetyPercent(t *testing.T, more string) float64 {
	flags := "temperature=1C pressure=10psi from-volumes=1.4vol volume=23L diameter=0.30m " + more
	rest := evaluate(t, "absorption", flags+" time=1h").Value("equilibrium_volumes")
	return evaluate(t, "absorption", fmt.Sprintf("%s to-volumes=%.10gvol", flags, 1.4+0.9*(rest-1.4))).Value("time_h")
}

// exampleHeat is a time of cooling of a beer that holds as much heat as that of the examples, 4.05 kJ/(kg K) and 1.01 kg/L.
func exampleHeat(t *testing.T, of string) float64 {
	a := evaluate(t, "cooldown", "volume=23L from=20C to=3C air=1C ua=4W/K")
	return asked(t, a, of) * 23 * 1.01 * 4.05 / asked(t, a, "=C")
}

// workedBelow are checked beside their relation, in the tests of the packages named.
var workedBelow = map[string]string{
	"H5": "dispense", "H6": "dispense", "G6": "co2", "G7": "co2", "K1": "vessel", "S4": "vessel", "S5": "co2", "S6": "co2", "S8": "co2", "R1": "wort", "R2": "co2",
}

func TestWorkedExamples(t *testing.T) {
	seen := 0
	for _, r := range oracle.Table(t, "worked_examples") {
		id := r["id"]
		seen++
		tolerance := 1e-12
		if r["tolerance"] != "exact" {
			tolerance = oracle.Number(t, r["tolerance"]) / 100
		}
		var got float64
		if by, ok := workedBy[id]; ok {
			got = by.scale * asked(t, evaluate(t, by.name, by.flags), by.of)
		} else if by, ok := workedElsewhere[id]; ok {
			got = by(t)
		} else if workedBelow[id] != "" {
			continue
		} else {
			t.Errorf("%s: nothing answers it", id)
			continue
		}
		oracle.NewCheck(t, id+" "+r["case"], tolerance).Relative(r["unit"], got, oracle.Number(t, r["value"]))
	}
	if seen != 49 {
		t.Errorf("%d examples, want 49", seen)
	}
}

// asked is a result or a line of the working.
func asked(t *testing.T, a *Answer, of string) float64 {
	t.Helper()
	symbol, isStep := strings.CutPrefix(of, "=")
	if !isStep {
		return a.Value(of)
	}
	for _, s := range a.Sheet.Steps {
		if s.Symbol == symbol {
			return s.Value
		}
	}
	t.Errorf("%s: no line %s in %+v", a.Calculation.Name, symbol, a.Sheet.Steps)
	return math.NaN()
}
