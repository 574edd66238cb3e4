package vessel

import (
	"math"
	"math/rand/v2"
	"testing"

	"spile/co2"
	"spile/unit"
)

// The 20 L of 1.046 in 27 L whose numbers below were computed apart from this code.
var reference = Gas{Beer: 20 * unit.Litre, Head: 7 * unit.Litre}

func psi(g float64) unit.Pressure { return unit.Gauge(g * unit.PSI).Absolute(unit.Atmosphere) }

func toPSI(p unit.Pressure) float64 { return float64(p.Gauge(unit.Atmosphere)) / unit.PSI }

// Computed apart from this code with an exponential solubility of CO2 in beer, ideal gas and Balling's balance
// (memory): 1 point a day lifts the gauge by 6.4 psi a day in 20 L, 7.4 with 23 L and 5.7 with 18 L of 27.
func TestQuietGauge(t *testing.T) {
	for _, c := range []struct{ beer, rise, points float64 }{{20, 6.4, 1}, {23, 7.4, 1}, {18, 5.7, 1}, {20, 0, 0}} {
		q := QuietGauge{
			Gas: Gas{Beer: unit.Volume(c.beer) * unit.Litre, Head: unit.Volume(27-c.beer) * unit.Litre}, Original: 1.046, Gauges: DialAndStrip,
			First: co2.State{Temperature: unit.Celsius(20), Pressure: psi(5)}, Second: co2.State{At: unit.Day, Temperature: unit.Celsius(20), Pressure: psi(5 + c.rise)},
		}
		got, err := q.Points(nil)
		if err != nil || math.Abs(got.Points-c.points) > 0.06*c.points+1e-12 {
			t.Errorf("%g L: %g psi a day: got %.3f points a day (%v), want %g, tolerance 6 %% (solubility)", c.beer, c.rise, got.Points, err, c.points)
		}
	}
}

// Limits of detection computed apart from this code for the same vessel: 0.35 point a day in 24 h and 0.11 in 72 h with
// dial and strip, 0.08 in 24 h with transducer and probe.
func TestQuietGaugeDetects(t *testing.T) {
	for _, c := range []struct {
		gauges      Gauges
		hours, want float64
	}{{DialAndStrip, 24, 0.35}, {DialAndStrip, 72, 0.11}, {TransducerAndProbe, 24, 0.08}} {
		at := co2.State{Temperature: unit.Celsius(20), Pressure: psi(8)}
		q := QuietGauge{Gas: reference, Original: 1.046, Gauges: c.gauges, First: at, Second: at}
		q.Second.At = unit.Duration(c.hours * unit.Hour)
		if got, err := q.Points(nil); err != nil || math.Abs(got.Limit-c.want) > 0.1*c.want {
			t.Errorf("%+v over %g h: got a limit of %.3f points a day (%v), want %g, tolerance 10 %%", c.gauges, c.hours, got.Limit, err, c.want)
		}
	}
}

// What the limit promises holds for readings drawn with that scatter: of quiet beer one in twenty gives a false alarm, of
// beer that falls by the limit four in five are found.
func TestQuietGaugePromise(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	q := QuietGauge{Gas: reference, Original: 1.046, Gauges: DialAndStrip, First: co2.State{Temperature: unit.Celsius(20), Pressure: psi(8)}}
	q.Second = q.First
	q.Second.At = unit.Day
	still, err := q.Points(nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ fall, want float64 }{{0, 0.05}, {still.Limit, 0.80}} {
		end := q.AtRest(q.First.Temperature, q.Content(q.First.Temperature, q.First.Pressure)+c.fall*GasPerPoint(1.046)*20*unit.Litre/molarCO2)
		alarms := 0
		const n = 4000
		for range n {
			noisy := q
			noisy.First = scattered(r, q.First, q.Gauges)
			noisy.Second = scattered(r, co2.State{At: unit.Day, Temperature: q.First.Temperature, Pressure: end}, q.Gauges)
			if got, err := noisy.Points(nil); err == nil && got.Points > falseAlarm*got.SD {
				alarms++
			}
		}
		if share := float64(alarms) / n; math.Abs(share-c.want) > 0.025 {
			t.Errorf("a fall of %.2f points a day: %.3f called working, want %.2f, tolerance 0.025", c.fall, share, c.want)
		}
	}
}

func scattered(r *rand.Rand, s co2.State, g Gauges) co2.State {
	s.Pressure += unit.Pressure(r.NormFloat64() * float64(g.Pressure))
	s.Temperature += unit.Temperature(r.NormFloat64() * float64(g.Temperature))
	return s
}

// Computed apart from this code for the reference vessel: let down from 10 to 8 psi it climbs back to 9.4, to 0 back to 7.2,
// with dead yeast.
func TestLetDown(t *testing.T) {
	for _, c := range []struct{ to, want float64 }{{8, 9.4}, {0, 7.2}, {10, 10}} {
		if got := toPSI(reference.LetDown(unit.Celsius(20), psi(10), psi(c.to))); math.Abs(got-c.want) > 0.2 {
			t.Errorf("from 10 to %g psi: climbs back to %.2f, want %.1f, tolerance 0.2", c.to, got, c.want)
		}
	}
}

// Gas above and in the beer is the same sum as that of a shut vessel, and AtRest undoes Content.
func TestContent(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	for range 200 {
		g := Gas{Beer: unit.Volume(1+25*r.Float64()) * unit.Litre, Head: unit.Volume(0.5+10*r.Float64()) * unit.Litre}
		at, p := unit.Celsius(30*r.Float64()), psi(40*r.Float64())
		if back := g.AtRest(at, g.Content(at, p)); math.Abs(float64(back/p)-1) > 1e-8 {
			t.Errorf("%+v at %.1f °C: %.6f Pa comes back as %.6f", g, at.Celsius(), float64(p), float64(back))
		}
	}
	s, err := Sealed{Volume: 20 * unit.Litre, Capacity: 27 * unit.Litre, From: unit.Celsius(20), To: unit.Celsius(20), Pressure: psi(10), Made: 20 * unit.Gram}.Equilibrium(nil)
	want := reference.AtRest(unit.Celsius(20), reference.Content(unit.Celsius(20), psi(10))+20*unit.Gram/molarCO2)
	if err != nil || math.Abs(float64(s.End/want)-1) > 0.005 {
		t.Errorf("20 g made in a shut vessel at 10 psi: got %.3f psi (%v), want %.3f by the sum, tolerance 0.5 %%", toPSI(s.End), err, toPSI(want))
	}
}

// What is proposed stays below the valve's setting less its error, and no lower than need be.
func TestLetDownTo(t *testing.T) {
	warm := unit.Celsius(20)
	const margin = 0.5
	to, times := reference.LetDownTo(warm, psi(10), psi(15), unit.Atmosphere, 1.046, margin)
	back := reference.LetDown(warm, psi(10), to)
	end := reference.AtRest(warm, reference.Content(warm, back)+margin*GasPerPoint(1.046)*20*unit.Litre/molarCO2)
	if below := 15 - toPSI(end); times != 1 || math.Abs(below-nineInTen*float64(ValveSD)/unit.PSI) > 0.01 || to < unit.Atmosphere {
		t.Errorf("let down %d times to %.2f psi it ends %.2f psi below the setting; want the valve's error, %.2f", times, toPSI(to), below, nineInTen*float64(ValveSD)/unit.PSI)
	}
	for _, c := range []struct{ from, opens, points, to, times float64 }{
		{5, 30, 0.5, 5, 0},   // far below the setting
		{10, 10, 20, 0, -1},  // 20 points to come pass any valve at 10 psi
		{10, 10, 0.5, -1, 3}, // once to nothing climbs back to 7.2 psi, twice to 5.0, and half a point adds 3.2
	} {
		to, times := reference.LetDownTo(warm, psi(c.from), psi(c.opens), unit.Atmosphere, 1.046, c.points)
		if times != int(c.times) || c.to >= 0 && math.Abs(toPSI(to)-c.to) > 1e-9 {
			t.Errorf("from %g psi under a valve at %g, %g points: got %.2f psi, %d times; want %g, %g", c.from, c.opens, c.points, toPSI(to), times, c.to, c.times)
		}
	}
}
