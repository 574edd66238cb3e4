package batch

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"spile/unit"
)

// Said is the body of a reading, an action or a note: what one look or one act told.
// Values are in SI, the unit in the key.
type Said struct {
	Gravity      *float64 `json:"gravity_sg,omitempty"`
	Pressure     *float64 `json:"pressure_pa,omitempty"` // gauge
	Temperature  *float64 `json:"temperature_k,omitempty"`
	VesselMass   *float64 `json:"vessel_kg,omitempty"`
	CylinderMass *float64 `json:"cylinder_kg,omitempty"`
	Vented       *float64 `json:"vented_kg,omitempty"` // a total since pitching
	Air          *float64 `json:"air_k,omitempty"`     // around the vessel
	Instrument   string   `json:"instrument,omitzero"`
	Event        *Event   `json:"event,omitempty"`
	Words        string   `json:"words,omitzero"`
	Written      string   `json:"written,omitzero"` // as it was typed or sent, in the user's units
}

// values are the places of the values, by Quantity.
func (s *Said) values() [Quantities]**float64 {
	return [...]**float64{Gravity: &s.Gravity, Pressure: &s.Pressure, Temperature: &s.Temperature,
		VesselMass: &s.VesselMass, CylinderMass: &s.CylinderMass, VentedGas: &s.Vented, AirTemperature: &s.Air}
}

// Put sets the value of a quantity, in SI.
func (s *Said) Put(q Quantity, value float64) { *s.values()[q] = &value }

// Value is the value of a quantity in SI, and whether there is one.
func (s *Said) Value(q Quantity) (value float64, given bool) {
	if v := *s.values()[q]; v != nil {
		return *v, true
	}
	return 0, false
}

func (s *Said) check(k Kind) error {
	given := false
	for q := range s.values() {
		_, ok := s.Value(Quantity(q))
		given = given || ok
	}
	switch {
	case k == KindReading && !given:
		return errors.New("a reading without a value; accepted: gravity_sg, pressure_pa, temperature_k, vessel_kg, cylinder_kg, vented_kg, air_k")
	case k == KindAction && s.Event == nil:
		return errors.New("an action without its event; accepted: an event such as {\"kind\":\"gas off\"}")
	case k == KindNote && s.Words == "":
		return errors.New("a note without words; accepted: words")
	}
	return nil
}

// Said reads the body of a reading, an action or a note, or of a correction of one.
func (e *Entry) Said() (Said, error) { return saidOf(e.Body) }

// Judged reads the body of a judgement.
func (e *Entry) Judged() (Judgement, error) { return bodyOf[Judgement](e.Body) }

// Import reads the body of an import.
func (e *Entry) Import() (Import, error) { return bodyOf[Import](e.Body) }

// Judgement is what a person decided about the batch, or about one entry of it.
type Judgement struct {
	Verdict Verdict `json:"verdict"`     // such as "doubtful", "leak test passed"
	Of      ID      `json:"of,omitzero"` // the entry judged; zero: the batch
	Words   string  `json:"words,omitzero"`

	LeakTest *LeakTest   `json:"leak_test,omitzero"` // what was read, of a leak test
	Limits   []SeenLimit `json:"limits,omitempty"`   // of LimitSeen and LimitOver: those that are said in the same words
}

// SeenLimit is a limit as it was passed when somebody said to have seen it.
type SeenLimit struct {
	Kind  string   `json:"kind"`              // such as "over-rating"
	When  string   `json:"when"`              // it is passed: "now", "ahead", or "plate" for what stands on the vessel itself
	Soon  string   `json:"soon"`              // how soon to act: "When you can", "Today" or "Now"
	Value *float64 `json:"value_si,omitzero"` // Pa gauge, K, a share or s since 1970, by the kind; nil: not known
	Limit *float64 `json:"limit_si,omitzero"` // the same; nil: not known
}

// LeakTest is what a leak test read: the dial and the temperature twice, over a room of gas.
type LeakTest struct {
	Room     unit.Volume      `json:"room_m3"`
	From     unit.Gauge       `json:"from_pa"`
	To       unit.Gauge       `json:"to_pa"`
	FromTemp unit.Temperature `json:"from_k"`
	ToTemp   unit.Temperature `json:"to_k"`
	Time     unit.Duration    `json:"time_s"` // between the readings
}

// ClockShift says by how much one run of a clock was wrong: what was stamped by it
// happened Shift later than stamped. Of several the one made last counts.
type ClockShift struct {
	Clock     string        `json:"clock"`
	Shift     float64       `json:"shift_s"`
	Uncertain unit.Duration `json:"uncertain_s,omitzero"`
}

// Import is the body of the entry with which others come.
type Import struct {
	File    string `json:"file"`
	Entries int    `json:"entries"`
}

// EncodeBody is v as the body of an entry. A value that is no number is an error.
func EncodeBody(v any) (json.RawMessage, error) {
	text, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	return Canonical(text)
}

// checkBody says why the body does not fit the kind.
func (e *Entry) checkBody() error {
	if e.Kind == KindTakenBack {
		if len(e.Body) > 0 {
			return errors.New("a taking-back with a body; accepted: none")
		}
		return nil
	}
	if !bytes.HasPrefix(bytes.TrimSpace(e.Body), []byte("{")) { // that it is JSON is seen where it is read
		return errors.New("a body that is no object; accepted: an object with its keys")
	}
	if err := e.checkKind(); err != nil {
		return fmt.Errorf("kind %q: %w", e.Kind, err)
	}
	return nil
}

func (e *Entry) checkKind() error {
	switch e.Kind {
	case KindReading, KindAction, KindNote:
		s, err := saidOf(e.Body)
		if err != nil {
			return err
		}
		return s.check(e.Kind)
	case KindJudgement:
		j, err := bodyOf[Judgement](e.Body)
		if err == nil && j.Verdict == "" {
			err = errors.New("no verdict; accepted: a word such as doubtful")
		}
		if err == nil {
			err = j.checkLimit()
		}
		return err
	case KindClockShift:
		c, err := bodyOf[ClockShift](e.Body)
		if err == nil && (c.Clock == "" || c.Uncertain < 0) {
			err = errors.New("no clock, or less than no uncertainty; accepted: the clock's name, shift_s, uncertain_s")
		}
		return err
	case KindImport:
		_, err := bodyOf[Import](e.Body)
		return err
	case KindBatch:
		return e.checkBatch()
	case KindThing:
		return e.checkThing()
	case KindCorrection: // judged with what it corrects, when it is derived
		return nil
	}
	return errors.New("not known; accepted: " + kindWords())
}

// checkLimit says why what was judged of a limit cannot be kept.
func (j *Judgement) checkLimit() error {
	about := j.Verdict == LimitSeen || j.Verdict == LimitOver
	switch {
	case about && (len(j.Limits) == 0 || slices.ContainsFunc(j.Limits, func(l SeenLimit) bool { return l.Kind == "" })):
		return fmt.Errorf("%q without its limits; accepted: limits, each with a kind such as over-rating", j.Verdict)
	case j.Verdict == LimitOver && j.Of.IsZero():
		return fmt.Errorf("%q of nothing; accepted: the id of the entry that says who has seen it", j.Verdict)
	}
	return nil
}

func kindWords() string {
	out := ""
	for _, k := range []Kind{KindReading, KindAction, KindNote, KindJudgement, KindCorrection, KindTakenBack, KindClockShift, KindImport, KindBatch} {
		out += string(k) + ", "
	}
	return out + string(KindThing)
}

// bodyOf reads a body. Keys that are not known are left: a newer version may use them.
func bodyOf[T any](body []byte) (T, error) {
	var v T
	err := json.Unmarshal(body, &v)
	return v, err
}

// words are the names under which a kind stands in the log, by its number.
type words []string

func (w words) text(i int, what string) ([]byte, error) {
	if i < 0 || i >= len(w) {
		return nil, fmt.Errorf("%s %d has no name", what, i)
	}
	return []byte(w[i]), nil
}

func (w words) number(text []byte, what string) (int, error) {
	if i := slices.Index(w, string(text)); i >= 0 {
		return i, nil
	}
	return 0, fmt.Errorf("%s %.40q; accepted: %v", what, text, []string(w))
}

var (
	eventWords     = words{"relief", "vent", "sample", "gas on", "gas off", "hold", "opened", "shaken", "dry hop", "poured", "forced sample", "noticed"}
	conditionWords = words{"none", "gravity at most", "finished for", "carbonated"}
	quantityWords  = words{"gravity", "pressure", "temperature", "vessel mass", "cylinder mass", "vented gas", "air temperature"}
)

// MarshalText writes k as it stands in the log.
func (k EventKind) MarshalText() ([]byte, error) { return eventWords.text(int(k), "event") }

// UnmarshalText reads k from the log.
func (k *EventKind) UnmarshalText(text []byte) error {
	i, err := eventWords.number(text, "event")
	*k = EventKind(i)
	return err
}

// MarshalText writes k as it stands in the log.
func (k ConditionKind) MarshalText() ([]byte, error) { return conditionWords.text(int(k), "condition") }

// UnmarshalText reads k from the log.
func (k *ConditionKind) UnmarshalText(text []byte) error {
	i, err := conditionWords.number(text, "condition")
	*k = ConditionKind(i)
	return err
}

// MarshalText writes q as it stands in the log.
func (q Quantity) MarshalText() ([]byte, error) { return quantityWords.text(int(q), "quantity") }

// UnmarshalText reads q from the log.
func (q *Quantity) UnmarshalText(text []byte) error {
	i, err := quantityWords.number(text, "quantity")
	*q = Quantity(i)
	return err
}
