package main

import (
	"context"
	"strings"
	"testing"
	"time"

	"spile/batch"
	"spile/internal/store"
)

// A batch that is judged emptied teaches; before that nothing is learnt, and a second look changes nothing.
func TestPassports(t *testing.T) {
	furnished(t)
	if out := works(t, "passports --data c"); out != "Nothing yet: a batch teaches once it is judged to be emptied.\n" {
		t.Errorf("before the end: got %s", out)
	}
	id := derived(t, "c").ID
	s, err := store.Open("c")
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 12, 20, 12, 0, 0, 0, time.UTC)
	body, err := batch.EncodeBody(&batch.Judgement{Verdict: batch.Emptied})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Append(context.Background(), batch.Entry{ID: store.NewID(), Batch: id, Kind: batch.KindJudgement, At: at, Made: at, Body: body}); err != nil {
		t.Fatal(err)
	}
	if out := works(t, "passports --data c"); !strings.HasSuffix(out, "Not learnt from yet: 1 finished batch.\n") {
		t.Errorf("while another one has the cellar open: got %s", out)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	out := works(t, "passports --data c")
	for _, want := range []string{"Yeast ale, from 1 batch:\n  how far it ferments out: between ", "Instrument hydrometer, of gravity, from 1 batch:\n  it shows: from ", "; before from "} {
		if !strings.Contains(out, want) {
			t.Errorf("expected %q, got\n%s", want, out)
		}
	}
	if again := works(t, "passports --data c"); again != out {
		t.Errorf("the second time:\n%s\nthe first time:\n%s", again, out)
	}
	if _, errs, code := line("passports --data nowhere"); code != exitUsage || strings.Count(errs, "\n") != 1 {
		t.Errorf("no cellar: %d, %s", code, errs)
	}
}
