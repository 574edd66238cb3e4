package web

import (
	"context"
	"math"
	"slices"
	"time"

	"spile/batch"
	"spile/estimate"
	"spile/unit"
)

// rest is what is left in a cylinder by its last weighing, with its working.
type rest struct {
	Says  string
	Lasts string // how long, and until when to order; empty: its weighings do not tell
	How   []string
}

// restWorking is where the working of what is left stands on the page of a cylinder.
const restWorking = "working-of-the-rest"

// rest is what is left in a cylinder; nil where nothing tells it.
func (s *Site) rest(ctx context.Context, t *thing, c *batch.Cellar, style unit.Style) (*rest, error) {
	if t.Is != "cylinder" {
		return nil, nil
	}
	log, _, err := s.watch.Store().Log(ctx, batch.ID{}, 0)
	if err != nil {
		return nil, err
	}
	return s.restBy(log, t.ID, c, style), nil
}

// restBy is the same by the cellar's own log.
func (s *Site) restBy(log []batch.Entry, cylinder batch.ID, c *batch.Cellar, style unit.Style) *rest {
	i := slices.IndexFunc(c.Cylinders, func(x batch.Thing[batch.CylinderFacts]) bool { return x.ID == cylinder })
	all := batch.Weighings(log, cylinder)
	if i < 0 || c.Cylinders[i].Facts.Content == nil || len(all) == 0 { // a weighing may have been taken back since the cellar was looked at
		return nil
	}
	facts, last, zone := &c.Cylinders[i].Facts, all[len(all)-1], s.zone(style)
	err90 := estimate.ReadingScatter(last)
	low, high := style.Between(unit.OfMass, max(0, float64(*facts.Content)-err90), float64(*facts.Content)+err90)
	out := &rest{Says: leftIn(facts, zone, style)}
	pace := paceOf(all)
	out.How = append(out.How,
		style.Say("On %s it weighed %s.", dayWords(last.Time.In(zone), style), gasMass.write(last.Value, style)),
		style.Say("Empty it weighs %s. That is its tare, and it counts as right.", gasMass.write(float64(facts.Tare), style)),
		style.Say("What it weighed more is gas: between %s and %s, nine times in ten, by the scatter of a scale.", low, high),
		style.Word("What went out since then is not in it. Weigh it again to know."))
	if pace != nil {
		out.Lasts = pace.lasts(*facts.Content, s.watch.Now().In(zone), style)
		out.How = append(out.How, pace.how(zone, style))
	}
	return out
}

// pace is how fast a cylinder got lighter between two weighings.
type pace struct {
	from, to       batch.Reading
	low, mid, high float64 // kg/s, nine times in ten
}

const week = 7 * 24 * time.Hour

// paceOf is the pace since a cylinder was last filled; nil where that is less than a week ago or no more than a scale may err.
func paceOf(all []batch.Reading) *pace {
	first := len(all) - 1
	for first > 0 && all[first-1].Value > all[first].Value-estimate.ReadingScatter(all[first]) {
		first--
	}
	p := &pace{from: all[first], to: all[len(all)-1]}
	span := p.to.Time.Sub(p.from.Time)
	lost, err90 := p.from.Value-p.to.Value, math.Hypot(estimate.ReadingScatter(p.from), estimate.ReadingScatter(p.to))
	if span < week || lost <= 2*err90 {
		return nil
	}
	p.low, p.mid, p.high = (lost-err90)/span.Seconds(), lost/span.Seconds(), (lost+err90)/span.Seconds()
	return p
}

// The time that it takes to get a full cylinder, and how far ahead the gas is foretold (assumptions).
const (
	toOrder   = week
	mostWeeks = 52
)

// lasts says how long what was in the cylinder at its last weighing lasts at that pace, and until when to order at the fastest.
func (p *pace) lasts(content unit.Mass, now time.Time, style unit.Style) string {
	out := func(rate float64) time.Duration { // from now on
		return time.Duration(min(float64(content)/rate, 10*mostWeeks*week.Seconds())*float64(time.Second)) - now.Sub(p.to.Time)
	}
	weeks := int(math.Round(out(p.mid).Seconds() / week.Seconds()))
	switch order := now.Add(out(p.high) - toOrder); {
	case weeks > mostWeeks:
		return style.Word("Gas for more than a year.")
	case !order.After(now):
		return style.Word("Gas for a week or little more. Order today.")
	default:
		return style.Tongue.Many(weeks, "Gas for about %d more week. Order before %s.", "Gas for about %d more weeks. Order before %s.", weeks, dayWords(order, style))
	}
}

// how says where the pace comes from.
func (p *pace) how(zone *time.Location, style unit.Style) string {
	aWeek := func(rate float64) string { return style.Mass(unit.Mass(rate*week.Seconds()), 0) }
	return style.Say("From %s to %s it lost %s: between %s and %s a week. To order takes a week (assumption).", dayWords(p.from.Time.In(zone), style), dayWords(p.to.Time.In(zone), style),
		style.Mass(unit.Mass(p.from.Value-p.to.Value), 0), aWeek(p.low), aWeek(p.high))
}

// gasLine is a cylinder with how long it lasts.
type gasLine struct{ Name, Path, Says string }

// gasLines are the cylinders whose weighings tell how long they last.
func (s *Site) gasLines(ctx context.Context, c *batch.Cellar, style unit.Style) (out []gasLine, err error) {
	log, _, err := s.watch.Store().Log(ctx, batch.ID{}, 0)
	if err != nil {
		return nil, err
	}
	for i := range c.Cylinders {
		x := &c.Cylinders[i]
		if left := s.restBy(log, x.ID, c, style); left != nil && left.Lasts != "" && !x.Gone {
			out = append(out, gasLine{x.Name, thingPath(x.ID) + "#" + restWorking, left.Lasts})
		}
	}
	return out, nil
}
