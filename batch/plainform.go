package batch

import (
	"bytes"
	"encoding/json"
	"strconv"
	"strings"
	"unicode/utf8"
)

// readPlain reads a form as [Entry.Form] writes it where no text in it needs an escape, as almost every
// line is: a log of thousands is read whole. ok is false for any other, which is then read as JSON.
func readPlain(form []byte) (e Entry, ok bool) {
	r := formReader{rest: form, ok: true, first: true}
	r.take("{")
	r.into(`"at":`, &e.At)
	r.into(`"batch":`, &e.Batch)
	if r.key(`"body":`) {
		e.Body = r.value()
	}
	r.words(`"by":`, &e.By)
	r.words(`"clock":`, &e.Clock)
	r.into(`"id":`, &e.ID)
	if r.key(`"kind":`) {
		e.Kind = Kind(r.text())
	}
	r.into(`"made":`, &e.Made)
	r.into(`"supersedes":`, &e.Supersedes)
	r.into(`"thing":`, &e.Thing)
	r.into(`"with":`, &e.With)
	r.take("}")
	return e, r.ok && len(r.rest) == 0
}

// saidOf reads the body of a reading, an action or a note; a plain one, of values and texts as [EncodeBody] writes them, without
// the detour over JSON.
func saidOf(body []byte) (Said, error) {
	r := formReader{rest: body, ok: true, first: true}
	var s Said
	r.take("{")
	r.number(`"air_k":`, &s.Air)
	r.number(`"cylinder_kg":`, &s.CylinderMass)
	r.number(`"gravity_sg":`, &s.Gravity)
	r.words(`"instrument":`, &s.Instrument)
	r.number(`"pressure_pa":`, &s.Pressure)
	r.number(`"temperature_k":`, &s.Temperature)
	r.number(`"vented_kg":`, &s.Vented)
	r.number(`"vessel_kg":`, &s.VesselMass)
	r.words(`"words":`, &s.Words)
	r.words(`"written":`, &s.Written)
	r.take("}")
	if r.ok && len(r.rest) == 0 {
		return s, nil
	}
	return bodyOf[Said](body)
}

// formReader reads the keys of an object in their order.
type formReader struct {
	rest  []byte
	ok    bool
	first bool // no key was read yet
}

func (r *formReader) take(word string) {
	if len(r.rest) < len(word) || string(r.rest[:len(word)]) != word {
		r.ok = false
		return
	}
	r.rest = r.rest[len(word):]
}

// key takes a key where it comes next.
func (r *formReader) key(name string) bool {
	rest := r.rest
	if !r.first {
		if len(rest) == 0 || rest[0] != ',' {
			return false
		}
		rest = rest[1:]
	}
	if !r.ok || len(rest) < len(name) || string(rest[:len(name)]) != name {
		return false
	}
	r.rest, r.first = rest[len(name):], false
	return true
}

// text is a string without escapes.
func (r *formReader) text() []byte {
	r.take(`"`)
	ascii := true
	for n, c := range r.rest {
		switch {
		case c == '"':
			text := r.rest[:n]
			r.ok, r.rest = r.ok && (ascii || utf8.Valid(text)), r.rest[n+1:]
			return text
		case c < ' ' || c == '\\':
			r.ok = false
			return nil
		case c >= utf8.RuneSelf:
			ascii = false
		}
	}
	r.ok = false
	return nil
}

// into reads the text under a key into what takes one, where the key comes next.
func (r *formReader) into(name string, to interface{ UnmarshalText([]byte) error }) {
	if !r.key(name) {
		return
	}
	if text := r.text(); r.ok {
		r.ok = to.UnmarshalText(text) == nil
	}
}

// words reads the text under a key, where the key comes next.
func (r *formReader) words(name string, to *string) {
	if r.key(name) {
		*to = string(r.text())
	}
}

// number reads the number under a key, where the key comes next.
func (r *formReader) number(name string, to **float64) {
	if !r.key(name) {
		return
	}
	n := 0
	for n < len(r.rest) && strings.IndexByte("0123456789.-+eE", r.rest[n]) >= 0 {
		n++
	}
	text := r.rest[:n]
	v, err := strconv.ParseFloat(string(text), 64)
	*to, r.ok, r.rest = &v, r.ok && err == nil && json.Valid(text), r.rest[n:]
}

// value is an object as it stands, which may hold others.
func (r *formReader) value() json.RawMessage {
	depth, quoted := 0, false
	for i, c := range r.rest {
		switch {
		case quoted:
			quoted = c != '"'
			if c == '\\' { // rare
				r.ok = false
				return nil
			}
		case c == '"':
			quoted = true
		case c == '{':
			depth++
		case c == '}':
			if depth--; depth > 0 {
				continue
			}
			body := r.rest[:i+1]
			r.ok = r.ok && body[0] == '{' && json.Valid(body)
			r.rest = r.rest[i+1:]
			return bytes.Clone(body)
		}
	}
	r.ok = false
	return nil
}
