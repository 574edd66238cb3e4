package batch

import (
	"bytes"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
)

// plainForms are as lines are kept; whether the quick way reads them.
func plainForms(t testing.TB) map[string]bool {
	t.Helper()
	forms := map[string]bool{}
	add := func(e Entry, plain bool) {
		form, err := e.Form()
		if err != nil {
			t.Fatal(err)
		}
		forms[string(form)] = plain
	}
	add(entry(2, KindReading, `{"pressure_pa":68947.57293168361,"temperature_k":293.15,"written":"10 psi, 20 °C"}`), true)
	add(entry(1, KindBatch, made), true)
	e := entry(3, KindTakenBack, "")
	e.Supersedes, e.By, e.Clock, e.Thing, e.Body = id(2), "Zoë", "run 3", id(4), nil
	add(e, true)
	e = entry(7, KindReading, `{"gravity_sg":1.04}`)
	e.With = id(9)
	add(e, true) // a line that came with a file
	e = entry(5, KindNote, `{"words":"{\"a\": 1}"}`)
	add(e, false) // an escape
	e = entry(6, KindReading, `{"pressure_pa":1}`)
	e.Uncertain, e.With = 7200, id(9)
	add(e, false)
	e.Uncertain = 0
	form, err := e.Form()
	if err != nil {
		t.Fatal(err)
	}
	forms[strings.Replace(string(form), `"body":{`, `"body": {`, 1)] = false // no line is kept so, and JSON reads it
	return forms
}

// The quick way reads what the way by JSON reads, or leaves it to that, whatever was changed in a form.
func TestPlainFormIsAsJSON(t *testing.T) {
	const seed, changes = 26, 60000
	chance := rand.New(rand.NewPCG(seed, 1))
	letters := []byte("\"\\{}[]:,0129atn-TZ \n\x00\xff")
	quick := 0
	forms := plainForms(t)
	for form, plain := range forms {
		e, ok := readPlain([]byte(form))
		if want, err := readJSON([]byte(form)); err != nil || ok != plain || ok && !reflect.DeepEqual(utc(e), want) {
			t.Errorf("%s\nread %+v, %t; want %+v, %v", form, e, ok, want, err)
		}
		for range changes / len(forms) {
			text := []byte(form)
			for range 1 + chance.IntN(3) {
				switch at := chance.IntN(len(text)); chance.IntN(3) {
				case 0:
					text[at] = letters[chance.IntN(len(letters))]
				case 1:
					text = append(text[:at], text[min(at+1+chance.IntN(9), len(text)):]...)
				default:
					text = append(text[:at], append(bytes.Clone(text[chance.IntN(at+1):at]), text[at:]...)...)
				}
				if len(text) == 0 {
					break
				}
			}
			e, ok := readPlain(text)
			if !ok {
				continue
			}
			quick++
			if want, err := readJSON(text); err != nil || !reflect.DeepEqual(utc(e), want) {
				t.Fatalf("seed %d: %s\nread %+v; want %+v, %v", seed, text, e, want, err)
			}
		}
	}
	if quick < changes/50 {
		t.Errorf("only %d changed forms were read the quick way", quick)
	}
}

// The body of a reading is read as by JSON, whatever was changed in it; refused alike too.
func TestPlainBodyIsAsJSON(t *testing.T) {
	const seed = 27
	chance := rand.New(rand.NewPCG(seed, 1))
	letters := []byte("\"\\{}[]:,0129.-+eEatn \x00\xff")
	sound, refused := 0, 0
	for _, body := range []string{
		`{"gravity_sg":1.0125}`, `{"air_k":286.5,"pressure_pa":83500}`, `{"pressure_pa":83500,"temperature_k":293.15}`, `{"cylinder_kg":7.25,"instrument":"scale","written":"7.25 kg"}`,
		`{"instrument":"strip","temperature_k":-0,"vented_kg":1e-7,"vessel_kg":2.5e1,"words":"schäumt"}`, `{"event":{"kind":"gas off"}}`, `{"pressure_pa":null}`, `{}`,
	} {
		for i := range 4000 {
			text := []byte(body)
			for range min(i, 1+chance.IntN(2)) {
				if at := chance.IntN(len(text)); chance.IntN(2) == 0 {
					text[at] = letters[chance.IntN(len(letters))]
				} else {
					text = append(text[:at:at], append([]byte{letters[chance.IntN(len(letters))]}, text[at:]...)...)
				}
			}
			got, err := saidOf(text)
			want, failed := bodyOf[Said](text)
			if (err == nil) != (failed == nil) || err == nil && !reflect.DeepEqual(got, want) {
				t.Fatalf("seed %d: %s\nread %+v, %v; want %+v, %v", seed, text, got, err, want, failed)
			}
			if err == nil {
				sound++
			} else {
				refused++
			}
		}
	}
	if sound < 3000 || refused < 3000 {
		t.Errorf("%d sound bodies and %d others, want 3,000 of each", sound, refused)
	}
}

func utc(e Entry) Entry {
	e.At, e.Made = e.At.UTC(), e.Made.UTC()
	return e
}

// BenchmarkReadForm is one reading out of the form in which it is kept.
func BenchmarkReadForm(b *testing.B) {
	e := entry(2, KindReading, `{"pressure_pa":68947.57293168361,"temperature_k":293.15,"written":"10 psi, 20 C"}`)
	form, err := e.Form()
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for range b.N {
		if _, err := ReadForm(form); err != nil {
			b.Fatal(err)
		}
	}
}
