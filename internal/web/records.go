package web

import (
	"fmt"
	"net/http"

	"spile/batch"
	"spile/internal/batchfile"
	"spile/internal/store"
)

// recordsView is what is kept, and how safe it is.
type recordsView struct {
	Held    string // how many lines, and since when; empty where there is none
	Proven  string // when the last backup was proved; empty: none yet
	File    string
	Problem string // why the last attempt at a backup came to nothing
	Scores  []scoreLine
	Past    *pastBatches
	Files   []importView
}

// records says what is kept here, when it was last proved, and hands it out.
func (s *Site) records(w http.ResponseWriter, r *http.Request) {
	view, err := s.readRecords(r, readTastes(r))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.show(w, r, http.StatusOK, "records", page{Title: "What is kept", Here: "/settings", Content: view})
}

func (s *Site) readRecords(r *http.Request, t tastes) (*recordsView, error) {
	ctx := r.Context()
	extent, err := s.watch.Store().Extent(ctx)
	if err != nil {
		return nil, err
	}
	proof, err := s.watch.Proven(ctx)
	if err != nil {
		return nil, err
	}
	view := &recordsView{File: proof.File, Problem: proof.Failed}
	if view.Scores, err = s.scores(ctx, batch.ID{}, t.Style); err != nil {
		return nil, err
	}
	if !extent.First.IsZero() {
		since := t.Style.Time(t.Style.In(extent.First, s.watch.Now().Location()), "Monday 2 January 2006")
		view.Held = t.Style.Tongue.Many(int(extent.Entries), "%d line since %s. Nothing is ever overwritten.", "%d lines since %s. Nothing is ever overwritten.", extent.Entries, since)
	}
	if !proof.At.IsZero() {
		view.Proven = t.Style.Time(t.Style.In(proof.At, s.watch.Now().Location()), "Monday 2 January 2006, 15:04")
	}
	if view.Past, err = s.past(r, batch.ID{}, t.Style); err != nil {
		return nil, err
	}
	if err := view.Past.judge(ctx, s.watch, t.Style); err != nil {
		return nil, err
	}
	view.Files, err = s.imports(ctx, t)
	return view, err
}

// wholeLog hands out every line of every log, to be read back to the byte elsewhere.
func (s *Site) wholeLog(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "application/jsonl; charset=utf-8")
	w.Header().Set("Content-Disposition", fmt.Sprintf(`attachment; filename="spile-%s.jsonl"`, s.watch.Now().Format("2006-01-02")))
	out := batchfile.NewLogWriter(w)
	damaged, err := s.watch.Store().Each(r.Context(), func(e store.Stored) error { return out.Write(e.Batch, e.Form) })
	if err == nil && len(damaged) == 0 {
		err = out.Close() // its last line says that nothing is missing
	}
	if err != nil {
		s.log.Error("log handed out", "err", err)
	}
	for _, d := range damaged {
		s.log.Error("log handed out without a damaged line", "line", d.String())
	}
}
