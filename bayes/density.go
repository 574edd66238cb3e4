package bayes

import (
	"math"
	"math/rand/v2"

	"spile/matrix"
)

// density is a component laid out to be asked again and again; one for each goroutine.
type density struct {
	*component
	rows, across []float64 // unknown by axis, axis by unknown; nil for the unit axes
	// by side, minus first
	inverse, logScale [2][]float64
	constant          float64
	scaled, turned    []float64 // workspace
}

func (c *component) density() *density {
	n, h := len(c.centre), float64(c.heavy)
	d := &density{component: c, scaled: make([]float64, n), turned: make([]float64, n)}
	if c.axes != nil {
		d.rows, d.across = c.axes.Transposed().Data, c.axes.Data
	}
	for side, scale := range [2][]float64{c.minus, c.plus} {
		d.inverse[side], d.logScale[side] = make([]float64, n), make([]float64, n)
		for k, v := range scale {
			d.inverse[side][k], d.logScale[side][k] = 1/v, math.Log(v)
		}
	}
	a, _ := math.Lgamma((proposalNu + h) / 2)
	b, _ := math.Lgamma(proposalNu / 2)
	d.constant = a - b - h/2*math.Log(proposalNu*math.Pi) - (float64(n)-h)/2*math.Log(2*math.Pi)
	return d
}

// place writes centre + axes * (eta in units of the scales).
func (d *density) place(eta, z []float64) {
	for k, v := range eta {
		d.scaled[k] = v * d.scale(k, v)
	}
	if d.rows == nil {
		copy(z, d.scaled)
	} else {
		matrix.Combine(z, d.scaled, d.across, len(z))
	}
	for i, v := range d.centre {
		z[i] += v
	}
}

// project writes how far z lies from the centre along each axis.
func (d *density) project(z, out []float64) {
	if d.across == nil {
		for i, v := range z {
			out[i] = v - d.centre[i]
		}
		return
	}
	for i, v := range z {
		d.scaled[i] = v - d.centre[i]
	}
	matrix.Combine(out, d.scaled, d.rows, len(out))
}

// standard writes the coordinates of z in units of the scales.
func (d *density) standard(z, eta []float64) {
	d.project(z, eta)
	for k, v := range eta {
		eta[k] = v * d.inverse[side(v)][k]
	}
}

// inward turns a slope along z into that along standard coordinates, of a density as wide on either side of its axes.
func (d *density) inward(slope, out []float64) {
	matrix.Combine(out, slope, d.rows, len(out))
	for k := range out {
		out[k] *= d.plus[k]
	}
}

// side of a coordinate: 0 for minus, 1 for plus.
func side(v float64) int {
	if v > 0 {
		return 1
	}
	return 0
}

// logAlong is the log density of what project wrote.
func (d *density) logAlong(along []float64) float64 {
	heavy, light, logScale := 0.0, 0.0, 0.0
	for k, v := range along {
		s := side(v)
		v *= d.inverse[s][k]
		logScale += d.logScale[s][k]
		if k < d.heavy {
			heavy += float64(v * v)
		} else {
			light += float64(v * v)
		}
	}
	return d.constant + d.bend(heavy) - light/2 - logScale
}

// addSlope adds so many times the slope along z of the log density of what project wrote.
func (d *density) addSlope(along []float64, times float64, out []float64) {
	heavy := 0.0
	for k, v := range along[:d.heavy] {
		v *= d.inverse[side(v)][k]
		heavy += float64(v * v)
	}
	flatter := (proposalNu + float64(d.heavy)) / (proposalNu + heavy)
	for k, v := range along {
		i := d.inverse[side(v)][k]
		d.scaled[k] = -times * v * i * i
		if k < d.heavy {
			d.scaled[k] *= flatter
		}
	}
	if d.rows == nil {
		for i, v := range d.scaled {
			out[i] += v
		}
		return
	}
	matrix.Combine(d.turned, d.scaled, d.across, len(d.turned))
	for i, v := range d.turned {
		out[i] += v
	}
}

// bend is the log of the t of the heavy axes, but for its constant, from the sum of their squares.
func (d *density) bend(heavy float64) float64 {
	return float64(-(proposalNu + float64(d.heavy)) / 2 * math.Log1p(heavy/proposalNu))
}

// logStandard is the log density over standard coordinates, but for its constant.
func (d *density) logStandard(eta []float64) float64 {
	return d.bend(2*halfSquare(eta[:d.heavy])) - halfSquare(eta[d.heavy:])
}

// turn takes the standard coordinates eta some of the way, b, toward a fresh draw, which leaves the density invariant.
//
// References: [Rudolf2018] for the turn under a normal; a t is a normal given its
// scale, which is drawn first.
func (d *density) turn(eta, to []float64, b float64, rng *rand.Rand) {
	stretch := b
	if d.heavy > 0 { // scale given place: (nu + |eta|^2) / chi-square with nu + heavy degrees of freedom
		stretch *= math.Sqrt((proposalNu + 2*halfSquare(eta[:d.heavy])) / chiSquare(proposalNu+d.heavy, rng))
	}
	keep := math.Sqrt(1 - b*b)
	for k, v := range eta {
		by := stretch
		if k >= d.heavy {
			by = b
		}
		to[k] = float64(keep*v) + float64(by*rng.NormFloat64())
	}
}
