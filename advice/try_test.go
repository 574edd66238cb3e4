package advice

import (
	"slices"
	"testing"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/limit"
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

// Only what asks for something today or now is exceeded by a change.
func TestExceedsWhatCannotWait(t *testing.T) {
	var c Compared
	for _, s := range []limit.Severity{limit.WhenYouCan, limit.Today, limit.Now} {
		c.If.Limits = append(c.If.Limits, Limit{Finding: limit.Finding{Severity: s}})
	}
	if got := c.Exceeds(); len(got) != 2 || got[0].Severity != limit.Today || got[1].Severity != limit.Now {
		t.Errorf("got %+v", got)
	}
}
