package advice

import (
	"slices"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// Every reading that is asked about is said with its time and the line of its file; those of one reason are said together, with the
// first and the last of them.
func TestDoubts(t *testing.T) {
	flag := func(kind estimate.FlagKind, hour float64, line int, q batch.Quantity, value float64) estimate.Flag {
		return estimate.Flag{Kind: kind, Reading: batch.Reading{Time: pitched.Add(time.Duration(hour * float64(time.Hour))), Line: line, Quantity: q, Value: value}, Expected: around(1.03, 0.002)}
	}
	at := func(hour float64) string {
		return pitched.Add(time.Duration(hour * float64(time.Hour))).Format("Mon 2 Jan 2006, 15:04")
	}
	const gravity, pressure = batch.Gravity, batch.Pressure
	for _, c := range []struct {
		flags []estimate.Flag
		want  []string
	}{
		{nil, nil},
		{[]estimate.Flag{flag(estimate.FlagLate, 20000, 7, gravity, 1.016)}, []string{at(20000) + ", line 7: 1.016 is dated more than a year after the yeast went in, and left out. Is the clock right?"}},
		{[]estimate.Flag{flag(estimate.FlagLate, 20000, 7, gravity, 1.016), flag(estimate.FlagLate, 20000, 7, pressure, 69e3)},
			[]string{at(20000) + ", line 7: 2 readings are dated more than a year after the yeast went in, and left out. Is the clock right?"}},
		{[]estimate.Flag{flag(estimate.FlagTwice, 48, 7, gravity, 1.036), flag(estimate.FlagTwice, 48, 6, gravity, 1.036), flag(estimate.FlagTwice, 40, 9, pressure, 69e3)},
			[]string{at(40) + " to " + at(48) + ", lines 6 to 9: 3 readings are there twice. Each counts once."}},
		{[]estimate.Flag{flag(estimate.FlagEarly, -60, 0, gravity, 1.046), flag(estimate.FlagTwice, 48, 0, gravity, 1.036), flag(estimate.FlagEarly, -50, 0, gravity, 1.046)},
			[]string{at(-60) + " to " + at(-50) + ": 2 readings are dated before the yeast went in. Is the clock right?", at(48) + ": 1.036 is there twice. It counts once."}},
		{[]estimate.Flag{flag(estimate.FlagFar, 50, 8, gravity, 1.040)}, []string{at(50) + ", line 8: That does not fit. It is kept, not trusted yet. Read it once more. 1.040 was read. Between 1.028 and 1.032 was expected."}},
		{[]estimate.Flag{flag(estimate.FlagFar, 50, 8, gravity, 1.040), flag(estimate.FlagFar, 51, 9, pressure, 5*unit.PSI), flag(estimate.FlagFar, 52, 10, gravity, 1.038), flag(estimate.FlagFar, 53, 11, pressure, 5*unit.PSI)},
			[]string{at(50) + " to " + at(52) + ", lines 8 to 10: 2 readings of 1.038 to 1.040 do not fit. They are kept, not trusted yet.", at(51) + " to " + at(53) + ", lines 9 to 11: 2 readings of 5 psi do not fit. They are kept, not trusted yet."}},
		{[]estimate.Flag{flag(estimate.FlagStuck, 50, 0, gravity, 1.040), flag(estimate.FlagStuck, 60, 0, gravity, 1.040)},
			[]string{at(50) + " to " + at(60) + ": 2 readings of 1.040 were shown long without a change. Is the instrument stuck?"}},
	} {
		f := someForecast(60, 20, 12)
		f.Flags = c.flags
		s := says(f, nil)
		if !slices.Equal(s.Doubts, c.want) {
			t.Errorf("got  %q\nwant %q", s.Doubts, c.want)
		}
		if len(s.Flags) != len(c.flags) {
			t.Errorf("%d sentences for %d flags", len(s.Flags), len(c.flags))
		}
		for _, line := range s.Doubts {
			_, said, _ := strings.Cut(line, ": ")
			checkWords(t, "doubts", said, 18)
		}
	}
}
