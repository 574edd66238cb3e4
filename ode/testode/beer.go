package testode

import "spile/ode"

// State components of Beer, in this order.
const (
	Active       = iota // suspended active cells XA, g/L
	Lagging             // cells not yet active XL, g/L
	Dead                // dead cells in suspension XD, g/L
	Sugar               // S, g/L
	Ethanol             // E, g/L
	EthylAcetate        // EA, mg/L
	Diacetyl            // DY, mg/L
	beerStates
)

// Beer is the kinetic model of de Andres-Toro et al. at a temperature given from
// outside. Time in hours. The sign and form of each term are those of
// restatements that reproduce the published run ends; ethyl acetate follows
// growth. Not to be used outside 10 to 16 C. References: [AndresToro1998]
type Beer struct {
	Sugar0         float64                 // sugar at the start, g/L
	Growth, Uptake float64                 // factors on growth and on uptake, 1 as published
	Temperature    func(t float64) float64 // kelvin

	t, inverse float64 // temperature the constants belong to, and 1/t
	rate       [rateConstants]float64
	nodes      nodes
}

// NewBeer is the model as published, with 130 g/L of sugar.
func NewBeer(temperature func(t float64) float64) *Beer {
	return &Beer{Sugar0: 130, Growth: 1, Uptake: 1, Temperature: temperature}
}

// constantsAt brings the rate constants to temperature T in kelvin. Slope and
// Jacobian at one point share them.
func (b *Beer) constantsAt(T float64) *[rateConstants]float64 {
	if T != b.t {
		b.t = T
		b.inverse = b.nodes.at(T, &b.rate)
		b.rate[growth] *= b.Growth
		b.rate[uptake] *= b.Uptake
		b.rate[ethanol] *= b.Uptake
	}
	return &b.rate
}

// Start is the state at pitching: 0.08 g/L active, 1.92 lagging, 2 dead cells.
func (b *Beer) Start() []float64 {
	y := make([]float64, beerStates)
	y[Active], y[Lagging], y[Dead], y[Sugar] = 0.08, 1.92, 2, b.Sugar0
	return y
}

// System is the model for an integrator.
func (b *Beer) System() ode.System {
	return ode.System{
		Slope:    func(t float64, y, d []float64) { b.slope(b.Temperature(t), y, d) },
		Jacobian: func(t float64, y, j []float64) { b.jacobian(b.Temperature(t), y, j, beerStates) },
	}
}

// slope writes the seven balances and returns the sugar uptake in g/L/h.
func (b *Beer) slope(T float64, y, d []float64) (used float64) {
	k := b.constantsAt(T)
	_, _ = y[6], d[6]
	XA, S, E, h := y[Active], y[Sugar], y[Ethanol], 0.5*b.Sugar0
	inhibited := 1 / (h + E)
	grow, sink, m := k[growth]*S*inhibited, k[settle]*h*inhibited, S/(k[half]+S)
	used = k[uptake] * m * XA
	d[Active] = (grow-k[death])*XA + k[lag]*y[Lagging]
	d[Lagging] = -k[lag] * y[Lagging]
	d[Dead] = k[death]*XA - sink*y[Dead]
	d[Sugar] = -used
	d[Ethanol] = (1 - E/h) * k[ethanol] * m * XA
	d[EthylAcetate] = k[acetate] * grow * XA
	d[Diacetyl] = diacetylMade*S*XA - diacetylRemoved*y[Diacetyl]*E
	return used
}

// beerSensitivity holds what a closed vessel needs besides the seven rows: the
// uptake's derivatives, and the column of temperature.
type beerSensitivity struct {
	uptakeActive, uptakeSugar, uptakeT float64
	column                             [beerStates]float64
}

// jacobian writes the derivatives of the seven balances into rows of length n.
func (b *Beer) jacobian(T float64, y, j []float64, n int) (out beerSensitivity) {
	k := b.constantsAt(T)
	XA, S, E, h := y[Active], y[Sugar], y[Ethanol], 0.5*b.Sugar0
	inhibited, per := 1/(h+E), 1/(k[half]+S)
	grow, sink, m, f := k[growth]*S*inhibited, k[settle]*h*inhibited, S*per, 1-E/h
	mSugar := k[half] * per * per
	row := j[Active*n:]
	row[Active], row[Lagging], row[Sugar], row[Ethanol] = grow-k[death], k[lag], k[growth]*inhibited*XA, -grow*inhibited*XA
	j[Lagging*n+Lagging] = -k[lag]
	row = j[Dead*n:]
	row[Active], row[Dead], row[Ethanol] = k[death], -sink, sink*inhibited*y[Dead]
	out.uptakeActive, out.uptakeSugar = k[uptake]*m, k[uptake]*mSugar*XA
	row = j[Sugar*n:]
	row[Active], row[Sugar] = -out.uptakeActive, -out.uptakeSugar
	row = j[Ethanol*n:]
	row[Active], row[Sugar], row[Ethanol] = f*k[ethanol]*m, f*k[ethanol]*mSugar*XA, -k[ethanol]*m*XA/h
	row = j[EthylAcetate*n:]
	row[Active], row[Sugar], row[Ethanol] = k[acetate]*grow, k[acetate]*k[growth]*inhibited*XA, -k[acetate]*grow*inhibited*XA
	row = j[Diacetyl*n:]
	row[Active], row[Sugar], row[Ethanol], row[Diacetyl] = diacetylMade*S, diacetylMade*XA, -diacetylRemoved*y[Diacetyl], -diacetylRemoved*E
	b.warming(y, grow, sink, m, &out)
	return out
}

// warming fills the derivatives with respect to temperature; d exp(a + b/T)/dT
// is -b/T^2 times the constant.
func (b *Beer) warming(y []float64, grow, sink, m float64, out *beerSensitivity) {
	k := &b.rate
	XA, S, E, i2 := y[Active], y[Sugar], y[Ethanol], b.inverse*b.inverse
	per := 1 / (k[half] + S)
	mT := S * per * per * k[half] * bHalf * i2
	growT, deathT, lagT := -bGrowth*i2*grow, -bDeath*i2*k[death], -bLag*i2*k[lag]
	uptakeT := k[uptake] * (mT - bUptake*i2*m)
	out.uptakeT = uptakeT * XA
	out.column = [beerStates]float64{
		Active:       (growT-deathT)*XA + lagT*y[Lagging],
		Lagging:      -lagT * y[Lagging],
		Dead:         deathT*XA + bSettle*i2*sink*y[Dead],
		Sugar:        -uptakeT * XA,
		Ethanol:      (1 - 2*E/b.Sugar0) * k[ethanol] * (mT - bEthanol*i2*m) * XA,
		EthylAcetate: k[acetate] * (growT - bAcetate*i2*grow) * XA,
	}
}
