package matrix

import "golang.org/x/sys/cpu"

// wide tells whether the processor works on four numbers at once.
var wide = cpu.X86.HasAVX

// addRowsWide is addRowsPlain, digit for digit, with sixteen sums side by side: m of them, of n terms each, neither none.
//
//go:noescape
func addRowsWide(y, times, rows *float64, m, n, stride int)
