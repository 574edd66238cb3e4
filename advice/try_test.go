package advice

import (
	"slices"
	"testing"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// Other settings cannot change what has likely come already, whenever they would have it.
func TestTriedLeavesOutWhatHasCome(t *testing.T) {
	b, f := someBatch(), someForecast(120, 2, 0.8)
	f.Milestones.Attenuated90 = timesAround(f.At.Add(-time.Hour), 5*time.Hour)
	a := &estimate.Ahead{Milestones: someForecast(120, 2, 0.8).Milestones}
	var keys []string
	for _, x := range SayTry(b, batch.Log{}, f, b.Programme, a, f.At, unit.Style{}).Ahead {
		keys = append(keys, x.Key)
	}
	if want := []string{"finished", "cold", "carbonated", "ready"}; !slices.Equal(keys, want) {
		t.Errorf("got %q, want %q", keys, want)
	}
}
