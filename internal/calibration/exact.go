package calibration

import (
	"fmt"
	"math"

	"spile/bayes"
)

// shape is a posterior whose moments are known otherwise: in closed form, or by quadrature on a fine grid.
type shape struct {
	name     string
	dim      int
	residual func(z []float64) []float64 // of normal errors
	mean, sd []float64                   // nil: by quadrature
}

// Textbook Gaussian algebra gives the first two: with precision 1 + 1/s² for a reading y
// of error s the mean is y/(1 + s²).
var shapes = []shape{
	{"conjugate normal", 1, func(z []float64) []float64 { return []float64{(z[0] - 1.5) / 0.5} }, []float64{1.2}, []float64{math.Sqrt(0.2)}},
	// a filter of one step: z0, then z0 + z1 read with error 1: covariance (I + aa')^-1 with a = (1, 1), y = 2
	{"linear, two states", 2, func(z []float64) []float64 { return []float64{z[0] + z[1] - 2} }, []float64{2. / 3, 2. / 3}, []float64{math.Sqrt(2. / 3), math.Sqrt(2. / 3)}},
	{"banana", 2, func(z []float64) []float64 { return []float64{(z[1] - z[0]*z[0] + 0.5) / 0.1} }, nil, nil},
	{"two modes", 1, func(z []float64) []float64 { return []float64{(z[0]*z[0] - 2.25) / 0.3, (z[0] - 0.2) / 3} }, nil, nil},
}

// Residuals and the rest make a shape a model.
func (s shape) Residuals(z, _ []float64) []float64 { return s.residual(z) }

// Nu says that errors are normal.
func (s shape) Nu() float64 { return math.Inf(1) }

// LogLikelihood of z.
func (s shape) LogLikelihood(z []float64) float64 {
	var sum float64
	for _, r := range s.residual(z) {
		sum -= r * r / 2
	}
	return sum
}

// moments by quadrature where no closed form is given.
func (s shape) moments() (mean, sd []float64) {
	if s.mean != nil {
		return s.mean, s.sd
	}
	const reach, n = 6.0, 800
	mean, sd = make([]float64, s.dim), make([]float64, s.dim)
	sum, z := 0.0, make([]float64, s.dim)
	var visit func(k int)
	visit = func(k int) {
		if k < s.dim {
			for i := range n + 1 {
				z[k] = reach * (2*float64(i)/n - 1)
				visit(k + 1)
			}
			return
		}
		square := 0.0
		for _, v := range z {
			square += v * v
		}
		p := math.Exp(s.LogLikelihood(z) - square/2)
		sum += p
		for j, v := range z {
			mean[j], sd[j] = mean[j]+p*v, sd[j]+p*v*v
		}
	}
	visit(0)
	for j := range mean {
		mean[j] /= sum
		sd[j] = math.Sqrt(sd[j]/sum - mean[j]*mean[j])
	}
	return mean, sd
}

// strayed is how far one answer lies from the exact one.
type strayed struct {
	Mean float64 // worst unknown, in exact sd
	SD   float64 // worst ratio less one
	ESS  float64
}

// exact only reports: the tests of package bayes hold it.
func exact(r *run) error {
	var rows [][]string
	for k, s := range shapes {
		mean, sd := s.moments()
		all, err := gather(r, "exact "+s.name, r.Budget.Exact, func(i int) (strayed, error) {
			return s.stray(r.rng(streamExact, k<<24|i).Uint64(), mean, sd)
		})
		if err != nil {
			return err
		}
		var m, d, ess float64
		for _, v := range all {
			m, d, ess = m+v.Mean*v.Mean, d+v.SD*v.SD, ess+v.ESS
		}
		n := float64(len(all))
		rows = append(rows, []string{s.name, fmt.Sprint(len(all)), fmt.Sprintf("%.3f", math.Sqrt(m/n)), fmt.Sprintf("%.3f", math.Sqrt(d/n)), fmt.Sprintf("%.0f", ess/n)})
	}
	r.doc.heading("Exact answers")
	r.doc.say("Posteriors that are known in closed form or by quadrature, with 1,000 members; the tests of package bayes hold these and more. Root mean square, worst unknown.")
	r.doc.table([]string{"posterior", "runs", "mean off, sd", "sd off, share", "effective members"}, rows)
	return nil
}

func (s shape) stray(seed uint64, mean, sd []float64) (strayed, error) {
	post, err := bayes.Condition(bayes.Problem{Dim: s.dim, NewModel: func() bayes.Model { return s }}, seed, bayes.Options{Workers: 1})
	if err != nil {
		return strayed{}, err
	}
	out := strayed{ESS: post.EffectiveSamples}
	x := make([]float64, len(post.Z))
	for j := range mean {
		for i, z := range post.Z {
			x[i] = z[j]
		}
		sample := bayes.NewSorted(x, post.Weight)
		out.Mean = math.Max(out.Mean, math.Abs(sample.Mean()-mean[j])/sd[j])
		out.SD = math.Max(out.SD, math.Abs(sample.SD()/sd[j]-1))
	}
	return out, nil
}
