package co2

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"spile/unit"
)

func drawBeer(t *rapid.T) BeerFactor {
	return BeerFactor{rapid.Float64Range(-0.1, 0.1).Draw(t, "level"), rapid.Float64Range(-0.06, 0.06).Draw(t, "slope")}
}

func TestEquilibriumRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBeer(t)
		tk := unit.Celsius(rapid.Float64Range(-2, 40).Draw(t, "C"))
		p := unit.Pressure(rapid.Float64Range(0.2e5, 6e5).Draw(t, "Pa"))
		v := Equilibrium(tk, p, b, nil)
		back, err := EquilibriumPressure(tk, v, b, nil)
		if err != nil || math.Abs(float64(back/p)-1) > 1e-9 {
			t.Fatalf("pressure: expected %v, got %v, %v", p, back, err)
		}
		temperature, err := EquilibriumTemperature(p, v, b, nil)
		if err != nil || math.Abs(float64(temperature-tk)) > 1e-9 {
			t.Fatalf("temperature: expected %v, got %v, %v", tk, temperature, err)
		}
	})
}

func TestEquilibriumIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBeer(t)
		tC := rapid.Float64Range(-2, 39).Draw(t, "C")
		p := unit.Pressure(rapid.Float64Range(0.2e5, 5.9e5).Draw(t, "Pa"))
		here := Equilibrium(unit.Celsius(tC), p, b, nil)
		if warm := Equilibrium(unit.Celsius(tC+0.5), p, b, nil); warm >= here {
			t.Fatalf("warmer beer holds less: %v then %v", here, warm)
		}
		if more := Equilibrium(unit.Celsius(tC), p+1000, b, nil); more <= here {
			t.Fatalf("more pressure holds more: %v then %v", here, more)
		}
	})
}

// Headspace gas and beer are the same substance by two ways of counting.
func TestPartialVolumesAgreesWithEquilibrium(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := drawBeer(t)
		tk := unit.Celsius(rapid.Float64Range(-2, 40).Draw(t, "C"))
		p := unit.Pressure(rapid.Float64Range(0.2e5, 6e5).Draw(t, "Pa"))
		whole, part := Equilibrium(tk, p, b, nil), PartialVolumes(tk, p-VapourPressure(tk), b)
		if math.Abs(float64(whole/part)-1) > 0.001 { // the vapour's own share of the fugacity
			t.Fatalf("expected %v, got %v", whole, part)
		}
	})
}

func TestPurgeCyclesAreFewest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		high := sealevel * unit.Pressure(rapid.Float64Range(1.1, 4).Draw(t, "ratio"))
		share := unit.Ratio(rapid.Float64Range(1e-5, 0.9).Draw(t, "share"))
		n, err := PurgeCycles(sealevel, high, share)
		if err != nil {
			t.Fatal(err)
		}
		at, _ := PurgeResidual(sealevel, high, n)
		before, _ := PurgeResidual(sealevel, high, n-1)
		if at > share*(1+1e-6) || before <= share {
			t.Fatalf("%d cycles leave %v, one fewer %v, wanted %v", n, at, before, share)
		}
	})
}

func BenchmarkHenryKernel(b *testing.B) {
	sum := 0.0
	for i := range b.N {
		sum += HenryKernel(274+float64(i&15), 0.01, 0.01)
	}
	if sum == 0 {
		b.Fatal(sum)
	}
}
