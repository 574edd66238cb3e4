package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"time"

	"spile/internal/monitor"
)

const (
	beat     = 15 * time.Second // a word at least so often, so that both sides know the line holds
	slowest  = 10 * time.Second // who takes longer to take a few bytes is let go, and comes again
	comeBack = 2 * time.Second
)

// heard is a change as it is told to a page.
type heard struct {
	Batch    string `json:"batch,omitempty"` // empty: things of the cellar
	Position int64  `json:"position"`
}

// live tells a page of every change, as server-sent events: "changed" when something was
// kept, "told" when a forecast was made. A page that is too slow misses some; any later
// one makes it look at all again.
func (s *Site) live(w http.ResponseWriter, r *http.Request) {
	changes, stop := s.watch.Follow()
	defer stop()
	line := http.NewResponseController(w)
	if err := line.SetReadDeadline(time.Time{}); err != nil { // nothing more is read, for as long as it holds
		s.log.Debug("live", "err", err)
	}
	w.Header().Set("Content-Type", "text/event-stream; charset=utf-8")
	tell := func(words string) bool {
		if err := line.SetWriteDeadline(time.Now().Add(slowest)); err != nil {
			s.log.Debug("live", "err", err)
		}
		_, err := fmt.Fprint(w, words)
		return err == nil && line.Flush() == nil
	}
	tick := time.NewTicker(beat)
	defer tick.Stop()
	for told := tell(fmt.Sprintf("retry: %d\n\n", comeBack.Milliseconds())); told; {
		select {
		case c := <-changes:
			told = tell(eventOf(c))
		case <-tick.C:
			told = tell(":\n\n")
		case <-s.ended:
			return
		case <-r.Context().Done():
			return
		}
	}
}

// eventOf writes a change.
func eventOf(c monitor.Change) string {
	h := heard{Position: c.Position}
	if !c.Batch.IsZero() {
		h.Batch = c.Batch.String()
	}
	body, err := json.Marshal(h)
	if err != nil {
		panic(err) // a text and a number
	}
	kind := "changed"
	if c.Told {
		kind = "told"
	}
	return fmt.Sprintf("event: %s\ndata: %s\n\n", kind, body)
}

// End lets go of all pages that follow, so that the server can stop. It is called once.
func (s *Site) End() { close(s.ended) }
