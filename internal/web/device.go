package web

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"spile/batch"
	"spile/internal/monitor"
	"spile/internal/store"
	"spile/unit"
	"spile/wording"
)

// What a device says it has read, by the word it sends. A key opens this door and no other.
var deviceAmounts = map[string]*amount{
	"pressure": pressureRead, "temperature": temperatureRead, "gravity": gravityRead, "mass": vesselWeight, "cylinder": cylinderWeight, "air": airRead,
}

// deviceUnits are the units that stand within a word, as in the columns of a file of readings.
var deviceUnits = map[string]string{
	"pressure_psi": "psi", "pressure_bar": "bar", "pressure_kpa": "kPa", "temperature_c": "°C", "temperature_f": "°F",
	"gravity_sg": "", "gravity_plato": "°P", "mass_kg": "kg", "cylinder_kg": "kg", "air_c": "°C", "air_f": "°F",
}

// sent is one reading as a device sends it.
type sent struct {
	Quantity string          `json:"quantity"`
	Value    json.RawMessage `json:"value"` // a number, or a text with its unit
	Unit     string          `json:"unit"`
	ID       string          `json:"id"`
	Time     string          `json:"time"`
}

const sentAccepted = `an object such as {"quantity":"temperature","value":18.4,"unit":"C"}, with id and time where the device has them, or an array of such`

// refusedReading is one that was not kept, by its place in the message.
type refusedReading struct {
	Place  int    `json:"place"` // from 1
	Reason string `json:"reason"`
}

// received is what became of a message.
type received struct {
	Kept    int              `json:"kept"`
	Known   int              `json:"known"`
	Refused []refusedReading `json:"refused,omitempty"`
}

// fromDevice keeps the readings that a device sends, as lines of the batch in its vessel.
func (s *Site) fromDevice(w http.ResponseWriter, r *http.Request) {
	d, found, err := s.watch.Store().DeviceOf(r.Context(), r.PathValue("key"))
	switch {
	case err != nil:
		s.failMachine(w, r, err)
		return
	case !found:
		refuse(w, r, http.StatusUnauthorized, "This key is not known here. spile device add makes one.")
		return
	case !s.clients.send(d.ID.String()):
		w.Header().Set("Retry-After", "20")
		refuse(w, r, http.StatusTooManyRequests, fmt.Sprintf("More than %d messages a second from this device. Keep them, and send them later.", sendsPerSecond))
		return
	}
	body, err := io.ReadAll(r.Body)
	if err != nil {
		s.failMachine(w, r, err)
		return
	}
	got, err := s.receive(r.Context(), d, body)
	var no *notTaken
	switch {
	case errors.As(err, &no):
		refuse(w, r, no.status, no.Error())
	case err != nil:
		s.failMachine(w, r, err)
	case got.Kept > 0:
		s.answer(w, http.StatusCreated, got)
	default:
		s.answer(w, http.StatusOK, got)
	}
}

// notTaken is why nothing of a message was kept.
type notTaken struct {
	status int
	reason string
}

func (n *notTaken) Error() string { return n.reason }

// receive keeps what can be read of a message and puts the rest into the tray.
func (s *Site) receive(ctx context.Context, d store.Device, body []byte) (got received, err error) {
	parts, err := partsOf(body)
	if err != nil {
		return got, s.tray(ctx, d, &notTaken{http.StatusUnprocessableEntity, sentence(err.Error())}, body)
	}
	seen, err := s.batchIn(ctx, d.Vessel)
	if err != nil {
		return got, err
	}
	if seen == nil {
		return got, s.tray(ctx, d, &notTaken{http.StatusConflict, "Nothing is in the vessel of this device. What it reads belongs to no beer."}, body)
	}
	var entries []batch.Entry
	for i, part := range parts {
		e, err := s.sentEntry(part, d, seen)
		if err != nil {
			reason := sentence(err.Error())
			got.Refused = append(got.Refused, refusedReading{i + 1, reason})
			if err := s.tray(ctx, d, &notTaken{http.StatusUnprocessableEntity, reason}, part); len(parts) == 1 {
				return got, err
			}
			continue
		}
		entries = append(entries, e)
	}
	if len(entries) == 0 {
		return got, &notTaken{http.StatusUnprocessableEntity, got.Refused[0].Reason}
	}
	got.Kept, got.Known, err = s.keepSent(ctx, entries)
	return got, err
}

// tray puts a message where a person sees it, and gives back the reason.
func (s *Site) tray(ctx context.Context, d store.Device, why *notTaken, message []byte) error {
	if err := s.watch.Store().PutInTray(ctx, d, s.watch.Now(), why.reason, readable(message)); err != nil {
		s.log.Error("tray", "device", d.Name, "reason", why.reason, "err", err) // the device is told the reason all the same
	}
	return why
}

// readable is the first of a message, whatever was in it.
func readable(message []byte) string {
	const most = 300
	text := strings.ToValidUTF8(string(message), "\uFFFD")
	text = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return ' '
		}
		return r
	}, text)
	if utf8.RuneCountInString(text) > most {
		text = string([]rune(text)[:most]) + " …"
	}
	return text
}

// partsOf are the readings of a message, each as it was sent.
func partsOf(body []byte) (parts []json.RawMessage, err error) {
	body = bytes.TrimSpace(body)
	if len(body) > 0 && body[0] == '[' {
		err = json.Unmarshal(body, &parts)
	} else if !json.Valid(body) {
		err = errors.New("no JSON")
	} else {
		parts = []json.RawMessage{body}
	}
	if err != nil || len(parts) == 0 {
		return nil, fmt.Errorf("read %s; accepted: %s", clipped(readable(body)), sentAccepted)
	}
	return parts, nil
}

// batchIn is the batch that is in a vessel now, nil where there is none.
func (s *Site) batchIn(ctx context.Context, vessel batch.ID) (*monitor.Seen, error) {
	all, err := s.watch.Round(ctx)
	if err != nil {
		return nil, err
	}
	for _, in := range all {
		if in.Seen != nil && in.ID() == vessel {
			return in.Seen, nil
		}
	}
	return nil, nil
}

// sentEntry is a reading as an entry of the batch.
func (s *Site) sentEntry(part []byte, d store.Device, seen *monitor.Seen) (e batch.Entry, err error) {
	var x sent
	if err := json.Unmarshal(part, &x); err != nil {
		return e, fmt.Errorf("read %s; accepted: %s", clipped(readable(part)), sentAccepted)
	}
	of, si, written, err := x.value()
	if err != nil {
		return e, err
	}
	e = batch.Entry{ID: store.NewID(), Batch: seen.ID, Kind: batch.KindReading, Made: s.watch.Now(), By: batch.DeviceBy(d.Name)}
	if x.ID != "" {
		if e.ID, err = nameID(x.ID, d.ID); err != nil {
			return e, err
		}
	}
	if e.At, err = x.at(e.Made, seen.State.Record.Pitched); err != nil {
		return e, err
	}
	told := batch.Said{Written: written}
	told.Put(of.reads, si)
	e.Body, err = batch.EncodeBody(told)
	return e, err
}

// value is what was read, in SI.
func (x *sent) value() (of *amount, si float64, written string, err error) {
	name := strings.ToLower(strings.TrimSpace(x.Quantity))
	in, within := deviceUnits[name]
	stem, _, _ := strings.Cut(name, "_")
	if of = deviceAmounts[stem]; of == nil || stem != name && !within {
		return nil, 0, "", fmt.Errorf("quantity %q; accepted: %s", clipped(x.Quantity), strings.Join(slices.Sorted(maps.Keys(deviceAmounts)), ", "))
	}
	if x.Unit != "" {
		in = x.Unit
	}
	var text string
	if err := json.Unmarshal(x.Value, &text); err != nil {
		number, err := strconv.ParseFloat(string(x.Value), 64)
		if err != nil {
			return nil, 0, "", fmt.Errorf("value %s; accepted: a number, or a text such as %q", clipped(string(x.Value)), "18.4 C")
		}
		text = strconv.FormatFloat(number, 'f', -1, 64)
		if number >= 0.9 && number < 2 && of == gravityRead && in == "" {
			text = strconv.FormatFloat(number, 'f', max(3, len(text)-2), 64) // 1.05 is the gravity 1.050
		}
	}
	if strings.EqualFold(in, "sg") {
		in = ""
	}
	text = strings.TrimSpace(text + " " + in)
	si, doubt, problem := of.read(unit.Style{}, text, "", nil)
	if doubt != nil {
		problem = doubt.Says
	}
	if problem != "" {
		return nil, 0, "", errors.New(problem)
	}
	return of, si, lowered(string(of.Name)) + " " + text, nil
}

const (
	ahead       = 10 * time.Minute // by which the clock of a device may be before ours
	plannedDays = 60               // that a batch dated ahead of now takes readings for
)

// at is when it was read: now, where the device has no clock. A batch that was dated ahead
// of now, as one that was planned, takes readings of its own time.
func (x *sent) at(now, pitched time.Time) (time.Time, error) {
	if x.Time == "" {
		return now, nil
	}
	at, err := instant("time", x.Time)
	if err != nil {
		return at, err
	}
	return at, come(at, now, pitched)
}

// come says so of a time that is yet to come.
func come(at, now, pitched time.Time) error {
	latest := now.Add(ahead)
	if pitched.After(now) {
		latest = pitched.AddDate(0, 0, plannedDays)
	}
	if at.After(latest) {
		return fmt.Errorf("read time %s, which is yet to come; accepted: up to now (%s)", at.Format(time.RFC3339), now.Format(time.RFC3339))
	}
	return nil
}

// keepSent keeps readings; those whose id is there already are kept once.
func (s *Site) keepSent(ctx context.Context, entries []batch.Entry) (kept, known int, err error) {
	var wanted []batch.Entry
	within := map[batch.ID]bool{}
	for _, e := range entries {
		before, found, err := s.watch.Store().Find(ctx, e.ID)
		switch {
		case err != nil:
			return 0, 0, err
		case found && before.Batch != e.Batch:
			return 0, 0, &notTaken{http.StatusConflict, "That id belongs to something else. Make a new one for what is new."}
		case found || within[e.ID]:
			known++
		default:
			within[e.ID] = true
			wanted = append(wanted, e)
		}
	}
	if len(wanted) == 0 {
		return 0, known, nil
	}
	if _, err = s.watch.Keep(ctx, wanted...); errors.Is(err, store.ErrOther) { // sent twice at the same moment
		return s.keepSent(ctx, entries)
	}
	return len(wanted), known, err
}

// apiNewDevice makes a key for a device, bound to the vessel that holds a batch.
func (s *Site) apiNewDevice(w http.ResponseWriter, r *http.Request) {
	var x struct {
		Name  string `json:"name"`
		Batch string `json:"batch"`
	}
	if err := contentOf(r, "application/json"); err != nil {
		refuse(w, r, http.StatusUnsupportedMediaType, err.Error())
		return
	}
	if err := readJSON(r, &x, `{"name":"strip on Dunlin","batch":"its id"}`); err != nil {
		s.refuseEntry(w, r, err)
		return
	}
	id, err := batch.ParseID(x.Batch)
	if err != nil {
		refuse(w, r, http.StatusUnprocessableEntity, "batch: "+err.Error())
		return
	}
	seen, err := s.watch.See(r.Context(), id)
	if err != nil {
		s.failMachine(w, r, err)
		return
	}
	d, key, err := s.watch.Store().AddDevice(r.Context(), x.Name, seen.State.Stands())
	if err != nil {
		s.failMachine(w, r, err)
		return
	}
	s.answer(w, http.StatusCreated, map[string]string{"name": d.Name, "key": key})
}

// trayLine is a message that could not be read.
type trayLine struct {
	Device  string    `json:"device"`
	At      time.Time `json:"at"`
	Reason  string    `json:"reason"`
	Message string    `json:"message"`
}

// When is when it came.
func (l trayLine) When() wording.Moment {
	return wording.Moment{At: l.At, Layout: "Monday 2 January at 15:04"}
}

// apiTray lists the messages that could not be read, the newest first.
func (s *Site) apiTray(w http.ResponseWriter, r *http.Request) {
	lines, err := s.unread(r.Context())
	if err != nil {
		s.failMachine(w, r, err)
		return
	}
	s.answer(w, http.StatusOK, map[string]any{"messages": lines})
}

// unread are the messages that could not be read, the newest first.
func (s *Site) unread(ctx context.Context) ([]trayLine, error) {
	tray, err := s.watch.Store().Tray(ctx)
	out := make([]trayLine, len(tray))
	for i, u := range tray {
		out[i] = trayLine(u)
	}
	return out, err
}
