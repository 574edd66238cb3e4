package estimate

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"

	"spile/batch"
	"spile/unit"
)

// warmth are readings of a thermometer every so many hours.
func warmth(instrument string, every float64, celsius ...float64) []batch.Reading {
	var out []batch.Reading
	for i, c := range celsius {
		out = append(out, batch.Reading{Time: hour(every * float64(i)), Quantity: batch.Temperature, Instrument: instrument, Value: float64(unit.Celsius(c))})
	}
	return out
}

// heldAt is a batch kept at so many C from the beginning, and then at others.
func heldAt(celsius float64, later ...batch.Step) *batch.Batch {
	b, hold := usualWay(), unit.Celsius(celsius)
	b.Place.Fridge, b.Place.Belt = nil, 0
	b.Programme = append([]batch.Step{{AtSet: true, Set: batch.Setting{Hold: &hold}}}, later...)
	return b
}

// motion is the law by which the temperature of a kept vessel moves over dt, as a chain of states: what comes and goes, its
// rate by its time constant, what is left of pitching, the constant, the offset of the thermometer. References: [Hartikainen2010] equations 8 to 12
func motion(s Straying, dt float64) (a, noise *mat.Dense) {
	l := 1 / s.Passes
	e := math.Exp(-l * dt)
	a = mat.NewDense(5, 5, []float64{
		e * (1 + l*dt), e * l * dt, 0, 0, 0,
		-e * l * dt, e * (1 - l*dt), 0, 0, 0,
		0, 0, math.Exp(-dt / s.Cools), 0, 0,
		0, 0, 0, 1, 0,
		0, 0, 0, 0, 1,
	})
	rest := mat.NewDense(5, 5, nil)
	rest.Set(0, 0, s.Wander*s.Wander)
	rest.Set(1, 1, s.Wander*s.Wander)
	noise = new(mat.Dense)
	noise.Product(a, rest, a.T())
	noise.Sub(rest, noise)
	noise.Set(2, 2, 0)
	return a, noise
}

// belief is mean and covariance of the states of motion.
type belief struct{ x, p *mat.Dense }

// then is a belief moved by a, with noise.
func (b belief) then(a, noise *mat.Dense) belief {
	out := belief{new(mat.Dense), new(mat.Dense)}
	out.x.Mul(a, b.x)
	out.p.Product(a, b.p, a.T())
	out.p.Add(out.p, noise)
	return out
}

// shown is a belief that has seen a reading of the sum of states in row.
func (b belief) shown(row *mat.Dense, reading, scatter float64) belief {
	var seen, variance, gain, took mat.Dense
	seen.Mul(row, b.x)
	variance.Product(row, b.p, row.T())
	gain.Mul(b.p, row.T())
	gain.Scale(1/(variance.At(0, 0)+scatter*scatter), &gain)
	took.Product(&gain, row, b.p)
	out := belief{new(mat.Dense), new(mat.Dense)}
	out.x.Scale(reading-seen.At(0, 0), &gain)
	out.x.Add(b.x, out.x)
	out.p.Sub(b.p, &took)
	return out
}

// looking is a belief that hears from the next, as it was expected and as it came to be known.
func (b belief) looking(a *mat.Dense, expected, known belief) belief {
	var inverse, g, dx, dp mat.Dense
	ahead := mat.DenseCopyOf(expected.p)
	for i := range 5 {
		ahead.Set(i, i, ahead.At(i, i)+1e-13) // what has faded leaves it all but singular
	}
	if err := inverse.Inverse(ahead); err != nil {
		panic(err)
	}
	g.Product(b.p, a.T(), &inverse)
	dx.Sub(known.x, expected.x)
	dp.Sub(known.p, expected.p)
	out := belief{new(mat.Dense), new(mat.Dense)}
	out.x.Mul(&g, &dx)
	out.x.Add(b.x, out.x)
	out.p.Product(&g, &dp, g.T())
	out.p.Add(b.p, out.p)
	return out
}

// smoothed is the mean and the variance of the temperature off its mean course at every hour, and of the offset, by the
// filter of Kalman and the smoother of Rauch, Tung and Striebel. References: [Rauch1965]
func smoothed(s Straying, offset, scatter float64, read map[int]float64, hours int) (mean, variance []float64, last [2]float64) {
	a, noise := motion(s, unit.Hour)
	now := belief{mat.NewDense(5, 1, nil), mat.NewDense(5, 5, nil)}
	for i, v := range []float64{s.Wander, s.Wander, s.Pitched, s.Constant, offset} {
		now.p.Set(i, i, v*v)
	}
	var expected, filtered []belief
	for h := range hours + 1 {
		if h > 0 {
			now = now.then(a, noise)
		}
		expected = append(expected, now)
		if y, ok := read[h]; ok {
			now = now.shown(mat.NewDense(1, 5, []float64{1, 0, 1, 1, 1}), y, scatter)
		}
		filtered = append(filtered, now)
	}
	last = [2]float64{now.x.At(4, 0), now.p.At(4, 4)}
	course := mat.NewDense(1, 5, []float64{1, 0, 1, 1, 0})
	mean, variance = make([]float64, hours+1), make([]float64, hours+1)
	for h := hours; h >= 0; h-- {
		if h < hours {
			now = filtered[h].looking(a, expected[h+1], now)
		}
		var m, v mat.Dense
		m.Mul(course, now.x)
		v.Product(course, now.p, course.T())
		mean[h], variance[h] = m.At(0, 0), v.At(0, 0)
	}
	return mean, variance, last
}

// The course by conditioning all at once is that of the filter and smoother that go reading by reading, and so is what is left
// unknown of it and of the thermometer's offset.
func TestCourseIsThatOfTheSmoother(t *testing.T) {
	b := heldAt(20)
	s := StrayingOf(b, unit.Celsius(20))
	shown := []float64{21.8, 21.2, 20.1, 20.9, 22.0, 21.5, 20.4, 20.6, 20.2}
	tl := newTimeline(b, batch.Log{Readings: warmth("strip", 12, shown...)}, hour(96), nil)
	strip := instruments[batch.Temperature]["strip"]
	read := map[int]float64{}
	for i, c := range shown {
		read[12*i] = c - 20 - s.Mean
	}
	mean, variance, offset := smoothed(s, strip.Offset, strip.Scatter, read, 96)
	tr := &tl.track
	if got := [2]float64{tr.offsets[0], math.Pow(tr.spread.L.At(0, 0), 2)}; math.Abs(got[0]-offset[0]) > 1e-6 || math.Abs(got[1]-offset[1]) > 1e-6 {
		t.Errorf("offset: mean and variance %v, by the filter %v, tolerance 1e-6", got, offset)
	}
	var left, all float64
	for h := range mean {
		at := float64(h) * unit.Hour
		if got, want := tr.value(at), 293.15+s.Mean+mean[h]; math.Abs(got-want) > 1e-5 {
			t.Errorf("%d h: expected course %.6f K, by the smoother %.6f, tolerance 1e-5", h, got, want)
		}
		var got float64
		for _, way := range tr.ways {
			got += math.Pow(tr.between(way, at), 2)
		}
		if got > variance[h]+1e-5 {
			t.Errorf("%d h: variance %.5f K², by the smoother %.5f", h, got, variance[h])
		}
		left, all = left+(variance[h]-got)/float64(len(mean)), all+variance[h]/float64(len(mean))
	}
	if left > 0.05*all {
		t.Errorf("%d modes leave a variance of %.4f of %.4f K² unsaid, more than a twentieth", tr.modes, left, all)
	}
}

// strayed draws a course of a kept vessel by its law of motion, K off the wanted temperature by hour.
func strayed(s Straying, hours int, rng *rand.Rand) []float64 {
	a, noise := motion(s, unit.Hour)
	x := mat.NewDense(5, 1, []float64{s.Wander * rng.NormFloat64(), s.Wander * rng.NormFloat64(), s.Pitched * rng.NormFloat64(), s.Mean + s.Constant*rng.NormFloat64(), 0})
	var c mat.Cholesky
	c.Factorize(mat.NewSymDense(2, []float64{noise.At(0, 0), noise.At(0, 1), noise.At(1, 0), noise.At(1, 1)}))
	var l mat.TriDense
	c.LTo(&l)
	out := make([]float64, hours+1)
	for h := range out {
		out[h] = x.At(0, 0) + x.At(2, 0) + x.At(3, 0)
		u, v := rng.NormFloat64(), rng.NormFloat64()
		nx := new(mat.Dense)
		nx.Mul(a, x)
		nx.Set(0, 0, nx.At(0, 0)+l.At(0, 0)*u)
		nx.Set(1, 0, nx.At(1, 0)+l.At(1, 0)*u+l.At(1, 1)*v)
		x = nx
	}
	return out
}

// Of courses drawn from what is expected and read with scatter, the unknowns of the truth given the readings are standard
// normal: in square within three sds of 1, by the variance of a chi-square.
func TestUnknownsOfTheTruthAreStandardNormal(t *testing.T) {
	rng := newRand(21)
	b := heldAt(20)
	s := StrayingOf(b, unit.Celsius(20))
	strip := instruments[batch.Temperature]["strip"]
	squares, counts := make([]float64, 1+mostModes), make([]float64, 1+mostModes)
	for range 400 {
		course, offset := strayed(s, 120, rng), strip.Offset*rng.NormFloat64()
		var readings []batch.Reading
		for h := rng.IntN(12); h <= 120; h += 2 + rng.IntN(24) {
			readings = append(readings, batch.Reading{Time: hour(float64(h)), Quantity: batch.Temperature, Instrument: "strip", Value: 293.15 + course[h] + offset + strip.Scatter*rng.NormFloat64()})
		}
		tl := newTimeline(b, batch.Log{Readings: readings}, hour(120), nil)
		z := tl.track.unknowns([]float64{offset}, func(at float64) float64 {
			h := min(int(at/unit.Hour), 119)
			return 293.15 + course[h] + (at/unit.Hour-float64(h))*(course[h+1]-course[h])
		})
		for k, x := range z {
			squares[k] += x * x
			counts[k]++
		}
	}
	for k, n := range counts {
		if got := squares[k] / n; n > 50 && math.Abs(got-1) > 3*math.Sqrt(2/n) {
			t.Errorf("unknown %d of %d batches: mean square %.3f, want 1 within %.3f", k, int(n), got, 3*math.Sqrt(2/n))
		}
	}
}

// Somebody chills and does not write it down: the course leaps with the readings, and is not drawn out over days.
func TestUnwrittenChillIsFollowed(t *testing.T) {
	shown := []float64{20, 19.5, 20.5, 20, 21, 20, 19, 4, 3, 2.5, 3.5, 3}
	for _, instrument := range []string{"strip", "probe"} {
		tl := newTimeline(heldAt(20), batch.Log{Readings: warmth(instrument, 12, shown...)}, hour(140), nil)
		for i, c := range shown {
			if got := tl.track.value(12 * float64(i) * unit.Hour); math.Abs(got-273.15-c) > 1.6 {
				t.Errorf("%s at %d h: read %.1f C, believed %.1f", instrument, 12*i, c, got-273.15)
			}
		}
	}
}

// A written chill is expected to take its time, which the readings set right; what is left unknown is small.
func TestWrittenChillIsExpected(t *testing.T) {
	cold := unit.Celsius(2)
	b := heldAt(20, batch.Step{AtSet: true, At: 72 * unit.Hour, Set: batch.Setting{Hold: &cold}})
	tl := newTimeline(b, batch.Log{Readings: warmth("strip", 12, 20, 20, 20, 20, 20, 20, 20, 6, 2.5, 2, 2)}, hour(120), nil)
	at := func(h float64) float64 { return tl.track.value(h*unit.Hour) - 273.15 }
	if at(71) < 19 || at(74) > at(71)-1 || at(120) > 3 {
		t.Errorf("chilled from 20 to 2 C at 72 h: believed %.1f C at 71 h, %.1f at 74, %.1f at 120", at(71), at(74), at(120))
	}
}

// A probe is followed closely wherever it goes, and leaves nothing that anybody feels but its offset.
func TestProbeIsFollowed(t *testing.T) {
	rng, celsius := newRand(3), make([]float64, 200)
	for i := range celsius {
		celsius[i] = 18 + 3*math.Sin(float64(i)/30) + 0.1*rng.NormFloat64()
	}
	b := heldAt(20)
	b.Programme = nil
	tl := newTimeline(b, batch.Log{Readings: warmth("probe", 2, celsius...)}, hour(400), nil)
	if tl.track.modes != 0 {
		t.Errorf("%d modes are left of %d readings of a probe", tl.track.modes, len(celsius))
	}
	var square float64
	for i := range celsius {
		truth := 18 + 3*math.Sin(float64(i)/30) + 273.15
		square += math.Pow(tl.track.value(float64(i)*2*unit.Hour)-truth, 2) / float64(len(celsius))
	}
	if rms := math.Sqrt(square); rms > 0.1 {
		t.Errorf("the course is off by %.3f K", rms)
	}
}

// Two thermometers at once: the better one is believed, and shows the other's offset.
func TestTwoThermometers(t *testing.T) {
	strip, probe := warmth("strip", 12, 22, 22, 22, 22, 22, 22, 22, 22), warmth("probe", 12, 20, 20, 20, 20, 20, 20, 20, 20)
	tl := newTimeline(heldAt(20), batch.Log{Readings: append(strip, probe...)}, hour(90), nil)
	if len(tl.track.thermometers) != 2 || math.Abs(tl.track.value(48*unit.Hour)-293.15) > 0.5 {
		t.Errorf("%d thermometers: a strip at 22 C and a probe at 20 C give %.2f C", len(tl.track.thermometers), tl.track.value(48*unit.Hour)-273.15)
	}
	z := make([]float64, tl.dim())
	for i := range z {
		z[i] = newRand(uint64(i)).NormFloat64()
	}
	apart := 0.0
	for i := range tl.channels {
		if tl.channels[i].name == "strip" {
			apart += tl.off(i, z)
		} else {
			apart -= tl.off(i, z)
		}
	}
	if math.Abs(apart-2) > 0.8 {
		t.Errorf("the strip shows 2 K more than the probe, believed %.2f K", apart)
	}
	course := tl.track.course(z, nil)
	offsets := []float64{tl.off(tl.track.thermometers[0], z), tl.off(tl.track.thermometers[1], z)}
	back := tl.track.unknowns(offsets, func(s float64) float64 { return tl.track.between(course, s) })
	for k, x := range back {
		if math.Abs(x-z[tl.track.places[k]]) > 1e-3 {
			t.Errorf("unknown %d is %.4f, found again as %.4f", k, z[tl.track.places[k]], x)
		}
	}
}

// What is believed of the thermometers is carried along when more readings come in: the same offsets, under the new course.
func TestOffsetsAreCarried(t *testing.T) {
	strip, probe := warmth("strip", 12, 20, 21, 20, 22, 20, 21, 19, 20), warmth("probe", 6, 20.4, 20.6, 20.5, 20.8, 20.5, 20.4, 20.1, 20.3)
	few := newTimeline(heldAt(20), batch.Log{Readings: append(strip[:3:3], probe[:3]...)}, hour(90), nil)
	all := newTimeline(heldAt(20), batch.Log{Readings: append(strip, probe...)}, hour(90), nil)
	z := make([]float64, all.dim())
	for i := range z {
		z[i] = math.Sin(float64(i + 1))
	}
	carried := all.track.carried(&few.track, z)
	for i := range all.track.offsets {
		if was, is := few.track.off(i, z), all.track.off(i, carried); math.Abs(is-was) > 1e-9 {
			t.Errorf("thermometer %d was off by %.4f K and is off by %.4f K", i, was, is)
		}
	}
	for i := range z {
		if !slices.Contains(all.track.places[:len(all.track.offsets)], i) && carried[i] != z[i] {
			t.Errorf("unknown %d was %g and is %g", i, z[i], carried[i])
		}
	}
}
