package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"slices"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/internal/batchfile"
	"spile/internal/monitor"
	"spile/internal/store"
	"spile/unit"
)

// The door for programs: the same records and forecasts as the pages, as JSON, with errors
// as problem details (RFC 9457).

const apiBatches = "/api/v1/batches"

// apiBatch is a batch in a list.
type apiBatch struct {
	ID      batch.ID   `json:"id"`
	Name    string     `json:"name"`
	Pitched time.Time  `json:"pitched"`
	Ended   *time.Time `json:"ended,omitempty"`
}

// answer sends v as JSON.
func (s *Site) answer(w http.ResponseWriter, status int, v any) {
	body, err := json.Marshal(v)
	if err != nil {
		panic(err) // plain fields
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	s.send(w, append(body, '\n'))
}

// failMachine says what went wrong to a program.
func (s *Site) failMachine(w http.ResponseWriter, r *http.Request, err error) {
	var fault *store.Fault
	var large *http.MaxBytesError
	var refusal *batchfile.Refusal
	switch {
	case errors.Is(err, monitor.ErrNoBatch):
		refuse(w, r, http.StatusNotFound, "There is no batch under that id. GET "+apiBatches+" lists them.")
	case errors.As(err, &large):
		refuse(w, r, http.StatusRequestEntityTooLarge, fmt.Sprintf("That is more than %d kB, which is the most that is read.", large.Limit>>10))
	case errors.As(err, &refusal):
		refuse(w, r, http.StatusUnprocessableEntity, refusal.Error())
	case errors.As(err, &fault) && fault.Usage:
		refuse(w, r, http.StatusUnprocessableEntity, fault.Sentence)
	case errors.As(err, &fault):
		s.log.Error("keeping", "path", r.URL.Path, "err", err)
		refuse(w, r, http.StatusInsufficientStorage, fault.Sentence)
	default:
		s.log.Error("answering", "path", r.URL.Path, "err", err)
		refuse(w, r, http.StatusInternalServerError, "Something went wrong in Spile itself. Nothing was changed. The reason is in the log of the server.")
	}
}

// contentOf checks that a body is of one of the types accepted.
func contentOf(r *http.Request, accepted ...string) error {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err == nil && slices.Contains(accepted, kind) {
		return nil
	}
	return fmt.Errorf("read Content-Type %q; accepted: %v", r.Header.Get("Content-Type"), accepted)
}

// apiList lists the batches, the newest first.
func (s *Site) apiList(w http.ResponseWriter, r *http.Request) {
	all, err := s.watch.Batches(r.Context())
	if err != nil {
		s.failMachine(w, r, err)
		return
	}
	out := make([]apiBatch, len(all))
	for i, b := range all {
		out[i] = apiBatch{ID: b.ID, Name: b.Name, Pitched: b.Pitched}
		if !b.Ended.IsZero() {
			out[i].Ended = &b.Ended
		}
	}
	s.answer(w, http.StatusOK, map[string]any{"batches": out})
}

// apiNewBatch begins a batch from BATCH.yaml, or from the same as JSON. An id may be given
// in the address (?id=), so that asking twice begins one.
func (s *Site) apiNewBatch(w http.ResponseWriter, r *http.Request) {
	if err := contentOf(r, "application/yaml", "application/x-yaml", "text/yaml", "application/json"); err != nil {
		refuse(w, r, http.StatusUnsupportedMediaType, err.Error())
		return
	}
	id := store.NewID()
	if text := r.URL.Query().Get("id"); text != "" {
		var err error
		if id, err = batch.ParseID(text); err != nil {
			refuse(w, r, http.StatusUnprocessableEntity, err.Error())
			return
		}
	}
	b, err := batchfile.DecodeBatch("BATCH.yaml", r.Body)
	if err != nil {
		s.failMachine(w, r, err)
		return
	}
	body, err := batch.EncodeBody(batch.Record{Batch: *b})
	if err != nil {
		s.failMachine(w, r, err)
		return
	}
	e := batch.Entry{ID: id, Batch: id, Kind: batch.KindBatch, At: b.Pitched, Made: s.watch.Now(), Body: body}
	s.apiKeep(w, r, e, apiBatches+"/"+id.String()+"/forecast", map[string]any{"id": id})
}

// apiKeep keeps an entry: 201 where it is new, 200 where its id is known already.
func (s *Site) apiKeep(w http.ResponseWriter, r *http.Request, e batch.Entry, at string, says map[string]any) {
	status := http.StatusCreated
	if before, found, err := s.watch.Store().Find(r.Context(), e.ID); err != nil {
		s.failMachine(w, r, err)
		return
	} else if found && before.Batch != e.Batch {
		refuse(w, r, http.StatusConflict, "That id belongs to another batch. Make a new one for what is new.")
		return
	} else if found {
		status = http.StatusOK
	} else if _, err := s.watch.Keep(r.Context(), signed(r.Context(), []batch.Entry{e})...); errors.Is(err, store.ErrOther) {
		status = http.StatusOK // sent twice at the same moment
	} else if err != nil {
		s.failMachine(w, r, err)
		return
	}
	w.Header().Set("Location", at)
	s.answer(w, status, says)
}

// apiBatchOf is the id of the batch in the address, where there is one. False has been answered.
func (s *Site) apiBatchOf(w http.ResponseWriter, r *http.Request) (*monitor.Seen, bool) {
	id, err := batch.ParseID(r.PathValue("batch"))
	if err != nil {
		refuse(w, r, http.StatusNotFound, err.Error())
		return nil, false
	}
	seen, err := s.watch.See(r.Context(), id)
	if err != nil {
		s.failMachine(w, r, err)
		return nil, false
	}
	return seen, true
}

// forecastPatience is how long a program waits for the forecast to know the newest entry.
const forecastPatience = 20 * time.Second

// apiForecast is the forecast that the pages show, or one that looks from another moment (?at=, ?seed=).
func (s *Site) apiForecast(w http.ResponseWriter, r *http.Request) {
	seen, ok := s.apiBatchOf(w, r)
	if !ok {
		return
	}
	b, query := &seen.State.Record.Batch, r.URL.Query()
	asked, err := forecastAsked(query.Get("at"), query.Get("seed"), &seen.State)
	if err != nil {
		refuse(w, r, http.StatusUnprocessableEntity, err.Error())
		return
	}
	if !query.Has("at") && !query.Has("seed") && b.Pitched.Before(s.watch.Now()) && seen.Ended.IsZero() {
		if seen, err = s.watch.Settle(r.Context(), seen.ID, forecastPatience); err != nil {
			s.failMachine(w, r, err)
			return
		}
	}
	f, took := (*estimate.Forecast)(nil), time.Duration(0)
	if seen.Told != nil && !query.Has("at") && !query.Has("seed") {
		f = seen.Told.Forecast
	} else if f, took, err = asked.make(b, seen.State.Log); err != nil {
		refuse(w, r, http.StatusUnprocessableEntity, sentence(err.Error()))
		return
	}
	upkeep, err := s.watch.Upkeep(r.Context(), seen.State.Record.Uses.Vessel)
	if err != nil {
		s.failMachine(w, r, err)
		return
	}
	said := advice.Say(b, seen.State.Log, upkeep, f, f.At, unit.Style{})
	advice.Sighted(said.Limits, seen.State.Notes, &seen.State.Log, upkeep)
	body, err := batchfile.ForecastJSON(f, said, b, took, nil)
	if err != nil {
		s.failMachine(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	s.send(w, body)
}

// wantedForecast is from where a program wants to look, and with which chance.
type wantedForecast struct {
	at   time.Time
	seed uint64
}

// forecastAsked reads both; where nothing is said it looks from the last reading, as the command line does.
func forecastAsked(at, seed string, state *batch.State) (f wantedForecast, err error) {
	f.seed, f.at = 1, estimate.LastLook(&state.Record.Batch, state.Log)
	if at != "" {
		if f.at, err = instant("at", at); err != nil {
			return f, err
		}
		if since := f.at.Sub(state.Record.Pitched); since < 0 || since > estimate.LongestBatch {
			return f, fmt.Errorf("at %s; accepted: from pitching (%s) to a year after it", at, state.Record.Pitched.Format(time.RFC3339))
		}
	}
	if seed != "" {
		if _, err = fmt.Sscanf(seed, "%d", &f.seed); err != nil {
			return f, fmt.Errorf("seed %q; accepted: a whole number", clipped(seed))
		}
	}
	return f, nil
}

// instant reads a time as programs and devices write it; its name stands in the refusal.
func instant(name, text string) (time.Time, error) {
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return at, fmt.Errorf("%s %q; accepted: a date and time with its zone, as 2026-11-21T08:00:00+01:00", name, clipped(text))
	}
	return at, nil
}

// make conditions and looks ahead.
func (f wantedForecast) make(b *batch.Batch, log batch.Log) (*estimate.Forecast, time.Duration, error) {
	started := time.Now()
	belief, err := estimate.Condition(b, log, f.at, estimate.Options{Seed: f.seed})
	if err != nil {
		return nil, 0, err
	}
	told, err := belief.Forecast()
	return told, time.Since(started), err
}

// readJSON reads one object with the keys of v and no others.
func readJSON(r *http.Request, v any, accepted string) error {
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return err
		}
		return fmt.Errorf("read no such object (%w); accepted: %s", err, accepted)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return errors.New("read more than one object; accepted: " + accepted)
	}
	return nil
}
