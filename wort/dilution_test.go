package wort

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/unit"
	"spile/working"
)

func drawPortion(t *rapid.T, name string) Portion {
	return Portion{
		Volume:     unit.Volume(rapid.Float64Range(1, 40).Draw(t, name+" L")) * unit.Litre,
		VolumeSD:   unit.Volume(rapid.Float64Range(0, 0.5).Draw(t, name+" L sd")) * unit.Litre,
		Gravity:    unit.Gravity(rapid.Float64Range(1.001, 1.110).Draw(t, name+" SG")),
		GravitySD:  unit.Gravity(rapid.Float64Range(0, 0.002).Draw(t, name+" SG sd")),
		Bitterness: rapid.Float64Range(0, 80).Draw(t, name+" IBU"),
	}
}

func mustBlend(t *rapid.T, parts ...Portion) Portion {
	b, err := Blend(parts, nil)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestBlendConserves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawPortion(t, "a"), drawPortion(t, "b")
		mix := mustBlend(t, a, b)
		near := func(what string, got, want float64) {
			if math.Abs(got/want-1) > 1e-12 {
				t.Fatalf("%s: expected %v, got %v", what, want, got)
			}
		}
		near("mass", mix.mass(), a.mass()+b.mass())
		near("extract", float64(mix.Extract()), float64(a.Extract()+b.Extract()))
		near("bitterness", mix.Bitterness*float64(mix.Volume)+1, a.Bitterness*float64(a.Volume)+b.Bitterness*float64(b.Volume)+1)
		if math.Abs(float64(mix.Volume/(a.Volume+b.Volume))-1) > 0.002 {
			t.Fatalf("volume: expected about %v, got %v", a.Volume+b.Volume, mix.Volume)
		}
	})
}

// The stated deviation against small changes of each input by itself.
func TestBlendSD(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		parts := []Portion{drawPortion(t, "a"), drawPortion(t, "b")}
		base := mustBlend(t, parts...)
		const share = 0.001
		variance := 0.0
		for i := range parts {
			for _, change := range []func(*Portion){
				func(p *Portion) { p.Volume += share * p.VolumeSD },
				func(p *Portion) { p.Gravity += share * p.GravitySD },
			} {
				moved := []Portion{parts[0], parts[1]}
				change(&moved[i])
				d := float64(mustBlend(t, moved...).Gravity-base.Gravity) / share
				variance += d * d
			}
		}
		if want := math.Sqrt(variance); math.Abs(float64(base.GravitySD)-want) > 0.002*want+1e-9 {
			t.Fatalf("deviation: expected %v, got %v", want, base.GravitySD)
		}
	})
}

func TestWaterRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		have := drawPortion(t, "wort")
		target := 1 + (have.Gravity-1)*unit.Gravity(rapid.Float64Range(0.2, 0.99).Draw(t, "share"))
		water, err := WaterToGravity(have, target, nil)
		if err != nil {
			t.Fatal(err)
		}
		mix := mustBlend(t, have, Water(water, 0))
		if math.Abs(float64(mix.Gravity-target)) > 1e-12 {
			t.Fatalf("gravity: expected %v, got %v", target, mix.Gravity)
		}
		again, err := WaterToVolume(have, mix.Volume, nil)
		if err != nil || math.Abs(float64(again-water)) > 1e-12 {
			t.Fatalf("water: expected %v, got %v, %v", water, again, err)
		}
		wort, more, err := WortToTarget(have.Gravity, target, mix.Volume, nil)
		if err != nil || math.Abs(float64(wort-have.Volume)) > 1e-12 || math.Abs(float64(more-water)) > 1e-12 {
			t.Fatalf("wort and water: expected %v and %v, got %v and %v, %v", have.Volume, water, wort, more, err)
		}
	})
}

// By hand from NBS C440: 15 L of 14 P (1.05683) and the water that makes it 12 P (1.04837).
// Extract 15 * 1.05683 * 0.998207 * 0.14 = 2.2154 kg; water 15.8241 (14/12 - 1) = 2.6374 kg or 2.642 L.
func TestWaterByHand(t *testing.T) {
	have := Portion{Volume: 15 * unit.Litre, Gravity: 1.05683}
	water, err := WaterToGravity(have, 1.04837, nil)
	if err != nil || math.Abs(float64(water)/unit.Litre-2.642) > 0.01 {
		t.Errorf("expected 2.642 L within 0.01, got %v, %v", water, err)
	}
}

func TestDilutionRefuses(t *testing.T) {
	good := Portion{Volume: 20 * unit.Litre, Gravity: 1.050}
	for name, f := range map[string]func() error{
		"nothing":            func() error { _, err := Blend(nil, nil); return err },
		"no volume":          func() error { _, err := Blend([]Portion{{Gravity: 1.05}}, nil); return err },
		"gravity 1050":       func() error { _, err := WaterToGravity(Portion{Volume: 1, Gravity: 1050}, 1.04, nil); return err },
		"target above":       func() error { _, err := WaterToGravity(good, 1.060, nil); return err },
		"target of water":    func() error { _, err := WaterToGravity(good, 1, nil); return err },
		"smaller volume":     func() error { _, err := WaterToVolume(good, 10*unit.Litre, nil); return err },
		"volume of nothing":  func() error { _, _, err := WortToTarget(1.05, 1.04, 0, nil); return err },
		"target not reached": func() error { _, _, err := WortToTarget(1.05, 1.06, 1, nil); return err },
		"NaN":                func() error { _, err := WaterToVolume(good, unit.Volume(math.NaN()), nil); return err },
	} {
		if err := f(); err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: expected one clear line, got %v", name, err)
		}
	}
}

func TestBlendWorking(t *testing.T) {
	var w working.Sheet
	have := Portion{Volume: 20 * unit.Litre, VolumeSD: 0.3 * unit.Litre, Gravity: 1.050}
	mix, err := Blend([]Portion{have, Water(3*unit.Litre, 0.05*unit.Litre)}, &w)
	if err != nil || w.Band == nil || w.Band.Low >= float64(mix.Gravity) || w.Band.High <= float64(mix.Gravity) {
		t.Errorf("expected a band around %v, got %+v, %v", mix.Gravity, w.Band, err)
	}
}
