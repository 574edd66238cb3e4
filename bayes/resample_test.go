package bayes_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
	"spile/bayes"
)

// Systematic resampling: every index floor(n w) or ceil(n w) times, in order.
func TestSystematicProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.IntRange(1, 30).Draw(t, "k")
		w := rapid.SliceOfN(rapid.Float64Range(0, 1), k, k).Draw(t, "w")
		w[k/2] += 0.01
		n := rapid.IntRange(1, 60).Draw(t, "n")
		seed := rapid.Uint64().Draw(t, "seed")
		count, sum := make([]float64, k), 0.0
		for _, v := range w {
			sum += v
		}
		got := bayes.Systematic(w, n, rand.New(rand.NewPCG(seed, 1)))
		if len(got) != n {
			t.Fatalf("drawn: got %d, want %d", len(got), n)
		}
		for _, i := range got {
			count[i]++
		}
		for i := range w {
			if want := float64(n) * w[i] / sum; math.Abs(count[i]-want) > 1+1e-9 {
				t.Fatalf("index %d: got %g times, want %g within 1", i, count[i], want)
			}
		}
	})
}

// On average each index comes n w times: the mean over a fine grid of the one random
// number is what many seeds approach.
func TestSystematicIsUnbiased(t *testing.T) {
	w := []float64{0.07, 0.31, 0.02, 0.4, 0.2}
	const n, runs = 7, 20000
	mean := make([]float64, len(w))
	rng := rand.New(rand.NewPCG(3, 3))
	for range runs {
		for _, i := range bayes.Systematic(w, n, rng) {
			mean[i] += 1.0 / runs
		}
	}
	for i := range w {
		within(t, "mean count", mean[i], n*w[i], 5*0.5/math.Sqrt(runs))
	}
}

func TestEffectiveSamples(t *testing.T) {
	within(t, "equal weights", bayes.EffectiveSamples([]float64{2, 2, 2, 2}), 4, 1e-12)
	within(t, "one weight", bayes.EffectiveSamples([]float64{0, 5, 0}), 1, 1e-12)
	within(t, "no weight", bayes.EffectiveSamples([]float64{0, 0}), 0, 0)
	within(t, "(1+2)^2/(1+4)", bayes.EffectiveSamples([]float64{1, 2}), 1.8, 1e-12)
}

// One more reading by reweighting agrees with the exact posterior of all readings.
func TestReweightAgreesWithConditioning(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	all := randomLinear(3, 3, rng)
	few := linear{all.a, all.y[:2]}
	post := condition(t, problem(3, few), 1, bayes.Options{Members: 4000})
	more, err := bayes.Reweight(post, func(_ int, z []float64) float64 {
		r := all.Residuals(z, nil)[2]
		return -r * r / 2
	})
	if err != nil {
		t.Fatal(err)
	}
	mean, cov, logEvidence := all.exact()
	checkGaussian(t, more, mean, cov)
	within(t, "log evidence", more.LogEvidence, logEvidence, 0.25)
	if more.EffectiveSamples >= post.EffectiveSamples {
		t.Errorf("effective size went from %.0f to %.0f, want less", post.EffectiveSamples, more.EffectiveSamples)
	}
	within(t, "log likelihood", more.LogLik[5], all.LogLikelihood(more.Z[5]), 1e-9)
}

func TestReweightSaysWhenItFails(t *testing.T) {
	post := condition(t, problem(2, residuals{4, func([]float64) []float64 { return nil }}), 1, bayes.Options{})
	far, err := bayes.Reweight(post, func(_ int, z []float64) float64 { return -math.Pow((z[0]-6)/0.01, 2) / 2 })
	if err != nil {
		t.Fatal(err)
	}
	if far.Trusted() {
		t.Errorf("a reading far outside: trusted with k %.2f and %.1f effective samples", far.ParetoK, far.EffectiveSamples)
	}
	if _, err := bayes.Reweight(post, func(int, []float64) float64 { return math.Inf(-1) }); err == nil {
		t.Error("an impossible reading: got no error")
	}
	if _, err := bayes.Reweight(post, func(int, []float64) float64 { return math.NaN() }); err == nil {
		t.Error("an increment of NaN: got no error")
	}
}

func TestResampleKeepsTheMoments(t *testing.T) {
	l := randomLinear(2, 2, rand.New(rand.NewPCG(8, 8)))
	post := condition(t, problem(2, l), 1, bayes.Options{Members: 2000})
	even := bayes.Resample(post, 500, rand.New(rand.NewPCG(1, 1)))
	mean, cov, _ := l.exact()
	checkGaussian(t, even, mean, cov)
	sum := 0.0
	for _, w := range even.Weight {
		sum += w
	}
	within(t, "sum of weights", sum, 1, 1e-12)
}

func TestWeightsSumToOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dim := rapid.IntRange(1, 4).Draw(t, "dim")
		l := randomLinear(dim, rapid.IntRange(1, 5).Draw(t, "data"), rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)))
		n := rapid.IntRange(1, 300).Draw(t, "members")
		post, err := bayes.Condition(problem(dim, l), 1, bayes.Options{Members: n})
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, w := range post.Weight {
			sum += w
		}
		if math.Abs(sum-1) > 1e-9 || len(post.Weight) != n {
			t.Fatalf("%d weights sum to %.12g, want %d that sum to 1, tolerance 1e-9", len(post.Weight), sum, n)
		}
	})
}
