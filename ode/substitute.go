package ode

// substitute solves with the factors that eliminate left. Blocks of up to five
// equations, which is what a vessel has, are written out: loops would cost more
// than the arithmetic.
func substitute(a []float64, pivot []int, x []float64) {
	for k, p := range pivot {
		if p != k {
			x[k], x[p] = x[p], x[k]
		}
	}
	switch len(x) {
	case 2:
		substitute2((*[4]float64)(a), (*[2]float64)(x))
	case 3:
		substitute3((*[9]float64)(a), (*[3]float64)(x))
	case 4:
		substitute4((*[16]float64)(a), (*[4]float64)(x))
	case 5:
		substitute5((*[25]float64)(a), (*[5]float64)(x))
	default:
		substituteAny(a, x)
	}
}

func substitute2(a *[4]float64, x *[2]float64) {
	x1 := (x[1] - a[2]*x[0]) * a[3]
	x[0], x[1] = (x[0]-a[1]*x1)*a[0], x1
}

func substitute3(a *[9]float64, x *[3]float64) {
	x0 := x[0]
	x1 := x[1] - a[3]*x0
	x2 := (x[2] - a[6]*x0 - a[7]*x1) * a[8]
	x1 = (x1 - a[5]*x2) * a[4]
	x[0], x[1], x[2] = (x0-a[2]*x2-a[1]*x1)*a[0], x1, x2
}

func substitute4(a *[16]float64, x *[4]float64) {
	x0 := x[0]
	x1 := x[1] - a[4]*x0
	x2 := x[2] - a[8]*x0 - a[9]*x1
	x3 := (x[3] - a[12]*x0 - a[13]*x1 - a[14]*x2) * a[15]
	x2 = (x2 - a[11]*x3) * a[10]
	x1 = (x1 - a[7]*x3 - a[6]*x2) * a[5]
	x[0], x[1], x[2], x[3] = (x0-a[3]*x3-a[2]*x2-a[1]*x1)*a[0], x1, x2, x3
}

func substitute5(a *[25]float64, x *[5]float64) {
	x0 := x[0]
	x1 := x[1] - a[5]*x0
	x2 := x[2] - a[10]*x0 - a[11]*x1
	x3 := x[3] - a[15]*x0 - a[16]*x1 - a[17]*x2
	x4 := (x[4] - a[20]*x0 - a[21]*x1 - a[22]*x2 - a[23]*x3) * a[24]
	x3 = (x3 - a[19]*x4) * a[18]
	x2 = (x2 - a[14]*x4 - a[13]*x3) * a[12]
	x1 = (x1 - a[9]*x4 - a[8]*x3 - a[7]*x2) * a[6]
	x[0], x[1], x[2], x[3], x[4] = (x0-a[4]*x4-a[3]*x3-a[2]*x2-a[1]*x1)*a[0], x1, x2, x3, x4
}

func substituteAny(a, x []float64) {
	m := len(x)
	for i := 1; i < m; i++ {
		sum := x[i]
		for c, l := range a[i*m : i*m+i] {
			sum -= l * x[c]
		}
		x[i] = sum
	}
	for i := m - 1; i >= 0; i-- {
		row := a[i*m : i*m+m]
		sum := x[i]
		for c := i + 1; c < m; c++ {
			sum -= row[c] * x[c]
		}
		x[i] = sum * row[i]
	}
}
