package portable

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"testing"
)

// Every processor gives these bits: what is used of package math, and what is here. A row fails where the compiler fuses
// multiplications with additions (make builds without), or where a function of the standard library has become other.
func TestBitsAreThoseOfEveryProcessor(t *testing.T) {
	for _, c := range []struct {
		name   string
		f      func(x, y float64) float64
		expect uint64
	}{
		{"x y + x", func(x, y float64) float64 { return x*y + x }, 0x8d2cb491f5a87d3},
		{"Exp", func(x, _ float64) float64 { return Exp(x) }, 0x31bed69e16362bca},
		{"Pow", func(x, y float64) float64 { return Pow(math.Abs(x), y) }, 0x81f736735241c1e2},
		{"Sinh", func(x, _ float64) float64 { return Sinh(x) }, 0xab73d0202d72eb4d},
		{"Cosh", func(x, _ float64) float64 { return Cosh(x) }, 0x67813594faec0cb8},
		{"math.Expm1", func(x, _ float64) float64 { return math.Expm1(x) }, 0x4ca45b04023e19d7},
		{"math.Log", func(x, _ float64) float64 { return math.Log(math.Abs(x)) }, 0xd913420e6e3a8467},
		{"math.Log1p", func(x, _ float64) float64 { return math.Log1p(math.Abs(x)) }, 0xcb775b94754b997},
		{"math.Log10", func(x, _ float64) float64 { return math.Log10(math.Abs(x)) }, 0x4c03f0e2577cc210},
		{"math.Hypot", math.Hypot, 0x316088421b9df427},
		{"math.Asinh", func(x, _ float64) float64 { return math.Asinh(x) }, 0x617f58a14648a0d},
		{"math.Lgamma", func(x, _ float64) float64 { l, _ := math.Lgamma(math.Abs(x)); return l }, 0x97f09fdbcb312189},
		{"math.Cbrt", func(x, _ float64) float64 { return math.Cbrt(x) }, 0xfff8d875f1643b3a},
		{"math.Sin", func(x, _ float64) float64 { return math.Sin(x) }, 0x98557b6bb8c59c40},
		{"math.Sqrt", func(x, _ float64) float64 { return math.Sqrt(math.Abs(x)) }, 0x3ff5eec28aef9930},
	} {
		if got := bitsOf(c.f); got != c.expect {
			t.Errorf("%s: the hash of its bits is %#x, want %#x", c.name, got, c.expect)
		}
	}
}

// bitsOf is a hash of what f makes of 20,000 pairs of arguments, near 0 and far from it.
func bitsOf(f func(x, y float64) float64) uint64 {
	rng := rand.New(rand.NewPCG(7, 7))
	sum := fnv.New64a()
	for range 20000 {
		x, y := math.Ldexp(2*rng.Float64()-1, rng.IntN(24)-16), math.Ldexp(2*rng.Float64()-1, rng.IntN(24)-20)
		bits := math.Float64bits(f(x, y))
		for shift := 0; shift < 64; shift += 8 {
			sum.Write([]byte{byte(bits >> shift)})
		}
	}
	return sum.Sum64()
}
