package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"spile/unit"
	"spile/vessel"
)

const psiKPa = 6.894757

// "reference vessel" is 20 L of 1.046 falling to 1.010 in 27 L, computed apart from this code with an exponential
// solubility of CO2 in beer, ideal gas and Balling's balance (all from memory): good to 0.5 psi and 0.1 volume.
var wantNew = []struct {
	name, flags, key string
	value, tolerance float64
	source           string
}{
	{"pitch", "volume=20L gravity=1.046 kind=ale mass=11.5g age=0days", "needed_e9", 0.75 * 20 * 11.43, 0.5, "common practice, no source: 0.75 million a mL and °P"},
	{"pitch", "volume=20L gravity=1.046 kind=lager mass=11.5g age=0days", "needed_e9", 1.5 * 20 * 11.43, 1, "common practice, no source: twice that for lagers"},
	{"pitch", "volume=20L gravity=1.046 kind=ale mass=11.5g age=0days", "cells_e9", 115, 40, "[VandenBerg2003] 8 to 18 thousand million a gram over six products"},
	{"foam-room", "volume=20L capacity=25L kind=ale", "headspace_percent", 20, 1e-9, "definition"},
	{"foam-room", "volume=20L capacity=25L kind=warm_farmhouse", "foam_l", 5, 2, "memory: a fifth to a third of the height with lively yeasts"},
	{"quiet-gauge", quietFlags + "to-pressure=11.4psi time=24h", "points_per_day", 1, 0.06, "reference vessel: 1 point a day lifts it by 6.4 psi a day"},
	{"quiet-gauge", quietFlags + "to-pressure=5psi time=24h", "detection_limit_points_per_day", 0.35, 0.035, "reference vessel, dial and strip, 24 h"},
	{"quiet-gauge", quietFlags + "to-pressure=5psi time=72h", "detection_limit_points_per_day", 0.11, 0.011, "reference vessel, dial and strip, 72 h"},
	{"quiet-gauge", quietFlags + "to-pressure=5psi time=24h instruments=transducer", "detection_limit_points_per_day", 0.08, 0.015, "reference vessel, transducer and probe, 24 h"},
	{"quiet-gauge", quietFlags + "to-pressure=5psi time=24h vented-from=10psi vented-to=8psi", "rebound_kpa", 9.4 * psiKPa, 0.2 * psiKPa, "reference vessel: 10 to 8 psi climbs back to 9.4"},
	{"own-gas", ownFlags + "gravity=1.0129 target=2.5vol rating=4bar", "pressure_kpa", 28.7 * psiKPa, 1.3 * psiKPa, "reference vessel: 2.9 points from 10 psi end at 28.7 psi"},
	{"own-gas", ownFlags + "gravity=1.0129 target=2.5vol rating=4bar", "co2_volumes", 2.5, 0.1, "the same"},
	{"own-gas", ownFlags + "gravity=1.020 target=2.5vol cold=1.5C rating=4bar", "pressure_kpa", 23.7 * psiKPa, 1 * psiKPa, "reference vessel: for 2.5 volumes (9.1 psi there, 9.5 by [Weiss1974]) chilled shut to 1.5 °C start at 23.7 psi"},
	{"heating", "ambient=16C volume=20L pace=15 ua=4W/K", "yeast_w", 4.3, 0.2, "reference vessel: 15 points a day give 4.3 W"},
	{"heating", "ambient=16C volume=20L pace=15points/day ua=3.4W/K", "steady_c", 17.3, 0.1, "reference vessel: 1.3 K above still air at 3.4 W/K"},
	{"heating", "to=22.25C ambient=16C ua=4W/K", "power_w", 25, 1e-9, "worked T3 turned round"},
	{"sanitiser", "volume=20L strength=150ppm product=15% density=1.12", "dose_ml", 17.8571, 0.005 * 17.8571, "worked D2"},
	{"relief", "temperature=20C volumes=1.42vol volume=20L capacity=27L gravity=1.010 final=1.010", "worst_case_kpa", 402, 40, "ideal gas and 0.023 mol/(L bar) at 40 °C (memory), by hand: 1.75 mol there and 1.8 mol of 4 points that a hydrometer may hide, over 0.72 mol/bar"},
	{"vent", "from-pressure=10psi temperature=20C volume=20L capacity=27L", "beer_g", 22.6, 0.6, "reference vessel: 22.6 g come out of the beer"},
	{"vent", "from-pressure=10psi to-pressure=0psi temperature=20C volume=20L capacity=27L", "rebound_kpa", 7.2 * psiKPa, 0.2 * psiKPa, "reference vessel: to 0 climbs back to 7.2"},
	{"gas-off", "volume=20L capacity=27L pressure=9.1psi temperature=1.5C poured=3L", "pressure_kpa", 7.2 * psiKPa, 0.3 * psiKPa, "reference vessel, after 3 L"},
	{"gas-off", "volume=20L capacity=27L pressure=9.1psi temperature=1.5C poured=5L", "pressure_kpa", 6.0 * psiKPa, 0.3 * psiKPa, "reference vessel, after 5 L"},
	{"gas-off", "volume=20L capacity=27L pressure=9.1psi temperature=1.5C poured=10L", "co2_volumes", 1.87, 0.05, "reference vessel, after 10 L"},
	{"scale", "lost=654g og=1.046 volume=20L capacity=27L pressure=10psi temperature=20C", "gravity_sg", 1.010, 0.0008, "reference vessel: 722 g made, 77 g kept, 9 g of air driven out"},
	{"scale", "lost=714g og=1.046 volume=20L capacity=27L pressure=0psi temperature=20C", "kept_g", 46, 3, "reference vessel: 45.4 g/bar at 20 °C"},
	{"difference", "first=1.013 second=1.011 scatter=0.00070711", "chance_percent", 4.550, 0.01, "normal table: P(|z| > 2) = 4.550 %"},
	{"difference", "first=10 second=11.96 scatter=0.70710678", "chance_percent", 5.0, 0.01, "normal table: P(|z| > 1.96) = 5.00 %"},
	{"absorption", "temperature=1C pressure=10psi from-volumes=1.4vol to-volumes=2.48502vol volume=23L diameter=0.30m", "time_h", 10.8388 * 24, 0.06 * 10.8388 * 24, "worked K2 and K4"},
	{"absorption", "temperature=1.5C pressure=30psi from-volumes=1.6vol to-volumes=2.5vol volume=20L diameter=0.30m", "time_h", 20, 11, "reference vessel: 10 to 31 h for time constants of 30 to 90 h"},
	{"absorption", "temperature=1.5C pressure=30psi from-volumes=1.6vol to-volumes=2.5vol volume=20L diameter=0.30m", "hold_kpa", 9.1 * psiKPa, 0.5 * psiKPa, "reference vessel: equilibrium of 2.5 volumes at 1.5 °C"},
	{"chill", coldFlags + "pressure=8psi", "end_pressure_kpa", -0.6 * psiKPa, 0.4 * psiKPa, "reference vessel, sealed chill"},
	{"chill", coldFlags + "pressure=12psi", "end_pressure_kpa", 1.9 * psiKPa, 0.4 * psiKPa, "reference vessel, sealed chill"},
	{"chill", coldFlags + "end-pressure=9.1psi", "start_pressure_kpa", 23.7 * psiKPa, 0.5 * psiKPa, "reference vessel, the start for 2.5 volumes"},
	{"chill", coldFlags + "pressure=10psi gas=9.1psi", "gas_g", 43, 4, "reference vessel: from 10 psi warm to 2.5 volumes cold takes 43 g"},
	{"chill", "from=20C to=1C volume=20L capacity=25L pressure=0psi", "gas_g", 29, 1.5, "computed apart: 29 g drawn from a supply at 0 gauge (the case of worked T4)"},
	{"warming", "from=1.5C to=40C volume=20L capacity=27L volumes=2.5vol", "end_pressure_kpa", 43 * psiKPa, 1.5 * psiKPa, "reference vessel at 40 °C"},
	{"cylinder", "volume=20L from-volumes=1.42vol to-volumes=2.5vol push=20L pressure=9.1psi temperature=1.5C content=1.9kg", "together_g", 106, 6, "reference vessel: 43 g and 63 g a batch"},
	{"overcarbonated", "volumes=3.8vol target=2.45vol temperature=4C volume=17L capacity=19L", "cycles", 11, 1, "computed apart: a keg of 17 L under 2 L of gas takes about 11"},
}

const (
	quietFlags = "from-pressure=5psi from-temperature=20C to-temperature=20C volume=20L capacity=27L "
	ownFlags   = "final=1.010 temperature=20C volume=20L capacity=27L pressure=10psi "
	ownOver    = "final=1.010 temperature=20C volume=20L capacity=27L pressure=3bar "
	leakFlags  = "volume=5L from-pressure=10psi from-temperature=20C to-temperature=20C "
	coldFlags  = "from=20C to=1.5C volume=20L capacity=27L "
)

// What the notes and cautions say, and whether a limit would be exceeded.
func TestSays(t *testing.T) {
	for _, c := range []struct {
		name, flags string
		passed      bool
		say         string
	}{
		{"pitch", "volume=20L gravity=1.046 mass=11.5g age=0days", false, "Likely enough"},
		{"pitch", "volume=20L gravity=1.046 mass=34g age=0days", false, "Enough, even at the low end"},
		{"pitch", "volume=20L gravity=1.080 kind=lager mass=5g age=24months storage=20C", false, "fresh pack"},
		{"foam-room", "volume=15L capacity=26L", false, "even at worst"},
		{"foam-room", "volume=21L capacity=26L", false, "most times"},
		{"foam-room", "volume=25L capacity=26L", false, "Gas space 4 %"},
		{"quiet-gauge", quietFlags + "to-pressure=11.4psi time=24h", false, "It still works"},
		{"quiet-gauge", quietFlags + "to-pressure=5psi time=72h", false, "No sign of work"},
		{"quiet-gauge", quietFlags + "to-pressure=60psi time=24h", false, "No rating known, so no pressure advice"},
		{"quiet-gauge", quietFlags + "to-pressure=60psi time=24h rating=2.5bar", true, "Pressure 60 psi (4.15 bar) is at or above the rating 36 psi (2.50 bar)"},
		{"quiet-gauge", quietFlags + "to-pressure=6psi time=24h vented-from=40psi vented-to=0psi rating=2.5bar", true, "at or above the rating"},
		{"quiet-gauge", quietFlags + "to-pressure=6psi time=6h", false, "Cannot tell yet"},
		{"quiet-gauge", quietFlags + "to-pressure=9psi time=24h vented-from=10psi vented-to=8psi", false, "still giving gas back"},
		{"quiet-gauge", quietFlags + "to-pressure=5psi time=24h relief=5psi", false, "leaves no room"},
		{"quiet-gauge", quietFlags + "to-pressure=5psi time=24h relief=8psi", false, "Let it down 3 times"},
		{"quiet-gauge", quietFlags + "to-pressure=5psi time=24h relief=30psi", false, "low enough as it is"},
		{"own-gas", ownFlags + "gravity=1.014 target=2.5vol", false, "No rating known"},
		{"own-gas", ownFlags + "gravity=1.014 target=2.5vol rating=1.5bar", false, "more pressure than the plates allow"},
		{"own-gas", ownFlags + "gravity=1.011 target=2.5vol rating=3bar", false, "too little gas"},
		{"own-gas", ownFlags + "gravity=1.020 target=2.5vol rating=3bar", false, "Worst case"},
		{"own-gas", ownFlags + "gravity=1.020 target=2.5vol rating=3bar safety-relief=2.8bar", false, "See that the safety valve is free"},
		{"own-gas", ownFlags + "gravity=1.020 target=2.5vol rating=3bar safety-relief=4bar", true, "Fit a safety valve set no higher"},
		{"warming", "from=1C to=30C volume=16L capacity=20L volumes=2.5vol rating=3bar", false, "Worst case"},
		{"chill", coldFlags + "pressure=10psi gravity=1.020 final=1.010 rating=3bar safety-relief=3.5bar", true, "Worst case"},
		{"chill", coldFlags + "pressure=10psi gas=45psi rating=3bar", true, "Do not do it"},
		{"vent", "from-pressure=10psi temperature=20C volume=20L capacity=27L", false, "gauge at zero"},
		{"vent", "from-pressure=10psi temperature=20C volume=20L capacity=27L", false, "a lid of 10 cm with about 55 kg"}, // 68.95 kPa · π/4 · (0.1 m)²/9.807 m/s²
		{"gas-off", "volume=20L capacity=27L pressure=1psi temperature=1.5C poured=15L", false, "used up"},
		{"own-gas", ownOver + "gravity=1.014 target=2.4vol rating=2.5bar", true, "at or above the rating"},
		{"relief", "temperature=20C volumes=2.6vol rating=2.3bar", true, "Do not do it"}, // holds 2.17 bar, and a valve is 0.2 bar off
		{"relief", "temperature=20C volumes=1.4vol set=0.8bar rating=2.5bar", true, "where the safety valve opens"},
		{"relief", "temperature=20C volumes=1.4vol set=2.4bar rating=2.5bar", false, "tells the worst case too"},
		{"relief", "temperature=20C volumes=1.4vol volume=20L capacity=27L gravity=1.020 final=1.010 rating=2.5bar", false, "Worst case"},
		{"relief", "temperature=20C volumes=1.4vol volume=20L capacity=27L gravity=1.020 final=1.010 rating=2.5bar set=3bar", true, "Worst case"},
		// By hand: 14.94 g a day for each psi; √2 · 0.5 psi of the dial and √2 · 0.7 °C of the strip, times 1.645, are 17.5 g.
		{"leak", leakFlags + "to-pressure=9psi time=1h", false, "at most 32 g a day"},
		{"leak", leakFlags + "to-pressure=7psi time=1h", false, "It leaks"},
		{"leak", leakFlags + "to-pressure=12psi time=1h", false, "The gauge rose"},
		{"room-air", "room=10m3 rate=13g/h air-changes=0.3/h time=24h", false, "below the limit for a day"},
		{"room-air", "room=10m3 rate=40g/h air-changes=0.3/h time=0.5h", false, "Left longer it goes above"},
		{"room-air", "room=10m3 rate=40g/h air-changes=0.3/h time=24h", true, "above the limit for a day of work"},
		{"room-air", "room=10m3 released=0.6kg air-changes=0.3/h time=1h", true, "quarter of an hour"}, // 326 L: 3.2 %
		{"room-air", "room=10m3 released=2.6kg air-changes=0.3/h time=1h", true, "dangerous at once"},
		{"overcarbonated", "volumes=4vol target=2.5vol temperature=4C volume=19L capacity=19.5L", false, "Pour some beer first"},
		{"overcarbonated", "volumes=3.2vol target=2.5vol temperature=3C volume=20L capacity=26L", false, "Carbon dioxide has no smell"},
		{"heating", "power=120W ambient=20C", false, "too warm for beer"},
		{"heating", "power=25W ambient=16C", false, "watch the gauge"},
		{"cooldown", "volume=20L from=20C to=3C air=-5C", false, "it may freeze"},
		{"lid", "pressure=-3psi opening=10cm", false, "Do not pull"},
		{"difference", "first=1.013 second=1.012 scatter=0.0007", false, "nothing but the reading"},
		{"cylinder", "volume=20L from-volumes=1.42vol to-volumes=2.5vol push=20L pressure=9psi temperature=1.5C used=300g", false, "or a leak"},
		{"cylinder", "volume=20L from-volumes=1.42vol to-volumes=2.5vol push=20L pressure=9psi temperature=1.5C used=106g", false, "no sign of a leak"},
		{"absorption", "temperature=1.5C pressure=30psi from-volumes=1.6vol to-volumes=2.5vol volume=20L diameter=0.30m rating=2bar", true, "Do not do it"},
	} {
		a := evaluate(t, c.name, c.flags)
		said := strings.Join(a.Notes, " ") + " " + strings.Join(a.Cautions, " ")
		if a.Passed != c.passed || !strings.Contains(said, c.say) {
			t.Errorf("%s %s: passed %v with %q; want %v and %q", c.name, c.flags, a.Passed, said, c.passed, c.say)
		}
	}
}

// Without a rating, or above it, no result tells anyone to set anything.
func TestNoSettingWithoutRating(t *testing.T) {
	for _, c := range []struct{ name, flags, over, within string }{
		{"relief", "temperature=20C volumes=2.6vol", "1bar", "4bar"},
		{"own-gas", ownFlags + "gravity=1.020 target=2.5vol", "0.6bar", "4bar"},                                                       // it stands at 0.69 bar
		{"absorption", "temperature=1.5C to-volumes=2.5vol from-volumes=1.6vol volume=20L diameter=0.30m time=24h", "0.6bar", "4bar"}, // at rest 0.63 bar
	} {
		for rating, advised := range map[string]bool{"": false, " rating=" + c.over: false, " rating=" + c.within: true} {
			a := evaluate(t, c.name, c.flags+rating)
			if said := slices.ContainsFunc(a.Results, func(r Result) bool { return strings.Contains(strings.ToLower(string(r.Name)), "set the ") }); said != advised {
				t.Errorf("%s%s: a setting is advised: %v; want %v", c.name, rating, said, advised)
			}
		}
	}
}

// What a row says of itself follows the rule of speech: 18 words a sentence at most.
func TestAboutIsShort(t *testing.T) {
	for _, row := range Table() {
		for _, s := range strings.FieldsFunc(string(row.About), func(r rune) bool { return strings.ContainsRune(".:;", r) }) {
			if n := len(strings.Fields(s)); n > 18 && !strings.Contains(s, "--") {
				t.Errorf("%s: %d words in %q", row.Name, n, s)
			}
		}
	}
}

// No setting that own gas proposes can bring a valve, off as valves are, to the rating or to the safety valve.
func TestOwnGasStaysWithinThePlates(t *testing.T) {
	for _, rating := range []float64{0.5, 1, 1.5, 2, 2.5, 3} {
		for _, safety := range []float64{0.4, 1, 2, 4} {
			for _, gravity := range []string{"1.011", "1.014", "1.030"} {
				a := evaluate(t, "own-gas", ownFlags+fmt.Sprintf("gravity=%s target=2.5vol rating=%gbar safety-relief=%gbar", gravity, rating, safety))
				upper := a.Value("pressure_kpa") + 1.645*float64(vessel.ValveSD)/unit.Kilopascal
				if limit := 100 * min(rating, safety); upper > limit+0.01 && a.Value("pressure_kpa") > 0 {
					t.Errorf("rating %g bar, safety valve %g bar: a setting of %.1f kPa may be %.1f, over %.1f", rating, safety, a.Value("pressure_kpa"), upper, limit)
				}
			}
		}
	}
}

// Solving for each unknown in turn gives back what was there.
func TestSolvedForEachUnknown(t *testing.T) {
	for _, c := range []struct {
		name, fixed string
		all         [][3]string // flag, its value, key of the result that answers for it
	}{
		{"chill", "volume=20L capacity=27L", [][3]string{{"from", "20C", "from_c"}, {"to", "1.5C", "to_c"}, {"pressure", "15psi", "start_pressure_kpa"}, {"end-pressure", "", "end_pressure_kpa"}}},
		{"warming", "volume=16L capacity=20L altitude=1600m", [][3]string{{"from", "1C", "from_c"}, {"to", "30C", "to_c"}, {"pressure", "9psi", "start_pressure_kpa"}, {"end-pressure", "", "end_pressure_kpa"}}},
		{"absorption", "temperature=2C from-volumes=1.5vol volume=20L diameter=30cm", [][3]string{{"pressure", "20psi", "pressure_kpa"}, {"time", "30h", "time_h"}, {"to-volumes", "", "co2_volumes"}}},
		{"carbonation", "altitude=40m", [][3]string{{"temperature", "4C", "temperature_c"}, {"pressure", "12psi", "pressure_kpa"}, {"volumes", "", "co2_volumes"}}},
		{"heating", "ambient=16C ua=4W/K", [][3]string{{"power", "25W", "power_w"}, {"to", "", "steady_c"}}},
	} {
		last := c.all[len(c.all)-1]
		start := c.fixed
		for _, f := range c.all[:len(c.all)-1] {
			start += " " + f[0] + "=" + f[1]
		}
		row, _ := Find(c.name)
		value := inFlag(row, last[0], evaluate(t, c.name, start).Value(last[2]))
		for i, asked := range c.all[:len(c.all)-1] {
			flags := c.fixed + " " + last[0] + "=" + value
			for j, f := range c.all[:len(c.all)-1] {
				if j != i {
					flags += " " + f[0] + "=" + f[1]
				}
			}
			got := evaluate(t, c.name, flags).Value(asked[2])
			want := evaluateInput(t, row, asked[0], asked[1])
			if math.Abs(got-want) > 1e-4*(1+math.Abs(want)) {
				t.Errorf("%s for --%s: got %.8g, want %.8g, tolerance 1e-4", c.name, asked[0], got, want)
			}
		}
	}
}

// inFlag writes a value in the unit of its key as it would be typed.
func inFlag(row *Calculation, flag string, v float64) string {
	for _, f := range row.Flags {
		if f.Name == flag {
			return fmt.Sprintf("%.12g%s", v, map[string]string{"kpa": "kPa", "c": "C", "volumes": "vol", "h": "h", "w": "W"}[f.Kind.Suffix])
		}
	}
	return ""
}

func evaluateInput(t *testing.T, row *Calculation, flag, text string) float64 {
	t.Helper()
	for _, f := range row.Flags {
		if f.Name == flag {
			v, err := f.Kind.parse(text)
			if err != nil {
				t.Fatal(err)
			}
			return f.Kind.InKey(v)
		}
	}
	t.Fatalf("%s has no --%s", row.Name, flag)
	return 0
}

// Physics that only goes one way.
func TestMonotone(t *testing.T) {
	for _, c := range []struct {
		name, flags, sweep, key string
		up                      bool
	}{
		{"chill", "from=20C volume=20L capacity=27L pressure=15psi", "to=19C:1C:18", "end_pressure_kpa", false},
		{"warming", "from=1C volume=20L capacity=27L volumes=2.5vol", "to=2C:40C:19", "end_pressure_kpa", true},
		{"carbonation", "temperature=4C", "pressure=0psi:30psi:30", "co2_volumes", true},
		{"carbonation", "pressure=10psi", "temperature=0C:30C:30", "co2_volumes", false},
		{"quiet-gauge", quietFlags + "to-pressure=6psi", "time=6h:72h:11", "detection_limit_points_per_day", false},
		{"own-gas", ownFlags + "target=3vol", "gravity=1.010:1.016:12", "co2_volumes", true},
		{"scale", "og=1.046 volume=20L capacity=27L temperature=20C", "lost=100g:600g:10", "gravity_sg", false},
		{"gas-off", "volume=20L capacity=27L pressure=9psi temperature=1.5C", "poured=1L:15L:14", "co2_volumes", false},
		{"absorption", "temperature=1C from-volumes=1.4vol volume=23L diameter=30cm pressure=15psi", "time=1h:200h:20", "co2_volumes", true},
		{"pitch", "volume=20L gravity=1.046 mass=11.5g storage=20C", "age=1months:24months:12", "cells_e9", false},
	} {
		row, _ := Find(c.name)
		curve, err := row.Sweep(values(c.flags), c.sweep)
		if err != nil || curve.Why != nil {
			t.Errorf("%s %s: %v %v", c.name, c.sweep, err, curve)
			continue
		}
		for k, r := range curve.Keys {
			if r.Key != c.key {
				continue
			}
			for i := 1; i < len(curve.X); i++ {
				if y := curve.Y[k]; (y[i] > y[i-1]) != c.up && math.Abs(y[i]-y[i-1]) > 1e-9 {
					t.Errorf("%s over %s: %s goes from %g to %g at point %d", c.name, c.sweep, c.key, y[i-1], y[i], i)
				}
			}
		}
	}
}

// The box of air in small steps, dC/dt = G (1 - C)/V - n (C - outside), beside the closed form: the form leaves out that gas
// drives out some of the mixed air too, which matters below 1 % of gas by less than that.
func TestRoomAirAgainstSmallSteps(t *testing.T) {
	for _, c := range []struct{ room, rate, changes, hours float64 }{{10, 13, 0.3, 24}, {30, 20, 0.05, 6}, {5, 6, 1, 48}} {
		a := evaluate(t, "room-air", fmt.Sprintf("room=%gm3 rate=%gg/h air-changes=%gperh time=%gh", c.room, c.rate, c.changes, c.hours))
		gas := c.rate / 1.839 / 1000 // m3/h at 20 °C, 1.839 g/L from the published table of gas density
		x, dt := 420e-6, c.hours/200_000
		for range 200_000 {
			x += dt * (gas*(1-x)/c.room - c.changes*(x-420e-6))
		}
		if got, want := a.Value("co2_ppm"), x*1e6; math.Abs(got-want) > 0.012*want {
			t.Errorf("%+v: got %.0f ppm, want %.0f by small steps, tolerance 1.2 %%", c, got, want)
		}
	}
}

// The same numbers in other units give the same answer (factors: exact definitions of pound, inch, gallon and Fahrenheit).
func TestUnitsComeToTheSame(t *testing.T) {
	for _, c := range []struct{ name, one, other, key string }{
		{"carbonation", "temperature=4C pressure=12psi", "temperature=39.2F pressure=0.8273708752bar", "co2_volumes"},
		{"carbonation", "temperature=4C pressure=12psi", "temperature=4C pressure=82.73708752kPa", "co2_volumes"},
		{"dilution", "volume=17L gravity=1.054 water=3L", "volume=4.490925890gal(US) gravity=1.054 water=0.7925161571gal(US)", "gravity_sg"},
		{"chill", coldFlags + "pressure=12psi", "from=68F to=34.7F volume=20L capacity=27L pressure=12psi", "end_pressure_kpa"},
		{"lid", "pressure=10psi opening=10cm", "pressure=10psi opening=3.937007874in", "force_n"},
		{"leak", "volume=5L from-pressure=10psi to-pressure=9psi from-temperature=20C to-temperature=20C time=1h", "volume=5000mL from-pressure=10psi to-pressure=9psi from-temperature=68F to-temperature=68F time=60min", "leak_g_per_day"},
	} {
		a, b := evaluate(t, c.name, c.one).Value(c.key), evaluate(t, c.name, c.other).Value(c.key)
		if !(math.Abs(a-b) <= 1e-7*math.Abs(a)) {
			t.Errorf("%s: %s gives %.10g, %s gives %.10g", c.name, c.one, a, c.other, b)
		}
	}
}

// What is known of the solubility in beer (level 2.5 %, slope 1.5 %, standard deviations) reaches the end of a change: where the
// gas in the beer is given and little of it stands above, the pressure errs by as much as the solubility, nine times in ten by
// at least 1.645 × 2.5 %; where the dial was read at the start the level falls out and less is left.
func TestBandOfShutVessels(t *testing.T) {
	relative := func(flags string) float64 {
		a := evaluate(t, "warming", "from=1C to=30C volume=19L capacity=20L "+flags)
		if a.Band == nil || a.Band.Key != "end_pressure_kpa" {
			t.Fatalf("%s: band %+v", flags, a.Band)
		}
		return (a.Band.High - a.Band.Low) / 2 / (a.Value("end_pressure_kpa") + 101.325)
	}
	byVolumes, byPressure := relative("volumes=2.5vol"), relative("pressure=9psi")
	if byVolumes < 1.645*0.025 || byVolumes > 1.645*0.025*1.35 {
		t.Errorf("volumes given: the end is known to %.2f %%, want between 4.1 and 5.6 %%", 100*byVolumes)
	}
	if byPressure > 0.8*byVolumes || byPressure < 0.01 {
		t.Errorf("the dial read: the end is known to %.2f %%, volumes given to %.2f %%", 100*byPressure, 100*byVolumes)
	}
}
