package main

import (
	"context"
	"errors"
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
	s, err := store.Open("c")
	if err != nil {
		t.Fatal(err)
	}
	if err := judgeEmptied(s, "Sluice Gate Pale, third", time.Date(2026, 12, 20, 12, 0, 0, 0, time.UTC)); err != nil {
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

// judgeEmptied ends a batch of a cellar.
func judgeEmptied(s *store.Store, name string, at time.Time) error {
	state, err := named(context.Background(), s, name)
	if err != nil {
		return err
	}
	body, err := batch.EncodeBody(&batch.Judgement{Verdict: batch.Emptied})
	if err != nil {
		return err
	}
	_, err = s.Append(context.Background(), batch.Entry{ID: store.NewID(), Batch: state.ID, Kind: batch.KindJudgement, At: at, Made: at, Body: body})
	return err
}

// emptied ends a batch of the cellar in a folder.
func emptied(dir, name string, at time.Time) error {
	s, err := store.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(judgeEmptied(s, name, at), s.Close())
}
