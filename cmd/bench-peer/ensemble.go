package main

import (
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"

	"spile/ode"
	"spile/ode/testode"
)

// timeEnsemble prints how fast the members of the ensemble are solved on so many
// threads. Like the peers, one thread gets a quarter of the members.
func timeEnsemble(name string, z size, threads int) (string, error) {
	members := z.members
	if threads == 1 {
		members /= 4
	}
	var wall, cpu []float64
	var total tally
	for range z.repeats {
		from := now()
		var err error
		if total, err = ensemble(members, threads); err != nil {
			return "", err
		}
		took := since(from)
		wall, cpu = append(wall, took.wall.Seconds()), append(cpu, took.cpu.Seconds())
	}
	slices.Sort(wall)
	slices.Sort(cpu)
	n, m := len(wall), float64(members)
	return fmt.Sprintf("ENS %-22s members %d threads %d  wall_s %.3f (min %.3f max %.3f) cpu_s %.3f  members/s %.0f  per CPU-s %.0f  mean E %.8f events %d",
		name, members, threads, wall[n/2], wall[0], wall[n-1], cpu[n/2], m/wall[n/2], m/cpu[n/2], total.ethanol/m, total.events), nil
}

// tally adds up what the ensemble's row shows.
type tally struct {
	ethanol float64
	events  int
}

// ensemble solves members 0 to members-1; ethanol is added in their order, so the
// sum does not depend on the threads.
func ensemble(members, threads int) (tally, error) {
	var next atomic.Int64
	ends, events, errs := make([]float64, members), make([]int, members), make([]error, threads)
	var wait sync.WaitGroup
	for i := range threads {
		wait.Go(func() {
			p := testode.P2(testode.Nominal())
			s, y, out := ode.NewSolver(p.N, p.Settings()), make([]float64, p.N), outputs(p.N)
			for k := int(next.Add(1)) - 1; k < members; k = int(next.Add(1)) - 1 {
				c := candidate{problem: testode.P2(testode.RandomMember(k))}
				st, err := c.once(s, y, out)
				if err != nil {
					errs[i] = fmt.Errorf("member %d: %w", k, err)
					return
				}
				ends[k], events[k] = y[testode.Ethanol], st.Events
			}
		})
	}
	wait.Wait()
	var t tally
	for k := range ends {
		t.ethanol += ends[k]
		t.events += events[k]
	}
	return t, errors.Join(errs...)
}
