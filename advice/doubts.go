package advice

import (
	"cmp"
	"slices"
	"time"

	"spile/batch"
	"spile/estimate"
)

// flags asks about each reading that does not fit.
func (v *view) flags() []string {
	var out []string
	for _, f := range v.f.Flags {
		out = append(out, v.flag(f))
	}
	return out
}

func (v *view) flag(f estimate.Flag) string {
	what := v.named(&f.Reading)
	switch f.Kind {
	case estimate.FlagTwice:
		return v.say("flag twice", "what", what)
	case estimate.FlagStuck:
		return v.say("flag stuck", "what", what, "time", v.clock.part(f.Reading.Time))
	case estimate.FlagLate:
		return v.say("flag late", "what", what)
	case estimate.FlagEarly:
		return v.say("flag early", "what", what)
	}
	return v.say("odd") + " " + v.whyOdd(f)
}

// doubts says flags with their times, for people: those of one reason together, since a clock or a file that is wrong is so many times.
func (v *view) doubts() (out []string) {
	type reason struct {
		kind estimate.FlagKind
		of   batch.Quantity // only where the values are said
	}
	var reasons []reason
	alike := map[reason][]estimate.Flag{}
	for _, f := range v.f.Flags {
		r := reason{kind: f.Kind}
		if f.Kind == estimate.FlagFar || f.Kind == estimate.FlagStuck {
			r.of = f.Reading.Quantity
		}
		if alike[r] == nil {
			reasons = append(reasons, r)
		}
		alike[r] = append(alike[r], f)
	}
	for _, r := range reasons {
		out = append(out, v.when(alike[r])+": "+v.together(alike[r]))
	}
	return out
}

// together asks about readings that are flagged for one reason.
func (v *view) together(flags []estimate.Flag) string {
	n, tongue := len(flags), v.style.Tongue
	if n == 1 {
		return v.flag(flags[0])
	}
	switch flags[0].Kind {
	case estimate.FlagTwice:
		return tongue.Many(n, "%d reading is there twice. It counts once.", "%d readings are there twice. Each counts once.", n)
	case estimate.FlagStuck:
		return tongue.Many(n, "%d reading of %s was shown long without a change. Is the instrument stuck?", "%d readings of %s were shown long without a change. Is the instrument stuck?", n, v.values(flags))
	case estimate.FlagLate:
		return tongue.Many(n, "%d reading is dated more than a year after the yeast went in, and left out. Is the clock right?", "%d readings are dated more than a year after the yeast went in, and left out. Is the clock right?", n)
	case estimate.FlagEarly:
		return tongue.Many(n, "%d reading is dated before the yeast went in. Is the clock right?", "%d readings are dated before the yeast went in. Is the clock right?", n)
	}
	return tongue.Many(n, "%d reading of %s does not fit. It is kept, not trusted yet.", "%d readings of %s do not fit. They are kept, not trusted yet.", n, v.values(flags))
}

// values are the least and the most that was read, of one quantity.
func (v *view) values(flags []estimate.Flag) string {
	byValue := func(a, b estimate.Flag) int { return cmp.Compare(a.Reading.Value, b.Reading.Value) }
	low, high := slices.MinFunc(flags, byValue).Reading, slices.MaxFunc(flags, byValue).Reading
	return v.span(v.read(low.Quantity, low.Value), v.named(&high))
}

// when is the first and the last time of what is flagged, and where it stands in its file.
func (v *view) when(flags []estimate.Flag) string {
	byTime := func(a, b estimate.Flag) int { return a.Reading.Time.Compare(b.Reading.Time) }
	byLine := func(a, b estimate.Flag) int { return cmp.Compare(a.Reading.Line, b.Reading.Line) }
	first, last := slices.MinFunc(flags, byTime).Reading.Time, slices.MaxFunc(flags, byTime).Reading.Time
	top, bottom := slices.MinFunc(flags, byLine).Reading.Line, slices.MaxFunc(flags, byLine).Reading.Line
	at := func(t time.Time) string { // to the minute: the two looks of a let-down are set a second beside it
		return v.style.Time(t.Round(time.Minute).In(v.clock.now.Location()), "Mon 2 Jan 2006, 15:04")
	}
	switch times := v.span(at(first), at(last)); {
	case top == 0:
		return times
	case top == bottom:
		return v.style.Say("%s, line %d", times, top)
	default:
		return v.style.Say("%s, lines %d to %d", times, top, bottom)
	}
}

// span says from what to what, and once what is the same.
func (v *view) span(from, to string) string {
	if from == to {
		return from
	}
	return v.style.Say("%s to %s", from, to)
}
