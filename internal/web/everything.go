package web

import (
	"net/http"
	"slices"

	"spile/batch"
)

// linesAPage of the whole log.
const linesAPage = 100

// everythingView is a page of the whole log of a batch, with what no longer counts.
type everythingView struct {
	*stood
	Lines        []fatedLine
	Newer, Older string // addresses, empty where there are none
	Damaged      []string
}

// fatedLine is a line of the log and what became of it.
type fatedLine struct {
	line
	Fate string // empty: it holds
}

// everything is the whole log of a batch: nothing in it is ever lost.
func (s *Site) everything(w http.ResponseWriter, r *http.Request) {
	v := s.find(w, r)
	if v == nil {
		return
	}
	if v.Seen == nil {
		s.missing(w, r)
		return
	}
	entries, damaged, err := s.watch.Store().Log(r.Context(), v.Seen.ID, 0)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	view := &everythingView{stood: v}
	for _, d := range damaged {
		view.Damaged = append(view.Damaged, d.String())
	}
	all := fates(v, entries)
	var from, to int
	from, to, view.Newer, view.Older = stretch(r, len(all), linesAPage, "")
	view.Lines = all[from:to]
	s.show(w, r, http.StatusOK, "everything", page{Said: v.Style.Say("Everything so far: %s", v.Name()), Here: "/", Content: view})
}

// fates are the lines of a log, the latest first: those that hold, and those that were corrected or taken back as they were first said.
func fates(v *stood, entries []batch.Entry) (out []fatedLine) {
	held := v.recent(&v.Seen.State)
	counts := map[batch.ID]bool{}
	for _, l := range held {
		counts[l.Entry] = true
	}
	superseded := map[batch.ID]batch.Kind{}
	for _, e := range entries {
		if e.Kind == batch.KindCorrection || superseded[e.Supersedes] == "" && e.Kind == batch.KindTakenBack {
			superseded[e.Supersedes] = e.Kind
		}
	}
	for _, l := range held {
		f := fatedLine{line: l}
		if superseded[l.Entry] == batch.KindCorrection {
			f.Fate = "corrected"
		}
		out = append(out, f)
	}
	for _, e := range entries {
		if kind := superseded[e.ID]; kind != "" && (!counts[e.ID] || kind == batch.KindCorrection) {
			out = append(out, asFirstSaid(v, e, counts[e.ID]))
		}
	}
	out = append(out, fatedLine{line: v.began()})
	slices.SortStableFunc(out, func(a, b fatedLine) int { return b.At.Compare(a.At) })
	return out
}

// asFirstSaid is a line that no longer counts as it was said.
func asFirstSaid(v *stood, e batch.Entry, corrected bool) fatedLine {
	alone := batch.Derive(v.Seen.ID, []batch.Entry{e})
	f := fatedLine{Fate: "taken back"}
	if corrected {
		f.Fate = "as it was first said"
	}
	if lines := v.recent(&alone); len(lines) > 0 {
		f.line = lines[0]
	} else {
		f.line = v.lineAt(e.ID, e.At, func() string {
			if i, err := e.Import(); err == nil && e.Kind == batch.KindImport {
				return cameWords(&i, v.Style.Tongue)
			}
			return string(e.Kind)
		})
	}
	return f
}
