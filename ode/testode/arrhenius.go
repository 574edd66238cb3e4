package testode

import "math"

// Rate constants exp(a + b/T), in this order: names as in the source.
// References: [AndresToro1998]
const (
	growth  = iota // mu_x0, 1/h
	acetate        // Y_EA
	uptake         // mu_S0, g/(g h)
	lag            // mu_L, 1/h
	death          // mu_DT, 1/h
	settle         // mu_SD0, 1/h
	ethanol        // mu_E0, g/(g h)
	half           // k_S, g/L
	rateConstants
)

const (
	bGrowth, bAcetate, bUptake, bLag = -31934.09, -26589.0, 11654.64, -9501.54
	bDeath, bSettle, bEthanol, bHalf = -38313.0, -10033.28, -1267.24, 34203.95
	diacetylMade                     = 0.000127672 // mu_DY
	diacetylRemoved                  = 0.00113864  // mu_AB
)

var (
	rateA = [rateConstants]float64{108.31, 89.92, -41.92, 30.72, 130.16, 33.82, 3.27, -119.63}
	rateB = [rateConstants]float64{bGrowth, bAcetate, bUptake, bLag, bDeath, bSettle, bEthanol, bHalf}
)

// node holds the rate constants at a temperature from which those nearby follow.
type node struct {
	t, inverse float64
	k          [rateConstants]float64
}

const (
	perKelvin = 64  // nodes
	nodesKept = 256 // so 4 K are at hand
)

// nodes are the last ones used. What at returns depends on the temperature alone.
type nodes [nodesKept]node

// at writes the rate constants at T in kelvin, each factored by nothing, and
// returns 1/T. Between nodes 1/128 K away at most, exp(b (1/T - 1/T0)) has an
// argument below 0.005, where six terms of its series are exact to rounding.
func (n *nodes) at(T float64, k *[rateConstants]float64) (inverse float64) {
	i := int(T*perKelvin + 0.5)
	near := &n[i&(nodesKept-1)]
	if at := float64(i) / perKelvin; near.t != at {
		near.set(at)
	}
	inverse = 1 / T
	d := inverse - near.inverse
	for c := range k {
		k[c] = near.k[c] * expNearZero(rateB[c]*d)
	}
	return inverse
}

func (n *node) set(t float64) {
	n.t, n.inverse = t, 1/t
	for c := range n.k {
		n.k[c] = math.Exp(rateA[c] + rateB[c]*n.inverse)
	}
}

// expNearZero is exp(x) for |x| < 0.005, within 1e-15 relative.
func expNearZero(x float64) float64 {
	square := x * x
	return 1 + (x + square*(1./2+x*(1./6)+square*(1./24+x*(1./120))))
}
