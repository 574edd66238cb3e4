package bayes

// timesVec writes A x into y. A lies row after row, each as long as x. Four rows go together, so that no sum
// waits for the one before; each sum runs in order and is rounded at each step, whatever the machine.
func timesVec(a, x, y []float64) {
	n, k := len(x), 0
	for ; k+4 <= len(y); k += 4 {
		at := k * n
		r0, r1, r2, r3 := a[at:at+n], a[at+n:at+2*n], a[at+2*n:at+3*n], a[at+3*n:at+4*n]
		var s0, s1, s2, s3 float64
		for j, v := range x {
			s0 += float64(r0[j] * v)
			s1 += float64(r1[j] * v)
			s2 += float64(r2[j] * v)
			s3 += float64(r3[j] * v)
		}
		y[k], y[k+1], y[k+2], y[k+3] = s0, s1, s2, s3
	}
	for ; k < len(y); k++ {
		s := 0.0
		for j, v := range x {
			s += float64(a[k*n+j] * v)
		}
		y[k] = s
	}
}
