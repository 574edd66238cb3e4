//go:build !amd64

package matrix

const wide = false

func addRowsWide(y, times, rows *float64, m, n, stride int) {
	panic("matrix: this processor has no wide form")
}
