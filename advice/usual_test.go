package advice

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
	"spile/yeast"
)

// saidUsual is the usual plan of a batch in one line.
func saidUsual(b *batch.Batch) string {
	b.Programme = Propose(b).Programme(b)
	var out []string
	for _, s := range SaySteps(b, unit.Style{}) {
		out = append(out, s.When+": "+s.Do)
	}
	return strings.Join(out, " | ")
}

func TestUsualPlan(t *testing.T) {
	const butter = "Do the butter test first. Do you smell butter? Then wait two days more."
	for _, c := range []struct {
		what   string
		change func(*batch.Batch)
		want   string
	}{
		{"all there is", func(*batch.Batch) {},
			"With the yeast: Set the working valve to 10 psi. Set the temperature to 16 °C. | At 1.019 or lower: Set the working valve to 25 psi. | Finished for 2 days: " + butter + " Turn the gas on at 12 psi. Set the temperature to 3 °C."},
		{"a belt besides", func(b *batch.Batch) { b.Place.Belt = 30 },
			"With the yeast: Set the working valve to 10 psi. Set the temperature to 20 °C. | At 1.019 or lower: Set the working valve to 29 psi. | Finished for 2 days: " + butter + " Turn the gas on at 12 psi. Set the temperature to 3 °C."},
		{"no rating", func(b *batch.Batch) { b.Vessel.Rating = nil },
			"With the yeast: Set the temperature to 16 °C. | Finished for 2 days: " + butter + " Set the temperature to 3 °C."},
		{"no safety valve", func(b *batch.Batch) { b.Vessel.SafetyRelief = nil },
			"With the yeast: Set the temperature to 16 °C. | Finished for 2 days: " + butter + " Set the temperature to 3 °C."},
		{"a safety valve above the rating", func(b *batch.Batch) { b.Vessel.SafetyRelief = gauge(3e5) },
			"With the yeast: Set the temperature to 16 °C. | Finished for 2 days: " + butter + " Set the temperature to 3 °C."},
		{"a weak vessel", func(b *batch.Batch) { b.Vessel.Rating, b.Vessel.SafetyRelief = gauge(0.7e5), gauge(0.6e5) },
			"With the yeast: Set the working valve to 6 psi. Set the temperature to 16 °C. | Finished for 2 days: " + butter + " Turn the gas on at 3 psi. Set the temperature to 3 °C."},
		{"no cylinder", func(b *batch.Batch) { b.Gas = nil },
			"With the yeast: Set the working valve to 10 psi. Set the temperature to 16 °C. | At 1.019 or lower: Set the working valve to 25 psi. | Finished for 2 days: " + butter + " Set the temperature to 3 °C."},
		{"a shed and nothing else", func(b *batch.Batch) { b.Gas, b.Place.Fridge = nil, nil },
			"With the yeast: Set the working valve to 10 psi. Leave it where the air is about 16 °C. | At 1.019 or lower: Set the working valve to 25 psi."},
		{"nothing wished for", func(b *batch.Batch) { b.Target = nil },
			"With the yeast: Set the working valve to 10 psi. Set the temperature to 16 °C. | Finished for 2 days: " + butter + " Set the temperature to 4 °C."},
	} {
		b := someBatch()
		if c.change(b); saidUsual(b) != c.want {
			t.Errorf("%s: expected\n%s\ngot\n%s", c.what, c.want, saidUsual(b))
		}
	}
}

// The gas of the plan is one psi more than that of the published chart for beer, 2.57 volumes at
// 34 F and 10 psi (BrewingTechniques 1994), to the half psi of the knob and the 3 % of the chart.
func TestUsualGasIsThatOfTheChart(t *testing.T) {
	b := someBatch()
	b.Target.CO2, b.Target.Temperature = 2.57, unit.Fahrenheit(34)
	if got := Propose(b).Gas.PSI(); math.Abs(got-11) > 1.3 {
		t.Errorf("expected 11 psi, got %v", got)
	}
}

// Whatever stands on the plate, no setting of the plan reaches the weakest part, and none
// is made up where a plate is not known.
func TestUsualPlanKeepsWithinThePlates(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := someBatch()
		b.Vessel.Rating, b.Vessel.SafetyRelief = nil, nil
		if rapid.Bool().Draw(t, "rated") {
			b.Vessel.Rating = gauge(rapid.Float64Range(0, 6e5).Draw(t, "rating"))
		}
		if rapid.Bool().Draw(t, "safe") {
			b.Vessel.SafetyRelief = gauge(rapid.Float64Range(0, 6e5).Draw(t, "safety"))
		}
		if rapid.Bool().Draw(t, "no cylinder") {
			b.Gas = nil
		}
		b.Target.CO2 = unit.Volumes(rapid.Float64Range(0, 5).Draw(t, "wish"))
		b.Yeast.Kind = rapid.SampledFrom(yeast.Kinds).Draw(t, "kind")
		for _, s := range Propose(b).Programme(b) {
			for name, set := range map[string]*unit.Gauge{"working valve": s.Set.Relief, "gas": s.Set.Gas} {
				if set == nil {
					continue
				}
				if b.Vessel.Rating == nil || b.Vessel.SafetyRelief == nil || *set >= *b.Vessel.Rating || *set >= *b.Vessel.SafetyRelief || *set < 0 {
					t.Fatal(fmt.Sprint(name, " ", set.PSI(), " psi"))
				}
			}
		}
	})
}

// The cold has its caution until two days after the ferment has surely ended.
func TestColdTooSoon(t *testing.T) {
	f := someForecast(60, 20, 12)
	for _, c := range []struct {
		what string
		end  time.Duration // from the 95 % point of the end to now; 0: not known
		f    *estimate.Forecast
		soon bool
	}{
		{"nothing believed", 0, nil, true}, {"no end within the days looked at", 0, f, true}, {"still to come", -time.Hour, f, true}, {"a day ago", 24 * time.Hour, f, true}, {"two days ago", 48 * time.Hour, f, false},
	} {
		f.Milestones.Finished = estimate.Milestone{}
		if c.end != 0 {
			f.Milestones.Finished.P95 = f.At.Add(-c.end)
		}
		if said := ColdTooSoon(c.f, f.At, written); (said != "") != c.soon {
			t.Errorf("%s: said %q", c.what, said)
		}
	}
}
