//go:build !amd64

package matrix

const wide, widest = false, false

func addRowsWide(y, times, rows *float64, m, n, stride int) {
	panic("matrix: this processor has no wide form")
}

func addRowsWidest(y, times, rows *float64, m, n, stride int) {
	addRowsWide(y, times, rows, m, n, stride)
}
