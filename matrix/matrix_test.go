package matrix

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// random is a matrix of standard normal elements.
func random(rng *rand.Rand, rows, columns int) *Matrix {
	m := New(rows, columns)
	for i := range m.Data {
		m.Data[i] = rng.NormFloat64()
	}
	return m
}

// of the reference library.
func dense(m *Matrix) *mat.Dense { return mat.NewDense(m.Rows, m.Columns, m.Data) }

func symmetric(m *Matrix) *mat.SymDense { return mat.NewSymDense(m.Rows, m.Data) }

// agree holds got against the reference library, to a share of the largest element.
func agree(t *testing.T, what string, got *Matrix, want mat.Matrix, share float64) {
	t.Helper()
	if r, c := want.Dims(); r != got.Rows || c != got.Columns {
		t.Fatalf("%s: got %d by %d, want %d by %d", what, got.Rows, got.Columns, r, c)
	}
	most := math.Max(mat.Max(want), -mat.Min(want))
	for i := range got.Rows {
		for j := range got.Columns {
			if !(math.Abs(got.At(i, j)-want.At(i, j)) <= share*most) {
				t.Fatalf("%s: element %d, %d is %v, want %v within %g", what, i, j, got.At(i, j), want.At(i, j), share*most)
			}
		}
	}
}

// The reference is gonum, for sizes that its and our blocks divide and do not.
func TestProductsAgreeWithGonum(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for _, n := range []int{1, 2, 3, 4, 7, 8, 30, 101} {
		a, b := random(rng, n, n+3), random(rng, n+3, 5)
		var want mat.Dense
		want.Mul(dense(a), dense(b))
		agree(t, "a b", a.Times(b), &want, 1e-13)
		agree(t, "a times a column", &Matrix{n, 1, a.TimesVec(b.Column(2))}, want.ColView(2), 1e-13)
		agree(t, "transposed", a.Transposed(), dense(a).T(), 0)
		want.Reset()
		want.Mul(dense(a).T(), dense(a))
		agree(t, "gram", a.Gram(), &want, 1e-13)
		c := random(rng, n, 4)
		gram, product := a.Normal(c, 1)
		agree(t, "the gram of least squares", gram, &want, 1e-13)
		want.Reset()
		want.Mul(dense(a).T(), dense(c))
		agree(t, "the product of least squares", product, &want, 1e-13)
		for _, workers := range []int{2, 3} {
			again, also := a.Normal(c, workers)
			agree(t, "gram by several", again, dense(gram), 0)
			agree(t, "product by several", also, dense(product), 0)
		}
	}
}

func TestCholeskyAgreesWithGonum(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 1))
	for _, n := range []int{1, 2, 3, 5, 24, 190} {
		a, b := random(rng, n+10, n).Gram(), random(rng, n, 4)
		c, ok := NewCholesky(a)
		var ref mat.Cholesky
		if !ok || !ref.Factorize(symmetric(a)) {
			t.Fatalf("%d wide: positive definite, got %v", n, ok)
		}
		var l mat.TriDense
		ref.LTo(&l)
		agree(t, "L", c.L, &l, 1e-11)
		var x, inverse mat.Dense
		if err := ref.SolveTo(&x, dense(b)); err != nil {
			t.Fatal(err)
		}
		agree(t, "solution", c.Solve(b), &x, 1e-9)
		agree(t, "solution of one column", &Matrix{n, 1, c.SolveVec(b.Column(1))}, x.ColView(1), 1e-9)
		if err := inverse.Inverse(symmetric(a)); err != nil {
			t.Fatal(err)
		}
		agree(t, "inverse", c.Inverse(), &inverse, 1e-9)
		agree(t, "L times the forward solution", &Matrix{n, 1, c.L.TimesVec(c.Forward(b.Column(0)))}, dense(b).ColView(0), 1e-9)
		if got, want := c.LogDet(), ref.LogDet(); !(math.Abs(got-want) < 1e-9*math.Max(math.Abs(want), 1)) {
			t.Errorf("%d wide: log of the determinant %v, want %v", n, got, want)
		}
	}
	for _, bad := range []*Matrix{{2, 2, []float64{1, 2, 2, 1}}, {1, 1, []float64{0}}, {1, 1, []float64{math.NaN()}}, {1, 1, []float64{math.Inf(1)}}} {
		if _, ok := NewCholesky(bad); ok {
			t.Errorf("%v is taken as positive definite", bad.Data)
		}
	}
}

func TestEigenAgreesWithGonum(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	tied := New(12, 12) // with eigenvalues that are 0, and many that are alike
	for i := range 12 {
		tied.Set(i, i, float64(i%3))
	}
	tied.Set(1, 4, 1e-3)
	tied.Set(4, 1, 1e-3)
	for _, a := range []*Matrix{New(1, 1), New(4, 4), tied, random(rng, 3, 2).Gram(), random(rng, 5, 24).Gram(), random(rng, 300, 101).Gram()} {
		values, vectors, err := Eigen(a)
		var ref mat.EigenSym
		if err != nil || !ref.Factorize(symmetric(a), false) {
			t.Fatalf("%d wide: %v", a.Rows, err)
		}
		want, most := ref.Values(nil), 1e-300
		for i, v := range values {
			most = math.Max(most, values[0])
			if w := want[len(want)-1-i]; !(math.Abs(v-w) <= 1e-13*most*float64(a.Rows)) {
				t.Errorf("%d wide: eigenvalue %d is %v, want %v", a.Rows, i, v, w)
			}
		}
		back := vectors.Clone() // Vᵀ diag(values) V is a again, and V Vᵀ one
		for i, v := range values {
			scale(back.Row(i), v)
		}
		agree(t, "put together again", vectors.Transposed().Times(back), symmetric(a), 1e-12)
		one := mat.NewDiagDense(a.Rows, nil)
		for i := range a.Rows {
			one.SetDiag(i, 1)
		}
		agree(t, "eigenvectors by each other", vectors.Times(vectors.Transposed()), one, 1e-12)
	}
	if _, _, err := Eigen(&Matrix{2, 2, []float64{1, 0, 0, math.NaN()}}); err == nil {
		t.Error("a matrix with a NaN has eigenvalues")
	}
}

func BenchmarkGram(b *testing.B) {
	m := random(rand.New(rand.NewPCG(1, 1)), 1500, 190)
	for b.Loop() {
		m.Gram()
	}
}

func BenchmarkGramOfGonum(b *testing.B) {
	m := dense(random(rand.New(rand.NewPCG(1, 1)), 1500, 190))
	for b.Loop() {
		mat.NewSymDense(190, nil).SymOuterK(1, m.T())
	}
}

func BenchmarkEigen(b *testing.B) {
	m := random(rand.New(rand.NewPCG(1, 1)), 300, 101).Gram()
	for b.Loop() {
		if _, _, err := Eigen(m); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkEigenOfGonum(b *testing.B) {
	m := symmetric(random(rand.New(rand.NewPCG(1, 1)), 300, 101).Gram())
	for b.Loop() {
		var e mat.EigenSym
		e.Factorize(m, true)
	}
}

func BenchmarkCholesky(b *testing.B) {
	m := random(rand.New(rand.NewPCG(1, 1)), 300, 190).Gram()
	for b.Loop() {
		NewCholesky(m)
	}
}

// Elements so small that their squares are nothing count for nothing.
func TestEigenOfNextToNothing(t *testing.T) {
	for _, small := range []float64{0, 1e-310, 1e-160, 1e-155, 1e-100} {
		a := &Matrix{3, 3, []float64{1, small, -small, small, 2, small, -small, small, 3}}
		values, vectors, err := Eigen(a)
		if err != nil {
			t.Errorf("%g beside the diagonal: %v", small, err)
			continue
		}
		for i, want := range []float64{3, 2, 1} {
			if math.Abs(values[i]-want) > 1e-15 || math.Abs(math.Abs(vectors.At(i, 2-i))-1) > 1e-15 {
				t.Errorf("%g beside the diagonal: value %d is %v with %v, want %v", small, i, values[i], vectors.Row(i), want)
			}
		}
	}
}
