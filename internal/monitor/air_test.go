package monitor

import (
	"bytes"
	"testing"

	"spile/batch"
	"spile/unit"
)

// The air of one fridge, read at one vessel, speaks of the beer in the other as if it had been read there, once however often it was
// written down; the other log stays as it was. In a room it does not.
func TestAirOfOneFridge(t *testing.T) {
	c := &clock{now: hours(60)}
	dir := t.TempDir()
	s := twoOnOne(t, inFile(t, dir, c), map[string]any{"ambient_k": 293, "fridge": map[string]any{"coldest_k": 272}}, false)
	air := func(of int, h float64) batch.Entry {
		return read(t, s.batches[of], hours(h), batch.AirTemperature, float64(unit.Celsius(24)))
	}
	told := func(change func(w *Watch), entries ...batch.Entry) []byte {
		t.Helper()
		w := inFile(t, crash(t, dir), c)
		w.members = 200
		if change != nil {
			change(w)
		}
		for _, e := range entries {
			keep(t, w, e)
		}
		renewAll(t, w)
		f := *see(t, w, s.batches[1]).Told.Forecast
		f.Evidence, f.Flags = nil, nil // which name entries
		return digits(t, &f)
	}
	none, own := told(nil), told(nil, air(1, 40), air(1, 50))
	for what, entries := range map[string][]batch.Entry{"at the other": {air(0, 40), air(0, 50)}, "at both": {air(0, 40), air(0, 50), air(1, 40), air(1, 50)}, "once at each": {air(0, 50), air(1, 40)}} {
		if !bytes.Equal(told(nil, entries...), own) {
			t.Errorf("the air read %s: another forecast than read at the vessel itself", what)
		}
	}
	if bytes.Equal(none, own) {
		t.Error("the air tells nothing")
	}
	alone := func(w *Watch) {
		e := entry(t, batch.ID{}, batch.KindThing, hours(-1), map[string]any{"place": nil})
		e.Thing = s.vessels[0]
		keep(t, w, e)
	}
	if !bytes.Equal(told(alone, air(1, 40), air(1, 50)), own) {
		t.Error("the air that both have heard ties them once more")
	}
	if bytes.Equal(told(alone), none) {
		t.Error("without the air read nothing ties two vessels in one fridge")
	}
	warm := func(w *Watch) {
		e := entry(t, batch.ID{}, batch.KindThing, hours(-1), map[string]any{"fridge": nil})
		e.Thing = s.place
		keep(t, w, e)
	}
	if !bytes.Equal(told(warm), told(warm, air(0, 40))) {
		t.Error("the air beside one vessel in a room speaks of another")
	}
}

// Who has read the air at one vessel has the other in its fridge renewed at once, and again once that is taken back; a third elsewhere
// is left alone.
func TestAirIsPassedOn(t *testing.T) {
	w := inMemory(t, &clock{now: hours(60)})
	w.members = 100
	s := twoOnOne(t, w, map[string]any{"ambient_k": 293, "fridge": map[string]any{"coldest_k": 272}}, false)
	elsewhere := begin(t, w, pale("Third", batch.ID{}))
	renewAll(t, w)
	before, third := digits(t, see(t, w, s.batches[1]).Told.Forecast), see(t, w, elsewhere).Told
	e := read(t, s.batches[0], hours(40), batch.AirTemperature, float64(unit.Celsius(24)))
	keep(t, w, e)
	if n := renewAll(t, w); n != 2 {
		t.Errorf("%d batches renewed, expected the two in the fridge", n)
	}
	if len(see(t, w, s.batches[1]).State.Log.Readings) != 1 {
		t.Error("the log of the other has changed")
	}
	if bytes.Equal(before, digits(t, see(t, w, s.batches[1]).Told.Forecast)) || see(t, w, elsewhere).Told != third {
		t.Error("expected the other in the fridge to be told anew, and the third not")
	}
	back := entry(t, s.batches[0], batch.KindTakenBack, hours(41), nil)
	back.Supersedes = e.ID
	keep(t, w, back)
	if n := renewAll(t, w); n != 2 || !bytes.Equal(before, digits(t, see(t, w, s.batches[1]).Told.Forecast)) {
		t.Errorf("taken back: %d batches renewed, expected two, the other as before", n)
	}
	if n := renewAll(t, w); n != 0 {
		t.Errorf("%d batches renewed once more", n)
	}
}
