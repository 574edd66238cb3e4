package advice

import (
	"math"
	"slices"
	"testing"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// What a change is good for is said in odds and days, each where it differs, and not where it came already or no day is wished for.
func TestWhatAChangeIsGoodFor(t *testing.T) {
	const by = "Likely, 72 %, to be ready by Friday 4 December at 19:00. "
	type future struct {
		odds   float64
		later  time.Duration // than the plan's end
		never  bool          // it does not end within the days looked at
		uncold bool          // nobody ever cools it
	}
	for _, c := range []struct {
		what      string
		planNever bool
		change    future
		set       batch.Setting
		unwished  bool
		ended     bool
		want      []string
	}{
		{"warmer", false, future{odds: 0.9, later: -48 * time.Hour}, batch.Setting{Hold: kelvin(22)}, false, false,
			[]string{by + "22 °C would make it very likely, 90 %.", "It would finish about 2 days sooner."}},
		{"colder", false, future{odds: 0.4, later: 20 * time.Hour}, batch.Setting{Hold: kelvin(18)}, false, false,
			[]string{by + "With 18 °C it could go either way, 40 %.", "It would finish about 20 h later."}},
		{"more gas", false, future{odds: 0.73, later: time.Hour}, batch.Setting{Gas: gauge(12 * unit.PSI), Relief: gauge(18 * unit.PSI)}, false, false,
			[]string{by + "The working valve at 18 psi and gas at 12 psi would change little."}},
		{"no gas", false, future{odds: 0.1}, batch.Setting{GasOff: true}, false, false, []string{by + "No gas until your plan turns it on would make it very unlikely, 10 %."}},
		{"only then it ends", true, future{odds: 0.72}, batch.Setting{Hold: kelvin(22)}, true, false, []string{"It would finish about Sunday. By the plan it more likely would not, within the days looked at."}},
		{"then it does not end", false, future{odds: 0.72, never: true}, batch.Setting{Hold: kelvin(12)}, true, false, []string{"It more likely would not finish within the days looked at."}},
		{"no day wished for", false, future{odds: math.NaN(), later: time.Hour}, batch.Setting{Hold: kelvin(21)}, true, false, nil},
		{"no cold in plan or change", false, future{odds: 0.1, uncold: true}, batch.Setting{Hold: kelvin(21)}, false, false, nil},
		{"it has ended", false, future{odds: 0.9, later: -48 * time.Hour}, batch.Setting{Hold: kelvin(22)}, true, true, nil},
	} {
		b, f := someBatch(), someForecast(120, 2, 0.8)
		if c.unwished {
			b.Target.Ready = time.Time{}
		}
		if c.change.uncold {
			f.Milestones.Ready = estimate.Milestone{Never: 1}
		}
		f.Milestones.Finished = timesAround(f.At.Add(80*time.Hour), 30*time.Hour)
		if c.ended {
			f.Milestones.Finished = timesAround(f.At.Add(-10*time.Hour), 5*time.Hour)
		}
		run := func(steps []batch.Step, _ unit.Duration) (*estimate.Ahead, error) {
			a := &estimate.Ahead{Milestones: f.Milestones}
			changed := len(steps) > 0 && steps[0].Set == c.set
			never := c.planNever && !changed || changed && c.change.never
			if changed {
				a.Milestones.Ready.Probability = c.change.odds
				a.Milestones.Finished = timesAround(f.Milestones.Finished.P50.Add(c.change.later), 30*time.Hour)
			}
			if never {
				a.Milestones.Finished = estimate.Milestone{Never: 1, Probability: math.NaN()}
			}
			return a, nil
		}
		got, err := Compare(run, b, batch.Log{}, f, c.set, 120*unit.Hour, f.At, unit.Style{})
		if err != nil || !slices.Equal(got.Says, c.want) {
			t.Errorf("%s: got %q (%v), want %q", c.what, got.Says, err, c.want)
		}
		for _, s := range got.Says {
			checkWords(t, c.what, s, 18)
		}
	}
}

// A change is offered where it may help and the vessel can follow it: warmth for what may come too late or is stuck in the cold, the
// cold at once for what is finished, never without gas. Else nothing is.
func TestAChangeIsOffered(t *testing.T) {
	warm := func(b *batch.Batch) { b.Place.Belt = 50 }
	late := func(f *estimate.Forecast) *estimate.Forecast { f.Milestones.Ready.Probability = 0.6; return f }
	for _, c := range []struct {
		what   string
		f      *estimate.Forecast
		change func(b *batch.Batch)
		want   string
	}{
		{"works, may come late", late(someForecast(60, 20, 12)), warm, "Would 22 °C help? Try it."},
		{"stuck in the cold", chilled(late(someForecast(240, 12, 0.2)), 13), func(b *batch.Batch) { warm(b); b.Programme[0].Set.Hold = kelvin(13) }, "Would 20 °C help? Try it."},
		{"finished, may come late", late(done(someForecast(200, 0, 0))), func(b *batch.Batch) { b.Programme[1].AtSet, b.Programme[1].At = true, 300*unit.Hour }, "Would 1 °C and gas at 10 psi help? Try it."},
		{"finished, and no gas to cool it under", late(done(someForecast(200, 0, 0))), func(b *batch.Batch) {
			b.Programme[1].AtSet, b.Programme[1].At, b.Programme[1].Set.Gas = true, 300*unit.Hour, nil
		}, ""},
		{"surely in time", func() *estimate.Forecast {
			f := someForecast(60, 20, 12)
			f.Milestones.Ready.Probability = 0.98
			return f
		}(), warm, ""},
		{"as warm as it likes", late(someForecast(60, 20, 12)), func(b *batch.Batch) { warm(b); b.Programme[0].Set.Hold = kelvin(24) }, ""},
		{"nothing to warm it", late(someForecast(60, 20, 12)), nil, ""},
		{"no rating", late(someForecast(60, 20, 12)), func(b *batch.Batch) { warm(b); b.Vessel.Rating = nil }, ""},
		{"no cold in its plan", func() *estimate.Forecast {
			f := late(someForecast(60, 20, 12))
			f.Milestones.Ready = estimate.Milestone{Never: 1}
			return f
		}(), warm, ""},
		{"no day wished for", late(someForecast(60, 20, 12)), func(b *batch.Batch) { warm(b); b.Target.Ready = time.Time{} }, ""},
		{"cold already", chilled(late(done(someForecast(300, 0, 0))), 2), warm, ""},
	} {
		b := someBatch()
		if c.change != nil {
			c.change(b)
		}
		_, words, ok := Offer(b, batch.Log{Readings: []batch.Reading{{Time: c.f.At.Add(-time.Hour), Quantity: batch.Gravity, Value: c.f.Now.Gravity.P50}}}, batch.Upkeep{}, c.f, c.f.At, unit.Style{})
		if words != c.want || ok != (c.want != "") {
			t.Errorf("%s: got %q, want %q", c.what, words, c.want)
		}
	}
}

// A wished day that the plan cannot meet because it never cools the beer is told so; one that comes too late all the same is not.
func TestLateForWantOfCold(t *testing.T) {
	f := someForecast(60, 20, 12)
	f.Milestones.Ready, f.Milestones.Cold = estimate.Milestone{Never: 1}, estimate.Milestone{Never: 1}
	for cold, want := range map[bool]string{false: "No step of your plan cools it to 3 °C.", true: "Almost certainly not, under 1 % by Friday 4 December, evening."} {
		a := spoke(says(f, func(b *batch.Batch, _ *batch.Log) {
			if !cold {
				b.Programme = b.Programme[:1]
			}
		}), "late")
		if a == nil || a.Why != want {
			t.Errorf("cold planned %v: got %+v, want %q", cold, a, want)
		}
	}
}

// Gas that is turned off and that no later step turns on is no gas at all.
func TestNoGasAtAll(t *testing.T) {
	b := someBatch()
	v := viewOf(b, batch.Log{}, someForecast(60, 20, 12), b.Pitched, written)
	off := batch.Setting{GasOff: true}
	for want, later := range map[string][]batch.Step{"no gas from the cylinder": b.Programme[:1], "no gas until your plan turns it on": b.Programme} {
		if got := v.changeWords(&off, later); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}
