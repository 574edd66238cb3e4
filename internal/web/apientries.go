package web

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"spile/batch"
	"spile/internal/batchfile"
	"spile/internal/monitor"
	"spile/unit"
)

// apiEntry is what a program tells about a batch, and what it is told: the unit stands in the key.
type apiEntry struct {
	ID          string   `json:"id"`
	Time        string   `json:"time"`
	Gravity     *float64 `json:"gravity_sg,omitempty"`
	Pressure    *float64 `json:"pressure_kpa,omitempty"` // gauge
	Temperature *float64 `json:"temperature_c,omitempty"`
	Mass        *float64 `json:"mass_kg,omitempty"`
	Cylinder    *float64 `json:"cylinder_kg,omitempty"`
	Vented      *float64 `json:"vented_g,omitempty"` // a total since pitching
	Air         *float64 `json:"air_c,omitempty"`    // around the vessel
	Instrument  string   `json:"instrument,omitempty"`
	Event       string   `json:"event,omitempty"` // as in READINGS.csv
	Note        string   `json:"note,omitempty"`
}

const entryAccepted = `{"id":"…","time":"2026-11-21T08:00:00+01:00"} with any of pressure_kpa, temperature_c, gravity_sg, mass_kg, cylinder_kg, vented_g, air_c, instrument, event, note`

// column is one value of an apiEntry with its quantity and how it becomes SI and back.
type column struct {
	key      string
	value    **float64
	quantity batch.Quantity
	in, out  func(float64) float64
}

func times(factor float64) func(float64) float64 {
	return func(x float64) float64 { return x * factor }
}

func (e *apiEntry) columns() []column {
	same := times(1)
	kelvin, celsius := func(c float64) float64 { return float64(unit.Celsius(c)) }, func(k float64) float64 { return unit.Temperature(k).Celsius() }
	return []column{
		{"gravity_sg", &e.Gravity, batch.Gravity, same, same},
		{"pressure_kpa", &e.Pressure, batch.Pressure, times(unit.Kilopascal), times(1 / unit.Kilopascal)},
		{"temperature_c", &e.Temperature, batch.Temperature, kelvin, celsius},
		{"mass_kg", &e.Mass, batch.VesselMass, same, same},
		{"cylinder_kg", &e.Cylinder, batch.CylinderMass, same, same},
		{"vented_g", &e.Vented, batch.VentedGas, times(unit.Gram), times(1 / unit.Gram)},
		{"air_c", &e.Air, batch.AirTemperature, kelvin, celsius},
	}
}

// said is what the entry tells, in SI.
func (e *apiEntry) said() (*batch.Said, error) {
	told := &batch.Said{Instrument: e.Instrument, Words: e.Note}
	if len([]rune(e.Instrument)) > 80 || len([]rune(e.Note)) > 2000 {
		return nil, errors.New("read an instrument or note that is too long; accepted: 80 and 2000 letters")
	}
	for _, c := range e.columns() {
		if *c.value == nil {
			continue
		}
		si := c.in(**c.value)
		if low, high, _ := batchfile.ReadingBounds(c.quantity); !(si >= low && si <= high) { // said in the unit of the key
			return nil, fmt.Errorf("read %s %v; accepted: %.5g to %.5g", c.key, **c.value, c.out(low), c.out(high))
		}
		told.Put(c.quantity, si)
	}
	if e.Event != "" {
		event, err := batchfile.ParseEvent(e.Event)
		if err != nil {
			return nil, fmt.Errorf("read event %q; %w", clipped(e.Event), err)
		}
		told.Event = &event
	}
	if kindOf(told) == "" {
		return nil, errors.New("read nothing that was read, done or noted; accepted: " + entryAccepted)
	}
	return told, nil
}

// nameID is the id under which an entry is kept: a UUID of version 7 as it is, any other name
// made into one that is the same whenever it is sent about the same.
func nameID(name string, of batch.ID) (batch.ID, error) {
	if id, err := batch.ParseID(name); err == nil {
		return id, nil
	}
	if name == "" || len(name) > 200 {
		return batch.ID{}, errors.New("read no id; accepted: a UUID of version 7, or any text of up to 200 bytes that names this one alone")
	}
	sum := sha256.Sum256([]byte(of.String() + " " + name))
	return batch.NewID(of.Time(), [10]byte(sum[:10])), nil
}

// apiTell keeps what a program tells.
func (s *Site) apiTell(w http.ResponseWriter, r *http.Request) {
	seen, ok := s.apiBatchOf(w, r)
	if !ok {
		return
	}
	if err := contentOf(r, "application/json"); err != nil {
		refuse(w, r, http.StatusUnsupportedMediaType, err.Error())
		return
	}
	var x apiEntry
	if err := readJSON(r, &x, entryAccepted); err != nil {
		s.refuseEntry(w, r, err)
		return
	}
	e, err := s.entryOf(&x, seen)
	if err != nil {
		s.refuseEntry(w, r, err)
		return
	}
	s.apiKeep(w, r, e, apiBatches+"/"+seen.ID.String()+"/entries", map[string]any{"id": e.ID})
}

// refuseEntry says why an entry is not kept.
func (s *Site) refuseEntry(w http.ResponseWriter, r *http.Request, err error) {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		s.failMachine(w, r, err)
		return
	}
	refuse(w, r, http.StatusUnprocessableEntity, sentence(err.Error()))
}

func (s *Site) entryOf(x *apiEntry, of *monitor.Seen) (e batch.Entry, err error) {
	id, err := nameID(x.ID, of.ID)
	if err != nil {
		return e, err
	}
	at, err := instant("read time", x.Time)
	if err != nil {
		return e, err
	}
	if err := come(at, s.watch.Now(), of.State.Record.Pitched); err != nil {
		return e, err
	}
	told, err := x.said()
	if err != nil {
		return e, err
	}
	e = batch.Entry{ID: id, Batch: of.ID, Kind: kindOf(told), At: at, Made: s.watch.Now()}
	if e.Body, err = batch.EncodeBody(told); err != nil {
		return e, err
	}
	return e, e.Check()
}

// toldEntry is a line of a log as a program is told it.
type toldEntry struct {
	apiEntry
	Kind       batch.Kind    `json:"kind"`
	Uncertain  unit.Duration `json:"uncertain_s,omitzero"`
	Made       time.Time     `json:"made"`
	By         string        `json:"by,omitempty"`
	Supersedes *batch.ID     `json:"supersedes,omitempty"`
	Verdict    batch.Verdict `json:"verdict,omitempty"`
	Holds      bool          `json:"holds"` // not taken back; a correction that holds stands for what it corrects
}

const (
	usualPage = 200
	mostPage  = 1000
)

// apiTold lists what was told of a batch in the order in which it was kept, so that nothing
// that comes in late is missed between two pages.
func (s *Site) apiTold(w http.ResponseWriter, r *http.Request) {
	seen, ok := s.apiBatchOf(w, r)
	if !ok {
		return
	}
	most, after, err := pageAsked(r.URL.Query())
	if err != nil {
		refuse(w, r, http.StatusUnprocessableEntity, err.Error())
		return
	}
	out, more, err := s.told(r.Context(), seen.ID, after, most)
	if err != nil {
		s.failMachine(w, r, err)
		return
	}
	var next *string
	if more {
		query := url.Values{"after": {out[len(out)-1].ID}}
		if most != usualPage {
			query.Set("limit", strconv.Itoa(most))
		}
		at := apiBatches + "/" + seen.ID.String() + "/entries?" + query.Encode()
		next = &at
	}
	s.answer(w, http.StatusOK, struct {
		Entries []toldEntry `json:"entries"`
		Next    *string     `json:"next"` // the address of the next page; null: there is none
	}{out, next})
}

func pageAsked(q url.Values) (most int, after batch.ID, err error) {
	most = usualPage
	if text := q.Get("limit"); text != "" {
		if most, err = strconv.Atoi(text); err != nil || most < 1 || most > mostPage {
			return 0, after, fmt.Errorf("limit %q; accepted: 1 to %d", clipped(text), mostPage)
		}
	}
	if text := q.Get("after"); text != "" {
		after, err = batch.ParseID(text)
	}
	return most, after, err
}

// listed are the kinds that a program is told: what was told of the beer, not how the record of it was made.
var listed = map[batch.Kind]bool{batch.KindReading: true, batch.KindAction: true, batch.KindNote: true, batch.KindJudgement: true, batch.KindCorrection: true, batch.KindTakenBack: true}

// told is one page of a log, after an entry (zero: from the beginning).
func (s *Site) told(ctx context.Context, of, after batch.ID, most int) (out []toldEntry, more bool, err error) {
	log, _, err := s.watch.Store().Log(ctx, of, 0)
	if err != nil {
		return nil, false, err
	}
	holds := batch.Holding(log)
	out = []toldEntry{}
	begun := after.IsZero()
	for i := range log {
		e := &log[i]
		switch {
		case !begun:
			begun = e.ID == after
			continue
		case !listed[e.Kind]:
			continue
		case len(out) == most:
			return out, true, nil
		}
		line, err := toldOf(e)
		if err != nil {
			return nil, false, err
		}
		line.Holds = holds[e.ID]
		out = append(out, line)
	}
	return out, false, nil
}

func toldOf(e *batch.Entry) (t toldEntry, err error) {
	t = toldEntry{Kind: e.Kind, Uncertain: e.Uncertain, Made: e.Made, By: e.By}
	t.ID, t.Time = e.ID.String(), e.At.Format(time.RFC3339Nano)
	if !e.Supersedes.IsZero() {
		t.Supersedes = &e.Supersedes
	}
	switch e.Kind {
	case batch.KindTakenBack:
		return t, nil
	case batch.KindJudgement:
		j, err := e.Judged()
		t.Verdict, t.Note = j.Verdict, j.Words
		return t, err
	}
	told, err := e.Said()
	if err != nil {
		return t, err
	}
	for _, c := range t.columns() {
		if si, given := told.Value(c.quantity); given {
			v := rounded12(c.out(si))
			*c.value = &v
		}
	}
	t.Instrument, t.Note = told.Instrument, told.Words
	if told.Event != nil {
		t.Event = batchfile.EventText(*told.Event)
	}
	return t, nil
}

// rounded12 takes off what the change of units put behind the twelfth digit.
func rounded12(v float64) float64 {
	if v == 0 {
		return 0
	}
	scale := math.Pow(10, 11-math.Floor(math.Log10(math.Abs(v))))
	return math.Round(v*scale) / scale
}
