package batchfile

import (
	"bytes"
	"errors"
	"strings"
	"testing"
)

// Whatever the bytes, a decoder gives a record or one line of refusal.
func FuzzDecodeBatch(f *testing.F) {
	f.Add([]byte(goodBatch))
	for _, s := range []string{"", "{", "a: b: c", "? x\n: y", "<<: *a", "- - - -", "&a [*a]", "name: !!binary x", "\ufeffname: x", "name: |\n x\n", `{"name": "x"}`, "name: 'a\n", "%YAML 1.2\n---\nname: x\n", "name: \"\\u12\"", "? [a]: b"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := DecodeBatch("b.yaml", bytes.NewReader(data))
		checkOutcome(t, err)
		if err != nil {
			return
		}
		var again bytes.Buffer
		if err := EncodeBatch(&again, b); err != nil {
			t.Fatal(err)
		}
		if _, err := DecodeBatch("b.yaml", &again); err != nil {
			t.Fatalf("what was read cannot be read again: %v", err)
		}
	})
}

func FuzzDecodeLog(f *testing.F) {
	b := decodeGood(f)
	for _, s := range []string{"", "hours,gravity_sg\n1,1.02\n", "time,event\n2026-11-21T18:30:00Z,relief 12 psi\n", "hours,pressure_psi,instrument\n1,\"10,5\",dial\n", "\ufeffhours,event\r\n1,noticed foam\r\n", "hours,\"event\n\"\n", "hours,mass_kg\n1e309,1\n", "hours,event\n1,vent 1 bar to -0 bar\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		log, err := DecodeLog("r.csv", bytes.NewReader(data), b)
		checkOutcome(t, err)
		for _, r := range log.Readings {
			if r.Time.Before(b.Pitched) || r.Value != r.Value {
				t.Fatalf("a reading that should have been refused: %+v", r)
			}
		}
	})
}

func checkOutcome(t *testing.T, err error) {
	t.Helper()
	if err == nil {
		return
	}
	var r *Refusal
	if !errors.As(err, &r) || strings.ContainsAny(r.Error(), "\r\n") || r.Read == "" || r.Accepted == "" {
		t.Fatalf("expected one line with what was read and what is accepted, got %q", err)
	}
}
