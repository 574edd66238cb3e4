package advice

import (
	"testing"
	"time"

	"spile/batch"
	"spile/limit"
)

// sighted is a note, minutes after noon, that somebody has seen limits.
func sighted(minutes int, seen ...batch.SeenLimit) batch.Note {
	return batch.Note{Entry: batch.ID{byte(minutes)}, Time: noon.Add(time.Duration(minutes) * time.Minute), By: "Ada",
		Judgement: &batch.Judgement{Verdict: batch.LimitSeen, Limits: seen}}
}

var noon = time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)

func number(si float64) limit.Number { return limit.Number{SI: si, Known: true} }

// A limit that was seen asks anew where it is another one, more urgent, or passed by more; never where it is passed by less.
func TestWorseThanWasSeen(t *testing.T) {
	over := limit.Finding{Kind: limit.OverRating, Severity: limit.Now, Quantity: limit.Pressure, From: limit.Reading, Value: number(2.6e5), Limit: number(2.5e5)}
	worst := limit.Finding{Kind: limit.WorstCase, Severity: limit.WhenYouCan, Quantity: limit.Pressure, From: limit.Plan, Value: number(4e5), Limit: number(2.5e5)}
	cold := limit.Finding{Kind: limit.Freezing, Severity: limit.Today, Quantity: limit.Temperature, From: limit.Belief, Value: number(270), Limit: number(271)}
	due := limit.Finding{Kind: limit.CheckDue, Severity: limit.Today, Quantity: limit.Day, From: limit.Plate, Value: number(1e9)}
	unrated := limit.Finding{Kind: limit.RatingUnknown, Severity: limit.Today, Quantity: limit.Pressure, From: limit.Plate}
	for _, c := range []struct {
		what   string
		saw    limit.Finding
		change func(f *limit.Finding)
		worse  bool
	}{
		{"the same", over, func(f *limit.Finding) {}, false},
		{"less", over, func(f *limit.Finding) { f.Value.SI = 2.52e5 }, false},
		{"more than nothing, less than is written", over, func(f *limit.Finding) { f.Value.SI += 4e3 }, false},
		{"more", over, func(f *limit.Finding) { f.Value.SI += 5e3 }, true},
		{"more, and the rating as well", over, func(f *limit.Finding) { f.Value.SI, f.Limit.SI = 2.8e5, 2.7e5 }, true},
		{"a lower rating", over, func(f *limit.Finding) { f.Limit.SI = 2.3e5 }, true},
		{"believed, and no longer read", over, func(f *limit.Finding) { f.From = limit.Belief }, false},
		{"ahead, and not now", over, func(f *limit.Finding) { f.From, f.Severity = limit.Plan, limit.Today }, true},
		{"another limit", over, func(f *limit.Finding) { f.Kind = limit.OverSafety }, true},
		{"by how much is not known any more", over, func(f *limit.Finding) { f.Value.Known = false }, true},
		{"over what is not known any more", over, func(f *limit.Finding) { f.Limit.Known = false }, true},
		{"the safety valve no longer stands against it", worst, func(f *limit.Finding) { f.Severity = limit.Today }, true},
		{"less urgent", over, func(f *limit.Finding) { f.Severity = limit.Today }, false},
		{"warmer", cold, func(f *limit.Finding) { f.Value.SI++ }, false},
		{"colder", cold, func(f *limit.Finding) { f.Value.SI -= 0.6 }, true},
		{"it freezes sooner", cold, func(f *limit.Finding) { f.Limit.SI += 0.6 }, true},
		{"due as before", due, func(f *limit.Finding) {}, false},
		{"due on another day", due, func(f *limit.Finding) { f.Value.SI += 86400 }, true},
		{"not known, as before", unrated, func(f *limit.Finding) {}, false},
		{"known by now", unrated, func(f *limit.Finding) { f.Limit = number(2.5e5) }, true},
	} {
		f, seen := c.saw, AsSeen(&c.saw)
		c.change(&f)
		if got := WorseThan(&f, &seen); got != c.worse {
			t.Errorf("%s: worse %v, want %v", c.what, got, c.worse)
		}
	}
	if f := over; !WorseThan(&f, &batch.SeenLimit{Kind: "over-rating", When: "now", Soon: "soon", Value: &f.Value.SI, Limit: &f.Limit.SI}) {
		t.Error("how urgent it was is not known, and it counts as seen")
	}
}

// What was kept meanwhile is passed anew; what was read without a person shows no limit kept.
func TestPassedAnew(t *testing.T) {
	over := limit.Finding{Kind: limit.OverRating, Severity: limit.Now, Quantity: limit.Pressure, From: limit.Reading, Value: number(2.6e5), Limit: number(2.5e5)}
	valve := limit.Finding{Kind: limit.ValveHigh, Severity: limit.Now, Quantity: limit.Pressure, From: limit.Plate, Value: number(2.6e5), Limit: number(2.5e5)}
	regulator := valve
	regulator.Kind = limit.RegulatorHigh
	believed := over
	believed.From = limit.Belief
	ice := limit.Finding{Kind: limit.WasFrozen, Severity: limit.Now}
	at := func(minutes int) time.Time { return noon.Add(time.Duration(minutes) * time.Minute) }
	read := func(minutes int, pa float64, alone bool) *batch.Log {
		return &batch.Log{Readings: []batch.Reading{{Time: at(minutes), Quantity: batch.Pressure, Value: pa, Unattended: alone}}}
	}
	did := func(minutes int, e batch.Event) *batch.Log {
		e.Time = at(minutes)
		return &batch.Log{Events: []batch.Event{e}}
	}
	for _, c := range []struct {
		what string
		f    limit.Finding
		log  *batch.Log
		ice  time.Time
		seen bool
	}{
		{"nothing since", over, &batch.Log{}, time.Time{}, true},
		{"read within before it was seen", over, read(5, 1e5, false), time.Time{}, true},
		{"read within since", over, read(15, 1e5, false), time.Time{}, false},
		{"read above since", over, read(15, 2.55e5, false), time.Time{}, true},
		{"a device read within since", over, read(15, 1e5, true), time.Time{}, true},
		{"believed all the time, whatever was read", believed, read(15, 1e5, false), time.Time{}, true},
		{"let out to within", over, did(15, batch.Event{Kind: batch.VentedTo, From: 2.6e5, To: 1e5}), time.Time{}, false},
		{"let out, and still above", over, did(15, batch.Event{Kind: batch.VentedTo, From: 2.8e5, To: 2.6e5}), time.Time{}, true},
		{"the valve set within", valve, did(15, batch.Event{Kind: batch.SetRelief, Pressure: 1e5}), time.Time{}, false},
		{"gas off is no valve", valve, did(15, batch.Event{Kind: batch.GasOff}), time.Time{}, true},
		{"gas off", regulator, did(15, batch.Event{Kind: batch.GasOff}), time.Time{}, false},
		{"the regulator within", regulator, did(15, batch.Event{Kind: batch.GasOn, Pressure: 1e5}), time.Time{}, false},
		{"ice again", ice, did(15, batch.Event{Kind: batch.Noticed, Words: batch.Ice}), time.Time{}, false},
		{"the same ice", ice, did(5, batch.Event{Kind: batch.Noticed, Words: batch.Ice}), time.Time{}, true},
		{"ice in the batch before", ice, &batch.Log{}, at(5), true},
		{"ice in the batch before, noticed since", ice, &batch.Log{}, at(15), false},
	} {
		n := sighted(10, AsSeen(&c.f))
		if got := Sighting(&c.f, []batch.Note{{Words: "hm"}, n}, c.log, batch.Upkeep{Iced: c.ice}) != nil; got != c.seen {
			t.Errorf("%s: seen %v, want %v", c.what, got, c.seen)
		}
	}
}

// What a forecast finds no longer is over, once; seen anew it counts, and what is amiss with the vessel itself waits for its check.
func TestOverOnce(t *testing.T) {
	over := limit.Finding{Kind: limit.OverRating, Severity: limit.Now, Quantity: limit.Pressure, From: limit.Belief, Value: number(2.6e5), Limit: number(2.5e5)}
	unrated := limit.Finding{Kind: limit.RatingUnknown, Severity: limit.Today, Quantity: limit.Pressure, From: limit.Plate}
	notes := []batch.Note{sighted(1, AsSeen(&over), AsSeen(&unrated)), sighted(2, batch.SeenLimit{Kind: "was-frozen", When: "now"}, batch.SeenLimit{Kind: "check-due", When: "plate"})}
	if got := Over(notes, []Limit{{Finding: unrated}, {Finding: over}}); len(got) != 0 {
		t.Errorf("passed still, and over: %+v", got)
	}
	ended := Over(notes, []Limit{{Finding: unrated}})
	if len(ended) != 1 || ended[0].Of != notes[0].Entry || len(ended[0].Limits) != 1 || ended[0].Limits[0].Kind != "over-rating" {
		t.Fatalf("over is %+v", ended)
	}
	early := batch.Note{Entry: batch.ID{9}, Time: noon, Judgement: &ended[0]} // by a clock that runs slow
	notes = append([]batch.Note{early}, notes...)
	if got := Over(notes, []Limit{{Finding: unrated}}); len(got) != 0 {
		t.Errorf("over a second time: %+v", got)
	}
	sightings := []Limit{{Finding: over}, {Finding: unrated}}
	if Sighted(sightings, notes, &batch.Log{}, batch.Upkeep{}); sightings[0].Seen != nil || sightings[1].Seen == nil || sightings[1].Seen.By != "Ada" {
		t.Errorf("begun anew: %+v", sightings)
	}
	if again := append(notes, sighted(20, AsSeen(&over))); Sighting(&over, again, &batch.Log{}, batch.Upkeep{}) == nil {
		t.Error("seen anew, and it does not count")
	}
}
