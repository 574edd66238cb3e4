package web

import (
	"fmt"
	"net/http"
	"slices"
	"time"

	"spile/advice"
	"spile/internal/store"
)

// "Remind me later" is kept for whoever says so, and for nobody else: what one person puts off, the
// others still see, and so does paper. Limits, gas that leaves and a pressure in doubt cannot be put off.

// reminder is an action that may be put off, or was.
type reminder struct {
	Action advice.Action
	What   string // it is, by its rule and how soon it is wanted: what grows more urgent comes again
	Path   string // of the vessel
	Until  time.Time
	Comes  string // "It comes again tomorrow morning."
	Back   string // the same, said of what was put off
}

// whatOf names an action that may be put off.
func whatOf(a *advice.Action) string { return fmt.Sprintf("%s/%d", a.Key, a.Urgency) }

// again is when what is put off now comes again: what is for today after four hours, all else next morning.
func again(u advice.Urgency, local time.Time) time.Time {
	if u == advice.Today {
		return advice.NearestHour(local.Add(4 * time.Hour))
	}
	return time.Date(local.Year(), local.Month(), local.Day()+1, 8, 0, 0, 0, local.Location())
}

// MayWait is the first action where it may be put off; nil: it may not.
func (v *stood) MayWait() *reminder {
	a := &v.Said.Next[0]
	if !a.Waits {
		return nil
	}
	return v.reminder(a, again(a.Urgency, v.local()))
}

// local is now in the zone of whoever looks.
func (v *stood) local() time.Time {
	return v.Style.In(v.Now, v.Seen.State.Record.Pitched.Location())
}

func (v *stood) reminder(a *advice.Action, until time.Time) *reminder {
	when := advice.When(until, 0, v.local(), v.Style)
	return &reminder{Action: *a, What: whatOf(a), Path: v.Path(), Until: until, Comes: v.Style.Say("It comes again %s.", when), Back: v.Style.Say("Put off: it comes again %s.", when)}
}

// setAside takes what whoever asks has put off from what is to be done.
func (s *Site) setAside(r *http.Request, all ...*stood) error {
	list, err := s.watch.Store().PutOffs(r.Context(), whose(r.Context()), s.watch.Now())
	if err != nil || len(list) == 0 {
		return err
	}
	for _, v := range all {
		if v.Said != nil {
			v.setAside(list)
		}
	}
	return nil
}

func (v *stood) setAside(list []store.PutOff) {
	v.Said.Next = slices.DeleteFunc(v.Said.Next, func(a advice.Action) bool {
		i := slices.IndexFunc(list, func(p store.PutOff) bool { return p.Batch == v.Seen.ID && p.What == whatOf(&a) })
		if !a.Waits || i < 0 {
			return false
		}
		v.Later = append(v.Later, *v.reminder(&a, list[i].Until))
		return true
	})
	if len(v.Later) == 0 {
		return
	}
	if len(v.Said.Next) == 0 {
		v.Said.Next = []advice.Action{{Key: "put off", Do: v.Style.Word("Nothing to do now."), When: v.Later[0].Back, Why: v.Style.Word("Glance at the gauge when you pass.")}}
	}
	v.Said.Urgency = v.Said.Next[0].Urgency
}

// later puts off what is to be done at a vessel, or calls it back.
func (s *Site) later(w http.ResponseWriter, r *http.Request) {
	v := s.find(w, r)
	if v == nil {
		return
	}
	if err := r.ParseForm(); err != nil {
		s.unreadable(w, r)
		return
	}
	if v.Said != nil {
		if err := s.putOff(r, v); err != nil {
			s.fail(w, r, err)
			return
		}
	}
	to := v.Path() + "#next"
	if r.PostForm.Get("back") == "/" {
		to = "/#" + v.Anchor()
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// putOff keeps what was sent, where it is still to be done and may wait.
func (s *Site) putOff(r *http.Request, v *stood) error {
	what, kept := r.PostForm.Get("what"), s.watch.Store()
	p := store.PutOff{Person: whose(r.Context()), Batch: v.Seen.ID, What: what}
	if r.PostForm.Has("again") {
		return kept.Remind(r.Context(), p)
	}
	i := slices.IndexFunc(v.Said.Next, func(a advice.Action) bool { return a.Waits && whatOf(&a) == what })
	if i < 0 {
		return nil // it has changed meanwhile, and the page shows to what
	}
	p.Until = again(v.Said.Next[i].Urgency, v.local())
	return kept.PutOffUntil(r.Context(), p, v.Now)
}
