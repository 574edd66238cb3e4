package web

import (
	"context"
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"time"

	"spile/batch"
	"spile/unit"
	"spile/wording"
)

// written is a line of what was written about a thing.
type written struct {
	ID    batch.ID
	At    time.Time
	Words string
	Back  bool     // it was taken back
	Undo  batch.ID // what is superseded to change that
	How   *door    // its working; nil: it has none
}

// When is the day and time it was so.
func (l written) When() wording.Moment {
	return wording.Moment{At: l.At, Layout: "2 January 2006, 15:04"}
}

// history is all that was written about a thing, the newest first, with what was taken back.
func (s *Site) history(ctx context.Context, t *thing, c *batch.Cellar, style unit.Style) ([]written, error) {
	log, _, err := s.watch.Store().Log(ctx, batch.ID{}, 0)
	if err != nil {
		return nil, err
	}
	holds := map[batch.ID]*batch.Held{}
	held := batch.Hold(log)
	for i := range held {
		holds[held[i].ID] = &held[i]
	}
	takers := map[batch.ID]batch.ID{} // the last taking-back of an entry
	for _, e := range log {
		if e.Kind == batch.KindTakenBack {
			takers[e.Supersedes] = e.ID
		}
	}
	zone := s.zone(style)
	var out []written
	for _, e := range log {
		if e.Supersedes != (batch.ID{}) || e.ID != t.ID && e.Thing != t.ID {
			continue
		}
		line := written{ID: e.ID, At: e.At.In(zone), Undo: e.ID, Words: wordsOf(&e, t, c, style)}
		if h := holds[e.ID]; h == nil {
			line.Back, line.Undo = true, takers[e.ID]
		} else {
			line.At, line.How = h.At.In(zone), judgedHow(h)
		}
		out = append(out, line)
	}
	slices.SortStableFunc(out, func(a, b written) int { return b.At.Compare(a.At) })
	return out, nil
}

// unmade are the things whose adding was taken back.
func (s *Site) unmade(ctx context.Context, style unit.Style) (out []written, err error) {
	log, _, err := s.watch.Store().Log(ctx, batch.ID{}, 0)
	if err != nil {
		return nil, err
	}
	made := map[batch.ID]bool{}
	for _, h := range batch.Hold(log) {
		made[h.ID] = true
	}
	names, takers := map[batch.ID]written{}, map[batch.ID]batch.ID{}
	for _, e := range log {
		var doc struct{ Name string }
		switch {
		case e.Kind == batch.KindTakenBack:
			takers[e.Supersedes] = e.ID
		case e.Kind == batch.KindThing && e.Thing.IsZero() && !made[e.ID] && json.Unmarshal(e.Body, &doc) == nil:
			names[e.ID] = written{ID: e.ID, At: e.At.In(s.zone(style)), Words: doc.Name}
		}
	}
	for id, line := range names {
		line.Undo = takers[id]
		out = append(out, line)
	}
	slices.SortFunc(out, func(a, b written) int { return b.At.Compare(a.At) })
	return out, nil
}

// zone is that of the style, else that of this machine.
func (s *Site) zone(style unit.Style) *time.Location {
	return style.In(s.watch.Now(), s.watch.Now().Location()).Location()
}

// wordsOf says what an entry about a thing told.
func wordsOf(e *batch.Entry, t *thing, c *batch.Cellar, style unit.Style) string {
	switch e.Kind {
	case batch.KindReading:
		var said batch.Said
		if err := json.Unmarshal(e.Body, &said); err == nil && said.CylinderMass != nil {
			return style.Say("Weighed: %s", gasMass.write(*said.CylinderMass, style))
		}
	case batch.KindJudgement:
		var j batch.Judgement
		if err := json.Unmarshal(e.Body, &j); err == nil {
			return judgedWords(&j, style.Tongue)
		}
	case batch.KindThing:
		if e.ID == t.ID {
			return style.Word("Added")
		}
		return changeWords(e, t, c, style)
	}
	return wording.Capital(string(e.Kind))
}

// changeWords says what a change changed.
func changeWords(e *batch.Entry, t *thing, c *batch.Cellar, style unit.Style) string {
	var doc map[string]any
	if err := json.Unmarshal(e.Body, &doc); err != nil {
		return style.Word("Changed")
	}
	if doc["gone"] == true {
		return style.Word("No longer there")
	}
	if name, ok := doc["name"].(string); ok {
		return style.Say("Now called %s", name)
	}
	if filled, told := doc["filled"]; told {
		return style.Word(map[bool]wording.Text{true: "Its wort got its yeast", false: "Filled with wort"}[filled == nil])
	}
	var out []string
	for i := range t.Kind().Facts {
		f := &t.Kind().Facts[i]
		outer, _, _ := strings.Cut(f.key, ".")
		if _, told := doc[outer]; !told {
			continue
		}
		said := f.said(doc, c, style)
		if said == "" {
			said = style.Word("not known")
		}
		out = append(out, style.Word(f.label)+" "+said)
	}
	return style.Say("Changed: %s", strings.Join(out, "; "))
}

// takeBack takes back what was written about a thing, or takes that back again.
func (s *Site) takeBack(w http.ResponseWriter, r *http.Request) {
	of, err := batch.ParseID(r.PostFormValue("of"))
	if err != nil {
		s.unreadable(w, r)
		return
	}
	target, found, err := s.watch.Store().Find(r.Context(), of)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if !found || !target.Batch.IsZero() {
		s.missing(w, r)
		return
	}
	e, err := s.written(onceID(r), batch.KindTakenBack, s.watch.Now(), nil)
	e.Supersedes = of
	if err == nil {
		err = s.keepUnlessThere(r.Context(), e)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	to := ownPath(r.PostFormValue("back"))
	if to == "" || to == thingPath(of) { // its making was taken back, and its page with it
		to = "/what-i-have"
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}
