package web

import (
	"encoding/json"
	"net/http"

	"spile/internal/report"
)

// stripsJSON is the strips of a vessel for a page that draws them for itself. Nothing is
// there before the first look.
func (s *Site) stripsJSON(w http.ResponseWriter, r *http.Request) {
	v := s.find(w, r)
	if v == nil {
		return
	}
	if v.Said == nil {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	c := report.ForecastChart(v.view())
	body, err := json.Marshal(c.Drawn())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	s.send(w, body)
}
