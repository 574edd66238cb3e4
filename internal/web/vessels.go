package web

import (
	"cmp"
	"context"
	"errors"
	"html/template"
	"net/http"
	"slices"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/internal/monitor"
	"spile/internal/report"
	"spile/limit"
	"spile/unit"
	"spile/wording"
)

// stood is a vessel with what is in it, as it is shown to one person.
type stood struct {
	monitor.InVessel
	Said  *advice.Said // nil: nothing is in it, or the first look is still being made
	State advice.State
	Style unit.Style
	Scale report.Scale // of all vessels on the page; 0: it stands alone
	Later []reminder   // what whoever looks wants to be reminded of later
	Now   time.Time
	Was   *batch.Thing[batch.VesselFacts] // what a batch that has ended stood in; nil: it has not, or the cellar does not list that
}

// Batch is the name of what is in it; empty where that is the vessel's name already.
func (v *stood) Batch() string {
	if v.Seen == nil || v.Vessel == nil {
		return ""
	}
	return v.Seen.State.Record.Name
}

// Path is the vessel's page.
func (v *stood) Path() string { return "/vessels/" + v.ID().String() }

// Anchor is the vessel's place on the page of all.
func (v *stood) Anchor() string { return "at-" + v.ID().String() }

// Awaited is what comes next of what people wait for; nil: nothing, as once it is poured.
func (v *stood) Awaited() *advice.Ahead {
	if v.State == advice.Pouring || v.State == advice.Empty {
		return nil
	}
	m := &v.Seen.Told.Forecast.Milestones
	for _, of := range []struct {
		key    string
		latest time.Time
	}{{"finished", m.Finished.P95}, {"ready", m.Ready.P95}} {
		for i := range v.Said.Ahead {
			if a := &v.Said.Ahead[i]; a.Key == of.key && (of.latest.IsZero() || of.latest.After(v.Now)) {
				return a
			}
		}
	}
	return nil
}

// Urgency is how soon to look.
func (v *stood) Urgency() advice.Urgency {
	if v.Said != nil {
		return v.Said.Urgency
	}
	soonest := advice.NothingToDo
	for _, f := range v.condition() {
		soonest = max(soonest, map[limit.Severity]advice.Urgency{limit.WhenYouCan: advice.WhenYouCan, limit.Today: advice.Today, limit.Now: advice.Now}[f.Severity])
	}
	return soonest
}

// condition is what is amiss with the vessel itself, whatever is in it.
func (v *stood) condition() []limit.Finding {
	var log batch.Log
	if v.Seen != nil {
		log = v.Seen.State.Log
	}
	return limit.Condition(limit.Vessel{Frozen: v.Upkeep.Frozen(&log), CheckDue: v.Upkeep.Overdue(v.Now), Due: v.Upkeep.Due})
}

// Pressing tells that something is to be done now.
func (v *stood) Pressing() bool { return v.Urgency() == advice.Now }

// Waiting tells that the first look is still being made.
func (v *stood) Waiting() bool {
	return v.Seen != nil && v.Seen.Told == nil && v.Seen.Failed == "" && !v.Seen.State.Record.Pitched.After(v.Now) // before, nothing is looked at
}

// Spoken is the state said aloud.
func (v *stood) Spoken() wording.Text { return v.State.Spoken() }

// Known says that the state is: of a vessel with yeast in it a forecast alone tells.
func (v *stood) Known() bool {
	return v.Seen == nil || v.Seen.Told != nil || v.Seen.State.Record.Pitched.After(v.Now)
}

// Shape is the drawing of the state.
func (v *stood) Shape() template.HTML { return template.HTML(report.StateShape(v.State)) }

// Pourable tells that the beer may be on its way out, so that somebody may want to say that it is empty.
func (v *stood) Pourable() bool {
	return slices.Contains([]advice.State{advice.Ready, advice.Pouring, advice.Empty, advice.TakingGas}, v.State)
}

// Edge is the class of the mark at the edge.
func (v *stood) Edge() string { return edge(v.Urgency()) }

func edge(u advice.Urgency) string {
	return map[advice.Urgency]string{advice.NothingToDo: "calm", advice.WhenYouCan: "soon", advice.Today: "today", advice.Now: "now"}[u]
}

// standing says what is to be said of a vessel.
func (s *Site) standing(in monitor.InVessel, style unit.Style) *stood {
	v := &stood{InVessel: in, Style: style, Now: s.watch.Now(), State: advice.Clean}
	switch {
	case in.Seen == nil && in.Vessel.Facts.Filled != nil:
		v.State = advice.Filled
	case in.Seen == nil:
		if !in.Emptied.IsZero() && in.Turn.Cleaned.IsZero() {
			v.State = advice.Empty
		}
	case in.Seen.Told == nil:
		v.State = advice.Filled
		if !in.Seen.State.Record.Pitched.After(v.Now) {
			v.State = advice.Waking
		}
	default:
		r := in.Seen.State.Record
		said := advice.Say(&r.Batch, in.Seen.State.Log, in.Upkeep, in.Seen.Told.Forecast, v.Now.In(r.Pitched.Location()), style)
		v.Said, v.State = &said, said.State
	}
	return v
}

// allStanding is every vessel, as it is shown to whoever asks.
func (s *Site) allStanding(r *http.Request) ([]*stood, error) {
	return s.allStandingIn(r.Context(), readTastes(r).Style)
}

// allStandingIn is every vessel in a style.
func (s *Site) allStandingIn(ctx context.Context, style unit.Style) ([]*stood, error) {
	round, err := s.watch.Round(ctx)
	if err != nil {
		return nil, err
	}
	out := make([]*stood, len(round))
	for i, in := range round {
		out[i] = s.standing(in, style)
	}
	vessels := make([]*batch.Vessel, len(out))
	for i, v := range out {
		vessels[i] = v.built()
	}
	scale := report.ScaleOf(vessels...)
	for _, v := range out {
		v.Scale = scale
	}
	return out, nil
}

// lastIn is the last batch that ended in each vessel.
func (s *Site) lastIn(ctx context.Context) (map[batch.ID]*monitor.Brief, error) {
	all, err := s.watch.Batches(ctx)
	if err != nil {
		return nil, err
	}
	last := map[batch.ID]*monitor.Brief{}
	for i := range all {
		b := &all[i]
		if before := last[b.Vessel]; !b.Ended.IsZero() && (before == nil || b.Ended.After(before.Ended)) {
			last[b.Vessel] = b
		}
	}
	return last, nil
}

// find is the vessel whose page is asked for: by its own id, or by that of a batch, which may have ended.
// A nil without an error has been answered already.
func (s *Site) find(w http.ResponseWriter, r *http.Request) *stood {
	return s.findIn(w, r, readTastes(r).Style)
}

// findIn is find in a style.
func (s *Site) findIn(w http.ResponseWriter, r *http.Request, style unit.Style) *stood {
	id, err := batch.ParseID(r.PathValue("id"))
	if err != nil {
		s.missing(w, r)
		return nil
	}
	round, err := s.watch.Round(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return nil
	}
	for _, in := range round {
		if in.ID() == id || in.Seen != nil && in.Seen.ID == id {
			return s.standing(in, style)
		}
	}
	seen, err := s.watch.See(r.Context(), id)
	if errors.Is(err, monitor.ErrNoBatch) {
		s.missing(w, r)
		return nil
	}
	if err != nil {
		s.fail(w, r, err)
		return nil
	}
	// what was checked since counts for a batch that has ended, too
	v := s.standing(monitor.InVessel{Seen: seen, Upkeep: monitor.UpkeepIn(round, seen.State.Stands())}, style)
	for _, in := range round {
		if in.Vessel != nil && in.Vessel.ID == seen.State.Stands() {
			v.Was = in.Vessel
		}
	}
	return v
}

// home is every vessel side by side, trouble first, and of equal trouble what nobody has seen.
func (s *Site) home(w http.ResponseWriter, r *http.Request) {
	all, err := s.allStanding(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if err := s.setAside(r, all...); err != nil {
		s.fail(w, r, err)
		return
	}
	slices.SortStableFunc(all, func(a, b *stood) int {
		if c := cmp.Compare(b.Urgency(), a.Urgency()); c != 0 {
			return c
		}
		return cmp.Compare(b.Unseen(), a.Unseen())
	})
	p := page{Title: "Vessels", Here: "/", Content: all}
	if slices.ContainsFunc(all, (*stood).Waiting) {
		p.Again = 3
	}
	s.show(w, r, http.StatusOK, "home", p)
}

// cut is the vessel as it is drawn.
func (v *stood) cut() *report.Cut {
	c := &report.Cut{State: v.State, Style: v.Style}
	if v.Said != nil {
		c = v.view().Cut()
	}
	c.Name, c.Vessel, c.Scale, c.NotReal = v.Name(), v.built(), v.Scale, v.invented()
	return c
}

// view is all that is shown of what is in the vessel.
func (v *stood) view() *report.View {
	return &report.View{Batch: &v.Seen.State.Record.Batch, Log: v.Seen.State.Log, Forecast: v.Seen.Told.Forecast, Said: *v.Said, Style: v.Style, NotReal: v.invented(), Ended: v.Lasted() != ""}
}

// built is the vessel as it is made.
func (v *stood) built() *batch.Vessel {
	if v.Seen != nil {
		return &v.Seen.State.Record.Vessel
	}
	return &v.Vessel.Facts.Vessel
}

func (v *stood) invented() bool {
	return v.Vessel != nil && v.Vessel.Facts.Invented || v.Was != nil && v.Was.Facts.Invented
}

// Drawing is the vessel cut open; nothing while the first look is still being made.
func (v *stood) Drawing() template.HTML {
	if v.Waiting() {
		return ""
	}
	return template.HTML(v.cut().SVG())
}

// Small is the same for a telephone.
func (v *stood) Small() template.HTML {
	c := v.cut()
	c.Small = true
	return template.HTML(c.SVG())
}
