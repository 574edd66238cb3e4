package advice

import (
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// jobsOf are the jobs of the batch as told, what each does and when.
func jobsOf(f *estimate.Forecast, change func(b *batch.Batch, log *batch.Log)) (do []string, all []Job) {
	b, log := someBatch(), batch.Log{}
	if change != nil {
		change(b, &log)
	}
	all = Jobs(b, log, batch.Upkeep{}, f, f.At, unit.Style{})
	for _, j := range all {
		do = append(do, j.Do)
	}
	return do, all
}

// What is behind is not listed, what is said as the next action is not listed twice, and the order is that of the plan.
func TestJobsAreThoseStillToDo(t *testing.T) {
	for name, c := range map[string]struct {
		f      *estimate.Forecast
		change func(b *batch.Batch, log *batch.Log)
		want   []string // how the jobs begin
	}{
		"at work":  {someForecast(60, 18, 12), nil, []string{"One reading would settle it", "Turn the gas on at 10 psi. Set the temperature to 1 °C.", "Pour the first", "Let the pressure out, then clean it the same day."}},
		"finished": {done(someForecast(200, 0.3, 0.1)), nil, []string{"Gas on at 10 psi first, then the cold.", "Pour the first", "Let the pressure out"}},
		"cold is written down": {chilled(done(someForecast(260, 0.3, 0.1)), 1), func(b *batch.Batch, log *batch.Log) {
			log.Events = []batch.Event{{Time: pitched.Add(220 * time.Hour), Kind: batch.HoldAt, Temperature: unit.Celsius(1)}, {Time: pitched.Add(220 * time.Hour), Kind: batch.GasOn, Pressure: unit.Gauge(10 * unit.PSI)}}
		}, []string{"Pour the first", "Let the pressure out"}},
		"a valve that is set too low for the gas": {someForecast(60, 18, 12), func(b *batch.Batch, _ *batch.Log) {
			b.Programme[0].Set.Relief = gauge(10 * unit.PSI)
		}, []string{"One reading would settle it", "Set the working valve to 13 psi or more. Lower, it lets out the gas you pay for. Turn the gas on at 10 psi.", "Pour the first", "Let the pressure out"}},
	} {
		do, _ := jobsOf(c.f, c.change)
		if len(do) != len(c.want) {
			t.Errorf("%s: got %q", name, do)
			continue
		}
		for i := range do {
			if !strings.HasPrefix(do[i], c.want[i]) {
				t.Errorf("%s: job %d is %q, expected %q", name, i+1, do[i], c.want[i])
			}
		}
	}
}

// A job that waits says when what it waits for is likely: of a gravity, when the edges of its band get there.
func TestJobsSayWhenTheyAreAwaited(t *testing.T) {
	f := someForecast(60, 18, 12)
	f.Series = estimate.Series{}
	for h := range 5 { // 1.030 to 1.010, a hundredth a day, give or take two points
		g := 1.030 - 0.005*float64(h)
		f.Series.Hours = append(f.Series.Hours, 60+12*float64(h))
		f.Series.Gravity = append(f.Series.Gravity, around(g, 0.004))
		f.Series.Temperature = append(f.Series.Temperature, around(293, 1))
		f.Series.Volumes, f.Series.Pressure = append(f.Series.Volumes, around(1.2, 0.1)), append(f.Series.Pressure, around(10*unit.PSI, unit.PSI))
	}
	_, all := jobsOf(f, func(b *batch.Batch, _ *batch.Log) {
		b.Programme[1].When = batch.Condition{Kind: batch.GravityAtMost, Gravity: 1.0205}
	})
	v := viewOf(someBatch(), batch.Log{}, f, f.At, unit.Style{})
	m := v.falls(1.0205)
	for i, want := range []float64{84, 84, 96} { // 1.016, 1.020 and 1.015 + 0.004
		if got := []time.Time{m.P05, m.P50, m.P95}[i].Sub(pitched).Hours(); got != want {
			t.Errorf("edge %d is at %g h, expected %g h", i, got, want)
		}
	}
	if !strings.HasPrefix(all[1].When, "At 1.021 or lower") && !strings.HasPrefix(all[1].When, "At 1.020 or lower") || !strings.Contains(all[1].Awaited, "nine times in ten") {
		t.Errorf("got %+v", all[1])
	}
	if m := v.falls(1.000); !m.P05.IsZero() {
		t.Errorf("it never falls so far, got %v", m)
	}
	_, all = jobsOf(someForecast(60, 18, 12), nil)
	if !strings.HasPrefix(all[1].Awaited, "Finished fermenting: ") || !strings.HasPrefix(all[2].Awaited, "Ready to pour: ") || all[3].Awaited != "" {
		t.Errorf("got %+v", all)
	}
}
