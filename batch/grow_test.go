package batch

import (
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// Whatever comes to a log, a state that grew with it is the state derived from it.
func TestGrownIsDerived(t *testing.T) {
	grew := 0
	rapid.Check(t, func(t *rapid.T) {
		log := anyLog(t)
		s := Derive(id(1), log[:1])
		for n := range log[1:] {
			next, easy := s.Grown(&log[n+1])
			s = Derive(id(1), log[:n+2])
			if !easy {
				continue
			}
			grew++
			if !reflect.DeepEqual(comparable(next), comparable(s)) {
				t.Fatalf("grown with %s: %s\nderived: %s", log[n+1].ID, shown(next), shown(s))
			}
		}
	})
	if grew == 0 {
		t.Error("no log was easy to grow: nothing was compared")
	}
}

// What is not simply the next thing is left to Derive, and the state that was there is not touched.
func TestGrownRefuses(t *testing.T) {
	s := Derive(id(1), []Entry{entry(1, KindBatch, made), pressure(2, 5e4), pressure(3, 6e4)})
	before := shown(s)
	early, clocked, imported := pressure(4, 7e4), pressure(4, 7e4), pressure(4, 7e4)
	early.At, clocked.Clock, imported.With = pressure(3, 0).At, "start 7", id(8)
	for what, e := range map[string]Entry{
		"as early as the last": early, "an unsure clock": clocked, "with an import": imported,
		"a change": entry(4, KindBatch, `{"name":"Red"}`), "a taking-back": supersedes(entry(4, KindTakenBack, ""), 2),
	} {
		if _, easy := s.Grown(&e); easy {
			t.Errorf("%s was added at the end", what)
		}
	}
	waits := Derive(id(1), []Entry{entry(1, KindBatch, made), supersedes(entry(3, KindTakenBack, ""), 4)})
	next := pressure(4, 7e4)
	if _, easy := waits.Grown(&next); easy {
		t.Error("an entry that was taken back before it came was added")
	}
	if _, easy := s.Grown(&next); !easy {
		t.Error("the next reading was not added")
	}
	if last := s.Last(); shown(s) != before || last.Sub(noon) != 3*time.Minute {
		t.Errorf("the state that grew was %s and is %s, the last at %v", before, shown(s), last)
	}
}
