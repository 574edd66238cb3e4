package bayes

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

func standardNormals(n int, seed uint64) *Posterior {
	rng := rand.New(rand.NewPCG(seed, 2))
	p := &Posterior{EffectiveSamples: float64(n)}
	for range n {
		p.Z = append(p.Z, []float64{rng.NormFloat64()})
		p.Weight = append(p.Weight, 1/float64(n))
	}
	return p
}

// Two standard normals whose sum was read as 2 with sd 0.5: by the closed form each has mean 2/(2 + 0.25) and variance
// 1 - 1/(2 + 0.25).
func TestTogetherAgainstTheClosedForm(t *testing.T) {
	ps := []*Posterior{standardNormals(4000, 1), standardNormals(4000, 2)}
	sum := func(m []int) float64 { return ps[0].Z[m[0]][0] + ps[1].Z[m[1]][0] }
	got, err := Together(ps, 20000, 3, func(m []int) float64 { d := (sum(m) - 2) / 0.5; return -d * d / 2 })
	if err != nil {
		t.Fatal(err)
	}
	for k, p := range got {
		var mean, square, total float64
		for i, z := range p.Z {
			mean += p.Weight[i] * z[0]
			square += p.Weight[i] * z[0] * z[0]
			total += p.Weight[i]
		}
		variance := square - mean*mean
		if math.Abs(mean-2/2.25) > 0.05 || math.Abs(variance-(1-1/2.25)) > 0.06 || math.Abs(total-1) > 1e-9 {
			t.Errorf("posterior %d: mean %.3f, variance %.3f; want %.3f and %.3f, tolerance 0.05", k, mean, variance, 2/2.25, 1-1/2.25)
		}
	}
	if _, err := Together(ps, 20000, 3, func(m []int) float64 { d := (sum(m) - 30) / 0.01; return -d * d / 2 }); !errors.Is(err, ErrTooFew) {
		t.Errorf("a sum of 30 contradicts both: got %v", err)
	}
	if _, err := Together(ps[:1], 10, 3, func([]int) float64 { return 0 }); err == nil {
		t.Error("one posterior is tied to nothing")
	}
}
