package estimate

import (
	"errors"
	"math"
	"testing"

	"spile/batch"
)

var renewLog = []batch.Reading{
	{Time: hour(0), Quantity: batch.Gravity, Value: 1.046}, {Time: hour(48), Quantity: batch.Gravity, Value: 1.032},
	{Time: hour(72), Quantity: batch.Gravity, Value: 1.021}, {Time: hour(84), Quantity: batch.Gravity, Value: 1.0178},
}

func stood(t testing.TB, members int) *Standing {
	t.Helper()
	bl, err := Condition(usualWay(), batch.Log{Readings: renewLog[:3]}, hour(80), Options{Seed: 5, Members: members})
	if err != nil {
		t.Fatal(err)
	}
	return bl.Stand(members)
}

// One more reading taken in by weighing the members anew says what conditioning on all readings says.
func TestRenewAgreesWithConditioning(t *testing.T) {
	renewed, err := stood(t, 1000).Renew(batch.Log{Readings: renewLog}, hour(86))
	if err != nil {
		t.Fatal(err)
	}
	got, err := renewed.Belief().Forecast()
	if err != nil {
		t.Fatal(err)
	}
	want := forecastOf(t, usualWay(), batch.Log{Readings: renewLog}, hour(86), Options{Seed: 6})
	for _, c := range []struct {
		name      string
		got, want Band
		tolerance float64
	}{
		{"gravity", got.Now.Gravity, want.Now.Gravity, 0.0006}, {"the end", got.TerminalGravity, want.TerminalGravity, 0.0012},
		{"points a day", got.Now.PointsPerDay, want.Now.PointsPerDay, 0.8},
	} {
		if math.Abs(c.got.P50-c.want.P50) > c.tolerance || math.Abs((c.got.P95-c.got.P05)-(c.want.P95-c.want.P05)) > 2*c.tolerance {
			t.Errorf("%s: renewed %+v, conditioned anew %+v, tolerance %g", c.name, c.got, c.want, c.tolerance)
		}
	}
}

// What the members cannot take in is said, not bent: a reading of the past, a new instrument, one that tells too much.
func TestRenewAsksForARefit(t *testing.T) {
	s := stood(t, 200)
	for what, add := range map[string]batch.Reading{
		"before now":       {Time: hour(60), Quantity: batch.Gravity, Value: 1.026},
		"tells too much":   {Time: hour(160), Quantity: batch.Gravity, Value: 1.006},
		"a new instrument": {Time: hour(96), Quantity: batch.Pressure, Value: 10 * psi},
	} {
		if _, err := s.Renew(batch.Log{Readings: append(append([]batch.Reading{}, renewLog[:3]...), add)}, hour(161)); !errors.Is(err, ErrRefit) {
			t.Errorf("%s: got %v, want a refit", what, err)
		}
	}
	if _, err := s.Renew(batch.Log{Readings: renewLog[:3]}, hour(86)); err != nil {
		t.Errorf("nothing new: %v", err)
	}
}

// BenchmarkRenew is one more reading on 1,000 members.
func BenchmarkRenew(b *testing.B) {
	s := stood(b, 1000)
	for b.Loop() {
		if _, err := s.Renew(batch.Log{Readings: renewLog}, hour(86)); err != nil {
			b.Fatal(err)
		}
	}
}
