package web

import (
	"html/template"
	"net/http"

	"spile/advice"
	"spile/batch"
	"spile/internal/report"
	"spile/wording"
)

// paperStyle is where the style of print-outs stands.
const paperStyle = "/static/paper.css"

func (s *Site) servePaperStyle(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "text/css; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	s.send(w, []byte(report.PaperStyle()))
}

// printable is a vessel or batch with the cards that can be printed of it.
type printable struct {
	Name, Batch string
	Papers      []door // addresses, without the paper
	HandOver    string // how it stands, to be read out or sent
}

// papers are the print-outs of what is in a vessel.
func papers(id batch.ID) []door {
	of := "?vessel=" + id.String()
	return []door{{"Door card", "/print/door-card" + of}, {"Job sheet", "/print/job-sheet" + of}, {"Label", "/print/label" + of}, {"Batch card", batchCardOf(id)}}
}

// batchCardOf is the address of a batch card, without the paper.
func batchCardOf(id batch.ID) string { return "/print/batch-card?batch=" + id.String() }

// paperView is what can be printed.
type paperView struct {
	Now  []printable
	Past *pastBatches
}

// onPaper lists what can be printed.
func (s *Site) onPaper(w http.ResponseWriter, r *http.Request) {
	style := readTastes(r).Style
	style.Dated = true // what is handed over is read when "tomorrow" is another day
	all, err := s.allStandingIn(r.Context(), style)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	view := &paperView{}
	if view.Past, err = s.past(r, batch.ID{}, readTastes(r).Style); err != nil {
		s.fail(w, r, err)
		return
	}
	for _, v := range all {
		if v.Said == nil {
			continue
		}
		view.Now = append(view.Now, printable{v.Name(), v.Batch(), papers(v.Seen.ID), v.card().HandOver()})
	}
	s.show(w, r, http.StatusOK, "on-paper", page{Title: "On paper", Here: "/on-paper", Cautious: len(view.Now) > 0, Content: view})
}

func (s *Site) doorCard(w http.ResponseWriter, r *http.Request) {
	s.print(w, r, "vessel", func(_ *stood, c *report.Card) ([]byte, error) { return report.DoorCard(c) })
}

func (s *Site) batchCard(w http.ResponseWriter, r *http.Request) {
	s.print(w, r, "batch", func(_ *stood, c *report.Card) ([]byte, error) { return report.BatchCard(c) })
}

func (s *Site) jobSheet(w http.ResponseWriter, r *http.Request) {
	s.print(w, r, "vessel", func(v *stood, c *report.Card) ([]byte, error) {
		jobs := advice.Jobs(c.Batch, c.Log, v.Upkeep, c.Forecast, v.local(), c.Style)
		return report.JobSheet(c, jobs, stageNamed(stageOf[v.State]).printed(c.Batch, c.Style))
	})
}

func (s *Site) label(w http.ResponseWriter, r *http.Request) {
	s.print(w, r, "vessel", func(v *stood, c *report.Card) ([]byte, error) {
		var square template.HTML
		if s.beyond != nil { // else no phone reaches its page
			var err error
			if square, err = qrDrawing(s.base(r)+"/vessels/"+c.Of, c.Style.Word("A square to photograph: it opens the page of this beer")); err != nil {
				return nil, err
			}
		}
		return report.Label(c, square)
	})
}

// card is what is told on paper of what is in a vessel, before its paper is chosen.
func (v *stood) card() *report.Card {
	vessel := v.Name()
	if v.Was != nil {
		vessel = v.Was.Name
	}
	return &report.Card{View: v.view(), Of: v.Seen.ID.String(), Vessel: vessel, Now: v.Now, Made: v.Seen.Told.Made}
}

// print makes a card of the vessel or batch that the query names.
func (s *Site) print(w http.ResponseWriter, r *http.Request, of string, make func(*stood, *report.Card) ([]byte, error)) {
	paper, err := report.ParsePaper(r.URL.Query().Get("paper"))
	if err != nil {
		s.show(w, r, http.StatusBadRequest, "error", page{Title: "No such paper", Content: refused(tongueOf(r), err)})
		return
	}
	r.SetPathValue("id", r.URL.Query().Get(of))
	style := readTastes(r).Style
	style.Dated = true
	v := s.findIn(w, r, style)
	if v == nil {
		return
	}
	if v.Said == nil {
		s.show(w, r, http.StatusNotFound, "error", page{Title: "Nothing to print yet", Content: wording.Text("Nothing is known of what is in this vessel. Once something is in it and the first look is made, its card can be printed.")})
		return
	}
	card := v.card()
	card.Paper, card.Href = paper, paperStyle
	body, err := make(v, card)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	s.send(w, body)
}
