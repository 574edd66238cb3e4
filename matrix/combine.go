package matrix

// Combine writes into y the sum of rows, each as often as times says: y[k] is the sum over j of times[j] rows[j*stride+k].
// Where stride is more than the length of y, the rest of each row is passed over. Each sum runs in order and is rounded
// at each step, so that every machine finds the same digits.
func Combine(y, times, rows []float64, stride int) {
	clear(y)
	addRows(y, times, rows, stride)
}

// addRows adds to y what Combine writes, term after term.
func addRows(y, times, rows []float64, stride int) {
	if len(times) == 0 || len(y) == 0 {
		return
	}
	_ = rows[(len(times)-1)*stride+len(y)-1] // the wide forms ask no more
	switch {
	case widest:
		addRowsWidest(&y[0], &times[0], &rows[0], len(y), len(times), stride)
	case wide:
		addRowsWide(&y[0], &times[0], &rows[0], len(y), len(times), stride)
	default:
		addRowsPlain(y, times, rows, stride)
	}
}

// addRowsPlain takes eight sums together, so that none waits for its last term.
func addRowsPlain(y, times, rows []float64, stride int) {
	k := 0
	for ; k+8 <= len(y); k += 8 {
		s0, s1, s2, s3, s4, s5, s6, s7 := y[k], y[k+1], y[k+2], y[k+3], y[k+4], y[k+5], y[k+6], y[k+7]
		for j, v := range times {
			r := rows[j*stride+k:][:8]
			s0 += float64(v * r[0])
			s1 += float64(v * r[1])
			s2 += float64(v * r[2])
			s3 += float64(v * r[3])
			s4 += float64(v * r[4])
			s5 += float64(v * r[5])
			s6 += float64(v * r[6])
			s7 += float64(v * r[7])
		}
		y[k], y[k+1], y[k+2], y[k+3], y[k+4], y[k+5], y[k+6], y[k+7] = s0, s1, s2, s3, s4, s5, s6, s7
	}
	for ; k < len(y); k++ {
		s := y[k]
		for j, v := range times {
			s += float64(v * rows[j*stride+k])
		}
		y[k] = s
	}
}
