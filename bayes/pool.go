package bayes

import (
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"
)

// pool evaluates models on several goroutines. Results land by index, so that the
// number of goroutines never shows in them.
type pool struct {
	models   []Model
	calls    int
	progress func(float64) bool
	reported float64
	// from, to and expected place the calls of the present stage on the scale of progress.
	from, to, expected float64
	stageCalls         int64
}

func newPool(p Problem, o Options) *pool {
	n := o.Workers
	if n <= 0 {
		n = runtime.GOMAXPROCS(0)
	}
	pl := &pool{models: make([]Model, n), progress: o.Progress, to: 1, expected: 1}
	for i := range pl.models {
		pl.models[i] = p.NewModel()
	}
	return pl
}

// stage says that about so many calls will carry progress from one share to another.
func (p *pool) stage(from, to float64, expectedCalls int) {
	p.from, p.to, p.expected, p.stageCalls = from, to, math.Max(1, float64(expectedCalls)), 0
}

// report passes progress on, never backwards; it returns false to stop.
func (p *pool) report(done float64) bool {
	if p.progress == nil {
		return true
	}
	p.reported = math.Max(p.reported, math.Min(done, 1))
	return p.progress(p.reported)
}

// reportEvery is the number of evaluations on the calling goroutine between reports.
const reportEvery = 64

// each runs f for every index below n, on the worker given. The calling goroutine takes part, and alone reports.
func (p *pool) each(n int, f func(worker, i int)) error {
	var next atomic.Int64
	var stop atomic.Bool
	run := func(worker int, after func(i int)) {
		for !stop.Load() {
			i := int(next.Add(1)) - 1
			if i >= n {
				return
			}
			f(worker, i)
			after(i)
		}
	}
	var wg sync.WaitGroup
	for w := 1; w < min(len(p.models), n); w++ {
		wg.Go(func() { run(w, func(int) {}) })
	}
	mine := 0
	run(0, func(i int) {
		if mine++; mine%reportEvery == 0 && !p.report(p.share(i+1)) {
			stop.Store(true)
		}
	})
	wg.Wait()
	p.calls += n
	p.stageCalls += int64(n)
	if stop.Load() || !p.report(p.share(0)) {
		return ErrStopped
	}
	return nil
}

func (p *pool) share(extra int) float64 {
	f := (float64(p.stageCalls) + float64(extra)) / p.expected
	return p.from + (p.to-p.from)*math.Min(1, f)
}

// logLik fills out with the log likelihood of each z.
func (p *pool) logLik(zs [][]float64, out []float64) error {
	err := p.each(len(zs), func(w, i int) { out[i] = p.models[w].LogLikelihood(zs[i]) })
	if err != nil {
		return err
	}
	for i, v := range out[:len(zs)] {
		if err := fit(v, zs[i]); err != nil {
			return err
		}
	}
	return nil
}

// fit says what is wrong with a log likelihood.
func fit(logLik float64, z []float64) error {
	if math.IsNaN(logLik) || math.IsInf(logLik, 1) {
		return fmt.Errorf("bayes: the log likelihood is %v at z = %.4g; it must be finite or -Inf", logLik, z)
	}
	return nil
}

// try the model of a worker at z.
func (p *pool) try(worker int, z []float64) draw {
	d := draw{z: z}
	if m, ok := p.models[worker].(ResidualModel); ok {
		d.residuals = m.Residuals(z, nil)
		d.logLik = studentLogLik(d.residuals, m.Nu())
	} else {
		d.logLik = p.models[worker].LogLikelihood(z)
	}
	return d
}
