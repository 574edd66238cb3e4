package matrix

import "golang.org/x/sys/cpu"

// wide tells whether the processor works on four numbers at once, widest whether on eight.
var wide, widest = cpu.X86.HasAVX, cpu.X86.HasAVX512F

// addRowsWide is addRowsPlain, digit for digit, with sixteen sums side by side: m of them, of n terms each, neither none.
//
//go:noescape
func addRowsWide(y, times, rows *float64, m, n, stride int)

// addRowsWidest is addRowsWide with thirty-two.
//
//go:noescape
func addRowsWidest(y, times, rows *float64, m, n, stride int)
