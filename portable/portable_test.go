package portable

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
)

// digits of the exact values, far more than a float64 has.
const digits = 300

func exact(x float64) *big.Float { return new(big.Float).SetPrec(digits).SetFloat64(x) }

// exactExp is e to the x by its series at x/2^40, squared 40 times.
func exactExp(x *big.Float) *big.Float {
	small := new(big.Float).SetMantExp(x, -40)
	sum, term := exact(1), exact(1)
	for n := 1.0; n < 12; n++ {
		term.Mul(term, small)
		term.Quo(term, exact(n))
		sum.Add(sum, term)
	}
	for range 40 {
		sum.Mul(sum, sum)
	}
	return sum
}

// exactLog is the natural logarithm by Newton's method, which doubles its digits each time.
func exactLog(x float64) *big.Float {
	l := exact(math.Log(x))
	for range 4 {
		back := exactExp(new(big.Float).Neg(l))
		back.Mul(back, exact(x))
		l.Add(l, back.Sub(back, exact(1)))
	}
	return l
}

// off is how far got is from what is exact, in units in its last place.
func off(got float64, want *big.Float) float64 {
	far, _ := new(big.Float).Sub(exact(got), want).Float64()
	near, _ := want.Float64()
	near = math.Abs(near)
	return math.Abs(far) / (math.Nextafter(near, math.Inf(1)) - near)
}

func TestErrorsAreAsStated(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	sinhOf := func(sign float64) func(x float64) *big.Float {
		return func(x float64) *big.Float {
			up, down := exactExp(exact(x)), exactExp(exact(-x))
			up.Add(up, down.Mul(down, exact(sign)))
			return up.Quo(up, exact(2))
		}
	}
	for _, c := range []struct {
		name         string
		f            func(float64) float64
		want         func(float64) *big.Float
		lo, hi, most float64
	}{
		{"Exp", Exp, func(x float64) *big.Float { return exactExp(exact(x)) }, -3, 3, 0.52},
		{"Exp", Exp, func(x float64) *big.Float { return exactExp(exact(x)) }, -708, 708, 0.52},
		{"Exp", Exp, func(x float64) *big.Float { return exactExp(exact(x)) }, 708, 709.7, 2},
		{"Exp", Exp, func(x float64) *big.Float { return exactExp(exact(x)) }, -1e-9, 1e-9, 0.52},
		{"Sinh", Sinh, sinhOf(-1), -3, 3, 2},
		{"Sinh", Sinh, sinhOf(-1), -60, 60, 2},
		{"Cosh", Cosh, sinhOf(1), -60, 60, 1.5},
	} {
		for range 4000 {
			x := between(c.lo, c.hi)
			if e := off(c.f(x), c.want(x)); !(e < c.most) {
				t.Fatalf("%s(%v) is %v; it is %.2f units in the last place off, want less than %v", c.name, x, c.f(x), e, c.most)
			}
		}
	}
	for range 4000 {
		x, y := math.Exp(between(-6, 6)), between(-40, 40)
		power := exactLog(x)
		if e := off(Pow(x, y), exactExp(power.Mul(power, exact(y)))); !(e < 0.55+0.01*math.Abs(y)) {
			t.Fatalf("Pow(%v, %v) is %v; it is %.2f units in the last place off", x, y, Pow(x, y), e)
		}
	}
}

// The ends of the range, and the error function, are those of package math.
func TestLikePackageMath(t *testing.T) {
	same := func(what string, x, got, want float64) {
		t.Helper()
		if got != want && !(math.Abs(got-want) < 1e-12*math.Abs(want)) && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Errorf("%s of %v: got %v, want %v", what, x, got, want)
		}
	}
	for _, x := range []float64{0, math.Copysign(0, -1), 1e-320, -1e-320, 710, 1e6, -746, -1e6, math.Inf(1), math.Inf(-1), math.NaN(), math.MaxFloat64, -math.MaxFloat64} {
		same("Exp", x, Exp(x), math.Exp(x))
		same("Sinh", x, Sinh(x), math.Sinh(x))
		same("Cosh", x, Cosh(x), math.Cosh(x))
		for _, y := range []float64{0, 1, -1, 0.5, math.Inf(1), math.Inf(-1), math.NaN()} {
			same("Pow", x, Pow(x, y), math.Pow(x, y))
		}
	}
	for x := 0.0; x < 26; x += 0.01 {
		if got, want := Erfc(x), math.Erfc(x); !(math.Abs(got-want) <= 1e-12*want) {
			t.Errorf("Erfc(%v): got %v, want %v within 1e-12 of it", x, got, want)
		}
	}
	if least := Exp(-745.1); least != math.SmallestNonzeroFloat64 {
		t.Errorf("Exp(-745.1): got %v, want the smallest number above 0, %v", least, math.SmallestNonzeroFloat64)
	}
	for _, p := range [][2]float64{{-2, 3}, {-2, 0.5}, {2, 1100}, {2, -1100}, {2, 1023}, {1e-305, -0.9}, {1.5, 1e300}} {
		same(fmt.Sprintf("power %v", p[1]), p[0], Pow(p[0], p[1]), math.Pow(p[0], p[1]))
	}
}

// The points of the standard normal distribution that tables of it carry, from memory.
func TestNormal(t *testing.T) {
	for _, c := range []struct{ z, below float64 }{{0, 0.5}, {1, 0.841344746}, {1.959963985, 0.975}, {-1.644853627, 0.05}, {-3, 0.001349898}} {
		if got := Normal(c.z); !(math.Abs(got-c.below) <= 1e-9) {
			t.Errorf("Normal(%v): got %v, want %v within 1e-9", c.z, got, c.below)
		}
	}
}

var sink float64

func BenchmarkExp(b *testing.B) { bench(b, Exp) }

func BenchmarkExpOfTheStandardLibrary(b *testing.B) { bench(b, math.Exp) }

// bench hands f a new argument each time, between -5 and 5.
func bench(b *testing.B, f func(float64) float64) {
	x := 0.1
	for b.Loop() {
		if x += 0.123; x > 5 {
			x -= 10
		}
		sink = f(x)
	}
}
