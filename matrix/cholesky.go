package matrix

import "math"

// Cholesky is the lower triangle L of a symmetric positive definite matrix L Lᵀ; above it stand zeros.
type Cholesky struct{ L *Matrix }

// NewCholesky decomposes a, of which the lower triangle is read. It is false where a is not positive definite.
func NewCholesky(a *Matrix) (Cholesky, bool) {
	l := New(a.Rows, a.Rows)
	for i := range a.Rows {
		row := l.Row(i)
		for j := range i {
			row[j] = (a.At(i, j) - Dot(row[:j], l.Row(j)[:j])) / l.At(j, j)
		}
		square := a.At(i, i) - Dot(row[:i], row[:i])
		if !(square > 0) || math.IsInf(square, 1) {
			return Cholesky{}, false
		}
		row[i] = math.Sqrt(square)
	}
	return Cholesky{l}, true
}

// Solve gives X of L Lᵀ X = b.
func (c Cholesky) Solve(b *Matrix) *Matrix {
	l, x := c.L, b.Clone()
	for i := range l.Rows {
		for k, v := range l.Row(i)[:i] {
			AddScaled(x.Row(i), -v, x.Row(k))
		}
		scale(x.Row(i), 1/l.At(i, i))
	}
	for i := l.Rows - 1; i >= 0; i-- {
		scale(x.Row(i), 1/l.At(i, i))
		for k, v := range l.Row(i)[:i] {
			AddScaled(x.Row(k), -v, x.Row(i))
		}
	}
	return x
}

// SolveVec gives x of L Lᵀ x = b.
func (c Cholesky) SolveVec(b []float64) []float64 {
	return c.Solve(&Matrix{len(b), 1, b}).Data
}

// Forward gives x of L x = b.
func (c Cholesky) Forward(b []float64) []float64 {
	x := make([]float64, len(b))
	for i := range x {
		x[i] = (b[i] - Dot(c.L.Row(i)[:i], x[:i])) / c.L.At(i, i)
	}
	return x
}

// Inverse is that of L Lᵀ.
func (c Cholesky) Inverse() *Matrix {
	one := New(c.L.Rows, c.L.Rows)
	for i := range one.Rows {
		one.Set(i, i, 1)
	}
	return c.Solve(one)
}

// LogDet is the logarithm of the determinant of L Lᵀ.
func (c Cholesky) LogDet() float64 {
	sum := 0.0
	for i := range c.L.Rows {
		sum += 2 * math.Log(c.L.At(i, i))
	}
	return sum
}

func scale(x []float64, by float64) {
	for i := range x {
		x[i] *= by
	}
}
