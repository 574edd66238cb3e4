package report

import (
	"strings"
	"testing"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// plan is a made-up plan for the batch of fixture, with a choice that needs a cylinder and one that does not.
func plan(b *batch.Batch, rated bool) *estimate.Plan {
	ready := estimate.Milestone{P05: pitched.Add(230 * time.Hour), P50: pitched.Add(290 * time.Hour), Probability: 0.72}
	steps := []batch.Step{
		{AtSet: true, Set: batch.Setting{Hold: degrees(21), Relief: gauge(5)}},
		{When: batch.Condition{Kind: batch.GravityAtMost, Gravity: 1.02}, Set: batch.Setting{Hold: degrees(22), Relief: gauge(19)}},
		{When: batch.Condition{Kind: batch.FinishedFor, For: unit.Day}, Set: batch.Setting{Hold: degrees(2), Relief: gauge(23), Gas: gauge(20), Action: estimate.ButterTest}},
		{When: batch.Condition{Kind: batch.Carbonated}, Set: batch.Setting{Gas: gauge(12)}},
	}
	worst := estimate.Worst{Contents: 27e5, Regulator: 2.4e5, Hottest: unit.Celsius(40)}
	p := &estimate.Plan{From: pitched, Ready: b.Target.Ready, Earliest: pitched.Add(380 * time.Hour), Pressure: rated, Needs: *gauge(11), Most: *gauge(28), Served: unit.Celsius(3),
		Terminal: estimate.Band{P05: 1.008, P50: 1.01, P95: 1.012}, Tried: 250, Trusted: true}
	p.Choices = []estimate.Choice{
		{Aims: []estimate.Aim{estimate.AimLikely, estimate.AimEarliest}, Programme: steps, Buys: []estimate.Buy{{Change: estimate.OneDegreeWarmer, Probability: 0.75}, {Change: estimate.ColdDaySooner, Probability: 0.74}, {Change: estimate.WishedDayLater, Probability: 0.8}},
			Outcome: estimate.Outcome{Probability: 0.72, Ready: ready, VeryLikely: pitched.Add(380 * time.Hour), Gas: 0.031, Highest: *gauge(22), Coldest: unit.Celsius(1), Worst: worst}},
		{Aims: []estimate.Aim{estimate.AimLeastGas, estimate.AimGentle}, Programme: steps[:3], Buys: []estimate.Buy{{Change: estimate.WishedDayLater, Probability: 0.6}},
			Outcome: estimate.Outcome{Probability: 0.55, Ready: ready, Gas: 0.001, Highest: *gauge(20), Coldest: unit.Celsius(1), Worst: worst}},
	}
	return p
}

func TestPlanText(t *testing.T) {
	b, _, _ := fixture()
	p := plan(b, true)
	text := PlanText(b, p, advice.SayPlan(b, batch.Log{}, p, unit.Style{}))
	for i, line := range strings.Split(text, "\n") {
		if n := len([]rune(line)); n > columns {
			t.Errorf("line %d: expected at most %d columns, got %d: %s", i+1, columns, n, line)
		}
	}
	golden(t, "plan.txt", text)
}

func TestPlanTextWithoutRatingShowsNoPressure(t *testing.T) {
	b, _, _ := fixture()
	b.Vessel.Rating = nil
	p := plan(b, false)
	for i := range p.Choices {
		p.Choices[i].Programme = []batch.Step{{AtSet: true, Set: batch.Setting{Hold: degrees(20)}}}
	}
	said := advice.SayPlan(b, batch.Log{}, p, unit.Style{})
	text := PlanText(b, p, said)
	if before, _, _ := strings.Cut(text, "\nSafety"); !said.Passed || !strings.Contains(text, "No rating known") || strings.Contains(before, " psi") {
		t.Errorf("expected a limit passed, its reason and no pressure in the plan, got %v\n%s", said.Passed, text)
	}
}
