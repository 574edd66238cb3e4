package main

import (
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"spile/calc"
	"spile/unit"
)

// What the numbers of the questions are held against. None is the program's own.
const (
	apart    = "a balance of gas worked apart from this code, with a solubility from memory that lies 1 to 2 % above ours; published charts lie 0.1 volumes and 0.5 psi apart"
	arith    = "arithmetic apart from this code, from the definition"
	practice = "common practice, no source"
	heat     = "a balance of heat worked apart from this code, 3.4 to 4.3 W/K"
	flow     = "friction in a smooth pipe worked apart from this code, viscosity from memory"
	gauge    = "sensitivity of a test with dial and strip, worked apart from this code"
	valve    = "a working valve holds the gauge of working beer at its setting, " + practice
	meaning  = "what an invented ferment must come to, by how it was made up"
)

// ask is one command and what its answer must be.
type ask struct {
	line   string
	code   int
	checks []check
	// taught: the folder "cellar" of the line is one whose only batch, the pale of the examples, has ended and taught; the answer is text.
	taught bool
}

// check is one number of an answer, in psi where the key says kPa; or a word.
type check struct {
	path            string
	want, tolerance float64
	word            string
	source          string
}

func c(path string, want, tolerance float64, source string) check {
	return check{path: "result." + path, want: want, tolerance: tolerance, source: source}
}

// question is what people ask, the commands that answer it, and how to read the answer.
type question struct {
	asked string
	asks  []ask
	read  string
}

// one is a question that one command answers.
func one(asked, line, read string, checks ...check) question {
	return question{asked, []ask{{line: line, checks: checks}}, read}
}

// The questions, by how often they are asked and how much hangs on them; the last are those that only a forecast answers. The case is
// always 20 L of beer in a vessel of 27 L, 1.046 to 1.010, at the sea, if nothing else is said.
var questions = []question{
	{"Is it finished, or is it stuck?", []ask{
		{line: "forecast docs/examples/pale.yaml docs/examples/pale.csv", checks: []check{
			{path: "now.finished.probability", want: 1, tolerance: 0.15, source: meaning}, {path: "now.state", word: "Finished", source: meaning}}},
		{line: `calc quiet-gauge --from-pressure "4 psi" --to-pressure "10.4 psi" --from-temperature "20 C" --to-temperature "20 C" --time "24 h" --volume "20 L" --capacity "27 L"`, checks: []check{
			c("points_per_day", 1, 0.05, apart+": 6.4 psi a day is one point"), c("detection_limit_points_per_day", 0.35, 0.05, gauge)}},
		{line: `calc quiet-gauge --from-pressure "7 psi" --to-pressure "7.2 psi" --from-temperature "20 C" --to-temperature "20 C" --time "72 h" --volume "20 L" --capacity "27 L"`, checks: []check{
			c("detection_limit_points_per_day", 0.11, 0.02, gauge)}},
	}, "The forecast gives the odds that less than one point is left. The quiet-gauge test gives points a day without a sample: below what it can find, it is done; a point a day is still work."},
	{"What pressure, how long, without too much gas?", []ask{
		{line: `calc absorption --temperature "1.5 C" --pressure "30 psi" --from-volumes "1.6 volumes" --to-volumes "2.5 volumes" --volume "20 L" --diameter "0.30 m" --uptake "0.016667 per h"`, checks: []check{
			c("time_h", 20, 2, apart)}},
		{line: `calc absorption --temperature "1.5 C" --pressure "15 psi" --from-volumes "1.6 volumes" --to-volumes "2.5 volumes" --volume "20 L" --diameter "0.30 m" --uptake "0.016667 per h"`, checks: []check{
			c("time_h", 54, 6, apart)}},
		{line: `calc carbonation --temperature "1.5 C" --volumes "2.5 volumes"`, checks: []check{
			c("pressure_kpa", 9.1, 0.5, apart)}},
	}, "The time, what an hour late adds, and the pressure to hold afterwards. Without --uptake the time is known to half only: a vessel's own uptake is learnt from one gauge that fell."},
	{"Why only foam, and which tube?", []ask{
		{line: `calc line --pressure "9 psi" --length "2 m" --bore "4.76 mm" --rise "0 m" --tap-loss 0 --temperature "1.5 C"`, checks: []check{
			c("flow_l_per_min", 2.94, 0.3, flow+": 49 mL/s")}},
		{line: `calc line --pressure "9 psi" --length "4 m" --bore "4.76 mm" --rise "0 m" --tap-loss 0 --temperature "1.5 C"`, checks: []check{
			c("flow_l_per_min", 1.98, 0.2, flow+": 33 mL/s")}},
	}, "One cause first, with the number that shows it, and the cheapest thing to change. Lowering the pressure is never it: that lets the gas out of the beer."},
	{"How much gas is in it now?", []ask{
		{line: `calc carbonation --temperature "20 C" --pressure "8 psi"`, checks: []check{c("co2_volumes", 1.31, 0.1, apart)}},
		{line: `calc carbonation --temperature "20 C" --pressure "10 psi"`, checks: []check{c("co2_volumes", 1.42, 0.1, apart)}},
		{line: `calc carbonation --temperature "20 C" --pressure "12 psi"`, checks: []check{c("co2_volumes", 1.54, 0.1, apart)}},
		{line: `calc carbonation --temperature "20 C" --pressure "15 psi"`, checks: []check{c("co2_volumes", 1.71, 0.1, apart)}},
		{line: `calc carbonation --temperature "1 C" --pressure "10 psi"`, checks: []check{c("co2_volumes", 2.6, 0.1, apart)}},
	}, "Gas off at the cylinder, then wait until the gauge stands. A gauge under an open gas line shows the regulator, not the beer."},
	{"How much gas is left in the cylinder, and do I have a leak?", []ask{
		{line: `calc cylinder --volume "20 L" --from-volumes "1.42 volumes" --to-volumes "2.5 volumes" --push "20 L" --pressure "9 psi" --temperature "1.5 C" --content "1.9 kg" --used "150 g"`, checks: []check{
			c("carbonate_g", 43, 1, apart), c("push_g", 63, 1, apart), c("together_g", 106, 2, apart)}},
	}, "Grams for a batch, batches left by the scale, and what went that the beer did not take. The cylinder's own gauge stands still until it is nearly empty."},
	one("Nothing happens: waking, a leak or too cold?", "forecast docs/examples/quiet.yaml docs/examples/quiet.csv",
		"The state, until when nothing is normal, and the one reading that would settle it.",
		check{path: "now.state", word: "Waking", source: meaning}),
	{"What does cold do to the pressure? Will air get in?", []ask{
		{line: `calc chill --from "20 C" --to "1.5 C" --volume "20 L" --capacity "27 L" --pressure "8 psi"`, checks: []check{c("end_pressure_kpa", -0.6, 0.5, apart)}},
		{line: `calc chill --from "20 C" --to "1.5 C" --volume "23 L" --capacity "27 L" --pressure "8 psi"`, checks: []check{c("end_pressure_kpa", -1.4, 0.5, apart)}},
		{line: `calc chill --from "20 C" --to "1.5 C" --volume "20 L" --capacity "27 L" --pressure "15 psi"`, checks: []check{c("end_pressure_kpa", 3.7, 0.5, apart)}},
		{line: `calc chill --from "20 C" --to "1.5 C" --volume "20 L" --capacity "27 L" --pressure "23.7 psi"`, checks: []check{c("co2_volumes", 2.5, 0.1, apart)}},
	}, "Below zero the vessel pulls in: gas on first, then the cold. --sweep \"to=20 C:1 C:19\" shows the way there."},
	{"What pressure and temperature should I ferment at?", []ask{
		{line: `calc relief --temperature "20 C" --volumes "1.42 volumes" --rating "2.5 bar"`, checks: []check{c("pressure_kpa", 10, 0.5, apart)}},
		{line: `calc relief --table --rating "2.5 bar"`},
	}, "The table shows which setting keeps how much gas at which temperature, within the rating. What it does to taste is weakly known, and not promised."},
	one("What is my true gravity?", `calc hydrometer --reading 1.0113 --temperature "1.5 C" --og 1.046`,
		"A cold sample reads high. Read the hydrometer in water too: what it shows above 1.000 comes off every reading.",
		c("gravity_sg", 1.010, 0.0007, "expansion of beer and glass worked apart from this code: 1.3 points; a hydrometer is read to 0.7")),
	one("Too much gas: how do I get it out?", `calc overcarbonated --volumes "3.8 volumes" --target "2.45 volumes" --temperature "4 C" --volume "17 L" --capacity "19 L"`,
		"How often to let it down. Between two times beer and gas must come to rest, which takes hours.", c("cycles", 11, 1, apart)),
	{"When will it be ready?", []ask{
		{line: "forecast docs/examples/pale.yaml docs/examples/pale.csv", checks: []check{
			{path: "milestones.attenuated_90.probability", want: 1, tolerance: 0.01, source: meaning}}},
		{line: "plan docs/examples/pale.yaml docs/examples/pale.csv --ready 2026-12-04T18:00:00Z", checks: []check{
			{path: "choices.0.highest_pressure_kpa", want: 18.1, tolerance: 18.1, source: "no plan goes above the rating of its vessel, 36.3 psi"}}},
	}, "The forecast gives a band for each step and the odds by the date wished for, if all goes as meant. The plan says what to set instead, and what the odds are then."},
	{"How high could the pressure go: warm car, power cut, stuck valve?", []ask{
		{line: `calc warming --from "1.5 C" --to "20 C" --volume "20 L" --capacity "27 L" --volumes "2.5 volumes"`, checks: []check{c("end_pressure_kpa", 23.7, 0.8, apart)}},
		{line: `calc warming --from "1.5 C" --to "30 C" --volume "20 L" --capacity "27 L" --volumes "2.5 volumes"`, checks: []check{c("end_pressure_kpa", 33, 1, apart)}},
		{line: `calc warming --from "1.5 C" --to "40 C" --volume "20 L" --capacity "27 L" --volumes "2.5 volumes"`, checks: []check{c("end_pressure_kpa", 43, 1.3, apart)}},
		{line: `calc warming --from "1.5 C" --to "30 C" --volume "4.75 L" --capacity "5 L" --volumes "2.5 volumes" --rating "35 psi"`, code: exitLimit, checks: []check{c("end_pressure_kpa", 41, 1.3, apart)}},
	}, "The pressure there, beside the rating. Exit code 3: do not do it. The worst case stands beside it in the working."},
	{"Dry hops without a fountain: what comes out?", []ask{
		{line: `calc vent --from-pressure "10 psi" --to-pressure "0 psi" --temperature "20 C" --volume "20 L" --capacity "27 L"`, checks: []check{
			c("beer_g", 22.6, 0.5, apart), c("rebound_kpa", 7.2, 0.5, apart)}},
		{line: `calc vent --from-pressure "10 psi" --to-pressure "8 psi" --temperature "20 C" --volume "20 L" --capacity "27 L"`, checks: []check{c("rebound_kpa", 9.4, 0.5, apart)}},
	}, "Grams and litres of gas that the beer gives off, and where the gauge climbs again with no yeast at work. Test that it is finished again afterwards: hops can start it once more."},
	{"Is this drop a leak or the weather?", []ask{
		{line: `calc leak --volume "27 L" --from-pressure "15 psi" --to-pressure "14.8 psi" --from-temperature "12 C" --to-temperature "10 C" --time "24 h"`, checks: []check{
			c("leak_g_per_day", 0, 0.15, "ideal gas, arithmetic apart from this code: two degrees move the dial by 0.2 psi")}},
		{line: `calc leak --volume "27 L" --from-pressure "15 psi" --to-pressure "14 psi" --from-temperature "12 C" --to-temperature "12 C" --time "24 h"`, checks: []check{
			c("leak_g_per_day", 3.4, 0.1, "ideal gas at 20 °C, arithmetic apart from this code; at 12 °C 3 % more")}},
	}, "Grams a day with the temperature taken out. Near nothing: it was the weather."},
	one("How much water do I add?", `calc dilution --volume "17 L" --gravity 1.054 --water "3 L"`,
		"Gravity and volume after mixing. Mix well before the sample.", c("gravity_sg", 1.0459, 0.0005, "points times litres, by hand: 17 · 54/20")),
	one("Old yeast: how much of it?", `calc pitch --volume "20 L" --gravity 1.046 --mass "11.5 g" --age "5 years" --storage "4 C"`,
		"Living cells there are beside cells wanted, as a range. A spoonful that foams in a warm jar of wort proves it alive.",
		c("cells_e9", 0.774*115, 25, practice+": 10 thousand million living cells a gram when fresh, a twentieth of them lost a year in the cold")),
	{"How do I move it to a keg without foam or air?", []ask{
		{line: `calc transfer --from-pressure "12 psi" --to-pressure "10 psi" --volume "18 L" --keg "19 L" --volumes "2.5 volumes" --temperature "3 C"`, checks: []check{
			c("lost_volumes", 0, 0.05, "a keg held at the pressure of the beer at rest takes next to nothing")}},
		{line: `calc transfer --from-pressure "10 psi" --to-pressure "0 psi" --volume "2.5 L" --keg "5 L" --volumes "2.5 volumes" --temperature "1.5 C"`, checks: []check{c("co2_volumes", 2.12, 0.05, apart)}},
	}, "How long it takes and what the beer loses to the room left in the keg. A keg half filled and without pressure costs a seventh of the gas."},
	{"How often do I flush it, at what pressure?", []ask{
		{line: `calc purge --pressure "30 psi" --target "1000 ppm"`, checks: []check{c("cycles", 5, 0, arith)}},
		{line: `calc purge --pressure "15 psi" --target "1000 ppm"`, checks: []check{c("cycles", 8, 0, arith)}},
		{line: `calc purge --pressure "10 psi" --target "1000 ppm"`, checks: []check{c("cycles", 11, 0, arith)}},
		{line: `calc purge --pressure "5 psi" --target "1000 ppm"`, checks: []check{c("cycles", 19, 0, arith)}},
	}, "Times to fill and let down. Before fermentation it is wasted: the ferment flushes the vessel itself."},
	one("May the vessel be this full?", `calc foam-room --volume "20 L" --capacity "27 L" --kind ale`,
		"Gas space beside the foam to expect, and how far to fill.", c("headspace_percent", 26, 0.5, arith)),
	{"Two batches, two temperatures, one fridge?", []ask{
		{line: `calc heating --ambient "10 C" --volume "20 L" --pace "15 points/day"`, checks: []check{c("yeast_w", 4.3, 0.2, heat), c("steady_c", 11.15, 0.2, heat+": 1.0 to 1.3 °C above the air")}},
		{line: `calc heating --ambient "1 C" --to "18 C" --ua "3.7 W/K"`, checks: []check{c("power_w", 17*3.7, 0.5, arith)}},
	}, "The fridge is set for the coldest; the watts keep the other warm. A ferment at its height warms itself by a degree."},
	{"How long to cool, and will it freeze?", []ask{
		{line: `calc cooldown --volume "20 L" --from "20 C" --to "3 C" --air "1 C" --ua "3.7 W/K"`, checks: []check{c("time_h", 14.5, 1, heat+", the vessel's own heat with it")}},
		{line: `calc freezing --og 1.046 --fg 1.010`, checks: []check{c("freezing_c", -2.2, 0.5, "a formula from memory; ours is tied to tables of ethanol in water")}},
	}, "Hours, and a third more below 4 °C. Hold the fridge a degree above the first ice."},
	{"How long may it stay in the vessel?", []ask{
		{line: `calc warming --from "1.5 C" --to "20 C" --volume "20 L" --capacity "27 L" --volumes "2.5 volumes" --rating "2.5 bar"`, checks: []check{c("end_pressure_kpa", 23.7, 0.8, apart)}},
		{line: `calc leak --volume "7 L" --from-pressure "10 psi" --to-pressure "9 psi" --from-temperature "2 C" --to-temperature "2 C" --time "7 days"`, checks: []check{
			c("leak_g_per_day", 0.135, 0.01, "ideal gas, arithmetic apart from this code: 6895 Pa · 7 L · 44 g/mol/(8.314 · 275 K)/7")}},
	}, "No formula answers for taste; your own notes do. What can be reckoned: the pressure where it stands at its warmest, and whether it holds its gas so long."},
	{"How far can I pour without gas, and how many glasses are left?", []ask{
		{line: `calc gas-off --volume "20 L" --capacity "27 L" --pressure "9 psi" --temperature "1.5 C" --poured "3 L"`, checks: []check{c("pressure_kpa", 7.2, 0.5, apart), c("co2_volumes", 2.30, 0.1, apart)}},
		{line: `calc gas-off --volume "20 L" --capacity "27 L" --pressure "9 psi" --temperature "1.5 C" --poured "10 L"`, checks: []check{c("pressure_kpa", 3.1, 0.5, apart), c("co2_volumes", 1.87, 0.1, apart)}},
		{line: `calc pour --volume "10 L" --glass "400 mL" --foam "0 %" --loss "0 %"`, checks: []check{c("glasses", 25, 0, arith)}},
	}, "Pressure and gas after so many litres. The gauge does not tell how much beer is left; the scale does."},
	{"Is the air safe here?", []ask{
		{line: `calc room-air --room "30 m3" --rate "722 g/h" --air-changes "0.05 per h" --time "1 h"`, code: exitLimit, checks: []check{
			c("co2_ppm", 13000, 600, "395 L of gas of one batch in 30 m³, arithmetic apart from this code, no air changed")}},
		{line: `calc room-air --room "30 m3" --released "2270 g" --air-changes "0.05 per h" --time "1 h"`, code: exitLimit, checks: []check{
			c("start_ppm", 41000, 1700, "a cylinder of 2.27 kg let out at once, the same")}},
	}, "Parts in a million after so long, beside the limits: 5000 for a day of work, 40 000 dangerous at once. Near the floor and in a fridge there is more."},
	{"Why was last time better?", []ask{
		{line: `calc difference --first 1.012 --second 1.010 --scatter 0.0007`, checks: []check{
			c("chance_percent", 4.33, 0.05, "table of the normal distribution: 2.02 standard deviations, two-sided")}},
		{line: "forecast docs/examples/pale.yaml docs/examples/pale.csv", checks: []check{{path: "now.state", word: "Finished", source: meaning}}},
	}, "Only a difference beyond the scatter of both readings is one. The forecast of each batch puts both on the same footing: gravity, gas and temperature by the hour."},
	one("What if I change a setting?", `forecast docs/examples/pale.yaml docs/examples/pale.csv --at "72 h" --what-if "hold 12 C, relief 15 psi"`,
		"The plan and the change side by side: when each step comes, the highest pressure and the gas. Both meet the same chances, so what differs is the change. Exit code 3: do not set it so.",
		check{path: "what_if.as_planned.highest_pressure_kpa.p50", want: 10, tolerance: 1, source: valve}, check{path: "what_if.changed.highest_pressure_kpa.p50", want: 15, tolerance: 1, source: valve}),
	one("What is the gravity, without a sample?", "forecast docs/examples/weighed.yaml docs/examples/weighed.csv",
		"The gravity with its band, and from what it was worked out: the weight of the vessel, the gas let out, or the gauge.",
		check{path: "now.gravity_sg.p50", want: 1.0181, tolerance: 0.003, source: apart + ": 520 g lost and about 40 g held are 560 of the 722 g that 36 points make"},
		check{path: "now.sentences.1", word: "The gravity is worked out from the weight of the vessel: no sample was read since the yeast went in.", source: meaning}),
	one("Which reading is worth taking next?", "forecast docs/examples/pale.yaml docs/examples/pale.csv",
		"For each question the reading that narrows it most, and by how much; none where no reading would. Where the gravity ends, a small sample fermented out in the warm tells.",
		check{path: "questions.next_readings.0.instrument", word: "none", source: "what is finished is not read for its finish"},
		check{path: "questions.next_readings.1.instrument", word: "forced_sample", source: practice + ": a forced ferment shows where a beer ends"}),
	one("Is something missing from my notes?", "forecast docs/examples/forgot.yaml docs/examples/forgot.csv",
		"A let-down that nobody wrote down is proposed, with its time and the gas that is missing. Say yes, no or not sure. Until then a leak is neither claimed nor denied.",
		check{path: "findings.0.kind", word: "missing-vent", source: meaning},
		check{path: "findings.0.missing_g.p50", want: 12.4, tolerance: 4, source: apart + ": 14 psi taken from 7 L of headspace"}, check{path: "questions.leak.verdict", word: "cannot-tell", source: meaning}),
	one("Did it get warmer or colder by itself?", "forecast docs/examples/pale.yaml docs/examples/moved.csv",
		"By how much and since when the thermometer left what was written down. Write down what was turned or moved, with its time.",
		check{path: "questions.temperature_turns.0.warmer_by_c.p50", want: -6, tolerance: 1, source: meaning}),
	{"A leak, or is the cold beer drinking the gas?", []ask{
		{line: "forecast docs/examples/pale.yaml docs/examples/cold.csv", checks: []check{
			{path: "questions.leak.verdict", word: "cannot-tell", source: "an open regulator holds the gauge, leak or not"}, {path: "questions.leak.hides", word: "absorption", source: "an open regulator holds the gauge, leak or not"}}},
		{line: "forecast docs/examples/forgot.yaml docs/examples/leaks.csv", checks: []check{
			{path: "questions.leak.verdict", word: "yes", source: meaning}, {path: "questions.leak.g_per_day_at_1_bar.p50", want: 13, tolerance: 3, source: apart + ": beer and vessel hold 47 g for each bar, and the gauge loses 28 % a day"}}},
	}, "With the gas on, in the first cold days, it cannot be told, and it is said what would settle it. Warm, at rest and gas off, the gauge tells grams a day."},
	{"What have my batches taught of yeast, vessel and gauges?", []ask{
		{line: "passports --data cellar", taught: true, checks: []check{{path: "ferments_out_percent", want: 78.3, tolerance: 5, source: arith + ": 36 of 46 points, known to 3 points after one batch"}}},
	}, "How far the yeast ferments out, how fast, what the vessel loses and what each instrument is off, each beside what is usual; `cellar` is the folder of yours. Only batches that ended teach, and one odd batch counts for little."},
}

// shellWords splits a line as a shell does, double quotes alone.
func shellWords(line string) []string {
	var out []string
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			out = append(out, part)
		} else {
			out = append(out, strings.Fields(part)...)
		}
	}
	return out
}

// at finds a value in JSON by the names on the way.
func at(v any, path string) any {
	for _, name := range strings.Split(path, ".") {
		if list := asList(v); list != nil {
			i, err := strconv.Atoi(name)
			if err != nil || i >= len(list) {
				return nil
			}
			v = list[i]
			continue
		}
		object, _ := v.(map[string]any)
		v = object[name]
	}
	return v
}

// median is how the middle of a band ends its path.
const median = ".p50"

// reading gives the number that a check is about, in psi where the key says kPa.
func (k check) reading(v any) float64 {
	x, ok := at(v, k.path).(float64)
	switch {
	case !ok:
		return math.NaN()
	case strings.HasSuffix(strings.TrimSuffix(k.path, median), "_kpa"):
		return x * unit.Kilopascal / unit.PSI
	}
	return x
}

// Each question is asked as the page says, and the answer read against a number that is
// not the program's own.
func TestQuestionsAreAnswered(t *testing.T) {
	answers := askAll(t)
	if n := len(questions); n != 32 {
		t.Errorf("%d questions, want 32", n)
	}
	for i, q := range questions {
		checked := 0
		for _, a := range q.asks {
			for _, k := range a.checks {
				checked++
				got := k.reading(answers[a.line])
				if k.word != "" && at(answers[a.line], k.path) != any(k.word) || k.word == "" && !(math.Abs(got-k.want) <= k.tolerance) {
					t.Errorf("question %d, %s: %s: expected %s%v, got %v, tolerance %g (%s)", i+1, a.line, k.path, k.word, k.want, at(answers[a.line], k.path), k.tolerance, k.source)
				}
			}
		}
		if checked == 0 {
			t.Errorf("question %d, %q: no answer is read", i+1, q.asked)
		}
	}
	hold(t, docs("questions.md"), questionsPage(answers))
}

// askAll runs every line once, side by side, since a forecast takes seconds.
func askAll(t *testing.T) map[string]any {
	t.Helper()
	answers, all := map[string]any{}, map[string]ask{}
	for _, q := range questions {
		for _, a := range q.asks {
			all[a.line] = a
		}
	}
	var running sync.WaitGroup
	var lock sync.Mutex
	for line, a := range all {
		running.Go(func() {
			v := answered(t, a)
			lock.Lock()
			defer lock.Unlock()
			answers[line] = v
		})
	}
	running.Wait()
	return answers
}

// answered runs a line of the page for its JSON; files are named from the root there.
func answered(t *testing.T, a ask) (v any) {
	t.Helper()
	words := shellWords(a.line)
	for i, w := range words {
		if strings.HasPrefix(w, "docs/") {
			words[i] = filepath.Join("..", "..", filepath.FromSlash(w))
		}
	}
	if a.taught {
		return taughtBy(t, words)
	}
	out, errs, code := invoke(append(words, "--format", "json")...)
	if code != a.code || errs != "" {
		t.Errorf("%s: exit %d, want %d; %s", a.line, code, a.code, errs)
	}
	if err := json.Unmarshal([]byte(out), &v); err != nil {
		t.Errorf("%s: %v", a.line, err)
	}
	return v
}

// taughtBy is what the line says of a cellar whose only batch has ended: between what the yeast ferments out.
func taughtBy(t *testing.T, words []string) any {
	dir := filepath.Join(t.TempDir(), "cellar")
	for i, w := range words {
		if w == "cellar" {
			words[i] = dir
		}
	}
	for _, more := range [][]string{{"pale.yaml"}, {"pale.csv", "--batch", "Sluice Gate Pale (invented)"}} {
		file := filepath.Join("..", "..", "docs", "examples", more[0])
		if _, errs, code := invoke(append([]string{"import", "--data", dir, file}, more[1:]...)...); code != exitOK {
			t.Errorf("%s into a cellar: exit %d, %s", file, code, errs)
			return nil
		}
	}
	if err := emptied(dir, "Sluice Gate Pale (invented)", time.Date(2026, 12, 20, 12, 0, 0, 0, time.UTC)); err != nil {
		t.Error(err)
		return nil
	}
	out, errs, code := invoke(words...)
	found := regexp.MustCompile(`Yeast ale, from 1 batch:\n  how far it ferments out: between (\d+) and (\d+) %`).FindStringSubmatch(out)
	if code != exitOK || found == nil {
		t.Errorf("%v: exit %d, %s, %s", words, code, errs, out)
		return nil
	}
	low, _ := strconv.ParseFloat(found[1], 64)
	high, _ := strconv.ParseFloat(found[2], 64)
	return map[string]any{"ferments_out_percent": (low + high) / 2}
}

// questionsPage is docs/questions.md.
func questionsPage(answers map[string]any) string {
	var b strings.Builder
	b.WriteString(`# Questions people ask

Which line answers which question, and how to read what it prints. Where nothing else is said the case is 20 L of beer in a vessel of 27 L, from 1.046 to 1.010, at the height of the sea. ` + "`--working`" + ` opens every number, and [each calculation has a page](calc/README.md). The batches under ` + "`docs/examples`" + ` are invented.

Exit code 3 means that a safety limit would be exceeded.

| | question | ask | read it so |
|---|---|---|---|
`)
	for i, q := range questions {
		var lines []string
		for _, a := range q.asks {
			lines = append(lines, "`spile "+a.line+"`")
		}
		fmt.Fprintf(&b, "| %d | %s | %s | %s |\n", i+1, q.asked, strings.Join(lines, "<br>"), q.read)
	}
	checkedPage(&b, answers)
	return b.String()
}

// checkedPage lists what the answers were held against, and where that is from.
func checkedPage(b *strings.Builder, answers map[string]any) {
	b.WriteString(`
## Checked against

Every line above is run by a test, and its answer read against a number that is not Spile's own. Where both differ, the reason stands beside it: Spile takes the solubility of gas in water that was measured and published, and what beer holds less than water; the numbers beside it come from short formulas. They differ by less than published charts do among each other.

| | result | Spile | elsewhere | within | from |
|---|---|---|---|---|---|
`)
	var sources []string
	for i, q := range questions {
		for _, a := range q.asks {
			for _, k := range a.checks {
				n := slices.Index(sources, k.source)
				if n < 0 {
					n, sources = len(sources), append(sources, k.source)
				}
				fmt.Fprintf(b, "| %d | %s | %d |\n", i+1, k.row(answers[a.line]), n+1)
			}
		}
	}
	b.WriteString("\nFrom:\n\n")
	for n, source := range sources {
		fmt.Fprintf(b, "%d. %s\n", n+1, source)
	}
}

// row is one line of what was checked. What a forecast or a plan gives moves in its last digit with every better
// reckoning, and is said without it.
func (k check) row(answer any) string {
	name, calculated := strings.CutPrefix(strings.TrimSuffix(k.path, median), "result.")
	if k.word != "" {
		return fmt.Sprintf("%s | %v | %s |", name, at(answer, k.path), k.word)
	}
	name = strings.TrimSuffix(name, "_kpa") + map[bool]string{true: ", psi"}[strings.HasSuffix(name, "_kpa")]
	digits := 3
	if strings.HasSuffix(name, "_sg") {
		digits = 5
	}
	got := "within"
	if calculated {
		got = calc.Digits(k.reading(answer), digits)
	}
	return fmt.Sprintf("%s | %s | %s | %s", name, got, calc.Digits(k.want, digits), strconv.FormatFloat(k.tolerance, 'g', -1, 64))
}
