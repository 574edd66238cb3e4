package web

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/store"
)

// walk is somebody who reads, does, notices, corrects and takes back whatever comes to mind.
type walk struct {
	*filled
	rng  *rand.Rand
	kept []string // ids, in the order in which they were kept
}

// send posts a form that must be kept, and notes what it made.
func (w *walk) send(door string, form url.Values) {
	w.t.Helper()
	got := post(w.Site, w.at("Dunlin", door), form)
	if got.Code != http.StatusSeeOther {
		w.t.Fatalf("%s with %v: %d\n%s", door, form, got.Code, main(w.t, got))
	}
	to, err := url.Parse(got.Header().Get("Location"))
	if err != nil {
		w.t.Fatal(err)
	}
	w.kept = append(w.kept, strings.Split(to.Query().Get(keptQuery), ",")...)
}

func (w *walk) number(low, high float64) string {
	return fmt.Sprintf("%.1f", low+(high-low)*w.rng.Float64())
}

func (w *walk) step() {
	w.now = w.now.Add(time.Duration(w.rng.IntN(3600)) * time.Second)
	switch w.rng.IntN(10) {
	case 0, 1:
		w.send("/i-read", url.Values{"pressure": {w.number(0, 20)}, "temperature": {w.number(2, 22)}, "where": {[]string{onVessel, inBeer, ofTheAir}[w.rng.IntN(3)]}})
	case 2:
		w.send("/i-read", url.Values{"gravity": {fmt.Sprintf("1.%03d", 5+w.rng.IntN(40))}, "how": {[]string{isFlat, isBubbly}[w.rng.IntN(2)]}, "when": {"about two hours ago"}})
	case 3:
		w.send("/i-did", url.Values{"what": {"vent"}, "from": {w.number(10, 20) + " psi"}, "to": {w.number(0, 9)}})
	case 4:
		w.send("/i-did", url.Values{"what": {"hops"}, "mass": {w.number(20, 90) + " g"}})
	case 5:
		w.send("/i-did", url.Values{"what": {"gas-off"}, "when": {"yesterday evening"}})
	case 6:
		w.send("/i-noticed", url.Values{"what": {"hiss"}, "words": {"quiet, " + w.number(0, 9)}})
	default:
		if len(w.kept) > 0 { // of what was kept, of a taking-back, or of a correction
			w.send("/entries/"+w.kept[w.rng.IntN(len(w.kept))], url.Values{"do": {"take-back"}, "id": {store.NewID().String()}})
		}
	}
}

// said is all that the log says now, to the byte.
func (w *walk) said() string {
	state := w.log("Dunlin")
	out, err := json.Marshal(struct {
		Record *batch.Record
		Log    batch.Log
		Notes  []batch.Note
	}{state.Record, state.Log, state.Notes})
	if err != nil {
		w.t.Fatal(err)
	}
	return string(out)
}

// Whatever was done in a thousand steps, ten walks of a hundred, taking back what holds gives the first
// state to the byte, and putting that back gives what was before.
func TestAThousandStepsBack(t *testing.T) {
	for seed := range uint64(10) {
		walkAndBack(t, seed, 100)
	}
}

func walkAndBack(t *testing.T, seed uint64, steps int) {
	w := &walk{filled: newFilled(t, "Dunlin"), rng: rand.New(rand.NewPCG(5, seed))}
	first := w.said()
	for range steps {
		w.step()
	}
	before := w.said()
	log, _, err := w.watch.Store().Log(t.Context(), w.batches["Dunlin"], 0)
	if err != nil {
		t.Fatal(err)
	}
	holds := batch.Holding(log)
	w.kept = nil
	for _, e := range log {
		if e.Kind != batch.KindBatch && e.Supersedes.IsZero() && holds[e.ID] {
			w.send("/entries/"+e.ID.String(), url.Values{"do": {"take-back"}, "id": {store.NewID().String()}})
		}
	}
	if got := w.said(); got != first {
		t.Errorf("all was taken back, and there is still\n%s", got)
	}
	if len(w.kept) < steps/10 || before == first {
		t.Errorf("only %d entries held after %d steps", len(w.kept), steps)
	}
	for _, id := range w.kept {
		w.send("/entries/"+id, url.Values{"do": {"take-back"}, "id": {store.NewID().String()}})
	}
	if got := w.said(); got != before {
		t.Errorf("all was put back, and it is not what it was")
	}
}
