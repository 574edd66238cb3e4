// Package matrix holds what Spile needs of dense matrices. Each sum runs in one order on every processor, which
// libraries with kernels of their own for some do not promise.
package matrix

import "sync"

// Matrix is a dense matrix; Data lies row after row.
type Matrix struct {
	Rows, Columns int
	Data          []float64
}

// New is a matrix of zeros.
func New(rows, columns int) *Matrix {
	return &Matrix{rows, columns, make([]float64, rows*columns)}
}

// At is the element in row i and column j.
func (m *Matrix) At(i, j int) float64 { return m.Data[i*m.Columns+j] }

// Set puts v in row i and column j.
func (m *Matrix) Set(i, j int, v float64) { m.Data[i*m.Columns+j] = v }

// Row is row i itself, not a copy.
func (m *Matrix) Row(i int) []float64 { return m.Data[i*m.Columns : (i+1)*m.Columns] }

// Top is the first rows themselves, not a copy.
func (m *Matrix) Top(rows int) *Matrix {
	return &Matrix{rows, m.Columns, m.Data[:rows*m.Columns]}
}

// Column is a copy of column j.
func (m *Matrix) Column(j int) []float64 {
	out := make([]float64, m.Rows)
	for i := range out {
		out[i] = m.At(i, j)
	}
	return out
}

// Transposed is m with rows and columns changed over.
func (m *Matrix) Transposed() *Matrix {
	t := New(m.Columns, m.Rows)
	const strip = 8 // rows together, so that what is written lies together
	for from := 0; from < m.Rows; from += strip {
		to := min(from+strip, m.Rows)
		for j := range m.Columns {
			row := t.Row(j)
			for i := from; i < to; i++ {
				row[i] = m.Data[i*m.Columns+j]
			}
		}
	}
	return t
}

// Clone is a copy of m.
func (m *Matrix) Clone() *Matrix {
	return &Matrix{m.Rows, m.Columns, append([]float64(nil), m.Data...)}
}

// Times is the product m b; it panics unless b has as many rows as m has columns.
func (m *Matrix) Times(b *Matrix) *Matrix {
	if m.Columns != b.Rows {
		panic("matrix: the product of matrices that do not fit")
	}
	out := New(m.Rows, b.Columns)
	for i := range m.Rows {
		Combine(out.Row(i), m.Row(i), b.Data, b.Columns)
	}
	return out
}

// TimesVec is the product m x.
func (m *Matrix) TimesVec(x []float64) []float64 {
	y := make([]float64, m.Rows)
	for i := range y {
		y[i] = Dot(m.Row(i), x)
	}
	return y
}

// block is how many rows are gone through together, so that they stay at hand in the processor.
const block = 64

// Gram is the product of m transposed with m.
func (m *Matrix) Gram() *Matrix {
	gram, _ := m.Normal(New(m.Rows, 0), 1)
	return gram
}

// Normal gives what least squares asks for, the products of m transposed with m and with b, by so many goroutines; their
// number never shows in the digits. It panics unless b has as many rows as m.
func (m *Matrix) Normal(b *Matrix, workers int) (gram, product *Matrix) {
	if m.Rows != b.Rows {
		panic("matrix: the product of matrices that do not fit")
	}
	t := m.Transposed()
	gram, product = New(m.Columns, m.Columns), New(m.Columns, b.Columns)
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() { // every so many-th row
			for from := 0; from < m.Rows; from += block {
				to := min(from+block, m.Rows)
				for i := w; i < m.Columns; i += workers {
					addRows(gram.Row(i)[i:], t.Row(i)[from:to], m.Data[from*m.Columns+i:], m.Columns)
					addRows(product.Row(i), t.Row(i)[from:to], b.Data[from*b.Columns:], b.Columns)
				}
			}
		})
	}
	wg.Wait()
	gram.Mirror()
	return gram, product
}

// Mirror makes m symmetric by what stands above its diagonal.
func (m *Matrix) Mirror() {
	for i := range m.Rows {
		for j := range i {
			m.Set(i, j, m.At(j, i))
		}
	}
}

// AddScaled adds to sum so many times x, of the same length.
func AddScaled(sum []float64, times float64, x []float64) {
	x = x[:len(sum)]
	for j := range sum {
		sum[j] += times * x[j]
	}
}

// Dot is the sum of the products of two vectors of one length.
func Dot(a, b []float64) float64 {
	b = b[:len(a)]
	var s0, s1, s2, s3 float64 // four sums, so that none waits for the one before
	i := 0
	for ; i+4 <= len(a); i += 4 {
		s0 += a[i] * b[i]
		s1 += a[i+1] * b[i+1]
		s2 += a[i+2] * b[i+2]
		s3 += a[i+3] * b[i+3]
	}
	for ; i < len(a); i++ {
		s0 += a[i] * b[i]
	}
	return (s0 + s1) + (s2 + s3)
}
