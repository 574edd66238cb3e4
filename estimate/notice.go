package estimate

import (
	"math"
	"strings"
)

// What a person notices is weak evidence: how far a member of the belief may be from it, as a standard deviation.
// All from memory of how such notes come about.
const (
	hissScatter  = 2 * psi // a valve is heard within this of where it opens
	paceScatter  = 1.0     // of the logarithm of points a day
	foamWorks    = 5.0     // points a day under which foam is unlikely
	nothingWorks = 3.0     // points a day over which "nothing" is unlikely
	weepScatter  = 1.5     // of the logarithm of the leak
	weeps        = 3.0     // g a day at one bar under which nobody sees a wet seal
)

// notice is how far the vessel is from what somebody noticed, in scatters; 0 where it fits. Words that are not known say nothing.
func (w *world) notice(words string) float64 {
	pace := math.Max(w.sim.PointsPerDay(), 1e-3)
	switch strings.TrimSpace(strings.ToLower(words)) {
	case "hiss": // gas leaves through the working valve: the pressure stands near it, and something makes gas
		opens := float64(w.controls.Relief + w.params.ReliefOffset)
		short := math.Max(opens-float64(w.sim.State().Gauge()), 0) / hissScatter
		return math.Hypot(short, math.Max(math.Log(1/pace), 0)/paceScatter)
	case "foam":
		return math.Max(math.Log(foamWorks/pace), 0) / paceScatter
	case "nothing":
		return math.Max(math.Log(pace/nothingWorks), 0) / paceScatter
	case "wet seal":
		return math.Max(math.Log(weeps/w.unknown(Leak)), 0) / weepScatter
	}
	return 0
}
