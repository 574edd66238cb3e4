package shed

import (
	"context"
	"slices"
	"testing"
	"time"

	"spile/advice"
	"spile/batch"
	"spile/estimate"
	"spile/internal/store"
	"spile/unit"
)

var noon = time.Date(2026, 11, 28, 12, 0, 0, 0, time.UTC)

// What the shed's people wrote down can be kept, and Spile sees in each vessel what was planted there.
func TestShedTellsItsStories(t *testing.T) {
	s, err := store.OpenMemory()
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	entries, err := Entries(noon, 7, store.NewID)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Append(context.Background(), entries...); err != nil {
		t.Fatal(err)
	}
	logs := map[batch.ID][]batch.Entry{}
	for _, e := range entries {
		logs[e.Batch] = append(logs[e.Batch], e)
	}
	cellar := batch.DeriveCellar(logs[batch.ID{}])
	if len(cellar.Trouble) > 0 || len(cellar.Vessels) != 5 || cellar.Cylinders[0].Facts.Content == nil {
		t.Fatalf("expected five vessels and a weighed cylinder, got %+v", cellar)
	}
	want := map[string]struct {
		states []advice.State
		also   string
		found  estimate.FindingKind
	}{
		"Dunlin":     {[]advice.State{advice.Working}, "", ""},
		"Godwit":     {[]advice.State{advice.Slowing, advice.Working}, string(advice.Stuck), estimate.FindingColdStall},
		"Sanderling": {[]advice.State{advice.TakingGas}, "", ""},
		"Turnstone":  {[]advice.State{advice.Finished}, string(advice.LosingGas), estimate.FindingLeak},
		"Whimbrel":   {[]advice.State{advice.Pouring}, "", ""},
	}
	for id, log := range logs {
		if id.IsZero() {
			continue
		}
		state := batch.Derive(id, log)
		if len(state.Trouble) > 0 || state.Record == nil {
			t.Fatalf("trouble: %+v", state.Trouble)
		}
		i := slices.IndexFunc(cellar.Vessels, func(v batch.Thing[batch.VesselFacts]) bool { return v.ID == state.Record.Uses.Vessel })
		name := cellar.Vessels[i].Name
		bl, err := estimate.Condition(&state.Record.Batch, state.Log, noon, estimate.Options{Seed: 1, Members: 400})
		if err != nil {
			t.Fatal(name, err)
		}
		f, err := bl.Forecast()
		if err != nil {
			t.Fatal(name, err)
		}
		said := advice.Say(&state.Record.Batch, state.Log, batch.Upkeep{}, f, noon, unit.Style{})
		t.Logf("%s: %s %v; %s; next: %s", name, said.State, said.Also, said.Now[0], said.Next[0].Do)
		for _, x := range said.Findings {
			t.Logf("  %s %.2f: %s", x.Kind, x.Probability, x.Sentence)
		}
		w := want[name]
		if !slices.Contains(w.states, said.State) {
			t.Errorf("%s: expected one of %v, got %s", name, w.states, said.State)
		}
		if w.also != "" && !slices.Contains(said.Also, w.also) {
			t.Errorf("%s: expected %s beside its state, got %v", name, w.also, said.Also)
		}
		if w.found != "" && (len(said.Findings) == 0 || said.Findings[0].Kind != w.found) {
			t.Errorf("%s: expected %s first, got %+v", name, w.found, said.Findings)
		}
		if w.found == "" && len(said.Findings) > 0 {
			t.Errorf("%s is healthy, got %+v", name, said.Findings)
		}
	}
}

// The same moment and seed give the same readings.
func TestShedIsSeeded(t *testing.T) {
	made := func() (forms []string) {
		n := byte(0)
		entries, err := Entries(noon, 7, func() batch.ID { n++; return batch.NewID(noon, [10]byte{n}) })
		if err != nil {
			t.Fatal(err)
		}
		for i := range entries {
			form, err := entries[i].Form()
			if err != nil {
				t.Fatal(err)
			}
			forms = append(forms, string(form))
		}
		return forms
	}
	if !slices.Equal(made(), made()) {
		t.Error("two runs from one seed differ")
	}
}

// What the probe sent by itself came from a device; what people read did not.
func TestProbeOfTheShedIsADevice(t *testing.T) {
	entries, err := Entries(noon, 7, store.NewID)
	if err != nil {
		t.Fatal(err)
	}
	logs := map[batch.ID][]batch.Entry{}
	for _, e := range entries {
		logs[e.Batch] = append(logs[e.Batch], e)
	}
	sent := 0
	for id, log := range logs {
		for _, r := range batch.Derive(id, log).Log.Readings {
			if r.Unattended != (r.Instrument == "probe") {
				t.Errorf("%v at %s with %q: unattended %t", r.Quantity, r.Time, r.Instrument, r.Unattended)
			}
			if r.Unattended {
				sent++
			}
		}
	}
	if sent < 100 {
		t.Errorf("the probe sent %d readings, expected one each half hour of 62", sent)
	}
}
