package web

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"spile/advice"
	"spile/batch"
	"spile/limit"
	"spile/wording"
)

// aware are the limits that are passed and said in the same words, with who has seen them: that is acknowledged, and nothing
// else changes.
type aware struct {
	Sentence string
	Limits   []advice.Limit // the most urgent first
	Path     string         // of the vessel
	Back     string         // the page it stands on; empty: the vessel's
	Seen     string         // who has seen it and when; empty: nobody has since it is passed so
}

// What are the limits as the page shows them, for the form to bring back.
func (a *aware) What() (out []string) {
	for i := range a.Limits {
		s, shown := advice.AsSeen(&a.Limits[i].Finding), ""
		if s.Value != nil {
			shown = strconv.FormatFloat(*s.Value, 'g', -1, 64)
		}
		out = append(out, strings.Join([]string{s.Kind, s.When, s.Soon, shown}, "/"))
	}
	return out
}

// shownIn tells whether a page showed all of it, by what its form brought back, and none of it as less than it is now.
func (a *aware) shownIn(what []string) bool {
	return !slices.ContainsFunc(a.Limits, func(l advice.Limit) bool {
		return !slices.ContainsFunc(what, func(w string) bool {
			part := strings.Split(w, "/")
			if len(part) != 4 {
				return false
			}
			saw := batch.SeenLimit{Kind: part[0], When: part[1], Soon: part[2], Limit: advice.AsSeen(&l.Finding).Limit}
			if x, err := strconv.ParseFloat(part[3], 64); err == nil {
				saw.Value = &x
			}
			return !advice.WorseThan(&l.Finding, &saw)
		})
	})
}

// Passed are the limits that are passed, as they are said: before the first forecast what is amiss with the vessel itself.
func (v *stood) Passed() []aware { return v.passedOn("") }

func (v *stood) passedOn(page string) []aware {
	var log batch.Log
	if v.Seen != nil {
		log = v.Seen.State.Log
	}
	limits := v.worded(v.condition())
	if v.Said != nil {
		limits = v.Said.Limits
	}
	advice.Sighted(limits, v.Notes(), &log, v.Upkeep)
	out := awareOf(limits)
	for i := range out {
		out[i].Path, out[i].Back, out[i].Seen = v.Path(), page, v.seenWords(out[i].Limits)
	}
	return out
}

// worded puts findings into words.
func (v *stood) worded(found []limit.Finding) (out []advice.Limit) {
	for _, f := range found {
		out = append(out, advice.Limit{Finding: f, Sentence: f.Sentence(limit.In(v.Style))})
	}
	return out
}

// awareOf draws together what is said in the same words.
func awareOf(limits []advice.Limit) (out []aware) {
	for _, l := range limits {
		i := slices.IndexFunc(out, func(a aware) bool { return a.Sentence == l.Sentence })
		if i < 0 {
			i, out = len(out), append(out, aware{Sentence: l.Sentence})
		}
		out[i].Limits = append(out[i].Limits, l)
	}
	return out
}

// asked puts in the place of limits that were just passed what is to be seen of them, where the forecast knows them.
func (v *stood) asked(passed []aware) []aware {
	for i := range passed {
		for _, a := range v.Passed() {
			if slices.ContainsFunc(a.Limits, func(l advice.Limit) bool { return l.Kind == passed[i].Limits[0].Kind && l.From != limit.Plan }) {
				passed[i] = a
				break
			}
		}
	}
	return passed
}

// Amiss is what is amiss with the vessel itself while nothing else is said of it: else it stands among the limits.
func (v *stood) Amiss() []aware { return v.amissOn("") }

// AmissHere is Amiss as it stands on the page of all vessels.
func (v *stood) AmissHere() []aware { return v.amissOn("/") }

func (v *stood) amissOn(page string) []aware {
	if v.Said != nil {
		return nil
	}
	return v.passedOn(page)
}

// Foremost is the limit that the first action is about, as it is seen on the page of all vessels; nil: it is about none.
func (v *stood) Foremost() *aware {
	for _, a := range v.passedOn("/") {
		if a.Sentence == v.Said.Next[0].Do {
			return &a
		}
	}
	return nil
}

// Unseen is how many limits ask for something today or now that nobody has seen yet.
func (v *stood) Unseen() (n int) {
	for _, a := range v.Passed() {
		if a.Seen == "" && a.Limits[0].Severity > limit.WhenYouCan {
			n++
		}
	}
	return n
}

// seenWords says who was the last to see limits; empty: one of them nobody has.
func (v *stood) seenWords(limits []advice.Limit) string {
	if slices.ContainsFunc(limits, func(l advice.Limit) bool { return l.Seen == nil }) {
		return ""
	}
	last := slices.MaxFunc(limits, func(a, b advice.Limit) int { return a.Seen.Time.Compare(b.Seen.Time) }).Seen
	if last.By == "" {
		return v.Style.Say("Seen %s. It still counts.", v.remembered(last.Time, 0))
	}
	return v.Style.Say("Seen by %s %s. It still counts.", last.By, v.remembered(last.Time, 0))
}

// limitSeen keeps that whoever asks has seen a limit, as the page showed it. One that is passed by more meanwhile, or no
// longer, is shown as it is now.
func (s *Site) limitSeen(w http.ResponseWriter, r *http.Request) {
	v := s.find(w, r)
	if v == nil {
		return
	}
	if err := r.ParseForm(); err != nil {
		s.unreadable(w, r)
		return
	}
	if v.Seen != nil && !v.Seen.Ended.IsZero() {
		s.showEnded(w, r)
		return
	}
	all, what := v.Passed(), r.PostForm["what"]
	i := slices.IndexFunc(all, func(a aware) bool { return a.shownIn(what) })
	switch {
	case i < 0:
		s.show(w, r, http.StatusConflict, "error", page{Title: "It has changed meanwhile", Here: "/", Content: wording.Text("Nothing was kept. The page of the vessel shows the limits that are passed now.")})
		return
	case all[i].Seen != "": // it was sent twice
		s.led(w, r, v.backTo(r.PostForm.Get("back"), nil), nil)
		return
	}
	kept, err := s.keepSeen(r, v, &all[i])
	if err == nil {
		s.settle(r.Context(), kept)
	}
	s.led(w, r, v.backTo(r.PostForm.Get("back"), kept), err)
}

// backTo is the address of the page from which a limit was seen; the vessel's own says what was kept.
func (v *stood) backTo(page string, kept []batch.Entry) string {
	switch {
	case page == "/":
		return "/#" + v.Anchor()
	case page == v.Path()+"/turnaround":
		return page
	case len(kept) == 0:
		return v.Path()
	}
	return v.Path() + "?" + keptQuery + "=" + ids(kept)
}

// keepSeen keeps it in the log of what is in the vessel, else in the cellar's own.
func (s *Site) keepSeen(r *http.Request, v *stood, a *aware) ([]batch.Entry, error) {
	j := batch.Judgement{Verdict: batch.LimitSeen, Words: a.Sentence}
	for i := range a.Limits {
		j.Limits = append(j.Limits, advice.AsSeen(&a.Limits[i].Finding))
	}
	e, err := s.written(onceID(r), batch.KindJudgement, v.Now, &j)
	if err != nil {
		return nil, err
	}
	if v.Seen != nil {
		e.Batch = v.Seen.ID
	} else {
		e.Thing = v.Vessel.ID
	}
	return []batch.Entry{e}, s.keepUnlessThere(r.Context(), e)
}
