package web

import (
	"net/http"
	"strings"

	"spile/batch"
	"spile/wording"
)

// roundForm is "Do the round": every vessel that holds something, in the order in which
// they stand, pressure then temperature.
type roundForm struct {
	*entryForm
	Rows []*roundRow
}

// roundRow is one vessel of the round.
type roundRow struct {
	Vessel                *stood
	ID                    batch.ID // of the entry it makes
	Pressure, Temperature *gauged
	Next                  string // the field that comes after this vessel; empty: none
}

func newRoundForm(all []*stood, t tastes) *roundForm {
	f := &roundForm{}
	for _, v := range all {
		if v.Seen == nil {
			continue
		}
		if f.entryForm == nil {
			f.entryForm = newEntryForm(v.Now.In(v.zone()), t.Style)
		}
		key := v.Seen.ID.String()
		row := &roundRow{Vessel: v, ID: nth(f.ID, byte(len(f.Rows)))}
		row.Pressure = f.gauge("pressure-"+key, f.Style.Say("%s, pressure", v.Name()), pressureRead)
		row.Temperature = f.gauge("temperature-"+key, f.Style.Say("%s, temperature", v.Name()), temperatureRead)
		for _, g := range []*gauged{row.Pressure, row.Temperature} {
			if band, known := v.expected(g.amount.reads); known {
				g.expect(band, f.Style)
			}
		}
		row.Pressure.First = len(f.Rows) == 0
		if n := len(f.Rows); n > 0 {
			f.Rows[n-1].Next = row.Pressure.ID()
		}
		f.Rows = append(f.Rows, row)
	}
	return f
}

// read takes what was sent, with the id of each vessel's entry.
func (f *roundForm) read(r *http.Request) error {
	if err := f.entryForm.read(r); err != nil {
		return err
	}
	for _, row := range f.Rows {
		if id, err := batch.ParseID(r.PostForm.Get("id-" + row.Vessel.Seen.ID.String())); err == nil {
			row.ID = id
		}
	}
	return nil
}

// entries are what was read of each vessel; those that were skipped make none.
func (f *roundForm) entries() (out []batch.Entry, err error) {
	when := f.moment()
	for _, row := range f.Rows {
		f.written = nil
		told := &batch.Said{}
		for _, g := range []*gauged{row.Pressure, row.Temperature} {
			if si, given := f.value(g); given {
				told.Put(g.amount.reads, si)
			}
		}
		if len(f.written) == 0 {
			continue
		}
		told.Written = strings.Join(f.written, "; ")
		f.ID = row.ID
		e, err := f.entry(row.Vessel.Seen.ID, batch.KindReading, when, 0, told)
		if err != nil {
			return nil, err
		}
		out = append(out, e)
	}
	if len(out) == 0 && !f.Bad() {
		f.Beside = f.Style.Word("Nothing was read yet. Type what a dial or thermometer shows; a vessel left empty is skipped.")
	}
	return out, nil
}

// roundKept is what a round that was kept says of one vessel.
type roundKept struct {
	Vessel *stood
	Echo   *echo
}

// round asks all vessels in one screen, keeps what was typed at once, and says what it changed.
func (s *Site) round(w http.ResponseWriter, r *http.Request) {
	all, err := s.allStanding(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if r.Method != http.MethodPost && r.URL.Query().Has(keptQuery) {
		s.showRoundKept(w, r, all)
		return
	}
	f := newRoundForm(all, readTastes(r))
	if len(f.Rows) == 0 {
		s.show(w, r, http.StatusOK, "error", page{Title: "No vessel to go round", Here: "/", Content: wording.Text("Nothing is filled yet. Fill a vessel first.")})
		return
	}
	if s.takeEntries(w, r, f, "round", "Do the round") {
		s.settle(r.Context(), f.kept)
		http.Redirect(w, r, "/round?"+keptQuery+"="+ids(f.kept), http.StatusSeeOther)
	}
}

// showRoundKept says of each vessel what was kept of it and what that changed.
func (s *Site) showRoundKept(w http.ResponseWriter, r *http.Request, all []*stood) {
	var kept []roundKept
	waiting := false
	for _, v := range all {
		e, err := s.echoOf(r, v)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		if e != nil {
			e.Limits = v.asked(e.Limits)
			kept = append(kept, roundKept{v, e})
			waiting = waiting || e.Waiting
		}
	}
	p := page{Title: "The round is kept", Here: "/", Cautious: true, Content: kept}
	if waiting {
		p.Again = 3
	}
	s.show(w, r, http.StatusOK, "round-kept", p)
}
