package advice

import (
	"math"
	"slices"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
	"spile/wording"
)

// Words are what is awaited in one sentence.
func (a Ahead) Words() string {
	said := a.Label + ": " + a.When
	if a.Band != "" {
		said += "; " + a.Band
	}
	return said + "."
}

// nowSentences say what is in the vessel now.
func (v *view) nowSentences() []string {
	n, f := &v.f.Now, v.f
	gravityLow, gravityHigh := v.edges(unit.OfGravity, n.Gravity)
	alcoholLow, alcoholHigh := v.edges(unit.OfAlcohol, estimate.Band{P05: math.Max(n.ABV.P05, 0), P95: math.Max(n.ABV.P95, 0)})
	low, high := v.edges(unit.OfPressure, n.Pressure)
	begins := "now.sentence"
	if !f.LastReading.IsZero() && !v.heard() {
		begins = "now.unheard" // what is old does not stand in a sentence that begins with now
	}
	out := []string{
		v.say(begins, "gravity", inBand(v.style.Gravity, n.Gravity), "lo", gravityLow, "hi", gravityHigh,
			"og", v.style.Gravity(v.batch.Wort.Gravity, 0), "fg", inBand(v.style.Gravity, f.TerminalGravity)),
		v.say("now.finish", "odds", v.odds(n.Finished)),
		v.say("now.strength", "abv", v.style.ABV(unit.ABV(math.Max(n.ABV.P50, 0)), unit.ABV(width(n.ABV))), "lo", alcoholLow, "hi", alcoholHigh),
		v.say("now.gas", "volumes", wording.Capital(inBand(v.style.Gas, n.Volumes))),
		v.say("now.pressure", "p", inBand(v.style.Dials, n.Pressure), "lo", low, "hi", high,
			"temp", inBand(v.style.Temperature, n.Temperature)),
	}
	if f.LastReading.IsZero() {
		return append(out, v.say("now.noreading"))
	}
	if text := v.inferred(); text != "" {
		out = slices.Insert(out, 1, text)
	}
	return append(append(out, v.say("now.age", "ago", v.clock.ago(f.LastReading))), v.silences()...)
}

// inferred says from what, three things at most, the gravity is worked out where nobody read a sample of the working beer; empty
// where one was read.
func (v *view) inferred() string {
	var from []string
	for _, q := range []batch.Quantity{batch.Pressure, batch.VesselMass, batch.VentedGas, batch.AirTemperature} {
		if q == batch.AirTemperature && v.batch.Place.Belt > 0 {
			continue // beside a belt it has no say
		}
		if slices.ContainsFunc(v.log.Readings, func(r batch.Reading) bool { return r.Quantity == q }) {
			from = append(from, v.style.Word(instruments[q]))
		}
	}
	sampled := func(r batch.Reading) bool {
		return r.Quantity == batch.Gravity && r.Time.Sub(v.batch.Pitched) > time.Hour
	}
	switch {
	case slices.ContainsFunc(v.log.Readings, sampled):
		return ""
	case len(from) == 0:
		return v.say("now.usual")
	case len(from) == 1:
		return v.say("now.inferred", "what", from[0])
	case len(from) == 2:
		return v.say("now.inferred", "what", v.style.Say("%s and %s", from[0], from[1]))
	}
	return v.say("now.inferred", "what", v.style.Say("%s, %s and %s", from[0], from[1], from[2]))
}

// awaited is one thing that people wait for.
type awaited struct {
	key, label, begins string // label and the beginning of a sentence are keys of texts
	of                 func(*estimate.Milestones) estimate.Milestone
}

var waitedFor = []awaited{
	{"attenuated_90", "label attenuated", "moved attenuated", func(m *estimate.Milestones) estimate.Milestone { return m.Attenuated90 }},
	{"finished", "label finished", "moved finished", func(m *estimate.Milestones) estimate.Milestone { return m.Finished }},
	{"cold", "label cold", "moved cold", func(m *estimate.Milestones) estimate.Milestone { return m.Cold }},
	{"carbonated", "label carbonated", "moved carbonated", func(m *estimate.Milestones) estimate.Milestone { return m.Carbonated }},
	{"ready", "label ready", "moved ready", func(m *estimate.Milestones) estimate.Milestone { return m.Ready }},
}

// awaitedBy finds what people wait for by its key. It panics on a key that does not exist.
func awaitedBy(key string) awaited {
	i := slices.IndexFunc(waitedFor, func(w awaited) bool { return w.key == key })
	if i < 0 {
		panic("advice: nobody waits for " + key)
	}
	return waitedFor[i]
}

// ahead lists what people wait for.
func (v *view) ahead() []Ahead {
	var out []Ahead
	poured := v.lastEvent(batch.Poured) != nil
	for _, x := range waitedFor {
		m := x.of(&v.f.Milestones)
		if m.P50.IsZero() && m.Never >= surelyNever {
			continue // not part of this plan, or not within the days looked at
		}
		if m.P50.IsZero() && v.set.cold == 0 && x.key != "attenuated_90" && x.key != "finished" {
			continue // nobody means to cool it
		}
		if x.key == "cold" && !m.P95.IsZero() && !m.P95.After(v.f.At) {
			continue // it is, and since when was not followed
		}
		if poured && x.key != "attenuated_90" && x.key != "finished" && (m.P95.IsZero() || m.P95.After(v.f.At)) {
			continue // whoever pours no longer waits for it
		}
		out = append(out, v.aheadOf(x.key, v.say(x.label), m))
	}
	return out
}

// AheadByDate lists what people wait for as Say does, each day by its date, to be read at any time.
func AheadByDate(b *batch.Batch, log batch.Log, f *estimate.Forecast, now time.Time, style unit.Style) []Ahead {
	v := viewOf(b, log, f, now, style)
	v.clock.absolute, v.set = true, settingsOf(b, v.log, f, now)
	return v.ahead()
}

// SayStep says what a step of the plan sets, and what to take care of. A pressure that the vessel does not allow is not said.
func SayStep(b *batch.Batch, set *batch.Setting, style unit.Style) (do, caution string) {
	return viewOf(b, batch.Log{}, &estimate.Forecast{}, b.Pitched, style).stepAction(set)
}

func (v *view) aheadOf(key, label string, m estimate.Milestone) Ahead {
	a := Ahead{Key: key, Label: label, When: v.comes(m)}
	if !m.P50.IsZero() && !m.P50.After(v.now) && (m.P95.IsZero() || m.P95.After(v.now)) {
		a.When = v.say("ahead perhaps", "time", a.When)
	}
	switch {
	case m.P05.IsZero():
		a.Band = v.say("ahead never", "odds", v.odds(1-m.Never))
	case m.P95.IsZero():
		a.Band = v.say("ahead open", "lo", v.clock.part(m.P05))
	case !m.P95.After(v.now):
		a.Band = ""
	default:
		span := m.P95.Sub(m.P05)
		a.Band = v.say("ahead band", "lo", v.clock.edge(m.P05, span), "hi", v.clock.edge(m.P95, span))
	}
	if t := v.batch.Target; t != nil && !t.Ready.IsZero() && !math.IsNaN(m.Probability) && key == "ready" {
		a.Odds = wording.Capital(v.say("ahead odds", "odds", v.odds(m.Probability), "time", v.clock.at(t.Ready, 0)))
	}
	return a
}

// comes is the median time of m in words, no finer than its band.
func (v *view) comes(m estimate.Milestone) string {
	switch {
	case m.P50.IsZero():
		return v.style.Word("not within the days looked at")
	case m.P95.IsZero():
		return v.clock.at(m.P50, 96*time.Hour)
	}
	return v.clock.at(m.P50, m.P95.Sub(m.P05))
}
