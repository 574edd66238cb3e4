package batch

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"spile/unit"
)

// Kind is what an entry is.
type Kind string

// The kinds of entries. Body names the type that the body of each decodes to.
const (
	KindReading    Kind = "reading"     // Said, with at least one value
	KindAction     Kind = "action"      // Said, with an event: what was done or noticed
	KindNote       Kind = "note"        // Said, with words
	KindJudgement  Kind = "judgement"   // Judgement
	KindCorrection Kind = "correction"  // what the entry that it supersedes should have said, whole
	KindTakenBack  Kind = "taken-back"  // none: the entry that it supersedes no longer holds
	KindClockShift Kind = "clock-shift" // ClockShift
	KindImport     Kind = "import"      // Import: what came in one step, and can be taken back in one
	KindBatch      Kind = "batch"       // makes the batch of its own ID, or changes it by a merge patch
	KindThing      Kind = "thing"       // makes the thing of its own ID, or changes Thing by a merge patch
)

// Entry is one line of a log. Nothing of it ever changes once it is kept.
type Entry struct {
	ID        ID            `json:"id"`
	Batch     ID            `json:"batch,omitzero"` // whose log; zero: the cellar's own
	Kind      Kind          `json:"kind"`
	At        time.Time     `json:"at"`                   // when it was so
	Uncertain unit.Duration `json:"uncertain_s,omitzero"` // of At, one standard deviation: "about two hours ago"

	// Clock is empty where At can be trusted. Else the clock that gave At was not known
	// to be right, and Clock names the run of it (a start of one machine) that a later
	// ClockShift puts right.
	Clock string `json:"clock,omitzero"`

	Made       time.Time       `json:"made"`                // when it was written down
	By         string          `json:"by,omitzero"`         // who wrote it
	Thing      ID              `json:"thing,omitzero"`      // of the cellar, that it is about
	Supersedes ID              `json:"supersedes,omitzero"` // of a correction or taking-back
	With       ID              `json:"with,omitzero"`       // the import that it came with
	Body       json.RawMessage `json:"body,omitempty"`
}

// Bounds of an entry.
const (
	MaxFormBytes = 64 << 10
	maxName      = 200 // letters of By and Clock
)

// deviceBy begins By of what a device sent: no person's name begins so.
const deviceBy = "device "

// DeviceBy is By of what a device of that name sent.
func DeviceBy(name string) string { return deviceBy + name }

// ByDevice tells whether an entry with that By came from a device: nobody vouches for it.
func ByDevice(by string) bool { return strings.HasPrefix(strings.ToLower(by), deviceBy) }

// Form is the canonical form of the entry: the bytes that are kept, summed and
// exported. Times are in UTC to the nanosecond. It is written key by key, in order, for
// it is made for every reading that comes in; a test holds it against Canonical.
func (e *Entry) Form() ([]byte, error) {
	f := formWriter{append(make([]byte, 0, 512), '{')}
	f.time("at", e.At)
	f.id("batch", e.Batch)
	if len(e.Body) > 0 {
		body, err := Canonical(e.Body)
		if err != nil {
			return nil, fmt.Errorf("a body that is not JSON (%w)", err)
		}
		f.key("body")
		f.out = append(f.out, body...)
	}
	f.text("by", e.By)
	f.text("clock", e.Clock)
	f.id("id", e.ID)
	f.text("kind", string(e.Kind))
	f.time("made", e.Made)
	f.id("supersedes", e.Supersedes)
	f.id("thing", e.Thing)
	if e.Uncertain != 0 {
		f.key("uncertain_s")
		f.out = appendNumber(f.out, float64(e.Uncertain))
	}
	f.id("with", e.With)
	if form := append(f.out, '}'); len(form) <= MaxFormBytes {
		return form, nil
	}
	return nil, fmt.Errorf("a line of %d bytes; accepted: at most %d", len(f.out)+1, MaxFormBytes)
}

// formWriter writes the keys of an object; what is empty is left out.
type formWriter struct{ out []byte }

func (f *formWriter) key(name string) {
	if len(f.out) > 1 {
		f.out = append(f.out, ',')
	}
	f.out = append(append(append(f.out, '"'), name...), '"', ':')
}

func (f *formWriter) text(name, value string) {
	if value != "" {
		f.key(name)
		f.out = appendString(f.out, value)
	}
}

func (f *formWriter) id(name string, id ID) {
	if !id.IsZero() {
		f.text(name, id.String())
	}
}

func (f *formWriter) time(name string, at time.Time) {
	f.key(name)
	f.out = append(at.UTC().AppendFormat(append(f.out, '"'), time.RFC3339Nano), '"')
}

// ParseEntry reads an entry from JSON, canonical or not, and checks it. What a newer
// version may have added is refused, for it could not be kept to the byte.
func ParseEntry(text []byte) (Entry, error) {
	canonical, err := Canonical(text)
	if err != nil {
		return Entry{}, err
	}
	e, err := ReadForm(canonical)
	if err != nil {
		return Entry{}, err
	}
	return e, e.Check()
}

// ReadForm reads a canonical form that is kept. It does not check what it says.
func ReadForm(form []byte) (Entry, error) {
	e, plain := readPlain(form)
	if !plain {
		return readJSON(form)
	}
	e.At, e.Made = e.At.UTC(), e.Made.UTC()
	return e, nil
}

func readJSON(form []byte) (Entry, error) {
	var e Entry
	d := json.NewDecoder(bytes.NewReader(form))
	d.DisallowUnknownFields()
	if err := d.Decode(&e); err != nil {
		return Entry{}, err
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return Entry{}, errors.New("more than one thing on a line")
	}
	e.At, e.Made = e.At.UTC(), e.Made.UTC()
	return e, nil
}

// Check says in one sentence why e cannot be kept, nil where it can.
func (e *Entry) Check() error {
	switch {
	case !e.ID.ordered():
		return errors.New("no id; accepted: a UUID of version 7")
	case !sensible(e.At) || !sensible(e.Made):
		return fmt.Errorf("at %s, made %s; accepted: years 1970 to 2200", e.At.Format(time.RFC3339), e.Made.Format(time.RFC3339))
	case !(e.Uncertain >= 0 && float64(e.Uncertain) <= 10*365*unit.Day):
		return fmt.Errorf("uncertain_s %v; accepted: 0 to ten years", float64(e.Uncertain))
	case len([]rune(e.By)) > maxName || len([]rune(e.Clock)) > maxName:
		return fmt.Errorf("by or clock of more than %d letters; accepted: a short name", maxName)
	case e.Kind.supersedes() == e.Supersedes.IsZero():
		return fmt.Errorf("kind %.20q with supersedes %q; accepted: supersedes in correction and taken-back alone", e.Kind, e.Supersedes)
	case e.Supersedes == e.ID || e.With == e.ID || e.Thing == e.ID:
		return errors.New("a line that points at itself; accepted: the id of another one")
	case !e.With.IsZero() && (e.Kind.supersedes() || e.Kind == KindImport):
		return fmt.Errorf("kind %q with an import; accepted: lines that stand for themselves", e.Kind)
	case e.Kind == KindThing && !e.Batch.IsZero(), e.Kind == KindBatch && e.Batch.IsZero():
		return fmt.Errorf("kind %q in the wrong log; accepted: batch in the log of a batch, thing in the cellar's own", e.Kind)
	}
	return e.checkBody()
}

func (k Kind) supersedes() bool { return k == KindCorrection || k == KindTakenBack }

func sensible(t time.Time) bool { return t.Year() >= 1970 && t.Year() <= 2200 }

// Sum is the checksum of an entry and of all before it in the storing order of its log.
type Sum [sha256.Size]byte

// FirstSum is what the first entry of a log is chained to. It names the form.
func FirstSum() Sum { return sha256.Sum256([]byte("spile log 1")) }

// Next is the checksum of the entry with that canonical form, stored after the one of s.
func (s Sum) Next(form []byte) Sum {
	h := sha256.New()
	h.Write(s[:])
	h.Write(form)
	return Sum(h.Sum(nil))
}
