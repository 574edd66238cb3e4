package advice

import (
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/limit"
	"spile/unit"
)

// somePlan is one choice with every kind of step, with so much of odds.
func somePlan(odds float64) *estimate.Plan {
	steps := []batch.Step{
		{AtSet: true, Set: batch.Setting{Hold: kelvin(21), Relief: gauge(5 * unit.PSI)}},
		{AtSet: true, At: 96 * unit.Hour, Set: batch.Setting{Action: "dry hop 60 g"}},
		{When: batch.Condition{Kind: batch.GravityAtMost, Gravity: 1.02}, Set: batch.Setting{Hold: kelvin(22), Relief: gauge(19 * unit.PSI)}},
		{When: batch.Condition{Kind: batch.FinishedFor, For: unit.Day}, Set: batch.Setting{Hold: kelvin(2), Relief: gauge(23 * unit.PSI), Gas: gauge(20 * unit.PSI), Action: estimate.ButterTest}},
		{When: batch.Condition{Kind: batch.Carbonated}, Set: batch.Setting{Gas: gauge(12 * unit.PSI)}},
		{AtSet: true, At: 900 * unit.Hour, Set: batch.Setting{GasOff: true}},
	}
	return &estimate.Plan{
		From: pitched, Ready: pitched.Add(14 * 24 * time.Hour), Pressure: true, Needs: 11 * unit.PSI, Most: 28 * unit.PSI, Served: unit.Celsius(3),
		Terminal: estimate.Band{P05: 1.008, P50: 1.01, P95: 1.012},
		Choices: []estimate.Choice{{
			Aims: []estimate.Aim{estimate.AimLikely, estimate.AimLeastGas, estimate.AimGentle, estimate.AimEarliest}, Programme: steps,
			Outcome: estimate.Outcome{Probability: odds, Gas: 31 * unit.Gram, Highest: 22 * unit.PSI, Coldest: unit.Celsius(1), Worst: estimate.Worst{Contents: 27e5, Regulator: 2.4e5, Hottest: unit.Celsius(40)}},
			Buys:    []estimate.Buy{{Change: estimate.OneDegreeWarmer, Probability: 0.8}, {Change: estimate.ColdDaySooner, Probability: 0.7}, {Change: estimate.WishedDayLater, Probability: 0.9}},
		}},
	}
}

func TestPlanReadsAloud(t *testing.T) {
	for what, change := range map[string]func(b *batch.Batch, p *estimate.Plan){
		"likely":       func(*batch.Batch, *estimate.Plan) {},
		"earliest":     func(_ *batch.Batch, p *estimate.Plan) { p.Earliest = pitched.Add(400 * time.Hour) },
		"no chance":    func(_ *batch.Batch, p *estimate.Plan) { p.Choices[0].Probability = 0 },
		"weak":         func(_ *batch.Batch, p *estimate.Plan) { p.Most = 9 * unit.PSI },
		"warm fridge":  func(b *batch.Batch, _ *estimate.Plan) { b.Place.Fridge.Coldest = unit.Celsius(6) },
		"temperatures": func(b *batch.Batch, p *estimate.Plan) { b.Vessel.Rating, p.Pressure = nil, false },
	} {
		b, p := someBatch(), somePlan(0.72)
		change(b, p)
		said := SayPlan(b, batch.Log{}, p, unit.Style{})
		c := said.Choices[0]
		for _, line := range append(append([]string{c.Title, c.Sentence, said.Worst}, said.Answer...), c.Buys...) {
			checkWords(t, what, line, 18)
		}
		for _, s := range c.Steps {
			checkWords(t, what, s.When+". "+s.Do, 18)
		}
		for _, line := range c.Cautions {
			checkWords(t, what, line, 30)
		}
	}
}

// What cannot be met is said, with the earliest date that can; and what stands against the wish.
func TestPlanSaysWhatStandsAgainstIt(t *testing.T) {
	for _, c := range []struct {
		what   string
		change func(b *batch.Batch, p *estimate.Plan)
		want   string
	}{
		{"likely", func(*batch.Batch, *estimate.Plan) {}, "With the best of these plans: likely, 72 %, to be ready by Friday 4 December at 19:00."},
		{"no chance", func(_ *batch.Batch, p *estimate.Plan) { p.Choices[0].Probability = 0.01 }, "It will not be ready by Friday 4 December at 19:00."},
		{"earliest", func(_ *batch.Batch, p *estimate.Plan) { p.Earliest = pitched.Add(400 * time.Hour) }, "Very likely ready, 85 %, by Monday 7 December, morning at the earliest."},
		{"never", func(*batch.Batch, *estimate.Plan) {}, "No date within the days looked at is very likely."},
		{"weak", func(_ *batch.Batch, p *estimate.Plan) { p.Most = 9 * unit.PSI }, "2.5 volumes at 3 °C need 11 psi. The weakest part allows a setting of 6 psi."},
		{"warm fridge", func(b *batch.Batch, _ *estimate.Plan) { b.Place.Fridge.Coldest = unit.Celsius(6) }, "The fridge reaches 6 °C. You wish for 3 °C."},
	} {
		b, p := someBatch(), somePlan(0.72)
		c.change(b, p)
		if got := strings.Join(SayPlan(b, batch.Log{}, p, unit.Style{}).Answer, " "); !strings.Contains(got, c.want) {
			t.Errorf("%s: expected %q in %q", c.what, c.want, got)
		}
	}
}

// A limit that a plan would pass is found and ends the command with its code; a sound plan passes none.
func TestPlanLimits(t *testing.T) {
	for what, c := range map[string]struct {
		change func(b *batch.Batch, p *estimate.Plan)
		kind   limit.Kind
	}{
		"sound":          {func(*batch.Batch, *estimate.Plan) {}, ""},
		"no rating":      {func(b *batch.Batch, _ *estimate.Plan) { b.Vessel.Rating = nil }, limit.RatingUnknown},
		"no safety":      {func(b *batch.Batch, _ *estimate.Plan) { b.Vessel.SafetyRelief = nil }, limit.SafetyUnknown},
		"over safety":    {func(_ *batch.Batch, p *estimate.Plan) { p.Choices[0].Highest = 2.3e5 }, limit.OverSafety},
		"valve too high": {func(_ *batch.Batch, p *estimate.Plan) { p.Choices[0].Programme[0].Set.Relief = gauge(2.6e5) }, limit.ValveHigh},
		"pulls in":       {func(_ *batch.Batch, p *estimate.Plan) { p.Choices[0].Lowest = -2e4 }, limit.WouldPullIn},
	} {
		b, p := someBatch(), somePlan(0.72)
		c.change(b, p)
		said := SayPlan(b, batch.Log{}, p, unit.Style{})
		found := c.kind == ""
		for _, l := range said.Limits {
			found = found || l.Kind == c.kind
		}
		if !found || said.Passed != (c.kind != "") {
			t.Errorf("%s: expected %q, passed %v, got %v, %+v", what, c.kind, c.kind != "", said.Passed, said.Limits)
		}
	}
}

// What a person read above the rating is not cleared for a plan by what a device sent since; a person clears it.
func TestPlanIsNotClearedByADevice(t *testing.T) {
	for what, device := range map[string]bool{"a device": true, "a person": false} {
		b, p := someBatch(), somePlan(0.72)
		p.From = pitched.Add(60 * time.Hour)
		log := batch.Log{Readings: []batch.Reading{
			{Time: pitched.Add(57 * time.Hour), Quantity: batch.Pressure, Value: 2.6e5},
			{Time: pitched.Add(58 * time.Hour), Quantity: batch.Pressure, Value: 7e4, Unattended: device},
		}}
		if said := SayPlan(b, log, p, unit.Style{}); said.Passed != device {
			t.Errorf("%s read less since: a limit is passed: got %v, want %v", what, said.Passed, device)
		}
	}
}

// The working valve comes before the gas and the gas before the cold, and what is done already is not said again.
func TestPlanStepsStandInOrder(t *testing.T) {
	b, p := someBatch(), somePlan(0.72)
	do := SayPlan(b, batch.Log{}, p, unit.Style{}).Choices[0].Steps[3].Do
	valve, gas, cold := strings.Index(do, "working valve"), strings.Index(do, "gas on"), strings.Index(do, "temperature")
	if !strings.HasPrefix(do, "Do the butter test first.") || valve < 0 || gas < valve || cold < gas {
		t.Errorf("expected butter test, valve, gas, cold, got %q", do)
	}
	p.From = pitched.Add(97 * time.Hour)
	if steps := SayPlan(b, batch.Log{}, p, unit.Style{}).Choices[0].Steps; len(steps) != 4 {
		t.Errorf("expected the two steps behind to be left out of six, got %d", len(steps))
	}
}

// A plan that wants the butter test before the cold has it said before the gas.
func TestButterTestIsSaidBeforeTheCold(t *testing.T) {
	first := says(done(someForecast(150, 0, 0)), func(b *batch.Batch, _ *batch.Log) { b.Programme[1].Set.Action = estimate.ButterTest }).Next[0]
	if first.Key != "before cold" || !strings.HasPrefix(first.Do, "Do the butter test first.") || !strings.Contains(first.Do, "Gas on at") {
		t.Errorf("expected the butter test, then the gas, got %+v", first)
	}
}
