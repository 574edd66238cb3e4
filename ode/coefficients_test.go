package ode

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// tree is a rooted tree by the subtrees at its root.
type tree []tree

func (t tree) order() int {
	n := 1
	for _, s := range t {
		n += s.order()
	}
	return n
}

// density is the gamma of the tree in the order condition.
func (t tree) density() float64 {
	d := float64(t.order())
	for _, s := range t {
		d *= s.density()
	}
	return d
}

// stages gives what each stage contributes: a root with one subtree takes all of beta,
// one with more takes alpha.
func (t tree) stages(alpha, beta *mat.Dense) *mat.VecDense {
	n, _ := alpha.Dims()
	out := mat.NewVecDense(n, nil)
	for i := range n {
		out.SetVec(i, 1)
	}
	m := alpha
	if len(t) == 1 {
		m = beta
	}
	for _, s := range t {
		var part mat.VecDense
		part.MulVec(m, s.stages(alpha, beta))
		out.MulElemVec(out, &part)
	}
	return out
}

// treesUpTo gives every tree of at most so many nodes, no two alike.
func treesUpTo(order int) []tree {
	all := []tree{{}}
	for n := 2; n <= order; n++ {
		var forests func(left, from int, so tree)
		known := all
		forests = func(left, from int, so tree) {
			if left == 0 {
				all = append(all, append(tree(nil), so...))
			}
			for k := from; k < len(known); k++ {
				if known[k].order() <= left {
					forests(left-known[k].order(), k, append(so, known[k]))
				}
			}
		}
		forests(n-1, 0, nil)
	}
	return all
}

// rosenbrock is the method back from its transformed form: alpha and Gamma, from a =
// alpha Gamma^-1 and c = 1/gamma - Gamma^-1 [HairerWanner1996, IV.7].
func rosenbrock(t *testing.T) (alpha, whole *mat.Dense) {
	a := mat.NewDense(8, 8, []float64{
		0, 0, 0, 0, 0, 0, 0, 0,
		a21, 0, 0, 0, 0, 0, 0, 0,
		a31, a32, 0, 0, 0, 0, 0, 0,
		a41, a42, a43, 0, 0, 0, 0, 0,
		a51, a52, a53, a54, 0, 0, 0, 0,
		a61, a62, a63, a64, a65, 0, 0, 0,
		a61, a62, a63, a64, a65, 1, 0, 0,
		a61, a62, a63, a64, a65, 1, 1, 0,
	})
	inverse := mat.NewDense(8, 8, []float64{
		1 / gamma, 0, 0, 0, 0, 0, 0, 0,
		-c21, 1 / gamma, 0, 0, 0, 0, 0, 0,
		-c31, -c32, 1 / gamma, 0, 0, 0, 0, 0,
		-c41, -c42, -c43, 1 / gamma, 0, 0, 0, 0,
		-c51, -c52, -c53, -c54, 1 / gamma, 0, 0, 0,
		-c61, -c62, -c63, -c64, -c65, 1 / gamma, 0, 0,
		-c71, -c72, -c73, -c74, -c75, -c76, 1 / gamma, 0,
		-c81, -c82, -c83, -c84, -c85, -c86, -c87, 1 / gamma,
	})
	alpha, whole = new(mat.Dense), new(mat.Dense)
	if err := whole.Inverse(inverse); err != nil {
		t.Fatal(err)
	}
	alpha.Mul(a, whole)
	return alpha, whole
}

// TestCoefficients holds the recalled coefficients to the conditions of order that any
// Rosenbrock method obeys [HairerWanner1996, IV.7]: 17 for order 5 at the end of a step,
// 8 for order 4 of the embedded formula, and of the dense output anywhere within.
// Out of their reach are d28, d38 and d48 alone: they weigh the error estimate, which is
// of order 5 itself.
func TestCoefficients(t *testing.T) {
	const tolerance = 1e-11
	alpha, whole := rosenbrock(t)
	check := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > tolerance {
			t.Errorf("%s: got %.15g, want %.15g within %g", what, got, want, tolerance)
		}
	}
	for i, want := range [][2]float64{{0, delta1}, {alpha2, delta2}, {alpha3, delta3}, {alpha4, delta4}, {alpha5, delta5}, {1, 0}, {1, 0}, {1, 0}} {
		check("time of a stage", mat.Sum(alpha.RowView(i)), want[0])
		check("weight of the time derivative", mat.Sum(whole.RowView(i)), want[1])
	}
	var beta mat.Dense
	beta.Add(alpha, whole)
	conditions := func(what string, order int, theta float64, of []float64) {
		t.Helper()
		var b mat.VecDense
		b.MulVec(whole.T(), mat.NewVecDense(8, of))
		for _, tree := range treesUpTo(order) {
			check(what, mat.Dot(&b, tree.stages(alpha, &beta)), math.Pow(theta, float64(tree.order()))/tree.density())
		}
	}
	if got := [2]int{len(treesUpTo(4)), len(treesUpTo(5))}; got != [2]int{8, 17} {
		t.Fatalf("trees up to orders 4 and 5: got %v, want 8 and 17", got)
	}
	end := []float64{a61, a62, a63, a64, a65, 1, 1, 1}
	conditions("order 5", 5, 1, end)
	conditions("embedded order 4", 4, 1, append(end[:7:7], 0))
	for _, theta := range []float64{0.1, 0.5, 0.8} {
		conditions("dense output", 4, theta, denseWeights(theta, end))
	}
}

// denseWeights is what the solver's own dense output makes of each increment by itself.
func denseWeights(theta float64, end []float64) []float64 {
	out := make([]float64, len(end))
	for k := range end {
		s := NewSolver(1, Options{})
		s.run.y = []float64{0}
		s.stages[k][0], s.y1[0] = 1, end[k]
		s.interpolate(theta, s.dense)
		out[k] = s.dense[0]
	}
	return out
}
