package main

import (
	"fmt"
	"slices"
	"time"

	"spile/ode"
	"spile/ode/testode"
)

// candidate is an integrator's settings on a problem.
type candidate struct {
	name    string
	problem *testode.Timing
	options ode.Options
}

// once solves the problem, leaving the end in y and the outputs in out.
func (c *candidate) once(s *ode.Solver, y []float64, out [][]float64) (ode.Stats, error) {
	c.problem.Start(y)
	return s.Integrate(c.problem.System, c.problem.Events, 0, testode.Hours, y, times, func(i int, _ float64, y []float64) { copy(out[i], y) })
}

var times = testode.OutputTimes()

func outputs(n int) [][]float64 {
	out := make([][]float64, testode.Outputs)
	for i := range out {
		out[i] = make([]float64, n)
	}
	return out
}

// clocks are readings of wall and processor time, or their differences.
type clocks struct{ wall, cpu time.Duration }

func now() clocks { return clocks{time.Since(start), cpuTime()} }

var start = time.Now()

func since(a clocks) clocks {
	b := now()
	return clocks{b.wall - a.wall, b.cpu - a.cpu}
}

// time prints median wall and processor time over samples, with cost and error.
func (c *candidate) time(reference [][]float64, z size) (string, error) {
	p := c.problem
	s, y, out := ode.NewSolver(p.N, c.options), make([]float64, p.N), outputs(p.N)
	*p.Slopes = 0
	st, err := c.once(s, y, out)
	if err != nil {
		return "", fmt.Errorf("%s: %w", p.Name, err)
	}
	slopes, worst := *p.Slopes, 0.0
	for i := range out {
		worst = max(worst, p.Error(out[i], reference[i]))
	}
	wall, cpu, err := c.samples(s, y, out, z)
	if err != nil {
		return "", err
	}
	n := z.samples
	spread := 100 * (cpu[3*n/4] - cpu[n/4]) / cpu[n/2]
	return fmt.Sprintf("%s %-22s rtol %.0e  wall_ms %8.4f  cpu_ms %8.4f  (iqr %4.1f%%)  rhs %6d jac %5d steps %5d ev %3d  err %.2e  %s",
		p.Name, c.name, c.options.Relative, wall[n/2], cpu[n/2], spread, slopes, st.Jacobians, st.Steps, st.Events, worst, final(p, y)), nil
}

// samples returns sorted times of one solution in ms.
func (c *candidate) samples(s *ode.Solver, y []float64, out [][]float64, z size) (wall, cpu []float64, err error) {
	from := now()
	if _, err := c.once(s, y, out); err != nil {
		return nil, nil, err
	}
	repeats := int(z.seconds/max(since(from).wall.Seconds(), 1e-6)) + 1
	for range z.samples {
		from = now()
		for range repeats {
			if _, err := c.once(s, y, out); err != nil {
				return nil, nil, err
			}
		}
		took, per := since(from), 1e-3*float64(repeats)
		wall, cpu = append(wall, took.wall.Seconds()/per), append(cpu, took.cpu.Seconds()/per)
	}
	slices.Sort(wall)
	slices.Sort(cpu)
	return wall, cpu, nil
}

func final(p *testode.Timing, y []float64) string {
	if p.Number == 1 {
		return fmt.Sprintf("S %.8f E %.8f EA %.8f", y[3], y[4], y[5])
	}
	return fmt.Sprintf("E %.8f c %.7f T %.7f nV %.8f Qh %.5f", y[4], y[7], y[10], y[11], y[12])
}
