package advice

import (
	"slices"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/limit"
	"spile/unit"
)

// Other settings cannot change what has likely come already, whenever they would have it.
func TestTriedLeavesOutWhatHasCome(t *testing.T) {
	b, f := someBatch(), someForecast(120, 2, 0.8)
	f.Milestones.Attenuated90 = timesAround(f.At.Add(-time.Hour), 5*time.Hour)
	a := &estimate.Ahead{Milestones: someForecast(120, 2, 0.8).Milestones}
	var keys []string
	for _, x := range SayTry(b, batch.Log{}, f, b.Programme, a, f.At, unit.Style{}).Ahead {
		keys = append(keys, x.Key)
	}
	if want := []string{"finished", "cold", "carbonated", "ready"}; !slices.Equal(keys, want) {
		t.Errorf("got %q, want %q", keys, want)
	}
}

// Only what asks for something today or now is exceeded by a change.
func TestExceedsWhatCannotWait(t *testing.T) {
	var c Compared
	for _, s := range []limit.Severity{limit.WhenYouCan, limit.Today, limit.Now} {
		c.If.Limits = append(c.If.Limits, Limit{Finding: limit.Finding{Severity: s}})
	}
	if got := c.Exceeds(); len(got) != 2 || got[0].Severity != limit.Today || got[1].Severity != limit.Now {
		t.Errorf("got %+v", got)
	}
}

// Gas near or above the working valve is said beside what is tried, with what would set it right within the vessel: the valve higher,
// or the gas lower where no setting of the valve is left, which is a limit too. What the plan alone sets is not told again.
func TestTriedGasNearTheValve(t *testing.T) {
	for _, c := range []struct {
		set    batch.Setting
		want   string
		passed bool
	}{
		{batch.Setting{Gas: gauge(6 * unit.PSI), Relief: gauge(10 * unit.PSI)}, "Set the working valve to 13 psi or more.", false}, // for the gas that the plan turns on later
		{batch.Setting{Gas: gauge(12 * unit.PSI)}, "Set the working valve to 15 psi or more.", false},
		{batch.Setting{Gas: gauge(12 * unit.PSI), Relief: gauge(16 * unit.PSI)}, "", false},
		{batch.Setting{Gas: gauge(27 * unit.PSI)}, "Set the gas to 26 psi or less. The working valve must stand above it, and never above 29 psi.", false},
		{batch.Setting{Gas: gauge(30 * unit.PSI), Relief: gauge(10 * unit.PSI)}, "Set the gas to 26 psi or less.", true},
		{batch.Setting{Hold: kelvin(18)}, "", false},
	} {
		b, f := someBatch(), someForecast(120, 2, 0.8)
		b.Vessel.SafetyRelief, f.At = gauge(2.2e5), b.Pitched.Add(120*time.Hour)
		b.Programme[0].Set.Relief = gauge(10 * unit.PSI)
		run := func([]batch.Step, unit.Duration) (*estimate.Ahead, error) {
			return &estimate.Ahead{Milestones: f.Milestones, Highest: 1e5}, nil
		}
		got, err := Compare(run, b, batch.Log{}, f, c.set, 120*unit.Hour, f.At, written)
		if err != nil {
			t.Fatal(err)
		}
		near := slices.ContainsFunc(got.Exceeds(), func(l Limit) bool { return l.Kind == limit.GasNearSafety })
		if (got.If.Drains == "") != (c.want == "") || !strings.Contains(got.If.Drains, c.want) || near != c.passed || near && !got.If.Passed {
			t.Errorf("%+v: got %q, limits %+v", c.set, got.If.Drains, got.Exceeds())
		}
		if c.want != "" && !strings.Contains(got.If.Drains, "the valve can empty the cylinder") {
			t.Errorf("%+v: got %q", c.set, got.If.Drains)
		}
		for _, s := range strings.SplitAfter(got.If.Drains, ". ") {
			checkWords(t, "drains", s, 18)
		}
	}
}

// A middle that is written lies within its band, however lopsided.
func TestGramsWithinTheirBand(t *testing.T) {
	for want, b := range map[string]estimate.Band{
		"40 g":                            {P05: 0.031, P50: 0.044, P95: 0.059},
		"40 g, between 39 g and 1.9 kg":   {P05: 0.0387, P50: 0.0398, P95: 1.9},
		"1.9 kg, between 28 g and 1.9 kg": {P05: 0.0277, P50: 1.9, P95: 1.9},
		"0 g":                             {},
	} {
		if got := gramsIn(written, b); got != want {
			t.Errorf("%+v: got %q, want %q", b, got, want)
		}
	}
}
