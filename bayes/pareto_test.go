package bayes

import (
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"pgregory.net/rapid"
	"spile/matrix"
)

// Samples of a generalised Pareto distribution of known shape and scale by inversion.
// The estimate is drawn toward 0.5 as if seen ten times (Vehtari et al. 2024), which
// with 1,000 samples moves it by at most 0.01.
func TestFitParetoRecoversTheShape(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 9))
	for _, k := range []float64{-0.5, -0.2, 0, 0.2, 0.5, 0.7, 1, 1.5} {
		const n, sigma, runs = 1000, 2.5, 20
		kMean, sigmaMean := 0.0, 0.0
		for range runs {
			x := make([]float64, n)
			for i := range x {
				x[i] = paretoQuantile(rng.Float64(), k, sigma)
			}
			sort.Float64s(x)
			gotK, gotSigma := fitPareto(x)
			kMean += gotK / runs
			sigmaMean += gotSigma / runs
		}
		want := (k*n + 5) / (n + 10)
		tolerance := 5 * math.Max(0.5, 1+k) / math.Sqrt(n*runs)
		if math.Abs(kMean-want) > tolerance {
			t.Errorf("shape %.1f: got %.3f, want %.3f, tolerance %.3f", k, kMean, want, tolerance)
		}
		if math.Abs(sigmaMean/sigma-1) > 0.05 {
			t.Errorf("shape %.1f: scale got %.3f, want %.3f, tolerance 5 %%", k, sigmaMean, sigma)
		}
	}
}

// Ratios of exponentials have a tail of known shape: target rate 1, proposal rate
// theta gives weights exp((theta-1) x)/theta with x ~ Exp(theta), a Pareto law with
// k = (theta-1)/theta (Vehtari et al. 2024, section 3.1 uses this example).
func TestWeightsOfExponentials(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 9))
	for _, theta := range []float64{1.3, 2, 4} {
		const n = 10000
		lw := make([]float64, n)
		for i := range lw {
			lw[i] = (theta - 1) * rng.ExpFloat64() / theta
		}
		w, err := smoothWeights(lw)
		if err != nil {
			t.Fatal(err)
		}
		if want := (theta - 1) / theta; math.Abs(w.k-want) > 0.2 {
			t.Errorf("theta %.1f: k got %.3f, want %.3f, tolerance 0.2", theta, w.k, want)
		}
	}
}

// Limits that Vehtari et al. 2024 give in section 3.2.3: S = 100 gives 0.5, S = 1,000
// 0.667, from S = 2,154 on 0.7.
func TestParetoLimit(t *testing.T) {
	for s, want := range map[int]float64{100: 0.5, 200: 0.5654, 1000: 2.0 / 3, 2155: 0.7, 100000: 0.7} {
		if got := ParetoLimit(s); math.Abs(got-want) > 1e-4 {
			t.Errorf("limit for %d: got %.4f, want %.4f, tolerance 1e-4", s, got, want)
		}
	}
}

// States that stayed where they were give tied weights, up to the quartile of the tail: none becomes NaN.
func TestTiedWeights(t *testing.T) {
	for _, n := range []int{100, 400, 500, 1000} {
		tail := int(math.Ceil(math.Min(0.2*float64(n), 3*math.Sqrt(float64(n)))))
		for tied := n - tail; tied < n; tied++ {
			lw := make([]float64, n)
			for i := tied; i < n; i++ {
				lw[i] = 0.01 * float64(i-tied+1)
			}
			w, err := smoothWeights(lw)
			if err != nil {
				t.Fatal(err)
			}
			if s := sum(w.weight); math.IsNaN(w.k) || !(math.Abs(s-1) < 1e-9) {
				t.Fatalf("%d of %d tied: sum %g, want 1, tolerance 1e-9; k %g", tied, n, s, w.k)
			}
		}
	}
}

// Smoothing keeps the order and the sum, and never exceeds the largest raw weight.
func TestSmoothWeightsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 400).Draw(t, "n")
		spread := rapid.Float64Range(0, 8).Draw(t, "spread")
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		lw := make([]float64, n)
		for i := range lw {
			lw[i] = spread * rng.NormFloat64()
		}
		w, err := smoothWeights(lw)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for i := range lw {
			sum += w.weight[i]
			for j := range lw {
				if lw[i] < lw[j] && w.weight[i] > w.weight[j]*(1+1e-9) {
					t.Fatalf("log weights %g < %g became %g > %g", lw[i], lw[j], w.weight[i], w.weight[j])
				}
			}
		}
		if math.Abs(sum-1) > 1e-9 || math.IsNaN(w.k) {
			t.Fatalf("sum %.12g, want 1, tolerance 1e-9; k %g", sum, w.k)
		}
	})
}

// thin keeps exactly m indices, none twice, and every weight on average.
func TestThin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "n")
		m := rapid.IntRange(1, n).Draw(t, "m")
		w := rapid.SliceOfN(rapid.Float64Range(0, 1), n, n).Draw(t, "w")
		w[0] += 0.01
		normalise(w)
		keep, weight := thin(w, m, rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)))
		sum := 0.0
		seen := map[int]bool{}
		for j, i := range keep {
			if seen[i] {
				t.Fatalf("index %d kept twice", i)
			}
			seen[i] = true
			sum += weight[j]
		}
		if len(keep) != m || math.Abs(sum-1) > 1e-9 {
			t.Fatalf("kept %d with sum %.12g, want %d and 1", len(keep), sum, m)
		}
	})
	w := []float64{0.4, 0.25, 0.15, 0.1, 0.06, 0.03, 0.01}
	mean, rng := make([]float64, len(w)), rand.New(rand.NewPCG(1, 1))
	const runs = 40000
	for range runs {
		keep, weight := thin(w, 4, rng)
		for j, i := range keep {
			mean[i] += weight[j] / runs
		}
	}
	for i := range w {
		if math.Abs(mean[i]-w[i]) > 0.004 {
			t.Errorf("mean weight %d: got %.4f, want %.4f, tolerance 0.004", i, mean[i], w[i])
		}
	}
}

// Densities of the components integrate to 1: the mean of density ratios over draws
// of another component, in both directions.
func TestComponentDensities(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	split := &component{centre: []float64{0.3, -0.2}, axes: nil, plus: []float64{1.4, 0.9}, minus: []float64{0.7, 1.2}, heavy: 1}
	wide := &component{centre: []float64{0, 0}, plus: []float64{2, 2}, minus: []float64{2, 2}, heavy: 2}
	split.axes, wide.axes = rotation(0.6), rotation(0)
	const n = 40000
	for _, pair := range [][2]*component{{split, wide}, {priorComponent(2), wide}, {priorComponent(2), split}} {
		eta, sum := make([]float64, 2), 0.0
		over, under := pair[0].density(), pair[1].density()
		at := func(d *density, z []float64) float64 {
			d.project(z, eta)
			return d.logAlong(eta)
		}
		for _, z := range pair[1].draw(n, rng) {
			sum += math.Exp(at(over, z)-at(under, z)) / n
		}
		if math.Abs(sum-1) > 0.04 {
			t.Errorf("integral of a density: got %.4f, want 1, tolerance 0.04", sum)
		}
	}
}

func rotation(angle float64) *matrix.Matrix {
	c, s := math.Cos(angle), math.Sin(angle)
	return &matrix.Matrix{Rows: 2, Columns: 2, Data: []float64{c, s, -s, c}}
}
