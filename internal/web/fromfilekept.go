package web

import (
	"context"
	"errors"
	"net/http"
	"slices"

	"spile/advice"
	"spile/batch"
	"spile/internal/ingest"
	"spile/internal/store"
)

// importView is what came from one file, and what became of it.
type importView struct {
	*ingest.Import
	Counts  string // of what came
	When    string
	Batch   string // the batch's name
	Path    string // address of its vessel
	Changed []string
	Waiting bool // what it changes is being worked out
}

// Address is that of the page.
func (v *importView) Address() string { return fromFile + "/" + v.ID.String() }

// oneImport shows what came from one file, takes it back or puts it back.
func (s *Site) oneImport(w http.ResponseWriter, r *http.Request) {
	id, err := batch.ParseID(r.PathValue("id"))
	var i *ingest.Import
	if err == nil {
		i, err = ingest.Find(r.Context(), s.watch.Store(), id)
		if err != nil && !errors.Is(err, ingest.ErrNoImport) {
			s.fail(w, r, err)
			return
		}
	}
	if err != nil {
		s.missing(w, r)
		return
	}
	if r.Method == http.MethodPost {
		s.turnImport(w, r, i)
		return
	}
	v, err := s.importSeen(r, i)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	p := page{Said: readTastes(r).Style.Say("Readings from %s", i.File), Here: "/", Content: v}
	if v.Waiting {
		p.Again = 3
	}
	s.show(w, r, http.StatusOK, "from-a-file-kept", p)
}

// turnImport takes all of an import back, or puts it back. A button that is pressed twice is
// pressed once: it says what it begins with.
func (s *Site) turnImport(w http.ResponseWriter, r *http.Request, i *ingest.Import) {
	if held := r.PostFormValue("held") != ""; held == i.Holds {
		lines := i.TurnRound(batch.Entry{Made: s.watch.Now()}, store.NewID)
		if _, err := s.watch.Keep(r.Context(), signed(r.Context(), lines)...); err != nil {
			s.fail(w, r, err)
			return
		}
		if i.Entries < soonKnown {
			s.settle(r.Context(), lines)
		}
	}
	http.Redirect(w, r, fromFile+"/"+i.ID.String(), http.StatusSeeOther)
}

func (s *Site) importSeen(r *http.Request, i *ingest.Import) (*importView, error) {
	seen, err := s.watch.See(r.Context(), i.Batch)
	if err != nil {
		return nil, err
	}
	style := readTastes(r).Style
	v := &importView{Import: i, Counts: linesWords(i.Entries, style.Tongue), When: style.Time(style.In(i.Made, seen.State.Record.Pitched.Location()), clockWords),
		Batch: seen.State.Record.Name, Path: "/vessels/" + seen.State.Stands().String()}
	if !seen.Ended.IsZero() {
		v.Path = "/vessels/" + seen.ID.String()
		return v, nil
	}
	switch told := seen.Told; {
	case !seen.Fresh():
		v.Waiting = seen.Failed == ""
		if seen.Failed != "" {
			v.Changed = []string{seen.Failed}
		}
	case told.Changed == nil:
		v.Changed = []string{style.Word("It moves no date.")}
	default:
		by, found, err := s.watch.Store().Find(r.Context(), told.Changed.By)
		if err != nil {
			return nil, err
		}
		if found && slices.Contains([]batch.ID{by.ID, by.With, by.Supersedes}, i.ID) {
			c := told.Changed
			v.Changed = []string{advice.Moved(c.Milestone, c.Before, c.After, style.In(s.watch.Now(), seen.State.Record.Pitched.Location()), style)}
		}
	}
	return v, nil
}

// imports are the files that came in, the newest first.
func (s *Site) imports(ctx context.Context, t tastes) (out []importView, err error) {
	all, err := ingest.All(ctx, s.watch.Store())
	if err != nil {
		return nil, err
	}
	batches, err := s.watch.Batches(ctx)
	if err != nil {
		return nil, err
	}
	for i := range all {
		for _, b := range batches {
			if b.ID == all[i].Batch {
				out = append(out, importView{Import: &all[i], Batch: b.Name, Counts: linesWords(all[i].Entries, t.Style.Tongue), When: t.Style.Time(all[i].Made.In(s.zone(t.Style)), clockWords)})
			}
		}
	}
	return out, nil
}
