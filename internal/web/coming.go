package web

import (
	"cmp"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/co2"
	"spile/internal/report"
	"spile/unit"
	"spile/wording"
)

// due is something that comes at one vessel.
type due struct {
	At     time.Time
	Wide   time.Duration // how far its time is in doubt; 0: it is planned
	Key    string        // what it is, within its batch
	When   string
	Vessel string
	Batch  batch.ID
	Path   string
	Name   string
	Words  string // the time that is awaited
	Says   string
	Sure   string      // how sure that is
	Made   string      // when it was foretold; empty: it is planned
	How    string      // address of its working; empty: it is planned
	Plan   bool        // meant, not awaited
	Step   *batch.Step // of the plan; nil: none
}

// comingDay is a day of the calendar of all vessels.
type comingDay struct {
	Name string
	Due  []due
}

// comingView is what comes at all vessels, and where they are in each other's way.
type comingView struct {
	Now       []*stood // with something to do today or now
	Conflicts []conflict
	Gas       []gasLine // how long what is in the cylinders lasts
	Days      []comingDay
	Calendars *calendarsView
}

// comingDays are how far ahead the page looks.
const comingDays = 28

// coming is the calendar of all vessels.
func (s *Site) coming(w http.ResponseWriter, r *http.Request) {
	view, err := s.comingUp(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.show(w, r, http.StatusOK, "coming", page{Title: "Coming up", Here: "/coming-up", Cautious: true, Content: view})
}

func (s *Site) comingUp(r *http.Request) (*comingView, error) {
	all, err := s.allStanding(r)
	if err != nil {
		return nil, err
	}
	things, err := s.watch.Things(r.Context())
	if err != nil {
		return nil, err
	}
	if err := s.setAside(r, all...); err != nil {
		return nil, err
	}
	view := &comingView{Conflicts: conflicts(all, &things)}
	if view.Gas, err = s.gasLines(r.Context(), &things, readTastes(r).Style); err != nil {
		return nil, err
	}
	if view.Calendars, err = s.calendarsOf(r); err != nil {
		return nil, err
	}
	var list []due
	for _, v := range all {
		if v.Said == nil {
			continue
		}
		if v.Urgency() >= advice.Today {
			view.Now = append(view.Now, v)
		}
		list = append(list, v.dues(v.Now, v.Now.AddDate(0, 0, comingDays), v.Said.Ahead)...)
	}
	view.Days = byDay(list, s.watch.Now(), readTastes(r).Style)
	return view, nil
}

// dues are what is planned and awaited at one vessel within a span of time; ahead are the words for what is awaited.
func (v *stood) dues(from, to time.Time, ahead []advice.Ahead) (out []due) {
	rec, m := v.Seen.State.Record, &v.Seen.Told.Forecast.Milestones
	add := func(d due) {
		if d.At.After(from) && d.At.Before(to) {
			d.Vessel, d.Batch, d.Path = v.Name(), v.Seen.ID, v.Path()
			out = append(out, d)
		}
	}
	for i := range rec.Programme {
		if step := &rec.Programme[i]; step.AtSet {
			words := v.Style.Say("Set %s", report.SettingWords(step.Set, v.Style))
			add(due{At: rec.After(step.At), Key: fmt.Sprintf("step-%d", i+1), Name: words, Says: words + ".", Plan: true, Step: step})
		}
	}
	for _, a := range ahead {
		if at := milestoneOf(m, a.Key); a.Key != "attenuated_90" {
			add(due{At: at.P50, Wide: wideOf(at), Key: a.Key, Name: a.Label, Words: a.When, Says: v.Style.Say("%s: %s.", a.Label, a.When), Sure: sentence(a.Band), Made: v.Made(), How: v.DateWorking()})
		}
	}
	if t := rec.Target; t != nil && !t.Ready.IsZero() {
		odds, how := "", ""
		if p := m.Ready.Probability; !math.IsNaN(p) {
			odds, how = wording.Capital(v.Style.Say("%s, to be ready.", advice.Odds(p, v.Style))), v.DateWorking()
		}
		add(due{At: t.Ready, Key: "wish", Name: v.Style.Word("Wished for this day"), Says: v.Style.Word("Wished for this day."), Sure: odds, How: how, Plan: true})
	}
	return out
}

// byDay sorts what comes into days.
func byDay(list []due, now time.Time, style unit.Style) (days []comingDay) {
	slices.SortStableFunc(list, func(a, b due) int {
		return cmp.Or(a.At.Compare(b.At), strings.Compare(a.Vessel, b.Vessel), strings.Compare(a.Says, b.Says))
	})
	for _, d := range list {
		at := style.In(d.At, now.Location())
		name := style.Time(at, "Monday 2 January")
		if d.Plan {
			d.When = at.Format("15:04")
		}
		if n := len(days); n == 0 || days[n-1].Name != name {
			days = append(days, comingDay{Name: name})
		}
		last := &days[len(days)-1]
		last.Due = append(last.Due, d)
	}
	return days
}

// conflict is where vessels are in each other's way.
type conflict struct {
	Key  string // what is shared and by whom
	Name string // of what is shared
	At   time.Time
	Says string

	Workings []works
}

// between is the key of a conflict of two vessels over something.
func between(kind string, over batch.ID, a, b *stood) string {
	return kind + "." + over.String() + "." + a.ID().String() + "." + b.ID().String()
}

// conflicts are where vessels want different things of what they share.
func conflicts(all []*stood, things *batch.Cellar) (out []conflict) {
	in := map[batch.ID]*stood{}
	for _, v := range all {
		if v.Vessel != nil && v.Said != nil {
			in[v.Vessel.ID] = v
		}
	}
	for _, p := range things.Places {
		if p.Facts.Fridge != nil && !p.Gone {
			out = append(out, fridgeConflict(&p, here(all, p.ID))...)
		}
	}
	for _, g := range things.Regulators {
		if !g.Gone {
			out = append(out, regulatorConflict(&g, in)...)
		}
	}
	for _, c := range things.Cylinders {
		if !c.Gone {
			out = append(out, cylinderConflict(&c, all)...)
		}
	}
	return out
}

// here are the vessels with beer in one place.
func here(all []*stood, place batch.ID) (out []*stood) {
	for _, v := range all {
		if v.Said != nil && (v.Vessel != nil && v.Vessel.Facts.Place == place || v.Seen.State.Record.Uses.Place == place) {
			out = append(out, v)
		}
	}
	return out
}

// sameAir is how far apart wanted temperatures may be in one fridge, K.
const sameAir = 2.0

// fridgeConflict tells of vessels that want different cold from one fridge, now or within the days looked at.
func fridgeConflict(fridge *batch.Thing[batch.PlaceFacts], in []*stood) (out []conflict) {
	for i, a := range in {
		for _, b := range in[i+1:] {
			for day := 0; day <= comingDays; day++ {
				at := a.Now.AddDate(0, 0, day)
				ta, oka := a.wanted(at)
				tb, okb := b.wanted(at)
				if oka && okb && math.Abs(float64(ta-tb)) > sameAir {
					out = append(out, conflict{Key: between("fridge", fridge.ID, a, b), Name: fridge.Name, At: at, Says: a.Style.Say("%s: %s wants %s and %s wants %s from %s on. One air cannot be both.", fridge.Name,
						a.Name(), a.Style.Temperature(ta, 0), b.Name(), b.Style.Temperature(tb, 0), a.Style.Time(a.Style.In(at, a.Now.Location()), "Monday 2 January"))})
					break
				}
			}
		}
	}
	return out
}

// wanted is the temperature that log and plan hold at a time.
func (v *stood) wanted(at time.Time) (t unit.Temperature, ok bool) {
	rec := v.Seen.State.Record
	var last time.Time
	take := func(from time.Time, hold *unit.Temperature) {
		if hold != nil && !from.After(at) && !from.Before(last) {
			t, last, ok = *hold, from, true
		}
	}
	for _, s := range rec.Programme {
		if s.AtSet {
			take(rec.After(s.At), s.Set.Hold)
		}
	}
	for i := range v.Seen.State.Log.Events {
		if e := &v.Seen.State.Log.Events[i]; e.Kind == batch.HoldAt {
			take(e.Time, &e.Temperature)
		}
	}
	return t, ok
}

// samePressure is how far apart wanted pressures may be on one regulator.
const samePressure = 1 * unit.PSI

// regulatorConflict tells of vessels that want different pressures of one regulator, and of gas that can flow between them.
func regulatorConflict(g *batch.Thing[batch.RegulatorFacts], in map[batch.ID]*stood) (out []conflict) {
	var on []*stood
	for _, id := range g.Facts.Vessels {
		if v := in[id]; v != nil {
			on = append(on, v)
		}
	}
	for i, a := range on {
		for _, b := range on[i+1:] {
			ga, oka := a.gasSet()
			gb, okb := b.gasSet()
			if oka && okb && math.Abs(float64(ga-gb)) > float64(samePressure) {
				says := a.Style.Say("%s gives one pressure. %s is set to %s and %s to %s.", g.Name, a.Name(), a.Style.Pressure(ga, 0), b.Name(), b.Style.Pressure(gb, 0))
				out = append(out, conflict{Key: between("regulator", g.ID, a, b), Name: g.Name, At: a.Now, Says: says})
			}
			pa, pb := a.Seen.Told.Forecast.Now.Pressure.P50, b.Seen.Told.Forecast.Now.Pressure.P50
			if !g.Facts.CheckValves && oka && okb && math.Abs(pa-pb) > float64(samePressure) {
				high, low := a, b
				if pb > pa {
					high, low = b, a
				}
				says := a.Style.Say("%s has no check valves: gas and foam can flow from %s to %s.", g.Name, high.Name(), low.Name())
				out = append(out, conflict{Key: between("flow", g.ID, a, b), Name: g.Name, At: a.Now, Says: says})
			}
		}
	}
	return out
}

// gasSet is the pressure at which gas is on, as last said or planned up to now.
func (v *stood) gasSet() (p unit.Gauge, on bool) {
	rec := v.Seen.State.Record
	for _, s := range rec.Programme {
		if s.AtSet && !rec.After(s.At).After(v.Now) {
			if s.Set.Gas != nil {
				p, on = *s.Set.Gas, true
			}
			on = on && !s.Set.GasOff
		}
	}
	for _, e := range v.Seen.State.Log.Events {
		switch e.Kind {
		case batch.GasOn:
			p, on = e.Pressure, true
		case batch.GasOff:
			on = false
		}
	}
	return p, on
}

// cylinderConflict adds up what the vessels on a cylinder may still take and holds it against what is in it.
func cylinderConflict(c *batch.Thing[batch.CylinderFacts], all []*stood) []conflict {
	if c.Facts.Content == nil || len(all) == 0 {
		return nil
	}
	out := conflict{Key: "cylinder." + c.ID.String(), Name: c.Name, At: all[0].Now}
	var need unit.Mass
	var names []string
	for _, v := range all {
		if v.Said == nil || v.Seen.State.Record.Uses.Cylinder != c.ID {
			continue
		}
		names = append(names, v.Name())
		takes, working := stillTakes(v, *c.Facts.Content)
		need, out.Workings = need+takes, append(out.Workings, working)
	}
	if len(names) == 0 || need < *c.Facts.Content {
		return nil
	}
	style := all[0].Style
	out.Says = style.Say("%s holds %s, and %s may still take %s.", c.Name, style.Mass(*c.Facts.Content, 0), strings.Join(names, style.Word(" and ")), style.Mass(need, 0))
	out.Workings = append(out.Workings, works{style.Say("What is left in %s", c.Name), thingPath(c.ID) + "#" + restWorking})
	return []conflict{out}
}

// stillTakes is the gas that a vessel may still take, to the carbonation wished for and to push out the beer, with its working
// beside what the cylinder holds.
func stillTakes(v *stood, content unit.Mass) (unit.Mass, works) {
	rec, n := v.Seen.State.Record, &v.Seen.Told.Forecast.Now
	beer, temp := unit.Volume(n.Liquid.P50), unit.Temperature(n.Temperature.P50)
	from := unit.Volumes(n.Volumes.P05)
	to := from
	if t := rec.Target; t != nil {
		to = max(t.CO2, from)
	}
	p, on := v.gasSet()
	if !on {
		p = usualPush
	}
	link := workLink("How much gas is left?", "cylinder", "volume", givenVolume(beer), "from-volumes", givenGas(from), "to-volumes", givenGas(to), "push", givenVolume(beer),
		"pressure", givenPressure(p), "temperature", givenTemperature(temp), "altitude", givenHeight(rec.Place.Altitude), "content", content.String())
	return co2.Carbonate(from, to, beer, nil) + co2.Push(beer, temp, p.Absolute(unit.StandardAtmosphere(rec.Place.Altitude)), nil),
		works{v.Style.Say("What %s may still take", v.Name()), link.Path}
}

// usualPush is the pressure at which beer is poured where nobody said one. Common practice, no source.
const usualPush = 10 * unit.PSI
