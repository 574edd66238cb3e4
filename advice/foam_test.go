package advice

import (
	"slices"
	"testing"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
	"spile/vessel"
)

// pours is what is said of beer with so much gas, so warm and under so much pressure, whose glasses were mostly foam.
func pours(volumes, celsius float64, p unit.Gauge) Said {
	f := chilled(done(someForecast(400, 0, 0)), celsius)
	f.CooledHours = 100
	f.Now.Volumes, f.Now.Pressure = around(volumes, 0.1), around(float64(p), 0.5*unit.PSI)
	f.Findings, f.Questions.Leak = nil, estimate.Leaking{}
	return says(f, func(b *batch.Batch, l *batch.Log) {
		b.Target.Temperature, b.Programme[1].Set.Hold = unit.Celsius(celsius), kelvin(celsius)
		b.Target.CO2 = unit.Volumes(volumes)
		l.Events = []batch.Event{
			{Time: f.At.Add(-50 * time.Hour), Kind: batch.HoldAt, Temperature: unit.Celsius(celsius)},
			{Time: f.At.Add(-4 * time.Hour), Kind: batch.Poured, Volume: unit.Litre},
			{Time: f.At.Add(-3 * time.Hour), Kind: batch.Noticed, Words: batch.FoamInGlass},
		}
	})
}

// falls is what is said of beer without a cylinder that cools, whose gauge was read twice.
func falls(from, to unit.Gauge, change func(f *estimate.Forecast, l *batch.Log)) Said {
	f := chilled(done(someForecast(200, 0, 0)), 6)
	f.Now.Volumes, f.Now.Pressure = around(1.6, 0.1), around(float64(to), 0.5*unit.PSI)
	f.Questions.Leak = estimate.Leaking{Verdict: estimate.CannotTell, Probability: 0.08}
	return says(f, func(b *batch.Batch, l *batch.Log) {
		b.Gas, b.Programme[1].Set.Gas = nil, nil
		l.Readings = []batch.Reading{
			{Time: f.At.Add(-20 * time.Hour), Quantity: batch.Pressure, Value: float64(from)},
			{Time: f.At.Add(-2 * time.Hour), Quantity: batch.Pressure, Value: float64(to)},
		}
		l.Events = []batch.Event{{Time: f.At.Add(-21 * time.Hour), Kind: batch.HoldAt, Temperature: unit.Celsius(1)}}
		if change != nil {
			change(f, l)
		}
	})
}

// spoke is the action of a rule; nil where it is silent.
func spoke(s Said, key string) *Action {
	if i := slices.IndexFunc(s.Next, func(a Action) bool { return a.Key == key }); i >= 0 {
		return &s.Next[i]
	}
	return nil
}

// Why a glass is mostly foam, as far as the vessel tells. 2.5 volumes at 6 °C need about
// 13 psi, and 10 psi hold them at about 2 °C (tables of the trade, memory).
func TestFoamInTheGlass(t *testing.T) {
	for _, c := range []struct {
		said    Said
		do, why string
	}{
		{pours(2.5, 6, 10*unit.PSI), "Mostly foam because gas comes out in the vessel. Try cooling it to 2 °C first.", "At 6 °C, 2.5 volumes need"},
		{pours(3.2, 3, 20*unit.PSI), "Mostly foam because it holds too much gas. Try letting it down to about 2.5 volumes first.", "It holds 3.2 volumes. Above 3.0 volumes nearly any tap foams."},
		{pours(2.4, 3, 12*unit.PSI), "Mostly foam, and the vessel holds its gas. Try line, tap and glass first.", "Keep them cold and clean"},
	} {
		a := spoke(c.said, "foam in the glass")
		if a == nil || a.Do != c.do || len(a.Why) < len(c.why) || a.Why[:len(c.why)] != c.why {
			t.Errorf("got %+v, want %q because %q", a, c.do, c.why)
		}
	}
	f := someForecast(60, 20, 12)
	working := says(f, func(_ *batch.Batch, l *batch.Log) {
		l.Events = []batch.Event{{Time: f.At.Add(-time.Hour), Kind: batch.Noticed, Words: batch.FoamInGlass}}
	})
	if a := spoke(working, "foam in the glass"); a != nil {
		t.Errorf("nothing is poured of beer that works, and yet %+v", a)
	}
}

// A gauge that falls over cold beer is said to be no leak with its odds; with a leak that is likely, gas let out meanwhile, a small
// fall, or beer that holds all it can, nothing is said.
func TestFallingGauge(t *testing.T) {
	a := spoke(falls(12*unit.PSI, 9*unit.PSI, nil), "falling gauge")
	if a == nil || a.Do != "Very likely, 92 %, no leak. Cold beer is drinking the gas." || a.Why != "From 12 psi to 9 psi, and the beer can still take gas up." {
		t.Errorf("got %+v", a)
	}
	for what, s := range map[string]Said{
		"a small fall": falls(12*unit.PSI, 11.5*unit.PSI, nil),
		"let out": falls(12*unit.PSI, 9*unit.PSI, func(f *estimate.Forecast, l *batch.Log) {
			l.Events = append(l.Events, batch.Event{Time: f.At.Add(-10 * time.Hour), Kind: batch.VentedTo, From: 12 * unit.PSI, To: 9 * unit.PSI})
		}),
		"perhaps a leak": falls(12*unit.PSI, 9*unit.PSI, func(f *estimate.Forecast, _ *batch.Log) { f.Questions.Leak.Probability = 0.5 }),
		"full of gas":    falls(12*unit.PSI, 9*unit.PSI, func(f *estimate.Forecast, _ *batch.Log) { f.Now.Volumes = around(3.5, 0.1) }),
		"never asked":    falls(12*unit.PSI, 9*unit.PSI, func(f *estimate.Forecast, _ *batch.Log) { f.Questions.Leak = estimate.Leaking{} }),
	} {
		if a := spoke(s, "falling gauge"); a != nil {
			t.Errorf("%s: got %+v", what, a)
		}
	}
}

// What the gauge did in a test is said beside what it proves; that it climbs by itself only of beer that works.
func TestWhatTheGaugeClimbed(t *testing.T) {
	works, idle := vessel.Quiet{Points: 1, SD: 0.1, Limit: 0.25}, vessel.Quiet{Points: 0.02, SD: 0.1, Limit: 0.25}
	for _, c := range []struct {
		what  string
		quiet vessel.Quiet
		rise  unit.Gauge
		read  bool
		want  []string
	}{
		{"works", works, 6.4 * unit.PSI, true, []string{"Not finished. The gauge still climbs by itself.", "The gauge climbed 6.5 psi in 24 h. That is about 1.00 points a day."}},
		{"not settled", vessel.Quiet{Points: 1, SD: 0.1, Limit: 0.25, Unsettled: 0.8}, 6.4 * unit.PSI, true, nil},
		{"gives gas back", vessel.Quiet{Points: 0.25, SD: 0.1, Limit: 0.25, Unsettled: 0.1}, 6.4 * unit.PSI, true,
			[]string{"The gauge climbed 6.5 psi in 24 h. That is about 0.25 points a day.", "Gas that may be coming back out of the beer is already taken off."}},
		{"warmth alone", idle, unit.PSI, true, []string{"The gauge climbed 1 psi in 24 h. That is about 0.02 points a day."}},
		{"stands", idle, 0.1 * unit.PSI, true, []string{"The gauge stood still for 24 h."}},
		{"falls", idle, -1 * unit.PSI, true, []string{"The gauge fell 1 psi in 24 h."}},
		{"means of a sensor", works, 6.4 * unit.PSI, false, nil},
	} {
		f := someForecast(120, 2, 0.8)
		p := estimate.Proof{First: f.At.Add(-26 * time.Hour), Second: f.At.Add(-2 * time.Hour), Quiet: c.quiet}
		f.Questions.Proof = []estimate.Proof{p}
		s := says(f, func(_ *batch.Batch, l *batch.Log) {
			if c.read {
				l.Readings = []batch.Reading{{Time: p.First, Quantity: batch.Pressure, Value: 35e3}, {Time: p.Second, Quantity: batch.Pressure, Value: 35e3 + float64(c.rise)}}
			}
		})
		var got []string
		for _, a := range s.Asked {
			if a.Key == "proof" {
				got = a.Sentences[1:max(len(a.Sentences)-2, 1)] // what is said of the gauge, after the verdict
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: got %q, want %q", c.what, got, c.want)
		}
	}
}
