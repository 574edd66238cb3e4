package matrix

import (
	"errors"
	"math"
	"slices"
	"sort"
)

// errEigen says that eigenvalues were not found, as of a matrix that holds a NaN.
var errEigen = errors.New("matrix: the eigenvalues did not converge")

// Eigen gives the eigenvalues of a symmetric matrix, the largest first, and a row for each, its eigenvector of length one.
// It turns a into a tridiagonal matrix by reflections, and that into a diagonal one by rotations.
//
// References: [GolubVanLoan2013] algorithms 8.3.1 to 8.3.3
func Eigen(a *Matrix) (values []float64, vectors *Matrix, err error) {
	d, e, q := tridiagonal(a.Clone())
	if err := diagonal(d, e, q); err != nil {
		return nil, nil, err
	}
	order := make([]int, len(d))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return d[order[i]] > d[order[j]] })
	values, vectors = make([]float64, len(d)), New(len(d), len(d))
	for i, from := range order {
		values[i] = d[from]
		copy(vectors.Row(i), q.Row(from))
	}
	return values, vectors, nil
}

// tridiagonal is a in the basis of the rows of q: d on the diagonal and e below it. a is used up.
func tridiagonal(a *Matrix) (d, e []float64, q *Matrix) {
	n := a.Rows
	d, e, q = make([]float64, n), make([]float64, n), New(n, n)
	times := make([]float64, n) // of the reflection 1 - times v vᵀ, v being left in the column of a, which is a row of it
	for k := range n - 1 {
		v := a.Row(k)[k+1:]
		length := math.Sqrt(Dot(v, v))
		e[k] = -math.Copysign(length, v[0])
		by := 1 / (length * (length + math.Abs(v[0])))
		if math.IsInf(by, 1) { // nothing stands there, or too little for any digit
			e[k] = v[0]
			continue
		}
		times[k] = by
		v[0] -= e[k]
		w := make([]float64, len(v))
		for i := range w {
			w[i] = times[k] * Dot(a.Row(k + 1 + i)[k+1:], v)
		}
		AddScaled(w, -0.5*times[k]*Dot(w, v), v)
		for i := range w {
			row := a.Row(k + 1 + i)[k+1:]
			for j := range row {
				row[j] -= v[i]*w[j] + w[i]*v[j]
			}
		}
	}
	for k := n - 1; k >= 0; k-- { // q is the product of the reflections
		d[k] = a.At(k, k)
		q.Set(k, k, 1)
		v := a.Row(k)[k+1:]
		for i := k + 1; i < n; i++ {
			row := q.Row(i)[k+1:]
			AddScaled(row, -times[k]*Dot(row, v), v)
		}
	}
	return d, e, q
}

// diagonal turns the tridiagonal matrix d, e into the diagonal d, and the rows of q with it.
func diagonal(d, e []float64, q *Matrix) error {
	const most = 60 // rounds for one eigenvalue; two or three are usual
	for hi, rounds := len(d)-1, 0; hi > 0; rounds++ {
		lo := hi
		for lo > 0 && math.Abs(e[lo-1]) > 0x1p-53*(math.Abs(d[lo-1])+math.Abs(d[lo])) {
			lo--
		}
		switch {
		case lo == hi:
			hi, rounds = hi-1, -1
		case rounds == most:
			return errEigen
		default:
			chase(d, e, q, lo, hi)
		}
	}
	if slices.ContainsFunc(d, math.IsNaN) {
		return errEigen
	}
	return nil
}

// chase is one step from lo to hi with Wilkinson's shift: each rotation moves what stands outside the three diagonals on by one.
func chase(d, e []float64, q *Matrix, lo, hi int) {
	half, last := (d[hi-1]-d[hi])/2, e[hi-1]
	x := d[lo] - d[hi] + last*(last/(half+math.Copysign(math.Hypot(half, last), half)))
	z := e[lo]
	for k := lo; k < hi; k++ {
		r, c, s := math.Hypot(x, z), 1.0, 0.0
		if r > 0 {
			c, s = x/r, z/r
		}
		if k > lo {
			e[k-1] = r
		}
		dk, dl, ek := d[k], d[k+1], e[k]
		d[k] = c*c*dk + 2*c*s*ek + s*s*dl
		d[k+1] = s*s*dk - 2*c*s*ek + c*c*dl
		e[k] = c*s*(dl-dk) + (c*c-s*s)*ek
		if k < hi-1 {
			x, z = e[k], s*e[k+1]
			e[k+1] *= c
		}
		a, b := q.Row(k), q.Row(k+1)
		for i, u := range a {
			v := b[i]
			a[i], b[i] = c*u+s*v, c*v-s*u
		}
	}
}
