package web

import (
	"net/http"

	"spile/calc"
	"spile/limit"
	"spile/wording"
)

// trouble is one thing that may be wrong, with the page that answers its last step.
type trouble struct {
	limit.Trouble
	Link *door
}

// troubles are those of the sheet for the door.
func troubles() (out []trouble) {
	for _, t := range limit.Troubles {
		x := trouble{Trouble: t}
		if row, ok := calc.Find(t.Ask); ok {
			x.Link = &door{row.Question, "/work-it-out/" + row.Name}
		}
		out = append(out, x)
	}
	return out
}

// wrong needs no login and no script, and may be kept by the browser for when the server is gone.
func (s *Site) wrong(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Cache-Control", "private, max-age=86400, stale-if-error=2592000")
	w.Header().Set("Vary", "Cookie, Accept-Language") // which say light or dark, and the language
	s.show(w, r, http.StatusOK, "wrong", page{Title: "Something is wrong", Here: "/something-is-wrong", Cautious: true,
		Content: struct {
			Troubles []trouble
			Blanks   []wording.Text
		}{troubles(), limit.Blanks}})
}
