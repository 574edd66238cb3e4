package batch

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"spile/unit"
	"spile/yeast"
)

// Thing is something of the cellar with its facts.
type Thing[T any] struct {
	ID    ID
	Name  string
	Gone  bool // no longer there; kept because batches name it
	Facts T
}

// PlaceFacts are of a place where vessels stand.
type PlaceFacts struct {
	Place
	Sleeper *bool `json:"someone_sleeps_here,omitempty"` // nil: not known
}

// VesselFacts are of a vessel, with what its batches have taught.
type VesselFacts struct {
	Vessel
	Place    ID                 `json:"place,omitzero"`
	Tare     unit.Mass          `json:"tare_kg,omitzero"` // empty, with its lid; 0: not known
	Built    time.Time          `json:"built,omitzero"`
	Checked  time.Time          `json:"checked,omitzero"`  // seals and valves, last
	Due      time.Time          `json:"due,omitzero"`      // of its next check, by its plate or local rules
	Assumed  []string           `json:"assumed,omitempty"` // keys of what nobody knew and was taken as usual
	Filled   *Filling           `json:"filled,omitempty"`  // nil: no wort waits in it for its yeast
	Fittings []string           `json:"fittings,omitempty"`
	Passport map[string]float64 `json:"passport,omitempty"` // learnt values, the unit in the key
	Invented bool               `json:"invented,omitzero"`  // for a demonstration or practice: nothing of it is real
}

// Filling is wort that waits for its yeast: the batch that is made when that goes in.
type Filling struct {
	At     time.Time `json:"at"`
	Record Record    `json:"record"` // without the time of pitching
}

// CylinderFacts are of a cylinder of gas. Content and Weighed come from its weighings:
// a gauge does not tell the content while there is liquid inside.
type CylinderFacts struct {
	Capacity unit.Mass  `json:"capacity_kg"`
	Tare     unit.Mass  `json:"tare_kg,omitzero"` // 0: not known
	Tested   time.Time  `json:"tested,omitzero"`
	Due      time.Time  `json:"due,omitzero"` // of its next test, by its stamp or local rules
	Content  *unit.Mass `json:"-"`            // nil: never weighed, or no tare
	Weighed  time.Time  `json:"-"`
}

// RegulatorFacts are of a regulator and the vessels that hang on it.
type RegulatorFacts struct {
	Cylinder    ID         `json:"cylinder,omitzero"`
	Vessels     []ID       `json:"vessels,omitempty"`
	CheckValves bool       `json:"check_valves,omitzero"` // one on each vessel
	Set         unit.Gauge `json:"set_pa,omitzero"`
}

// LineFacts are of a beer line.
type LineFacts struct {
	Length unit.Length `json:"length_m"`
	Bore   unit.Length `json:"bore_m"`
	Rise   unit.Length `json:"rise_m,omitzero"`
	Tube   string      `json:"tube,omitzero"`
}

// InstrumentFacts are of an instrument: value shown = value + Offset, give or take Noise, in SI.
type InstrumentFacts struct {
	Reads  Quantity `json:"reads"`
	Offset float64  `json:"offset,omitzero"`
	Noise  float64  `json:"noise,omitzero"` // standard deviation; 0: not known
}

// WortPackFacts are of a pack of wort.
type WortPackFacts struct {
	Wort
	BestBefore time.Time `json:"best_before,omitzero"`
}

// YeastPackFacts are of a pack of yeast.
type YeastPackFacts struct {
	Kind        yeast.Kind `json:"kind"`
	Form        string     `json:"form,omitzero"`
	Mass        unit.Mass  `json:"mass_kg,omitzero"`
	Attenuation unit.Ratio `json:"attenuation,omitzero"`
	BestBefore  time.Time  `json:"best_before,omitzero"`
}

// Cellar is what the cellar's own log says is there, each list by name.
type Cellar struct {
	Places      []Thing[PlaceFacts]
	Vessels     []Thing[VesselFacts]
	Cylinders   []Thing[CylinderFacts]
	Regulators  []Thing[RegulatorFacts]
	Lines       []Thing[LineFacts]
	Instruments []Thing[InstrumentFacts]
	WortPacks   []Thing[WortPackFacts]
	YeastPacks  []Thing[YeastPackFacts]
	Trouble     []Trouble
}

// HangsOn is the cylinder that feeds a vessel, and all vessels that it feeds; zero where none is known to.
func (c *Cellar) HangsOn(vessel ID) (cylinder ID, vessels []ID) {
	if vessel.IsZero() {
		return ID{}, nil
	}
	for _, r := range c.Regulators {
		if !r.Gone && slices.Contains(r.Facts.Vessels, vessel) {
			cylinder = r.Facts.Cylinder
		}
	}
	if cylinder.IsZero() {
		return ID{}, nil
	}
	for _, r := range c.Regulators {
		if !r.Gone && r.Facts.Cylinder == cylinder {
			vessels = append(vessels, r.Facts.Vessels...)
		}
	}
	return cylinder, vessels
}

// OnOneRegulator are all vessels that hang on the regulator of a vessel, itself among them; nil where none is known to.
func (c *Cellar) OnOneRegulator(vessel ID) []ID {
	if i := slices.IndexFunc(c.Regulators, func(r Thing[RegulatorFacts]) bool {
		return !r.Gone && !vessel.IsZero() && slices.Contains(r.Facts.Vessels, vessel)
	}); i >= 0 {
		return c.Regulators[i].Facts.Vessels
	}
	return nil
}

// placing puts a thing that was read into the cellar, under its id.
type placing func(c *Cellar, id ID)

// makers read a thing from its document, by the word under "is".
var makers = map[string]func(n naming, doc []byte) (placing, error){
	"place":      maker(func(c *Cellar) *[]Thing[PlaceFacts] { return &c.Places }),
	"vessel":     maker(func(c *Cellar) *[]Thing[VesselFacts] { return &c.Vessels }),
	"cylinder":   maker(func(c *Cellar) *[]Thing[CylinderFacts] { return &c.Cylinders }),
	"regulator":  maker(func(c *Cellar) *[]Thing[RegulatorFacts] { return &c.Regulators }),
	"line":       maker(func(c *Cellar) *[]Thing[LineFacts] { return &c.Lines }),
	"instrument": maker(func(c *Cellar) *[]Thing[InstrumentFacts] { return &c.Instruments }),
	"wort pack":  maker(func(c *Cellar) *[]Thing[WortPackFacts] { return &c.WortPacks }),
	"yeast pack": maker(func(c *Cellar) *[]Thing[YeastPackFacts] { return &c.YeastPacks }),
}

// naming is what every thing has beside its facts.
type naming struct {
	Is   string `json:"is"`
	Name string `json:"name"`
	Gone bool   `json:"gone"`
}

func maker[T any](list func(*Cellar) *[]Thing[T]) func(naming, []byte) (placing, error) {
	return func(n naming, doc []byte) (placing, error) {
		facts, err := bodyOf[T](doc)
		if err != nil {
			return nil, err
		}
		if n.Name == "" {
			return nil, errors.New("a thing without a name")
		}
		return func(c *Cellar, id ID) {
			to := list(c)
			*to = append(*to, Thing[T]{id, n.Name, n.Gone, facts})
		}, nil
	}
}

// EncodeThing is the body of the entry that makes a thing: what it is (such as "vessel"), its name and its facts.
func EncodeThing(is, name string, facts any) (json.RawMessage, error) {
	doc, err := json.Marshal(facts)
	if err != nil {
		return nil, err
	}
	keys := map[string]any{}
	if err := json.Unmarshal(doc, &keys); err != nil {
		return nil, err
	}
	keys["is"], keys["name"] = is, name
	body, err := EncodeBody(keys)
	if err != nil {
		return nil, err
	}
	_, err = readThing(body)
	return body, err
}

// readThing reads and checks the document of a thing.
func readThing(doc []byte) (placing, error) {
	n, err := bodyOf[naming](doc)
	if err != nil {
		return nil, err
	}
	read, known := makers[n.Is]
	if !known {
		return nil, fmt.Errorf("a thing that is %.40q; accepted: place, vessel, cylinder, regulator, line, instrument, wort pack, yeast pack", n.Is)
	}
	return read(n, doc)
}

func (e *Entry) checkThing() error {
	if !e.Thing.IsZero() {
		return nil // a change is judged with what it changes
	}
	_, err := readThing(e.Body)
	return err
}

// DeriveCellar is what the entries of the cellar's own log say is there, in any order.
func DeriveCellar(entries []Entry) Cellar {
	var c Cellar
	held := Hold(entries)
	changes := map[ID][]*Held{}
	for i := range held {
		if h := &held[i]; h.Kind == KindThing && !h.Thing.IsZero() {
			changes[h.Thing] = append(changes[h.Thing], h)
		}
	}
	for i := range held {
		if h := &held[i]; h.Kind == KindThing && h.Thing.IsZero() {
			c.make(h, changes[h.ID])
		}
	}
	c.weigh(held)
	c.sort()
	return c
}

func (c *Cellar) make(first *Held, changes []*Held) {
	place, trouble := fold(first, changes, func(doc []byte) (*placing, error) {
		read, err := readThing(doc)
		return &read, err
	})
	c.Trouble = append(c.Trouble, trouble...)
	if place != nil {
		(*place)(c, first.ID)
	}
}

// weigh gives each cylinder its content by the last weighing.
func (c *Cellar) weigh(held []Held) {
	last := map[ID]Reading{}
	for i := range held {
		if r, weighed := held[i].weighing(); weighed {
			last[held[i].Thing] = r // held is in order of time
		}
	}
	for i := range c.Cylinders {
		cylinder := &c.Cylinders[i]
		r, weighed := last[cylinder.ID]
		if !weighed || cylinder.Facts.Tare <= 0 {
			continue
		}
		content := max(0, unit.Mass(r.Value)-cylinder.Facts.Tare)
		cylinder.Facts.Content, cylinder.Facts.Weighed = &content, r.Time
	}
}

func (c *Cellar) sort() {
	byName(c.Places)
	byName(c.Vessels)
	byName(c.Cylinders)
	byName(c.Regulators)
	byName(c.Lines)
	byName(c.Instruments)
	byName(c.WortPacks)
	byName(c.YeastPacks)
	slices.SortFunc(c.Trouble, func(a, b Trouble) int { return bytes.Compare(a.Entry[:], b.Entry[:]) })
}

func byName[T any](things []Thing[T]) {
	slices.SortFunc(things, func(a, b Thing[T]) int {
		return cmp.Or(strings.Compare(a.Name, b.Name), bytes.Compare(a.ID[:], b.ID[:]))
	})
}
