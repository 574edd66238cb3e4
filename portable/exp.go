// Package portable holds the elementary functions whose digits hang, in the standard library, on the processor: Exp, and
// what calls it, have instructions of their own on some and ask others at run time what they can do. Here each is a
// fixed sequence of roundings: the same input gives the same bits everywhere, if the compiler fuses no multiplication
// with an addition (see the Makefile). The other functions of package math that Spile uses are such sequences already,
// which a test holds.
package portable

import (
	"math"
	"math/big"
)

const (
	steps   = 128                     // into which an octave is cut
	perStep = steps / math.Ln2        // steps in a factor of e
	lnHigh  = 0x1.62e42fefap-8        // ln 2 / steps, so short that its product with a number of steps is exact
	lnLow   = math.Ln2/steps - lnHigh // what is left of it
	whole   = 0x1.8p52                // added and taken away again, leaves a whole number
	ranged  = 708                     // |x| below which e to the x is a number of full precision
)

// octave holds 2^(i/steps), and by what share that is more.
var octave = func() (o [steps]struct {
	bits uint64
	more float64
}) {
	const digits = 160
	root := big.NewFloat(2).SetPrec(digits)
	for n := 1; n < steps; n *= 2 {
		root.Sqrt(root)
	}
	power := big.NewFloat(1).SetPrec(digits)
	for i := range o {
		near, _ := power.Float64()
		o[i].bits = math.Float64bits(near)
		left := new(big.Float).Sub(power, big.NewFloat(near))
		o[i].more, _ = left.Quo(left, power).Float64()
		power.Mul(power, root)
	}
	return o
}()

// Exp is e to the x. Error: less than 0.52 units in the last place for |x| < 708; from there on less than 2, with +Inf
// and 0 where math.Exp gives them.
//
// References: [Tang1989], with four times his table and so the plain series
func Exp(x float64) float64 {
	if !(math.Abs(x) < ranged) {
		return extreme(x)
	}
	near, more, r := cut(x)
	more += grown(r)
	return near + near*more
}

// cut gives e to the x, |x| < 708, as near (1+more) e^r with |r| < 0.003.
func cut(x float64) (near, more, r float64) {
	k := x*perStep + whole
	n := math.Float64bits(k) // ends in the nearest number of steps
	k -= whole
	o := &octave[n%steps]
	return math.Float64frombits(o.bits + n/steps<<52), o.more, (x - k*lnHigh) - k*lnLow
}

// grown is e^r - 1 of a small r.
func grown(r float64) float64 { return r + r*r*(1./2+r*(1./6)+r*r*(1./24+r*(1./120))) }

// extreme is Exp where a result may be beyond the range, or short of it.
func extreme(x float64) float64 {
	if math.IsNaN(x) {
		return x
	}
	root := Exp(min(max(x, -2*ranged+1), 2*ranged-1) / 2)
	return root * root
}

// Pow is x to the y. Error: less than 0.55 units in the last place, and 0.01 |y| more, where x and the result lie
// between 1e-300 and 1e300.
func Pow(x, y float64) float64 {
	switch {
	case y == 0 || y == 1 || !(x > 0) || math.IsInf(x, 0) || math.IsNaN(y) || math.IsInf(y, 0):
		return math.Pow(x, y) // no exponential in it
	case x < 1e-300 || x > 1e300:
		return Pow(math.Sqrt(x), 2*y)
	}
	// The logarithm is wanted to twice the digits: what it is off by, a second exponential says.
	log := math.Log(x)
	near, more, r := cut(-log)
	one := x * near
	off := (one - 1) + one*(more+grown(r)) + math.FMA(x, near, -one)
	power := y * log
	low := math.FMA(y, log, -power) + y*off
	if !(math.Abs(power) < ranged) {
		root := Pow(x, y/2)
		return root * root
	}
	near, more, r = cut(power)
	more += grown(r + low)
	return near + near*more
}

// Sinh is the hyperbolic sine. Error: less than 2 units in the last place.
func Sinh(x float64) float64 {
	a := math.Abs(x)
	if a > 40 {
		return math.Copysign(Exp(a)/2, x)
	}
	e := math.Expm1(a)
	return math.Copysign((e+e/(e+1))/2, x)
}

// Cosh is the hyperbolic cosine. Error: less than 1.5 units in the last place.
func Cosh(x float64) float64 {
	e := Exp(math.Abs(x))
	return (e + 1/e) / 2
}

// Normal is the share of the standard normal distribution below z. Error: 1e-12.
func Normal(z float64) float64 {
	above := Erfc(math.Abs(z)/math.Sqrt2) / 2
	if z > 0 {
		return 1 - above
	}
	return above
}

// Erfc is the complementary error function, x >= 0. Error: 1e-12 of it.
//
// References: [Olver2010] 7.6.2 for the series, 7.9.3 for the fraction
func Erfc(x float64) float64 {
	const far, terms = 2, 100 // enough of them on either side of far
	bell := Exp(-x*x) / math.Sqrt(math.Pi)
	if x > far {
		below := x
		for n := terms; n > 0; n-- {
			below = x + float64(n)/2/below
		}
		return bell / below
	}
	term, sum := x, x
	for n := 1; n < terms; n++ {
		term *= 2 * x * x / float64(2*n+1)
		sum += term
	}
	return 1 - 2*bell*sum
}
