package web

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	ics "github.com/arran4/golang-ical"

	"spile/advice"
	"spile/batch"
	"spile/internal/store"
	"spile/limit"
	"spile/wording"
)

// What comes as a feed for calendar programs (RFC 5545). An event bears the same uid for as
// long as it means the same, whatever its day: a program that reads the feed again moves it.

const (
	calendarEnding = ".ics"
	calendarMost   = 366 // days ahead that a feed looks
	shortStep      = 30 * time.Minute
)

// occasion is one event of the feed.
type occasion struct {
	UID        string
	Name, Says string
	From, To   time.Time // of whole days, where Days
	Days       bool
	Awaited    bool // not planned: its time is in doubt
}

// calendar is the feed that a key opens.
func (s *Site) calendar(w http.ResponseWriter, r *http.Request) {
	key, named := strings.CutSuffix(r.PathValue("file"), calendarEnding)
	c, found, err := s.watch.Store().CalendarOf(r.Context(), key)
	if err != nil {
		s.failMachine(w, r, err)
		return
	}
	if !named || !found {
		refuse(w, r, http.StatusNotFound, "There is no calendar under this address, or it was withdrawn. Coming up makes a new one.")
		return
	}
	body, err := s.feed(r.Context(), c)
	if err != nil {
		s.failMachine(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
	s.send(w, body)
}

// feed writes what comes in the units, the zone and the language of a calendar.
func (s *Site) feed(ctx context.Context, c store.Calendar) ([]byte, error) {
	var t tastes
	t.take(c.Words)
	if zone, err := parseZone(c.Zone); err == nil {
		t.Style.Zone = zone
	}
	t.Style.Tongue = s.tongueCalled(c.Language)
	all, err := s.allStandingIn(ctx, t.Style)
	if err != nil {
		return nil, err
	}
	things, err := s.watch.Things(ctx)
	if err != nil {
		return nil, err
	}
	list := occasions(all, &things)
	sums := make(map[string][]byte, len(list))
	for _, o := range list {
		sums[o.UID] = o.sum()
	}
	revised, err := s.watch.Store().Revise(ctx, c.ID, s.watch.Now(), sums)
	if err != nil {
		return nil, err
	}
	return inCalendar(list, revised, t.Style.Tongue)
}

// occasions are what comes at all vessels and where they are in each other's way, in order of time.
func occasions(all []*stood, things *batch.Cellar) (out []occasion) {
	for _, v := range all {
		if v.Said == nil {
			continue
		}
		rec := v.Seen.State.Record
		ahead := advice.AheadByDate(&rec.Batch, v.Seen.State.Log, v.Seen.Told.Forecast, v.Now.In(rec.Pitched.Location()), v.Style)
		for _, d := range v.dues(v.Now.AddDate(0, 0, -1), v.Now.AddDate(0, 0, calendarMost), ahead) {
			out = append(out, v.occasion(&d))
		}
	}
	for _, c := range conflicts(all, things) {
		o := occasion{UID: c.Key, Name: all[0].Style.Say("In each other's way: %s", c.Name), Says: c.Says + " " + limit.Say(all[0].Style, "c.plate")}
		o.days(all[0].Style.In(c.At, all[0].Now.Location()))
		out = append(out, o)
	}
	slices.SortStableFunc(out, func(a, b occasion) int { return cmp.Or(a.From.Compare(b.From), strings.Compare(a.UID, b.UID)) })
	return out
}

// occasion is what comes as an event: no finer in time than its band.
func (v *stood) occasion(d *due) occasion {
	rec := &v.Seen.State.Record.Batch
	o := occasion{UID: d.Batch.String() + "." + d.Key, Name: d.Vessel + ": " + d.Name, From: d.At, To: d.At.Add(shortStep), Awaited: !d.Plan}
	local := v.Style.In(d.At, rec.Pitched.Location())
	switch {
	case d.Plan:
	case d.Wide < hourly:
		o.From = advice.NearestHour(local)
		o.To = o.From.Add(time.Hour)
	case d.Wide <= partly && local.Hour() < dayBegins: // the hours after midnight belong to the night before
		o.days(local.AddDate(0, 0, -1))
	default:
		o.days(local)
	}
	o.Says = v.describe(d)
	return o
}

// How wide the band of a time is for which the hour is said, and for which the part of the day; when a day begins.
const (
	hourly, partly = 6 * time.Hour, 48 * time.Hour
	dayBegins      = 6
)

// days makes it last the day of t.
func (o *occasion) days(t time.Time) {
	o.From, o.Days = time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC), true
	o.To = o.From.AddDate(0, 0, 1)
}

// describe is what an event says besides its name.
func (v *stood) describe(d *due) string {
	lines := []string{sentence(wording.Capital(d.Words)), d.Sure}
	switch {
	case d.Step != nil:
		do, caution := advice.SayStep(&v.Seen.State.Record.Batch, &d.Step.Set, v.Style)
		lines = []string{do, caution, limit.Say(v.Style, "c.plate")}
	case d.Key == "ready":
		lines = append(lines, limit.Say(v.Style, "c.drink"))
	}
	if v.Seen.Failed != "" || v.Seen.Told.Old(v.Now) {
		lines = append(lines, v.Stale())
	}
	return strings.Join(slices.DeleteFunc(lines, func(line string) bool { return line == "" }), "\n")
}

// sum tells one wording of an event from another.
func (o *occasion) sum() []byte {
	sum := sha256.Sum256(fmt.Appendf(nil, "%q %q %d %d %t %t", o.Name, o.Says, o.From.Unix(), o.To.Unix(), o.Days, o.Awaited))
	return sum[:]
}

// inCalendar is the feed. Without a method, the stamp of an event is when it was last revised (RFC 5545, section 3.8.7.2).
func inCalendar(list []occasion, revised map[string]store.Revision, in *wording.Tongue) ([]byte, error) {
	cal := ics.NewCalendarFor("Spile")
	cal.SetProductId("-//Spile//Coming up//" + strings.ToUpper(in.Lang()))
	cal.SetName(in.Word("Coming up"))
	cal.SetXWRCalName(in.Word("Coming up")) // which most programs read in its place
	cal.SetRefreshInterval("PT1H")
	for _, o := range list {
		e := cal.AddEvent(o.UID)
		r := revised[o.UID]
		e.SetDtStampTime(r.Revised)
		e.SetModifiedAt(r.Revised)
		e.SetSequence(int(r.Sequence))
		if o.Days {
			e.SetAllDayStartAt(o.From)
			e.SetAllDayEndAt(o.To)
		} else {
			e.SetStartAt(o.From)
			e.SetEndAt(o.To)
		}
		e.SetSummary(o.Name)
		e.SetDescription(o.Says)
		e.SetTimeTransparency(ics.TransparencyTransparent) // nobody is busy by it
		e.SetStatus(ics.ObjectStatusConfirmed)
		if o.Awaited {
			e.SetStatus(ics.ObjectStatusTentative)
		}
	}
	var out bytes.Buffer
	err := cal.SerializeTo(&out, ics.WithNewLineWindows)
	return out.Bytes(), err
}
